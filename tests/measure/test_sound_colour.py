"""What a sound ink may look like, by the published solids; what a photo of a mixed one is told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from printcheck.capture.profile import rgb_to_xyz_d50
from printcheck.colour.lab import lab_to_xyz, xyz_to_lab
from printcheck.colour.linear import srgb_to_linear
from printcheck.colour.published import conditions, published
from printcheck.geometry import Box
from printcheck.measure.areas import XYZ_TO_LINEAR, Area
from printcheck.measure.colour import CaptureColour, at_black
from printcheck.measure.sound_colour import off_sound, published_solids
from printcheck.pattern.inks import INKS
from printcheck.pipeline import score_image
from printcheck.simulate.faults import Contamination, InkState
from printcheck.simulate.photo_scenario import random_photo
from printcheck.verdict.policy import load_policy

PHOTO_SD = np.array([4.0, 5.0, 5.0])  # L*, a*, b* of prints, see `printcheck.measure.colour`
LIMIT = 1.0  # deltaE00, about what is just seen: common practice, no source
WHITE = lab_to_xyz((100.0, 0.0, 0.0))


def thinned(lab: tuple[float, float, float], load: float) -> np.ndarray:
    """Beer and Lambert: the density of a solid, relative to paper, times its load of dye."""
    return xyz_to_lab(np.maximum(lab_to_xyz(lab) / WHITE, 1e-4) ** load * WHITE)


def mixed(own: str, foreign: str, share: float, condition: str) -> np.ndarray:
    """Densities of two published solids, added by share."""
    solids = published(condition).relative
    a, b = (np.log(np.maximum(lab_to_xyz(solids[ink]) / WHITE, 1e-4)) for ink in (own, foreign))
    return xyz_to_lab(np.exp((1 - share) * a + share * b) * WHITE)


@pytest.mark.parametrize("condition", conditions())
@pytest.mark.parametrize("ink", ["C", "M", "Y"])
def test_every_published_solid_is_sound_thin_or_strong(ink: str, condition: str) -> None:
    aim = published(condition).relative[ink]
    for load in (0.65, 0.75, 1.0, 1.15, 1.25):
        assert off_sound(thinned(aim, load), PHOTO_SD, published_solids(ink), INKS[ink].absorbs) == 0.0


@pytest.mark.parametrize("condition", ["FOGRA39L", "FOGRA47L"])
@pytest.mark.parametrize(
    ("own", "foreign", "share"),
    [("C", "Y", 0.35), ("M", "C", 0.4), ("Y", "C", 0.35), ("Y", "M", 0.35), ("C", "K", 0.45), ("Y", "K", 0.35)],
)
def test_much_of_another_published_ink_is_off_any_sound_one(
    own: str, foreign: str, share: float, condition: str
) -> None:
    much, little = (
        off_sound(mixed(own, foreign, part, condition), PHOTO_SD, published_solids(own), INKS[own].absorbs)
        for part in (share, 0.03)
    )
    assert much > LIMIT
    assert little == 0.0


@pytest.mark.parametrize(("ink", "rgb"), [("C", (0, 1, 1)), ("M", (1, 0, 1)), ("Y", (1, 1, 0))])
def test_an_ink_purer_than_any_published_is_sound(ink: str, rgb: tuple[int, int, int]) -> None:
    """The corners of sRGB (IEC 61966-2-1, to D50 by Bradford): purer than process inks; nothing foreign does that."""
    lab = xyz_to_lab(rgb_to_xyz_d50(np.array([rgb], float)))[0]
    assert off_sound(lab, PHOTO_SD, published_solids(ink), INKS[ink].absorbs) < LIMIT


def test_what_a_capture_shows_less_well_is_less_sure() -> None:
    colour = mixed("C", "Y", 0.35, "FOGRA47L")
    sure, unsure = (off_sound(colour, sd * PHOTO_SD, published_solids("C"), "r") for sd in (1.0, 1.5))
    assert sure > unsure
    # inks differ: no capture makes it surer than they allow
    assert off_sound(colour, 0.01 * PHOTO_SD, published_solids("C"), "r") == off_sound(
        colour, 0.1 * PHOTO_SD, published_solids("C"), "r"
    )


def scanned(lab: np.ndarray, power: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How a picture of sRGB's primaries and a plain power shows it: CIELAB, its sd, and what was cut at black."""
    light = srgb_to_linear(np.clip(XYZ_TO_LINEAR @ lab_to_xyz(lab), 0.0, 1.0) ** (1.0 / power))
    area = Area("solid", ("C",), 1.0, Box(0, 0, 60, 10), np.asarray(light), np.ones(3), np.full(3, 0.001))
    shown, covariance = CaptureColour("scan", None).shown(area)
    return shown, np.sqrt(np.diag(covariance)), at_black(area)


@pytest.mark.parametrize("bluer", [5.0, 7.0, 9.0])
@pytest.mark.parametrize("power", [1.8, 2.2, 2.6])
def test_a_cyan_is_not_strange_for_red_that_srgb_cannot_show(bluer: float, power: float) -> None:
    """The published cyan of uncoated paper (Fogra), by a dye's spread bluer, under the tone curves scanners have."""
    lab, sd, black = scanned(np.add(published("FOGRA47L").relative["C"], (-4.0, bluer, -4.0)), power)
    assert black.tolist() == [True, False, False]
    assert off_sound(lab, sd, published_solids("C"), "r", black) < load_policy()["strange_colour_scan"].top_off


@pytest.mark.parametrize(
    ("lab", "sd"),
    [((54.5, -3.4, -52.4), (3.4, 6.0, 10.1)), ((51.4, 0.5, -54.6), (3.4, 6.2, 10.5)),
     ((58.1, 1.8, -54.7), (3.1, 4.6, 10.5))],
)  # fmt: skip
def test_cyans_that_another_renderer_drew_are_not_strange(lab: tuple[float, ...], sd: tuple[float, ...]) -> None:
    """Two scans of a gamma of 1.8 and a photo of sound cyans (a* about -20), red at 0 or 1 of 255.

    An independent renderer's: spectra, CIE 1931 observer, channels and a matrix of its own.
    """
    read, aims, black = (np.array(lab), np.array(sd)), published_solids("C"), np.array([True, False, False])
    limit = load_policy()["strange_colour_scan"].top_off
    assert off_sound(*read, aims, "r", black) < limit < off_sound(*read, aims, "r")


@pytest.mark.parametrize("condition", ["FOGRA39L", "FOGRA47L", "FOGRA51"])
@pytest.mark.parametrize(("foreign", "share"), [("M", 0.4), ("Y", 0.3), ("K", 0.3)])
def test_a_cyan_cut_at_black_is_still_strange_with_much_of_another_ink(
    foreign: str, share: float, condition: str
) -> None:
    lab, sd, black = scanned(mixed("C", foreign, share, condition), 2.2)
    assert off_sound(lab, sd, published_solids("C"), "r", black) > load_policy()["strange_colour_scan"].top_off


def test_of_an_ink_that_nobody_published_nothing_is_known() -> None:
    assert published_solids("LC") == ()


def test_a_photo_of_a_mixed_chamber_is_not_passed(tmp_path: Path) -> None:
    """Nearly a third of magenta in cyan: less than the photo could name, and bluer than any cyan."""
    told = {}
    for share in (0.0, 0.3):
        part = (Contamination("M", share),) if share else ()
        shot = random_photo(
            3403, head="tri-100", inks={"C": InkState(contamination=part)}, max_tilt_deg=10.0, shadow=False
        )
        told[share] = score_image(shot.write(tmp_path / f"{share}.jpg")).sheet
    assert told[0.0].assessment.action.value == "top-off"
    assert told[0.3].assessment.action.value == "rescan"
    (reason,) = told[0.3].assessment.reasons
    assert (reason.measure, reason.ink) == ("strange_colour", "C")
    assert reason.value > LIMIT
    assert "any sound cyan" in reason.text
    (step,) = told[0.3].assessment.next_steps
    assert step.startswith("Scan the sheet")
