"""Which other ink each colour of a photo leans to: not enough to say that it is there, but enough to ask for a scan.

Without a reference the pure ink is known so roughly that the interval of a share of 25 % takes in none at all. The
share that fits best is worth something all the same: of the ways to make a magenta redder, other makers' dyes do it
by a little, and yellow in the chamber by a lot. So each colour is fitted with each other ink alone, and the share
of the likeliest told if the fit is better for it, after Akaike (1974): a further unknown must lower chi squared by
more than 2.

What a phone does to colours (channels that overlap, a tone curve that steepens mid-tones, stray light) it does to all
solids: each then seems to hold a little of every other. Foreign ink sits in one chamber. So what the other inks'
solids typically lean is taken off.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from printcheck.measure.contamination import LIGHT_SD, solid_density
from printcheck.measure.result import Leaning
from printcheck.measure.unmix import one_by_one

if TYPE_CHECKING:
    from printcheck.measure.areas import InkAreas
    from printcheck.measure.contamination import Basis

__all__ = ["leanings"]

_PAYS = 2.0  # chi squared: Akaike's price of a further unknown
_LEAST_DEPTH = 0.3  # density of a solid: paler ones have no hue to lean


def leanings(areas: Mapping[str, InkAreas], basis: Basis) -> dict[str, Leaning]:
    """The ink that each colour of a photo leans to most, for those that lean to any; black has no hue."""
    fits: dict[str, dict[str, tuple[float, float]]] = {}
    for ink, reading in areas.items():
        own = basis.own.get(ink)
        if ink == "K" or own is None or reading.solid is None:
            continue
        seen, sd = solid_density(reading.solid, own, photo=True)
        others = {name: vector for name, vector in basis.foreign.items() if name not in (ink, "K")}
        if others and seen.max() > _LEAST_DEPTH:
            fits[ink] = one_by_one(seen, sd, own, others, light_sd=LIGHT_SD)
    out = {}
    for ink, tried in fits.items():
        beside = [share for other, found in fits.items() if other != ink for share, _ in found.values()]
        if not beside:  # nothing tells the ink from the camera
            continue
        name, (share, gain) = max(tried.items(), key=lambda item: item[1][1] if item[1][0] > 0.0 else 0.0)
        share -= max(0.0, float(np.median(beside)))
        if gain > _PAYS and share > 0.0:
            out[ink] = Leaning(name, min(share, 1.0))
    return out
