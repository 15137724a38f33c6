"""Whole spacings: a comb's phase tells its place up to one dash, its ends tell which dash.

Above a column's first dash and below its last the paper is bare. Where a map is off by a spacing or more, as on a
badly curled sheet, ink shows one place beyond one end and is lacking at the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printcheck.register.rows import rows_of
from printcheck.robust import quantile_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.pattern.elements import Ladder

__all__ = ["column_slips"]

_NEIGHBOURS = 2  # columns to either side that vote with one: a dead row at an end is no slip
_INNER = 3  # dashes next to either end that tell how dark a dash is
_SURE = 0.8  # by how much of a dash's depth, summed over four places, one answer must beat the others


def column_slips(
    profiles: NDArray[np.float64],
    y_mm: NDArray[np.float64],
    ladder: Ladder,
    top_mm: NDArray[np.float64],
    bottom_mm: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Whole spacings that each column lies below where its phase puts it, and where that is beyond doubt.

    Parameters
    ----------
    profiles : (H, columns) float64
        Linear light averaged along the dashes, at least most of a spacing of bare paper above and below included.
    y_mm : (H,) float64
    ladder : Ladder
    top_mm, bottom_mm : (columns,) float64
        Displacement of the columns' upper and lower ends by their phases; NaN where not known.

    Returns
    -------
    slips : (columns,) int64
        -1, 0 or 1.
    sure : (columns,) bool
    """
    count = len(ladder.columns)
    every = np.arange(count)
    spacing = count * ladder.pitch_mm
    rows = rows_of(ladder)
    upper = rows.middle_mm[rows.first, 1] + top_mm
    lower = rows.middle_mm[rows.last, 1] + bottom_mm

    def dips(places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Depth of a dash at `places` (P, columns), against the light half a spacing to either side."""
        seen = (places - 0.25 * spacing >= y_mm[0]) & (places + 0.25 * spacing <= y_mm[-1])  # never where not known
        around = np.where(seen, places, y_mm[0]) + np.array([[[-0.5]], [[0.0]], [[0.5]]]) * spacing
        # between samples linearly; the samples are evenly spaced
        at = (np.clip(around, y_mm[0], y_mm[-1]) - y_mm[0]) / (y_mm[1] - y_mm[0])
        above = np.minimum(at.astype(np.int64), len(y_mm) - 2)
        upper, lower = profiles[above, every], profiles[above + 1, every]
        light = upper + (at - above) * (lower - upper)
        return np.where(seen, (light[0] + light[2]) / 2 - light[1], np.nan)

    inward = np.arange(1, _INNER + 1)[:, None] * spacing
    known = dips(np.concatenate([upper + inward, lower - inward]))
    known = known[np.isfinite(known)]
    depth = quantile_of(known, 0.5) if known.size else 0.0
    if depth <= 0:
        return np.zeros(count, np.int64), np.zeros(count, bool)
    ends = np.clip(dips(np.stack([upper - spacing, upper, lower, lower + spacing])) / depth, 0.0, 1.0)
    # what is left out of a sum for being beyond the view counts as neither ink nor paper
    above, top, bottom, below = np.where(np.isfinite(ends), ends, 0.5)
    scores = np.stack([above + top - bottom - below, top + bottom - above - below, bottom + below - above - top])
    voted = _voted(scores)
    best = np.argmax(voted, axis=0)
    ordered = np.sort(voted, axis=0)
    sure = ordered[2] - ordered[1] > _SURE
    return np.where(sure, best - 1, 0), sure


def _voted(scores: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median of `scores` (3, columns) over each column and its neighbours, of which the outer columns have fewer."""
    count = scores.shape[1]
    column = np.arange(count)
    near = column[:, None] + np.arange(-_NEIGHBOURS, _NEIGHBOURS + 1)
    inside = (near >= 0) & (near < count)
    ordered = np.sort(np.where(inside, scores[:, near.clip(0, count - 1)], np.inf), axis=2)
    known = inside.sum(axis=1)
    return np.asarray((ordered[:, column, (known - 1) // 2] + ordered[:, column, known // 2]) / 2)
