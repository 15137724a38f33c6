"""The offset between forward and backward strokes, on the longest vertical lines of the sheet: the strips' edges.

A carriage that prints both ways lays every second swath a little to one side where its two directions are out of
line. Both edges of a run-off strip then step left and right with a period of two swaths. A square wave is fitted to
the strip's sway by least squares over the advances a head may have and all phases; its noise is what the same fit
finds at advances no head has. Nozzles have no part in it: it is the printer's alignment.

Passes that share each swath (two-pass printing) lay both directions into every few rows; what does not alternate from
swath to swath does not show here, and no more does it as a step in a vertical line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.evenness_result import StrokeOffset
from printcheck.measure.profile import Profile
from printcheck.robust import median_high

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["StrokeOffset", "read_strokes"]

_BIN_MM = 0.5  # of strip, averaged before the fit
_PHASES = 12  # of half a period
_ADVANCES = (0.93, 1.01)  # of a swath: a driver trims some rows, a feed is a little out
_OTHERS = ((0.62, 0.88), (1.08, 1.40))  # advances no driver uses
_STEPS = 21  # advances tried in each span
_TREND_MM = 60.0  # of strip for each order of the polynomial: bent registration goes, two swaths of 25 mm stay
_SURE = LIMITS["strokes_sure"].value
_CREST = 1.0  # quartile ranges beyond the quartiles: specks and gaps in an edge
_RAYLEIGH = 1.177  # median of a Rayleigh distribution over its scale: sqrt(2 ln 2)
_USABLE_MM = LIMITS["strokes_usable"].value
_LEAST_SWATHS = 4  # in a strip, two of either direction: of fewer, a trend looks like strokes
_LEAST_MM = LIMITS["strokes_least"].value
_SCALE_SD = LIMITS["strokes_scale_sd"].value


def read_strokes(strip: Profile, swaths_mm: Sequence[float]) -> StrokeOffset | None:
    """Judge one strip; none where its edges can't be seen or offsets of 0.04 mm would be missed.

    Parameters
    ----------
    strip : Profile
    swaths_mm : sequence of float
        Heights of the head's inks, rows times pitch: the paper may move by any of them.
    """
    found = [one for one in (_read(strip, swath) for swath in sorted(set(swaths_mm))) if one is not None]
    return max(found, key=lambda one: (one.offset_mm, -one.ci95[1]), default=None)


def _read(strip: Profile, swath_mm: float) -> StrokeOffset | None:
    if strip.sway_mm is None:
        return None
    count = max(1, round(_BIN_MM / strip.step_mm))
    bins = len(strip.sway_mm) // count
    height = bins * count * strip.step_mm
    if height < _LEAST_SWATHS * swath_mm:
        return None
    sway = strip.sway_mm[: bins * count]
    quarters = [len(sway) // 4, 3 * len(sway) // 4]
    low, high = (float(v) for v in np.partition(sway, quarters)[quarters])
    sway = np.clip(sway, low - _CREST * (high - low), high + _CREST * (high - low)).reshape(bins, count).mean(axis=1)
    waves, power, own = _waves(bins, round(count * strip.step_mm / swath_mm, 6), 1 + round(height / _TREND_MM))
    fitted = ((waves @ sway.astype(np.float32)) / power).reshape(len(own), _PHASES)
    gain = fitted**2 * power.reshape(fitted.shape)
    best = np.argmax(gain, axis=1)
    # half the step from forward to backward at each advance, its phase the best
    half = np.abs(fitted[np.arange(len(own)), best])
    # the best phase of pure noise is Rayleigh distributed, the median of which is 1.177 sd
    noise = 2.0 * median_high(half[~own]) / _RAYLEIGH
    k = int(np.argmax(np.where(own, gain.max(axis=1), 0.0)))
    offset, limit = 2.0 * float(half[k]), max(_SURE * noise, _LEAST_MM)
    if limit > _USABLE_MM:
        return None
    if offset < limit:
        return StrokeOffset(0.0, (0.0, limit), None)
    margin = 1.96 * math.hypot(noise, _SCALE_SD * offset)
    return StrokeOffset(offset, (max(0.0, offset - margin), offset + margin), float(_advances()[k]) * swath_mm)


def _advances() -> NDArray[np.float64]:
    spans = (_ADVANCES, *_OTHERS)
    return np.concatenate([np.linspace(low, high, _STEPS) for low, high in spans])


@lru_cache(maxsize=16)
def _waves(
    bins: int, bin_swaths: float, order: int
) -> tuple[NDArray[np.float32], NDArray[np.float64], NDArray[np.bool_]]:
    """Square waves (A * P, bins) of each advance and phase, their power, and which advances a head may have."""
    advances = _advances()
    at = (np.arange(bins) + 0.5) * bin_swaths
    phase = np.arange(_PHASES) / _PHASES
    turns = at[None, None, :] / advances[:, None, None] + phase[None, :, None]
    # a bin across a step holds some of both
    width = bin_swaths / advances[:, None, None]
    distance = np.abs(turns - np.round(turns))
    waves = np.where(np.floor(turns) % 2 == 0, 1.0, -1.0) * np.minimum(1.0, 2.0 * distance / width)
    waves = waves.reshape(-1, bins)
    slow = np.polynomial.legendre.legvander((2 * np.arange(bins) + 1 - bins) / bins, order)
    base, _ = np.linalg.qr(slow)
    waves = waves - (waves @ base) @ base.T
    own = np.arange(len(advances)) < _STEPS
    return waves.astype(np.float32), np.einsum("ij,ij->i", waves, waves), own
