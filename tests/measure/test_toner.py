"""A toner sheet read end to end against its planted faults, and its parts against what a general library drew."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from skimage.draw import disk

from printcheck.capture.decode import read_captures
from printcheck.colour.linear import linear_to_srgb
from printcheck.errors import PrintcheckError
from printcheck.geometry import Box
from printcheck.measure.components import Component, example_components, load_components
from printcheck.measure.crosslines import find_crosslines
from printcheck.measure.fields import Field, read_fields
from printcheck.measure.fog import _fog_of, read_fog
from printcheck.measure.light import lightness_of
from printcheck.measure.repeats import find_repeats, match_component
from printcheck.measure.spots import _disc_of, find_spots
from printcheck.measure.streaks import find_streaks
from printcheck.measure.toner import _density, measure_toner, murray_davies, single_marks
from printcheck.measure.toner_bands import makes_lines, read_bands
from printcheck.measure.toner_result import SolidDensity
from printcheck.pattern.code import TONER_LAYOUT
from printcheck.register.sheet import register_sheet
from printcheck.simulate.toner_faults import PARTS, RepeatFault, Spot, StreakFault, TonerState
from printcheck.simulate.toner_scenario import random_toner_scan

PER_MM = 11.8
TABLE = tuple(Component(name, diameter) for name, diameter in PARTS.items())


def screened(rng, level: float, width_mm: float = 30.0, height_mm: float = 240.0) -> Field:
    """A tint as a scan at 300 dots/inch shows it: a cosine lattice of 4.2 cycles/mm at 45 degrees, and noise."""
    h, w = round(height_mm * PER_MM), round(width_mm * PER_MM)
    y, x = np.mgrid[0:h, 0:w] / PER_MM
    k = 2 * np.pi * 4.2 / math.sqrt(2)
    light = level * (1 + 0.25 * np.cos(k * (x + y)) * np.cos(k * (x - y))) + rng.normal(0, 0.02, (h, w))
    box = Box(60.0, 10.0, 60.0 + w / PER_MM, 10.0 + h / PER_MM)
    return Field("tint 50 %", 0.5, box, light.astype(np.float32), PER_MM, PER_MM)


def stamped(field: Field, marks: list[tuple[float, float, float]], factor: float) -> Field:
    """`field` with discs (x, y, diameter in mm of the field) of a general library, softened as a scanner does."""
    mask = np.zeros(field.light.shape, np.float32)
    for x, y, diameter in marks:
        rows, columns = disk((y * PER_MM, x * PER_MM), diameter / 2 * PER_MM, shape=mask.shape)
        mask[rows, columns] = 1.0
    mask = cv2.GaussianBlur(mask, (0, 0), 0.7)
    return Field(field.name, field.tone, field.box, field.light * (1 - mask * (1 - factor)), PER_MM, PER_MM)


@pytest.mark.parametrize(("dt", "ds", "coverage"), [(0.30, 1.40, 0.51949), (0.54, 1.40, 0.74110)])
def test_effective_coverage_is_murray_and_davies(dt: float, ds: float, coverage: float) -> None:
    """Worked values of Murray (1936) and Davies."""
    assert murray_davies(dt, ds) == pytest.approx(coverage, abs=5e-5)


@pytest.mark.parametrize("factor", [0.6, 1.3])
def test_marks_on_a_halftone_are_found_where_and_as_large_as_they_are(factor: float) -> None:
    rng = np.random.default_rng(3)
    marks = [(5.0, 30.0, 0.5), (12.0, 100.5, 0.9), (21.0, 170.0, 1.6)]
    found = find_spots(stamped(screened(rng, 0.3), marks, factor))
    assert len(found) == 3
    for (x, y, diameter), spot in zip(marks, sorted(found, key=lambda s: s.mark.y_mm), strict=True):
        assert spot.mark.x_mm == pytest.approx(60 + x, abs=0.1)
        assert spot.mark.y_mm == pytest.approx(10 + y, abs=0.1)
        assert spot.mark.diameter_mm == pytest.approx(diameter, rel=0.35)
        assert (spot.contrast > 0) == (factor < 1)


def test_a_clean_halftone_has_no_marks_and_no_streaks() -> None:
    for seed in range(4):
        field = screened(np.random.default_rng(seed), 0.3)
        assert find_spots(field) == ()
        assert find_streaks([field], 0.8) == []


@pytest.mark.parametrize(("dots_per_inch", "skew"), [(300, 0.19), (300, -0.6), (200, 0.4), (600, 0.19)])
def test_a_screen_scanned_askew_has_no_marks(drawn, dots_per_inch: int, skew: float) -> None:
    """A screen of 106 lines/inch at 45 degrees (4 x 4 dots of 600 dots/inch), averaged over the area of each pixel.

    Pixels taken by the nearest step over a row every pixel / sin(skew), 26 mm at 0.19 degrees, and the screen's
    phase with it; what a screen's dots add up to knows of no pixels.
    """
    y, x = np.mgrid[0:8, 0:8] * (np.pi / 4)
    cell = np.cos(x + y) + np.cos(x - y) > 0.1
    sheet = drawn("toner-mono", dots_per_inch, TONER_LAYOUT)
    height, width = (round(mm * 600 / 25.4) for mm in (sheet.layout.height_mm, sheet.layout.width_mm))
    page = np.tile(np.where(cell, 0.05, 0.85).astype(np.float32), (height // 8 + 1, width // 8 + 1))
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), skew, 1.0)
    whole = 600 // dots_per_inch
    size = (width // whole * whole, height // whole * whole)
    turned = cv2.warpAffine(cv2.GaussianBlur(page, (0, 0), 0.6), turn, size, flags=cv2.INTER_CUBIC, borderValue=0.85)
    light = cv2.resize(turned, (size[0] // whole, size[1] // whole), interpolation=cv2.INTER_AREA)
    pixels = np.rint(255 * linear_to_srgb(np.clip(light, 0, 1))).astype(np.uint8)
    reduced = np.array([[1 / whole, 0, 0.5 / whole - 0.5], [0, 1 / whole, 0.5 / whole - 0.5], [0, 0, 1]])
    to_dots = np.array([[600 / 25.4, 0, -0.5], [0, 600 / 25.4, -0.5], [0, 0, 1]])
    registration = replace(sheet.registration, homography=reduced @ np.vstack([turn, [0, 0, 1]]) @ to_dots)
    tints = [field for field in read_fields(pixels, registration) if field.tone > 0]
    assert len(tints) == 2
    assert sum(len(find_spots(tint)) for tint in tints) == 0
    assert find_crosslines(tints) == ()


@pytest.mark.parametrize("change", [-0.06, 0.04])
def test_a_streak_comes_with_its_place_height_and_length(change: float) -> None:
    field = screened(np.random.default_rng(5), 0.3)
    column = np.exp(-0.5 * ((np.arange(field.light.shape[1]) / PER_MM - 14.0) / 0.3) ** 2)
    light = field.light.copy()
    light[round(60 * PER_MM) :] *= (1 + change * column).astype(np.float32)
    (streak,) = find_streaks([Field(field.name, 0.5, field.box, light, PER_MM, PER_MM)], 0.8)
    true = float(lightness_of(0.3 * (1 + change) / 0.8) - lightness_of(0.3 / 0.8))
    assert streak.x_mm == pytest.approx(74.0, abs=0.15)
    assert streak.dL == pytest.approx(true, rel=0.2)
    assert streak.top_mm == pytest.approx(70.0, abs=21.0)
    assert streak.bottom_mm == pytest.approx(field.box.y1, abs=1.0)
    assert streak.width_mm == pytest.approx(2.355 * 0.3, rel=0.35)


def crossed(places: list[float], factor: float) -> list[Field]:
    """Two tints with lines 0.6 mm high right across them at `places`, mm from their heads."""
    out = []
    for seed, level in ((11, 0.5), (12, 0.3)):
        field = screened(np.random.default_rng(seed), level)
        light = field.light.copy()
        for y in places:
            light[round((y - 0.3) * PER_MM) : round((y + 0.3) * PER_MM)] *= factor
        out.append(Field(field.name, field.tone, field.box, light, PER_MM, PER_MM))
    return out


@pytest.mark.parametrize("factor", [0.95, 1.04])
def test_lines_across_the_page_are_found_at_their_heights(factor: float) -> None:
    """A charge roller of 12 mm with a flat: a line every 37.7 mm."""
    places = [20.0 + k * math.pi * 12.0 for k in range(6)]
    lines = find_crosslines(crossed(places, factor))
    assert [line.mark.y_mm - 10.0 for line in lines] == pytest.approx(places, abs=0.15)
    assert all((line.contrast > 0) == (factor < 1) for line in lines)
    (found,) = find_repeats([line.mark for line in lines], 1.0, 10.0, 250.0)
    assert found.spacing_mm == pytest.approx(37.7, abs=0.05)
    assert find_crosslines(crossed([], 1.0)) == ()


def test_a_mark_on_a_faint_line_is_a_mark_and_pieces_of_a_strong_line_are_none() -> None:
    """A line of 4 % and a mark of 40 % at one height come from two parts, or from two faults of one."""
    fields = crossed([60.0], 0.96)
    lines = find_crosslines(fields)
    assert len(lines) == 1
    marked = [stamped(field, [(9.0, 60.0, 0.7)], 0.6) for field in fields]
    assert [round(m.mark.y_mm - 10.0) for m in single_marks(marked, (), lines)] == [60, 60]
    strong = crossed([60.0], 0.6)
    assert find_spots(strong[0]) != ()
    assert single_marks(strong, (), find_crosslines(strong)) == ()


def test_a_mark_on_one_tint_is_no_line_across_the_page() -> None:
    one, other = crossed([], 1.0)
    light = one.light.copy()
    light[1000:1010] *= 0.9
    assert find_crosslines([Field(one.name, 0.5, one.box, light, PER_MM, PER_MM), other]) == ()


def test_a_short_scratch_is_no_streak() -> None:
    field = screened(np.random.default_rng(6), 0.3)
    light = field.light.copy()
    light[: round(50 * PER_MM), 150:154] *= 0.8
    assert find_streaks([Field(field.name, 0.5, field.box, light, PER_MM, PER_MM)], 0.8) == []


def columns(rng, dark_at_mm: float | None = None, seam: float = 0.0) -> list[Field]:
    """Bare, tint, bare, tint, bare, 1 mm apart; a dark streak 0.6 mm wide, toner along every edge of the tints."""
    out, left = [], 50.0
    for tone, width in ((0.0, 8.0), (0.3, 30.0), (0.0, 10.0), (0.5, 30.0), (0.0, 8.0)):
        field = screened(rng, 0.8 - tone, width, 200.0)
        light = field.light if tone else np.full_like(field.light, 0.8) + rng.normal(0, 0.01, field.light.shape)
        x = left + (np.arange(light.shape[1]) + 0.5) / PER_MM
        if dark_at_mm is not None:
            light = light * (1 - 0.06 * np.exp(-0.5 * ((x - dark_at_mm) / 0.3) ** 2))
        if tone:
            light = light * (1 - seam * np.exp(-np.minimum(x - x[0], x[-1] - x) / 0.5))
        box = Box(left, 10.0, left + width, 210.0)
        out.append(
            Field("paper" if tone == 0 else f"tint {tone}", tone, box, light.astype(np.float32), PER_MM, PER_MM)
        )
        left += width + 1.0
    return out


@pytest.mark.parametrize("at_mm", [59.6, 88.6, 90.4])
def test_a_streak_beside_a_tints_edge_is_found_once_and_casts_no_echo(at_mm: float) -> None:
    found = find_streaks(columns(np.random.default_rng(2), at_mm), 0.8)
    assert found
    assert all(streak.dL < 0 and abs(streak.x_mm - at_mm) < 0.5 for streak in found)


def test_a_seam_that_all_edges_share_is_no_streak_but_one_on_top_of_it_is() -> None:
    rng = np.random.default_rng(2)
    assert find_streaks(columns(rng, seam=0.06), 0.8) == []
    found = find_streaks(columns(rng, 60.0, seam=0.06), 0.8)
    assert [abs(streak.x_mm - 60.0) < 0.5 for streak in found] == [True]


@pytest.mark.parametrize("diameter", [0.6, 1.6, 2.8, 4.0, 6.0])
def test_a_softened_disc_is_known_by_its_width(diameter: float) -> None:
    """Drawn with scikit-image and softened by SciPy, 30 samples a standard deviation."""
    disc = np.zeros((701, 701))
    disc[disk((350, 350), diameter / 2 * 30)] = 1.0
    soft = gaussian_filter(disc, 30.0)
    across = (4 * np.count_nonzero(soft > soft.max() / 2) / np.pi) ** 0.5 / 30.0
    assert _disc_of(across) == pytest.approx(diameter, abs=0.1)


def test_a_mark_cut_by_an_areas_edge_still_counts_as_one_of_its_kind() -> None:
    """Three marks 50 mm apart on a tint's edge, where each shows another part of itself."""
    field = screened(np.random.default_rng(3), 0.5)
    found = find_spots(stamped(field, [(0.35, 40.0, 0.6), (0.5, 90.0, 0.9), (0.25, 140.0, 0.9)], 0.5))
    assert [spot.mark.cut for spot in found] == [True] * 3  # and no halo of theirs at a coarser size
    (repeat,) = find_repeats([spot.mark for spot in found], 30.0, 10.0, 250.0)
    assert repeat.spacing_mm == pytest.approx(50.0, abs=0.2)


def waved(period_mm: float, share: float, *, on: tuple[float, ...] = (0.3, 0.5), turn: float = 0.0) -> list[Field]:
    """`columns` whose areas of the tones `on` get lighter and darker down the page by a share, one of them later."""
    out = []
    for field in columns(np.random.default_rng(21)):
        y = np.arange(field.light.shape[0]) / PER_MM
        wave = 1 + share * np.cos(2 * np.pi * y / period_mm + 0.7 + turn * (field.tone == 0.5))
        light = field.light * (wave[:, None] if field.tone in on else 1.0)
        out.append(replace(field, light=light.astype(np.float32)))
    return out


@pytest.mark.parametrize(("period_mm", "share"), [(15.7, 0.03), (37.7, 0.05), (62.8, 0.12), (94.2, 0.12)])
def test_a_wave_of_toner_comes_with_its_period_and_height(period_mm: float, share: float) -> None:
    fields = waved(period_mm, share)
    bands = read_bands(fields)
    assert bands is not None
    (band,) = bands
    low, high = band.period_ci95
    assert low <= period_mm <= high
    assert high - low < 0.03 * period_mm
    tone = float(band.on.split()[1])
    level = 0.8 - tone  # as `columns` has it, on paper of 0.8
    true = float(lightness_of(level * (1 + share) / 0.8) - lightness_of(level * (1 - share) / 0.8)) / 2
    assert band.amplitude_dL == pytest.approx(true, rel=0.1)
    assert band.ci95[0] < true < band.ci95[1]
    box = next(field.box for field in fields if field.name == band.on)
    turns = (np.array(band.darkest_mm) - box.y0) / period_mm + 0.7 / (2 * np.pi)
    assert np.cos(2 * np.pi * turns).max() < -0.9
    assert len(turns) == pytest.approx(box.height / period_mm, abs=1)
    assert box.x0 < band.x_mm < box.x1


@pytest.mark.parametrize(
    "fields",
    [
        columns(np.random.default_rng(22)),
        waved(30.0, 0.08, on=(0.0, 0.3, 0.5)),  # a scanner's own, or its lamp's: on bare paper as well
        waved(30.0, 0.08, turn=np.pi),  # no roller is dark on one side of the page and light on the other
        waved(400.0, 0.08),  # fade
    ],
    ids=["clean", "scanner", "opposite", "fade"],
)
def test_what_is_no_band_is_none(fields: list[Field]) -> None:
    assert read_bands(fields) == ()


def test_lines_at_a_bands_crests_are_no_lines_of_their_own() -> None:
    (strong,) = read_bands(waved(37.7, 0.12)) or ()
    assert makes_lines(strong, 37.6)
    assert makes_lines(strong, 38.8)  # a crest is broad
    assert not makes_lines(strong, 31.0)
    assert not makes_lines(replace(strong, ci95=(0.2, 0.6)), 37.6)  # too faint to be taken for lines


@pytest.mark.parametrize("longer_mm", [56.5, 58.0])
def test_a_period_is_known_to_what_was_tried_at_the_least(longer_mm: float) -> None:
    """The octave of one wave is another's own: both explain the page alike, and how alike tells no period."""
    fields = []
    for field in waved(37.9, 0.05):
        y = np.arange(field.light.shape[0]) / PER_MM
        wave = 1 + 0.035 * np.cos(2 * np.pi * y / longer_mm) if field.tone else np.ones(len(y))
        fields.append(replace(field, light=(field.light * wave[:, None]).astype(np.float32)))
    bands = read_bands(fields)
    assert bands
    for band in bands:
        low, high = band.period_ci95
        assert 0.5 * band.period_mm < low < high < 1.5 * band.period_mm


def test_without_paper_on_both_sides_bands_are_not_measured() -> None:
    assert read_bands(waved(30.0, 0.08)[1:]) is not None  # the second tint still has it
    assert read_bands([field for field in waved(30.0, 0.08) if field.tone > 0]) is None


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    """One sheet with a roller of 20 mm, a dark streak and fog, scanned at 300 dots/inch; its truth beside it."""
    spacing = math.pi * 20.0  # 62.8 mm
    spots = tuple(Spot(75.0, 25.0 + k * spacing, 0.8, 0.8) for k in range(5) if k != 2)
    strewn = tuple(Spot(62.0 + 5 * k, 20.0 + 37 * k * k % 250, 0.4, 0.7) for k in range(6))
    state = TonerState(
        fog=0.02,
        fade=0.12,
        repeats=(RepeatFault("developer roller", 20.0, spots),),
        streaks=(StreakFault(130.0, 0.8, -0.15, 0.0, 297.0),),
        specks=strewn,
    )
    capture = random_toner_scan(
        40500, page="A4", state=state, dots_per_inch=300, quarter_turns=0, encoding="png", ticket="T"
    )
    path: Path = tmp_path_factory.mktemp("toner") / "sheet.png"
    path.write_bytes(capture.encoded())
    picture = next(iter(read_captures(path)))
    registration = register_sheet(picture.pixels)
    reading, warnings = measure_toner(picture.pixels, registration, components=TABLE, print_scale=(1.0, 1.0))
    return reading, warnings, capture.truth, picture.pixels, registration


def test_the_roller_is_named_though_one_place_is_hidden(read) -> None:
    """62.8 mm = pi x 20 mm."""
    reading, warnings, *_ = read
    (repeat,) = reading.repeats
    assert [part.name for part in repeat.parts] == ["developer roller"]
    assert repeat.spacing_mm == pytest.approx(62.83, rel=0.005)
    assert repeat.diameter_mm == pytest.approx(20.0, rel=0.005)
    assert repeat.hidden == 1
    assert repeat.dark
    assert warnings == ()


@pytest.mark.parametrize("count", [2, 3, 4])
def test_the_interval_of_the_density_holds_it_however_few_solids_are_seen(count: int) -> None:
    """Solids that scatter by 0.02, each read to 0.005: over 2000 pages a share of 95 % is known to 0.5 %."""
    rng = np.random.default_rng(count)
    held = 0
    for values in rng.normal(1.3, math.hypot(0.02, 0.005), (2000, count)):
        _, (low, high), _ = _density([SolidDensity(0.0, 0.0, float(v), 0.005, 27.0) for v in values])
        held += low <= 1.3 <= high
    assert held / 2000 == pytest.approx(0.95, abs=0.015)


def test_one_solid_tells_less_than_four() -> None:
    four = [SolidDensity(0.0, 0.0, v, 0.003, 27.0) for v in (1.28, 1.30, 1.31, 1.31)]
    widths = [high - low for _, (low, high), _ in (_density(four), _density(four[:1]))]
    assert widths[1] > 1.5 * widths[0]


def test_fog_fade_density_and_streak_agree_with_the_truth(read) -> None:
    reading, _, truth, *_ = read
    assert reading.fog.ci95[0] <= truth.fog_dL <= reading.fog.ci95[1]
    assert truth.fog_dL < -0.5
    for fade, (head, foot) in zip(reading.fade, truth.tint_lightness, strict=True):
        assert fade.ci95[0] <= foot - head <= fade.ci95[1]
    assert reading.worst_fade.ci95[0] > 0.5
    (streak,) = reading.streaks
    assert streak.x_mm == pytest.approx(130.0, abs=0.3)
    assert streak.dL > 1.0
    # an uncalibrated scan's stray light and tone curve bend a density, but not by more than this
    assert reading.density == pytest.approx(truth.solid_density, abs=0.2)
    wedge = [tone.coverage for tone in reading.tones if tone.kind == "wedge"]
    assert wedge == sorted(wedge)
    assert wedge[-1] == pytest.approx(1.0, abs=0.03)


def test_the_spacing_is_that_on_the_paper(read) -> None:
    """A driver that fits the page at 97 % moves nothing on the roller: the page is smaller, the spacing is not."""
    reading, _, _, pixels, registration = read
    smaller, warnings = measure_toner(pixels, registration, print_scale=(0.97, 0.97))
    assert smaller.repeats[0].spacing_mm == pytest.approx(0.97 * reading.repeats[0].spacing_mm)
    assert smaller.repeats[0].parts == ()
    assert any("no table of components" in warning for warning in warnings)
    _, warnings = measure_toner(pixels, registration, components=TABLE)
    assert any("print scale is not known" in warning for warning in warnings)


def test_a_part_of_the_sheet_gives_what_it_can(read) -> None:
    """The upper half alone: density, but no tint from end to end, and of the edges the head alone."""
    *_, pixels, _ = read
    half = np.ascontiguousarray(pixels[: pixels.shape[0] // 2])
    reading, warnings = measure_toner(half, register_sheet(half))
    assert reading.density is not None
    assert reading.repeats is None
    assert reading.streaks is None
    assert reading.fade == ()
    assert reading.fog is None
    assert sum("not measured" in warning for warning in warnings) == 3


def test_more_marks_than_can_be_told_apart_leave_repeats_unread(read) -> None:
    """Specks by hundreds, as texture gives them, of the size of the roller's marks: neither found nor ruled out."""
    *_, pixels, registration = read
    strewn = pixels.copy()
    at = registration.to_px(np.random.default_rng(8).uniform((62, 15), (148, 280), (300, 2)))
    for x, y in np.rint(at).astype(int):
        cv2.circle(strewn, (int(x), int(y)), 4, (60, 60, 60), -1)
    reading, warnings = measure_toner(strewn, registration, components=TABLE, print_scale=(1.0, 1.0))
    assert reading.repeats is None
    assert reading.marks > reading.hiding > 100
    assert reading.streaks is not None
    (warning,) = warnings
    assert "can't be told from chance" in warning


def test_the_example_table_is_a_table(tmp_path: Path) -> None:
    path = tmp_path / "parts.toml"
    path.write_text(example_components(), encoding="utf-8")
    parts = load_components(path)
    assert [round(p.spacing_mm, 1) for p in parts] == [94.2, 50.3, 37.7, 50.3, 75.4]
    assert {p.of for p in parts} == {"cartridge", "printer"}
    assert "INVENTED" in example_components()


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("x = 1\n", ["'x' is not a key", "at least one"]),
        ("components = [1]\n", ["'components[0]' must be a table"]),
        ('[[components]]\nname = "a"\n', ["'a' needs 'diameter_mm'"]),
        ('[[components]]\nname = "a"\ndiameter_mm = 20\ntolerance_mm = -1\nof = "x"\nthen = 1\nspin = 2\n',
         ["'tolerance_mm'", "'of' must be cartridge or printer", "'then' must be", "no key 'spin'"]),
        ('[[components]]\nname = "a"\ndiameter_mm = 20\n[[components]]\nname = "a"\ndiameter_mm = 30\n', ["twice"]),
    ],
)  # fmt: skip
def test_each_fault_of_a_table_is_named(tmp_path: Path, text: str, faults: list[str]) -> None:
    path = tmp_path / "parts.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PrintcheckError) as refused:
        load_components(path)
    for fault in faults:
        assert fault in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_tighter_tolerance_leaves_a_part_out() -> None:
    from printcheck.measure.repeats import Repeat

    found = Repeat(50.0, (10.0, 73.5, 137.0), 63.5, 0.05, 0, 1e-6)  # 20.2 mm
    assert match_component(found, [Component("a", 20.0)])
    assert not match_component(found, [Component("a", 20.0, tolerance_mm=0.1)])


FOG = 0.93  # of the paper's light: Y = 0.93 is L* 97.2 (CIE 15), 2.8 below paper
FOG_DL = 116 * FOG ** (1 / 3) - 16 - 100


def fogged(drawn, x_mm: float, y_mm: float, shade=None, *, photo: bool = False):
    """Fog on a bare sheet but for margins of `x_mm` at the sides and `y_mm` at head and foot; light times `shade`."""
    sheet = drawn("toner-mono", 150, TONER_LAYOUT)
    height, width = sheet.light.shape
    left, top = (round(v * 150 / 25.4) for v in (x_mm, y_mm))
    sheet.light[top : height - top, left : width - left] *= FOG
    if shade is not None:
        sheet.light *= shade(*np.meshgrid(np.linspace(-1, 1, width), np.linspace(-1, 1, height)))
    return read_fog(sheet.pixels(), sheet.registration, photo=photo)


def test_a_halo_of_tone_mapping_beside_a_dark_table_is_no_fog_and_hides_none(drawn) -> None:
    """Paper lifted by a tenth at the sheet's edge, by a third of that 12 mm inside; common practice, no source."""

    def halo(x, y):
        to_edge = np.minimum((1 - np.abs(x)) * 105.0, (1 - np.abs(y)) * 148.5)  # mm, of an A4 sheet
        return 0.9 * (1 + 0.1 * np.exp(-to_edge / 12.0))

    clean, unsure = fogged(drawn, 0.0, 0.0, halo, photo=True)
    assert clean.ci95[1] > -0.1
    assert clean.dL > -0.5
    assert unsure < 0.3
    fog, _ = fogged(drawn, 5.7, 5.7, halo, photo=True)
    assert fog.ci95[0] < FOG_DL < fog.ci95[1] < -1.0
    within, _ = fogged(drawn, 4.2, 4.2, None, photo=True)  # in the outer strip: one step, no slope
    assert within.ci95[1] < -1.0


@pytest.mark.parametrize(("x_mm", "y_mm", "sides"), [(6.0, 6.0, 4), (6.0, 0.0, 2), (0.0, 6.0, 2)])
def test_fog_that_reaches_two_edges_shows_at_the_others(drawn, x_mm, y_mm, sides) -> None:
    fog, unsure = fogged(drawn, x_mm, y_mm)
    assert fog.dL == pytest.approx(FOG_DL, abs=0.1)
    assert fog.sides == sides
    assert unsure == pytest.approx(-fog.ci95[1], abs=0.02)  # edges that agree tell as much by two as by many


@pytest.mark.parametrize("edges", [("left", "right"), ("left", "right", "head"), ("left", "right", "head", "foot")])
@pytest.mark.parametrize("apart", [0.4, 0.8])
def test_the_interval_of_fog_holds_it_by_few_edges_as_by_many(edges, apart) -> None:
    """Edges that differ at random, drawn by NumPy; 95 in 100 are held, or more ("Student", Biometrika 6, 1908)."""
    rng, held, read = np.random.default_rng(7), 0, 0
    for _ in range(1000):
        found = _fog_of([(edge, float(v), 0.02) for edge, v in zip(edges, rng.normal(-2, apart, 4), strict=False)])
        if found is not None:  # else they disagree
            read += 1
            held += found.reading.ci95[0] <= -2 <= found.reading.ci95[1]
    assert read > 300
    assert held >= 0.93 * read


def test_a_lens_that_darkens_the_corners_hides_no_fog(drawn) -> None:
    """Light that falls by the fourth power of the cosine, as on a phone's sensor, to 71 % in the corners."""

    def lens(x, y):
        return (1 + 0.18 * (0.35 * x**2 + 0.7 * y**2)) ** -2

    fog, _ = fogged(drawn, 6.0, 0.0, lens)
    assert fog.ci95[0] <= FOG_DL <= fog.ci95[1]
    assert fog.ci95[1] < -1.0
    clean, unsure = fogged(drawn, 0.0, 0.0, lens)
    assert clean.dL > -0.1
    assert unsure == 0.0


def test_one_edge_is_one_witness_however_many_pieces_of_it_are_seen(drawn) -> None:
    """The tints part the head in two strips; a shade along it darkens both, and no other edge is in the picture."""
    sheet = drawn("toner-mono", 150, TONER_LAYOUT)
    px = 150 / 25.4
    rows = np.arange(sheet.light.shape[0])[:, None] / px
    sheet.light *= np.clip((rows - 5.0) / 2.0, 0.0, 1.0) * (FOG - 1.0) + 1.0
    whole, unsure = read_fog(sheet.pixels(), sheet.registration)
    assert whole is None
    assert unsure == pytest.approx(-FOG_DL, abs=0.2)
    cut = sheet.pixels().copy()
    beyond = round(4.0 * px)  # of the foot and then of the sides: what lies there is no paper
    cut[-beyond:] = 0
    without_foot, unsure = read_fog(cut, sheet.registration)
    assert without_foot is None
    assert unsure == pytest.approx(-FOG_DL, abs=0.2)
    cut[:, :beyond], cut[:, -beyond:] = 0, 0
    assert read_fog(cut, sheet.registration) == (None, 0.0)


def test_where_one_edge_alone_shows_fog_it_is_left_open(drawn) -> None:
    sheet = drawn("toner-mono", 150, TONER_LAYOUT)
    sheet.light[:, round(6 * 150 / 25.4) :] *= FOG
    fog, unsure = read_fog(sheet.pixels(), sheet.registration)
    assert fog is None
    assert unsure == pytest.approx(-FOG_DL, abs=0.1)
    _, warnings = measure_toner(sheet.pixels(), sheet.registration)
    assert any("edges disagree" in warning for warning in warnings)
    assert not any("must lie in the picture" in warning for warning in warnings)
