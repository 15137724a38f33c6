"""Fade, starvation and air on strips whose lightness is painted; scikit-image turns L* into light."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.evenness_result import FadeReading
from printcheck.measure.fade import read_fade
from printcheck.measure.profile import Profile, read_strip_profiles


def ramp(from_mm, to_mm, start, end, after=None):
    def level(y):
        out = start + (end - start) * np.clip((y - from_mm) / (to_mm - from_mm), 0, 1)
        return np.where(y > to_mm, end if after is None else after, out)

    return level


def read(sheet, level, *, shade=None, noise=0.004, run_mm=0.0, seed=0, swath_mm=0.0) -> FadeReading:
    strip = sheet.layout.patches_of("strip", "K")[0]
    paper = next(p.box for p in sheet.layout.papers if p.near == "strip-K")
    sheet.paint_patch(strip, level)
    profile = read_strip_profiles(sheet.pixels(noise, shade, seed), sheet.registration, [(strip, paper)])[0]
    assert profile is not None
    reading = read_fade("K", profile, run_mm, swath_mm)
    assert reading is not None
    return reading


def uneven(y):
    """Light that falls by 30 % down the page."""
    return 1.0 - 0.3 * y / 297


@pytest.mark.parametrize("change", [2.0, 6.0])
@pytest.mark.parametrize("shade", [None, uneven])
def test_a_fade_is_read_back_under_even_and_uneven_light(drawn, change, shade) -> None:
    sheet = drawn()
    box = sheet.layout.patches_of("strip", "K")[0].box
    found = read(sheet, ramp(box.y0, box.y1, 30.0, 30.0 + change), shade=shade)
    assert found.kind == "fade"
    # the strip's outermost half-blocks are not reached: 2 % of its length at each end
    assert found.dL_first_to_last == pytest.approx(change, rel=0.06)
    assert found.ci95[0] <= change <= found.ci95[1]


@pytest.mark.parametrize("seed", range(4))
def test_uneven_light_alone_is_no_fade(drawn, seed) -> None:
    found = read(drawn(), 30.0, shade=uneven, seed=seed)
    assert found.kind == "none"
    assert found.ci95[0] <= 0.0 <= found.ci95[1]


def test_ink_that_comes_back_after_a_pause_is_starvation(drawn) -> None:
    found = read(drawn(), ramp(80.0, 170.0, 30.0, 38.0, after=30.0))
    assert found.kind == "starvation"
    # known to a block of 5 mm, in which this ramp climbs by 0.44, and the jump's own block is lost
    assert found.worst_dL == pytest.approx(8.0, abs=1.0)
    assert found.start_mm == pytest.approx(80.0, abs=8.0)
    assert found.end_mm == pytest.approx(170.0, abs=5.0)
    assert abs(found.dL_first_to_last) < 0.5


SWATH_MM = 416 * 25.4 / 600


def step(from_mm, to_mm, change):
    return lambda y: np.where((y > from_mm) & (y <= to_mm), 30.0 + change, 30.0)


@pytest.mark.parametrize(
    ("level", "kind"),
    [
        (step(120.0, 120.0 + SWATH_MM, 2.5), "none"),
        (step(110.0, 110.0 + SWATH_MM, 3.3), "none"),
        (step(120.0, 120.0 + SWATH_MM, 6.0), "starvation"),
        (ramp(100.0, 100.0 + 4 * SWATH_MM, 30.0, 32.5, after=30.0), "starvation"),
    ],
)
def test_a_swath_that_stands_apart_is_the_printers_and_no_starvation_unless_deep(drawn, level, kind) -> None:
    """Common practice, no source: one stroke prints all rows of a swath, so that what runs low shows over several."""
    assert read(drawn(), level, swath_mm=SWATH_MM).kind == kind


@pytest.mark.parametrize(
    ("from_foot_mm", "change", "kind"), [(18.0, 2.5, "none"), (18.0, 6.0, "fade"), (60.0, 2.5, "fade")]
)
def test_a_last_swath_that_stands_apart_is_no_fade_unless_deep(drawn, from_foot_mm, change, kind) -> None:
    sheet = drawn()
    foot = sheet.layout.patches_of("strip", "K")[0].box.y1
    found = read(sheet, step(foot - from_foot_mm, foot, change), swath_mm=SWATH_MM)
    assert found.kind == kind


def test_a_loss_that_stays_is_fade_though_it_levels_off(drawn) -> None:
    found = read(drawn(), ramp(80.0, 150.0, 30.0, 38.0))
    assert found.kind == "fade"
    assert found.dL_first_to_last == pytest.approx(8.0, abs=0.5)


def test_a_blank_and_ink_again_is_air(drawn) -> None:
    found = read(drawn(), lambda y: np.where((y > 120) & (y < 131), 100.0, 30.0))
    assert found.kind == "air"
    (blank,) = found.blanks_mm
    assert blank == pytest.approx((120.0, 131.0), abs=0.3)
    assert abs(found.dL_first_to_last) < 0.3


def test_a_run_of_dead_rows_is_neither_air_nor_fade(drawn) -> None:
    run_mm = 60 * 25.4 / 600
    found = read(drawn(), lambda y: np.where((y % 17.6) < run_mm, 100.0, 30.0), run_mm=run_mm)
    assert found.kind == "none"
    assert found.blanks_mm == ()


def test_fading_yellow_shows_in_density_where_lightness_hardly_moves(drawn) -> None:
    sheet = drawn()
    box = sheet.layout.patches_of("strip", "K")[0].box
    found = read(sheet, ramp(box.y0, box.y1, 94.0, 95.2), noise=0.002)
    # density by definition -log10 of reflectance (ISO 5-4), from the same L*
    y = [((level + 16) / 116) ** 3 for level in (94.0, 95.2)]
    assert found.density_ratio == pytest.approx(np.log10(y[1]) / np.log10(y[0]), abs=0.02)


def test_a_dip_within_the_doubt_of_its_light_is_no_starvation() -> None:
    """Light that flickers down the paper by a fifth from block to block says little of a dip of 3 L* on the ink."""
    y = np.arange(20.0, 270.0, 1 / 12)
    rng = np.random.default_rng(3)
    blocks = np.repeat(1 + 0.2 * rng.uniform(-1.7, 1.7, 50), 60)
    light = np.repeat((0.85 * blocks)[:, None], 3, axis=1)
    dip = 0.06 * (1 + 0.2 * np.clip((y - 100) / 60, 0, 1) * (y < 160))
    ink = np.repeat((dip * (1 + rng.normal(0, 0.003, len(y))))[:, None], 3, axis=1)
    even = np.full_like(light, 0.85)
    found = read_fade("K", Profile(y, ink, even, even))
    assert found is not None
    assert found.kind == "starvation"
    doubtful = read_fade("K", Profile(y, ink, light, even))
    assert doubtful is not None
    assert doubtful.kind == "none"
    assert doubtful.ci95[1] > doubtful.worst_dL


@pytest.mark.parametrize(("rough", "kind"), [(0.0, "fade"), (0.08, "none")])
def test_a_loss_of_which_little_is_sure_is_not_named(rough: float, kind: str) -> None:
    """1.6 L* is a fade where it is well known; beside paper whose light flickers it may be next to none."""
    y = np.arange(20.0, 270.0, 1 / 12)
    rng = np.random.default_rng(5)
    blocks = np.repeat(1 + rough * rng.standard_normal(50), 60)
    paper = np.repeat((0.85 * blocks)[:, None], 3, axis=1)
    rise = 0.06 * (1 + 0.105 * (y - y[0]) / (y[-1] - y[0]))
    ink = np.repeat((rise * (1 + rng.normal(0, 0.003, len(y))))[:, None], 3, axis=1)
    found = read_fade("K", Profile(y, ink, paper, np.full_like(paper, 0.85)))
    assert found is not None
    assert found.dL_first_to_last == pytest.approx(1.6, abs=0.1)
    assert found.kind == kind


@pytest.mark.parametrize("power", [1.8, 2.0, 2.2])
@pytest.mark.parametrize("down", [0.3, -0.3])
def test_a_tone_curve_that_is_not_srgbs_under_uneven_light_is_doubt_and_no_fade(power: float, down: float) -> None:
    """A capture encoded by a pure power and read as sRGB (IEC 61966-2-1): ink and paper fall by different shares."""
    y = np.arange(20.0, 270.0, 1 / 12)
    rng = np.random.default_rng(2)
    fall = 1.0 - down * (y - y[0]) / 270

    def as_read(reflectance: float) -> np.ndarray:
        value = (reflectance * fall) ** (1 / power)
        light = ((value + 0.055) / 1.055) ** 2.4
        return np.repeat((light * (1 + rng.normal(0, 0.003, len(y))))[:, None], 3, axis=1)

    paper = as_read(0.85)
    found = read_fade("K", Profile(y, as_read(0.06), paper, paper))
    assert found is not None
    assert abs(found.dL_first_to_last) > 0.2  # the error is there
    assert found.ci95[0] <= 0.0 <= found.ci95[1]
    assert found.kind == "none"


@pytest.mark.parametrize(("blue", "loss"), [(0.05, 0.0), (0.009, 0.0), (0.009, 0.25), (0.001, 0.0), (0.001, 0.7)])
def test_yellow_is_told_by_its_blue_however_dark(blue: float, loss: float) -> None:
    """A lamp that drifts by 4 % takes a third of a density of 0.05 in green, and next to nothing of one of 2 in blue.

    Density by definition -log10 of reflectance (ISO 5-4). Where blue is black, nothing is said of it.
    """
    y = np.linspace(30.0, 240.0, 1500)
    drift = 1 + 0.04 * (y - 30.0) / 210.0
    less = 1 - loss * (y - 30.0) / 210.0
    paper = np.full((len(y), 3), 0.9)
    light = np.stack([0.99 * drift, 0.89**less * drift, blue**less * drift], axis=1)
    noise = 0.004 * np.random.default_rng(2).standard_normal(light.shape)
    found = read_fade("Y", Profile(y, paper * np.maximum(light + noise, 0.0), paper, paper))
    assert found is not None
    if blue < 0.004:  # at the head at least
        assert found.density_ratio is None
    else:
        assert found.density_ratio == pytest.approx(1 - loss, abs=0.03)


@pytest.mark.parametrize("edge", [True, False])
def test_a_shadows_edge_leaves_a_fade_to_be_told(edge: bool) -> None:
    """A shadow that takes 40 % of the light takes it of paper and ink alike; its edge is no doubt."""
    y = np.linspace(30.0, 240.0, 2100)
    shade = 1 - 0.4 / (1 + np.exp(-(y - 130.0)))
    paper = np.repeat((0.9 * shade)[:, None], 3, axis=1)
    ink = 0.1 * 1.5 ** ((y - 30.0) / 210.0)
    found = read_fade("M", Profile(y, paper * ink[:, None], paper, paper, stepped=(abs(y - 130.0) < 5.0) & edge))
    assert found is not None
    assert found.dL_first_to_last == pytest.approx(116 * (0.15 ** (1 / 3) - 0.1 ** (1 / 3)), abs=0.5)
    assert (found.kind == "fade") is edge


@pytest.mark.parametrize("blue", [0.1, 0.003])
@pytest.mark.parametrize("loss", [0.0, 0.4])
def test_yellow_that_goes_and_slowly_comes_back_is_told_whatever_the_shape(blue: float, loss: float) -> None:
    """Load lost by Beer's law, most of all at mid-page. Density by definition -log10 of reflectance (ISO 5-4).

    A blue of 0.003 is black, and L* stands for it: by CIE's luminance it falls from 7.8 to 5.8 under the paper's.
    """
    y = np.linspace(30.0, 240.0, 1500)
    less = 1 - loss * np.clip(1 - np.abs(y - 135.0) / 60.0, 0.0, 0.9) / 0.9
    paper = np.full((len(y), 3), 0.9)
    light = np.stack([0.99**less, 0.84**less, blue**less], axis=1)
    noise = 0.002 * np.random.default_rng(3).standard_normal(light.shape)
    found = read_fade("Y", Profile(y, paper * np.maximum(light + noise, 0.0), paper, paper))
    assert found is not None
    assert found.most_lost is not None
    most, sd = found.most_lost
    assert most == pytest.approx(loss if blue > 0.01 else 0.63 * loss, abs=0.05)
    assert 0.0 < sd < 0.05
    other = read_fade("C", Profile(y, paper * np.maximum(light + noise, 0.0), paper, paper))
    assert other is not None
    assert other.most_lost is None


def test_yellow_that_another_ink_darkens_down_the_page_loses_nothing() -> None:
    """Magenta from nothing to 40 %, by Beer's law; blue is black, and L*, CIE's of these lights, falls by 20."""
    y = np.linspace(30.0, 240.0, 1500)
    share = np.clip((y - 60.0) / 140.0, 0.0, 1.0) * 0.4
    yellow, magenta = np.array([0.99, 0.84, 0.003]), np.array([0.9, 0.1, 0.3])
    light = yellow ** (1 - share[:, None]) * magenta ** share[:, None]
    light[:, 2] = 0.003
    paper = np.full((len(y), 3), 0.9)
    found = read_fade("Y", Profile(y, paper * light, paper, paper))
    assert found is not None
    assert found.density_ratio is None
    assert found.most_lost is not None
    assert found.most_lost[0] == pytest.approx(0.0, abs=0.02)
    back = read_fade("Y", Profile(y, paper * light[::-1], paper, paper))
    assert back is not None
    assert back.most_lost is not None
    assert back.most_lost[0] > 0.4  # what lightens may be thinner: that it is another ink that goes, colour tells


@pytest.mark.parametrize("bare", [False, True])
def test_an_ink_that_leaves_two_channels_as_light_as_the_paper_has_no_blanks_in_their_noise(bare: bool) -> None:
    """Pure magenta: green is black, and what red and blue show of it is noise about nothing."""
    y = np.linspace(30.0, 240.0, 1500)
    paper = np.full((len(y), 3), 0.9)
    ratio = np.stack([np.full(len(y), 0.97), np.zeros(len(y)), np.full(len(y), 0.965)], axis=1)
    if bare:
        ratio[(y > 100) & (y < 110)] = 1.0
    ratio += 0.01 * np.random.default_rng(5).standard_normal(ratio.shape)
    found = read_fade("M", Profile(y, paper * np.maximum(ratio, 0.0), paper, paper))
    assert found is not None
    assert found.kind == ("air" if bare else "none")
    if bare:
        assert found.blanks_mm[0] == pytest.approx((100.0, 110.0), abs=0.3)


def test_a_deep_ink_that_thins_to_a_third_of_the_light_is_not_bare() -> None:
    y = np.linspace(30.0, 240.0, 1500)
    paper = np.full((len(y), 3), 0.9)
    ratio = np.where((y > 100) & (y < 120), 0.3, 0.003)[:, None] * np.ones(3)
    found = read_fade("K", Profile(y, paper * ratio, paper, paper))
    assert found is not None
    assert found.blanks_mm == ()
