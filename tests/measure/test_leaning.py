"""Which other ink a photo's colours lean to, on published solids mixed after Beer and Lambert."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.colour.lab import lab_to_xyz
from printcheck.colour.published import conditions, published
from printcheck.geometry import Box
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, InkAreas
from printcheck.measure.contamination import published_basis
from printcheck.measure.leaning import leanings
from printcheck.measure.result import ContaminationReading, Leaning
from printcheck.pipeline import score_image
from printcheck.report.json import report_of
from printcheck.simulate.faults import Contamination, InkState
from printcheck.simulate.photo_scenario import random_photo
from printcheck.simulate.scenario import random_scan
from printcheck.verdict.colour_rules import colour_reasons
from printcheck.verdict.policy import load_policy

Floats = NDArray[np.float64]
LIMIT = load_policy()["leaning_colour"].top_off / 100.0
SURE = load_policy()["leaning_sure"].top_off
SCAN_LIMIT = load_policy()["leaning_colour_scan"].top_off / 100.0
INKS = ("C", "M", "Y")
PAIRS = [(own, other) for own in INKS for other in INKS if own != other]
# each channel takes an eighth of its light from either neighbour: as wide as filters of a colour mosaic overlap
# after a matrix that corrects half of it (common practice, no source)
MIXING = np.array([[0.75, 0.125, 0.125], [0.125, 0.75, 0.125], [0.125, 0.125, 0.75]])


def solids(condition: str) -> dict[str, Floats]:
    """Linear sRGB light (3,) of the published solids, relative to their paper."""
    aims = published(condition).relative
    return {ink: np.maximum(XYZ_TO_LINEAR @ lab_to_xyz(np.array(aims[ink])), 0.002) for ink in INKS}


def leaned(
    condition: str,
    own: str = "",
    other: str = "",
    share: float = 0.0,
    load: float = 1.0,
    mixing: Floats | None = None,
    photo: bool = True,
) -> dict[str, Leaning]:
    light = solids(condition)
    if own:
        light[own] = light[own] ** (1.0 - share) * light[other] ** share
    seen = {ink: (np.eye(3) if mixing is None else mixing) @ one**load for ink, one in light.items()}
    areas = {
        ink: InkAreas(
            ink,
            Area("solid", (ink,), 1.0, Box(20, 40, 80, 50), 0.8 * one, np.full(3, 0.8), np.full(3, 0.002)),
            (),
            None,
        )
        for ink, one in seen.items()
    }
    return leanings(areas, published_basis(areas, "FOGRA47L"), photo=photo)


@pytest.mark.parametrize("condition", [name for name in conditions() if set(INKS) <= set(published(name).relative)])
@pytest.mark.parametrize("load", [0.75, 1.0, 1.15])
@pytest.mark.parametrize("mixing", [None, MIXING])
def test_no_published_ink_leans_as_far_as_the_limit(condition: str, load: float, mixing: Floats | None) -> None:
    for leaning in leaned(condition, load=load, mixing=mixing).values():
        assert leaning.share < LIMIT
        assert leaning.sds < SURE
    scanned = leaned(condition, load=load, mixing=mixing, photo=False)
    assert all(leaning.share < SCAN_LIMIT for leaning in scanned.values())


@pytest.mark.parametrize("mixing", [None, MIXING])
@pytest.mark.parametrize(("own", "other"), PAIRS)
def test_a_third_of_another_ink_is_leant_to_beyond_the_limit(own: str, other: str, mixing: Floats | None) -> None:
    found = leaned("FOGRA47L", own, other, 0.35, mixing=mixing)
    assert found[own].ink == other
    assert found[own].share > LIMIT
    scanned = leaned("FOGRA47L", own, other, 0.35, mixing=mixing, photo=False)
    assert (scanned[own].ink, scanned[own].share > SCAN_LIMIT) == (other, True)
    assert all(leaning.share < LIMIT for ink, leaning in found.items() if ink != own)


@pytest.mark.parametrize("own", INKS)
@pytest.mark.parametrize("share", [0.0, 0.3])
def test_black_is_leant_to_where_the_sheet_has_it(own: str, share: float) -> None:
    aims = published("FOGRA47L").relative
    light = {ink: np.maximum(XYZ_TO_LINEAR @ lab_to_xyz(np.array(aims[ink])), 0.02) for ink in (*INKS, "K")}
    light[own] = light[own] ** (1.0 - share) * light["K"] ** share
    areas = {
        ink: InkAreas(
            ink, Area("solid", (ink,), 1.0, Box(20, 40, 80, 50), one, np.ones(3), np.full(3, 0.002)), (), None
        )
        for ink, one in light.items()
    }
    found = leanings(areas, published_basis(areas, "FOGRA47L"), photo=True)
    beyond = {ink: one.ink for ink, one in found.items() if one.share > LIMIT}
    assert beyond == ({own: "K"} if share else {})


def test_a_leaning_grows_with_what_is_there() -> None:
    shares = [leaned("FOGRA47L", "M", "Y", share)["M"].share for share in (0.2, 0.3, 0.4)]
    assert shares == sorted(shares)
    assert shares == pytest.approx([0.2, 0.3, 0.4], abs=0.1)


@pytest.mark.parametrize("load", [0.8, 0.9])
def test_yellow_in_cyan_is_sure_in_a_photo_before_it_is_much(load: float) -> None:
    """Makers' cyans all send back much blue: what takes a little of it away is yellow."""
    found = leaned("FOGRA47L", "C", "Y", 0.13, load=load)["C"]
    assert found.ink == "Y"
    assert found.share < LIMIT
    assert found.sds > SURE
    sound = ContaminationReading("C", "published FOGRA47L", (), "none", None, None, 0.3)
    (reason,) = colour_reasons([replace(sound, leaning=found)], load_policy(), photo=True)
    assert (reason.measure, reason.ink) == ("leaning_sure", "C")


def test_one_colour_alone_can_not_be_told_from_the_camera() -> None:
    light = solids("FOGRA47L")
    mixed = light["M"] ** 0.6 * light["Y"] ** 0.4
    area = Area("solid", ("M",), 1.0, Box(20, 40, 80, 50), mixed, np.ones(3), np.full(3, 0.002))
    areas = {"M": InkAreas("M", area, (), None)}
    basis = published_basis({**areas, "Y": InkAreas("Y", None, (), None)}, "FOGRA47L")
    assert leanings(areas, basis, photo=True) == {}


def test_a_photo_of_yellow_in_magenta_asks_for_a_scan(tmp_path: Path) -> None:
    """A like ink: 30 % of it is a magenta that another maker might sell, and no interval tells."""
    told = {}
    for share in (0.0, 0.3):
        part = (Contamination("Y", share),) if share else ()
        shot = random_photo(
            3402, head="tri-100", inks={"M": InkState(contamination=part)}, max_tilt_deg=10.0, shadow=False
        )
        told[share] = report_of(score_image(shot.write(tmp_path / f"{share}.jpg")).sheet, all_dashes=False)
    clean, mixed = told[0.0], told[0.3]
    assert clean["verdict"]["action"] == "top-off"
    assert [ink["contamination"]["leaning"] for ink in clean["inks"]] == [None, None, None]
    assert mixed["verdict"]["action"] == "rescan"
    (reason,) = mixed["verdict"]["reasons"]
    assert (reason["measure"], reason["ink"], reason["limit"]) == ("leaning_colour", "M", 12.0)
    assert mixed["verdict"]["next_steps"][0].startswith("Scan the sheet")
    (leaning,) = (ink["contamination"]["leaning"] for ink in mixed["inks"] if ink["ink"] == "M")
    assert leaning["ink"] == "Y"
    assert leaning["fraction"] == pytest.approx(0.3, abs=0.1)


def test_a_scan_of_yellow_in_magenta_asks_for_a_known_good_sheet(tmp_path: Path) -> None:
    """Its intervals leave it open, and another scan would show no more."""
    scan = random_scan(1215, head="tri-100", inks={"M": InkState(contamination=(Contamination("Y", 0.3),))})
    told = report_of(score_image(scan.write(tmp_path / f"mixed.{scan.encoding.kind}")).sheet, all_dashes=False)
    assert told["verdict"]["action"] == "rescan"
    (reason,) = told["verdict"]["reasons"]
    assert (reason["measure"], reason["ink"], reason["limit"]) == ("leaning_colour_scan", "M", 17.0)
    assert told["verdict"]["next_steps"][0].startswith("Scan a known-good cartridge's sheet, of the same printer")
    (leaning,) = (ink["contamination"]["leaning"] for ink in told["inks"] if ink["ink"] == "M")
    assert (leaning["ink"], leaning["fraction"]) == ("Y", pytest.approx(0.3, abs=0.1))
