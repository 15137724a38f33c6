"""Inks in overprints and the grey of mid-tones, from colours an outside model lays over one another."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.colour.lab import lab_to_xyz
from printcheck.colour.published import conditions, published
from printcheck.geometry import Box
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, InkAreas
from printcheck.measure.colour import CaptureColour
from printcheck.measure.overprints import read_grey, read_overprints
from printcheck.simulate.inks import demichel, primaries
from printcheck.simulate.spectra import absorbance, sensor

Floats = NDArray[np.float64]
INK_SET, WEIGHTS = "dye-b", sensor("scanner-lamp-b")
LOOK = CaptureColour("scan", None)


def light_of(loads: Mapping[str, float], cover: float = 1.0) -> Floats:
    """Light relative to paper (3,) of inks over one another, each with its dye load, covering independently."""
    inks = [load * absorbance(INK_SET, name) for name, load in loads.items()]
    bare = primaries([], np.ones(31), WEIGHTS)[0]
    shares = demichel(np.full((len(inks), 1), cover))[:, 0]
    return np.asarray(shares @ primaries(inks, np.ones(31), WEIGHTS) / bare)


def area_of(kind: str, inks: tuple[str, ...], light: Floats) -> Area:
    return Area(kind, inks, 0.5 if kind == "tint" else 1.0, Box(0, 0, 10, 8), light, np.ones(3), np.full(3, 0.001))


def sheet(**loads: float) -> dict[str, InkAreas]:
    out = {}
    for name in "CMY":
        load = loads.get(name, 1.0)
        tint = area_of("tint", (name,), light_of({name: load}, 0.5))
        out[name] = InkAreas(name, area_of("solid", (name,), light_of({name: load})), (tint,), None)
    return out


@pytest.mark.parametrize("inks", [("C", "M"), ("C", "Y"), ("M", "Y"), ("C", "M", "Y")])
def test_a_sound_overprint_holds_all_its_inks(inks: tuple[str, ...]) -> None:
    both = area_of("overprint", inks, light_of(dict.fromkeys(inks, 1.0)))
    (reading,) = read_overprints([both], sheet(), LOOK)
    assert [(p.ink, p.state) for p in reading.inks] == [(ink, "present") for ink in inks]


@pytest.mark.parametrize("inks", [("C", "M"), ("C", "Y"), ("M", "Y")])
@pytest.mark.parametrize(("load", "told"), [(0.0, {"missing"}), (0.1, {"weak", "missing"})])
def test_an_ink_that_does_not_come_is_named(inks: tuple[str, ...], load: float, told: set[str]) -> None:
    for short in inks:
        light = light_of({ink: load if ink == short else 1.0 for ink in inks})
        (reading,) = read_overprints([area_of("overprint", inks, light)], sheet(), LOOK)
        found = {p.ink: p.state for p in reading.inks}
        assert found.pop(short) in told
        assert set(found.values()) == {"present"}


# what published printing conditions (Fogra, CGATS characterisation data) print over one another, as captures show it
OVERPRINTED = {"R": ("M", "Y"), "G": ("C", "Y"), "B": ("C", "M"), "CMY": ("C", "M", "Y")}
# channels that overlap as after half a correction, and a plain power in place of sRGB's (common practice, no source)
OVERLAPPING = np.array([[0.84, 0.10, 0.06], [0.07, 0.85, 0.08], [0.04, 0.10, 0.86]])
CAPTURES = [(np.eye(3), 1.0), (OVERLAPPING, 1.0), (np.eye(3), 0.92), (OVERLAPPING, 1.2)]


def published_light(condition: str, patch: str, matrix: Floats, power: float) -> Floats:
    aim = np.array(published(condition).relative[patch])
    return np.asarray(np.maximum(matrix @ np.maximum(XYZ_TO_LINEAR @ lab_to_xyz(aim), 0.01), 0.01) ** power)


def states(condition: str, patch: str, capture: tuple[Floats, float], **left: float) -> dict[str, str]:
    """States of the inks of a published overprint of which an ink is `left` in part: from all its density to none."""
    inks = OVERPRINTED[patch]
    light = published_light(condition, patch, *capture)
    for ink, part in left.items():
        rest = "".join(i for i in inks if i != ink)
        without = published_light(condition, {"MY": "R", "CY": "G", "CM": "B"}.get(rest, rest), *capture)
        light = light**part * without ** (1.0 - part)
    solids = {i: area_of("solid", (i,), published_light(condition, i, *capture)) for i in inks}
    areas = {i: InkAreas(i, solid, (), None) for i, solid in solids.items()}
    (reading,) = read_overprints([area_of("overprint", inks, light)], areas, LOOK)
    return {part.ink: part.state for part in reading.inks}


def patches_of(condition: str) -> list[str]:
    """Overprints that a published condition has values of: some, or nothing is tested."""
    patches = sorted(OVERPRINTED.keys() & published(condition).relative.keys())
    assert patches
    return patches


@pytest.mark.parametrize("capture", CAPTURES)
@pytest.mark.parametrize("condition", conditions())
def test_what_a_condition_prints_is_sound_by_all_the_others(
    condition: str, capture: tuple[Floats, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    others = tuple(name for name in conditions() if name != condition)
    monkeypatch.setattr("printcheck.measure.overprints.conditions", lambda: others)
    for patch in patches_of(condition):
        assert set(states(condition, patch, capture).values()) == {"present"}


@pytest.mark.parametrize("condition", conditions())
def test_what_is_short_of_what_conditions_print_is_named(condition: str) -> None:
    for patch in patches_of(condition):
        for short in OVERPRINTED[patch]:
            for left in (0.25, 0.0):
                found = states(condition, patch, CAPTURES[0], **{short: left})
                told = found.pop(short)
                assert told != "present", (patch, short, left)
                assert left > 0.0 or patch == "CMY" or told == "missing", (patch, short)
                assert set(found.values()) == {"present"}, (patch, short, left)


def test_an_ink_that_is_weak_everywhere_is_no_fault_of_the_overprint() -> None:
    light = light_of({"M": 0.7, "Y": 1.0})
    (reading,) = read_overprints([area_of("overprint", ("M", "Y"), light)], sheet(M=0.7), LOOK)
    assert all(p.state == "present" for p in reading.inks)


def test_without_ink_in_a_solid_there_is_nothing_to_compare_with() -> None:
    light = light_of({"Y": 1.0})
    assert read_overprints([area_of("overprint", ("M", "Y"), light)], sheet(M=0.0), LOOK) == ()


def test_grey_leans_away_from_the_ink_that_is_short() -> None:
    def lean(**loads: float) -> Floats:
        grey = read_grey(sheet(**loads), LOOK)
        assert grey is not None
        return np.array(grey.lab[1:])

    even = lean()
    # CIELAB: less magenta leans green (-a*), less yellow blue (-b*), less cyan red (+a*; it takes green light too)
    assert lean(M=0.5)[0] < even[0] - 3
    assert lean(Y=0.5)[1] < even[1] - 3
    assert lean(C=0.5)[0] > even[0] + 0.5
    both = sheet()
    del both["M"]
    assert read_grey(both, LOOK) is None


def test_grey_of_tints_is_that_of_dots_over_one_another() -> None:
    # Demichel (1924) and Neugebauer (1937), worked in full by the outside model: all eight overlaps
    grey = read_grey(sheet(), LOOK)
    assert grey is not None
    printed = LOOK.see(area_of("tint", ("C", "M", "Y"), light_of({"C": 1.0, "M": 1.0, "Y": 1.0}, 0.5)))[0]
    assert np.abs(np.array(grey.lab) - printed).max() < 4.0
