"""The band on top of the marked picture: the verdict in large letters, what was read, and why."""

from __future__ import annotations

import math

from printcheck.document import ScoredSheet
from printcheck.geometry import Box
from printcheck.report.canvas import LEADING, Canvas, text_width, wrap
from printcheck.report.palette import FAINT, INK, MUTED, PAPER, VERDICT, Rgb
from printcheck.report.words import HEADLINES, capture_line
from printcheck.verdict.result import Action

__all__ = ["Banner"]

_REASONS = 4  # more are counted, not told
_WORD, _SUB, _META, _REASON = 10.0, 3.3, 3.3, 3.7  # letter sizes, mm
_GAP = 2.0  # between the two, mm
_LEAST_HEIGHT_MM = 25.0


class Banner:
    """A band laid out for one sheet and width, ready to be drawn.

    Parameters
    ----------
    sheet : ScoredSheet
    width : float
        px.
    scale : float
        px a mm.
    """

    def __init__(self, sheet: ScoredSheet, width: float, scale: float) -> None:
        self._sheet, self._width, self._scale = sheet, width, scale
        word, sub = HEADLINES[sheet.assessment.action]
        self._block = (
            max(text_width(word, _WORD * scale, bold=True) + 17 * scale, text_width(sub, _SUB * scale)) + 12 * scale
        )
        room = width - self._block - 12 * scale
        reasons = sheet.assessment.reasons
        self._lines: list[tuple[str, bool]] = []  # text, starts a reason
        for reason in reasons[:_REASONS]:
            for number, line in enumerate(wrap(reason.text, _REASON * scale, room - 4 * scale)):
                self._lines.append((line, number == 0))
        if len(reasons) > _REASONS:
            self._lines.append((f"and {len(reasons) - _REASONS} more", False))
        if not self._lines:
            self._lines = [("no limit was crossed", True)]
        self._meta = wrap(_meta(sheet), _META * scale, room)
        self._text_height = (LEADING * (len(self._meta) * _META + len(self._lines) * _REASON) + _GAP) * scale
        self.height = round(max(_LEAST_HEIGHT_MM * scale, self._text_height + 7 * scale))

    def draw(self, canvas: Canvas) -> None:
        """Draw it along the top edge of `canvas`."""
        s, sheet = self._scale, self._sheet
        action = sheet.assessment.action
        word, sub = HEADLINES[action]
        canvas.box(Box(0, 0, self._width, self.height), FAINT)
        canvas.box(Box(0, 0, self._block, self.height), VERDICT[action])
        middle = self.height / 2
        _icon(canvas, action, 12 * s, middle - 2.2 * s, 5.6 * s)
        canvas.text(22 * s, middle + 1.4 * s, word, _WORD * s, PAPER, bold=True)
        canvas.text(6 * s, middle + 8.6 * s, sub, _SUB * s, PAPER)
        x = self._block + 6 * s
        y = (self.height - self._text_height) / 2
        y = canvas.lines_of_text(x, y, self._meta, _META * s, MUTED) + _GAP * s
        for line, first in self._lines:
            if first:
                top = y + 0.42 * _REASON * s
                canvas.box(Box(x, top, x + 1.3 * s, top + 1.3 * s), VERDICT[action])
            y = canvas.lines_of_text(x + 4 * s, y, [line], _REASON * s, INK)


def _meta(sheet: ScoredSheet) -> str:
    parts = []
    if sheet.layout is not None:
        if sheet.ticket:
            parts.append(f"ticket {sheet.ticket}")
        parts += [f"head {sheet.layout.head.name}", sheet.layout.page.name]
    return "   \u00b7   ".join([*parts, capture_line(sheet)])


def _icon(canvas: Canvas, action: Action, x: float, y: float, r: float) -> None:
    """A sign for each verdict: a tick, a drop, a cross, a turning arrow."""
    white: Rgb = PAPER
    width = 0.22 * r
    if action is Action.TOP_OFF:
        tick = [(x - 0.75 * r, y + 0.05 * r), (x - 0.2 * r, y + 0.6 * r), (x + 0.8 * r, y - 0.6 * r)]
        canvas.line(tick, white, width)
    elif action is Action.REJECT:
        d = 0.6 * r
        canvas.line([(x - d, y - d), (x + d, y + d)], white, width)
        canvas.line([(x - d, y + d), (x + d, y - d)], white, width)
    elif action is Action.PURGE:
        outline = [(x, y - r), *_circle(x, y + 0.25 * r, 0.62 * r, -28, 208)]
        canvas.line(outline, white, width, closed=True)
    else:
        arc = _circle(x, y, 0.72 * r, -40, 240)
        canvas.line(arc, white, width)
        tip_x, tip_y = arc[0]
        head = ((-0.34, 0.06), (0.3, 0.22), (0.16, -0.46))
        canvas.fill([(tip_x + dx * r, tip_y + dy * r) for dx, dy in head], white)


def _circle(x: float, y: float, r: float, start: float, stop: float) -> list[tuple[float, float]]:
    steps = 32
    angles = [math.radians(start + (stop - start) * k / steps) for k in range(steps + 1)]
    return [(x + r * math.cos(a), y + r * math.sin(a)) for a in angles]
