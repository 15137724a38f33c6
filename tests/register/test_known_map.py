"""Registration against maps that are known exactly: matrices and closed forms applied by OpenCV to a drawn sheet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from drawn_pages import bent, drawn_page, map_points, page_grid, placed, rms_mm, similarity

from printcheck.register.sheet import register_sheet

FLAT_MM = 0.05  # over the whole page, not only at the marks
BENT_MM = 0.10
WARP_MM = 0.02  # with 300 dots/inch and no bend there is nothing to excuse more


@pytest.mark.parametrize("dots_per_inch", [150, 300])
@pytest.mark.parametrize("degrees", [90.7, 180.0, -89.2, 17.0])
def test_a_flat_sheet_lies_where_the_map_put_it(dots_per_inch: int, degrees: float) -> None:
    drawn = drawn_page(dots_per_inch)
    to_px, size = similarity(dots_per_inch, degrees, drawn.layout)
    found = register_sheet(placed(drawn, to_px, size))
    grid = page_grid(drawn.layout)
    assert found.marks_found == len(drawn.layout.marks)
    assert found.ticket == "T-1"
    assert replace(found.layout, texts=()) == replace(drawn.layout, texts=())  # the code carries no title
    off = rms_mm(found.to_px(grid), map_points(to_px, grid), dots_per_inch / 25.4)
    assert off < (FLAT_MM if dots_per_inch < 300 else WARP_MM)
    assert found.rotation_deg == pytest.approx(degrees, abs=0.02) or abs(degrees) == 180.0
    assert found.px_per_mm_x == pytest.approx(dots_per_inch / 25.4, rel=5e-4)
    assert found.px_per_mm_y == pytest.approx(dots_per_inch / 25.4, rel=5e-4)


def test_600_dots_an_inch_at_any_angle() -> None:
    drawn = drawn_page(600, "mono-416")
    to_px, size = similarity(600, -11.0, drawn.layout)
    found = register_sheet(placed(drawn, to_px, size))
    grid = page_grid(drawn.layout)
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), 600 / 25.4) < WARP_MM


def test_a_letter_sheet_upside_down_with_unequal_scales() -> None:
    drawn = drawn_page(300, "tri-192", "Letter", "L-9")
    s = 300 / 25.4
    width, height = round(drawn.layout.width_mm * s * 1.01), round(drawn.layout.height_mm * s * 0.992)
    to_px = np.array([[-s * 1.01, 0, width], [0, -s * 0.992, height], [0, 0, 1.0]])
    found = register_sheet(placed(drawn, to_px, (width, height)))
    grid = page_grid(drawn.layout)
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), s) < FLAT_MM
    assert found.px_per_mm_x / found.px_per_mm_y == pytest.approx(1.01 / 0.992, rel=1e-3)
    assert abs(found.rotation_deg) == pytest.approx(180.0, abs=0.02)


def test_a_sheet_seen_aslant() -> None:
    """About 20 degrees of tilt at two page heights' distance, turned a little."""
    drawn = drawn_page(200)
    to_px, _ = similarity(190, 6.0, drawn.layout)
    slant = np.array([[1, 0.02, 0], [0.0, 1.0, 0], [4e-5, 8e-5, 1.0]])
    to_px = slant @ to_px
    found = register_sheet(placed(drawn, to_px, (1900, 2300)))
    grid = page_grid(drawn.layout)
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), 190 / 25.4) < FLAT_MM
    assert found.perspective > 0.15


@pytest.mark.parametrize(
    ("radial", "bend_mm"),
    [(0.02, 0.0), (-0.02, 0.0), (0.0, 1.0), (0.015, 0.8), (0.1, 0.0), (0.2, 0.0), (0.2, 0.8)],
    ids=["barrel", "pincushion", "bend", "both", "wide", "widest", "widest and bend"],
)
def test_a_bent_lens_and_bent_paper(radial: float, bend_mm: float) -> None:
    """Radial distortion by `radial` of the radius at the corner, and paper that is pushed aside by up to `bend_mm`.

    The map is closed in one direction, pixel to page, so points are taken in the picture.
    """
    drawn = drawn_page(200)
    to_px, size = similarity(200, 2.0, drawn.layout)
    to_mm = np.linalg.inv(to_px)
    centre = (np.array(size) - 1) / 2
    half = np.hypot(*centre)
    layout = drawn.layout

    def inverse(u, v):
        x, y = (u - centre[0]) / half, (v - centre[1]) / half
        grow = half * (1 + radial * (x**2 + y**2))
        flat = np.stack([centre[0] + x * grow, centre[1] + y * grow], axis=-1)
        mm = map_points(to_mm, flat.reshape(-1, 2)).reshape(flat.shape)
        a, b = mm[..., 0] / layout.width_mm, mm[..., 1] / layout.height_mm
        bulge = bend_mm * np.sin(np.pi * b) * (0.6 + 0.4 * a)
        return mm[..., 0] + 0.5 * bulge * np.cos(np.pi * a), mm[..., 1] + bulge

    found = register_sheet(bent(drawn, inverse, size))
    u, v = np.meshgrid(np.linspace(40, size[0] - 40, 17), np.linspace(40, size[1] - 40, 23))
    x, y = inverse(u.ravel(), v.ravel())
    on = (x > 13) & (x < layout.width_mm - 13) & (y > 13) & (y < layout.height_mm - 13)
    assert on.sum() > 200
    points = np.stack([x[on], y[on]], axis=1)
    seen = np.stack([u.ravel()[on], v.ravel()[on]], axis=1)
    assert rms_mm(found.to_px(points), seen, 200 / 25.4) < BENT_MM
    # a plane alone would be far off: the test bends enough to tell
    assert rms_mm(map_points(found.homography, points), seen, 200 / 25.4) > 1.5 * BENT_MM


def test_the_error_it_states_is_the_error_it_makes() -> None:
    """`rms_mm` of a sheet whose marks are pushed about at random must say so."""
    drawn = drawn_page(150)
    to_px, size = similarity(150, 0.0, drawn.layout)
    rng = np.random.default_rng(3)
    picture = placed(drawn, to_px, size).copy()
    s = 150 / 25.4
    for mark in drawn.layout.marks:
        (x0, y0), _, (x1, y1), _ = (map_points(to_px, np.array([c]))[0] for c in mark.box.corners)
        left, top, right, bottom = (round(v) for v in (x0 - 5, y0 - 5, x1 + 5, y1 + 5))
        dx, dy = rng.integers(-2, 3, 2)
        tile = picture[top:bottom, left:right].copy()
        picture[top + dy : bottom + dy, left + dx : right + dx] = tile
    pushed = np.sqrt(2 * 2.0) / s  # a uniform push by -2 to 2 pixels has variance 2 in each direction
    # the field follows some of it: 14 marks are not many for its terms
    assert register_sheet(picture).rms_mm > 0.3 * pushed
    assert register_sheet(placed(drawn, to_px, size)).rms_mm < 0.01


@pytest.mark.parametrize("drawn_in_mm", [2.0, 3.5])
def test_a_sheet_whose_right_half_bows_up_keeps_its_corner_squares(drawn_in_mm: float) -> None:
    """A quadratic draws the right edge in, as a sheet does that rises from the table: marks there are narrower."""
    drawn = drawn_page(200)
    s = 200 / 25.4
    middle, half = drawn.layout.width_mm / 2, drawn.layout.width_mm / 2
    width, height = round(drawn.layout.width_mm * s) + 40, round(drawn.layout.height_mm * s) + 40

    def inverse(u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        x, y = (u - 20) / s, (v - 20) / s
        seen = np.clip((x - middle) / half, 0, None)
        # seen = right - a right^2, solved for where on the sheet that is
        a = drawn_in_mm / half
        right = (1 - np.sqrt(np.maximum(1 - 4 * a * seen, 0))) / (2 * a)
        return np.where(x > middle, middle + right * half, x), y

    found = register_sheet(bent(drawn, inverse, (width, height)))
    grid = page_grid(drawn.layout)
    right = np.clip((grid[:, 0] - middle) / half, 0, None)
    true = np.stack([grid[:, 0] - drawn_in_mm * right**2, grid[:, 1]], axis=1) * s + 20
    assert found.marks_found == len(drawn.layout.marks)
    assert found.warnings == ()
    assert rms_mm(found.to_px(grid), true, s) < 2 * BENT_MM
