"""Where pixels draw a line to, by first principles: a picture of lines is averaged over pixels as files do it."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.pixelphase import without_pixel_phase

ROWS, PITCH_MM, PIXEL_MM = 360, 25.4 / 360, 25.4 / 300
FINE = 240  # samples a pixel


def row_px(pitch_px: float = PITCH_MM / PIXEL_MM) -> np.ndarray:
    return 7.3 + pitch_px * np.arange(ROWS)


def read_off(px: np.ndarray) -> np.ndarray:
    """Offset in mm of the centroid of a line 0.83 pixels wide at each of `px`, its chroma kept for pairs of pixels.

    Values are averaged over a pixel as sRGB encodes them (IEC 61966-2-1), and read as light. A pure magenta takes
    0.587 of its depth from luma, in its own pixel, and 0.413 from chroma (ITU-R BT.601), which is the pair's.
    """
    out = np.empty(len(px))
    for k, place in enumerate(px):
        first = 2 * int(place // 2) - 4
        fine = first - 0.5 + (np.arange(10 * FINE) + 0.5) / FINE
        own = (np.abs(fine - place) < 0.415).reshape(10, FINE).mean(axis=1)
        pair = np.repeat(own.reshape(5, 2).mean(axis=1), 2)
        encoded = 1.0 - (0.587 * own + 0.413 * pair)
        light = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
        out[k] = (((1 - light) * (first + np.arange(10))).sum() / (1 - light).sum() - place) * PIXEL_MM
    return out


def aim(seed: int = 0) -> np.ndarray:
    return 0.003 * np.random.default_rng(seed).standard_normal(ROWS)


def told(offset: np.ndarray, px: np.ndarray, crossed_px: float = 0.1) -> np.ndarray:
    pitch_mm = PIXEL_MM * float(px[1] - px[0])
    return without_pixel_phase(offset, np.ones(len(px), bool), px, crossed_px, pitch_mm)


def test_what_pixels_do_to_a_lines_place_is_taken_off() -> None:
    px, true = row_px(), aim()
    seen = true + read_off(px)
    assert np.std(seen) > 0.010
    assert np.std(told(seen, px) - true) < 0.25 * np.std(seen - true)


def test_rows_askew_keep_their_distance() -> None:
    px, true = row_px(), aim(1)
    true[[31, 120, 121, 240, 333]] += [0.05, -0.045, 0.06, 0.05, -0.08]
    found = told(true + read_off(px), px)
    assert np.flatnonzero(np.abs(found - np.median(found)) > 0.025).tolist() == [31, 120, 121, 240, 333]


@pytest.mark.parametrize("pitch_px", [0.5, 1.0, 0.25], ids=["600 at 300", "300 at 300", "600 at 150"])
def test_banks_that_stand_apart_are_the_heads_where_pixels_keep_its_step(pitch_px: float) -> None:
    px = row_px(pitch_px)
    banks = aim(2) + np.where(np.arange(ROWS) % 2, 0.02, -0.02)
    assert told(banks, px) == pytest.approx(banks, abs=0.004)


def test_what_is_no_matter_of_pixels_is_left_alone() -> None:
    px, true = row_px(), aim(3)
    assert np.array_equal(told(true, px), true)
    seen = true + read_off(px)
    assert np.array_equal(told(seen, px, crossed_px=1.5), seen)
    assert np.array_equal(without_pixel_phase(seen, np.ones(ROWS, bool), None, 0.1, PITCH_MM), seen)


def test_more_than_pixels_can_do_is_not_laid_to_them() -> None:
    px = row_px()
    thrown = aim(4) + 0.09 * np.cos(2 * np.pi * px)
    assert np.array_equal(told(thrown, px), thrown)
