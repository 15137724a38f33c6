"""The scanner's own bands: what its carriage and lamp do down the page shows on bare paper too.

They are read beside all strips of a sheet, and taken off a wave found on ink as the share of light they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.periodic import Series, Sinusoid, Trendless, find_common
from printcheck.measure.profile import Profile, block_medians
from printcheck.robust import MAD_SD, median_high

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["HIGH", "LOW", "TREND_BLOCK_MM", "ScannerBands", "read_scanner_bands", "without_scanner"]

HIGH = 3.0
"""Cycles/mm up to which bands are looked for: finer ones the eye hardly sees and a scan at 300 dots/inch blurs."""

LOW = 1.0 / 45.0
"""Cycles/mm from which they are: longer ones are trend, or fade."""

TREND_BLOCK_MM = 6.0
"""Length of the pieces whose medians follow the trend down an area."""

_SURE = LIMITS["scanner_band_sure"].value


@dataclass(frozen=True, slots=True)
class ScannerBands:
    """What the scanner's carriage does: natural log of the bare strips' light down the page, their mean.

    Attributes
    ----------
    light : Trendless
        Log of light, its trend taken off.
    frequency, sd : (F,) float64
        Cycles/mm, and the standard deviation of an amplitude there.
    """

    light: Trendless
    frequency: NDArray[np.float64]
    sd: NDArray[np.float64]

    def at(self, frequency: float) -> tuple[complex, float] | None:
        """Amplitude and its standard deviation of one known frequency; none where no band can be told from noise."""
        share = self.light.amplitude_at(frequency)
        sd = float(np.interp(frequency, self.frequency, self.sd))
        return (share, sd) if abs(share) > _SURE * sd else None


def read_scanner_bands(strips: Sequence[Profile]) -> ScannerBands | None:
    """The bare paper beside all strips of a sheet; none where there is none."""
    logs = [(p.y_mm, np.log(np.maximum(p.paper.mean(axis=1), 1e-4))) for p in strips if p.paper is not None]
    if not logs:
        return None
    y = logs[0][0]
    light = np.mean([np.interp(y, at, values) for at, values in logs], axis=0)
    block = max(2, round(TREND_BLOCK_MM / strips[0].step_mm))
    rest = np.abs(light - np.interp(y, *block_medians(y, light, block)))
    keep = rest <= 4.0 * MAD_SD * median_high(rest) + 1e-6
    series = Series(y, light, keep, LOW, HIGH, 4)
    noise = find_common([series])[0]
    return ScannerBands(Trendless(series), noise.frequency, noise.sd)


def without_scanner(
    wave: Sinusoid, paper: tuple[complex, float] | None, lightness: float
) -> tuple[Sinusoid | None, float]:
    """What of `wave` is the ink's, none where the scanner explains it, and what the scanner adds, L* on this ink.

    `paper` is the amplitude on bare paper and its standard deviation, none where no band lies there.
    """
    if paper is None:
        return wave, 0.0
    share, sd = paper
    # dL* = (116 / 3) Y^(1/3) dY / Y, and 116 Y^(1/3) = L* + 16
    lift = (lightness + 16.0) / 3.0
    own = wave.amplitude - share * lift
    total_sd = math.hypot(wave.amplitude_sd, sd * lift)
    if abs(own) < max(_SURE * total_sd, 0.2 * abs(share) * lift):
        return None, abs(share) * lift
    return replace(wave, amplitude=own, amplitude_sd=total_sd), abs(share) * lift
