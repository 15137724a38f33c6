"""What each ink of a sheet would look like in this capture, were it sound: told by the other inks.

Without a reference the published solids say what an ink looks like, and a real sheet lies off them for three reasons:
the capture's channels overlap and its tone curve bends, which all colours of the sheet share; paper and drops make
every ink of it stronger or paler; and each maker's ink has a hue of its own. Only the last can pass for foreign ink
in one chamber, and the first two can be read off the other inks: how dark cyan gets in red says how much green the
red channel takes, which is what a sound magenta then shows of red as well.

So for each ink in turn the capture, and what load the sheet's inks have in common, are fitted to the solids of all
others, each held to what it usually is (maximum a posteriori after Levenberg and Marquardt). What comes out says what
the ink ought to look like, and how sure that is, whatever is in its chamber. Another ink that lies far off, as one
that holds something does, counts less (the weights of Student's t: Lange, Little and Taylor, J. Am. Stat. Assoc. 84,
881-896, 1989).

Overprints are left aside: by the published solids densities of inks over one another add so badly (red's in blue is
0.97 on uncoated paper, its inks' 0.55 and 1.41) that they would mislead more than they tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["DEEPEST", "MAKERS_SD", "PUBLISHED_MIXING", "Aim", "Expected", "expected_inks"]

DEEPEST = LIMITS["aim_deepest"].value

MAKERS_SD = {
    "K": (0.08, 0.08, 0.08),
    "C": (0.10, 0.075, 0.035),
    "M": (0.06, 0.11, 0.06),
    "Y": (0.018, 0.05, 0.19),
}
"""Standard deviation of a solid's density in R, G, B from maker to maker. No source for desktop inks as such; spectra
of dyes whose peaks move by 6 nm (those of magentas do by 5 to 8, from memory) and whose bells' heights and widths
change by 8 % scatter by this much. Yellow's in red is what its a* does there, through the matrix to sRGB: yellows for
refilling vary by three units (sd, from memory; the published offset ones by 1.9), each 0.0065 of density."""
PUBLISHED_MIXING = LIMITS["mixing_usual"].value
_MIXING_SD = LIMITS["mixing_sd"].value
_CURVE_SD = {"scan": 0.10, "photo": 0.15}  # of the tone curve's power over sRGB's: 1.8 to 2.6 over 2.2 (from memory)
_STRAY_SD = LIMITS["stray_light"].value
_COMMON_LOAD_SD, _LOAD_SD = LIMITS["load_sd_common"].value, LIMITS["load_sd"].value
_COVER_SD = LIMITS["cover_sd"].value
# more, a unit of density beyond which a channel shows its flare, its matrix and what it is cut at
_DEEP, _DEEP_FROM = 0.6, 1.05
_NU = LIMITS["inks_degrees"].value
_LEAST_LIGHT = 0.004  # of the paper's, that a channel shows
_DEEPEST_AIM = 0.03  # light: aims lie outside sRGB, where a capture shows a little light all the same
_LEAST_DEPTH = LIMITS["solid_depth"].value
_ROUNDS, _STEPS, _SLOPE = 3, 3, 1e-4  # weights; steps of the fit for each; for slopes
_LOG10 = float(np.log(10.0))
_SAME, _OTHER = np.arange(3), np.nonzero(~np.eye(3, dtype=bool))  # what a channel takes of itself, and of the others
_CURVE, _STRAY, _COMMON, _INKS = 6, 7, 8, 9  # places of the unknowns; mixing before them, loads and covers after


@dataclass(frozen=True, slots=True)
class Aim:
    """A pure ink's solid: linear `light` (3,), relative to paper, and how far its densities lie off, `density_sd`."""

    light: NDArray[np.float64]
    density_sd: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Expected:
    """A sound ink as this capture would show it: `density` (3,) in R, G, B, up to `DEEPEST`; `covariance` (3, 3)."""

    density: NDArray[np.float64]
    covariance: NDArray[np.float64]


def expected_inks(
    seen: Mapping[str, tuple[NDArray[np.float64], NDArray[np.float64]]],
    aims: Mapping[str, Aim],
    *,
    mixing: float = PUBLISHED_MIXING,
    photo: bool = False,
    light_sd: float = 0.0,
) -> dict[str, Expected]:
    """What each ink ought to look like, by all the others.

    Parameters
    ----------
    seen : mapping of str to ((3,) float64, (3,) float64)
        Densities of the solids and the standard deviations they are read to.
    aims : mapping of str to Aim
    mixing : float
        Of the light of each other channel that one usually takes, beside what is in the aims already.
    photo : bool
    light_sd : float
        Standard deviation of a density that all channels of one solid have in common.

    Returns
    -------
    dict of str to Expected
        For the inks of `seen` that have aims.
    """
    known = [ink for ink in seen if ink in aims]
    if not known:
        return {}
    fits = _Fits([seen[ink] for ink in known], [aims[ink] for ink in known], mixing, photo, light_sd)
    return dict(zip(known, fits.expected(), strict=True))


class _Fits:
    """The capture and the loads by N solids, once without each: likeliest unknowns (N, P), covariances (N, P, P).

    All fits go on side by side; a solid that one leaves out weighs nothing there, and its load stays what is usual.
    """

    def __init__(
        self,
        seen: list[tuple[NDArray[np.float64], NDArray[np.float64]]],
        aims: list[Aim],
        mixing: float,
        photo: bool,
        light_sd: float,
    ) -> None:
        count = len(aims)
        self._loads, self._covers = slice(_INKS, _INKS + count), slice(_INKS + count, _INKS + 2 * count)
        self._aims = np.maximum(np.array([aim.light for aim in aims]), _DEEPEST_AIM)
        self._makers = np.square([aim.density_sd for aim in aims])
        self._seen = np.array([one for one, _ in seen])
        sd = np.array([one for _, one in seen])
        sd = sd + np.clip(_DEEP * (self._seen - _DEEP_FROM), 0.0, None)
        covariance = (np.square(sd) + self._makers)[:, :, None] * np.eye(3) + light_sd**2
        self._whiten = np.linalg.inv(np.linalg.cholesky(covariance))
        self._middle = np.array([*[mixing] * 6, 1.0, 0.0, 1.0, *[1.0] * (2 * count)])
        sds = [*[_MIXING_SD] * 6, _CURVE_SD["photo" if photo else "scan"], _STRAY_SD, _COMMON_LOAD_SD]
        self._precision = np.array([*sds, *[_LOAD_SD] * count, *[_COVER_SD] * count]) ** -2.0
        self._moved = _SLOPE * np.eye(len(self._middle))
        self._lowest, self._highest = np.full(len(self._middle), -np.inf), np.full(len(self._middle), np.inf)
        for places, low, high in (
            (self._loads, 0.4, 1.6), (self._covers, 0.75, 1.02), (_STRAY, -0.02, 0.05), (_CURVE, 0.5, 2.0),
        ):  # fmt: skip
            self._lowest[places], self._highest[places] = low, high
        told = (self._seen.max(axis=1) > _LEAST_DEPTH) & ~np.eye(count, dtype=bool)
        self._weights = told.astype(np.float64)  # (fits, solids)
        x = np.tile(self._middle, (count, 1))
        for _ in range(_ROUNDS):
            x = self._nearer(x)
            away = np.square(self._off(x)).sum(axis=2)
            self._weights = told * np.minimum(1.0, (_NU + 3.0) / (_NU + away))
        self._x, self._covariance = x, np.linalg.inv(self._normal(x)[0])

    def expected(self) -> list[Expected]:
        """What each ink looks like here, at the load that the others have in common."""

        def mixed(x: NDArray[np.float64], aims: NDArray[np.float64]) -> NDArray[np.float64]:
            return _mixed(x, aims[..., None, :] ** x[..., _COMMON, None, None])[..., 0, :]

        light, curve = mixed(self._x, self._aims), self._x[:, _CURVE, None]
        slope = (mixed(self._x[:, None] + self._moved, self._aims[:, None]) - light[:, None]) / _SLOPE
        # what is known of a dark channel is its light: some hundredths more or less. Taken for the slope of the
        # density there, which is steep without end, they would let the density be anything; what counts of it ends
        # at `DEEPEST`, and so does the slope
        counting = np.maximum(light, 10.0 ** (-DEEPEST / curve))
        slope *= -(curve / counting / _LOG10)[:, None]
        slope[:, _CURVE] -= np.log10(counting)
        makers = self._makers * np.square(np.clip(light / counting, _LEAST_LIGHT, 1.0))
        covariance = slope.swapaxes(1, 2) @ self._covariance @ slope + makers[:, :, None] * np.eye(3)
        here = np.minimum(_density(self._x, light[:, None])[:, 0], DEEPEST)
        return [Expected(*one) for one in zip(here, covariance, strict=True)]

    def _nearer(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Unknowns after some steps of Levenberg and Marquardt, none of which makes the sheet less likely."""
        cost, damping = self._cost(x), np.full((len(x), 1), 1e-2)
        for _ in range(_STEPS):
            normal, right = self._normal(x)
            held = normal + np.einsum("fi,ij->fij", damping * np.einsum("fii->fi", normal), np.eye(x.shape[1]))
            trial = np.clip(x + np.linalg.solve(held, right[..., None])[..., 0], self._lowest, self._highest)
            new = self._cost(trial)
            better = new < cost
            x, cost = np.where(better[:, None], trial, x), np.where(better, new, cost)
            damping = damping * np.where(better[:, None], 0.1, 10.0)
        return x

    def _off(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """How far the solids lie off what unknowns (..., P) make of them, in standard deviations (..., N, 3)."""
        return np.asarray((self._whiten @ (self._seen - self._shown(x))[..., None])[..., 0])

    def _cost(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        away = np.square(x - self._middle) @ self._precision
        return np.asarray((np.square(self._off(x)).sum(axis=2) * self._weights).sum(axis=1) + away)

    def _normal(self, x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Normal equations (N, P, P) and (N, P) of a step from unknowns (N, P)."""
        off = self._off(x)
        weights = np.repeat(self._weights, 3, axis=1)[:, None]
        slope = ((self._off(x[:, None] + self._moved) - off[:, None]) / -_SLOPE).reshape(*x.shape, -1)
        weighed = slope * weights
        right = (weighed @ off.reshape(len(x), -1, 1))[..., 0] - self._precision * (x - self._middle)
        return weighed @ slope.swapaxes(1, 2) + np.diag(self._precision), right

    def _shown(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Densities (..., N, 3) of the solids by unknowns (..., P)."""
        loads, covers = x[..., self._loads] * x[..., _COMMON, None], x[..., self._covers, None]
        return _captured(x, 1.0 - covers + covers * self._aims ** loads[..., None])


def _captured(x: NDArray[np.float64], light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Densities (..., N, 3) that a capture with unknowns (..., P) shows of light (..., N, 3)."""
    return _density(x, _mixed(x, light))


def _density(x: NDArray[np.float64], mixed: NDArray[np.float64]) -> NDArray[np.float64]:
    """Densities (..., N, 3) of light (..., N, 3) that the channels took, through the tone curve of `x` (..., P)."""
    return np.asarray(x[..., _CURVE, None, None] * -np.log10(np.maximum(mixed, _LEAST_LIGHT)))


def _mixed(x: NDArray[np.float64], light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Light (..., N, 3) that the channels of a capture with unknowns (..., P) take of light (..., N, 3)."""
    mixing = np.zeros((*x.shape[:-1], 3, 3))
    mixing[..., _OTHER[0], _OTHER[1]] = x[..., :6]
    mixing[..., _SAME, _SAME] = 1.0 - mixing.sum(axis=-1)
    stray = x[..., _STRAY, None, None]
    return np.asarray(stray + (1.0 - stray) * (light @ mixing.swapaxes(-1, -2)))
