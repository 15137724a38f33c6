"""Medians, and the scatter about them: what dust, dead rows and text in a reading hardly move.

NumPy's own check their input and look for NaN, which costs more than sorting the few values of one reading does.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "MAD_SD",
    "MEDIAN_SD",
    "column_medians",
    "median_high",
    "middle_of",
    "quantile_of",
    "running_middle",
    "spread_of",
]

MAD_SD = 1.4826
"""Standard deviation of normal values over their median absolute deviation: 1 over the normal quantile of 3/4."""

MEDIAN_SD = 1.25
"""Standard deviation of the median of many normal values over that of their mean: about the root of pi / 2."""


def middle_of(values: NDArray[Any], axis: int = 0) -> NDArray[Any]:
    """Median along `axis` of floats, as `numpy.median`; NaN is not looked for."""
    ordered = np.sort(values, axis=axis)
    half, odd = divmod(values.shape[axis], 2)
    upper = np.asarray(ordered.take(half, axis))
    return upper if odd else np.asarray((ordered.take(half - 1, axis) + upper) / 2)


def running_middle(values: NDArray[np.float64], window: int) -> NDArray[np.float64]:
    """Median of the `window` values (odd) about each along the last axis; at the ends, of those mirrored there."""
    return middle_of(values[..., _windows(values.shape[-1], window)], -1)


@lru_cache(maxsize=64)
def _windows(count: int, window: int) -> NDArray[np.int64]:
    """Places, of `count`, of the `window` values about each, mirrored at the ends; no wider than they allow."""
    half = min(window // 2, (count - 1) // 2)
    at: NDArray[np.int64] = np.abs(np.arange(count)[:, None] + np.arange(-half, half + 1))
    at = np.minimum(at, 2 * (count - 1) - at)
    at.flags.writeable = False
    return at


def column_medians(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median of the finite values of each column of `values`, (columns,); 0 where there are none."""
    ordered = np.sort(values, axis=0)  # NaN last
    known = np.isfinite(values).sum(axis=0)
    columns = np.arange(values.shape[1])
    low, high = np.maximum(known - 1, 0) // 2, known // 2
    high = np.minimum(high, np.maximum(known - 1, 0))
    middle = 0.5 * (ordered[low, columns] + ordered[high, columns])
    return np.where(known > 0, middle, 0.0)


def median_high(values: NDArray[Any]) -> float:
    """Median of all values of any shape, the upper of the two middle ones, as `statistics.median_high`."""
    flat = values.ravel()
    return float(np.partition(flat, len(flat) // 2)[len(flat) // 2])


def spread_of(values: NDArray[np.float64]) -> float:
    """Robust standard deviation of `values`, from their median absolute deviation."""
    return MAD_SD * float(middle_of(np.abs(values - middle_of(values))))


def quantile_of(values: NDArray[Any], share: float) -> float:
    """Value under which `share` of all `values` lie, linearly between two, as `numpy.quantile`."""
    ordered = np.sort(values, axis=None)
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return float(ordered[below] + (place - below) * (ordered[above] - ordered[below]))
