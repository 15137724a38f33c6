"""Which other ink a sheet's colours lean to: not enough to say that it is there, but enough not to pass it.

Without a reference the pure ink is known so roughly that the interval of a share of 25 % takes in none at all. The
share that fits best is worth something all the same: of the ways to make a magenta redder, other makers' dyes do it
by a little, and yellow in the chamber by a lot.

What a phone, or a scanner without a profile, does to colours it does to all solids of a sheet: channels overlap, a
tone curve steepens mid-tones. Each solid then seems to hold a little of every other, and foreign ink sits in one
chamber. So the sheet is fitted as a whole, once as sound and once for each ink in each other: one matrix from light
to light that keeps white, one power for the curve, and each ink's own load and cover, all held to what captures and
inks usually do (maximum a posteriori by Gauss and Newton, all hypotheses at once). The likeliest is told where it
pays; how much of it, or how sure, asks for more than this picture, the policy says.

A share says little by itself: yellow in cyan takes away blue, of which makers' cyans all send back much, while
magenta and yellow in it share green with what makers differ by. So 10 % of the one are as telling as 25 % of the
other, and the ratio of likelihoods to a sound sheet's says it for each pair in one measure (Wilks, Ann. Math.
Stat. 9, 60-62, 1938). For that a photo's inks are held to the spread that dyes' spectra have from maker to maker
(`MAKERS_SD`), and its share counts no more than what the sheet leans by where they are held to a part of what their
aims are known to: the first leaves magenta so free that much overlap of channels passes for magenta in cyan.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.contamination import solid_density
from printcheck.measure.result import Leaning
from printcheck.measure.sound_inks import DEEPEST, MAKERS_SD
from printcheck.measure.unmix import OwnInk

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.areas import InkAreas
    from printcheck.measure.contamination import Basis

__all__ = ["leanings"]

_PAYS = {"photo": LIMITS["leaning_pays_photo"].value, "scan": LIMITS["leaning_pays"].value}
_LEAST_DEPTH = LIMITS["solid_depth"].value
_MIXING, _MIXING_SD = LIMITS["mixing_camera"].value, LIMITS["mixing_sd"].value
_CURVE_SD = LIMITS["curve_sd_photo"].value
_LIGHT_SD, _LIGHT_SD_PHOTO = LIMITS["leaning_light_sd"].value, LIMITS["foreign_light_sd"].value
_LOAD_SD, _COVER_SD = LIMITS["leaning_load_sd"].value, LIMITS["leaning_cover_sd"].value
_MAKERS = LIMITS["leaning_makers"].value
_LARGEST_SD = LIMITS["leaning_makers_most"].value
_STEPS, _STEP = 6, 1e-4  # of Gauss and Newton; for slopes
_LEAST_LIGHT = 0.004  # of the paper's, that a channel shows
# places of a camera's matrix off its diagonal: what a channel takes of another
_MATRIX = [(row, column) for row in range(3) for column in range(3) if row != column]
_CAMERA = len(_MATRIX) + 1  # unknowns of the camera; then loads, covers and the share


def leanings(areas: Mapping[str, InkAreas], basis: Basis, *, photo: bool) -> dict[str, Leaning]:
    """The likeliest other ink in any colour of a sheet, by the ink it is in; none in black, which has no hue.

    Black may be that other ink, where the sheet has it.

    Empty where no other ink makes the sheet likelier, or fewer than two solids tell the inks from the camera.
    """
    inks: dict[str, OwnInk] = {}
    seen, read_sd = [], []
    for ink, reading in areas.items():
        own = basis.aims.get(ink)
        if ink == "K" or own is None or reading.solid is None:
            continue
        density, sd = solid_density(reading.solid, own, photo=photo)
        if density.max() > _LEAST_DEPTH:
            inks[ink] = own
            seen.append(np.minimum(density, DEEPEST))
            read_sd.append(sd)
    if len(inks) < 2:
        return {}
    added = {ink: own.density for ink, own in inks.items()}
    if "K" in areas and "K" in basis.aims:
        added["K"] = basis.aims["K"].density
    pairs = [(ink, other) for ink in inks for other in added if ink != other]
    names = list(inks)
    aims = np.array([own.density for own in inks.values()])
    towards = np.zeros((len(pairs) + 1, *aims.shape))  # the first, sound, mixes nothing
    for row, (ink, other) in zip(towards[1:], pairs, strict=True):
        row[names.index(ink)] = added[other] - aims[names.index(ink)]
    known = [np.minimum(_MAKERS * np.sqrt(np.diag(own.covariance)), _LARGEST_SD) for own in inks.values()]
    spread = [np.array(MAKERS_SD.get(ink, sd)) for ink, sd in zip(inks, known, strict=True)] if photo else known
    light_sd = _LIGHT_SD_PHOTO if photo else _LIGHT_SD
    share, cost = _fitted(np.array(seen), _whitening(read_sd, spread, light_sd), aims, towards)
    best, gain = _likeliest(share, cost)
    if gain <= _PAYS["photo" if photo else "scan"]:
        return {}
    ink, other = pairs[best]
    most = share[1 + best]
    if photo:
        other_share, other_cost = _fitted(np.array(seen), _whitening(read_sd, known, _LIGHT_SD), aims, towards)
        most = min(most, other_share[1 + _likeliest(other_share, other_cost)[0]])
    return {ink: Leaning(other, float(np.clip(most, 0.0, 1.0)), float(np.sqrt(gain)))}


def _likeliest(share: NDArray[np.float64], cost: NDArray[np.float64]) -> tuple[int, float]:
    """Number of the pair that explains most beyond a sound sheet, of those with some share, and how much (chi2)."""
    gain = np.where(share[1:] > 0.0, cost[0] - cost[1:], 0.0)
    best = int(gain.argmax())
    return best, float(gain[best])


def _whitening(
    read_sd: list[NDArray[np.float64]], of_ink: list[NDArray[np.float64]], light_sd: float
) -> NDArray[np.float64]:
    """What makes (N, 3, 3) errors of N solids independent, each 1: of reading, of the ink, and of their light."""
    variance = np.square(read_sd) + np.square(of_ink)
    return np.asarray(np.linalg.inv(np.linalg.cholesky(variance[:, :, None] * np.eye(3) + light_sd**2)))


def _fitted(
    seen: NDArray[np.float64], whiten: NDArray[np.float64], aims: NDArray[np.float64], towards: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Share and chi squared (H,) of each hypothesis.

    Parameters
    ----------
    seen, aims : (N, 3) float64
        Densities of the solids, and of sound inks.
    whiten : (N, 3, 3) float64
    towards : (H, N, 3) float64
        What a whole share changes about the aims.
    """
    count = len(aims)
    middle = np.array([_MIXING] * len(_MATRIX) + [1.0] + [1.0] * (2 * count) + [0.0])
    sd = np.array([_MIXING_SD] * len(_MATRIX) + [_CURVE_SD] + [_LOAD_SD] * count + [_COVER_SD] * count + [1.0])
    lowest, highest = np.full(len(middle), -np.inf), np.full(len(middle), np.inf)
    lowest[_CAMERA:], highest[_CAMERA:] = (
        [0.4] * count + [0.7] * count + [-0.4],
        [1.6] * count + [1.0] * count + [1.0],
    )
    theta = np.tile(middle, (len(towards), 1))
    steps = np.vstack([np.zeros(len(middle)), _STEP * np.eye(len(middle))])
    for last in [False] * _STEPS + [True]:
        some = theta[:, None] if last else theta[:, None] + steps
        left = np.einsum("nij,hpnj->hpni", whiten, seen - _shown(some, aims, towards[:, None]))
        left = left.reshape(*left.shape[:2], -1)
        if last:
            break
        slope = -(left[:, 1:] - left[:, :1]) / _STEP  # (H, unknown, reading)
        normal = slope @ slope.transpose(0, 2, 1) + np.diag(sd**-2)
        right = (slope @ left[:, 0, :, None])[..., 0] - (theta - middle) / sd**2
        theta = np.clip(theta + np.linalg.solve(normal, right[..., None])[..., 0], lowest, highest)
    cost = np.square(left[:, 0]).sum(axis=1) + np.square((theta - middle) / sd).sum(axis=1)
    return theta[:, -1], cost


def _shown(
    theta: NDArray[np.float64], aims: NDArray[np.float64], towards: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Densities (..., N, 3) that a camera shows of inks, by the unknowns (..., P)."""
    count = len(aims)
    loads, covers = theta[..., _CAMERA : _CAMERA + count, None], theta[..., _CAMERA + count : -1, None]
    dense = loads * (aims + theta[..., -1, None, None] * towards)
    light = 1.0 - covers + covers * 10.0 ** -np.clip(dense, -0.5, 3.0)
    shown = light.copy()
    for k, (row, column) in enumerate(_MATRIX):
        shown[..., row] += theta[..., k, None] * (light[..., column] - light[..., row])
    curve = theta[..., len(_MATRIX), None, None]
    return np.asarray(curve * -np.log10(np.maximum(shown, _LEAST_LIGHT)))
