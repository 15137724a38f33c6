"""What an ink that gets thinner down its strip looks like, channel by channel, with nothing foreign in it.

A starving head lays ink of less load (Beer and Lambert) or leaves paper bare (Murray and Davies), to any extent, and
each takes another share of what an ink absorbs beside its own part of the spectrum: a magenta of density 1.0 that
also takes 0.4 of the blue loses 0.16 or 0.09 there with the first 0.4 of its own. Either is exact for channels
however broad, and needs no pure ink: the strip is its own reference. So one channel tells how much is gone, and the
two ways to lose it bound what the others then show. What lies beyond both is light, or another ink.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printcheck.robust import middle_of, quantile_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Fading", "cover_lost", "faded"]

_READABLE = 1.3  # density up to which a channel measures how much of an ink is there; beyond, flare fills it
_BLACKEST = 0.006  # of the paper's light, the least a channel shows
_NEAR_MM = 10.0  # of strip to either side of a height that stand for it


@dataclass(frozen=True, slots=True)
class Fading:
    """Change of density of a strip that loses, or gains, nothing but its own ink.

    Attributes
    ----------
    by_load, by_cover : (N, 3) float64
        As it looks if all of that is dye load, and if all is cover.
    slope : (3,) float64
        Of their mean, a unit of what is lost in the channel it is told by.
    doubt : (3, 3) float64
        Covariance of their mean over the whole strip.
    """

    by_load: NDArray[np.float64]
    by_cover: NDArray[np.float64]
    slope: NDArray[np.float64]
    doubt: NDArray[np.float64]


def faded(middle: NDArray[np.float64], change: NDArray[np.float64]) -> Fading:
    """What fading explains of the changes (N, 3) from densities `middle` (3,), by the deepest channel still read."""
    ruler = _ruler(middle)
    deep, lost = max(float(middle[ruler]), 1e-3), change[:, ruler]
    bare = 1.0 - 10.0**-middle
    own = 1.0 - 10.0**-deep
    cover = (1.0 - 10.0 ** -(deep + lost)) / own
    by_load = lost[:, None] / deep * middle
    by_cover = -np.log10(np.maximum(1.0 - cover[:, None] * bare, _BLACKEST)) - middle
    slope = (middle / deep + bare / (1.0 - bare) * (1.0 - own) / own) / 2.0
    order = np.argsort(lost)
    least, most = order[round(0.05 * (len(order) - 1))], order[round(0.95 * (len(order) - 1))]
    apart = (by_load - by_cover)[most] - (by_load - by_cover)[least]
    # anything between the two is as likely: evenly spread over their distance
    either = apart / math.sqrt(12.0)
    # and that is not the same in all channels: those that are broad saturate as load grows
    return Fading(by_load, by_cover, slope, np.outer(either, either) + np.diag(np.square(either)))


def cover_lost(y_mm: NDArray[np.float64], seen: NDArray[np.float64], at_mm: float) -> float:
    """Share of its cover that a strip of densities `seen` (N, 3) has lost at a height, of its fullest, at most.

    As if all that is gone there were cover: a solid printed beside it, at that height, may have lost as much.
    """
    ruler = _ruler(middle_of(seen))
    ink = 1.0 - 10.0 ** -seen[:, ruler]
    fullest = quantile_of(ink, 0.9)
    here = ink[np.abs(y_mm - at_mm) <= _NEAR_MM]
    if not len(here) or fullest <= 0.0:
        return 0.0
    return max(0.0, 1.0 - float(middle_of(here)) / fullest)


def _ruler(middle: NDArray[np.float64]) -> int:
    """The channel that tells how much of an ink is there: the deepest of densities `middle` (3,) still read."""
    return int(np.argmax(np.where(middle <= _READABLE, middle, -middle)))
