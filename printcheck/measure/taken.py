"""Rows bare in both printings of a ladder, though the picture takes lines away: the head's, or the picture's.

What denoising takes falls on other rows in either printing, for it goes by the noise there. A nozzle that is dead
leaves the same row bare in both. So where the printings, laid over one another, are bare in more of the same rows
than chance would put together, those are the head's. How weak they are the picture tells in part: denoising takes
off every line what it takes off the sound ones, at the most (soft thresholding: D. Donoho, IEEE Trans. Inf. Theory
41(3), 1995).
"""

from __future__ import annotations

from dataclasses import replace
from math import comb
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.printings import advance_of_missing

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from printcheck.measure.dashes import Judged
    from printcheck.pattern.elements import Ladder

__all__ = ["missing_in_both"]

_CHANCE = LIMITS["bare_in_both_by_chance"].value
_STRAY = LIMITS["bare_in_both_stray"].value
_UPPER_SD = 2.0  # of both readings' mean, by which a bare row may be stronger than it reads


def missing_in_both(
    ladders: tuple[Ladder, ...], judged: list[Judged], kept: tuple[float, ...], rows: int
) -> list[Judged]:
    """Call missing what two printings of `rows` rows show bare alike, where lines may have been taken.

    Parameters
    ----------
    ladders, judged : tuple, list
        The printings of one ink's ladder, and their dashes.
    kept : tuple of float
        What is left of the lines' weight in each printing; see `weight_kept`. At 0 nothing is told.
    rows : int
        Of the head.

    Returns
    -------
    list of Judged
        Rows bare in one printing alone, and those too many to be told from chance, stay as they are.
    """
    if len(judged) != 2 or min(kept) <= 0.0 or all(one.taken is None for one in judged):
        return judged
    bare = np.stack([_bare(one) for one in judged])
    shift = advance_of_missing(np.where(bare, "missing", "present"), rows) or 0
    here = np.arange(max(0, -shift), min(rows, rows - shift))  # rows of the first printing that the second has too
    first, second = bare[0, here], bare[1, here + shift]
    strata = list(_counts(_alike(here, rows, len(ladders[0].columns)), first, second))
    tried = 1 if shift == 0 else 2 * rows - 1
    stray = sum((a - k) * (b - k) / max(n - k, 1) for n, a, b, k in strata)
    if stray > _STRAY or tried * _by_chance(strata) > _CHANCE:
        return judged
    both = here[first & second]
    gone = both[_at_most(judged, both, both + shift, kept) < LIMITS["dash_missing"].value]
    return [_missing(one, own) for one, own in zip(judged, (gone, gone + shift), strict=True)]


def _bare(one: Judged) -> NDArray[np.bool_]:
    """Dashes (rows,) of one printing that show bare paper, whatever that is worth."""
    bare = np.asarray(one.state == "missing")
    return bare if one.taken is None else bare | one.taken


def _alike(row: NDArray[np.int64], rows: int, columns: int) -> NDArray[np.int64]:
    """Number, for each `row`, of those that a picture may treat like it in both printings.

    A column lies at one place across the page, where it may be less sharp, and the first and the last dashes of the
    columns lie beside bare paper: what lines are lost for that comes back with the layout.
    """
    return np.where(row < columns, columns, np.where(row >= rows - columns, columns + 1, row % columns))


def _counts(
    strata: NDArray[np.int64], first: NDArray[np.bool_], second: NDArray[np.bool_]
) -> Iterator[tuple[int, int, int, int]]:
    """Of each of the `strata` (N,): its rows, those bare in the first and in the second printing, and in both."""
    for number in np.unique(strata).tolist():
        own = strata == number
        a, b = first[own], second[own]
        yield int(own.sum()), int(a.sum()), int(b.sum()), int((a & b).sum())


def _by_chance(strata: Sequence[tuple[int, int, int, int]]) -> float:
    """Probability that rows bare at random in each stratum coincide as often as seen, all strata together.

    The exact conditional test of M. Birch (J. R. Stat. Soc. B 26, 1964): hypergeometric counts, added up.
    """
    total = np.ones(1)
    for n, a, b, _ in strata:
        total = np.convolve(total, [comb(a, k) * comb(n - a, b - k) / comb(n, b) for k in range(min(a, b) + 1)])
    return float(total[sum(k for _, _, _, k in strata) :].sum())


def _at_most(
    judged: list[Judged], first: NDArray[np.int64], second: NDArray[np.int64], kept: tuple[float, ...]
) -> NDArray[np.float64]:
    """Strength that dashes (N,) may have had on paper, in terms of sound ones: what is left, and what was taken.

    Where many read alike they may be the half gone lines, and what was taken for bare paper no such thing.
    """
    strength = np.stack(
        [one.zero + (1.0 - one.zero) * one.strength[own] for one, own in zip(judged, (first, second), strict=True)]
    )
    sd = np.stack([judged[0].sd[first], judged[1].sd[second]])
    left = np.clip(strength.mean(axis=0), 0.0, None) + _UPPER_SD * np.hypot(*sd) / 2
    share = min(*kept, 1.0)
    return np.asarray(1.0 - share + share * left)


def _missing(one: Judged, gone: NDArray[np.int64]) -> Judged:
    """The same with the rows `gone` missing, and no longer taken."""
    state = one.state.copy()
    state[gone] = "missing"
    if one.taken is None:
        return replace(one, state=state)
    taken = one.taken.copy()
    taken[gone] = False
    return replace(one, state=state, taken=taken)
