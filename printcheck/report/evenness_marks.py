"""What is uneven, on the marked picture: a comb for bands, a wedge for fade, stairs for strokes, rings for specks.

A comb's teeth stand a period apart, drawn to scale beside the strip, tint or solid that shows the bands. A wedge runs
down beside its strip from where the ink starts to give out to where it has, and narrows as the ink does. A blank left
by air is boxed. Each has a line of words in the margin, led to it by a dotted line; shape alone tells them apart.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from printcheck.geometry import Box
from printcheck.measure.evenness_result import Band, Evenness, FadeReading
from printcheck.pattern.layout import Layout
from printcheck.report.callouts import spread
from printcheck.report.canvas import Canvas, text_width
from printcheck.report.palette import Rgb

__all__ = ["Note", "draw_evenness", "notes_of", "notes_width"]

UNEVEN_RGB: Rgb = (0, 100, 76)
"""Bluish green of Okabe and Ito's eight, darkened for letters: contrast 7:1 on white."""

_WHITE: Rgb = (255, 255, 255)
_LINE_MM, _LETTER_MM, _LEADING_MM = 0.3, 2.3, 3.4
_LANE_MM, _FIRST_LANE_MM = 2.4, 1.6  # of marks beside the strips, an ink each
_TOOTH_MM, _WEDGE_MM = 1.3, 2.0
_MOST_TEETH, _MOST_COMB_MM = 7, 24.0
_LEAST_SPECK_MM, _MOST_RINGS = 0.3, 30  # smaller ones would hide under their rings
_LEAST_STEP_MM = 0.02  # half a dot of 600 dots/inch
_GAP_MM = 2.5  # between the page, or its row numbers, and the words; and after them

ToPx = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Note:
    """One finding: its words, and the place (mm on the page) they are led to."""

    text: str
    x_mm: float
    y_mm: float


def notes_of(evenness: Evenness | None, layout: Layout) -> tuple[Note, ...]:
    """Words for the margin, from the top down."""
    if evenness is None:
        return ()
    notes = []
    for lane, ink in enumerate(layout.head.inks):
        x, top = _lane_x(layout, lane), layout.patches_of("strip", ink.ink)[0].box.y0
        bands = evenness.banding[lane]
        if bands is not None and bands.visible:
            comb = _comb(layout, ink.ink, lane, bands.bands[0])
            text = f"{ink.ink} bands {bands.bands[0].period_mm:.2f} mm, {bands.amplitude_dL:.1f} L*"
            notes.append(Note(text, comb.x1, comb.y0))
        fade = evenness.fade[lane]
        if fade is not None and fade.kind != "none":
            start, end = _extent(fade, layout, ink.ink)
            notes.append(Note(_fade_text(ink.ink, fade), x + _WEDGE_MM, (start + end) / 2))
    stepping = _worst_strokes(evenness)
    if stepping is not None:
        lane, offset_mm = stepping
        top = layout.patches_of("strip", layout.head.inks[lane].ink)[0].box.y0
        notes.append(Note(f"strokes off by {offset_mm:.3f} mm", _lane_x(layout, lane) + 1.0, top + 6.0))
    dirt = evenness.dirt
    if dirt is not None:
        for smear in dirt.smears[:3]:
            y = (smear.y0_mm + smear.y1_mm) / 2
            notes.append(Note(f"smear of {smear.area_mm2:.0f} mm2", smear.x1_mm + 0.5, y))
        if dirt.specks and dirt.largest_mm >= _LEAST_SPECK_MM:
            first = dirt.specks[0]
            notes.append(Note(f"speck of {first.diameter_mm:.1f} mm", first.x_mm + 1.2, first.y_mm))
    return tuple(sorted(notes, key=lambda note: note.y_mm))


def notes_width(notes: tuple[Note, ...], scale: float) -> int:
    """Width in px that the words need in the margin."""
    if not notes:
        return 0
    widest = max(text_width(note.text, _LETTER_MM * scale, bold=True) for note in notes)
    return round(widest + 2 * _GAP_MM * scale)


def draw_evenness(
    canvas: Canvas,
    evenness: Evenness,
    layout: Layout,
    notes: tuple[Note, ...],
    to_px: ToPx,
    scale: float,
    words_x: float,
) -> None:
    """Draw the marks, and the `notes` from `words_x` px on.

    Parameters
    ----------
    canvas : Canvas
    evenness : Evenness
    layout : Layout
    notes : tuple of Note
    to_px : callable
        Place on the picture of a place on the page in mm.
    scale : float
        px a mm.
    words_x : float
        Left end of the words, px.
    """
    for lane, ink in enumerate(layout.head.inks):
        bands = evenness.banding[lane]
        if bands is not None and bands.visible:
            _draw_comb(canvas, _comb(layout, ink.ink, lane, bands.bands[0]), bands.bands[0], to_px, scale)
        fade = evenness.fade[lane]
        if fade is not None and fade.kind != "none":
            _draw_fade(canvas, fade, layout, ink.ink, lane, to_px, scale)
    stepping = _worst_strokes(evenness)
    if stepping is not None:
        _draw_stairs(canvas, layout, layout.head.inks[stepping[0]].ink, stepping[0], to_px, scale)
    if evenness.dirt is not None:
        large = [speck for speck in evenness.dirt.specks if speck.diameter_mm >= _LEAST_SPECK_MM]
        for speck in large[:_MOST_RINGS]:
            _ring(canvas, *to_px(speck.x_mm, speck.y_mm), (speck.diameter_mm / 2 + 0.8) * scale, scale)
        for smear in evenness.dirt.smears:
            x0, y0 = to_px(smear.x0_mm - 0.5, smear.y0_mm - 0.5)
            x1, y1 = to_px(smear.x1_mm + 0.5, smear.y1_mm + 0.5)
            outline = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
            canvas.dashed(outline, UNEVEN_RGB, _LINE_MM * scale, 1.2 * scale, 0.6 * scale)
    heights = spread(
        [to_px(0, note.y_mm)[1] for note in notes],
        _LEADING_MM * scale,
        to_px(0, 12.0)[1],
        to_px(0, layout.height_mm - 12.0)[1],
    )
    for note, y in zip(notes, heights, strict=True):
        x, start = to_px(note.x_mm, note.y_mm)
        knee = words_x - 1.6 * scale
        canvas.dashed([(x + 0.3 * scale, start), (knee, start)], UNEVEN_RGB, 1, 0.25 * scale, 0.75 * scale)
        canvas.line([(knee, start), (words_x - 0.4 * scale, y)], UNEVEN_RGB, 1)
        canvas.text(words_x, y, note.text, _LETTER_MM * scale, UNEVEN_RGB, bold=True, anchor="lm")


def _worst_strokes(evenness: Evenness) -> tuple[int, float] | None:
    """Which ink steps most, and by how much; none where no step is worth a word. All inks share the carriage."""
    found = [(one.offset_mm, lane) for lane, one in enumerate(evenness.strokes) if one is not None]
    offset_mm, lane = max(found, default=(0.0, 0))
    return (lane, offset_mm) if offset_mm >= _LEAST_STEP_MM else None


def _lane_x(layout: Layout, lane: int) -> float:
    right = max(layout.patches_of("strip", ink.ink)[0].box.x1 for ink in layout.head.inks)
    return right + _FIRST_LANE_MM + _LANE_MM * lane


def _fade_text(ink: str, fade: FadeReading) -> str:
    if fade.kind == "air":
        return f"{ink} air, {sum(b - a for a, b in fade.blanks_mm):.0f} mm blank"
    if fade.kind == "starvation":
        return f"{ink} starves, {fade.worst_dL:+.1f} L*"
    return f"{ink} fades, {fade.dL_first_to_last:+.1f} L*"


def _extent(fade: FadeReading, layout: Layout, ink: str) -> tuple[float, float]:
    box = layout.patches_of("strip", ink)[0].box
    return (fade.start_mm or box.y0), (fade.end_mm or box.y1)


def _comb(layout: Layout, ink: str, lane: int, band: Band) -> Box:
    """Where the comb of `band` stands: beside the strips, or left of the patch that shows it."""
    if band.area == "strip":
        strip = layout.patches_of("strip", ink)[0].box
        teeth = max(2, min(_MOST_TEETH, 1 + int(_MOST_COMB_MM / band.period_mm)))
        x, y = _lane_x(layout, lane), strip.y0 + 14.0 + 30.0 * lane
    else:
        patch = layout.patches_of(band.area, ink)[0].box
        teeth = max(2, min(_MOST_TEETH, 1 + int(patch.height / band.period_mm)))
        x, y = patch.x0 - _TOOTH_MM - 0.7, patch.y0
    return Box(x, y, x + _TOOTH_MM, y + (teeth - 1) * band.period_mm)


def _haloed(canvas: Canvas, points: list[tuple[float, float]], width: float, *, closed: bool = False) -> None:
    canvas.line(points, _WHITE, 2.4 * width, closed=closed)
    canvas.line(points, UNEVEN_RGB, width, closed=closed)


def _draw_comb(canvas: Canvas, comb: Box, band: Band, to_px: ToPx, scale: float) -> None:
    width = _LINE_MM * scale
    _haloed(canvas, [to_px(comb.x0, comb.y0), to_px(comb.x0, comb.y1)], width)
    for k in range(round(comb.height / band.period_mm) + 1):
        y = comb.y0 + k * band.period_mm
        canvas.line([to_px(comb.x0, y), to_px(comb.x1, y)], UNEVEN_RGB, width)


def _draw_fade(
    canvas: Canvas, fade: FadeReading, layout: Layout, ink: str, lane: int, to_px: ToPx, scale: float
) -> None:
    width, strip = _LINE_MM * scale, layout.patches_of("strip", ink)[0].box
    if fade.kind == "air":
        for a, b in fade.blanks_mm:
            corners = [(strip.x0, a), (strip.x1, a), (strip.x1, b), (strip.x0, b)]
            _haloed(canvas, [to_px(x, y) for x, y in corners], width, closed=True)
        return
    start, end = _extent(fade, layout, ink)
    x = _lane_x(layout, lane)
    wedge = [to_px(x, start), to_px(x + _WEDGE_MM, start), to_px(x + _WEDGE_MM / 2, end)]
    canvas.fill(wedge, (138, 200, 180))
    _haloed(canvas, wedge, width, closed=True)
    if fade.kind == "starvation":  # and back
        _haloed(canvas, [to_px(x, end), to_px(x + _WEDGE_MM, end)], width)


def _draw_stairs(canvas: Canvas, layout: Layout, ink: str, lane: int, to_px: ToPx, scale: float) -> None:
    y, x = layout.patches_of("strip", ink)[0].box.y0 + 2.0, _lane_x(layout, lane)
    points = []
    for k in range(4):
        side = 0.9 * (k % 2)
        points += [to_px(x + side, y + 2.0 * k), to_px(x + side, y + 2.0 * (k + 1))]
    _haloed(canvas, points, _LINE_MM * scale)


def _ring(canvas: Canvas, x: float, y: float, radius: float, scale: float) -> None:
    turn = [2 * math.pi * k / 24 for k in range(24)]
    _haloed(
        canvas,
        [(x + radius * math.cos(t), y + radius * math.sin(t)) for t in turn],
        0.8 * _LINE_MM * scale,
        closed=True,
    )
