"""Sheets whose inks are the published ones, shown as they are: how far an ink of such a sheet may lie off its aim.

What a sound ink looks like without a reference is uncertain for what captures and makers do to it. A sheet whose
other inks all lie on published solids shows that neither does anything here, and then the one in question has no
excuse either. How far inks lie off, in terms of what is usual, is one scale that all inks of a sheet share; what the
other inks alone say of it, over all published conditions, tells how far this one may lie off (empirical Bayes:
Robbins, Proc. 3rd Berkeley Symp. 1, 157-163, 1956; Efron and Morris, J. Am. Stat. Assoc. 68, 117-130, 1973).

A load that all inks have in common, as a power for a tone curve gives them, is one more unknown. Only where the scale
is surely well below what is usual is anything said, which takes agreement in all other inks. On sheets of other
makers' inks, or through channels that overlap, nothing is, and `sound_inks` tells what can be told.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from printcheck.colour.lab import lab_to_xyz
from printcheck.colour.published import conditions, published
from printcheck.limits import LIMITS
from printcheck.measure.areas import XYZ_TO_LINEAR
from printcheck.measure.drawn_inks import DRAWN
from printcheck.measure.sound_inks import DEEPEST, MAKERS_SD, Expected

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["inks_as_published"]

# the same makers and captures as in `sound_inks`
_MIXING_SD, _STRAY_SD = LIMITS["mixing_sd"].value, LIMITS["stray_light"].value
_LOAD_SD, _COVER_SD = LIMITS["load_sd"].value, LIMITS["cover_sd"].value
_COMMON_SD = LIMITS["as_published_load_sd"].value
_LEAST_LIGHT = 0.03  # of an aim: those outside sRGB have none, or less
# in terms of the usual; even over all of them, so that half of all sheets are taken to lie off by half of the usual
# and more before anything is seen of them. JPEG's steps hide what is less than a twentieth
_SCALES = np.geomspace(0.04, 1.0, 14)
_SURE, _TIGHT = LIMITS["as_published_sure"].value, LIMITS["as_published_tight"].value
_UPPER = LIMITS["as_published_upper"].value
_BEYOND_SD = LIMITS["as_published_beyond_sd"].value
_LEAST_SD = LIMITS["as_published_least_sd"].value
_NAMED = LIMITS["as_published_named"].value
_NEWSPRINT = "CGATS_TR002"  # no sheet is printed on it unless someone says so, and its pale solids are like anything
_LOG10 = float(np.log(10.0))


def inks_as_published(
    seen: Mapping[str, tuple[NDArray[np.float64], NDArray[np.float64]]], condition: str, *, light_sd: float = 0.0
) -> dict[str, Expected]:
    """What each ink ought to look like, where all others are published ones.

    Parameters
    ----------
    seen : mapping of str to ((3,) float64, (3,) float64)
        Densities of the solids in R, G, B and the standard deviations they are read to.
    condition : str
        The published one that the sheet is compared with: the likeliest beforehand.
    light_sd : float
        Standard deviation of a density that all channels of one solid have in common.

    Returns
    -------
    dict of str to Expected
        Only of inks whose others tell.
    """
    inks = tuple(sorted(ink for ink in seen if ink in MAKERS_SD))
    if len(inks) < 3:
        return {}  # one other ink agrees with some condition by chance
    names, aims, beyond_white, usual, loose, stray, by_load = _aims(inks)
    # what capture or screen can't show is cut at either end
    read = np.clip(np.array([seen[ink][0] for ink in inks]), 0.0, DEEPEST)
    sd = np.array([seen[ink][1] for ink in inks])
    # where what is read wrong is white, and what scales lies along the axes, every scale is a sum
    root = np.linalg.cholesky(stray + np.square(sd)[:, :, None] * np.eye(3) + light_sd**2)
    whiten = np.linalg.inv(root)
    spread, axes = np.linalg.eigh(whiten @ loose @ whiten.swapaxes(-1, -2))
    turned = axes.swapaxes(-1, -2) @ whiten @ np.stack([read - aims, by_load], axis=-1)
    off, load = turned[..., 0], turned[..., 1]
    held = 1.0 + np.square(_SCALES)[:, None, None, None] * spread  # scales, conditions, inks, axes
    cost = (np.square(off) / held + np.log(held)).sum(axis=-1)
    cost += 2.0 * np.log(np.einsum("cnii->cni", root)).sum(axis=-1)
    pull, stiff = (off * load / held).sum(axis=-1), (np.square(load) / held).sum(axis=-1)
    # the common load, integrated out; all of it by the other inks alone
    free = _others(stiff) + _COMMON_SD**-2
    common = _others(pull) / free  # over 1
    likelihood = -0.5 * (_others(cost) - _others(pull) * common + np.log(free))
    likely = np.array([_NAMED if name == condition else float(name != _NEWSPRINT) for name in names])
    posterior = np.exp(likelihood - likelihood.max(axis=(0, 1))) * likely[:, None]
    posterior *= _SCALES[:, None, None]  # even in the scale itself
    posterior /= posterior.sum(axis=(0, 1))
    out = {}
    for k, ink in enumerate(inks):
        of_scale, of_condition = posterior[..., k].sum(axis=1), posterior[..., k].sum(axis=0)
        if of_scale[_SCALES < _TIGHT].sum() < _SURE:
            continue
        middle = of_condition @ aims[:, k]
        if (of_condition @ (aims[:, k] >= DEEPEST) > 0.5).all():
            continue  # a black that shows nothing in any channel
        apart = aims[:, k] - middle
        most = float(np.interp(_UPPER, np.cumsum(of_scale), _SCALES))
        # how far an ink goes beyond `DEEPEST`, the others can't tell
        variance = np.where(aims[:, k] < DEEPEST, most**2 * usual[:, k], _BEYOND_SD**2)
        variance = of_condition @ (variance + np.square(beyond_white[:, k])) + _LEAST_SD**2
        heavier = float((posterior[..., k] * common[..., k]).sum()) * (of_condition @ by_load[:, k])
        covariance = np.diag(variance) + (of_condition[:, None] * apart).T @ apart
        out[ink] = Expected(np.minimum(middle + heavier, DEEPEST), covariance)
    return out


def _others(of_inks: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sums over all other inks, the last axis."""
    return np.asarray(of_inks.sum(axis=-1, keepdims=True) - of_inks)


class _Aims(NamedTuple):
    """Densities of the inks of all conditions that have them, and what is usual about them.

    `usual` is the variance of hue: makers' inks, and channels that overlap. `loose` is its covariance with each ink's
    own load and cover, `stray` that of stray light. `by_load` is the change of density with the load.
    """

    names: tuple[str, ...]  # C
    density: NDArray[np.float64]  # (C, N, 3)
    beyond_white: NDArray[np.float64]  # (C, N, 3), density: light above the paper's, which a capture may cut
    usual: NDArray[np.float64]  # (C, N, 3)
    loose: NDArray[np.float64]  # (C, N, 3, 3)
    stray: NDArray[np.float64]  # (C, N, 3, 3)
    by_load: NDArray[np.float64]  # (C, N, 3)


@lru_cache(maxsize=8)
def _aims(inks: tuple[str, ...]) -> _Aims:
    names = [name for name in conditions() if published(name).relative.keys() >= set(inks)]
    light = [[XYZ_TO_LINEAR @ lab_to_xyz(np.array(published(name).relative[ink])) for ink in inks] for name in names]
    light += [[row[ink] for ink in inks] for row in DRAWN.values()]
    shown = np.maximum(np.array(light), _LEAST_LIGHT)
    aims = np.clip(-np.log10(shown), 0.0, DEEPEST)
    between = np.square(shown[..., :, None] - shown[..., None, :]).sum(axis=-1)
    mixed = np.log10(1.0 + _MIXING_SD * np.sqrt(between) / shown)  # over a whole deviation: no straight line
    usual = np.square([MAKERS_SD[ink] for ink in inks]) + np.square(mixed)
    by_load = np.where(aims < DEEPEST, aims, 0.0)
    by_cover = (1.0 - shown) / (np.maximum(shown, 10.0**-DEEPEST) * _LOG10)
    loose = _LOAD_SD**2 * by_load[..., :, None] * by_load[..., None, :]
    loose = loose + _COVER_SD**2 * by_cover[..., :, None] * by_cover[..., None, :] + usual[..., None] * np.eye(3)
    stray = _STRAY_SD**2 * by_cover[..., :, None] * by_cover[..., None, :]
    beyond_white = np.maximum(np.log10(shown), 0.0)
    return _Aims((*names, *DRAWN), aims, beyond_white, usual, loose, stray, by_load)
