"""Even areas painted at a known lightness: scikit-image turns L* into light, the reader must give it back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from skimage.color import lab2xyz

from printcheck.measure.patches import read_box, read_patch


def light_of(lightness: float) -> float:
    return float(lab2xyz([[[lightness, 0, 0]]])[0, 0, 1])


@pytest.mark.parametrize("lightness", [15.0, 45.0, 80.0, 97.0])
def test_a_solid_reads_its_light_relative_to_the_paper(drawn, lightness: float) -> None:
    sheet = drawn()
    patch = sheet.layout.patches_of("solid", "K")[0]
    sheet.paint_patch(patch, lightness)
    found = read_patch(sheet.pixels(noise=0.01), sheet.registration, patch)
    assert found is not None
    assert found.ratio == pytest.approx(np.full(3, light_of(lightness)), abs=0.004)
    assert found.paper == pytest.approx(np.full(3, 0.85), abs=0.004)
    # 8-bit rounding of one even grey stays, up to half a step
    assert (np.abs(found.light - 0.85 * light_of(lightness)) < 4 * found.light_sd + 0.004).all()


def test_light_that_falls_down_the_page_is_no_matter(drawn) -> None:
    sheet = drawn()
    patch = sheet.layout.patches_of("solid", "K")[0]
    sheet.paint_patch(patch, 40.0)
    found = read_patch(sheet.pixels(shade=lambda y: 1 - 0.3 * y / 297), sheet.registration, patch)
    assert found is not None
    # the paper is beside the patch, up to 1.5 cm from its middle: 2 % of light
    assert found.ratio == pytest.approx(np.full(3, light_of(40.0)), rel=0.03)


def test_a_shadow_that_ends_at_the_patch_falls_on_the_paper_along_it_too(drawn) -> None:
    sheet = drawn()
    patch = sheet.layout.patches_of("solid", "K")[0]
    sheet.paint_patch(patch, 60.0)
    pixels = sheet.pixels(shade=lambda y: np.where(y < patch.box.y0 - 0.2, 1.0, 0.6))
    found = read_patch(pixels, sheet.registration, patch)
    assert found is not None
    assert found.ratio == pytest.approx(np.full(3, light_of(60.0)), rel=0.02)


def test_specks_and_a_few_dead_rows_hardly_move_it(drawn) -> None:
    sheet = drawn()
    patch = sheet.layout.patches_of("solid", "K")[0]
    sheet.paint_patch(patch, 30.0)
    clean = read_patch(sheet.pixels(), sheet.registration, patch)
    rng = np.random.default_rng(4)
    s = sheet.registration.px_per_mm_y
    for _ in range(12):
        x, y = round(rng.uniform(patch.box.x0, patch.box.x1) * s), round(rng.uniform(patch.box.y0, patch.box.y1) * s)
        sheet.light[y - 5 : y + 6, x - 5 : x + 6] = 0.9
    specked = read_patch(sheet.pixels(), sheet.registration, patch)
    assert clean is not None
    assert specked is not None
    assert specked.ratio == pytest.approx(clean.ratio, abs=0.002)


def test_what_touches_the_edge_is_kept_out(drawn) -> None:
    """Registration may be off by 0.2 mm and ink spreads: a dark rim round the patch isn't read."""
    sheet = drawn()
    patch = sheet.layout.patches_of("solid", "K")[0]
    sheet.paint(patch.box.inset(-0.4), 5.0)
    sheet.paint(patch.box.inset(0.5), 50.0)
    found = read_patch(sheet.pixels(), sheet.registration, patch)
    assert found is not None
    assert found.ratio == pytest.approx(np.full(3, light_of(50.0)), abs=0.004)


def test_channels_come_in_the_order_red_green_blue(drawn) -> None:
    sheet = drawn()
    patch = sheet.layout.patches_of("solid", "K")[0]
    picture = sheet.pixels().copy()
    s = sheet.registration.px_per_mm_y
    x0, x1, y0, y1 = (round(v * s) for v in (patch.box.x0, patch.box.x1, patch.box.y0, patch.box.y1))
    picture[y0:y1, x0:x1] = (30, 110, 220)  # OpenCV's blue, green, red
    found = read_patch(picture, sheet.registration, patch)
    assert found is not None
    assert found.light[0] > found.light[1] > found.light[2]
    grey = read_patch(picture[..., 1].copy(), sheet.registration, patch)
    assert grey is not None
    assert grey.light[0] == grey.light[1] == grey.light[2] == pytest.approx(found.light[1], abs=1e-6)


def test_the_stated_deviation_covers_the_error(drawn) -> None:
    """Grain a scanner sees on plain paper; the error from one capture to the next is the one stated."""
    sheet = drawn(dots_per_inch=150)
    patch = sheet.layout.patches_of("solid", "K")[0]
    sheet.paint_patch(patch, 60.0)
    readings = [
        read_box(sheet.pixels(noise=0.03, seed=seed), sheet.registration, patch.box.inset(0.8)) for seed in range(16)
    ]
    means = np.array([r[0][0] for r in readings if r is not None])
    stated = np.mean([r[1][0] for r in readings if r is not None])
    assert len(means) == 16
    assert 0.6 < means.std(ddof=1) / stated < 1.5  # chi of 15 degrees: 0.65 to 1.38 in 95 of 100
    assert means.mean() == pytest.approx(0.85 * light_of(60.0), abs=0.004)


@pytest.mark.parametrize("dots_per_inch", [300, 600])
def test_a_halftone_reads_its_mean_light(drawn, dots_per_inch: int) -> None:
    """Light of a tint is the mean of its dots' and its paper's (A. Murray, J. Franklin Inst. 221, 1936)."""
    sheet = drawn(dots_per_inch=dots_per_inch)
    patch = sheet.layout.patches_of("solid", "K")[0]
    sheet.paint_patch(patch, 25.0)
    s = sheet.registration.px_per_mm_y
    x0, x1, y0, y1 = (round(v * s) for v in (patch.box.x0, patch.box.x1, patch.box.y0, patch.box.y1))
    sheet.light[y0:y1:2, x0:x1:2] = 1.0
    sheet.light[y0 + 1 : y1 : 2, x0 + 1 : x1 : 2] = 1.0
    found = read_patch(sheet.pixels(), sheet.registration, patch)
    assert found is not None
    assert found.ratio == pytest.approx(np.full(3, (light_of(25.0) + 1) / 2), abs=0.01)


def test_outside_the_picture_there_is_no_reading(drawn) -> None:
    sheet = drawn()
    patch = sheet.layout.patches_of("solid", "K")[0]
    s = sheet.registration.px_per_mm_y
    middle = round(patch.box.centre[1] * s)
    assert read_patch(sheet.pixels()[:middle], sheet.registration, patch) is None
    away = sheet.registration.homography + np.array([[0, 0, 9e4], [0, 0, 0], [0, 0, 0]])
    moved = replace(sheet.registration, homography=away)
    assert read_patch(sheet.pixels(), moved, patch) is None
