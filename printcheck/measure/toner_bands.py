"""Bands across a toner sheet: tints that get darker and lighter down the page, as a roller prints them once a turn.

A roller that is out of round, or charged or coated unevenly round it, moves the toner of all tints alike, and none of
the bare paper's light. So each tint is read against the paper beside it, height by height, which takes the lamp and a
scanner's own bands out; what is left is searched for sinusoids that tints have in common (`periodic`), with its bound
on false alarms. A slow change is fade. Lines that come back (`crosslines`) are too narrow to make a wave that counts:
one of 2 mm, a fifth lighter, once in 60 mm is a wave of 0.4 L*.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.measure.fields import SCALE_SD, Field
from printcheck.measure.light import lightness_of
from printcheck.measure.periodic import Series, Sinusoid, find_common
from printcheck.measure.toner_result import TonerBand

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["makes_lines", "paper_beside", "read_bands"]

_STEP_MM = 1.0  # of the profiles: a twelfth of the shortest period
_SOFT_MM = 1.0  # standard deviation down the page: a screen's dots stand in rows, which must be gone before that
_RIM_MM = 2.0  # of an area's ends, where softening has but one side
_SHORTEST_MM, _TURNS = LIMITS["toner_band_shortest"].value, LIMITS["toner_band_turns"].value
_ORDER = 2  # of the polynomial that takes fade, and its bend
_ALIKE = LIMITS["toner_band_alike"].value
_LEAST_DL = LIMITS["band_threshold"].value
_HARMONIC = 0.1  # of a whole number of waves to a stronger one: what repeats is no sinusoid, long waves are vague
_LINES_DL, _SPACING = LIMITS["toner_band_lines"].value, LIMITS["toner_line_spacing"].value
_NEAR, _TRIED = 0.6, 25  # cycles over the page about a peak, and frequencies tried there
_CORRELATED = 8.0  # heights that err alike: the softening, and paper's clouds
_TURN_SD = LIMITS["toner_band_turn_sd"].value
_OWN_SD = 2.0  # from which an area shows a band itself, and must agree about its phase


def read_bands(fields: Sequence[Field]) -> tuple[TonerBand, ...] | None:
    """Find what comes back down the page in the tints, the strongest first.

    Parameters
    ----------
    fields : sequence of Field
        The page-long areas, bare columns among them.

    Returns
    -------
    tuple of TonerBand or None
        None where no tint has bare paper on both sides.
    """
    tints = [field for field in fields if field.tone > 0]
    read = [(tint, one) for tint in tints if (one := _series(tint, fields)) is not None]
    if not read:
        return None
    spectra = find_common([one for _, one in read])
    bands = []
    for shown in zip(*(spectrum.found for spectrum in spectra), strict=True):
        seen = [(tint, wave) for (tint, _), wave in zip(read, shown, strict=True) if wave is not None]
        if seen and _together([wave for _, wave in seen]):
            tint, wave = max(seen, key=lambda one: abs(one[1].amplitude) - 1.96 * one[1].amplitude_sd)
            bands.append(_band(tint, wave, *_frequency([one for _, one in read], wave.frequency)))
    bands.sort(key=lambda band: -band.ci95[0])
    return tuple(band for k, band in enumerate(bands) if not any(_is_harmonic(band, other) for other in bands[:k]))


def makes_lines(band: TonerBand, spacing_mm: float) -> bool:
    """Whether lines across the page so far apart are but the crests of a band."""
    return band.ci95[0] > _LINES_DL and abs(band.period_mm / spacing_mm - 1.0) < _SPACING


def paper_beside(
    field: Field, fields: Sequence[Field], lights: Sequence[NDArray[np.float64]]
) -> NDArray[np.float64] | None:
    """Light (N,) of bare paper at a field's middle, from the columns on either side; `lights` are of all `fields`."""
    columns = [(f, light) for f, light in zip(fields, lights, strict=True) if f.tone == 0]
    left = [one for one in columns if one[0].box.x1 <= field.box.x0]
    right = [one for one in columns if one[0].box.x0 >= field.box.x1]
    if not left or not right:
        return None
    (before, first), (after, last) = left[-1], right[0]
    share = (field.box.centre[0] - before.box.centre[0]) / (after.box.centre[0] - before.box.centre[0])
    return np.asarray(first * (1 - share) + last * share, np.float64)


def _series(tint: Field, fields: Sequence[Field]) -> Series | None:
    """Lightness of a tint over the paper beside it, down the page."""
    y = np.arange(tint.box.y0 + _RIM_MM, tint.box.y1 - _RIM_MM, _STEP_MM)
    paper = paper_beside(tint, fields, [_down(field, y) if field.tone == 0 else y for field in fields])
    if paper is None or len(y) * _STEP_MM < 2.0 * _TURNS * _SHORTEST_MM:
        return None
    lightness = lightness_of(_down(tint, y) / np.maximum(paper, 1e-4))
    keep = np.ones(len(y), bool)
    low, high = _TURNS / (len(y) * _STEP_MM), 1.0 / _SHORTEST_MM
    return Series(y, np.asarray(lightness), keep, low, high, _ORDER, lambda f: np.full(len(f), _LEAST_DL))


def _down(field: Field, y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Light of a field at heights `y`, softened."""
    column, sigma = field.rows[:, None], _SOFT_MM * field.per_mm_y
    soft = cv2.GaussianBlur(column, (1, 0), 1e-3, sigmaY=sigma, borderType=cv2.BORDER_REFLECT)[:, 0]
    return np.asarray(np.interp(y, field.box.y0 + (np.arange(len(soft)) + 0.5) / field.per_mm_y, soft))


def _together(waves: Sequence[Sinusoid]) -> bool:
    """Whether all areas that show a wave themselves are dark at the same heights."""
    own = [wave.amplitude for wave in waves if abs(wave.amplitude) > _OWN_SD * wave.amplitude_sd]
    total = abs(sum(own))
    return bool(own) and total >= _ALIKE * sum(abs(one) for one in own)


def _is_harmonic(band: TonerBand, of: TonerBand) -> bool:
    turns = of.period_mm / band.period_mm
    return turns > 1.5 and abs(turns - round(turns)) < _HARMONIC * round(turns)


def _frequency(series: Sequence[Series], near: float) -> tuple[float, float]:
    """Frequency, cycles/mm, at which a wave and its octave fit best together with the trend, and its sd.

    Of a few turns the trend takes a part, which moves a periodogram's peak by some percents.
    """
    length = max(len(one.y_mm) for one in series) * _STEP_MM
    tried = near + np.linspace(-_NEAR, _NEAR, _TRIED) / length
    unlike = np.zeros(_TRIED)
    for one in series:
        left = np.array([_left(one, frequency) for frequency in tried])
        unlike += len(one.y_mm) * np.log(left / left.min())
    k = int(np.clip(np.argmin(unlike), 1, _TRIED - 2))
    before, at, after = unlike[k - 1 : k + 2]
    bend = max(float(before - 2 * at + after), 1e-9)
    step = float(tried[1] - tried[0])
    frequency = float(tried[k]) + step * float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
    # a likelihood's bend, of profiles whose neighbours err alike; without one it lies anywhere in what was tried
    sd = min(step * float(np.sqrt(2.0 * _CORRELATED / bend)), _NEAR / length / 3.0**0.5)
    return frequency, float(np.hypot(sd, _TURN_SD * frequency))


def _left(series: Series, frequency: float) -> float:
    """Variance of a profile that its trend, a wave and its octave leave."""
    at = np.linspace(-1.0, 1.0, len(series.y_mm))
    turns = 2 * np.pi * frequency * series.y_mm
    waves = [f(k * turns) for k in (1, 2) for f in (np.cos, np.sin)]
    design = np.stack([*(at**k for k in range(_ORDER + 1)), *waves], axis=1)
    rest = series.values - design @ np.linalg.lstsq(design, series.values, rcond=None)[0]
    return float(rest @ rest) / len(rest) + 1e-9


def _band(tint: Field, wave: Sinusoid, frequency: float, frequency_sd: float) -> TonerBand:
    kept = float(np.exp(-2.0 * (np.pi * _SOFT_MM * frequency) ** 2))  # of a wave that is softened
    size, sd = abs(wave.amplitude) / kept, wave.amplitude_sd / kept
    sure = 1.96 * float(np.hypot(sd, SCALE_SD * size))
    period = 1.0 / frequency
    turn = 1.96 * frequency_sd * period**2
    x_mm, middle = tint.box.centre
    ci95 = (max(0.0, size - sure), size + sure)
    darkest = _darkest(wave, period, middle, tint.box)
    return TonerBand(period, (period - turn, period + turn), size, ci95, tint.name, x_mm, darkest)


def _darkest(wave: Sinusoid, period: float, middle: float, box: Box) -> tuple[float, ...]:
    """Page y of a lightness's troughs, counted from the one nearest the middle: a period's error moves it least."""
    of_first = (np.pi - np.angle(wave.amplitude)) / (2 * np.pi * wave.frequency)
    nearest = of_first + round((middle - of_first) * wave.frequency) / wave.frequency
    first = nearest - np.floor((nearest - box.y0) / period) * period
    return tuple(float(y) for y in np.arange(first, box.y1, period))
