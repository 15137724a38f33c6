"""Rows of two sheets against one another: the paper may have started at another place of the head.

A ladder is printed wherever the printer's swaths fall, so the same nozzle may print another row on the next sheet,
the same number of rows on for all. Which, only the pattern of missing rows can tell. One run of them is no
pattern: it fits into any longer one.
"""

from __future__ import annotations

from math import comb

from printcheck.limits import LIMITS

__all__ = ["may_lie_elsewhere", "row_shift", "started_alike"]

_CHANCE = LIMITS["compare_shift_by_chance"].value
_LEAST_EVENTS = 3  # rows missing on either sheet: fewer agree at some shift by chance


def row_shift(before: frozenset[int], after: frozenset[int], rows: int) -> int:
    """Rows to add, modulo `rows`, to a row before to find it after; 0 unless the missing rows prove another.

    Neighbours missing together are one event, not several. For a shift that brings k of the a events of one sheet
    onto the b events of the other, chance would bring as many together with the hypergeometric tail probability
    P(X >= k | rows, a, b); over all shifts that must be expected less than once in a thousand sheets.
    """
    first, second = _events(before, rows), _events(after, rows)
    if min(len(first), len(second)) < _LEAST_EVENTS:
        return 0

    def together(shift: int) -> int:
        return len({(row + shift) % rows for row in first} & second)

    still = together(0)
    best = max(range(rows), key=lambda shift: (together(shift), -min(shift, rows - shift)))
    agree = together(best)
    if best == 0 or agree < _LEAST_EVENTS or agree <= 2 * still:
        return 0
    chance = rows * _tail(agree, rows, len(first), len(second))
    return best if chance < _CHANCE else 0


def started_alike(before: frozenset[int], after: frozenset[int], rows: int) -> bool:
    """Whether the missing rows prove that the paper started at the same place of the head, as `row_shift` another."""
    first, second = _events(before, rows), _events(after, rows)
    agree = len(first & second)
    return agree >= _LEAST_EVENTS and rows * _tail(agree, rows, len(first), len(second)) < _CHANCE


def may_lie_elsewhere(
    before: frozenset[int],
    after: frozenset[int],
    rows: int,
    unread_before: frozenset[int] = frozenset(),
    unread_after: frozenset[int] = frozenset(),
) -> bool:
    """Whether changes both ways among a few events would be all one way, had the paper started elsewhere.

    That is where either sheet has too few events to prove a shift, neither sheet's missing rows are among the
    other's, and at some shift they are. Unread rows may be missing or not.
    """
    events = min(len(_events(before, rows)), len(_events(after, rows)))
    if not 0 < events < _LEAST_EVENTS or before <= after | unread_after or after <= before | unread_before:
        return False
    return any(
        _moved(before, shift, rows) <= after | unread_after or after <= _moved(before | unread_before, shift, rows)
        for shift in range(1, rows)
    )


def _moved(missing: frozenset[int], shift: int, rows: int) -> frozenset[int]:
    return frozenset((row + shift) % rows for row in missing)


def _events(missing: frozenset[int], rows: int) -> set[int]:
    """First row of each run of neighbours; a swath's ends meet."""
    return {row for row in missing if (row - 1) % rows not in missing}


def _tail(k: int, rows: int, a: int, b: int) -> float:
    """P(at least `k` common members) of two random subsets of `a` and `b` out of `rows`."""
    return sum(comb(a, i) * comb(rows - a, b - i) for i in range(k, min(a, b) + 1)) / comb(rows, b)
