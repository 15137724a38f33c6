"""The shop's figures as one picture: dots with their intervals, drawn with what the marked picture is drawn with."""

from __future__ import annotations

import io
from collections.abc import Sequence

from PIL import Image

from printcheck.geometry import Box
from printcheck.ledger.stats import Rate, Statistics
from printcheck.report.canvas import Canvas, text_width
from printcheck.report.palette import FAINT, INK, MUTED, PAPER, RULE, STATE

__all__ = ["statistics_png"]

_WIDTH = 1400
_EDGE = 50
_LABEL = 430  # room for names
_LINE = 38
_TITLE = 30
_TEXT = 20


def statistics_png(stats: Statistics, by: Sequence[str]) -> bytes:
    """Draw first-pass yields by each of `by`, cure rates, and rounds to good; PNG, sRGB."""
    panels = [
        (
            f"First-pass yield by {group.replace('-', ' ')}, with 95 % intervals",
            [(g.name, g.first_pass) for g in stats.groups[group]],
        )
        for group in by
    ]
    cures = [(f"{cure.step}: {cure.defect}", cure.rate) for cure in stats.cures]
    panels.append(("Cure rate by cleaning and defect, with 95 % intervals", cures))
    good = sum(stats.rounds_to_good.values())
    rounds = [
        (f"good at sheet {number}", Rate(count, good, count / good, None, None))
        for number, count in stats.rounds_to_good.items()
    ]
    panels.append(("Tickets by the sheet at which they first passed", rounds))
    panels = [(title, rows) for title, rows in panels if rows]
    height = 2 * _EDGE + sum(_panel_height(len(rows)) for _, rows in panels)
    canvas = Canvas(_WIDTH, height, PAPER)
    y = _EDGE
    for title, rows in panels:
        _panel(canvas, y, title, rows)
        y += _panel_height(len(rows))
    if not panels:
        canvas.text(_EDGE, _EDGE + _TEXT, "No ticket with a judged sheet yet.", _TEXT)
    out = io.BytesIO()
    Image.fromarray(canvas.finish()).save(out, "PNG", compress_level=6)
    return out.getvalue()


def _panel_height(rows: int) -> int:
    return _TITLE + 24 + _LINE * rows + 70


def _panel(canvas: Canvas, top: float, title: str, rows: Sequence[tuple[str, Rate]]) -> None:
    canvas.text(_EDGE, top + _TITLE - 6, title, _TITLE - 6, INK, bold=True)
    left, right = _EDGE + _LABEL, _WIDTH - _EDGE - 190
    first = top + _TITLE + 24
    bottom = first + _LINE * len(rows)
    for percent in range(0, 101, 25):
        x = left + (right - left) * percent / 100
        canvas.line([(x, first), (x, bottom)], RULE, 1)
        canvas.text(x, bottom + 24, f"{percent} %", _TEXT - 3, MUTED, anchor="ms")
    for number, (name, rate) in enumerate(rows):
        y = first + _LINE * (number + 0.5)
        if number % 2 == 0:
            canvas.box(Box(_EDGE, y - _LINE / 2 + 1, left - 8, y + _LINE / 2 - 1), FAINT)
        canvas.text(_EDGE + 6, y + 7, _short(name), _TEXT, INK)
        if rate.rate is None:
            continue
        x = left + (right - left) * rate.rate
        if rate.low is not None and rate.high is not None:
            ends = [left + (right - left) * v for v in (rate.low, rate.high)]
            canvas.line([(ends[0], y), (ends[1], y)], STATE["weak"], 3)
            for end in ends:
                canvas.line([(end, y - 7), (end, y + 7)], STATE["weak"], 3)
        else:
            canvas.box(Box(left, y - 10, max(x, left + 2), y + 10), STATE["weak"], 0.35)
        canvas.box(Box(x - 6, y - 6, x + 6, y + 6), STATE["weak"])
        canvas.text(right + 20, y + 7, f"{100 * rate.rate:.0f} %  ({rate.successes}/{rate.trials})", _TEXT, INK)


def _short(name: str) -> str:
    while text_width(name, _TEXT) > _LABEL - 24 and len(name) > 4:
        name = name[:-2] + "\u2026" if not name.endswith("\u2026") else name[:-3] + "\u2026"
    return name
