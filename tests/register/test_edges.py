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


def test_a_wobble_below_the_ladders_is_followed_at_short_areas_and_not_made_worse_at_tall_ones(drawn) -> None:
    """The middle between the edges of a solid taller than a roller's half turn moves otherwise than the solid's."""
    picture, true = _wobbling(drawn, 0.08, 60.0)
    found = register_sheet(picture)
    grid = page_grid(drawn.layout)

    def off(kind: str) -> float:
        boxes = [patch.box for patch in drawn.layout.patches if patch.kind == kind]
        beside = (grid[:, 1] > min(box.y0 for box in boxes)) & (grid[:, 1] < max(box.y1 for box in boxes))
        return rms_mm(found.to_px(grid[beside]), true[beside], PX_PER_MM)

    assert off("wedge") < 0.03
    assert off("solid") < 0.08 / np.sqrt(2)


def test_areas_lie_where_they_were_drawn(drawn) -> None:
    picture, _ = _wobbling(drawn, 0.0, 60.0)
    readings = area_middles(picture, register_sheet(picture), np.zeros(0))
    assert len(readings) > 8
    assert np.abs(readings[:, 2]).max() < 0.02


def test_areas_beside_a_ladder_are_passed_over(drawn) -> None:
    picture, _ = _wobbling(drawn, 0.0, 60.0)
    found = register_sheet(picture)
    everywhere = np.arange(0.0, drawn.layout.height_mm, 5.0)
    assert len(area_middles(picture, found, everywhere)) == 0
