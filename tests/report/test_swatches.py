"""Swatches: their colours against published sRGB values, what stands beside them, where they are drawn."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.result import SolidReading
from printcheck.report.canvas import Canvas
from printcheck.report.swatches import draw_swatches, rgb_of, swatch_lines

LAB, AIM = (60.0, -25.0, -40.0), (55.0, -30.0, -48.0)


@pytest.mark.parametrize(
    ("lab", "rgb"),
    # CIELAB D50 (Bradford) of sRGB's corners and of half grey, from memory
    [((100.0, 0.0, 0.0), (255, 255, 255)), ((0.0, 0.0, 0.0), (0, 0, 0)), ((53.585, 0.0, 0.0), (128, 128, 128)),
     ((54.29, 80.81, 69.89), (255, 0, 0)), ((87.82, -79.29, 80.99), (0, 255, 0)),
     ((29.57, 68.30, -112.03), (0, 0, 255))],
)  # fmt: skip
def test_swatches_show_the_colour(lab: tuple[float, float, float], rgb: tuple[int, int, int]) -> None:
    assert np.abs(np.array(rgb_of(lab)) - rgb).max() <= 3


def test_a_colour_outside_srgb_is_cut_not_wrapped() -> None:
    assert rgb_of((60.0, -60.0, -60.0))[0] == 0
    assert max(rgb_of((130.0, 0.0, 0.0))) == 255


def drawn(solid: SolidReading) -> tuple[np.ndarray, float]:
    canvas = Canvas(800, 120, (255, 255, 255))
    end = draw_swatches(canvas, solid, 10, 10, 790, 10.0)
    return canvas.finish(), end


def test_measured_and_reference_touch_and_the_number_stands_beside() -> None:
    solid = SolidReading("C", 0.9, LAB, (1, 1, 1), "house front", AIM, 5.2, (4.1, 6.3))
    assert swatch_lines(solid) == ("measured L* 60  a* -25  b* -40", "5.2 deltaE00 (4.1 to 6.3) from house front")
    picture, end = drawn(solid)
    assert np.abs(picture[40, 60].astype(int) - rgb_of(LAB)).max() <= 2
    assert np.abs(picture[40, 150].astype(int) - rgb_of(AIM)).max() <= 2
    assert end > 70
    assert (picture[20:70, 220:] < 200).any()  # words


def test_no_difference_shows_no_reference() -> None:
    solid = SolidReading("C", 0.9, LAB, (1, 1, 1), "house front", AIM)
    assert swatch_lines(solid)[1] == "not comparable with house front"
    picture, _ = drawn(solid)
    assert (picture[40, 105:115] == 255).all()


def test_without_colour_nothing_is_drawn() -> None:
    picture, end = drawn(SolidReading("C", 0.9, None, None))
    assert end == 10
    assert (picture == 255).all()
