"""Spectral tables at 31 bands, 400 to 700 nm in steps of 10 nm: observer, illuminant, papers, inks, sensors.

The observer is CIE 1931 2 degree (ISO/CIE 11664-1) and the illuminant CIE D50, both as tabulated in CIE 015 at
10 nm. Papers, inks and sensors are invented, shaped after what such materials do: the inks' solids come out near
published uncoated aims (L* 31 black, 60 cyan, 54 magenta, 89 yellow on white paper), no measured product is copied.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["BANDS", "CMF", "D50", "INK_SETS", "PAPERS", "SENSORS", "WAVELENGTHS", "absorbance", "paper", "sensor"]

Floats = NDArray[np.float64]

WAVELENGTHS: Floats = np.arange(400.0, 701.0, 10.0)
BANDS = WAVELENGTHS.size

CMF: Floats = np.array(
    [
        [0.01431, 0.04351, 0.13438, 0.28390, 0.34828, 0.33620, 0.29080, 0.19536, 0.09564, 0.03201, 0.00490,
         0.00930, 0.06327, 0.16550, 0.29040, 0.43345, 0.59450, 0.76210, 0.91630, 1.02630, 1.06220, 1.00260,
         0.85445, 0.64240, 0.44790, 0.28350, 0.16490, 0.08740, 0.04677, 0.02270, 0.01136],
        [0.00040, 0.00121, 0.00400, 0.01160, 0.02300, 0.03800, 0.06000, 0.09098, 0.13902, 0.20802, 0.32300,
         0.50300, 0.71000, 0.86200, 0.95400, 0.99495, 0.99500, 0.95200, 0.87000, 0.75700, 0.63100, 0.50300,
         0.38100, 0.26500, 0.17500, 0.10700, 0.06100, 0.03200, 0.01700, 0.00821, 0.00410],
        [0.06785, 0.20740, 0.64560, 1.38560, 1.74706, 1.77211, 1.66920, 1.28764, 0.81295, 0.46518, 0.27200,
         0.15820, 0.07825, 0.04216, 0.02030, 0.00875, 0.00390, 0.00210, 0.00165, 0.00110, 0.00080, 0.00034,
         0.00019, 0.00005, 0.00002, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    ]
)  # fmt: skip
"""(3, 31) x, y, z colour-matching functions."""

D50: Floats = np.array(
    [49.308, 56.513, 60.034, 57.818, 74.825, 87.247, 90.612, 91.368, 95.109, 91.963, 95.724, 96.613, 97.129,
     102.099, 100.755, 102.317, 100.0, 97.735, 98.918, 93.499, 97.688, 99.269, 99.042, 95.722, 98.857, 95.667,
     98.190, 103.003, 99.133, 87.381, 91.604]
)  # fmt: skip
"""(31,) relative spectral power of D50."""

_PAPER_KNOTS = (400.0, 420.0, 440.0, 460.0, 500.0, 550.0, 600.0, 650.0, 700.0)
PAPERS: dict[str, tuple[float, ...]] = {
    # reflectance at the knots; a bump near 440 nm is optical brightener seen under daylight
    "office-white": (0.70, 0.86, 0.96, 0.92, 0.875, 0.86, 0.86, 0.865, 0.87),
    "bright-white": (0.68, 0.92, 1.04, 0.97, 0.90, 0.885, 0.885, 0.89, 0.895),
    "recycled-grey": (0.50, 0.56, 0.61, 0.64, 0.675, 0.69, 0.70, 0.71, 0.72),
    "natural": (0.62, 0.71, 0.77, 0.80, 0.835, 0.85, 0.865, 0.875, 0.88),
    "matte-coated": (0.76, 0.89, 0.94, 0.92, 0.90, 0.895, 0.895, 0.90, 0.90),
    "cream": (0.48, 0.55, 0.61, 0.66, 0.75, 0.81, 0.83, 0.84, 0.85),
}

INK_SETS: dict[str, dict[str, tuple[tuple[float, float, float, float], ...]]] = {
    # bells of absorbance (height, peak nm, width to the short side, width to the long side) that add up
    "dye-a": {
        "C": ((1.12, 632.0, 58.0, 75.0), (0.14, 420.0, 60.0, 70.0)),
        "M": ((1.08, 543.0, 40.0, 28.0), (0.34, 430.0, 50.0, 60.0)),
        "Y": ((1.10, 430.0, 60.0, 46.0),),
        "K": ((1.18, 560.0, 900.0, 900.0), (0.06, 620.0, 50.0, 60.0)),
    },
    "dye-b": {
        "C": ((1.20, 648.0, 66.0, 60.0), (0.16, 400.0, 60.0, 90.0)),
        "M": ((1.02, 556.0, 48.0, 27.0), (0.36, 440.0, 60.0, 60.0)),
        "Y": ((1.00, 438.0, 70.0, 40.0),),
        "K": ((1.14, 600.0, 900.0, 600.0), (0.08, 440.0, 60.0, 60.0)),
    },
    "pigment-a": {
        "C": ((1.10, 620.0, 54.0, 90.0), (0.10, 410.0, 40.0, 80.0)),
        "M": ((1.06, 536.0, 42.0, 34.0), (0.30, 430.0, 60.0, 60.0)),
        "Y": ((1.15, 420.0, 60.0, 54.0),),
        "K": ((1.20, 500.0, 900.0, 900.0),),
    },
    "pigment-b": {
        "C": ((1.12, 640.0, 62.0, 80.0), (0.18, 430.0, 60.0, 60.0)),
        "M": ((1.10, 548.0, 44.0, 30.0), (0.38, 435.0, 60.0, 60.0)),
        "Y": ((1.05, 434.0, 60.0, 42.0),),
        "K": ((1.16, 540.0, 700.0, 900.0), (0.05, 560.0, 60.0, 60.0)),
    },
}

SENSORS: dict[str, tuple[tuple[tuple[float, float, float, float], ...], ...]] = {
    # R, G, B, each a sum of bells (height, peak nm, widths): sensor times lamp times filters
    "scanner-led-a": (((1.0, 632.0, 12.0, 10.0),), ((1.0, 525.0, 17.0, 19.0),), ((1.0, 462.0, 13.0, 14.0),)),
    "scanner-lamp-a": (
        ((1.0, 610.0, 26.0, 34.0),),
        ((1.0, 545.0, 26.0, 26.0),),
        ((1.0, 450.0, 26.0, 24.0), (0.04, 600.0, 30.0, 30.0)),
    ),
    "scanner-led-b": (((1.0, 622.0, 10.0, 9.0),), ((1.0, 518.0, 16.0, 20.0),), ((1.0, 470.0, 12.0, 12.0),)),
    "scanner-lamp-b": (
        ((1.0, 600.0, 22.0, 40.0), (0.06, 450.0, 25.0, 25.0)),
        ((1.0, 538.0, 32.0, 28.0),),
        ((1.0, 456.0, 30.0, 28.0),),
    ),
    "camera-a": (
        ((1.0, 602.0, 26.0, 40.0), (0.10, 450.0, 40.0, 40.0)),
        ((1.0, 532.0, 36.0, 38.0), (0.06, 620.0, 40.0, 40.0)),
        ((1.0, 460.0, 30.0, 32.0), (0.06, 540.0, 30.0, 30.0)),
    ),
    "camera-b": (
        ((1.0, 594.0, 24.0, 46.0), (0.07, 440.0, 30.0, 30.0)),
        ((1.0, 540.0, 42.0, 36.0), (0.05, 450.0, 30.0, 30.0)),
        ((1.0, 452.0, 26.0, 36.0), (0.10, 530.0, 30.0, 30.0)),
    ),
}


def _bells(bells: tuple[tuple[float, float, float, float], ...]) -> Floats:
    out = np.zeros(BANDS)
    for height, peak, short, long in bells:
        width = np.where(peak > WAVELENGTHS, short, long)
        out += height * np.exp(-0.5 * ((WAVELENGTHS - peak) / width) ** 2)
    return out


def absorbance(ink_set: str, ink: str) -> Floats:
    """(31,) optical density, relative to paper, of a full cover of `ink`; raises `KeyError`."""
    return _bells(INK_SETS[ink_set][ink])


def paper(name: str) -> Floats:
    """(31,) reflectance factor of bare paper; raises `KeyError`."""
    return np.interp(WAVELENGTHS, _PAPER_KNOTS, PAPERS[name])


def sensor(name: str) -> Floats:
    """(3, 31) weights of the R, G and B channels, each summing to 1 so that a perfect white gives 1."""
    weights = np.stack([_bells(channel) for channel in SENSORS[name]])
    out: Floats = weights / weights.sum(axis=1, keepdims=True)
    return out
