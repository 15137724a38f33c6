"""One wave that is nearly all that moves in a short area: a strong band in a mid-tone that no taller area shows.

A mid-tone is shorter than a head, so a sinusoid found in it may be the rows of the head, each a little stronger or
weaker (see `banding`). Rows scatter, though: what they make spreads over many frequencies. Of N independent
frequencies of noise the chance that the largest holds a share R2 of the variance is at most ``N (1 - R2) ** (N - 1)``
(R. A. Fisher, Proc. R. Soc. A 125, 1929, 54-59). So a wave that holds two thirds of all that moves, and could be seen
several times over, is a band, even where solid ink, which has no gaps left to close, hides it all the way down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["PlainWave", "find_plain_wave"]

_LEAST_CYCLES = 1.0  # in the area; a straight trend is fitted along
_HIGH = 2.0  # cycles/mm
_LEAST_SHARE = 2.0 / 3.0  # of the variance: the amplitude is twice the standard deviation of the rest
_FINE = 8  # frequencies tried for each independent one


@dataclass(frozen=True, slots=True)
class PlainWave:
    """Frequency in cycles/mm and amplitude, each with its standard deviation, and the chance of it in noise."""

    frequency: float
    frequency_sd: float
    amplitude: float
    amplitude_sd: float
    false_alarm: float


def find_plain_wave(
    y_mm: NDArray[np.float64], values: NDArray[np.float64], keep: NDArray[np.bool_]
) -> PlainWave | None:
    """Find the wave that holds most of the variance of `values` (N,) at evenly spaced `y_mm` (N,), where `keep` (N,).

    Returns
    -------
    PlainWave or None
        None where no wave holds two thirds of it.
    """
    step = float(y_mm[1] - y_mm[0])
    height = len(y_mm) * step
    at, frequencies, waves = _waves(len(y_mm), step)
    weight = keep.astype(np.float64)
    count = weight.sum()
    slow = np.stack([weight, weight * at])
    slow = np.linalg.qr(slow.T)[0].T
    rest = values * weight
    rest = rest - (slow @ rest) @ slow
    total = float(rest @ rest)
    own = waves * weight
    own = own - (own @ slow.T) @ slow  # (2, F, N): what of each wave the trend leaves
    cos, sin = own
    cc, ss, cs = (np.einsum("fn,fn->f", a, b) for a, b in ((cos, cos), (sin, sin), (cos, sin)))
    c, s = cos @ rest, sin @ rest
    det = np.maximum(cc * ss - cs**2, 1e-9 * count**2)
    a, b = (ss * c - cs * s) / det, (cc * s - cs * c) / det
    held = (a * c + b * s) / max(total, 1e-12)
    best = int(np.argmax(held))
    share = float(held[best])
    if share < _LEAST_SHARE:
        return None
    independent = max(4.0, (_HIGH - _LEAST_CYCLES / height) * height)
    frequency = float(frequencies[best])
    if 0 < best < len(held) - 1:  # the top of the parabola through three
        left, middle, right = held[best - 1 : best + 2]
        frequency += float((frequencies[1] - frequencies[0]) * (left - right) / (2 * (left - 2 * middle + right)))
    amplitude = math.hypot(a[best], b[best])
    noise_sd = math.sqrt(total * (1 - share) / count)
    # Cramer and Rao's bound for a wave in that many independent pairs of samples (Rife & Boorstyn 1974)
    frequency_sd = math.sqrt(3.0 / independent) * noise_sd / (math.pi * height * amplitude)
    chance = min(1.0, independent * (1 - share) ** (independent - 1))
    return PlainWave(frequency, frequency_sd, amplitude, noise_sd / math.sqrt(independent), chance)


@lru_cache(maxsize=8)
def _waves(count: int, step: float) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Positions (N,) about the middle, frequencies (F,) and their cosines and sines (2, F, N)."""
    height = count * step
    at = (np.arange(count, dtype=np.float64) - (count - 1) / 2) * step
    frequencies = np.arange(_LEAST_CYCLES, min(_HIGH, 0.3 / step) * height, 1.0 / _FINE) / height
    turn = 2 * np.pi * frequencies[:, None] * at
    return at, frequencies, np.asarray(np.stack([np.cos(turn), np.sin(turn)]), np.float64)
