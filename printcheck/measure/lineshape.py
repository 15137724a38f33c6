"""A printed line as a capture shows it: a Gaussian, averaged over each sample, and how it changes when it moves."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["LINE", "SLOPE", "SPREAD", "edge_sigma", "line_design", "line_reach"]

_FRACTIONS = 64  # places within a sample that lines are tabulated for: a table is 1/128 sample off at most
_REACH = 5.0  # widths beyond which a line is taken as nothing: 3e-7 of its area


LINE, SLOPE, SPREAD = range(3)
"""How a line of unit area shows, negative where it takes light away, 1/mm; its change for a move of one sigma down;
and its change, of the same area, for a sigma larger by one e-fold."""


def line_design(
    y: NDArray[np.float64],
    centre: NDArray[np.float64],
    step: float,
    width: float,
    kinds: int,
    more: int = 0,
    wider: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """How lines at N places in each of C columns show in H samples, (C, kinds N + more, H).

    Parameters
    ----------
    y : (H,) float64
        Sample centres, mm, `step` apart.
    centre : (C, N) float64
        Middles of the lines, mm.
    step, width : float
        Sample spacing and sigma of the lines, mm.
    kinds : int
        So many of `LINE`, `SLOPE`, `SPREAD`.
    more : int
        Rows of zeros to add, for whatever else is fitted.
    wider : (C, N) float64, optional
        E-folds, to first order, by which the sigma of each line is larger than `width`.
    """
    columns, lines = centre.shape
    exact = (centre - y[0]) / step
    nearest = np.floor(exact + 0.5).astype(np.int64)
    slot = np.minimum(((exact - nearest + 0.5) * _FRACTIONS).astype(np.int64), _FRACTIONS - 1)
    reach = line_reach(step, width)
    at = nearest[:, :, None] + np.arange(-reach, reach + 1)
    at[(at < 0) | (at >= len(y))] = len(y)  # one sample more takes what falls outside
    out = np.zeros((columns, kinds * lines + more, len(y) + 1))
    column, line = np.arange(columns)[:, None, None], np.arange(lines)[None, :, None]
    tables = _tables(step, width)
    for kind, table in enumerate(tables[:kinds]):
        shown = table[slot]
        if kind == LINE and wider is not None:
            shown += wider[:, :, None] * tables[SPREAD][slot]
        out[column, kind * lines + line, at] = shown
    return out[:, :, :-1]


def line_reach(step: float, width: float) -> int:
    """Count the samples to either side of a line's own in which it shows."""
    return int(np.ceil(_REACH * width / step)) + 1


@lru_cache(maxsize=64)
def _tables(step: float, width: float) -> tuple[NDArray[np.float64], ...]:
    """Lines, slopes and spreads sampled about a line in each of `_FRACTIONS` places within a sample, (F, K) each."""
    reach = line_reach(step, width)
    offset = (np.arange(_FRACTIONS) + 0.5) / _FRACTIONS - 0.5
    distance = (np.arange(-reach, reach + 1)[None, :] - offset[:, None]) * step
    low, high = distance - step / 2, distance + step / 2
    line = (_erf(high / (np.sqrt(2) * width)) - _erf(low / (np.sqrt(2) * width))) / (2 * step)
    bell = [np.exp(-0.5 * (edge / width) ** 2) / (np.sqrt(2 * np.pi) * width) for edge in (low, high)]
    return -line, width * (bell[1] - bell[0]) / step, (high * bell[1] - low * bell[0]) / step


def _erf(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Error function to 1.5e-7 (M. Abramowitz and I. Stegun, Handbook of Mathematical Functions, 7.1.26)."""
    t = 1.0 / (1.0 + 0.3275911 * np.abs(x))
    poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    return np.asarray(np.sign(x) * (1.0 - poly * np.exp(-x * x)))


def edge_sigma(profile: NDArray[np.float64], step: float, sigmas: NDArray[np.float64]) -> float | None:
    """Sigma of the blur of one edge from light (first sample) to dark.

    Parameters
    ----------
    profile : (N,) float64
        Linear light across the edge.
    step : float
        mm a sample.
    sigmas : (S,) float64
        Trial values, ascending.

    Returns
    -------
    float or None
        Sigma in mm; none where there is no clear edge near the middle.
    """
    high, low = np.median(profile[: len(profile) // 4]), np.median(profile[-len(profile) // 4 :])
    if len(profile) < 6 or high - low < 0.25 * high:
        return None
    place = np.arange(len(profile), dtype=np.float64) * step
    crossed = np.flatnonzero((profile[:-1] >= (high + low) / 2) & (profile[1:] < (high + low) / 2))
    if len(crossed) != 1:
        return None
    k = int(crossed[0])
    middle = place[k] + step * (profile[k] - (high + low) / 2) / (profile[k] - profile[k + 1])
    scaled = (profile - low) / (high - low)
    costs = []
    for sigma in sigmas:
        # averaged over a sample, which adds step^2 / 12 to the variance
        wide = np.sqrt(sigma**2 + step**2 / 12)
        costs.append(float(np.sum((scaled - 0.5 * (1 - _erf((place - middle) / (np.sqrt(2) * wide)))) ** 2)))
    return float(sigmas[int(np.argmin(costs))])
