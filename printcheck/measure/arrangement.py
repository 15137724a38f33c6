"""How missing rows lie in the head: scattered, a run of neighbours, or a regular step.

A run is what a clog or trapped air does; a regular step is what a failed address line of a matrix-wired head does
(common practice, no source), and no cleaning cures that. So a step must not be seen where there is none:

* For every step s, chains r, r + s, r + 2s ... of missing rows are looked for. Were the n missing rows thrown at
  random among N rows, the expected number of chains of at least m members, over all starts and steps, would be at
  most the sum over s of (N - (m - 1) s) (n / N)^m. A chain is believed where that is below
  ``LIMITS["stride_false_alarm"]`` (one faulty sheet in 1000); the tests count false alarms
  on random sheets.
* The start of a swath cuts a step in two: chains of one step, the second beginning within two steps of the first's
  end, are believed together at the same chance of both, splits and offsets counted. A head that lays its passes over
  one another without saying so would print a chance chain twice, so the longer of the two must itself be one that
  chance gives on less than `_LIKELY` sheets.
* Rows of a run take no part: a run is one event, and holds chains of every step.
* One dead nozzle of an interlaced head comes back at every paper advance, once for each pass and head height. So a
  chain needs at least five members, and its step must be less than a quarter of the head's rows and less than half
  the rows between two returns, rows / passes.
* Two passes that share the rows (even ones, odd ones) print a run of dead nozzles as every second row: a chain of
  step 2 or 3 over less than `_MIN_SPAN` of the head is a run.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from printcheck.limits import LIMITS

__all__ = ["Arrangement", "arrange"]

_MIN_CHAIN = int(LIMITS["step_members"].value)
_MIN_SPAN = LIMITS["step_span"].value
_LIKELY = LIMITS["step_part_by_chance"].value
_MIN_PIECE, _MIN_PAIR = 4, 9  # members of each part of a step that was cut in two, and of both
_PAIR_SPAN = 0.7  # share of the head that both reach over
_CHANCE_RUN = LIMITS["run_by_chance"].value
_COMB_RUN = 4  # members of a chain of step 2 or 3 that make a run


@dataclass(frozen=True, slots=True)
class Arrangement:
    """`kind` is ``"none"``, ``"scattered"``, ``"run"`` or ``"stride"``.

    `longest_run` counts rows missing side by side (or at the step of a shared pass); `expected` is the number of
    chains like the one found that chance would give on one sheet.
    """

    kind: str
    stride: int | None
    longest_run: int
    expected: float | None


def arrange(missing: set[int], rows: int, passes: int = 1, *, steps: bool = True) -> Arrangement:
    """Name the arrangement of `missing` rows out of `rows` of a head that interlaces in `passes`.

    `steps` is false where a regular step is known not to be the head's.
    """
    if not missing:
        return Arrangement("none", None, 0, None)
    longest = _longest_run(missing, rows)
    chain, step, expected = _best_chain(missing, rows, passes) if steps else (0, 0, float("inf"))
    if chain and expected < LIMITS["stride_false_alarm"].value:
        return Arrangement("stride", step, longest, expected)
    if chain and expected < _LIKELY and passes == 1:
        step, together = _best_pair(missing, rows)
        if together < LIMITS["stride_false_alarm"].value:
            return Arrangement("stride", step, longest, together)
    if longest >= LIMITS["run_rows"].value and rows * (len(missing) / rows) ** longest < _CHANCE_RUN:
        return Arrangement("run", None, longest, None)
    shared = max(_longest_chain(missing, step) for step in (2, 3))
    if shared >= _COMB_RUN and 2 * rows * (len(missing) / rows) ** shared < _CHANCE_RUN:
        return Arrangement("run", None, shared, None)
    return Arrangement("scattered", None, longest, None)


def _longest_run(missing: set[int], rows: int) -> int:
    """Longest run of neighbours; the swath may start anywhere on the ladder, so its ends meet."""
    if len(missing) == rows:
        return rows
    longest = 0
    for row in missing:
        if (row - 1) % rows in missing:
            continue
        length = 1
        while (row + length) % rows in missing:
            length += 1
        longest = max(longest, length)
    return longest


def _longest_chain(members: set[int], step: int) -> int:
    return max((_length(members, row, step) for row in members if row - step not in members), default=0)


def _length(members: set[int], start: int, step: int) -> int:
    length = 1
    while start + length * step in members:
        length += 1
    return length


def _best_pair(missing: set[int], rows: int) -> tuple[int, float]:
    """Step of the least likely two chains that one step cut in two would make, and how many chance would give."""
    lone = _without_runs(missing)
    density = len(lone) / rows
    best = (0, float("inf"))
    for step in range(_MIN_PIECE, rows // 4):
        pieces = sorted(
            (row, members)
            for row in lone
            if row - step not in lone and (members := _length(lone, row, step)) >= _MIN_PIECE
        )
        for (first, count), (second, more) in itertools.permutations(pieces, 2):
            last, total = first + (count - 1) * step, count + more
            span = second + (more - 1) * step - first
            if not 0 < second - last <= 2 * step or total < _MIN_PAIR or span < _PAIR_SPAN * rows:
                continue
            splits = total - 2 * _MIN_PIECE + 1
            places = sum(2 * s * max(0, rows - (total - 1) * s) for s in range(_MIN_PIECE, rows // 4))
            expected = splits * places * density**total
            if expected < best[1]:
                best = (step, expected)
    return best


def _without_runs(missing: set[int]) -> set[int]:
    run = int(LIMITS["run_rows"].value)
    starts = range(1 - run, 1)
    return {r for r in missing if not any(missing.issuperset(range(r + a, r + a + run)) for a in starts)}


def _best_chain(missing: set[int], rows: int, passes: int) -> tuple[int, int, float]:
    """Members and step of the least likely chain, and how many like it chance would give."""
    lone = _without_runs(missing)
    density = len(lone) / rows
    largest = min(rows // 4, rows // (2 * passes)) if passes > 1 else rows // 4
    best = (0, 0, float("inf"))
    for step in range(2, largest):
        for start in lone:
            if start - step in lone:
                continue
            members = _length(lone, start, step)
            if members < _MIN_CHAIN or (members - 1) * step < _MIN_SPAN * rows:
                continue
            places = sum(max(0, rows - (members - 1) * s) for s in range(2, largest))
            expected = places * density**members
            if expected < best[2]:
                best = (members, step, expected)
    return best
