"""A toner sheet's findings on its picture: rings, the spacing as bars down the page, brackets, wedges at bands.

A mark that repeats is ringed wherever it was seen; beside the rings a bar runs from each to the next like a
dimension line, with the spacing written at the first. A streak has a bracket at its upper and its lower end. Where a
band is darkest, a pair of wedges points at it from both sides of its tint, the first two with a bar between.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

from printcheck.geometry import Box
from printcheck.measure.toner_result import RepeatReading, StreakReading, TonerBand, TonerReading
from printcheck.report.canvas import Canvas, text_width
from printcheck.report.palette import STATE, Rgb

__all__ = ["BAND_RGB", "REPEAT_RGB", "STREAK_RGB", "draw_ring", "draw_toner", "draw_wedge"]

REPEAT_RGB: Rgb = STATE["missing"]
STREAK_RGB: Rgb = STATE["weak"]
BAND_RGB: Rgb = STATE["displaced"]
_RING_MM, _LINE_MM = 2.2, 0.35
_BAR_MM = 4.2  # from the rings' middle to their bar
_TICK_MM = 1.1
_BAND_MM, _WEDGE_MM = 6.0, 3.6  # from a tint's middle to the wedges' points, and their size
_LETTER_MM = 2.8

ToPx = Callable[[float, float], tuple[float, float]]


def draw_toner(canvas: Canvas, toner: TonerReading, to_px: ToPx, scale: float, width_mm: float) -> None:
    """Draw all findings.

    Parameters
    ----------
    canvas : Canvas
    toner : TonerReading
    to_px : callable
        Place on the picture of a place on the page in mm.
    scale : float
        px a mm.
    width_mm : float
        Of the page: bars on its right half stand left of their rings.
    """
    for streak in toner.streaks or ():
        _streak(canvas, streak, to_px, scale)
    for band in (toner.bands or ())[:1]:  # a second one's wedges could not be told from the first one's
        _band(canvas, band, to_px, scale)
    for repeat in toner.repeats or ():
        _repeat(canvas, repeat, to_px, scale, width_mm)


def draw_ring(canvas: Canvas, x: float, y: float, scale: float) -> None:
    """Ring one mark at (x, y) px."""
    radius = _RING_MM * scale
    turn = [2 * math.pi * k / 32 for k in range(32)]
    points = [(x + radius * math.cos(t), y + radius * math.sin(t)) for t in turn]
    canvas.line(points, (255, 255, 255), 2.2 * _LINE_MM * scale, closed=True)
    canvas.line(points, REPEAT_RGB, _LINE_MM * scale, closed=True)


def draw_wedge(canvas: Canvas, x: float, y: float, side: float, scale: float) -> None:
    """Draw a wedge whose point is at (x, y) px and whose base lies to its right (`side` 1) or left (-1)."""
    base, high = x + side * _WEDGE_MM * scale, _WEDGE_MM / 2 * scale
    wedge = [(x, y), (base, y - high), (base, y + high)]
    canvas.line(wedge, (255, 255, 255), 2.2 * _LINE_MM * scale, closed=True)
    canvas.fill(wedge, BAND_RGB)


def _repeat(canvas: Canvas, repeat: RepeatReading, to_px: ToPx, scale: float, width_mm: float) -> None:
    side = 1.0 if repeat.x_mm < width_mm / 2 else -1.0
    places = [to_px(repeat.x_mm, y) for y in repeat.y_mm]
    bar = places[0][0] + side * _BAR_MM * scale
    tick, width = _TICK_MM * scale, _LINE_MM * scale
    for (_, y0), (_, y1) in itertools.pairwise(places):
        for rgb, thick in (((255, 255, 255), 2.2 * width), (REPEAT_RGB, width)):
            canvas.line([(bar, y0), (bar, y1)], rgb, thick)
            for y in (y0, y1):
                canvas.line([(bar - tick, y), (bar + tick, y)], rgb, thick)
    for x, y in places:
        draw_ring(canvas, x, y, scale)
    name = f", {repeat.parts[0].name}" if repeat.parts else ""
    text = f"{repeat.spacing_mm:.1f} mm{name}"
    x0 = bar + side * 1.8 * scale
    left = x0 if side > 0 else x0 - text_width(text, _LETTER_MM * scale, bold=True)
    _label(canvas, left, (places[0][1] + places[1][1]) / 2, text, REPEAT_RGB, scale)


def _band(canvas: Canvas, band: TonerBand, to_px: ToPx, scale: float) -> None:
    width = _LINE_MM * scale
    for y_mm in band.darkest_mm:
        for side in (-1.0, 1.0):
            draw_wedge(canvas, *to_px(band.x_mm + side * _BAND_MM, y_mm), side, scale)
    if len(band.darkest_mm) < 2:
        return
    bar = band.x_mm + _BAND_MM + _WEDGE_MM + 0.8
    (x, y0), (_, y1) = (to_px(bar, y_mm) for y_mm in band.darkest_mm[:2])
    canvas.line([(x, y0), (x, y1)], (255, 255, 255), 2.2 * width)
    canvas.line([(x, y0), (x, y1)], BAND_RGB, width)
    text = f"{band.period_mm:.1f} mm, {2 * band.amplitude_dL:.1f} L*"  # from crest to trough, as the reason says
    _label(canvas, x + 0.8 * scale, (y0 + y1) / 2, text, BAND_RGB, scale)


def _label(canvas: Canvas, left: float, middle: float, text: str, rgb: Rgb, scale: float) -> None:
    """Words on white, their left end's middle at (left, middle) px."""
    size = _LETTER_MM * scale
    right = left + text_width(text, size, bold=True)
    room = Box(left - 0.4 * scale, middle - 0.8 * size, right + 0.4 * scale, middle + 0.8 * size)
    canvas.box(room, (255, 255, 255))
    canvas.text(left, middle, text, size, rgb, bold=True, anchor="lm")


def _streak(canvas: Canvas, streak: StreakReading, to_px: ToPx, scale: float) -> None:
    half = max(streak.width_mm / 2, 0.5) + 0.6
    arm, width = 4.0 * scale, _LINE_MM * scale
    for y_mm, way in ((streak.top_mm, 1.0), (streak.bottom_mm, -1.0)):
        x0, y = to_px(streak.x_mm - half, y_mm)
        x1, _ = to_px(streak.x_mm + half, y_mm)
        bracket = [(x0, y + way * arm), (x0, y), (x1, y), (x1, y + way * arm)]
        canvas.line(bracket, (255, 255, 255), 2.2 * width)
        canvas.line(bracket, STREAK_RGB, width)
    x, y = to_px(streak.x_mm + half + 0.8, streak.top_mm + 2.0)
    _label(canvas, x, y, f"{streak.dL:+.1f} L*", STREAK_RGB, scale)
