"""How much of another ink is in an ink: shares from the densities of its solid.

Densities of dyes mixed in one layer add by their shares (Beer-Lambert; density here is -log10 of linear light
relative to bare paper, in the capture's own channels). A solid can also be thin (fewer or smaller drops leave paper
bare: Murray-Davies) and its ink diluted; neither is contamination, so both are fitted along with the shares:

``density = -log10(1 - a + a * 10 ** -(k * ((1 - sum(s)) * D_own + sum(s_j * D_j))))``

with cover `a` and dilution `k` free within what refills and heads do, and shares ``s_j >= 0``. Fade moves a
density along its own vector and bare paper along another; foreign ink turns it towards a third.

Notes
-----
Which foreign inks are in the mixture is decided by trying every set of them (at most eight), fewest first, a further
ink having to earn its place: the non-negative least squares solution of so few unknowns, without its iterations.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "DARKEST",
    "LARGEST_ADDED",
    "LocalFit",
    "Mixture",
    "OwnInk",
    "density",
    "local_fit",
    "model_error",
    "unmix",
]

DARKEST = LIMITS["density_told"].value
"""Density from which a channel says nothing more: flare, clipping and 8 bits."""

_ANOTHER_INK = LIMITS["foreign_evidence"].value
_BLACK = LIMITS["foreign_evidence_black"].value
_AS_WELL = LIMITS["foreign_rival"].value
_LOG10 = float(np.log(10.0))  # densities are decadic
_MOST_COVER = 1.015  # of the reference solid's, which covers nearly all of the paper itself
LARGEST_ADDED = LIMITS["foreign_density"].value
"""Density a foreign ink adds at most: what a channel reads beyond is its matrix and clipping."""

_LOWEST, _HIGHEST = (0.1, 0.2, -0.5), (3.0, _MOST_COVER, 1.2)  # of dilution, cover and share
# relative error of densities that add: 4 % where light is left, growing with each density beyond 1.05, to half
_ADDS_TO, _BENDS, _BENDS_FROM, _MOST_BENT = 0.04, 0.9, 1.05, 0.5
_ROUNDS, _DONE = 30, 1e-4  # at most, and the relative drop of chi squared from which it is enough


@dataclass(frozen=True, slots=True)
class OwnInk:
    """What the pure ink does.

    Attributes
    ----------
    density : (3,) float64
        Of its solid, relative to paper, in R, G, B.
    covariance : (3, 3) float64
        How well that is known for this capture.
    dilution_sd, cover_sd : float
        How far dye load (relative) and cover of a solid fall without anything being foreign.
    stronger_sd : float
        How far its load rises: that of a reference's ink is held to about 5 % (from memory), and refills err thinner.
    """

    density: NDArray[np.float64]
    covariance: NDArray[np.float64]
    dilution_sd: float = 0.25
    cover_sd: float = 0.03
    stronger_sd: float = 0.05


@dataclass(frozen=True, slots=True)
class Mixture:
    """Shares of foreign inks in one ink.

    Attributes
    ----------
    share : dict of str to float
        0 to 1, for each ink that was tried; 0 where it is not needed.
    sd : dict of str to float
        Standard deviation of each.
    below : dict of str to float
        The same towards less of it.
    dilution, cover : float
        Of the own ink.
    chi2 : float
        What the mixture leaves unexplained, the price of each ink in it included.
    leaning : dict of str to float
        Share of each ink that would fit best beside those in the mixture, whether or not it is needed.
    rivals : dict of str to float
        Shares of inks that alone explain the solid nearly as well as the single one in the mixture does; none beside
        two.
    """

    share: dict[str, float]
    sd: dict[str, float]
    below: dict[str, float]
    dilution: float
    cover: float
    chi2: float
    leaning: dict[str, float]
    rivals: dict[str, float] = field(default_factory=dict)


def density(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """-log10 of linear light relative to paper, any shape; capped where nothing is left to see."""
    return np.asarray(-np.log10(np.maximum(ratio, 10.0**-DARKEST)))


def model_error(own: NDArray[np.float64]) -> NDArray[np.float64]:
    """Relative error of a change of density (3,) from `own`: small, until the channel is nearly dark.

    There it no longer follows Beer and Lambert: flare, matrixing to sRGB and clipping bend it.
    """
    return np.clip(_ADDS_TO + _BENDS * (own - _BENDS_FROM), _ADDS_TO, _MOST_BENT)


def unmix(
    seen: NDArray[np.float64],
    seen_sd: NDArray[np.float64],
    own: OwnInk,
    foreign: Mapping[str, NDArray[np.float64]],
    *,
    foreign_error: float = 0.15,
    light_sd: float = 0.0,
    largest_added: float = LARGEST_ADDED,
) -> Mixture:
    """Find the shares of foreign inks that explain the density of a solid.

    Parameters
    ----------
    seen, seen_sd : (3,) float64
        Density of the solid in R, G, B, and its standard deviation.
    own : OwnInk
    foreign : mapping of str to (3,) float64
        Densities of the solids of the inks that may have got in.
    foreign_error : float
        Relative error of the densities foreign ink adds: additivity is exact in narrow bands only, and a capture's
        channels are broad.
    light_sd : float
        Standard deviation of a density that all channels have in common: light that falls on the solid and not on the
        paper it is compared with.
    largest_added : float
        Density that a foreign ink adds at most.
    """
    names = list(foreign)
    vectors = np.minimum(np.array([foreign[n] for n in names]).reshape(len(names), 3), largest_added)
    covariance = np.diag(np.square(seen_sd)) + own.covariance + light_sd**2
    whiten = np.linalg.inv(np.linalg.cholesky(covariance))
    (cost, chosen, theta), alone = _cheapest(seen, whiten, own, names, vectors)
    shares = np.zeros(len(names))
    shares[list(chosen)] = theta[2:]
    full = np.concatenate([theta[:2], shares])
    spread, leaning = _spreads(seen, whiten, own, vectors, full, chosen, foreign_error)
    below = spread.copy()
    below[list(chosen)] = _below(seen, whiten, own, vectors[list(chosen)], theta, foreign_error)
    return Mixture(
        dict(zip(names, (float(v) for v in shares), strict=True)),
        dict(zip(names, (float(v) for v in spread), strict=True)),
        dict(zip(names, (float(v) for v in below), strict=True)),
        float(theta[0]),
        float(theta[1]),
        float(cost),
        dict(zip(names, (float(v) for v in leaning), strict=True)),
        {
            names[k]: of
            for k, (what, of) in alone.items()
            if len(chosen) == 1 and k not in chosen and what < cost + _AS_WELL
        },
    )


def _cheapest(
    seen: NDArray[np.float64],
    whiten: NDArray[np.float64],
    own: OwnInk,
    names: Sequence[str],
    vectors: NDArray[np.float64],
) -> tuple[tuple[float, tuple[int, ...], NDArray[np.float64]], dict[int, tuple[float, float]]]:
    """The set of no, one or two foreign inks that explains a solid best, each having to pay for itself.

    Returns its cost (chi squared and what its inks must bring), the inks' numbers and the fit, (2 + inks,) as of
    `_fit`; and what each ink costs that is the only one, and its share.
    """
    best: tuple[float, tuple[int, ...], NDArray[np.float64]] | None = None
    alone: dict[int, tuple[float, float]] = {}
    for count in range(min(2, len(names)) + 1):
        if best is not None and best[0] < count * _ANOTHER_INK:
            break  # not even a perfect fit would pay for a further ink
        for chosen in itertools.combinations(range(len(names)), count):
            theta, cost = _fit(seen, whiten, own, vectors[list(chosen)])
            if (theta[2:] < 0).any():
                continue
            cost += _ANOTHER_INK * count + (_BLACK if "K" in [names[c] for c in chosen] else 0.0)
            if count == 1:
                alone[chosen[0]] = cost, float(theta[2])
            if best is None or cost < best[0]:
                best = (cost, chosen, theta)
    assert best is not None  # the empty set is always allowed
    return best, alone


def _below(
    seen: NDArray[np.float64],
    whiten: NDArray[np.float64],
    own: OwnInk,
    vectors: NDArray[np.float64],
    theta: NDArray[np.float64],
    foreign_error: float,
) -> list[float]:
    """Standard deviation, towards less, of the share of each of the inks `vectors` in their fit `theta`.

    The interval that a likelihood ratio gives (D. Cox and D. Hinkley, Theoretical Statistics, 1974, chapter 7): a
    share lies as many of them above none as the root of what chi squared grows by without it. About the fit itself
    the ink may be ever so much thinner, but to do without what is foreign it would have to be stronger than inks are.
    """
    least = _cost(theta, seen, whiten, own, vectors, np.array([1.0, 1.0, *[0.0] * len(vectors)]))
    out = []
    for k, share in enumerate(theta[2:].tolist()):
        _, without = _fit(seen, whiten, own, np.delete(vectors, k, axis=0))
        out.append(share * math.sqrt(1.0 / max(without - least, 1e-9) + foreign_error**2))
    return out


def _spreads(
    seen: NDArray[np.float64],
    whiten: NDArray[np.float64],
    own: OwnInk,
    vectors: NDArray[np.float64],
    full: NDArray[np.float64],
    chosen: tuple[int, ...],
    foreign_error: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Standard deviation of each ink's share about the fit `full`, and how large a share the solid leans to.

    Both (inks,); the second is the share itself for those `chosen`.
    """
    shares = full[2:]
    jacobian = whiten @ _jacobian(full, own, vectors)
    pull = jacobian.T @ (whiten @ (seen - _layer(full, own, vectors).density))
    information = jacobian.T @ jacobian + _prior(own, full)
    spread, leaning = np.empty(len(shares)), shares.copy()
    for k in range(len(shares)):
        # an ink is told apart from those found beside it, and from the own ink's cover and dilution
        some = sorted({0, 1, 2 + k, *(2 + c for c in chosen)})
        of_some = np.linalg.inv(information[np.ix_(some, some)])
        variance = of_some[some.index(2 + k), some.index(2 + k)]
        spread[k] = np.sqrt(variance + (foreign_error * shares[k]) ** 2)
        if k not in chosen:  # all else is at its best already: this one's own pull is all that moves it
            leaning[k] = max(0.0, variance * pull[2 + k])
    return spread, leaning


@dataclass(frozen=True, slots=True)
class LocalFit:
    """The mixing model, linear about a mixture, with cover, dilution and the share of one foreign ink free.

    Attributes
    ----------
    gain : (3,) float64
        Change of the share per change of density.
    weight : (3, 3) float64
        ``d @ weight @ d`` is what a change of density `d` leaves unexplained (chi squared).
    """

    gain: NDArray[np.float64]
    weight: NDArray[np.float64]

    def cost(self, change: NDArray[np.float64]) -> float:
        """Chi squared left of changes (N, 3)."""
        return float(np.einsum("ni,ij,nj", change, self.weight, change))


def local_fit(
    covariance: NDArray[np.float64],
    own: OwnInk,
    foreign: Mapping[str, NDArray[np.float64]],
    mixture: Mixture,
    name: str,
) -> LocalFit:
    """Linearise about `mixture`, for small changes such as those along a strip; needs no exact pure ink.

    `covariance` (3, 3) is that of a change of density which ink `name` has no part in: reading, light, fading.
    """
    vectors = np.minimum(np.array(list(foreign.values())), LARGEST_ADDED)
    theta = np.array([mixture.dilution, mixture.cover, *(mixture.share[n] for n in foreign)])
    by_share = _jacobian(theta, own, vectors)[:, 2 + list(foreign).index(name)]
    weight = np.linalg.inv(np.outer(by_share, by_share) + covariance)  # a share may be anything up to all, 1
    return LocalFit(np.asarray(by_share @ weight), np.asarray(weight))


class _Layer:
    """Ink of densities `mixed` (..., 3) at full load: what it shows, and how that changes with what it is made of."""

    __slots__ = ("_inside", "_mixed", "_through", "_whole")

    def __init__(
        self,
        dilution: float | NDArray[np.float64],
        cover: float | NDArray[np.float64],
        mixed: NDArray[np.float64],
    ) -> None:
        # the reference solid's own cover is part of its density, so `cover` is relative to it: 1 changes nothing
        self._through = 10.0 ** -np.minimum(np.maximum(dilution * mixed, -0.5), 2 * DARKEST)
        self._whole = np.maximum(1.0 - cover + cover * self._through, 10.0**-DARKEST)
        self._inside, self._mixed = cover * self._through / self._whole, mixed

    @property
    def density(self) -> NDArray[np.float64]:
        return np.asarray(-np.log10(self._whole))

    @property
    def by_dilution(self) -> NDArray[np.float64]:
        return np.asarray(self._inside * self._mixed)

    @property
    def by_cover(self) -> NDArray[np.float64]:
        return np.asarray((1.0 - self._through) / self._whole / _LOG10)

    def by_mixed(self, dilution: float | NDArray[np.float64]) -> NDArray[np.float64]:
        """By what it holds, where it is diluted to `dilution`."""
        return np.asarray(self._inside * dilution)


def _layer(theta: NDArray[np.float64], own: OwnInk, vectors: NDArray[np.float64]) -> _Layer:
    shares = theta[2:]
    return _Layer(theta[0], theta[1], (1.0 - shares.sum()) * own.density + shares @ vectors)


def _jacobian(theta: NDArray[np.float64], own: OwnInk, vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    layer = _layer(theta, own, vectors)
    out = np.empty((3, len(theta)))
    out[:, 0], out[:, 1] = layer.by_dilution, layer.by_cover
    out[:, 2:] = (layer.by_mixed(theta[0]) * (vectors - own.density)).T
    return out


def _prior(own: OwnInk, theta: NDArray[np.float64]) -> NDArray[np.float64]:
    """Weights of what is known beforehand: dilution and cover near 1, shares anything up to all of it."""
    out = np.eye(len(theta))
    out[0, 0] = (own.dilution_sd if theta[0] <= 1.0 else own.stronger_sd) ** -2
    out[1, 1] = own.cover_sd**-2
    return out


def _fit(
    seen: NDArray[np.float64], whiten: NDArray[np.float64], own: OwnInk, vectors: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float]:
    """Damped Gauss-Newton from no share and, for one ink, from all of it; parameters and chi squared."""
    count = len(vectors)
    middle = np.array([1.0, 1.0, *[0.0] * count])
    lowest, highest = (np.array([*limit[:2], *[limit[2]] * count]) for limit in (_LOWEST, _HIGHEST))
    starts = [middle] if count != 1 else [middle, np.array([1.0, 1.0, 0.95])]
    best: tuple[float, NDArray[np.float64]] | None = None
    for start in starts:
        theta, damping = start.copy(), 1e-3
        cost = _cost(theta, seen, whiten, own, vectors, middle)
        for _ in range(_ROUNDS):
            jacobian = whiten @ _jacobian(theta, own, vectors)
            left = whiten @ (seen - _layer(theta, own, vectors).density)
            prior = _prior(own, theta)
            normal = jacobian.T @ jacobian + prior
            slope = jacobian.T @ left - prior @ (theta - middle)
            trial = theta + np.linalg.solve(normal + damping * np.diag(np.diag(normal)), slope)
            trial = np.minimum(np.maximum(trial, lowest), highest)
            new = _cost(trial, seen, whiten, own, vectors, middle)
            if new < cost:
                done = cost - new < _DONE * (1 + cost)
                theta, cost, damping = trial, new, damping / 5
                if done:
                    break
            else:
                damping *= 10
                if damping > 1e6:
                    break
        if best is None or cost < best[0]:
            best = (cost, theta)
    assert best is not None
    return best[1], best[0]


def _cost(
    theta: NDArray[np.float64], seen: NDArray[np.float64], whiten: NDArray[np.float64], own: OwnInk,
    vectors: NDArray[np.float64], middle: NDArray[np.float64],
) -> float:  # fmt: skip
    left = whiten @ (seen - _layer(theta, own, vectors).density)
    away = theta - middle
    return float(left @ left + away @ _prior(own, theta) @ away)
