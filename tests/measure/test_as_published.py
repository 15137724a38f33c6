"""Sheets whose other inks are published ones: what is foreign in one is found, and only there.

Solids are those of the published characterisation data (Fogra, CGATS), of screens, and of the sheet's own file.
Foreign ink is added after Beer and Lambert, as a share of the light (dots side by side), or over the own ink (dots on
top, Demichel 1924).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.colour.lab import lab_to_xyz
from printcheck.colour.published import conditions, published
from printcheck.geometry import Box
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, InkAreas, Strip
from printcheck.measure.as_published import inks_as_published
from printcheck.measure.contamination import published_basis, read_contamination
from printcheck.measure.drawn_inks import DRAWN
from printcheck.measure.result import ContaminationReading

Floats = NDArray[np.float64]
INKS = ("C", "M", "Y", "K")
HEADS = (INKS, INKS[:3])
NOISE = np.full(3, 0.0005)
SOURCES = ("FOGRA47L", "FOGRA39L", "FOGRA51", "on screen", "in the file")
# channels that overlap as a raw sensor's do after half a correction (common practice, no source)
OVERLAPPING = np.array([[0.84, 0.10, 0.06], [0.07, 0.85, 0.08], [0.04, 0.10, 0.86]])


def solids(source: str) -> dict[str, Floats]:
    if source in DRAWN:
        return dict(DRAWN[source])
    return {ink: XYZ_TO_LINEAR @ lab_to_xyz(np.array(published(source).relative[ink])) for ink in INKS}


def mixed(own: Floats, other: Floats, share: float, way: str) -> Floats:
    own, other = np.clip(own, 0.003, 1.0), np.clip(other, 0.003, 1.0)
    if way == "density":
        return own ** (1.0 - share) * other**share
    return (1.0 - share) * own + share * (other if way == "side by side" else own * other)


def sheet(light: dict[str, Floats], head: tuple[str, ...], load: float = 1.0) -> dict[str, InkAreas]:
    """Solids as a scan to 8 bits shows them: nothing beyond white, next to nothing below black."""
    ripple = 1.0 + 0.002 * np.random.default_rng(4).standard_normal((50, 3))
    out = {}
    for ink in head:
        one = np.clip(np.maximum(light[ink], 0.0) ** load, 2e-4, 1.0)
        area = Area("solid", (ink,), 1.0, Box(20, 170, 100, 187), 0.9 * one, np.full(3, 0.9), NOISE)
        out[ink] = InkAreas(ink, area, (), Strip(np.linspace(30, 240, 50), one * ripple, NOISE))
    return out


def judged(areas: dict[str, InkAreas], *, photo: bool = False) -> dict[str, ContaminationReading]:
    basis = published_basis(areas, "FOGRA47L", photo=photo)
    return {reading.ink: reading for reading in read_contamination(areas, basis, photo=photo)}


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("load", [0.85, 1.0])
def test_sheets_of_published_inks_hold_nothing_and_could_hide_little(
    source: str, head: tuple[str, ...], load: float
) -> None:
    found = judged(sheet(solids(source), head, load))
    assert all(reading.foreign == () for reading in found.values())
    if load == 1.0:  # 0.25 in magenta and 0.16 in cyan, where the sheet's others are not asked
        assert max(found[ink].could_hide or 0.0 for ink in "CY") < 0.12
        assert (found["M"].could_hide or 0.0) < 0.25


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize(("way", "share"), [("density", 0.20), ("side by side", 0.30), ("on top", 0.40)])
def test_what_is_in_one_of_them_is_found_there_and_rightly_named(
    source: str, head: tuple[str, ...], way: str, share: float
) -> None:
    wrong = []
    for own, other in itertools.permutations(head, 2):
        if own == "K":
            continue
        light = solids(source)
        light[own] = mixed(light[own], light[other], share, way)
        found = judged(sheet(light, head))
        named = found[own].foreign or ()
        if not named or other not in (*(one.ink for one in named), *named[0].rivals):
            wrong.append((own, other, named))
        assert all(not reading.foreign for ink, reading in found.items() if ink not in (own, "K"))
    assert len(wrong) <= 1, wrong


def test_an_interval_holds_for_the_rival_too() -> None:
    """A twentieth of black in the published magenta of coated paper looks like a thirtieth of cyan."""
    light = solids("FOGRA39L")
    light["M"] = mixed(light["M"], light["K"], 0.05, "density")
    (found,) = judged(sheet(light, INKS))["M"].foreign or ()
    assert (found.ink, found.rivals) == ("C", ("K",))
    assert found.fraction < 0.035
    assert found.ci95[0] < 0.05 < found.ci95[1]


@pytest.mark.parametrize("source", SOURCES)
def test_a_tenth_of_another_ink_is_found_or_admitted(source: str) -> None:
    found, pairs = 0, [(own, other) for own in "CMY" for other in INKS if own != other]
    for own, other in pairs:
        light = solids(source)
        light[own] = mixed(light[own], light[other], 0.10, "density")
        reading = judged(sheet(light, INKS))[own]
        found += bool(reading.foreign)
        assert reading.foreign or (reading.could_hide or 0.0) > 0.10
        for one in reading.foreign or ():
            assert other in (one.ink, *one.rivals)
            assert one.ci95[0] < 0.10 < one.ci95[1]  # whichever of its rivals is told
    assert found >= 8


def test_black_is_not_called_cyan_where_the_pure_inks_are_known() -> None:
    for source in SOURCES:
        for own in "CMY":
            light = solids(source)
            light[own] = mixed(light[own], light["K"], 0.20, "density")
            (one,) = judged(sheet(light, INKS))[own].foreign or ()
            assert one.ink == "K", (source, own)


def test_one_odd_ink_speaks_against_all_others_but_not_against_itself() -> None:
    light = solids("FOGRA39L")
    light["M"] = mixed(light["M"], light["Y"], 0.3, "density")
    seen = {ink: (-np.log10(np.clip(light[ink], 0.006, 1.0)), np.full(3, 0.004)) for ink in INKS}
    assert "M" in inks_as_published(seen, "FOGRA47L")
    assert not inks_as_published(seen, "FOGRA47L").keys() & {"C", "Y"}


def test_however_well_the_others_agree_an_ink_is_not_known_closer_than_runs_differ() -> None:
    """By 0.015 of density; common practice, no source."""
    seen = {
        ink: (np.clip(-np.log10(np.maximum(light, 1e-3)), 0, 2), NOISE) for ink, light in solids("FOGRA47L").items()
    }
    held = inks_as_published(seen, "FOGRA47L")
    assert held.keys() >= {"C", "M", "Y"}
    assert min(np.diag(one.covariance).min() for one in held.values()) >= 0.015**2


def test_two_inks_are_too_few() -> None:
    light = solids("FOGRA47L")
    seen = {ink: (-np.log10(np.clip(light[ink], 0.006, 1.0)), np.full(3, 0.004)) for ink in "CM"}
    assert inks_as_published(seen, "FOGRA47L") == {}


@pytest.mark.parametrize("source", [name for name in conditions() if set(INKS) <= set(published(name).relative)])
def test_channels_that_overlap_say_nothing_of_the_sort(source: str) -> None:
    light = {ink: OVERLAPPING @ np.maximum(one, 0.01) for ink, one in solids(source).items()}
    seen = {ink: (-np.log10(np.maximum(one, 0.006)), np.full(3, 0.004)) for ink, one in light.items()}
    assert inks_as_published(seen, "FOGRA47L") == {}


def test_a_black_darker_than_any_print_is_no_magenta() -> None:
    """Zero in all channels, beside colours that no published ink has."""
    light = {"C": np.array([0.02, 0.5, 0.7]), "M": np.array([0.7, 0.05, 0.2]), "Y": np.array([0.9, 0.7, 0.1])}
    assert judged(sheet({**light, "K": np.zeros(3)}, INKS))["K"].foreign == ()
