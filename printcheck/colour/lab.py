"""CIE XYZ to CIELAB and back, and relative to the paper, in floating point.

An 8-bit LAB image is no substitute: its steps are 0.39 in L* and 1 in a* and b*, too coarse for limits of 1 to 2.

References
----------
ISO/CIE 11664-4 (CIELAB, with the exact rationals of CIE 15); ISO 15076-1 (ICC: PCS white, media-relative
colorimetry as a scaling of XYZ by the paper's).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printcheck.limits import LIMITS

__all__ = ["D50_WHITE", "Lab", "as_lab", "lab_flaw", "lab_to_xyz", "media_relative", "xyz_to_lab"]

Lab = tuple[float, float, float]

D50_WHITE: NDArray[np.float64] = np.array([0.9642, 1.0, 0.8249])
"""XYZ of the PCS illuminant of ICC.1; CIE D50 in the rounding profiles use."""
D50_WHITE.flags.writeable = False

_DARKEST = 5.0  # L* below 0 that an instrument's noise may give a black
# where CIE L*'s cube root gives way to a straight line, and its slope: (6 / 29)^3, (29 / 3)^3 (ISO/CIE 11664-4)
_EPSILON = 216.0 / 24389.0
_KAPPA = 24389.0 / 27.0


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike = D50_WHITE) -> NDArray[np.float64]:
    """CIELAB (..., 3) of XYZ (..., 3) relative to `white` (3,)."""
    t = np.asarray(xyz, np.float64) / np.asarray(white, np.float64)
    f = np.where(t > _EPSILON, np.cbrt(t), (_KAPPA * t + 16.0) / 116.0)
    return np.stack(
        [116.0 * f[..., 1] - 16.0, 500.0 * (f[..., 0] - f[..., 1]), 200.0 * (f[..., 1] - f[..., 2])], axis=-1
    )


def lab_to_xyz(lab: ArrayLike, white: ArrayLike = D50_WHITE) -> NDArray[np.float64]:
    """XYZ (..., 3) of CIELAB (..., 3)."""
    lab = np.asarray(lab, np.float64)
    fy = (lab[..., 0] + 16.0) / 116.0
    f = np.stack([fy + lab[..., 1] / 500.0, fy, fy - lab[..., 2] / 200.0], axis=-1)
    t = np.where(f > 6.0 / 29.0, f**3, (116.0 * f - 16.0) / _KAPPA)
    return t * np.asarray(white, np.float64)


def media_relative(xyz: ArrayLike, paper: ArrayLike) -> NDArray[np.float64]:
    """XYZ as it would be on paper that is D50 white: what the ink does, whatever the sheet's tint.

    Parameters
    ----------
    xyz, paper : array_like, (..., 3)
        Of the patch and of the bare paper beside it, under the same light.
    """
    return np.asarray(xyz, np.float64) / np.asarray(paper, np.float64) * D50_WHITE


def as_lab(values: ArrayLike) -> Lab:
    """Return a CIELAB triple as a plain tuple."""
    light, a, b = (float(v) for v in np.asarray(values, np.float64).reshape(3))
    return light, a, b


def lab_flaw(lab: ArrayLike) -> str | None:
    """What makes CIELAB values (..., 3) no colour of a print; none where they are one."""
    values = np.asarray(lab, np.float64).reshape(-1, 3)
    most, lightest = LIMITS["values_range"].value, LIMITS["values_lightest"].value
    for one in values:
        said = " ".join(f"{v:.4g}" for v in one)
        if not np.isfinite(one).all():
            return f"holds no number ({said})"
        if not -_DARKEST <= one[0] <= lightest or np.abs(one[1:]).max() > most:
            return f"is no colour of a print: CIELAB {said} (L* up to {lightest:g}, a* and b* within {most:g})"
    return None
