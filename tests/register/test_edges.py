"""Even areas tell how the paper was fed where no ladder is near; the feed here is a closed form put in by OpenCV."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_pages import bent, drawn_page, page_grid, rms_mm

from printcheck.register.edges import area_middles
from printcheck.register.sheet import register_sheet

PX_PER_MM = 300 / 25.4


@pytest.fixture(scope="module")
def drawn():
    return drawn_page(300)


def _wobbling(drawn, depth_mm: float, period_mm: float):
    """The page fed with a wobble of `depth_mm` every `period_mm`, and where its points then lie."""
    size = (round(drawn.layout.width_mm * PX_PER_MM), round(drawn.layout.height_mm * PX_PER_MM))

    def back(u, v):
        x, y = (u + 0.5) / PX_PER_MM, (v + 0.5) / PX_PER_MM
        return x, y + depth_mm * np.sin(2 * np.pi * y / period_mm)

    grid = page_grid(drawn.layout)
    y = grid[:, 1].copy()
    for _ in range(20):  # the inverse of a small displacement, by iteration
        y = grid[:, 1] - depth_mm * np.sin(2 * np.pi * y / period_mm)
    return bent(drawn, back, size), np.stack([grid[:, 0], y], axis=1) * PX_PER_MM - 0.5


def test_a_wobble_below_the_ladders_is_followed(drawn) -> None:
    picture, true = _wobbling(drawn, 0.08, 60.0)
    found = register_sheet(picture)
    grid = page_grid(drawn.layout)
    lowest = max(ladder.box.y1 for ladder in drawn.layout.ladders)
    below = (grid[:, 1] > lowest + 5) & (grid[:, 1] < lowest + 45)
    assert rms_mm(found.to_px(grid[below]), true[below], PX_PER_MM) < 0.03


def test_areas_lie_where_they_were_drawn(drawn) -> None:
    picture, _ = _wobbling(drawn, 0.0, 60.0)
    readings = area_middles(picture, register_sheet(picture), np.zeros(0))
    assert len(readings) > 12
    assert np.abs(readings[:, 2]).max() < 0.02


def test_areas_beside_a_ladder_are_passed_over(drawn) -> None:
    picture, _ = _wobbling(drawn, 0.0, 60.0)
    found = register_sheet(picture)
    everywhere = np.arange(0.0, drawn.layout.height_mm, 5.0)
    assert len(area_middles(picture, found, everywhere)) == 0
