"""What sound inks look like in a capture, told by the others on the sheet: on solids that were measured.

They are those of the published characterisation data (Fogra, CGATS): other inks, papers and loads than the aims they
are judged by. Foreign ink is added after Beer and Lambert, and the capture is a matrix and a power.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.colour.lab import lab_to_xyz
from printcheck.colour.published import conditions, published
from printcheck.geometry import Box
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, InkAreas, Strip
from printcheck.measure.contamination import Basis, published_basis, read_contamination
from printcheck.measure.sound_inks import MAKERS_SD, Aim, Expected, expected_inks

Floats = NDArray[np.float64]
AIM = "FOGRA47L"
INKS = ("C", "M", "Y", "K")
WHOLE = [name for name in conditions() if set(INKS) <= set(published(name).relative)]
# channels as a raw sensor's overlap after half a correction, and one that was overdone (common practice, no source)
OVERLAPPING = np.array([[0.84, 0.10, 0.06], [0.07, 0.85, 0.08], [0.04, 0.10, 0.86]])
OVERDONE = np.array([[1.04, -0.03, -0.01], [-0.02, 1.04, -0.02], [0.0, -0.03, 1.03]])
NOISE = np.full(3, 0.0005)


def sheet(
    condition: str, matrix: Floats, power: float = 1.0, foreign: tuple[str, str, float] | None = None
) -> dict[str, InkAreas]:
    """Solids of a published print as a capture shows them; ``(own, other, share)`` is mixed in."""
    printed = published(condition).relative
    light = {name: np.maximum(XYZ_TO_LINEAR @ lab_to_xyz(np.array(printed[name])), 0.02) for name in INKS}
    if foreign is not None:
        own, other, share = foreign
        light[own] = light[own] ** (1.0 - share) * light[other] ** share
    seen = {name: np.maximum(matrix @ one, 0.006) ** power for name, one in light.items()}

    y = np.linspace(30, 240, 50)
    ripple = 1 + 0.002 * np.random.default_rng(4).standard_normal((50, 3))
    out = {}
    for ink, one in seen.items():
        solid = Area("solid", (ink,), 1.0, Box(20, 170, 100, 187), one, np.ones(3), NOISE)
        out[ink] = InkAreas(ink, solid, (), Strip(y, one * ripple, NOISE))
    return out


def basis_of(areas: dict[str, InkAreas], *, photo: bool = False) -> Basis:
    return published_basis(areas, AIM, photo=photo)


@pytest.mark.parametrize("condition", WHOLE)
@pytest.mark.parametrize("matrix", [np.eye(3), OVERLAPPING, OVERDONE])
@pytest.mark.parametrize("power", [0.92, 1.0, 1.2])
@pytest.mark.parametrize("photo", [False, True])
def test_no_published_print_holds_foreign_ink(condition: str, matrix: Floats, power: float, photo: bool) -> None:
    areas = sheet(condition, matrix, power)
    readings = read_contamination(areas, basis_of(areas, photo=photo), photo=photo)
    assert {reading.ink: reading.foreign for reading in readings} == dict.fromkeys(areas, ())


@pytest.mark.parametrize(
    ("own", "other", "share"),
    [("C", "Y", 0.25), ("M", "C", 0.20), ("M", "K", 0.35), ("Y", "C", 0.10), ("Y", "M", 0.25)],
)
@pytest.mark.parametrize("matrix", [np.eye(3), OVERLAPPING, OVERDONE])
@pytest.mark.parametrize("condition", ["FOGRA29L", "FOGRA45L", "CGATS_TR003"])
def test_foreign_ink_on_published_prints_is_named(
    condition: str, matrix: Floats, own: str, other: str, share: float
) -> None:
    areas = sheet(condition, matrix, foreign=(own, other, share))
    readings = read_contamination(areas, basis_of(areas), photo=False)
    told = {reading.ink: [one.ink for one in reading.foreign or ()] for reading in readings}
    assert told == {ink: [other] if ink == own else [] for ink in areas}


@pytest.mark.parametrize("condition", WHOLE)
def test_half_another_ink_is_named_on_every_published_print(condition: str) -> None:
    for own, other in itertools.permutations(INKS, 2):
        if own != "K":
            areas = sheet(condition, np.eye(3), 1.2, (own, other, 0.5))
            reading = next(r for r in read_contamination(areas, basis_of(areas), photo=False) if r.ink == own)
            assert other in {reading.wrong_ink, *(one.ink for one in reading.foreign or ())}, (own, other)


@pytest.mark.parametrize("condition", ["FOGRA39L", "FOGRA47L", "CGATS_TR003"])
@pytest.mark.parametrize("power", [0.92, 1.2])
def test_which_ink_it_is_stays_open_where_two_explain_it(condition: str, power: float) -> None:
    for own, other, share in itertools.product("CMY", INKS, (0.1, 0.2, 0.3)):
        if own != other:
            areas = sheet(condition, OVERLAPPING, power, (own, other, share))
            reading = next(r for r in read_contamination(areas, basis_of(areas), photo=False) if r.ink == own)
            for one in reading.foreign or ():
                assert other in {one.ink, *one.rivals}, (own, other, share)
    areas = sheet(condition, OVERLAPPING, power, ("Y", "C", 0.3))
    (plain,) = next(r for r in read_contamination(areas, basis_of(areas), photo=False) if r.ink == "Y").foreign or ()
    assert (plain.ink, plain.rivals) == ("C", ())


@pytest.mark.parametrize("matrix", [np.eye(3), OVERLAPPING])
def test_a_channel_that_an_ink_leaves_dark_is_known_to_be_dark(matrix: Floats) -> None:
    """Cyan leaves 1 to 6 % of the red light: some hundredths more of it can't make a pale cyan of a sound one."""
    own = basis_of(sheet("FOGRA45L", matrix)).own["C"]
    assert own.density[0] - 2.0 * own.covariance[0, 0] ** 0.5 > 0.6


@pytest.mark.parametrize("other", ["C", "Y", "K"])
@pytest.mark.parametrize("matrix", [np.eye(3), OVERLAPPING])
def test_what_is_in_a_chamber_hardly_moves_what_it_is_held_against(other: str, matrix: Floats) -> None:
    clean, mixed = (basis_of(sheet("FOGRA45L", matrix, foreign=("M", other, v))).own["M"] for v in (0.0, 0.4))
    sd = np.sqrt(np.diag(clean.covariance))
    assert (np.abs(mixed.density - clean.density) < 0.6 * sd).all()


def test_the_sheet_tells_what_its_capture_does() -> None:
    """A red channel that takes a tenth of the green light shows magenta darker, and cyan lighter."""
    plain, overlapping = (basis_of(sheet(AIM, matrix)).own for matrix in (np.eye(3), OVERLAPPING))
    assert overlapping["M"].density[0] > plain["M"].density[0] + 0.02
    assert overlapping["C"].density[0] < plain["C"].density[0] - 0.05


def test_exchanged_chambers_are_named_and_do_not_mislead_about_the_third() -> None:
    areas = sheet("FOGRA45L", OVERLAPPING)
    swapped = {ink: replace(areas[from_], ink=ink) for ink, from_ in (("C", "Y"), ("Y", "C"))}
    found = read_contamination({**areas, **swapped}, basis_of({**areas, **swapped}), photo=False)
    assert {one.ink: one.wrong_ink for one in found} == {"C": "Y", "Y": "C", "M": None, "K": None}


def test_an_ink_that_is_another_altogether_hardly_moves_what_the_others_are_held_against() -> None:
    """It lies far off, and counts the less for it: swapped in whole it moves them no more than a third of it does."""
    printed = published("FOGRA47L").relative
    light = {name: np.maximum(XYZ_TO_LINEAR @ lab_to_xyz(np.array(printed[name])), 0.02) for name in INKS}
    aims = {name: Aim(light[name], np.array(MAKERS_SD[name])) for name in INKS}
    density = {name: -np.log10(light[name]) for name in INKS}

    def expected(share: float) -> dict[str, Expected]:
        cyan = (1.0 - share) * density["C"] + share * density["M"]
        return expected_inks({name: (one, NOISE) for name, one in {**density, "C": cyan}.items()}, aims)

    clean, third, whole = (expected(share) for share in (0.0, 0.33, 1.0))
    for name in ("M", "Y", "K"):
        moved = [np.abs(one[name].density - clean[name].density).max() for one in (third, whole)]
        assert moved[1] <= max(1.2 * moved[0], 0.05)
