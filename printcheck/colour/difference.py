"""CIEDE2000, and what a difference is known to where its two colours are uncertain.

References
----------
ISO/CIE 11664-6 (CIEDE2000); Sharma, Wu, Dalal, Color Res. Appl. 30(1), 21-30, 2005 (implementation notes and test
pairs). The formula itself is scikit-image's.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printcheck.robust import quantile_of

__all__ = ["delta_e00", "delta_e00_interval"]

_DRAWS = 1000  # of both colours, within their errors: the interval's ends are then known to a twentieth of it
_STEP = 0.05  # CIELAB units, for the slope of the difference


@lru_cache(maxsize=4)
def _noise(seed: int) -> NDArray[np.float64]:
    """Draws (N, 3) of a unit normal distribution, each with its opposite."""
    half = np.random.default_rng(seed).standard_normal((_DRAWS // 2, 3))
    return np.concatenate([half, -half])


def delta_e00(first: ArrayLike, second: ArrayLike) -> NDArray[np.float64]:
    """CIEDE2000 (...,) between CIELAB (..., 3) colours, kL = kC = kH = 1."""
    from skimage.color import deltaE_ciede2000  # a quarter of a second to load, so only where it is needed

    a, b = np.broadcast_arrays(np.asarray(first, np.float64), np.asarray(second, np.float64))
    return np.asarray(deltaE_ciede2000(a, b), np.float64)  # type: ignore[no-untyped-call]


def delta_e00_interval(
    measured: ArrayLike, reference: ArrayLike, covariance: ArrayLike, *, seed: int = 0
) -> tuple[float, float, float]:
    """CIEDE2000 of a measured colour against a reference, with a 95 % interval for the true difference.

    A difference can't be negative, so noise alone makes two equal colours differ, and the plain distance reads too
    much where it is not large against the uncertainty. The interval keeps every true difference whose own readings
    would lie about as far from zero as this one: close to the reference, along a sphere; far from it, along a line.

    Parameters
    ----------
    measured, reference : array_like, (3,)
        CIELAB.
    covariance : array_like, (3, 3)
        Of `measured` minus `reference`, CIELAB units squared.

    Returns
    -------
    value, low, high : float
        ``0 <= low <= value <= high``.
    """
    lab, ref = np.asarray(measured, np.float64), np.asarray(reference, np.float64)
    cov = np.asarray(covariance, np.float64)
    if not all(np.isfinite(values).all() for values in (lab, ref, cov)):
        return float(delta_e00(lab, ref)), float("nan"), float("nan")
    root = np.linalg.cholesky(cov + 1e-9 * np.eye(3))
    # how far equal colours would read apart, and how far this reading moves with the noise along its own direction
    alone, steps = ref + _noise(seed) @ root.T, np.eye(3) * _STEP
    apart = delta_e00(np.vstack([lab, lab + steps, lab - steps, alone]), ref)
    value, slope = float(apart[0]), (apart[1:4] - apart[4:7]) / (2 * _STEP)
    most = quantile_of(apart[7:], 0.95)
    if float(np.linalg.norm(lab - ref)) < _STEP:
        return value, 0.0, max(value, most)
    along = 1.96 * max(float(slope @ cov @ slope), 0.0) ** 0.5
    return value, 0.0 if value < most else max(0.0, value - along), value + max(along, most - value)
