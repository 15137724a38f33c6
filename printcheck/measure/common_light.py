"""Light that changes down a sheet, taken out of the run-off strips.

Shadows and tinted light that the bare paper beside the page's middle does not show multiply the light of all strips
alike. A channel that two inks leave nearly alone therefore shows it in both strips, while foreign ink shows in one;
what both strips have in common, beyond what fading ink explains, is taken for light, never more than the lesser of
the two.

The edge of a shadow is no slope: it darkens every channel of every strip at the same heights, which no ink does. Ink
that leaks into a chamber spares at least the channels it leaves alone, and never enters all chambers at once.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.measure.areas import InkAreas
from printcheck.measure.fading import faded
from printcheck.measure.unmix import density
from printcheck.robust import middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["without_common_light", "without_shadow"]

_READABLE = 1.0  # density up to which a channel follows the light on it; beyond, flare fills it
_LEAST_VOTES = 4  # channels that must agree before a change is taken for light
_CLEAR = 0.6  # density up to which an ink leaves a channel alone enough to show the light in it


def without_common_light(areas: Mapping[str, InkAreas]) -> dict[str, InkAreas]:
    """Areas whose strips no longer hold the slope, in density down the page, that they have in common."""
    slopes: list[list[float]] = [[], [], []]
    for reading in areas.values():
        if reading.strip is None or len(reading.strip.y_mm) < 4:
            continue
        seen = density(reading.strip.ratio)
        middle = middle_of(seen)
        light = _unexplained(middle, seen - middle)
        for channel in np.flatnonzero(middle < _CLEAR):
            slopes[channel].append(_slope(reading.strip.y_mm, light[:, channel]))
    common = np.array([_shared(found) for found in slopes])
    out = {}
    for ink, reading in areas.items():
        strip = reading.strip
        if strip is not None:
            away = (strip.y_mm - strip.y_mm.mean())[:, None] * common
            strip = replace(strip, ratio=strip.ratio * 10.0**away)
        out[ink] = replace(reading, strip=strip)
    return out


def without_shadow(areas: Mapping[str, InkAreas]) -> tuple[dict[str, InkAreas], float]:
    """Areas whose strips no longer hold the shadow that lies over all of them, and how deep it is, in density.

    At each height the shadow is the least change of density, against the strip's own middle, over all channels of all
    strips, where all agree in sign: noise of so many channels hardly ever does. Channels too dark to show light
    (`_READABLE`) don't vote. With fewer than two strips nothing is taken out: one could hold black ink.
    """
    strips = {ink: reading.strip for ink, reading in areas.items() if reading.strip is not None}
    if len(strips) < 2 or min(len(strip.y_mm) for strip in strips.values()) < 4:
        return dict(areas), 0.0
    at = next(iter(strips.values())).y_mm
    changes = []
    for strip in strips.values():
        seen = density(strip.ratio)
        middle = middle_of(seen)
        changes += [np.interp(at, strip.y_mm, seen[:, k] - middle[k]) for k in np.flatnonzero(middle < _READABLE)]
    table = np.array(changes)
    if len(table) < _LEAST_VOTES:
        return dict(areas), 0.0
    alike = np.all(table > 0, axis=0) | np.all(table < 0, axis=0)
    shadow = np.where(alike, np.sign(table[0]) * np.abs(table).min(axis=0), 0.0)
    out = {}
    for ink, reading in areas.items():
        whole = reading.strip
        if whole is not None:
            lifted = 10.0 ** np.interp(whole.y_mm, at, shadow)[:, None]
            whole = replace(whole, ratio=whole.ratio * lifted)
        out[ink] = replace(reading, strip=whole)
    return out, float(np.ptp(shadow))


def _unexplained(middle: NDArray[np.float64], change: NDArray[np.float64]) -> NDArray[np.float64]:
    """The least of each change (N, 3) from densities `middle` (3,) that fading ink does not explain.

    Inks of one cartridge may all run dry at once: what each then gives back beside its own channel is no light.
    """
    fading = faded(middle, change)
    left = np.stack([change - fading.by_load, change - fading.by_cover])
    return np.asarray(
        np.where(np.sign(left[0]) == np.sign(left[1]), np.sign(left[0]) * np.abs(left).min(axis=0), 0.0)
    )


def _slope(y: NDArray[np.float64], values: NDArray[np.float64]) -> float:
    """Median of the slopes between pieces half a strip apart: no dust or bare row turns it (after Theil and Sen)."""
    half = len(y) // 2
    return float(middle_of((values[half : 2 * half] - values[:half]) / (y[half : 2 * half] - y[:half])))


def _shared(slopes: list[float]) -> float:
    """Lesser of any two slopes of the same sign, the largest such; 0 where no two agree."""
    shared = [min(a, b, key=abs) for a, b in itertools.combinations(slopes, 2) if a * b > 0]
    return max(shared, key=abs, default=0.0)
