"""Rows of one ink on two sheets, each matched with the row that its nozzle prints on the other."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from printcheck.document import ScoredSheet
from printcheck.limits import LIMITS
from printcheck.measure.result import LinesReading
from printcheck.verdict.align import may_lie_elsewhere, row_shift, started_alike

__all__ = [
    "Changes", "Pair", "beyond_noise", "changes_of", "fewer_missing", "missing_changes", "missing_rows",
    "missing_unread_before", "pairs_of", "still_missing",
]  # fmt: skip

_SURE_SD = LIMITS["compare_sure"].value
_UNKNOWN = (math.nan, math.nan)


@dataclass(frozen=True, slots=True)
class Pair:
    """One ink of both sheets, with the shift between them, and whether its rows can be matched at all."""

    before: LinesReading
    after: LinesReading
    shift: int
    matched: bool = True

    def then(self, row: int) -> int:
        return (row + self.shift) % self.before.rows


def pairs_of(before: ScoredSheet, after: ScoredSheet) -> list[Pair]:
    """The inks of both sheets."""
    pairs = []
    for b in before.lines:
        a = next(reading for reading in after.lines if reading.ink == b.ink)
        a, b = _with_shift_of(b, a), _with_shift_of(a, b)
        pairs.append(Pair(b, a, row_shift(missing_rows(b), missing_rows(a), b.rows)))
    if any(started_alike(missing_rows(p.before), missing_rows(p.after), p.before.rows) for p in pairs):
        return pairs
    return [replace(pair, matched=pair.shift != 0 or not _may_lie_elsewhere(pair)) for pair in pairs]


def _may_lie_elsewhere(pair: Pair) -> bool:
    unread = (frozenset(reading.unreadable) for reading in (pair.before, pair.after))
    return may_lie_elsewhere(missing_rows(pair.before), missing_rows(pair.after), pair.before.rows, *unread)


def missing_rows(reading: LinesReading) -> frozenset[int]:
    """Rows missing in any readable printing; every row of an absent ink."""
    if reading.absent:
        return frozenset(range(reading.rows))
    return frozenset(reading.missing) | frozenset(reading.intermittent)


def _with_shift_of(other: LinesReading, reading: LinesReading) -> LinesReading:
    """Read the printings of `reading` with the shift that the `other` sheet shows between its own.

    One printer printed both, but with few rows missing a sheet can't show the shift itself, and a dead nozzle then
    counts as two rows. It is believed where it brings missing rows of the printings together.
    """
    shift, rows = other.advance_rows, reading.rows
    if not shift or reading.advance_rows is not None or reading.absent:
        return reading
    gone = {(d.row - (shift if d.repeat else 0)) % rows for d in reading.dashes if d.state == "missing"}
    if len(gone) >= len(missing_rows(reading)):
        return reading
    return replace(reading, missing=(), intermittent=tuple(sorted(gone)), advance_rows=shift)


@dataclass(frozen=True, slots=True)
class Changes:
    """Faulty rows of one ink before and after, among those that both sheets show."""

    before: frozenset[int]
    after: frozenset[int]
    seen: frozenset[int]


def changes_of(pair: Pair, faulty: Callable[[LinesReading], frozenset[int]]) -> Changes:
    """Rows that `faulty` gives of either reading, by their numbers on the first sheet."""
    unread_before, unread_after = set(pair.before.unreadable), set(pair.after.unreadable)
    rows = range(pair.before.rows)
    seen = frozenset(r for r in rows if r not in unread_before and pair.then(r) not in unread_after)
    was, now = faulty(pair.before), faulty(pair.after)
    return Changes(was & seen, frozenset(r for r in seen if pair.then(r) in now), seen)


def missing_changes(pair: Pair) -> Changes:
    """Rows missing before and after, of which none changed whose very dashes did not.

    Where the second printing begins elsewhere in the swath a nozzle may stand at two places of a ladder, and which
    two dashes make a row then differs with the few that are missing: the same dash, missing on both sheets, is of one
    row before and of another after.
    """
    changes = changes_of(pair, missing_rows)
    if pair.shift:
        return changes
    was, now = _missing_dashes(pair.before), _missing_dashes(pair.after)
    stayed = {row for row in changes.before - changes.after if _is_among(pair.before, row, now)}
    old = {row for row in changes.after - changes.before if _is_among(pair.after, row, was)}
    return replace(changes, after=(changes.after | stayed) - old)


def _missing_dashes(reading: LinesReading) -> set[tuple[int, int]]:
    return {(dash.repeat, dash.row) for dash in reading.dashes if dash.state == "missing"}


def _is_among(reading: LinesReading, row: int, missing: set[tuple[int, int]]) -> bool:
    """Whether dashes of `row` are missing, and all of them among those `missing` on the other sheet."""
    own = {(dash.repeat, dash.row) for dash in reading.dashes_of(row) if dash.state == "missing"}
    return bool(own) and own <= missing


def still_missing(pair: Pair, changes: Changes) -> frozenset[int]:
    """Missing on both; a row missing before and unread now has not been seen to come back."""
    unread_now = {row for row in range(pair.before.rows) if pair.then(row) in set(pair.after.unreadable)}
    return (changes.before & changes.after) | (missing_rows(pair.before) & unread_now)


def missing_unread_before(pair: Pair) -> tuple[int, ...]:
    """Rows missing now that no printing of the first sheet could show, by their numbers on that."""
    now = missing_rows(pair.after)
    return tuple(row for row in sorted(pair.before.unreadable) if pair.then(row) in now)


def fewer_missing(pair: Pair) -> int:
    """By how many fewer rows are missing now, below 0 by how many more: those unread may be either."""
    fewer = len(missing_rows(pair.before)) - len(missing_rows(pair.after))
    if fewer > 0:
        return max(0, fewer - len(pair.after.unreadable))
    return min(0, fewer + len(pair.before.unreadable))


def beyond_noise(pair: Pair, row: int, least: float = 0.0, sds: float = _SURE_SD) -> bool:
    """Tell whether the row's strengths differ by `sds` standard deviations of both readings, and by `least`.

    A fault that comes and goes shows in the printing at its worst; one that stays, better in the mean of all.
    """
    was, now = _strengths(pair.before, row), _strengths(pair.after, pair.then(row))
    return any(
        abs(before - after) > max(least, sds * math.hypot(before_sd, after_sd))
        for (before, before_sd), (after, after_sd) in (
            (min(was, default=_UNKNOWN), min(now, default=_UNKNOWN)),
            (_mean(was), _mean(now)),
        )
    )


def _mean(seen: list[tuple[float, float]]) -> tuple[float, float]:
    """Mean of strengths, and its standard deviation: the printings are read each for itself."""
    if not seen:
        return _UNKNOWN
    return sum(s for s, _ in seen) / len(seen), math.hypot(*(sd for _, sd in seen)) / len(seen)


def _strengths(reading: LinesReading, row: int) -> list[tuple[float, float]]:
    """Strength and standard deviation of each printing of a row."""
    if reading.absent:
        return [(0.0, 0.0)]
    return [
        (dash.strength, dash.strength_sd)
        for dash in reading.dashes_of(row)
        if dash.state != "unreadable" and dash.strength is not None and dash.strength_sd is not None
    ]
