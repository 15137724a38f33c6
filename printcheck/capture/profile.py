"""Encoded pixel values to CIE XYZ under D50, through the picture's own profile.

Only the few samples a measurement needs are converted; the page itself stays as decoded.

References
----------
IEC 61966-2-1 (sRGB curve and primaries); ISO 15076-1 (ICC). The matrix is Bradford-adapted to the PCS white.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printcheck.capture.icc import DeviceToPcs, ProfileError, parse_profile
from printcheck.colour.linear import srgb_to_linear

__all__ = ["SRGB_ASSUMED", "ProfileError", "describe_profile", "rgb_to_xyz_d50", "srgb_to_linear"]

SRGB_ASSUMED = "sRGB assumed"

# From the primaries and white of IEC 61966-2-1, Bradford-adapted to XYZ 0.9642 1 0.8249
_SRGB_TO_XYZ_D50 = np.array(
    [
        [0.4360413, 0.3851129, 0.1430458],
        [0.2224845, 0.7169051, 0.0606104],
        [0.0139202, 0.0970672, 0.7139126],
    ]
)


@lru_cache(maxsize=8)
def _parsed(icc: bytes) -> DeviceToPcs:
    return parse_profile(icc)


def describe_profile(icc: bytes | None) -> str:
    """Name the profile for a report.

    Raises
    ------
    ProfileError
        `icc` can't be used on RGB or grey pixels; `rgb_to_xyz_d50` would raise the same.
    """
    if icc is None:
        return SRGB_ASSUMED
    return _parsed(icc).description or "unnamed profile"


def rgb_to_xyz_d50(rgb: ArrayLike, icc: bytes | None = None) -> NDArray[np.float64]:
    """XYZ of encoded R, G, B values.

    Parameters
    ----------
    rgb : array_like, (N, 3), 0..1
        Encoded, in the order R, G, B. For a grey profile the three are equal.
    icc : bytes, optional
        The capture's profile; None assumes sRGB.

    Returns
    -------
    ndarray, (N, 3), float64
        XYZ, 2 degree observer, D50, relative to the profile's white (Y of white is 1).

    Raises
    ------
    ProfileError
        Damaged, or neither RGB nor grey.

    Examples
    --------
    >>> rgb_to_xyz_d50([[1.0, 1.0, 1.0]]).round(4).tolist()
    [[0.9642, 1.0, 0.8249]]
    """
    v = np.asarray(rgb, dtype=np.float64)
    if v.ndim != 2 or v.shape[1] != 3:
        raise ValueError(f"expected shape (N, 3), got {v.shape}")
    if icc is None:
        xyz: NDArray[np.float64] = srgb_to_linear(v) @ _SRGB_TO_XYZ_D50.T
        return xyz
    profile = _parsed(icc)
    if profile.channels == 1:
        return profile.evaluate(v.mean(axis=1, keepdims=True))
    return profile.evaluate(v)
