"""Row numbers beside a ladder: which to write, on which line, and which dashes each points at."""

from __future__ import annotations

import math
from dataclasses import dataclass

from printcheck.pattern.elements import Ladder
from printcheck.report.words import spans

__all__ = ["Callout", "callouts_of", "spread"]

_MOST = 40  # numbers a ladder; more are thinned out evenly
_LINE_MOST = 4  # numbers a line


@dataclass(frozen=True, slots=True)
class Callout:
    """One line of row numbers in the margin.

    Attributes
    ----------
    text : str
    y : float
        Middle of the line, mm on the page.
    targets : tuple of (float, float)
        The end nearest the margin of a dash of each number, mm on the page.
    """

    text: str
    y: float
    targets: tuple[tuple[float, float], ...]


def callouts_of(
    ladder: Ladder, rows: tuple[int, ...], low: float, high: float, line_mm: float, *, left: bool
) -> list[Callout]:
    """Callouts for `rows` of `ladder`, in the margin to its `left` or right.

    Parameters
    ----------
    ladder : Ladder
    rows : tuple of int
        Ascending. Neighbours share a number as ``"120-159"``.
    low, high : float
        Room for the lines, mm on the page.
    line_mm : float
        Height of a line.
    left : bool
    """
    found = spans(rows)
    if not found:
        return []
    lines = max(1, int((high - low) / line_mm))
    most = min(_MOST, max(1, (lines - 1 if lines > 1 else 1) * _LINE_MOST))
    shown = found
    if len(found) > most:
        shown = [found[round(k * (len(found) - 1) / max(most - 1, 1))] for k in range(most)]
        lines = max(1, lines - 1)
    per_line = math.ceil(len(shown) / lines)
    drafts = []
    for start in range(0, len(shown), per_line):
        members = shown[start : start + per_line]
        text = ", ".join(str(a) if a == b else f"{a}\u2013{b}" for a, b in members)
        targets = tuple(_target(ladder, a, b, left) for a, b in members)
        drafts.append((text, sum(y for _, y in targets) / len(targets), targets))
    if len(shown) < len(found):
        drafts.append((f"and {len(found) - len(shown)} more", drafts[-1][1] + line_mm, ()))
    heights = spread([y for _, y, _ in drafts], line_mm, low + line_mm / 2, high - line_mm / 2)
    return [Callout(text, y, targets) for (text, _, targets), y in zip(drafts, heights, strict=True)]


def spread(wanted: list[float], apart: float, low: float, high: float) -> list[float]:
    """Places nearest to the ascending `wanted` (least squares) that are at least `apart`, within low to high.

    Where there is not room for all of them they keep their distance and run over `high`.
    """
    # with the distance taken off, order is all that is left to keep: isotonic regression by pooling neighbours
    pools: list[tuple[float, int]] = []
    for index, value in enumerate(wanted):
        mean, count = value - index * apart, 1
        while pools and pools[-1][0] > mean:
            other, size = pools.pop()
            mean, count = (mean * count + other * size) / (count + size), count + size
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    ceiling = max(low, high - (len(wanted) - 1) * apart)
    return [min(max(value, low), ceiling) + index * apart for index, value in enumerate(flat)]


def _target(ladder: Ladder, first: int, last: int, left: bool) -> tuple[float, float]:
    boxes = [ladder.dash(row) for row in range(first, last + 1)]
    ends = [(box.x0 if left else box.x1, box.centre[1]) for box in boxes]
    return min(ends) if left else max(ends)
