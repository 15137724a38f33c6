"""One shape a state, so that the picture can be read without colour; none covers the dash it marks.

Missing: a ring. Weak: the lower half of a ring. Displaced: a diamond with a pointer to where the dash landed.
Unreadable: a broken box. An ink that is absent: a hatched ladder.
"""

from __future__ import annotations

import math

from printcheck.geometry import Box
from printcheck.report.canvas import Canvas, Points, text_width
from printcheck.report.palette import STATE

__all__ = ["draw_absent", "draw_state"]

_PAD_X_MM, _PAD_Y_MM = 0.25, 0.75  # bare paper between a dash and its mark
_LINE_MM = 0.26
_CROWDED_PAD_Y_MM, _CROWDED_LINE_MM = 0.3, 0.18
_DIAMOND_MM = 1.15  # half a diamond's height


def draw_state(
    canvas: Canvas,
    state: str,
    box: Box,
    scale: float,
    *,
    offset_mm: float | None = None,
    room_mm: float = math.inf,
) -> None:
    """Mark the dashes that `box` covers.

    Parameters
    ----------
    canvas : Canvas
    state : str
    box : Box
        In px on the canvas.
    scale : float
        px a mm.
    offset_mm : float, optional
        Of displaced dashes, down positive.
    room_mm : float
        Distance to the next mark; marks draw in where they would run into one another.
    """
    crowded = room_mm < 2 * _PAD_Y_MM
    pad_y = max(_CROWDED_PAD_Y_MM, min(_PAD_Y_MM, room_mm / 2 - 0.12)) * scale
    rgb, width = STATE[state], _CROWDED_LINE_MM * scale if crowded else max(2.0, _LINE_MM * scale)
    around = box.inset(-_PAD_X_MM * scale, -pad_y)
    if state == "missing":
        canvas.line(_rounded(around, pad_y), rgb, width, closed=True)
    elif state == "weak":
        canvas.line(_cradle(around, pad_y), rgb, width)
    elif state == "displaced":
        _diamond(canvas, box, scale, offset_mm, width)
    else:
        x0, y0, x1, y1 = around.x0, around.y0, around.x1, around.y1
        outline = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
        canvas.dashed(outline, rgb, 0.75 * width, 0.8 * scale, 0.6 * scale)


def draw_absent(canvas: Canvas, box: Box, scale: float, text: str) -> None:
    """Hatch the ladder of an ink that printed nothing, and say so across it."""
    rgb, width = STATE["missing"], max(2.0, _LINE_MM * scale)
    around = box.inset(-0.35 * scale)
    canvas.hatch(around, tuple(round(0.45 * c + 0.55 * 255) for c in rgb), 1, 2.2 * scale)  # type: ignore[arg-type]
    canvas.line(_rounded(around, scale), rgb, width, closed=True)
    size = min(3.4 * scale, 0.6 * box.height)
    x, y = around.centre
    half = text_width(text, size, bold=True) / 2 + 1.5 * scale
    canvas.box(Box(x - half, y - 0.8 * size, x + half, y + 0.8 * size), (255, 255, 255))
    canvas.text(x, y, text, size, STATE["missing"], bold=True, anchor="mm")


def _diamond(canvas: Canvas, box: Box, scale: float, offset_mm: float | None, width: float) -> None:
    x, y = box.centre
    half = _DIAMOND_MM * scale
    canvas.line([(x - half, y), (x, y - half), (x + half, y), (x, y + half)], STATE["displaced"], width, closed=True)
    if offset_mm:
        way = math.copysign(1.0, offset_mm)
        tip, foot = y + way * 2.1 * half, y + way * 1.3 * half
        head = [(x - 0.45 * half, foot), (x, tip), (x + 0.45 * half, foot)]
        canvas.line(head, STATE["displaced"], width)


def _rounded(box: Box, radius: float) -> Points:
    """Outline of a box with round corners."""
    radius = min(radius, box.width / 2, box.height / 2)
    corners = (
        (box.x1 - radius, box.y0 + radius, -90),
        (box.x1 - radius, box.y1 - radius, 0),
        (box.x0 + radius, box.y1 - radius, 90),
        (box.x0 + radius, box.y0 + radius, 180),
    )
    return [point for x, y, start in corners for point in _arc(x, y, radius, start)]


def _cradle(box: Box, radius: float) -> Points:
    """The lower half of that outline."""
    radius = min(radius, box.width / 2, box.height / 2)
    right, left = box.x1 - radius, box.x0 + radius
    y = box.y1 - radius
    return [*_arc(right, y, radius, 0), *_arc(left, y, radius, 90)]


def _arc(x: float, y: float, radius: float, start_deg: float) -> Points:
    angles = [math.radians(start_deg + 90 * k / 8) for k in range(9)]
    return [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in angles]
