"""A drawing surface: smooth lines and fills by OpenCV, text by Pillow, positions in pixels from the top-left corner.

Pixel k covers k to k + 1, so that a position in mm times the scale is a position on the canvas.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from printcheck.geometry import Box
from printcheck.pattern.render.raster import font_path
from printcheck.report.palette import INK, Rgb

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["LEADING", "Canvas", "Points", "text_width", "wrap"]

Points = Sequence[tuple[float, float]]

LEADING = 1.32
"""From line to line of text, of the letters' size."""
_SHIFT = 4  # OpenCV's fixed point: sixteenths of a pixel


@lru_cache(maxsize=64)
def _font(size: int, bold: bool) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(font_path(bold)), size)


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line in px at letters of `size` px."""
    return float(_font(round(size), bold).getlength(text))


def wrap(text: str, size: float, width: float, bold: bool = False) -> list[str]:
    """`text` in lines of at most `width` px; a word that is wider still is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        piece = word
        while text_width(piece, size, bold) > width and len(piece) > 1:
            fit = max(1, int(len(piece) * width / text_width(piece, size, bold)) - 1)
            if line:
                lines.append(line)
                line = ""
            lines.append(piece[:fit])
            piece = piece[fit:]
        trial = f"{line} {piece}" if line else piece
        if line and text_width(trial, size, bold) > width:
            lines.append(line)
            line = piece
        else:
            line = trial
    return [*lines, line] if line else lines


class Canvas:
    """An RGB picture to draw on.

    Parameters
    ----------
    width, height : int
    background : tuple of int
    """

    def __init__(self, width: int, height: int, background: Rgb) -> None:
        self.pixels: NDArray[np.uint8] = np.empty((height, width, 3), np.uint8)
        self.pixels[:] = background
        self._texts: list[tuple[float, float, str, int, Rgb, bool, str]] = []

    def paste(self, pixels: NDArray[np.uint8], x: int, y: int) -> None:
        """Lay an (H, W, 3) RGB picture down with its corner at (x, y)."""
        self.pixels[y : y + pixels.shape[0], x : x + pixels.shape[1]] = pixels

    def line(self, points: Points, rgb: Rgb, width: float, *, closed: bool = False) -> None:
        """A smooth line through `points`, at least one pixel wide."""
        cv2.polylines(self.pixels, [_fixed(points)], closed, rgb, max(1, round(width)), cv2.LINE_AA, _SHIFT)

    def dashed(self, points: Points, rgb: Rgb, width: float, on: float, off: float) -> None:
        """A broken line through `points`."""
        for (x0, y0), (x1, y1) in itertools.pairwise(points):
            length = float(np.hypot(x1 - x0, y1 - y0))
            for start in np.arange(0.0, length, on + off):
                a, b = start / length, min(start + on, length) / length
                ends = [(x0 + t * (x1 - x0), y0 + t * (y1 - y0)) for t in (a, b)]
                self.line(ends, rgb, width)

    def fill(self, points: Points, rgb: Rgb) -> None:
        """A filled polygon."""
        cv2.fillPoly(self.pixels, [_fixed(points)], rgb, cv2.LINE_AA, _SHIFT)

    def box(self, box: Box, rgb: Rgb, alpha: float = 1.0) -> None:
        """A filled box in px, laid over what is there with opacity `alpha`."""
        x0, y0, x1, y1 = (max(0, round(v)) for v in (box.x0, box.y0, box.x1, box.y1))
        area = self.pixels[y0:y1, x0:x1]
        area[:] = np.rint(area * (1 - alpha) + np.array(rgb) * alpha).astype(np.uint8)

    def hatch(self, box: Box, rgb: Rgb, width: float, step: float) -> None:
        """Oblique lines over a box in px."""
        for start in np.arange(box.x0 - box.height + step / 2, box.x1, step):
            # the line x - start = y1 - y, cut to the box
            low, high = max(start, box.x0), min(start + box.height, box.x1)
            if high - low > 1:
                self.line([(low, box.y1 - (low - start)), (high, box.y1 - (high - start))], rgb, width)

    def text(
        self, x: float, y: float, text: str, size: float, rgb: Rgb = INK, *, bold: bool = False, anchor: str = "ls"
    ) -> None:
        """One line of text over all shapes; `anchor` as Pillow has it (``"ls"``: left end of the baseline)."""
        self._texts.append((x, y, text, round(size), rgb, bold, anchor))

    def lines_of_text(
        self, x: float, y: float, lines: Iterable[str], size: float, rgb: Rgb = INK, *, bold: bool = False
    ) -> float:
        """Lines one below the other, the first with its top at `y`; returns where the next would have its top."""
        for line in lines:
            self.text(x, y + size, line, size, rgb, bold=bold)
            y += LEADING * size
        return y

    def finish(self) -> NDArray[np.uint8]:
        """The picture with its text, (H, W, 3) RGB."""
        image = Image.fromarray(self.pixels)
        draw = ImageDraw.Draw(image)
        for x, y, text, size, rgb, bold, anchor in self._texts:
            draw.text((x, y), text, fill=rgb, font=_font(size, bold), anchor=anchor)
        return np.asarray(image)


def _fixed(points: Points) -> NDArray[np.int32]:
    # OpenCV has integers at pixel centres
    return np.asarray(np.rint((np.asarray(points, np.float64) - 0.5) * (1 << _SHIFT)), np.int32)
