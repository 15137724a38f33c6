"""Medians, and the scatter about them: what dust, dead rows and text in a reading hardly move.

NumPy's own check their input and look for NaN, which costs more than sorting the few values of one reading does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["MAD_SD", "median_high", "medians_of_columns", "middle_of", "quantile_of"]

MAD_SD = 1.4826
"""Standard deviation of normal values over their median absolute deviation: 1 over the normal quantile of 3/4."""


def middle_of(values: NDArray[Any], axis: int = 0) -> NDArray[Any]:
    """Median along `axis`, as `numpy.median`; NaN is not looked for."""
    ordered = np.sort(values, axis=axis)
    count = values.shape[axis]
    return np.asarray((ordered.take((count - 1) // 2, axis) + ordered.take(count // 2, axis)) / 2)


def medians_of_columns(values: NDArray[np.float64]) -> NDArray[np.float64]:
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


def quantile_of(values: NDArray[np.float64], share: float) -> float:
    """Value under which `share` of all `values` lie, linearly between two, as `numpy.quantile`."""
    ordered = np.sort(values, axis=None)
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return float(ordered[below] + (place - below) * (ordered[above] - ordered[below]))
