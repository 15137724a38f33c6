"""Contrast sensitivity of the eye: how much a band's amplitude counts at its spacing and viewing distance.

References
----------
Dooley & Shaw, J. Appl. Photogr. Eng. 5, 190, 1979 (constants from memory; they give the published peak of 1).
Barten, Contrast Sensitivity of the Human Eye and Its Effects on Image Quality, SPIE 1999, and Formula for the
contrast sensitivity of the human eye, Proc. SPIE 5294, 2003 (constants of the second from memory).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["VIEWING_MM", "barten1999", "barten2003", "cycles_per_degree", "dooley_shaw", "visible_amplitude"]

VIEWING_MM = 350.0
"""A sheet held in the hand: the peak of the eye then lies at 0.89 cycles/mm, where the threshold below was found."""

_THRESHOLD_DL = 0.2
"""L* amplitude at which a sinusoidal band can be objectionable, near 0.5 to 1 cycle/mm ("Tent-pole spatial defect
pooling for prediction of subjective quality assessment of streaks and bands", J. Electron. Imaging 19(1), 2010)."""


def cycles_per_degree(cycles_per_mm: ArrayLike, distance_mm: float = VIEWING_MM) -> NDArray[np.float64]:
    """Cycles per degree of visual angle (small angles)."""
    return np.asarray(cycles_per_mm, np.float64) * (math.pi / 180.0 * distance_mm)


def dooley_shaw(f: ArrayLike) -> NDArray[np.float64]:
    """Relative sensitivity at `f` cycles/degree, 1 at its peak near 5.4."""
    f = np.asarray(f, np.float64)
    return np.asarray(5.05 * np.exp(-0.138 * f) * (1.0 - np.exp(-0.1 * f)))


def barten2003(u: ArrayLike, luminance: float = 100.0, field_deg: float = 10.0) -> NDArray[np.float64]:
    """Sensitivity (1 / modulation at threshold) at `u` cycles/degree, cd/m2 and angular size of the field."""
    u = np.asarray(u, np.float64)
    top = 5200.0 * np.exp(-0.0016 * u**2 * (1 + 100.0 / luminance) ** 0.08)
    spatial = 1.0 + 144.0 / field_deg**2 + 0.64 * u**2
    noise = 63.0 / luminance**0.83 + 1.0 / (1.0 - np.exp(-0.02 * u**2))
    return np.asarray(top / np.sqrt(spatial * noise))


def barten1999(
    u: ArrayLike, luminance: float = 20.0, pupil_mm: float = 2.1, field_deg: float = 60.0
) -> NDArray[np.float64]:
    """Sensitivity by Barten's full model at `u` cycles/degree; `luminance` in cd/m2.

    Constants as Barten gives them for the standard observer: signal-to-noise ratio 3, 0.1 s, quantum efficiency 0.03,
    1.2274e6 photons/(s deg2 Td), neural noise 3e-8 s deg2, 7 cycles/degree, 15 cycles, 12 degrees.
    """
    u = np.asarray(u, np.float64)
    sigma = math.hypot(0.5 / 60, 0.08 / 60 * pupil_mm)
    optics = np.exp(-2 * (math.pi * sigma * u) ** 2)
    stiles_crawford = 1 - (pupil_mm / 9.7) ** 2 + (pupil_mm / 12.4) ** 4
    retina = math.pi * pupil_mm**2 / 4 * luminance * stiles_crawford  # troland
    spatial = 2 / 0.1 * (1 / field_deg**2 + 1 / 12.0**2 + u**2 / 15.0**2)
    noise = 1 / (0.03 * 1.2274e6 * retina) + 3e-8 / (1 - np.exp(-((u / 7.0) ** 2)))
    return np.asarray(optics / 3.0 / np.sqrt(spatial * noise))


def visible_amplitude(cycles_per_mm: ArrayLike, distance_mm: float = VIEWING_MM) -> NDArray[np.float64]:
    """L* amplitude from which a sinusoidal band counts as visible: 0.2 where the eye is keenest, more elsewhere."""
    return np.asarray(_THRESHOLD_DL / dooley_shaw(cycles_per_degree(cycles_per_mm, distance_mm)))
