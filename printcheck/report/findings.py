"""Which dashes to mark: those of one state that follow one another in a column share one mark."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from printcheck.geometry import Box
from printcheck.measure.result import DashReading, LinesReading
from printcheck.pattern.layout import Layout

__all__ = ["Finding", "findings_of"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Dashes to be marked together.

    Attributes
    ----------
    state : str
        ``"missing"``, ``"weak"``, ``"displaced"`` or ``"unreadable"``.
    repeat : int
    rows : tuple of int
        Ascending.
    box : Box
        What the dashes cover, mm on the page.
    offset_mm : float or None
        Mean offset of displaced dashes, down positive.
    room_mm : float
        Distance to the next finding above or below in its column; infinite where there is none.
    """

    state: str
    repeat: int
    rows: tuple[int, ...]
    box: Box
    offset_mm: float | None
    room_mm: float


def findings_of(layout: Layout, reading: LinesReading) -> tuple[Finding, ...]:
    """The findings of one ink, by printing, column and row; none for an ink that is absent altogether.

    Dashes are joined only where no sound dash stands between them, so that a mark never takes in a sound one.
    """
    if reading.absent:
        return ()
    ladders = layout.ladders_of(reading.ink)
    chains: dict[tuple[int, int], list[list[DashReading]]] = {}
    for dash in reading.dashes:
        if dash.state == "present":
            continue
        ladder = ladders[dash.repeat]
        column = chains.setdefault((dash.repeat, ladder.column_of(dash.row)), [])
        last = column[-1][-1] if column else None
        joined = (
            last is not None
            and last.state == dash.state != "displaced"  # each displaced dash has an offset of its own
            and dash.row - last.row == len(ladder.order)
        )
        if joined:
            column[-1].append(dash)
        else:
            column.append([dash])
    return tuple(finding for key in sorted(chains) for finding in _column(chains[key]))


def _column(chains: list[list[DashReading]]) -> list[Finding]:
    """The findings of one column, from the top."""
    gaps = [b[0].box.y0 - a[-1].box.y1 for a, b in itertools.pairwise(chains)]
    rooms = [min(pair) for pair in itertools.pairwise([math.inf, *gaps, math.inf])]
    return [_finding(chain, room) for chain, room in zip(chains, rooms, strict=True)]


def _finding(chain: list[DashReading], room_mm: float) -> Finding:
    offsets = [d.offset_mm for d in chain if d.offset_mm is not None]
    return Finding(
        chain[0].state,
        chain[0].repeat,
        tuple(d.row for d in chain),
        Box(chain[0].box.x0, chain[0].box.y0, chain[0].box.x1, chain[-1].box.y1),
        sum(offsets) / len(offsets) if offsets else None,
        room_mm,
    )
