"""Drawn sheets put into a picture by a map that is known exactly: the truth of registration.

No simulator takes part: the sheet is `compose_rgb`, the maps are matrices and closed forms, and OpenCV resamples.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.pages import page_named
from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import Sheet, make_sheet

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]

PAPER, INK = 232.0, 38.0  # encoded values of plain paper and of a full ink


@dataclass(frozen=True)
class Drawn:
    """A drawn page, BGR at `dots_per_inch`; `to_px` is the map page mm -> its pixels."""

    sheet: Sheet
    pixels: Pixels
    dots_per_inch: int

    @property
    def layout(self) -> Layout:
        return self.sheet.layout

    @property
    def to_px(self) -> Floats:
        s = self.dots_per_inch / 25.4
        return np.array([[s, 0, -0.5], [0, s, -0.5], [0, 0, 1]])


@lru_cache(maxsize=4)
def _composed(head: str, page: str, ticket: str) -> tuple[Sheet, Pixels]:
    sheet = make_sheet(build_layout(load_head(head), page_named(page)), ticket)
    return sheet, compose_rgb(sheet)


@lru_cache(maxsize=6)
def drawn_page(dots_per_inch: int = 300, head: str = "tri-100", page: str = "A4", ticket: str = "T-1") -> Drawn:
    """`dots_per_inch` divides the head's raster, so that a pixel is a whole number of dots."""
    sheet, rgb = _composed(head, page, ticket)
    factor = sheet.layout.raster // dots_per_inch
    assert factor * dots_per_inch == sheet.layout.raster
    height, width = (side // factor for side in rgb.shape[:2])
    whole = rgb[: height * factor, : width * factor]
    small = cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA) if factor > 1 else whole
    table = np.rint(INK + (PAPER - INK) * np.arange(256) / 255).astype(np.uint8)
    pixels = cv2.LUT(np.ascontiguousarray(small[..., ::-1]), table)
    pixels.flags.writeable = False
    return Drawn(sheet, pixels, dots_per_inch)


def map_points(matrix: Floats, points: Floats) -> Floats:
    """Homography of (N, 2) points, by OpenCV: not the reader's own arithmetic."""
    return np.asarray(cv2.perspectiveTransform(points[None], matrix)[0], np.float64)


def page_grid(layout: Layout) -> Floats:
    """Points all over the part of the page that holds something, (N, 2) mm."""
    x, y = np.meshgrid(np.linspace(13, layout.width_mm - 13, 15), np.linspace(13, layout.height_mm - 13, 21))
    return np.stack([x.ravel(), y.ravel()], axis=1)


def placed(drawn: Drawn, to_px: Floats, size: tuple[int, int], noise: float = 2.0, beyond: int = 150) -> Pixels:
    """Picture of `size` (width, height) in which page mm are found at `to_px`, with a little noise."""
    warp = to_px @ np.linalg.inv(drawn.to_px)
    out = cv2.warpPerspective(drawn.pixels, warp, size, flags=cv2.INTER_LINEAR, borderValue=(beyond,) * 3)
    return noisy(out, noise)


def bent(
    drawn: Drawn,
    inverse: Callable[[Floats, Floats], tuple[Floats, Floats]],
    size: tuple[int, int],
    noise: float = 2.0,
) -> Pixels:
    """Picture whose pixel (u, v) shows page point ``inverse(u, v)`` in mm."""
    u, v = np.meshgrid(np.arange(size[0], dtype=np.float64), np.arange(size[1], dtype=np.float64))
    x, y = inverse(u, v)
    s = drawn.dots_per_inch / 25.4
    maps = (x * s - 0.5).astype(np.float32), (y * s - 0.5).astype(np.float32)
    return noisy(cv2.remap(drawn.pixels, *maps, cv2.INTER_LINEAR, borderValue=(150,) * 3), noise)


def noisy(pixels: Pixels, noise: float, seed: int = 5) -> Pixels:
    """Soften by a third of a pixel, as every capture does, and add Gaussian noise of `noise` values."""
    grain = np.random.default_rng(seed).standard_normal((512, 512, pixels.shape[2])) * noise
    tiles = [-(-pixels.shape[0] // 512), -(-pixels.shape[1] // 512), 1]
    whole = np.tile(np.rint(grain).astype(np.int16), tiles)[: pixels.shape[0], : pixels.shape[1]]
    return np.asarray(cv2.add(cv2.GaussianBlur(pixels, (0, 0), 0.6), whole, dtype=cv2.CV_8U), np.uint8)


def rms_mm(found: Floats, true: Floats, px_per_mm: float) -> float:
    return float(np.sqrt(np.mean(np.sum((found - true) ** 2, axis=1)))) / px_per_mm


def similarity(dots_per_inch: float, degrees: float, layout: Layout) -> tuple[Floats, tuple[int, int]]:
    """Map page mm -> picture: scale, turn, and the picture just large enough to hold the page with a border."""
    s = dots_per_inch / 25.4
    c, n = np.cos(np.radians(degrees)) * s, np.sin(np.radians(degrees)) * s
    turn = np.array([[c, -n, 0], [n, c, 0], [0, 0, 1.0]])
    w, h = layout.width_mm, layout.height_mm
    corners = map_points(turn, np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float64))
    border = 3.3 * s
    turn[:2, 2] = border - corners.min(axis=0)
    width, height = np.ceil(np.ptp(corners, axis=0) + 2 * border).astype(int)
    return turn, (int(width), int(height))
