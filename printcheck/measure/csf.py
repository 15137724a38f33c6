"""Contrast sensitivity of the eye: how much a band's amplitude counts at its spacing and viewing distance.

References
----------
Dooley & Shaw, J. Appl. Photogr. Eng. 5, 190, 1979 (constants from memory; they give the published peak of 1).
Georgeson & Sullivan, J. Physiol. 252, 627, 1975: well above threshold a contrast looks alike at any length of wave.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["VIEWING_MM", "cycles_per_degree", "dooley_shaw", "visible_amplitude"]

VIEWING_MM = LIMITS["viewing_distance"].value
_THRESHOLD_DL, _LONG_DL = LIMITS["band_threshold"].value, LIMITS["band_long"].value
_KEENEST = 5.45  # cycles per degree


def cycles_per_degree(cycles_per_mm: ArrayLike, distance_mm: float = VIEWING_MM) -> NDArray[np.float64]:
    """Cycles per degree of visual angle (small angles)."""
    return np.asarray(cycles_per_mm, np.float64) * (math.pi / 180.0 * distance_mm)


def dooley_shaw(f: ArrayLike) -> NDArray[np.float64]:
    """Relative sensitivity at `f` cycles/degree, 1 at its peak near 5.4."""
    f = np.asarray(f, np.float64)
    return np.asarray(5.05 * np.exp(-0.138 * f) * (1.0 - np.exp(-0.1 * f)))


def visible_amplitude(cycles_per_mm: ArrayLike, distance_mm: float = VIEWING_MM) -> NDArray[np.float64]:
    """L* amplitude from which a sinusoidal band counts as visible: 0.2 where the eye is keenest, more elsewhere.

    Of long bands no more than 0.5: what is judged is several times the visible, and that far above their threshold
    they look as strong as shorter ones.
    """
    f = cycles_per_degree(cycles_per_mm, distance_mm)
    needed = _THRESHOLD_DL / dooley_shaw(f)
    return np.asarray(np.where(f < _KEENEST, np.minimum(needed, _LONG_DL), needed))
