"""One ink on two papers: by how much its colour, relative to the paper, differs with the paper's tint.

Light relative to paper and colour relative to paper are the same thing only where each of an observer's channels is
one narrow band. The long-wave channel of CIE 1931 has a second lobe in the blue: on cream paper less of what it
receives is blue, so that a cyan is greener there by some CIELAB units though a scanner sees the same ratios. Taken
as linear sRGB, the scanner's light says how much. What stays is that an ink and a paper both slope within a band.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.lab import D50_WHITE, lab_to_xyz, media_relative, xyz_to_lab
from printcheck.limits import LIMITS
from printcheck.measure.areas import light_to_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["tint_between", "tint_density_sd", "tint_sd", "tint_shift"]

# standard deviation in L*, a*, b* of a solid, once shifted, for each unit of tint. Reckoned on spectra: dyes and
# scanners of the tune split on six papers, and those of the other split come out the same within a quarter
_SLOPE_SD = np.array([1.5, 6.0, 4.0])
_DENSITY_SD = LIMITS["tint_density_sd"].value
_STRAY_SD = LIMITS["stray_light"].value
_FULL_CHROMA = 40.0  # CIELAB, from which an ink is as selective as a solid; greys slope nowhere
_DARK = 1e-3  # linear light of a paper below which its tint is noise


def tint_shift(
    ratio: NDArray[np.float64], paper: NDArray[np.float64], other: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Change of CIELAB (3,), media-relative, of light `ratio` (3,) to paper on going from `other` paper to `paper`.

    Papers are (3,) linear sRGB.
    """
    here, there = np.maximum(paper, _DARK), np.maximum(other, _DARK)
    xyz = light_to_xyz(np.stack([ratio * here, here, ratio * there, there]))
    return np.asarray(xyz_to_lab(media_relative(xyz[0], xyz[1])) - xyz_to_lab(media_relative(xyz[2], xyz[3])))


def tint_between(paper: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Difference of two papers, (3,) linear sRGB, in the logarithms of R to G and of G to B."""
    apart = np.log(np.maximum(paper, _DARK) / np.maximum(other, _DARK))
    return float(abs(apart[0] - apart[1]) + abs(apart[1] - apart[2]))


def tint_density_sd(paper: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Standard deviation by which an ink's densities relative to paper differ from those on `other` paper."""
    return _DENSITY_SD * tint_between(paper, other)


def tint_sd(lab: NDArray[np.float64], paper: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard deviation (3,) of what `tint_shift` leaves, for a colour `lab`.

    Stray light that a scanner adds is a larger share of the light of a darker paper, and makes blacks paler on it.
    """
    slope = _SLOPE_SD * tint_between(paper, other) * min(1.0, float(np.hypot(lab[1], lab[2])) / _FULL_CHROMA)
    added = _STRAY_SD * abs(1.0 / max(float(paper[1]), _DARK) - 1.0 / max(float(other[1]), _DARK))
    return np.asarray(np.hypot(slope, xyz_to_lab(lab_to_xyz(lab) + added * D50_WHITE) - lab))
