"""Inks on paper: what an observer with three channels sees of every overlap, and of any mixture of inks.

Beer-Lambert: absorbances of dyes in one layer, and of layers over one another, add. Neugebauer (1937): an area that
is covered in part looks like the mean of its fully covered kinds (its primaries), weighted after Demichel (1924)
with the chances of independent overlap. Yule and Nielsen (1951): paper scatters light sideways, so part of it enters
through ink and leaves through bare paper; here that is done in space (see `page`), not by an exponent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from printcheck.simulate.spectra import CMF, D50

__all__ = ["SURFACE", "demichel", "lab", "mixed", "primaries", "xyz_weights"]

Floats = NDArray[np.float64]

SURFACE = 0.02
"""Share of light that the rough surface sends back before it meets ink: bounds the density a print can reach."""


def mixed(own: str, foreign: Mapping[str, float], absorbances: Mapping[str, Floats]) -> Floats:
    """(31,) absorbance of an ink of which the share ``foreign[name]`` (0 to 1) is other ink: densities by share."""
    rest = 1.0 - sum(foreign.values())
    return rest * absorbances[own] + sum(
        (share * absorbances[name] for name, share in foreign.items()), np.zeros_like(absorbances[own])
    )


def primaries(absorbances: Sequence[Floats], paper: Floats, weights: Floats) -> Floats:
    """Reflectance of every overlap of n inks.

    Parameters
    ----------
    absorbances : sequence of n (31,)
    paper : (31,)
        Reflectance factor.
    weights : (C, 31)
        Channels of the observer.

    Returns
    -------
    (2**n, C)
        Entry k holds the inks whose bits are set in k.
    """
    density = np.zeros((1, paper.size))
    for ink in absorbances:
        density = np.concatenate([density, density + ink])
    reflectance = paper * (SURFACE + (1.0 - SURFACE) * 10.0**-density)
    out: Floats = reflectance @ weights.T
    return out


def demichel(cover: Floats) -> Floats:
    """(2**n, ...) shares of the overlaps of n inks, whose covers are (n, ...); they sum to 1."""
    weights = np.ones((1, *cover.shape[1:]))
    for c in cover:
        weights = np.concatenate([weights * (1.0 - c), weights * c])
    return weights


def xyz_weights() -> Floats:
    """(3, 31) weights that give CIE XYZ under D50; a perfect white has Y = 1."""
    weights = CMF * D50
    out: Floats = weights / weights[1].sum()
    return out


def lab(xyz: Floats, white: Floats) -> Floats:
    """CIELAB (ISO/CIE 11664-4) of (..., 3) XYZ relative to `white` (3,)."""
    t = np.asarray(xyz) / white
    d = 6.0 / 29.0
    f = np.where(t > d**3, np.cbrt(t), t / (3 * d**2) + 4.0 / 29.0)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)
