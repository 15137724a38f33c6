"""Where a point of the ideal page lies in the captured image, exactly: the truth a registration is held against.

A point passes four frames, all in mm with y down: the ideal *page*; the *print* raster (the driver may have scaled
the page about its centre); the *paper* (feeding stretches and wobbles along the page); the scanner *bed*, or the
camera's view. Pixel centres are integers, as everywhere.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["Feed", "Mapping", "ScanMapping", "turned"]

Floats = NDArray[np.float64]


class Mapping(Protocol):
    """What every capture's geometry can answer."""

    def page_to_px(self, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
        """Pixel coordinates of points of the ideal page."""
        ...

    def to_json(self) -> dict[str, Any]:
        """Parameters, for the record."""
        ...


@dataclass(frozen=True, slots=True)
class Feed:
    """Page to paper: driver scaling about the centre of the page, then how the printer moved the paper.

    Attributes
    ----------
    width_mm, height_mm : float
        Of the page.
    scale : float
        Of the driver: 1 as it should be.
    stretch : float
        Of the paper feed: 1.001 prints 0.1 % too long.
    wave_mm, wave_period_mm, wave_phase : float
        Feed roller out of round.
    """

    width_mm: float
    height_mm: float
    scale: float = 1.0
    stretch: float = 1.0
    wave_mm: float = 0.0
    wave_period_mm: float = 40.0
    wave_phase: float = 0.0

    def page_to_print(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Ideal page to print raster, mm."""
        cx, cy = self.width_mm / 2, self.height_mm / 2
        return cx + self.scale * (x - cx), cy + self.scale * (y - cy)

    def print_to_paper(self, y: Floats) -> Floats:
        """Raster to paper along the feed, mm; across it they are the same."""
        wave = self.wave_mm * np.sin(2 * np.pi * y / self.wave_period_mm + self.wave_phase)
        return np.asarray(self.stretch * y + wave)

    def paper_to_print(self, y: Floats) -> Floats:
        """Inverse of `print_to_paper` by fixed-point iteration (the wave's slope is far below 1)."""
        out = y / self.stretch
        for _ in range(8):
            out = out + (y - self.print_to_paper(out)) / self.stretch
        return out


@dataclass(frozen=True, slots=True)
class ScanMapping:
    """Geometry of a flatbed scan.

    Attributes
    ----------
    feed : Feed
    rotation_deg : float
        Of the paper on the bed about its middle, clockwise as seen.
    offset_mm : (float, float)
        Of the paper's upright top-left corner from the scanned area's.
    px_per_mm_x, px_per_mm_y : float
        The second depends on how true the carriage's speed is.
    wobble_mm, wobble_period_mm, wobble_phase : float
        Of the carriage.
    width_px, height_px : int
        Before quarter turns.
    quarter_turns : int
        Anticlockwise, of the finished image.
    """

    feed: Feed
    rotation_deg: float
    offset_mm: tuple[float, float]
    px_per_mm_x: float
    px_per_mm_y: float
    wobble_mm: float
    wobble_period_mm: float
    wobble_phase: float
    width_px: int
    height_px: int
    quarter_turns: int = 0

    def page_to_px(self, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
        """Pixel coordinates of points of the ideal page."""
        x, y = self.feed.page_to_print(np.asarray(x_mm, float), np.asarray(y_mm, float))
        y = self.feed.print_to_paper(y)
        cx, cy, cos, sin = self._turn()
        bx = cos * (x - cx) - sin * (y - cy) + cx + self.offset_mm[0]
        by = sin * (x - cx) + cos * (y - cy) + cy + self.offset_mm[1]
        by = by + self.wobble_mm * np.sin(2 * np.pi * by / self.wobble_period_mm + self.wobble_phase)
        px, py = bx * self.px_per_mm_x - 0.5, by * self.px_per_mm_y - 0.5
        return turned(px, py, self.width_px, self.height_px, self.quarter_turns)

    def px_to_print(self, px: Floats, py: Floats) -> tuple[Floats, Floats]:
        """Print raster position, mm, of the grid of pixel columns `px` (W,) and rows `py` (H,) before quarter turns.

        Returns two (H, W) arrays.
        """
        bx = (np.asarray(px, float) + 0.5) / self.px_per_mm_x - self.offset_mm[0]
        seen = (np.asarray(py, float) + 0.5) / self.px_per_mm_y
        by = seen.copy()
        for _ in range(8):
            by = seen - self.wobble_mm * np.sin(2 * np.pi * by / self.wobble_period_mm + self.wobble_phase)
        by = by - self.offset_mm[1]
        cx, cy, cos, sin = self._turn()
        x = cos * (bx - cx)[None, :] + sin * (by - cy)[:, None] + cx
        y = -sin * (bx - cx)[None, :] + cos * (by - cy)[:, None] + cy
        # the feed's wave is slow: invert it on a fine line and read the line off
        line = np.linspace(y.min() - 1.0, y.max() + 1.0, 2 + int(np.ptp(y) * 8))
        return x, np.interp(y, line, self.feed.paper_to_print(line))

    def _turn(self) -> tuple[float, float, float, float]:
        angle = np.deg2rad(self.rotation_deg)
        return self.feed.width_mm / 2, self.feed.height_mm / 2, float(np.cos(angle)), float(np.sin(angle))

    def to_json(self) -> dict[str, Any]:
        """Parameters, for the record."""
        return {"kind": "scan", **asdict(self)}


def turned(x: Floats, y: Floats, width: int, height: int, quarter_turns: int) -> tuple[Floats, Floats]:
    """Where pixel (x, y) of a width x height image goes when the image is turned as by ``numpy.rot90``."""
    for _ in range(quarter_turns % 4):
        x, y = y, width - 1 - x
        width, height = height, width
    return x, y
