"""From linear light to 8-bit values: tone curves, and colour matrices fitted as a device's maker would."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printcheck.simulate.inks import Floats, primaries, xyz_weights
from printcheck.simulate.spectra import absorbance, paper

__all__ = ["XYZ_D50_TO_SRGB", "encode_table", "encoded", "sensor_to_srgb"]

XYZ_D50_TO_SRGB: Floats = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
"""Inverse of the sRGB primaries (IEC 61966-2-1) adapted to D50 by Bradford's method (ICC.1 annex E)."""

_STEPS = 4096


def encode_table(curve: float | str, contrast: float = 0.0) -> NDArray[np.uint8]:
    """(4096,) table from linear 0 to 1 to 8-bit.

    Parameters
    ----------
    curve : float or str
        ``"srgb"`` (IEC 61966-2-1) or an exponent such as 2.2.
    contrast : float
        Of an S on top of it, as cameras draw one for looks: the slope in the middle is greater by half of this, that
        at black and white smaller by all of it.
    """
    linear = np.linspace(0.0, 1.0, _STEPS)
    if curve == "srgb":
        value = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    else:
        value = linear ** (1.0 / float(curve))
    value = value + contrast * value * (1.0 - value) * (2.0 * value - 1.0)
    return np.asarray(np.rint(255.0 * value), np.uint8)


def encoded(light: NDArray[np.float32], flare: float, table: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """8-bit values of linear `light` (H, W, 3), which is used up, with stray light added."""
    np.add(light, np.float32(flare), out=light)
    np.multiply(light, np.float32(_STEPS - 1), out=light)
    np.clip(light, 0.0, _STEPS - 1, out=light)
    return np.take(table, light.astype(np.uint16), mode="clip")


def sensor_to_srgb(weights: Floats) -> Floats:
    """(3, 3) least-squares matrix from a sensor's channels to linear sRGB over prints of a usual ink set.

    White is kept exactly: equal channels stay equal.
    """
    inks = [absorbance("pigment-a", name) for name in "CMYK"]
    sheets = [paper("office-white"), 0.5 * paper("office-white")]
    seen = np.concatenate([primaries(inks, sheet, weights) for sheet in sheets])
    xyz = np.concatenate([primaries(inks, sheet, xyz_weights()) for sheet in sheets])
    white = xyz_weights().sum(axis=1)
    aim = (xyz / white * np.array([0.9642, 1.0, 0.8249])) @ XYZ_D50_TO_SRGB.T
    matrix, *_ = np.linalg.lstsq(seen, aim, rcond=None)
    out: Floats = matrix.T / matrix.T.sum(axis=1, keepdims=True)
    return out
