"""Two sheets side by side, laid flat at the same scale, every change marked in its place.

Three shapes in three colours that any colour vision tells apart, none of them green: a tick under a row that came
back, a ring round one still missing, a cross over one newly missing.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from PIL import Image

from printcheck.geometry import Box
from printcheck.measure.result import LinesReading
from printcheck.pattern.layout import Layout
from printcheck.pipeline import Scored
from printcheck.report.canvas import Canvas, Points, text_width
from printcheck.report.compare_text import OUTCOME_WORDS
from printcheck.report.palette import INK, MUTED, PAPER, RULE, STATE, Rgb
from printcheck.report.picture import flattened, reduced
from printcheck.report.shapes import draw_state
from printcheck.report.words import HEADLINES
from printcheck.verdict.compare import Comparison, InkComparison

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["CHANGE_RGB", "comparison_picture", "comparison_png"]

CHANGE_RGB: dict[str, Rgb] = {
    "recovered": STATE["weak"],  # the blue, vermilion and wine of the palette
    "still missing": STATE["missing"],
    "newly missing": STATE["displaced"],
}
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
    word, meaning = OUTCOME_WORDS[comparison.outcome]
    canvas.text(edge, 9.5 * s, word, 7 * s, bold=True)
    canvas.text(edge + text_width(word, 7 * s, bold=True) + 3 * s, 9.5 * s, meaning, 4 * s, MUTED)
    _legend(canvas, edge, 15.5 * s, s)
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
    """Mark every dash of a changed or missing row on one of the two pages."""
    for ink in comparison.inks:
        reading = next(r for r in lines if r.ink == ink.ink)
        for kind, row in _marked_rows(ink):
            on_sheet = (row + ink.shift_rows * second) % reading.rows
            for ladder in layout.ladders_of(ink.ink):
                at = on_sheet + (reading.advance_rows or 0) * (ladder.repeat > 0)
                if 0 <= at < ladder.rows:
                    box = ladder.dash(at)
                    _draw(
                        canvas,
                        kind,
                        Box(
                            x + (box.x0 - page.x0) * _SCALE,
                            y + (box.y0 - page.y0) * _SCALE,
                            x + (box.x1 - page.x0) * _SCALE,
                            y + (box.y1 - page.y0) * _SCALE,
                        ),
                        _SCALE,
                    )


def _marked_rows(ink: InkComparison) -> list[tuple[str, int]]:
    groups = zip(CHANGE_RGB, (ink.recovered, ink.still_missing, ink.newly_missing), strict=True)
    return [(kind, row) for kind, rows in groups for row in rows or ()]


def _draw(canvas: Canvas, kind: str, box: Box, s: float) -> None:
    rgb, line = CHANGE_RGB[kind], max(2.0, _LINE_MM * s)
    cx, cy = box.centre
    if kind == "still missing":
        draw_state(canvas, "missing", box, s)
    elif kind == "recovered":
        tick: Points = [(cx - 1.5 * s, cy + 0.2 * s), (cx - 0.4 * s, cy + 1.3 * s), (cx + 1.7 * s, cy - 1.1 * s)]
        canvas.line(tick, rgb, line)
    else:
        for way in (-1, 1):
            canvas.line([(cx - 1.3 * s, cy - way * 1.3 * s), (cx + 1.3 * s, cy + way * 1.3 * s)], rgb, line)


def _legend(canvas: Canvas, x: float, y: float, s: float) -> None:
    for kind in CHANGE_RGB:
        _draw(canvas, kind, Box(x, y - 0.8 * s, x + 7 * s, y - 0.6 * s), s)
        canvas.text(x + 9.5 * s, y, kind, 3.2 * s, INK)
        x += 14 * s + text_width(kind, 3.2 * s)
