"""Marks and codes that are half printed, covered or cut off, and what the picture is made of."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from drawn_pages import PAPER, Drawn, drawn_page, map_points, page_grid, placed, rms_mm, similarity

from printcheck.errors import RescanError
from printcheck.register.sheet import register_sheet

DPI = 200
S = DPI / 25.4


def seen(drawn: Drawn, degrees: float = 0.3):
    to_px, size = similarity(DPI, degrees, drawn.layout)
    return to_px, placed(drawn, to_px, size)


def cover(picture, to_px, boxes, value=150, grow_mm=4.0) -> None:
    for box in boxes:
        quad = map_points(to_px, np.array(box.inset(-grow_mm).corners))
        cv2.fillConvexPoly(picture, np.rint(quad).astype(np.int32), (value,) * 3)


def without_rows(drawn: Drawn, dead: np.ndarray, rows_per_inch: int) -> Drawn:
    """The page as printed in one pass by a head with `dead` (rows,) nozzles: bare lines at every swath."""
    pixels = drawn.pixels.copy()
    y = (np.arange(pixels.shape[0]) * rows_per_inch // drawn.dots_per_inch) % len(dead)
    pixels[dead[y]] = PAPER
    return Drawn(drawn.sheet, pixels, drawn.dots_per_inch)


ROWS = 416


def scattered() -> np.ndarray:
    out = np.zeros(ROWS, bool)
    out[np.random.default_rng(11).choice(ROWS, ROWS // 5, replace=False)] = True
    return out


def run(start: int) -> np.ndarray:
    out = np.zeros(ROWS, bool)
    out[start : start + ROWS // 5] = True
    return out


@pytest.mark.parametrize("dead", [scattered(), run(40), run(260)], ids=["scattered", "run-40", "run-260"])
def test_a_fifth_of_the_rows_dead_leaves_marks_and_code(dead: np.ndarray) -> None:
    """Printed at 600 rows/inch and scanned at 200: a dead row greys a pixel, a run is a bare band of 3.5 mm."""
    drawn = drawn_page(600, "mono-416")
    damaged = without_rows(drawn, dead, 600).pixels
    factor = 600 // DPI
    height, width = (side // factor for side in damaged.shape[:2])
    whole = damaged[: height * factor, : width * factor]
    small = Drawn(drawn.sheet, cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA), DPI)
    to_px, picture = seen(small)
    found = register_sheet(picture)
    assert found.ticket == "T-1"
    assert replace(found.layout, texts=()) == replace(drawn.layout, texts=())  # the code carries no title
    grid = page_grid(drawn.layout)
    # a fifth of the distance of dashes in a column: none is taken for its neighbour
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), S) < 0.1


@pytest.mark.parametrize("top_mm", [14.0, 140.0, 262.0], ids=["over the upper code", "middle", "over the lower code"])
def test_a_bare_band_of_a_whole_head_height(top_mm: float) -> None:
    drawn = drawn_page(DPI, "mono-416")
    pixels = drawn.pixels.copy()
    pixels[round(top_mm * S) : round((top_mm + ROWS * 25.4 / 600) * S)] = PAPER
    to_px, picture = seen(Drawn(drawn.sheet, pixels, DPI))
    found = register_sheet(picture)
    grid = page_grid(drawn.layout)
    assert found.ticket == "T-1"
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), S) < 0.05


def test_four_marks_suffice_and_three_do_not() -> None:
    drawn = drawn_page(DPI)
    to_px, whole = seen(drawn)
    marks = drawn.layout.marks
    kept = (0, 3, 8, 11)  # left and right, upper and lower: no three in a line
    picture = whole.copy()
    cover(picture, to_px, [m.box for k, m in enumerate(marks) if k not in kept])
    found = register_sheet(picture)
    assert found.marks_found == 4
    grid = page_grid(drawn.layout)
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), S) < 0.1
    for fourth in kept:
        less = picture.copy()
        cover(less, to_px, [marks[fourth].box])
        with pytest.raises(RescanError) as refusal:
            register_sheet(less)
        assert refusal.value.measure == "marks"
        assert refusal.value.value is not None
        assert refusal.value.value <= 3


def test_a_sheet_cropped_to_its_upper_half_is_still_registered() -> None:
    drawn = drawn_page(DPI)
    to_px, whole = seen(drawn)
    found = register_sheet(np.ascontiguousarray(whole[: whole.shape[0] * 6 // 10]))
    grid = page_grid(drawn.layout)
    grid = grid[grid[:, 1] < 0.55 * drawn.layout.height_mm]
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), S) < 0.05


@pytest.mark.parametrize("which", [0, 5, 10, 12])
def test_a_thumb_over_a_mark_does_not_move_the_rest(which: int) -> None:
    drawn = drawn_page(DPI)
    to_px, picture = seen(drawn)
    x, y = map_points(to_px, np.array([drawn.layout.marks[which].box.centre]))[0]
    axes = round(9 * S), round(13 * S)
    cv2.ellipse(picture, (round(x + S), round(y - S)), axes, 20, 0, 360, (130, 160, 205), -1)
    found = register_sheet(picture)
    grid = page_grid(drawn.layout)
    assert found.marks_found == 13
    assert any("covered" in text for text in found.warnings)
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), S) < 0.05


def test_one_code_covered_is_no_matter_and_both_are_told() -> None:
    drawn = drawn_page(DPI)
    to_px, picture = seen(drawn)
    for code in drawn.layout.codes:
        one = picture.copy()
        cover(one, to_px, [code.box])
        assert register_sheet(one).ticket == "T-1"
    cover(picture, to_px, [code.box for code in drawn.layout.codes])
    with pytest.raises(RescanError, match="codes") as refusal:
        register_sheet(picture)
    assert refusal.value.measure == "code"


def test_a_small_sheet_in_a_large_picture() -> None:
    drawn = drawn_page(150)
    to_px, _ = similarity(150, 31.0, drawn.layout)
    to_px = np.array([[1, 0, 2700], [0, 1, 900], [0, 0, 1.0]]) @ to_px
    picture = placed(drawn, to_px, (5600, 4200), beyond=70)
    found = register_sheet(picture)
    grid = page_grid(drawn.layout)
    assert found.ticket == "T-1"
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), 150 / 25.4) < 0.05


def test_grey_and_16_bit_pictures_register_alike() -> None:
    drawn = drawn_page(DPI, "mono-416")
    to_px, picture = seen(drawn)
    grid = page_grid(drawn.layout)
    true = map_points(to_px, grid)
    deep = picture.astype(np.uint16) * 257
    for pixels in (picture[..., 1].copy(), deep, deep[..., 1].copy()):
        assert rms_mm(register_sheet(pixels).to_px(grid), true, S) < 0.02


def test_the_pixels_are_left_as_they_were() -> None:
    _, picture = seen(drawn_page(DPI))
    picture.flags.writeable = False
    before = picture.copy()
    register_sheet(picture)
    assert np.array_equal(picture, before)
