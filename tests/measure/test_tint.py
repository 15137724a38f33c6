"""Inks on papers of other tints, and through channels that are no observer's.

Truth is CIELAB by the CIE 1931 observer and D50 (ISO/CIE 11664-1, CIE 015) of spectra, relative to the own paper.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.colour.calibration import Calibration, fit_calibration
from printcheck.colour.difference import delta_e00
from printcheck.colour.house import HouseInk, HouseReference
from printcheck.colour.lab import as_lab
from printcheck.geometry import Box
from printcheck.measure.areas import Area, InkAreas
from printcheck.measure.colour import CaptureColour, area_lab, solid_colour
from printcheck.measure.colouring import ColourAreas, _basis
from printcheck.measure.contamination import house_basis, read_contamination
from printcheck.measure.paper import PaperLight
from printcheck.measure.result import SolidReading
from printcheck.measure.tint import tint_density_sd, tint_sd
from printcheck.measure.unmix import density
from printcheck.simulate.inks import lab, xyz_weights
from printcheck.simulate.spectra import absorbance, paper, sensor
from printcheck.simulate.tone import sensor_to_srgb

Floats = NDArray[np.float64]
NOISE = np.full(3, 1e-4)
PAPERS = ("bright-white", "natural", "cream")
BARE = SolidReading("C", None, None, None)


def seen(ink: str, on: str, scanner: str, cover: float = 1.0, dyes: str = "dye-a") -> tuple[Area, Floats]:
    """One ink on a paper through a scanner half corrected to sRGB, and its true media-relative CIELAB."""
    bare = paper(on)
    light = bare * (1.0 - cover + cover * 10.0 ** -sum(absorbance(dyes, one) for one in ink))
    channels, observer = sensor(scanner), xyz_weights()
    channels = 0.5 * channels + 0.5 * sensor_to_srgb(channels) @ channels
    area = Area("solid", tuple(ink), cover, Box(20, 40, 80, 50), channels @ light, channels @ bare, NOISE)
    return area, lab(observer @ light, observer @ bare)


def calibrated(on: str, scanner: str, *, knows_paper: bool = True) -> Calibration:
    read = [
        seen(ink, on, scanner, cover) for ink in ("C", "M", "Y", "CM", "CY", "MY") for cover in (1, 0.7, 0.4, 0.2)
    ]
    ratio, true = np.array([area.ratio for area, _ in read]), np.array([colour for _, colour in read])
    bare = as_lab(read[0][0].paper) if knows_paper else None
    return fit_calibration(np.vstack([ratio, np.ones(3)]), np.vstack([true, [100, 0, 0]]), "scan", "", paper=bare)


@pytest.mark.parametrize("scanner", ["scanner-led-a", "scanner-lamp-b"])
def test_a_calibration_reads_other_papers(scanner: str) -> None:
    off, plain, inside = [], [], []
    for first in PAPERS:
        fit, blind = calibrated(first, scanner), calibrated(first, scanner, knows_paper=False)
        for second in PAPERS:
            for ink in "CMY":
                area, true = seen(ink, second, scanner)
                read, sd = CaptureColour("scan", None, fit).see(area)
                off.append(float(delta_e00(read, true)))
                plain.append(float(delta_e00(CaptureColour("scan", None, blind).see(area)[0], true)))
                inside.append(np.abs(read - true) <= 1.96 * sd)
    assert np.mean(inside) > 0.9
    assert np.quantile(off, 0.9) < 0.6 * np.quantile(plain, 0.9)


def test_the_own_paper_changes_nothing() -> None:
    area, _ = seen("Y", "cream", "scanner-led-a")
    fit, blind = calibrated("cream", "scanner-led-a"), calibrated("cream", "scanner-led-a", knows_paper=False)
    for one, other in zip(*(CaptureColour("scan", None, by).see(area) for by in (fit, blind)), strict=True):
        assert one == pytest.approx(other, abs=1e-9)


def against(first: Area, second: Area, *, knows_paper: bool = True) -> tuple[float, float]:
    """Interval of the difference of an ink from a house reference of another, through one uncalibrated scanner."""
    ink = HouseInk(as_lab(first.ratio), (1e-4, 1e-4, 1e-4), as_lab(area_lab(first)))
    bare = as_lab(first.paper) if knows_paper else None
    house = HouseReference("bench", "tri-100", "A4", "scan", "", "", {"C": ink}, paper=bare)
    found = solid_colour(BARE, second, CaptureColour("scan", None), house).delta_e00_ci95
    assert found is not None
    return found


def test_a_reference_on_another_paper_is_known_less_well() -> None:
    first, second = seen("C", "bright-white", "scanner-led-a")[0], seen("C", "cream", "scanner-led-a")[0]
    assert against(first, second)[1] > against(first, second, knows_paper=False)[1] + 0.5


def test_stray_light_makes_black_paler_on_grey_paper_and_is_allowed_for() -> None:
    """A hundredth of full light is added to all; the black on both papers is the same to its own paper."""
    black, stray = np.full(3, 0.06), 0.01

    def printed(bare: float) -> Area:
        light, white = black * bare + stray, np.full(3, bare + stray)
        return Area("solid", ("C",), 1.0, Box(20, 40, 80, 50), light, white, NOISE)

    light, grey = printed(0.9), printed(0.6)
    apart = np.abs(area_lab(grey) - area_lab(light))
    assert apart[0] > 1.0
    assert (apart <= 1.96 * tint_sd(area_lab(light), grey.paper, light.paper) + 0.1).all()
    assert against(light, grey)[1] > against(light, grey, knows_paper=False)[1] + 0.5


def test_the_interval_of_exchanged_inks_holds_the_truth_through_pale_channels() -> None:
    held = []
    for scanner in ("scanner-led-a", "scanner-lamp-a", "scanner-led-b", "scanner-lamp-b"):
        for own, here in itertools.permutations("CMY", 2):
            (first, aim), (second, true) = seen(own, "natural", scanner), seen(here, "natural", scanner)
            low, high = against(first, second)
            held.append(low <= float(delta_e00(true, aim)) <= high)
    assert np.mean(held) > 0.75


def test_a_full_colour_is_known_less_well_than_a_pale_one() -> None:
    """An error of 7 is a mean over prints; a solid has twice their chroma, and scanners lose a share of it."""
    look = CaptureColour("scan", None)
    inside = []
    for scanner in ("scanner-led-a", "scanner-lamp-a", "scanner-led-b", "scanner-lamp-b"):
        for dyes in ("dye-a", "dye-b", "pigment-a", "pigment-b"):
            for ink in "CMY":
                area, true = seen(ink, "natural", scanner, dyes=dyes)
                read, sd = look.see(area)
                inside.append(np.abs(read - true) <= 1.96 * sd)
    assert np.mean(inside) > 0.9


def test_densities_on_another_paper_differ_by_about_what_is_said() -> None:
    """An ink and a paper both slope within a scanner's band; what the ink's own load takes up is no difference."""
    over = []
    for scanner in ("scanner-led-a", "scanner-lamp-a", "scanner-led-b", "scanner-lamp-b"):
        for dyes in ("dye-a", "dye-b", "pigment-a", "pigment-b"):
            for (there, here), ink in itertools.product(itertools.permutations(PAPERS, 2), "CMY"):
                (first, _), (second, _) = (seen(ink, on, scanner, dyes=dyes) for on in (there, here))
                was, apart = density(first.ratio), density(second.ratio) - density(first.ratio)
                read = np.where(was < 1.0, was, 0.0)  # a channel that is nearly black says nothing of the load
                left = apart - was * (apart @ read) / (read @ read)
                over += list((left / tint_density_sd(second.paper, first.paper))[was < 0.6])
    # these scanners are half corrected to sRGB; wholly corrected ones differ about 1.4 times as much
    assert 0.3 < float(np.sqrt(np.mean(np.square(over)))) < 0.8


def test_foreign_ink_on_another_paper_needs_more_than_the_paper_explains() -> None:
    """A hundredth of density where an ink leaves its channel alone is a per cent of another, or another paper."""
    clean = {ink: seen(ink, "cream", "scanner-led-a")[0].ratio for ink in "CMY"}
    area = seen("C", "cream", "scanner-led-a")[0]
    bluer = replace(area, light=area.light * np.array([1.0, 1.0, 10.0**-0.017]))
    areas = {"C": InkAreas("C", bluer, (), None)}
    told = [
        read_contamination(areas, house_basis("bench", clean, same_capture=True, paper_sd=sd), photo=False)[0].foreign
        for sd in (0.0, tint_density_sd(paper_light("natural"), paper_light("bright-white")))
    ]
    assert [[one.ink for one in found or ()] for found in told] == [["Y"], []]


def test_what_a_reference_knows_of_its_paper_reaches_what_foreign_ink_is_judged_by() -> None:
    first, second = seen("C", "bright-white", "scanner-led-a")[0], seen("C", "natural", "scanner-led-a")[0]
    ink = HouseInk(as_lab(first.ratio), (1e-4, 1e-4, 1e-4), as_lab(area_lab(first)))
    house = HouseReference("bench", "tri-100", "A4", "scan", "", "", {"C": ink}, paper=as_lab(first.paper))
    sd = []
    for paper_of in (first, second):
        read = ColourAreas({}, (), PaperLight(np.zeros((1, 2)), paper_of.paper[None], np.zeros(3)))
        basis = _basis(read, CaptureColour("scan", None), house, "FOGRA47L", 3, [])
        sd.append(np.sqrt(np.diag(basis.own["C"].covariance)))
    assert (sd[1] > 1.1 * sd[0]).any()
    assert (sd[1] >= sd[0]).all()


def paper_light(name: str) -> Floats:
    return seen("C", name, "scanner-led-a")[0].paper
