"""Colour of a solid beside its reference, with the number and what it is known to."""

from __future__ import annotations

import numpy as np

from printcheck.colour.lab import Lab, lab_to_xyz
from printcheck.colour.linear import linear_to_srgb
from printcheck.geometry import Box
from printcheck.measure.areas import XYZ_TO_LINEAR
from printcheck.measure.result import SolidReading
from printcheck.report.canvas import Canvas, wrap
from printcheck.report.palette import INK, MUTED, RULE, Rgb

__all__ = ["draw_swatches", "rgb_of", "swatch_lines"]

_WIDTH, _HEIGHT = 9.0, 6.0  # mm
_LETTERS = 2.7


def rgb_of(lab: Lab) -> Rgb:
    """Nearest sRGB of a CIELAB D50 colour, channel by channel cut where it lies outside."""
    light = XYZ_TO_LINEAR @ lab_to_xyz(np.array(lab))
    r, g, b = (int(v) for v in np.rint(255 * linear_to_srgb(np.clip(light, 0.0, 1.0))))
    return r, g, b


def swatch_lines(solid: SolidReading) -> tuple[str, ...]:
    """What is written beside: the colour, and its difference where there is one."""
    if solid.lab is None:
        return ()
    colour = "measured L* {:.0f}  a* {:.0f}  b* {:.0f}".format(*solid.lab)
    if solid.reference is None:
        return (colour,)
    if solid.delta_e00 is None:
        return colour, f"not comparable with {solid.reference}"
    ci = "" if solid.delta_e00_ci95 is None else " ({:.1f} to {:.1f})".format(*solid.delta_e00_ci95)
    return colour, f"{solid.delta_e00:.1f} deltaE00{ci} from {solid.reference}"


def draw_swatches(canvas: Canvas, solid: SolidReading, x: float, y: float, right: float, scale: float) -> float:
    """Draw at (x, y) px, measured first, its reference touching it; return where to go on down the canvas."""
    if solid.lab is None:
        return y
    wide, high = _WIDTH * scale, _HEIGHT * scale
    y += 0.8 * scale
    shown = [solid.lab]
    if solid.reference_lab is not None and solid.delta_e00 is not None:
        shown.append(solid.reference_lab)
    for number, lab in enumerate(shown):  # edge to edge: the eye sees a difference best where two colours touch
        canvas.box(Box(x + number * wide, y, x + (number + 1) * wide, y + high), rgb_of(lab))
    end = x + len(shown) * wide
    canvas.line([(x, y), (end, y), (end, y + high), (x, y + high)], RULE, 1, closed=True)
    text = end + 2 * scale
    below = y - 0.6 * scale
    for number, line in enumerate(swatch_lines(solid)):
        lines = wrap(line, _LETTERS * scale, right - text)
        below = canvas.lines_of_text(text, below, lines, _LETTERS * scale, MUTED if number == 0 else INK)
    return max(y + high, below) + 0.8 * scale
