"""Two sheets side by side, laid flat at the same scale, every change marked in its place.

A shape for each, in colours that any colour vision tells apart, none of them green: a tick under a row that came
back, a ring round one still missing, a cross over one newly missing, a broken box round one that is missing and was
not readable before. Where rows can't be matched, a ring is round each that is missing.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from PIL import Image

from printcheck.geometry import Box
from printcheck.measure.result import LinesReading
from printcheck.pattern.elements import Ladder
from printcheck.pattern.layout import Layout
from printcheck.pipeline import Scored
from printcheck.report.canvas import Canvas, Points, text_width
from printcheck.report.compare_text import outcome_words
from printcheck.report.palette import INK, MUTED, PAPER, RULE, STATE, Rgb
from printcheck.report.picture import flattened, reduced
from printcheck.report.shapes import draw_state
from printcheck.report.words import HEADLINES
from printcheck.verdict.compare import Comparison
from printcheck.verdict.paired_rows import missing_rows

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["CHANGE_RGB", "comparison_picture", "comparison_png"]

CHANGE_RGB: dict[str, Rgb] = {
    "recovered": STATE["weak"],  # the blue, vermilion and wine of the palette
    "still missing": STATE["missing"],
    "newly missing": STATE["displaced"],
    "missing, unread before": STATE["unreadable"],
}
_STATE_OF = {"still missing": "missing", "missing, unread before": "unreadable"}  # drawn as on the marked picture
_SCALE = 6.0  # px a mm: 152 dots/inch
_INSET_MM = 6.0
_EDGE_MM = 5.0
_HEAD_MM = 26.0
_LINE_MM = 0.32


def comparison_png(comparison: Comparison, before: Scored, after: Scored) -> bytes:
    """Encode the picture as a PNG file, sRGB."""
    out = io.BytesIO()
    Image.fromarray(comparison_picture(comparison, before, after)).save(out, "PNG", compress_level=4)
    return out.getvalue()


def comparison_picture(comparison: Comparison, before: Scored, after: Scored) -> NDArray[np.uint8]:
    """Draw the two sheets side by side under a line that says the outcome; (H, W, 3) uint8, sRGB.

    A picture without a sheet on it is shown as it was taken, in the room of the page.
    """
    layout = comparison.before.layout or comparison.after.layout
    page = Box(0, 0, *((210.0, 297.0) if layout is None else (layout.width_mm, layout.height_mm))).inset(_INSET_MM)
    s = _SCALE
    edge, top = round(_EDGE_MM * s), round(_HEAD_MM * s)
    width, height = round(page.width * s), round(page.height * s)
    canvas = Canvas(2 * width + 3 * edge, top + height + edge, PAPER)
    word, meaning = outcome_words(comparison)
    canvas.text(edge, 9.5 * s, word, 7 * s, bold=True)
    canvas.text(edge + text_width(word, 7 * s, bold=True) + 3 * s, 9.5 * s, meaning, 4 * s, MUTED)
    if layout is not None:
        ticket = comparison.after.ticket or comparison.before.ticket
        identity = (f"ticket {ticket}, " if ticket else "") + f"head {layout.head.name}, {layout.page.name}"
        canvas.text(canvas.pixels.shape[1] - edge, 9.5 * s, identity, 4 * s, MUTED, anchor="rs")
    matched = all(ink.counts is None or ink.recovered is not None for ink in comparison.inks)
    _legend(canvas, edge, 15.5 * s, s, matched=matched)
    for number, (name, scored) in enumerate((("Before", before), ("After", after))):
        x = edge + number * (width + edge)
        verdict = HEADLINES[scored.sheet.assessment.action][0].lower()
        canvas.text(x, top - 1.8 * s, f"{name}: {verdict}", 4 * s, bold=True)
        if scored.registration is None or scored.sheet.layout is None:
            canvas.paste(reduced(scored.capture, width, height), x, top)
        else:
            canvas.paste(flattened(scored.capture, scored.registration, page, s), x, top)
            _mark(canvas, comparison, scored.sheet.lines, scored.sheet.layout, page, x, top, second=number == 1)
        canvas.line(list(Box(x, top, x + width, top + height).corners), RULE, 1, closed=True)
    return canvas.finish()


def _mark(
    canvas: Canvas,
    comparison: Comparison,
    lines: tuple[LinesReading, ...],
    layout: Layout,
    page: Box,
    x: int,
    y: int,
    *,
    second: bool,
) -> None:
    """Mark every changed or missing row on one of the two pages; rows side by side in a column share a mark."""
    for ink in comparison.inks:
        reading = next(r for r in lines if r.ink == ink.ink)
        rows = (ink.recovered, ink.still_missing, ink.newly_missing, ink.missing_unread_before)
        if ink.counts is not None and ink.recovered is None:  # not matched: each sheet's own
            rows = ((), tuple(sorted(missing_rows(reading))), (), ())
        for kind, changed in zip(CHANGE_RGB, rows, strict=True):
            on_sheet = [(row + ink.shift_rows * second) % reading.rows for row in changed or ()]
            for ladder in layout.ladders_of(ink.ink):
                at = [row + (reading.advance_rows or 0) * (ladder.repeat > 0) for row in on_sheet]
                for box in _chains(ladder, [row for row in at if 0 <= row < ladder.rows]):
                    x0, x1 = (x + (v - page.x0) * _SCALE for v in (box.x0, box.x1))
                    y0, y1 = (y + (v - page.y0) * _SCALE for v in (box.y0, box.y1))
                    _draw(canvas, kind, Box(x0, y0, x1, y1), _SCALE)


def _chains(ladder: Ladder, rows: list[int]) -> list[Box]:
    """What dashes of `rows` cover that follow one another in a column, mm on the page."""
    chains: list[list[int]] = []
    last: dict[int, list[int]] = {}  # the latest chain of each column
    for row in sorted(rows):
        column = ladder.column_of(row)
        if column in last and row - last[column][-1] == len(ladder.order):
            last[column].append(row)
        else:
            last[column] = [row]
            chains.append(last[column])
    ends = [(ladder.dash(chain[0]), ladder.dash(chain[-1])) for chain in chains]
    return [Box(top.x0, top.y0, foot.x1, foot.y1) for top, foot in ends]


def _draw(canvas: Canvas, kind: str, box: Box, s: float) -> None:
    rgb, line = CHANGE_RGB[kind], max(2.0, _LINE_MM * s)
    cx, cy = box.centre
    if kind in _STATE_OF:
        draw_state(canvas, _STATE_OF[kind], box, s)
    elif kind == "recovered":
        tick: Points = [(cx - 1.5 * s, cy + 0.2 * s), (cx - 0.4 * s, cy + 1.3 * s), (cx + 1.7 * s, cy - 1.1 * s)]
        canvas.line(tick, rgb, line)
    else:
        for way in (-1, 1):
            canvas.line([(cx - 1.3 * s, cy - way * 1.3 * s), (cx + 1.3 * s, cy + way * 1.3 * s)], rgb, line)


def _legend(canvas: Canvas, x: float, y: float, s: float, *, matched: bool) -> None:
    for kind in CHANGE_RGB:
        _draw(canvas, kind, Box(x, y - 0.8 * s, x + 7 * s, y - 0.6 * s), s)
        word = "missing, before or now" if kind == "still missing" and not matched else kind
        canvas.text(x + 9.5 * s, y, word, 3.2 * s, INK)
        x += 14 * s + text_width(word, 3.2 * s)
