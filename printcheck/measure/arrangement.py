"""How missing rows lie in the head: scattered, a run of neighbours, or a regular step.

A run is what a clog or trapped air does; a regular step is what a failed address line of a matrix-wired head does
(common practice, no source), and no cleaning cures that. So a step must not be seen where there is none:

For every step s from 2 up, chains r, r + s, r + 2s ... of missing rows with sound rows between are looked for. Were
the n missing rows thrown at random among N rows, the expected number of chains of at least m members over all
starts and steps is at most sum over s of (N - (m - 1) s) (n / N)^m. A chain is believed where that expectation is
below ``LIMITS["stride_false_alarm"]`` (one sheet in 10 000), which takes about five members at ten missing rows of
416. Steps near a whole fraction of the head height with no more members than the head has passes or the paper has
advances are one nozzle coming back, not a step: they are passed over by asking for at least five members spread
over at least half the head, and by leaving out steps of a quarter of the head or more.
"""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.limits import LIMITS

__all__ = ["Arrangement", "arrange"]

_MIN_CHAIN = 5
_MIN_SPAN = 0.5  # of the head: an address line reaches from end to end


@dataclass(frozen=True, slots=True)
class Arrangement:
    """`kind` is ``"none"``, ``"scattered"``, ``"run"`` or ``"stride"``; `expected` chains by chance."""

    kind: str
    stride: int | None
    longest_run: int
    expected: float | None


def arrange(missing: set[int], rows: int, returns: tuple[int, ...] = ()) -> Arrangement:
    """Name the arrangement of `missing` rows out of `rows`.

    Parameters
    ----------
    missing : set of int
    rows : int
    returns : tuple of int
        Steps at which one nozzle comes back through the paper's advance; never called a stride.
    """
    if not missing:
        return Arrangement("none", None, 0, None)
    longest = _longest_run(missing, rows)
    chain, step, expected = _best_chain(missing, rows, returns)
    if chain and expected < LIMITS["stride_false_alarm"].value:
        return Arrangement("stride", step, longest, expected)
    if longest >= LIMITS["run_rows"].value:
        return Arrangement("run", None, longest, None)
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


def _best_chain(missing: set[int], rows: int, returns: tuple[int, ...]) -> tuple[int, int, float]:
    """Members and step of the least likely chain, and how many like it chance would give."""
    # a run is one event, not many: rows with a missing neighbour take no part, except in a step of 2
    lone = {r for r in missing if r - 1 not in missing and r + 1 not in missing}
    density = max(len(lone), 1) / rows
    best = (0, 0, float("inf"))
    for step in range(2, rows // 4):
        if any(abs(step - back) <= 1 for back in returns):
            continue
        for start in lone:
            if start - step in lone:
                continue
            members = 1
            while start + members * step in lone:
                members += 1
            if members < _MIN_CHAIN or (members - 1) * step < _MIN_SPAN * rows:
                continue
            expected = sum(
                (rows - (members - 1) * s) * density**members
                for s in range(2, rows // 4)
                if rows > (members - 1) * s
            )
            if expected < best[2]:
                best = (members, step, expected)
    return best
