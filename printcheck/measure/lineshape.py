"""A printed line as a capture shows it: a Gaussian, averaged over each sample, and how it changes when it moves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Windows", "edge_profile", "line_windows"]

_FRACTIONS = 64  # places within a sample that lines are tabulated for: a table is 1/128 sample off at most
_REACH = 5.0  # widths beyond which a line is taken as nothing: 3e-7 of its area


@dataclass(frozen=True, slots=True)
class Windows:
    """The samples about each of N lines, and how a line of unit area shows in them.

    Attributes
    ----------
    at : (N, K) int64
        Samples, clipped to those there are.
    lines : (N, K) float64
        Light taken away by a line of unit area, 1/mm, negative; 0 beyond the samples.
    slopes : (N, K) float64
        Its change for a move of one `width` down, 1/mm.
    spreads : (N, K) float64
        Its change, of the same area, for a width larger by one e-fold, 1/mm.
    first : (N,) int64
        The first sample of each window, unclipped.
    """

    at: NDArray[np.int64]
    lines: NDArray[np.float64]
    slopes: NDArray[np.float64]
    spreads: NDArray[np.float64]
    first: NDArray[np.int64]


def line_windows(y: NDArray[np.float64], centre: NDArray[np.float64], step: float, width: float) -> Windows:
    """How lines at N places show in H samples.

    Parameters
    ----------
    y : (H,) float64
        Sample centres, mm, `step` apart.
    centre : (N,) float64
        Middles of the lines, mm.
    step, width : float
        Sample spacing and sigma of the lines, mm.
    """
    exact = (centre - y[0]) / step
    nearest = np.floor(exact + 0.5).astype(np.int64)
    slot = np.clip(((exact - nearest + 0.5) * _FRACTIONS).astype(np.int64), 0, _FRACTIONS - 1)
    reach = _reach(step, width)
    at = nearest[:, None] + np.arange(-reach, reach + 1)
    inside = (at >= 0) & (at < len(y))
    lines, slopes, spreads = (table[slot] * inside for table in _tables(step, width))
    return Windows(np.clip(at, 0, len(y) - 1), lines, slopes, spreads, nearest - reach)


def _reach(step: float, width: float) -> int:
    return int(np.ceil(_REACH * width / step)) + 1


@lru_cache(maxsize=64)
def _tables(step: float, width: float) -> tuple[NDArray[np.float64], ...]:
    """Lines, slopes and spreads sampled about a line in each of `_FRACTIONS` places within a sample, (F, K) each."""
    reach = _reach(step, width)
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


def edge_profile(profile: NDArray[np.float64], step: float, sigmas: NDArray[np.float64]) -> float | None:
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
