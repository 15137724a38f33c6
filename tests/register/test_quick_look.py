"""The first look, at half of an already reduced image: what it shows lies where it is, and it never decides alone."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawn_pages import drawn_page, map_points, page_grid, placed, rms_mm, similarity

from printcheck.errors import RescanError
from printcheck.pattern.marks import SHEET_MARKS
from printcheck.register import sheet
from printcheck.register.alignment import align_marks
from printcheck.register.fit import PageFit
from printcheck.register.locate import Reduction, reductions, see_halved

DPI = 300


def test_marks_seen_on_half_lie_where_they_were_drawn() -> None:
    drawn = drawn_page(DPI, "mono-416")
    to_px, size = similarity(DPI, 4.0, drawn.layout)
    reduction = next(reductions(placed(drawn, to_px, size)))
    sighting = see_halved(reduction)
    ideal = {mark.number: np.array(mark.box.corners) for mark in drawn.layout.marks}
    seen = [mark for mark in sighting.marks if mark.number in SHEET_MARKS]
    assert len(seen) >= 12
    for mark in seen:
        off = mark.corners - map_points(to_px, ideal[mark.number])
        assert np.abs(off).max() < 3.0 * reduction.factor  # a pixel and a half of the half


def test_with_codes_or_marks_gone_the_whole_reduction_is_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = drawn_page(DPI, "mono-416")
    to_px, size = similarity(DPI, -2.0, drawn.layout)
    grid = page_grid(drawn.layout)
    looks: list[bool] = []
    quick = sheet._quick_look

    def noted(reduction: Reduction) -> object:
        found = quick(reduction)
        looks.append(found is not None)
        return found

    monkeypatch.setattr(sheet, "_quick_look", noted)
    whole = placed(drawn, to_px, size)
    covered = whole.copy()
    for mark in drawn.layout.marks[:4]:
        corners = np.asarray(map_points(to_px, np.array(mark.box.corners))).astype(int)
        cv2.rectangle(covered, corners.min(axis=0).tolist(), corners.max(axis=0).tolist(), (250, 250, 250), -1)
    for picture in (whole, covered):
        found = sheet.register_sheet(picture)
        assert rms_mm(found.to_px(grid), map_points(to_px, grid), DPI / 25.4) < 0.03
    assert looks == [True, False]


@pytest.mark.parametrize("shape", [(1, 4000), (9000, 2), (3, 20_000), (25, 6000), (60, 30_000)])
def test_a_sliver_is_refused_and_no_error(shape: tuple[int, int]) -> None:
    with pytest.raises(RescanError):
        sheet.register_sheet(np.full(shape, 200, np.uint8))


def test_a_mark_is_aligned_wherever_its_first_corners_lie() -> None:
    drawn = drawn_page(DPI, "mono-416")
    to_px, size = similarity(DPI, 3.0, drawn.layout)
    picture = placed(drawn, to_px, size)
    ideal = {mark.number: np.array(mark.box.corners) for mark in drawn.layout.marks}
    exact = {number: np.asarray(map_points(to_px, corners)) for number, corners in ideal.items()}
    rng = np.random.default_rng(4)
    page = drawn.layout.page
    both = (np.concatenate(list(corners.values())) for corners in (ideal, exact))
    plane = np.asarray(cv2.findHomography(*both)[0], np.float64)
    for number, corners in exact.items():
        rough = {number: corners + rng.normal(0.0, 1.0, (4, 2))}  # as a detector at a quarter of the size gives them
        found = align_marks(picture, drawn.layout, PageFit(page, plane, rough)).corners[number]
        assert np.abs(found - corners).max() < 0.1
