"""Bands of known L* amplitude and period painted on the sheet's strips, tints and solids, and read back.

scikit-image turns the painted L* into light; the paper is 0.85 and the picture sRGB, so what is painted is what the
ink does relative to the paper.
"""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.banding import read_banding
from printcheck.measure.evenness_result import BandingReading
from printcheck.measure.fade import read_fade
from printcheck.measure.periodic import Series, Trendless, find_common
from printcheck.measure.profile import read_patch_profiles, read_strip_profiles
from printcheck.measure.scanner_bands import read_scanner_bands
from printcheck.pattern.code import FIRST_INKJET_LAYOUT, INKJET_LAYOUT


def band(period, amplitude, level=60.0, phase=0.7):
    return lambda y: level + amplitude * np.sin(2 * np.pi * y / period + phase)


def read(
    sheet,
    levels,
    *,
    shade=None,
    noise=0.004,
    seed=0,
    swath_mm=None,
    other_swaths_mm=(),
    broken=False,
    whole=False,
    shadow=1.0,
    photo=False,
    swings=(0.0, 0.0),
    rows_swing=None,
    follow_fade=False,
) -> BandingReading | None:
    layout = sheet.layout
    for kind, level in levels.items():
        sheet.paint_patch(layout.patches_of(kind, "K")[0], level)
    sheet.light *= shadow
    pixels = sheet.pixels(noise, shade, seed)
    paper = next(p.box for p in layout.papers if p.near == "strip-K")
    strip = read_strip_profiles(pixels, sheet.registration, [(layout.patches_of("strip", "K")[0], paper)])[0]
    assert strip is not None
    areas = [("strip", strip)] if "strip" in levels else []
    for kind in levels:
        if kind != "strip":
            profile = read_patch_profiles(pixels, sheet.registration, [layout.patches_of(kind, "K")[0]], [strip])[0]
            assert profile is not None
            areas.append((kind, profile))
    swath = swath_mm or layout.head.inks[0].swath_mm
    fade = read_fade("K", strip, swath_mm=swath) if follow_fade else None
    assert (fade is None) or fade.kind == "starvation"
    return read_banding(
        "K",
        areas,
        read_scanner_bands([strip]),
        (swath, *other_swaths_mm),
        25.4 / layout.raster,
        blanks_mm=() if fade is None else fade.odd_mm,
        broken=broken,
        whole=whole,
        photo=photo,
        swings=swings,
        rows_swing=rows_swing,
    )


@pytest.mark.parametrize(("dots_per_inch", "amplitude"), [(300, 0.3), (300, 4.0), (600, 1.0)])
@pytest.mark.parametrize("cycles_per_mm", [0.1, 0.4, 1.0, 2.0])
def test_bands_are_read_back(drawn, dots_per_inch, amplitude, cycles_per_mm) -> None:
    found = read(drawn("mono-416", dots_per_inch), {"strip": band(1 / cycles_per_mm, amplitude)})
    assert found is not None
    assert len(found.bands) == 1
    assert found.period_mm == pytest.approx(1 / cycles_per_mm, rel=0.01)
    assert found.amplitude_dL == pytest.approx(amplitude, rel=0.12)
    assert found.ci95[0] <= amplitude <= found.ci95[1]


def test_visible_follows_the_published_threshold(drawn) -> None:
    # at 0.89 cycles/mm and 350 mm the eye is keenest: 0.2 L* is the limit there, at 0.1 cycles/mm 0.7
    cases = ((0.89, 0.3, True), (0.89, 0.15, False), (0.1, 0.4, False), (0.1, 1.0, True))
    for cycles_per_mm, amplitude, visible in cases:
        found = read(drawn(), {"strip": band(1 / cycles_per_mm, amplitude)}, noise=0.002)
        assert found is not None
        assert found.visible is visible, (cycles_per_mm, amplitude)


@pytest.mark.parametrize("seed", range(6))
def test_an_even_sheet_in_uneven_light_shows_no_band(drawn, seed) -> None:
    even = {"strip": 30.0, "tint": 60.0, "solid": 30.0}
    found = read(drawn(), even, shade=lambda y: 1 - 0.3 * y / 297, noise=0.01, seed=seed)
    assert found is not None
    assert found.bands == ()
    assert found.amplitude_dL == 0.0
    assert found.period_mm is None
    assert not found.visible
    assert found.ci95 == (0.0, found.limit_dL)


def test_a_band_in_the_tint_alone_is_found(drawn) -> None:
    found = read(drawn(), {"strip": 30.0, "tint": band(1.3, 0.6)})
    assert found is not None
    assert found.bands[0].area == "tint"
    assert found.period_mm == pytest.approx(1.3, rel=0.02)
    assert found.amplitude_dL == pytest.approx(0.6, rel=0.15)


@pytest.mark.parametrize("period", [2.1, 4.7])
def test_a_strong_band_that_the_solid_strip_hides_is_believed_from_the_tint(drawn, period) -> None:
    """Overlapping drops cover all of a solid, whatever their volume; in a low tint missing rows look alike."""
    levels = {"strip": 30.0, "tint": band(period, 4.0)}
    low = drawn(version=FIRST_INKJET_LAYOUT)
    found = read(low, levels)
    assert found is not None
    first = found.bands[0]
    assert (first.area, first.told, first.visible, first.cause) == ("tint", True, True, "unmatched")
    assert first.period_mm == pytest.approx(period, rel=0.04)
    assert first.amplitude_dL == pytest.approx(4.0, rel=0.15)
    torn = read(low, levels, broken=True)
    assert torn is not None
    assert not torn.visible


@pytest.mark.parametrize(("dots", "seen"), [(16, False), (128 / 5, False), (21, True)])
def test_what_repeats_with_a_screen_in_the_mid_tone_alone_is_the_drivers(drawn, dots, seen) -> None:
    """Threshold arrays of dithering have sides of powers of two dots: 16 of them, and a fifth of 128."""
    found = read(drawn(), {"strip": 30.0, "tint": band(dots * 25.4 / 600, 0.6), "solid": 30.0})
    assert found is not None
    assert found.visible is seen


def test_what_is_plainly_seen_is_no_screens(drawn) -> None:
    """2.75 mm is near half of a 128-dot array's 5.42 mm, but screens are made not to be seen (Ulichney 1993)."""
    found = read(drawn("mono-416", 200), {"strip": 30.0, "tint": band(2.75, 1.5), "solid": 30.0})
    assert found is not None
    assert found.visible
    assert found.period_mm == pytest.approx(2.75, rel=0.02)
    poor = read(drawn("mono-416", 300), {"strip": 30.0, "tint": band(128 / 5 * 25.4 / 600, 1.1), "solid": 30.0})
    assert poor is not None
    assert not poor.visible  # a fifth of the array to a thousandth, and five times what can be seen: a poor mask


@pytest.mark.parametrize(
    ("dots", "in_solid", "swing", "visible"),
    [
        (10, 0.0, 0.0, False),
        (12, 0.0, 0.0, False),
        (10.5, 0.0, 0.0, True),
        (10, 5.0, 0.0, True),
        (10, 0.0, 0.3, True),
    ],
)
def test_cells_of_clustered_dots_are_the_drivers_however_strong(drawn, dots, in_solid, swing, visible) -> None:
    """Upright cells of 5 or 6 dots of 300/inch, 60 and 50 lines/inch: common practice, no source.

    Not what is no whole number of dots, shows in solid ink, or the lines of the ladders follow by half and more.
    """
    period = dots * 25.4 / 600
    levels = {
        "strip": band(period, in_solid, 30.0),
        "tint": band(period, 15.0),
        "solid": band(period, in_solid, 30.0),
    }
    found = read(drawn("mono-416", 300), levels, whole=True, rows_swing=lambda mm: swing if mm < 0.6 else 0.0)
    assert found is not None
    assert found.visible is visible


def test_what_lies_beside_a_clustered_screens_wave_is_its_skirts(drawn) -> None:
    """Paper that stretches by two thousandths more here than there moves the dots' lines apart and back."""

    def stretched(y):
        return 60.0 + 15.0 * np.sin(2 * np.pi * (y + 0.02 * np.sin(2 * np.pi * y / 25.4)) / (10 * 25.4 / 600))

    found = read(drawn("mono-416", 300), {"strip": 30.0, "tint": stretched, "solid": 30.0})
    assert found is not None
    assert not found.visible


def dip(depth, level):
    """Ink that can't follow from page y 150 on and is back at 198, slowly, as after a pause that was too short."""
    return lambda y: level + np.interp(y, [0, 150, 175, 186, 198, 300], [0, 0, depth, 0.9 * depth, 0, 0])


def test_one_dip_that_starvation_explains_is_no_band_and_hides_none(drawn) -> None:
    """The shapes are drawn, and their L* by scikit-image; a band repeats, and is there beside the dip as well."""
    starved = {"strip": dip(20.0, 30.0), "tint": dip(15.0, 60.0), "solid": dip(20.0, 30.0)}
    found = read(drawn("mono-416", 300), starved, follow_fade=True)
    assert found is not None
    assert not found.visible
    banded = {kind: (lambda y, own=own: own(y) + band(12.0, 2.5, 0.0)(y)) for kind, own in starved.items()}
    both = read(drawn("mono-416", 300), banded, follow_fade=True)
    assert both is not None
    assert both.visible
    assert both.period_mm == pytest.approx(12.0, rel=0.02)
    assert both.amplitude_dL == pytest.approx(2.5, rel=0.2)


@pytest.mark.parametrize(("version", "dots"), [(INKJET_LAYOUT, 16 * 1.012), (FIRST_INKJET_LAYOUT, 16)])
def test_a_screen_that_a_photos_map_smears_is_no_band(drawn, version, dots) -> None:
    """A tile of 16 dots, its period off by what a tenth of a millimetre does to it; the same in a solid is ink's."""
    period = dots * 25.4 / 600
    areas = {"strip": 30.0, "tint": band(period, 2.0), "solid": 30.0}
    found = read(drawn(version=version), areas, photo=True)
    assert found is not None
    assert not found.visible
    period = 16 * 1.012 * 25.4 / 600  # 16 dots are a 26th of the swath, where a strip shows rows
    both = {"strip": band(period, 0.5, 30.0), "tint": band(period, 2.0), "solid": 30.0}
    shown = read(drawn(version=version), both, photo=True)
    assert shown is not None
    assert (shown.visible, shown.bands[0].cause) == (True, "unmatched")
    coarse = read(drawn(version=version), {**areas, "tint": band(2.1, 4.0)}, photo=True)
    assert coarse is not None
    assert coarse.visible


def test_a_screen_folded_by_a_coarse_scan_is_no_band(drawn) -> None:
    """At 200 dots/inch a sample is 3 dots of 600: 34 turns in 128 dots beat with it every 14.8, which is no cell."""
    period = 25.4 / 600 / (1 / 3 - 34 / 128)
    found = read(drawn("mono-416", 200), {"strip": 30.0, "tint": band(period, 0.8), "solid": 30.0})
    assert found is not None
    assert not found.visible
    fine = read(drawn("mono-416", 300), {"strip": 30.0, "tint": band(period, 0.8), "solid": 30.0})
    assert fine is not None
    assert fine.visible


@pytest.mark.parametrize(("in_solid", "visible"), [(0.15, False), (0.6, True)])
def test_rows_that_swing_solid_ink_a_little_do_not_make_a_band_of_a_folded_screen(
    drawn, in_solid: float, visible: bool
) -> None:
    """A clustered screen of 8 dots at 45 degrees beats with the samples every 0.5 mm, 1.4 L* strong."""
    period = 12 * 25.4 / 600
    levels = {"strip": band(period, in_solid, 30.0, 2.0), "tint": band(period, 1.4), "solid": 30.0}
    found = read(drawn("mono-416", 200), levels)
    assert found is not None
    assert found.visible is visible


def test_a_head_moved_on_by_a_shorter_ink_repeats_its_rows_with_that(drawn) -> None:
    """Inks printed in one pass move on together, so by the shortest of them: 192 rows of 600/inch here."""
    levels = {"strip": 30.0, "tint": band(8.128 / 11, 0.8), "solid": 30.0}
    alone, beside = read(drawn(), levels), read(drawn(), levels, other_swaths_mm=(8.128,))
    assert alone is not None
    assert beside is not None
    assert (alone.bands[0].cause, beside.bands[0].cause) == ("unmatched", "rows")
    assert not beside.visible


def test_rows_that_the_mid_tone_alone_shows_are_named_but_never_a_visible_band(drawn) -> None:
    """What repeats every swath is rows of the head, which the ladders measure one by one."""
    swath = 416 * 25.4 / 600
    found = read(drawn(), {"strip": 30.0, "tint": band(swath / 11, 0.8), "solid": 30.0})
    assert found is not None
    assert (found.bands[0].cause, found.visible) == ("rows", False)
    levels = {"strip": 30.0, "tint": band(swath / 7, 3.0), "solid": 30.0}
    torn, whole = read(drawn(), levels), read(drawn(), levels, whole=True)
    assert torn is not None
    assert whole is not None
    # rows that all print don't differ by so much
    assert (torn.visible, whole.visible) == (False, True)


def test_missing_lines_are_not_counted_as_bands(drawn) -> None:
    swath = 416 * 25.4 / 600

    def lines(y):
        return np.where(np.abs((y - 4.0) % swath) < 0.0847, 100.0, 30.0)

    found = read(drawn(), {"strip": lines, "solid": lines})
    assert found is not None
    assert not found.visible
    assert found.amplitude_dL < 0.1


def test_bands_are_read_between_missing_lines(drawn) -> None:
    swath = 416 * 25.4 / 600
    wave = band(2.5, 0.8, level=50.0)
    found = read(drawn(), {"strip": lambda y: np.where(np.abs((y - 4.0) % swath) < 0.0847, 100.0, wave(y))})
    assert found is not None
    assert found.period_mm == pytest.approx(2.5, rel=0.01)
    assert found.amplitude_dL == pytest.approx(0.8, rel=0.1)


def shadow_over(sheet, slope: float, soft_mm: float = 2.0) -> np.ndarray:
    """Light under a hard shadow that begins in the middle of the mid-tone, its edge leaning by `slope`."""
    middle_x, middle_y = sheet.layout.patches_of("tint", "K")[0].box.centre
    y, x = sheet.y_mm()[:, None], (np.arange(sheet.light.shape[1]) + 0.5) / sheet.registration.px_per_mm_x
    below = (y - middle_y - slope * (x - middle_x)) / soft_mm
    return (1.0 - 0.4 / (1.0 + np.exp(-below))).astype(np.float32)


@pytest.mark.parametrize("slope", [0.0, 0.3, -0.8])
def test_the_edge_of_a_shadow_makes_no_band_and_hides_no_fine_one(drawn, slope: float) -> None:
    """A light step shows in the bare paper beside as well; what it leaves is long, and long bands are let be."""
    sheet = drawn()
    even = read(sheet, {"strip": 30.0, "tint": 60.0, "solid": 30.0}, shadow=shadow_over(sheet, slope))
    assert even is not None
    assert even.bands == ()
    sheet = drawn()
    banded = read(sheet, {"strip": band(1.7, 1.0, 30.0), "tint": band(1.7, 2.0), "solid": 30.0},
                  shadow=shadow_over(sheet, slope))  # fmt: skip
    assert banded is not None
    assert [round(b.period_mm, 1) for b in banded.bands] == [1.7]
    assert banded.visible


@pytest.mark.parametrize(("amplitude", "told"), [(4.0, True), (0.8, False)])
def test_a_strong_long_band_is_told_beside_a_shadows_edge(drawn, amplitude: float, told: bool) -> None:
    """The light is another on either side, which is no wave; what is fainter may be the edge's own."""
    sheet = drawn()
    found = read(sheet, {"strip": 30.0, "tint": band(5.6, amplitude), "solid": 30.0}, shadow=shadow_over(sheet, 0.3))
    assert found is not None
    assert [round(b.period_mm, 1) for b in found.bands] == ([5.6] if told else [])
    if told:
        assert found.bands[0].amplitude_dL == pytest.approx(amplitude, rel=0.15)


def test_a_band_just_shorter_than_a_shadow_leaves_is_not_taken_for_its_own_flank(drawn) -> None:
    """Both searches meet at 5 mm, and the mid-tone shows a dozen times what solid ink does."""
    sheet = drawn()
    levels = {"strip": band(4.56, 0.2, 30.0), "tint": band(4.56, 2.7), "solid": 30.0}
    found = read(sheet, levels, shadow=shadow_over(sheet, 0.3))
    assert found is not None
    assert found.visible
    assert found.bands[0].period_mm == pytest.approx(4.56, rel=0.01)
    assert found.bands[0].ci95[0] < 2.7 < found.bands[0].ci95[1]


def test_a_long_band_keeps_its_period_where_a_shadows_edge_crosses_the_strip_alone(drawn) -> None:
    """The strip is not searched for it then, and must not set where the mid-tone's crest may lie."""
    sheet = drawn()
    tint = sheet.layout.patches_of("tint", "K")[0].box
    edge_mm = tint.y1 + 25.0
    shadow = (1.0 - 0.2 / (1.0 + np.exp(edge_mm - sheet.y_mm()))).astype(np.float32)[:, None]
    levels = {"strip": 30.0, "tint": band(5.6, 4.0), "solid": 30.0}
    found = read(sheet, levels, shadow=shadow)
    assert found is not None
    assert found.period_mm == pytest.approx(5.6, rel=0.02)
    assert found.amplitude_dL == pytest.approx(4.0, rel=0.15)


def test_the_scanners_own_bands_are_not_the_inks(drawn) -> None:
    # 0.8 % of light: on paper, and just so on the ink, 0.2 L* and more
    found = read(drawn(), {"strip": 60.0}, shade=lambda y: 1 + 0.008 * np.sin(2 * np.pi * y / 3.1))
    assert found is not None
    assert found.bands == ()
    # dL* = (L* + 16) / 3 x dY / Y, from the definition of L* (ISO/CIE 11664-4)
    assert found.scanner_dL == pytest.approx((60 + 16) / 3 * 0.008, rel=0.15)


@pytest.mark.parametrize(("swaths", "cause"), [(1.0, "feed"), (0.5, "passes"), (2.0, "strokes"), (0.31, "unmatched")])
def test_the_swath_tells_the_printers_bands(drawn, swaths, cause) -> None:
    swath = 416 * 25.4 / 600
    found = read(drawn(), {"strip": band(swaths * swath, 2.0)})
    assert found is not None
    assert found.bands[0].cause == cause


@pytest.mark.parametrize(
    ("swaths", "amplitude", "cause"),
    [
        (0.4725, 1.0, "passes"),  # a swath trimmed by 5.5 %
        (0.4725, 5.0, "unmatched"),  # which is not known to be, and the band is far too strong
        (0.5, 5.0, "passes"),
    ],
)
def test_a_strong_band_is_the_printers_only_on_the_swath_itself(drawn, swaths, amplitude, cause) -> None:
    found = read(drawn(), {"strip": band(swaths * 416 * 25.4 / 600, amplitude)})
    assert found is not None
    assert found.bands[0].cause == cause


@pytest.mark.parametrize(("swings", "cause"), [((0.15, 0.0), "head"), ((0.0, 0.15), "feed"), ((0.02, 0.02), "feed")])
def test_bands_that_the_heads_own_lines_follow_are_not_the_printers(drawn, swings, cause) -> None:
    """5 L* at one swath: lines weaker by 15 % in half of the head take up to that share of the ink's 40 L*."""
    found = read(drawn(), {"strip": band(416 * 25.4 / 600, 5.0)}, swings=swings)
    assert found is not None
    assert found.bands[0].cause == cause


def test_harmonics_belong_to_their_fundamental(drawn) -> None:
    first, second, third = band(5.0, 0.9, 60.0), band(2.5, 0.4, 0.0), band(5.0 / 3, 0.3, 0.0)
    found = read(drawn(), {"strip": lambda y: first(y) + second(y) + third(y)})
    assert found is not None
    (one,) = found.bands
    assert one.period_mm == pytest.approx(5.0, rel=0.01)
    assert dict(one.harmonics) == pytest.approx({2: 0.4, 3: 0.3}, rel=0.15)


def test_nothing_is_said_where_noise_hides_bands(drawn) -> None:
    sheet = drawn("mono-416", 150)
    assert read(sheet, {"strip": 12.0}, noise=0.2) is None


def test_false_alarms_keep_to_their_rate() -> None:
    """White noise, a third of it masked: the tallest peak passes no more often than the test allows."""
    rng = np.random.default_rng(7)
    y = np.arange(1200) / 12
    alarms = 0
    for _ in range(200):
        keep = rng.random(1200) > 0.3
        alarms += bool(find_common([Series(y, rng.standard_normal(1200), keep, 0.05, 3.0, 4)])[0].found)
    assert alarms <= 2  # 1e-4 of 200 with room for the floor's own scatter


def test_intervals_hold_the_true_amplitude() -> None:
    rng = np.random.default_rng(8)
    y = np.arange(1200) / 12
    held = 0
    for _ in range(100):
        values = 0.5 * np.cos(2 * np.pi * 0.43 * y + rng.uniform(0, 6)) + rng.standard_normal(1200)
        (wave,) = find_common([Series(y, values, np.ones(1200, bool), 0.05, 3.0, 4)])[0].found[:1]
        held += abs(abs(wave.amplitude) - 0.5) < 1.96 * wave.amplitude_sd
    assert 88 <= held <= 100


def test_a_known_frequency_is_fitted_through_gaps() -> None:
    y = np.arange(900) / 12
    values = 3.0 + 0.02 * y + 0.7 * np.cos(2 * np.pi * 0.31 * y + 1.1)
    keep = (y % 9) > 2
    found = Trendless(Series(y, values, keep, 0.05, 3.0, 2)).amplitude_at(0.31)
    assert abs(found) == pytest.approx(0.7, rel=1e-6)
    assert float(np.angle(found)) == pytest.approx(1.1, abs=1e-6)


def test_a_blank_left_by_air_is_no_band(drawn) -> None:
    sheet = drawn()

    def blank(y):
        return np.where((y > 95.0) & (y < 108.0), 100.0, 30.0)

    layout = sheet.layout
    paper = next(p.box for p in layout.papers if p.near == "strip-K")
    for kind in ("strip", "solid"):
        sheet.paint_patch(layout.patches_of(kind, "K")[0], blank)
    pixels = sheet.pixels()
    strip = read_strip_profiles(pixels, sheet.registration, [(layout.patches_of("strip", "K")[0], paper)])[0]
    solid = read_patch_profiles(pixels, sheet.registration, [layout.patches_of("solid", "K")[0]], [strip])[0]
    assert strip is not None
    assert solid is not None
    areas = [("strip", strip), ("solid", solid)]
    found = read_banding("K", areas, read_scanner_bands([strip]), [17.6], 25.4 / 600, 0.0, [(95.0, 108.0)])
    assert found is not None
    assert found.bands == ()


def test_a_band_too_faint_for_each_area_is_found_in_both_together() -> None:
    """The sum over areas follows the gamma distribution: two of 11 pass where one of 11 seldom does."""
    rng = np.random.default_rng(11)
    y = np.arange(1200) / 12
    found = {"one": 0, "both": 0}
    for _ in range(40):
        phase = rng.uniform(0, 6)
        series = [
            Series(y, 0.19 * np.cos(2 * np.pi * 0.43 * y + phase) + rng.standard_normal(1200), np.ones(1200, bool),
                   0.05, 3.0, 4)
            for _ in range(2)
        ]  # fmt: skip

        def hit(spectrum):
            return any(wave is not None and abs(wave.frequency - 0.43) < 0.004 for wave in spectrum.found)

        found["one"] += hit(find_common(series[:1])[0])
        found["both"] += hit(find_common(series)[0])
    assert found["both"] > found["one"] + 8


def test_noise_in_several_areas_raises_no_more_alarms_than_allowed() -> None:
    """Short areas too, whose noise floor is known from a few frequencies only."""
    rng = np.random.default_rng(12)
    alarms = 0
    for _ in range(200):
        series = []
        for count, low in ((1200, 0.05), (84, 0.3), (200, 0.12)):
            series.append(
                Series(np.arange(count) / 12, rng.standard_normal(count), np.ones(count, bool), low, 3.0, 1)
            )
        alarms += bool(find_common(series)[0].found)
    # four tests of 3e-4 on 200 sheets: 0.24 expected; six would come once in a million
    assert alarms <= 5


def test_what_repeats_with_the_head_is_no_band_of_the_cartridges(drawn) -> None:
    swath = 416 * 25.4 / 600
    found = read(drawn(), {"strip": band(swath / 7, 1.0)})
    assert found is not None
    assert found.bands[0].cause == "rows"


def rows(seed: int, swath: float, sd: float, level: float = 60.0):
    """Lightness of a head whose rows, 600 to the inch, each lay down a little more or less ink, swath after swath."""
    pitch = 25.4 / 600
    each = sd * np.random.default_rng(seed).standard_normal(round(swath / pitch))
    return lambda y: level + each[(np.floor(y / pitch).astype(int)) % len(each)]


@pytest.mark.parametrize("seed", range(5))
def test_rows_of_a_head_are_no_visible_band_in_a_tint_shorter_than_a_swath(drawn, seed) -> None:
    swath = 416 * 25.4 / 600
    faint, full = rows(seed, swath, 0.2, 30.0), rows(seed, swath, 2.5)
    found = read(drawn(), {"strip": faint, "tint": full, "solid": faint})
    assert found is not None
    assert not found.visible
    assert all(band.cause == "rows" for band in found.bands if band.area == "tint" and not band.told)


@pytest.mark.parametrize(("cycles_per_mm", "seed"), [(0.33, 1), (0.67, 2), (1.21, 3), (1.77, 4)])
def test_a_saturated_strip_gives_the_period_and_the_mid_tone_the_amplitude(drawn, cycles_per_mm, seed) -> None:
    """Ink that covers all hardly shows what its mid-tone does: 0.08 against 1 L*, among rows of 0.6 L* each."""
    swath = 416 * 25.4 / 600
    faint, full = rows(seed, swath, 0.1, 30.0), rows(seed, swath, 0.6)
    small, large = band(1 / cycles_per_mm, 0.08, 0.0), band(1 / cycles_per_mm, 1.0, 0.0)
    levels = {"strip": lambda y: faint(y) + small(y), "tint": lambda y: full(y) + large(y)}
    found = read(drawn(), levels)
    assert found is not None
    assert found.bands[0].area == "tint"
    assert found.bands[0].told
    assert found.visible
    # the strip is the longer ruler
    assert found.period_mm == pytest.approx(1 / cycles_per_mm, rel=0.005)
    assert found.amplitude_dL == pytest.approx(1.0, rel=0.2)
    assert found.ci95[0] <= 1.0 <= found.ci95[1]


def test_a_strong_mid_tone_is_no_harmonic_of_a_faint_strip(drawn) -> None:
    slow, fast = band(7.5, 0.3, 30.0), band(1.5, 0.06, 0.0)
    found = read(drawn(), {"strip": lambda y: slow(y) + fast(y), "tint": band(1.5, 1.2)})
    assert found is not None
    assert found.bands[0].area == "tint"
    assert found.period_mm == pytest.approx(1.5, rel=0.01)
    assert found.amplitude_dL == pytest.approx(1.2, rel=0.15)


def test_what_repeats_every_swath_has_a_noise_floor_of_its_own() -> None:
    """Between the lines of the comb a sinusoid fainter than they are is found, and no line is taken for one."""
    rng = np.random.default_rng(21)
    y = np.arange(2400) / 12
    at, lines = 0, 0
    for _ in range(20):
        pattern = 0.3 * rng.standard_normal(12 * 8)
        values = np.tile(pattern, 25) + 0.1 * rng.standard_normal(2400) + 0.04 * np.cos(2 * np.pi * 0.94 * y + 1.0)
        (spectrum,) = find_common([Series(y, values, np.ones(2400, bool), 0.05, 3.0, 4, None, 8.0)])
        found = [wave.frequency for wave in spectrum.found if wave is not None]
        at += any(abs(f - 0.94) < 0.003 for f in found)
        lines += sum(abs(f * 8 - round(f * 8)) < 0.04 for f in found)
    assert at == 20
    assert lines <= 1


def test_neighbours_in_a_long_and_a_short_profile_keep_their_places() -> None:
    """The short one can't tell 1.20 from 1.28 cycles/mm; what it shows lies at 1.20 and is left for that."""
    rng = np.random.default_rng(22)
    y, short = np.arange(2400) / 12, 100.0 + np.arange(84) / 12
    wave = lambda at, f: np.cos(2 * np.pi * f * at)  # noqa: E731
    long = 0.6 * wave(y, 1.28) + 0.2 * wave(y, 1.2) + 0.5 * rng.standard_normal(2400)
    brief = 3.0 * wave(short, 1.2) + 0.5 * rng.standard_normal(84)
    both = find_common(
        [
            Series(y, long, np.ones(2400, bool), 0.05, 3.0, 4),
            Series(short, brief, np.ones(84, bool), 0.3, 3.0, 1),
        ]
    )
    shown = [w for w in both[1].found if w is not None]
    assert max(shown, key=lambda w: abs(w.amplitude)).frequency == pytest.approx(1.2, abs=0.003)


def strip_of(sheet, **light):
    paper = next(p.box for p in sheet.layout.papers if p.near == "strip-K")
    strips = [(sheet.layout.patches_of("strip", "K")[0], paper)]
    (strip,) = read_strip_profiles(sheet.pixels(**light), sheet.registration, strips)
    assert strip is not None
    return strip


def test_light_that_falls_off_and_a_fleck_are_no_shadows_edge(drawn) -> None:
    """Paper of reflectance 0.85 under a lamp at the head: its light is followed to the very ends."""
    sheet, lamp = drawn(), lambda y: 1 - 0.7 * y / 297
    paper = next(p.box for p in sheet.layout.papers if p.near == "strip-K")
    per_mm = sheet.registration.px_per_mm_y
    sheet.light[round(120 * per_mm) : round(121.2 * per_mm), : round(paper.x1 * per_mm)] *= 0.94
    strip = strip_of(sheet, noise=0.01, shade=lamp)
    assert not strip.light_steps
    np.testing.assert_allclose(strip.level[:, 1], 0.85 * lamp(strip.y_mm), rtol=0.008)


@pytest.mark.parametrize("at_mm", [60.0, 150.0, 226.0])
def test_a_shadows_edge_is_one_wherever_it_lies(drawn, at_mm: float) -> None:
    sheet = drawn()
    sheet.light *= np.where(sheet.y_mm() > at_mm, 0.9, 1.0).astype(np.float32)[:, None]
    strip = strip_of(sheet, noise=0.01)
    assert strip.light_steps
    assert abs(strip.y_mm[strip.stepped] - at_mm).max() < 8.0
