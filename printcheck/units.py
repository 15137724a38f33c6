"""The only conversions between millimetres, inches, dots and pixels.

Layout lengths are millimetres. A sheet is composed of whole dots of its raster (600 or 720 dots/inch), so a
layout length is always ``dots * 25.4 / dots_per_inch`` and converts back without remainder. Pixel centres are
integers, so the left edge of pixel 0 lies at -0.5.
"""

from __future__ import annotations

from printcheck.errors import PatternError

__all__ = ["MM_PER_INCH", "dots_to_mm", "mm_to_dots", "px_per_mm"]

MM_PER_INCH = 25.4
_WHOLE_DOT_TOLERANCE = 1e-6  # dots; float rounding of mm, far below anything a renderer resolves


def dots_to_mm(dots: float, dots_per_inch: int) -> float:
    """Length in mm of `dots` dots."""
    return dots * MM_PER_INCH / dots_per_inch


def mm_to_dots(mm: float, dots_per_inch: int) -> int:
    """Whole number of dots in `mm`; raises `PatternError` where the length is no whole number of dots."""
    exact = mm * dots_per_inch / MM_PER_INCH
    dots = round(exact)
    if abs(exact - dots) > _WHOLE_DOT_TOLERANCE:
        raise PatternError(f"{mm} mm is no whole number of dots at {dots_per_inch} dots/inch")
    return dots


def px_per_mm(dots_per_inch: float) -> float:
    """Pixels per mm at `dots_per_inch`."""
    return dots_per_inch / MM_PER_INCH
