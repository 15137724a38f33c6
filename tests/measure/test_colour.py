"""Published solids painted on a page and read back; the light of uneven lamps; what an interval is worth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, xyz2lab

from printcheck.capture.profile import rgb_to_xyz_d50
from printcheck.capture.result import Capture
from printcheck.colour.calibration import fit_calibration
from printcheck.colour.difference import delta_e00
from printcheck.colour.house import HouseInk, HouseReference
from printcheck.colour.lab import D50_WHITE, lab_to_xyz, xyz_to_lab
from printcheck.colour.linear import linear_to_srgb, srgb_to_linear
from printcheck.colour.published import published
from printcheck.geometry import Box
from printcheck.measure.areas import Area, AreaReader
from printcheck.measure.colour import CaptureColour, area_lab, solid_colour
from printcheck.measure.colouring import Coloured, ColourSettings, measure_colour, read_colour_areas
from printcheck.measure.paper import read_paper
from printcheck.measure.result import SolidReading
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.pages import PAGES
from printcheck.register.result import Registration
from printcheck.simulate.inks import xyz_weights
from printcheck.simulate.spectra import absorbance, paper

PX_PER_MM = 6.0
PAPER = np.array([0.80, 0.78, 0.70])
TO_LINEAR = np.linalg.inv(rgb_to_xyz_d50(np.eye(3)).T)
Floats = NDArray[np.float64]
YCC_TO_RGB = np.array([[1, 0, 1.402], [1, -0.344136, -0.714136], [1, 1.772, 0]])  # ITU-T T.871


def solid_light(ink: str) -> Floats:
    """Linear sRGB of a published solid, relative to its paper (Fogra characterisation data FOGRA47L)."""
    return np.asarray(TO_LINEAR @ lab_to_xyz(published().relative[ink]))


def painted(layout: Layout, lamp: float = 0.0) -> NDArray[np.uint16]:
    """A page with every patch in its published solid, under a lamp that falls off to the right; BGR, 16 bit."""
    height, width = round(layout.height_mm * PX_PER_MM), round(layout.width_mm * PX_PER_MM)
    light = np.ones((height, width, 3)) * PAPER
    for patch in layout.patches:
        if len(patch.inks) == 1:
            box = patch.box
            rows = slice(round(box.y0 * PX_PER_MM), round(box.y1 * PX_PER_MM))
            columns = slice(round(box.x0 * PX_PER_MM), round(box.x1 * PX_PER_MM))
            light[rows, columns] *= 1 - patch.tone * (1 - np.maximum(solid_light(patch.inks[0]), 0))
    light *= (1.0 - lamp * np.arange(width) / width)[None, :, None]
    return np.rint(65535 * np.clip(linear_to_srgb(light), 0, 1)).astype(np.uint16)[..., ::-1].copy()


def lying_flat(layout: Layout) -> Registration:
    plane = np.diag([PX_PER_MM, PX_PER_MM, 1.0])
    plane[:2, 2] = -0.5
    return Registration(layout, "", plane, None, 20, 0.0, None, PX_PER_MM, PX_PER_MM, 0.0, 0.0, ())


def capture_of(pixels: NDArray[np.uint16]) -> Capture:
    height, width = pixels.shape[:2]
    return Capture("page.png", "0" * 64, "PNG", 0, width, height, pixels, 1, None, None, "sRGB assumed", False, ())


@pytest.fixture(scope="module")
def layout() -> Layout:
    return build_layout(load_head("quad-180"), PAGES["A4"])


def coloured(
    capture: Capture, layout: Layout, solids: tuple[SolidReading, ...], settings: ColourSettings
) -> Coloured:
    read = read_colour_areas(capture, lying_flat(layout), read_paper(capture.pixels, lying_flat(layout)))
    return measure_colour(capture, layout, read, "scan", solids, settings)


@pytest.mark.parametrize("lamp", [0.0, 0.1])
def test_published_solids_are_read_back(layout: Layout, lamp: float) -> None:
    capture = capture_of(painted(layout, lamp))
    solids = tuple(SolidReading(ink.ink, None, None, None) for ink in layout.head.inks)
    found = coloured(capture, layout, solids, ColourSettings())
    assert [s.ink for s in found.solids] == list("KCMY")
    for solid in found.solids:
        assert solid.reference == "published FOGRA47L"
        assert solid.lab is not None
        assert solid.delta_e00 is not None
        assert solid.delta_e00_ci95 is not None
        # cyan and yellow lie outside sRGB: their red or blue light would have to be negative
        assert solid.delta_e00 < {"C": 6.0, "Y": 1.2}.get(solid.ink, 0.5)
        assert solid.delta_e00_ci95[0] == 0.0
        assert solid.delta_e00_ci95[1] > 2.0  # an uncalibrated scanner supports no more
    assert [reading.foreign for reading in found.contamination] == [()] * 4
    assert found.background.lab is not None


def test_a_lamp_does_not_move_a_patch(layout: Layout) -> None:
    registration = lying_flat(layout)
    ratios = []
    for lamp in (0.0, 0.15):
        pixels = painted(layout, lamp)
        paper = read_paper(pixels, registration)
        assert paper is not None
        reader = AreaReader(pixels, registration, paper, None)
        read = reader.ink("Y")
        assert read.solid is not None
        assert read.strip is not None
        tones = [tone.ratio for tone in read.tones]
        ratios.append(np.concatenate([read.solid.ratio, *tones, read.strip.ratio.mean(axis=0)]))
    assert_allclose(ratios[1], ratios[0], rtol=0.01)


def flickering(pixels: NDArray[np.uint16], period_mm: float, depth: Floats, *, along_x: bool) -> NDArray[np.uint16]:
    """The picture by a lamp that flickers while its rows, or columns, are read: `depth` (3,) in B, G, R."""
    at = np.arange(pixels.shape[1 if along_x else 0]) / PX_PER_MM
    wave = 1.0 - depth * (1.0 + np.sin(2 * np.pi * at / period_mm + 0.7))[:, None]  # never lighter than before
    light = srgb_to_linear(pixels / 65535.0) * (wave[None] if along_x else wave[:, None])
    return np.rint(65535 * linear_to_srgb(light)).astype(np.uint16)


@pytest.mark.parametrize(("period_mm", "along_x"), [(60.0, False), (120.0, False), (120.0, True)])
def test_a_lamp_that_flickers_moves_no_colour(layout: Layout, period_mm: float, along_x: bool) -> None:
    """An LED's phosphor makes its blue flicker deeper than its red: neither solids nor strips may take it for ink."""
    registration, plain, depth = lying_flat(layout), painted(layout), np.array([0.12, 0.08, 0.04])
    ratios = []
    for pixels in (plain, flickering(plain, period_mm, depth, along_x=along_x)):
        paper = read_paper(pixels, registration)
        assert paper is not None
        reader = AreaReader(pixels, registration, paper, None)
        read = [reader.ink(ink.ink, wedge=False) for ink in layout.head.inks]
        assert all(one.solid is not None and one.strip is not None for one in read)
        ratios.append([(one.solid.ratio, one.strip.ratio) for one in read if one.solid and one.strip])
    for (solid, strip), (was, along) in zip(ratios[1], ratios[0], strict=True):
        assert_allclose(solid, was, rtol=0.03, atol=1e-3)
        assert_allclose(np.maximum(strip, 0.02), np.maximum(along, 0.02), rtol=0.045)


def test_a_smear_on_bare_paper_is_no_light(layout: Layout) -> None:
    """Two gaps of forty and more are stained: what lies around tells the light there."""
    registration, plain = lying_flat(layout), painted(layout, 0.1)
    stained = plain.copy()
    tall = [paper.box for paper in layout.papers if paper.box.height > 20.0 and paper.box.width >= 1.5][:2]
    assert len(tall) == 2
    for box in tall:
        rows = slice(round((box.centre[1] - 4.0) * PX_PER_MM), round((box.centre[1] + 4.0) * PX_PER_MM))
        stained[rows, round(box.x0 * PX_PER_MM) : round(box.x1 * PX_PER_MM)] //= 2
    points = np.array([box.centre for box in tall])
    truth, seen = (read_paper(pixels, registration) for pixels in (plain, stained))
    assert truth is not None
    assert seen is not None
    assert_allclose(seen.at(points), truth.at(points), rtol=0.005)


def test_even_light_is_left_to_its_planes(layout: Layout) -> None:
    paper = read_paper(painted(layout, 0.15), lying_flat(layout))
    assert paper is not None
    assert paper.local is None


def test_bare_rows_and_dust_do_not_lift_a_solid(layout: Layout) -> None:
    registration = lying_flat(layout)
    clean = painted(layout)
    faulty = clean.copy()
    box = layout.patches_of("solid", "M")[0].box
    for k in range(4):  # rows of dead nozzles, two samples tall
        at = round((box.y0 + 3.0 + 5.0 * k) * PX_PER_MM)
        faulty[at : at + 2, round(box.x0 * PX_PER_MM) : round(box.x1 * PX_PER_MM)] = clean[5, 5]
    seen = []
    for pixels in (clean, faulty):
        paper = read_paper(pixels, registration)
        assert paper is not None
        solid = AreaReader(pixels, registration, paper, None).ink("M").solid
        assert solid is not None
        seen.append(solid.ratio)
    assert_allclose(seen[1], seen[0], atol=0.003)


def test_a_house_reference_makes_the_interval_small(layout: Layout) -> None:
    registration = lying_flat(layout)
    pixels = painted(layout)
    paper = read_paper(pixels, registration)
    assert paper is not None
    area = AreaReader(pixels, registration, paper, None).ink("M").solid
    assert area is not None
    bare = SolidReading("M", None, None, None)
    against = solid_colour(bare, area, CaptureColour("scan", None), "FOGRA47L")
    assert against.lab is not None
    ink = HouseInk((1, 1, 1), (0, 0, 0), against.lab)
    house = HouseReference("bench", "quad-180", "A4", "scan", "", "", {"M": ink})
    same = solid_colour(bare, area, CaptureColour("scan", None), house)
    assert same.reference == "house bench"
    assert same.delta_e00 == pytest.approx(0.0, abs=1e-9)
    assert same.delta_e00_ci95 is not None
    assert against.delta_e00_ci95 is not None
    assert same.delta_e00_ci95[1] < 1.5 < against.delta_e00_ci95[1]
    photo = solid_colour(bare, area, CaptureColour("photo", None), house)  # a phone doesn't see as the scanner did
    assert photo.reference == "house bench"
    assert photo.delta_e00 is None
    assert photo.delta_e00_ci95 is None
    elsewhere = solid_colour(bare, area, CaptureColour("scan", None, source="scanner two"), house)
    assert elsewhere.delta_e00 is None
    finer = solid_colour(bare, area, CaptureColour("scan", None, source="600 dots/inch"), house)  # no device named
    assert finer.delta_e00 == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", ["bright-white", "recycled-grey", "cream"])
@pytest.mark.parametrize("ink", ["C", "M", "Y", "K"])
def test_a_difference_is_relative_to_the_own_paper_whatever_its_colour(ink: str, name: str) -> None:
    """Truth by spectra under D50 and scikit-image's CIEDE2000, of colours divided by the paper's."""
    observer, bare = xyz_weights(), paper(name)
    solid = observer @ (bare * 10.0 ** -absorbance("dye-a", ink))
    white = observer @ bare
    truth = xyz2lab((solid / white * D50_WHITE)[None], "D50")[0]
    aim = np.array(published().relative[ink])
    noise = np.full(3, 1e-4)
    area = Area("solid", (ink,), 1.0, Box(20, 40, 80, 50), TO_LINEAR @ solid, TO_LINEAR @ white, noise)
    read = solid_colour(SolidReading(ink, None, None, None), area, CaptureColour("scan", None), "FOGRA47L")
    assert read.delta_e00 == pytest.approx(float(deltaE_ciede2000(truth, aim)), abs=0.05)


@pytest.mark.parametrize("gain", [1.0, 1.4])
def test_burnt_out_paper_is_told(layout: Layout, gain: float) -> None:
    plain = painted(layout)
    lit = linear_to_srgb(np.clip(gain * srgb_to_linear(plain / 65535.0), 0.0, 1.0))  # IEC 61966-2-1
    found = coloured(capture_of(np.rint(65535 * lit).astype(np.uint16)), layout, (), ColourSettings())
    assert any("as light as the picture can show" in text for text in found.warnings) == (gain > 1.0)


def test_a_head_of_one_ink_is_told_nothing_of_foreign_ink_it_can_not_show() -> None:
    layout = build_layout(load_head("mono-416"), PAGES["A4"])
    solids = (SolidReading("K", None, None, None),)
    warnings = coloured(capture_of(painted(layout)), layout, solids, ColourSettings()).warnings
    assert [text for text in warnings if "foreign" in text] == [
        "foreign ink in black not looked for: a head of one ink shows no other to know it by"
    ]
    assert any("published" in text for text in warnings)


def test_grey_pictures_give_no_colour(layout: Layout) -> None:
    capture = capture_of(painted(layout))
    grey = replace(capture, pixels=np.ascontiguousarray(capture.pixels[..., 1]))
    solids = tuple(SolidReading(ink.ink, 0.5, None, None) for ink in layout.head.inks)
    found = coloured(grey, layout, solids, ColourSettings())
    assert found.solids == solids
    assert [reading.foreign for reading in found.contamination] == [None] * 4


def test_a_reference_of_another_head_is_not_used(layout: Layout) -> None:
    capture = capture_of(painted(layout))
    house = HouseReference("other", "tri-100", "A4", "scan", "sRGB assumed", "", {})
    solids = tuple(SolidReading(ink.ink, None, None, None) for ink in layout.head.inks)
    found = coloured(capture, layout, solids, ColourSettings(house))
    assert any("tri-100" in text and "not used" in text for text in found.warnings)
    assert found.solids[0].reference == "published FOGRA47L"


def test_a_reference_that_holds_no_numbers_is_not_used(layout: Layout) -> None:
    nothing = HouseInk((np.nan,) * 3, (0.0,) * 3, (50.0, 0.0, 0.0))
    inks = {ink.ink: nothing for ink in layout.head.inks}
    house = HouseReference("spoilt", layout.head.name, "A4", "scan", "sRGB assumed", "", inks)
    solids = tuple(SolidReading(ink.ink, None, None, None) for ink in layout.head.inks)
    found = coloured(capture_of(painted(layout)), layout, solids, ColourSettings(house))
    assert any("spoilt is damaged" in text and "not used" in text for text in found.warnings)
    assert found.solids[0].reference == "published FOGRA47L"


def test_a_coarse_files_rounding_is_in_what_a_colour_is_known_to(layout: Layout) -> None:
    """A JPEG rounds the means of its blocks, luma and chroma each for itself (ISO/IEC 10918-1, ITU-T T.871)."""
    step, registration, standardised = 3.0, lying_flat(layout), []
    rgb = painted(layout)[..., ::-1].astype(np.float32) / 257
    ycc = rgb @ np.linalg.inv(YCC_TO_RGB).T.astype(np.float32)
    for shift in np.random.default_rng(3).uniform(0, 1, (8, 3)).astype(np.float32):
        rounded = (np.rint(ycc / step + shift) - shift) * step
        pixels = np.clip(rounded @ YCC_TO_RGB.T.astype(np.float32), 0, 255).astype(np.uint8)[..., ::-1].copy()
        paper = read_paper(pixels, registration)
        assert paper is not None
        reader = AreaReader(pixels, registration, paper, None, step)
        for ink in "KMY":
            area = reader.ink(ink, wedge=False).solid
            assert area is not None
            standardised.append(((area.ratio - solid_light(ink)) / area.ratio_sd)[solid_light(ink) > 0.02])
    assert 0.75 < np.sqrt(np.mean(np.square(np.concatenate(standardised)))) < 1.3


def test_a_calibrated_reference_serves_any_calibrated_capture(layout: Layout) -> None:
    pixels = painted(layout)
    registration = lying_flat(layout)
    paper = read_paper(pixels, registration)
    assert paper is not None
    area = AreaReader(pixels, registration, paper, None).ink("M").solid
    assert area is not None
    rng = np.random.default_rng(5)
    ratio = np.vstack([rng.uniform(0.05, 1, (40, 3)), area.ratio])
    lab = xyz_to_lab(ratio @ rgb_to_xyz_d50(np.eye(3)))  # an observer that this fit is to find: sRGB's own
    fit = fit_calibration(ratio, lab, "photo", "sRGB assumed")
    aim = (area_lab(area) + np.array([2.0, 0.0, 0.0])).tolist()
    ink = HouseInk((1, 1, 1), (0, 0, 0), (0, 0, 0), tuple(aim), (0.5, 0.5, 0.5))
    house = HouseReference("bench", "quad-180", "A4", "scan", "", "", {"M": ink}, "600 dots/inch")
    found = solid_colour(SolidReading("M", None, None, None), area, CaptureColour("photo", None, fit), house)
    assert found.delta_e00 is not None
    assert found.delta_e00_ci95 is not None
    assert found.delta_e00_ci95[0] <= float(delta_e00(area_lab(area), np.array(aim))) <= found.delta_e00_ci95[1]
    assert found.delta_e00_ci95[1] < 5.0


def test_light_that_falls_off_beside_the_strips_is_seen_in_the_margin(layout: Layout) -> None:
    pixels = painted(layout).astype(np.float64)
    x_mm = (np.arange(pixels.shape[1]) + 0.5) / PX_PER_MM
    edge = 1.0 - 0.004 * np.clip(x_mm - 165.0, 0.0, None)  # 9 % at the outer strip, none at the gaps
    shaded = np.rint(pixels * edge[None, :, None]).astype(np.uint16)
    registration = lying_flat(layout)
    strips = []
    for picture in (pixels.astype(np.uint16), shaded):
        paper = read_paper(picture, registration)
        assert paper is not None
        strip = AreaReader(picture, registration, paper, None).ink("Y").strip
        assert strip is not None
        strips.append(strip.ratio.mean(axis=0))
    assert_allclose(strips[1][:2], strips[0][:2], rtol=0.03)


@pytest.mark.parametrize(("light", "given"), [(0.0008, False), (0.03, True)])
def test_a_solid_that_levels_cut_off_at_black_has_no_colour(light: float, given: bool) -> None:
    """The darkest published black, on coated paper, has 16.3 L* relative to it (CGATS TR006: 0.022 of its light)."""
    area = Area("solid", ("K",), 1.0, Box(20, 40, 80, 50), np.full(3, light), np.ones(3), np.full(3, 1e-4))
    found = solid_colour(SolidReading("K", 1.0 - light, None, None), area, CaptureColour("scan", None), "FOGRA47L")
    assert (found.lab is not None) is given
    assert (found.delta_e00 is not None) is given
