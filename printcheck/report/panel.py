"""The column beside the page: a card for each ink at its ladder, what the shapes mean, and what to do next."""

from __future__ import annotations

from collections.abc import Callable

from printcheck.document import ScoredSheet
from printcheck.geometry import Box
from printcheck.measure.result import LinesReading
from printcheck.measure.toner_result import TonerReading
from printcheck.report.canvas import LEADING, Canvas, text_width, wrap
from printcheck.report.palette import INK, MUTED, RULE, STATE, ink_rgb, letters_on
from printcheck.report.shapes import draw_state
from printcheck.report.swatches import draw_swatches
from printcheck.report.toner_marks import BAND_RGB, REPEAT_RGB, STREAK_RGB, draw_ring, draw_wedge
from printcheck.report.toner_words import toner_in_words
from printcheck.report.words import findings_in_words, ink_word

__all__ = ["draw_panel"]

_HEAD, _BODY, _SMALL = 3.7, 3.1, 2.7  # letter sizes, mm
_CHIP, _TEXT_AT = 6.2, 8.4  # side of an ink's chip, and where its text begins, mm
_LEGEND = (
    ("missing", "missing: no ink on this row"),
    ("weak", "weak: too little ink"),
    ("displaced", "off its place, the way it points"),
    ("unreadable", "not readable in this picture"),
)


def draw_panel(canvas: Canvas, sheet: ScoredSheet, area: Box, scale: float, card_at: Callable[[str], float]) -> None:
    """Draw the column into `area`.

    Parameters
    ----------
    canvas : Canvas
    sheet : ScoredSheet
    area : Box
        In px on the canvas.
    scale : float
        px a mm.
    card_at : callable
        Where the first ladder of an ink begins, px down the canvas.
    """
    y = area.y0
    solids = {solid.ink: solid for solid in sheet.solids}
    for reading in sheet.lines:
        y = _card(canvas, reading, area, max(y, card_at(reading.ink)), scale)
        solid = solids.get(reading.ink)
        if solid is not None and not reading.absent:
            y = draw_swatches(canvas, solid, area.x0 + _TEXT_AT * scale, y, area.x1, scale)
        y += 2.5 * scale
    if sheet.toner is not None:
        y = _toner_card(canvas, sheet.toner, area, y, scale)
        y = _toner_legend(canvas, area, y + 3 * scale, scale)
    else:
        y = _legend(canvas, area, y + 3 * scale, scale)
    assessment = sheet.assessment
    size = _BODY * scale
    steps = [
        line
        for number, step in enumerate(assessment.next_steps, 1)
        for line in _hanging(f"{number}.", step, size, area.width)
    ]
    cautions = [
        line for caution in assessment.cautions for line in _hanging("!", caution, _SMALL * scale, area.width)
    ]
    need = (len(steps) + 2) * LEADING * size + (len(cautions) + 2) * LEADING * _SMALL * scale + 10 * scale
    if y + need > area.y1:  # a step is never told without its cautions
        canvas.lines_of_text(area.x0, y + 4 * scale, ["Next steps: see the report"], size, MUTED)
        return
    y = _heading(canvas, "Next", area, y + 4 * scale, scale)
    y = _hung(canvas, steps, area.x0, y, size, scale)
    if cautions:
        y = _heading(canvas, "Take care", area, y + 4 * scale, scale)
        _hung(canvas, cautions, area.x0, y, _SMALL * scale, scale)


def _card(canvas: Canvas, reading: LinesReading, area: Box, y: float, scale: float) -> float:
    chip = _CHIP * scale
    rgb = ink_rgb(reading.ink)
    canvas.box(Box(area.x0, y, area.x0 + chip, y + chip), rgb)
    middle = area.x0 + chip / 2, y + chip / 2
    canvas.text(*middle, reading.ink, _HEAD * scale, letters_on(rgb), bold=True, anchor="mm")
    x = area.x0 + _TEXT_AT * scale
    canvas.text(x, y + 4.3 * scale, ink_word(reading.ink), _HEAD * scale, INK, bold=True)
    beside = x + text_width(ink_word(reading.ink), _HEAD * scale, bold=True) + 2 * scale
    canvas.text(beside, y + 4.3 * scale, f"{reading.rows} rows", _BODY * scale, MUTED)
    y += chip + 0.8 * scale
    for phrase in findings_in_words(reading, most=8):
        lines = wrap(phrase, _BODY * scale, area.x1 - x)
        y = canvas.lines_of_text(x, y, lines, _BODY * scale, INK)
    return y


def _toner_card(canvas: Canvas, toner: TonerReading, area: Box, y: float, scale: float) -> float:
    for what, finding in toner_in_words(toner):
        canvas.text(area.x0, y + _BODY * scale, what, _BODY * scale, INK, bold=True)
        x = area.x0 + 17 * scale
        y = canvas.lines_of_text(x, y, wrap(finding, _BODY * scale, area.x1 - x), _BODY * scale, INK) + 1.0 * scale
    return y


def _toner_legend(canvas: Canvas, area: Box, y: float, scale: float) -> float:
    y = _heading(canvas, "Marks", area, y, scale)
    draw_ring(canvas, area.x0 + 4 * scale, y + 2.4 * scale, scale)
    text = "comes back down the page; bar: spacing"
    canvas.text(area.x0 + 11 * scale, y + 2.4 * scale, text, _SMALL * scale, REPEAT_RGB, anchor="lm")
    y += 6.2 * scale
    arms = [(area.x0 + dx * scale, y + dy * scale) for dx, dy in ((2.6, 3.4), (2.6, 0.4), (5.4, 0.4), (5.4, 3.4))]
    canvas.line(arms, STREAK_RGB, 0.35 * scale)
    text = "streak along the feed, from bracket to bracket"
    canvas.text(area.x0 + 11 * scale, y + 1.8 * scale, text, _SMALL * scale, STREAK_RGB, anchor="lm")
    y += 6.2 * scale
    for side in (-1.0, 1.0):
        draw_wedge(canvas, area.x0 + (4 + 0.4 * side) * scale, y + 1.8 * scale, side, scale)
    text = "a band at its darkest; bar: period"
    canvas.text(area.x0 + 11 * scale, y + 1.8 * scale, text, _SMALL * scale, BAND_RGB, anchor="lm")
    return y + 5.4 * scale


def _legend(canvas: Canvas, area: Box, y: float, scale: float) -> float:
    y = _heading(canvas, "Marks", area, y, scale)
    for state, text in _LEGEND:
        middle = y + 1.5 * scale
        dash = Box(area.x0 + 1 * scale, middle - 0.08 * scale, area.x0 + 8 * scale, middle + 0.08 * scale)
        if state != "missing":
            shift = 0.28 * scale if state == "displaced" else 0.0
            canvas.line([(dash.x0, middle + shift), (dash.x1, middle + shift)], (150, 150, 150), 1)
        draw_state(canvas, state, dash, scale, offset_mm=0.1)
        canvas.text(area.x0 + 11 * scale, middle, text, _BODY * scale, STATE[state], anchor="lm")
        y += 5.4 * scale
    return y


def _heading(canvas: Canvas, text: str, area: Box, y: float, scale: float) -> float:
    canvas.line([(area.x0, y), (area.x1, y)], RULE, 0.2 * scale)
    y += 1.8 * scale
    return canvas.lines_of_text(area.x0, y, [text], _BODY * scale, MUTED, bold=True) + 1.2 * scale


def _hanging(sign: str, text: str, size: float, width: float) -> list[tuple[str, str]]:
    lines = wrap(text, size, width - 1.7 * size)
    return [(sign if number == 0 else "", line) for number, line in enumerate(lines)]


def _hung(canvas: Canvas, lines: list[tuple[str, str]], x: float, y: float, size: float, scale: float) -> float:
    for sign, line in lines:
        if sign:
            y += 0.8 * scale
            canvas.text(x, y + size, sign, size, INK, bold=True)
        y = canvas.lines_of_text(x + 1.7 * size, y, [line], size, INK)
    return y
