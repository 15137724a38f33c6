"""Banding: periodic lightness across the print direction, on an ink's run-off strip, mid-tone and solid.

Lightness is read down each area, missing lines left out, and searched for sinusoids (`periodic`). The scanner's
bands lie on the bare strips beside as well: where they show there they are taken off, as the share of light they
are. What is left is grouped by harmonics, weighed by the eye's contrast sensitivity (`csf`), and matched against
the head's swath: bands at a swath, half or two of it, are how the printer moves the paper, lines up its passes or
its strokes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.measure.csf import visible_amplitude
from printcheck.measure.evenness_result import Band, BandingReading
from printcheck.measure.periodic import Sinusoid, Spectrum, amplitude_at, find_sinusoids
from printcheck.measure.profile import Profile, block_medians, sound_samples

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Band", "BandingReading", "PaperBands", "read_banding", "read_paper"]

_HIGH = 3.0  # cycles/mm; finer ones the eye hardly sees and a scan at 300 dots/inch blurs
_LOW = 1.0 / 45.0  # longer ones are trend, or fade
_LEAST_CYCLES = 2.5  # in an area
_TREND_MM = 45.0  # of strip for each order of the polynomial
_BLOCK_MM = 6.0
_BLANK_CLEAR_MM = 1.5  # air goes and comes back over some rows
_LEAST_KEPT = 0.5  # of the samples; with fewer sound ones there is nothing to call even
_SCALE_SD = 0.12  # the capture's tone curve and colour are only known to within this
_PAPER_SURE = 4.0  # standard deviations from which a band on bare paper is believed
_LONGER, _SHORTER = 0.02, 0.07  # relative: printers trim a few per cent off a swath, and never lay one longer
_SCREEN = 0.015
_SAME = 0.06  # relative: bands of two areas that are this close are one
_LEAST_WEIGHT = 0.25  # bands of a quarter of the visible amplitude and less, 0.05 L*, are under the eye's own limit
_PRINTED_EDGE_MM = 0.035  # blur of an edge before the capture: ragged dots, and light's travel in the paper
_MOST_GAIN = 1.5
_USABLE_LIMIT_DL = 0.6  # a band of this amplitude must be found, or nothing is said
_STREAK_MM, _AROUND_MM = 0.5, 6.0


@dataclass(frozen=True, slots=True)
class PaperBands:
    """Natural log of the bare strips' light down the page, their mean: what the scanner's carriage does.

    Attributes
    ----------
    y_mm, log_light : (N,) float64
    keep : (N,) bool
        Samples that hold no speck.
    frequency, sd : (F,) float64
        Cycles/mm, and the standard deviation of an amplitude there.
    """

    y_mm: NDArray[np.float64]
    log_light: NDArray[np.float64]
    keep: NDArray[np.bool_]
    frequency: NDArray[np.float64]
    sd: NDArray[np.float64]


def read_paper(strips: Sequence[Profile]) -> PaperBands | None:
    """The bare paper beside all strips of a sheet; none where there is none."""
    logs = [
        (p.y_mm, np.log(np.maximum(p.paper.mean(axis=1), 1e-4))) for p in strips if p.paper is not None
    ]
    if not logs:
        return None
    y = logs[0][0]
    light = np.mean([np.interp(y, at, values) for at, values in logs], axis=0)
    block = max(2, round(_BLOCK_MM / strips[0].step_mm))
    rest = np.abs(light - np.interp(y, *block_medians(y, light, block)))
    keep = rest <= 4.0 * 1.4826 * float(np.median(rest)) + 1e-6
    spectrum = find_sinusoids(y, light, keep, _LOW, _HIGH, 4)
    return PaperBands(y, light, keep, spectrum.frequency, spectrum.sd)


def read_banding(
    ink: str,
    areas: Sequence[tuple[str, Profile]],
    paper: PaperBands | None,
    swath_mm: float,
    dot_mm: float,
    edge_sd_mm: float = 0.0,
    blanks_mm: Sequence[tuple[float, float]] = (),
) -> BandingReading | None:
    """Judge the areas of one ink.

    Parameters
    ----------
    ink : str
    areas : sequence of (str, Profile)
        ``"strip"``, ``"tint"`` or ``"solid"``, and the light down it.
    paper : PaperBands or None
        Of the same sheet: the scanner's own bands.
    swath_mm : float
        Height of the head: rows times pitch.
    dot_mm : float
        Of the raster the sheet was composed at, for the period of the driver's halftone screen.
    edge_sd_mm : float
        Blur of the strips' edges in the capture, which takes from the amplitude of fine bands: made up for.
    blanks_mm : sequence of (float, float)
        Page y from and to where air left the ink's areas bare: nothing there is a band.

    Returns
    -------
    BandingReading or None
        None where bands well above the visible would be missed: too noisy, or too few sound lines.
    """
    bands: list[Band] = []
    limit, scanner, streak = math.inf, 0.0, 0.0
    for area, profile in areas:
        searched = _search(profile, blanks_mm)
        if searched is None:
            continue
        lightness, spectrum = searched
        middle = (spectrum.frequency >= 0.5) & (spectrum.frequency <= 1.0)
        if middle.any():
            limit = min(limit, float(np.median(spectrum.limit[middle])))
        streak = max(streak, _streak(spectrum.rest, profile.step_mm))
        own = []
        for wave in spectrum.found:
            kept, seen = _without_scanner(wave, paper, float(np.median(lightness)))
            if kept is not None:
                gain = _unblurred(kept.frequency, edge_sd_mm, profile.step_mm)
                kept = replace(kept, amplitude=kept.amplitude * gain, amplitude_sd=kept.amplitude_sd * gain)
            scanner = max(scanner, seen)
            if kept is not None and not (area == "tint" and _is_screen(1.0 / kept.frequency, dot_mm)):
                own.append(kept)
        bands += _grouped(area, own, profile, swath_mm)
    if not limit <= _USABLE_LIMIT_DL:
        return None
    return BandingReading(ink, tuple(_once(bands)), limit, scanner, streak)


def _search(
    profile: Profile, blanks_mm: Sequence[tuple[float, float]]
) -> tuple[NDArray[np.float64], Spectrum] | None:
    lightness = profile.lightness()
    y, step = profile.y_mm, profile.step_mm
    inked = np.ones(len(y), bool)
    for a, b in blanks_mm:
        inked &= (y < a - _BLANK_CLEAR_MM) | (y > b + _BLANK_CLEAR_MM)
    if inked.mean() < _LEAST_KEPT:
        return None
    height = len(y) * step
    trend = np.interp(y, *block_medians(y[inked], lightness[inked], max(2, round(_BLOCK_MM / step))))
    keep = inked & sound_samples(np.where(inked, lightness, trend), trend, step)
    low = max(_LOW, _LEAST_CYCLES / height)
    high = min(_HIGH, 0.3 / step)
    if keep.mean() < _LEAST_KEPT or low > high / 2:
        return None
    order = 2 + int(height / _TREND_MM)
    return lightness, find_sinusoids(y, lightness, keep, low, high, order)


def _without_scanner(wave: Sinusoid, paper: PaperBands | None, lightness: float) -> tuple[Sinusoid | None, float]:
    """What of `wave` is the ink's, none where the scanner explains it, and what the scanner adds, L* on this ink."""
    if paper is None:
        return wave, 0.0
    share = amplitude_at(paper.y_mm, paper.log_light, paper.keep, wave.frequency, 4)
    sd = float(np.interp(wave.frequency, paper.frequency, paper.sd))
    if abs(share) < _PAPER_SURE * sd:
        return wave, 0.0
    # dL* = (116 / 3) Y^(1/3) dY / Y, and 116 Y^(1/3) = L* + 16
    lift = (lightness + 16.0) / 3.0
    own = wave.amplitude - share * lift
    total_sd = math.hypot(wave.amplitude_sd, sd * lift)
    if abs(own) < max(_PAPER_SURE * total_sd, 0.2 * abs(share) * lift):
        return None, abs(share) * lift
    return replace(wave, amplitude=own, amplitude_sd=total_sd), abs(share) * lift


def _unblurred(frequency: float, edge_sd_mm: float, step_mm: float) -> float:
    """What an amplitude has lost to the capture's blur and sampling: the inverse of a Gaussian's transfer, a factor.

    Sampling alone, over a pixel and between two, adds a quarter of the step's square to the variance: a twelfth for
    the pixel's width, a sixth on average for the linear interpolation.
    """
    variance = max(edge_sd_mm**2 - _PRINTED_EDGE_MM**2, step_mm**2 / 4)
    return min(math.exp(2 * (math.pi * frequency) ** 2 * variance), _MOST_GAIN)


def _is_screen(period_mm: float, dot_mm: float) -> bool:
    """True for the period of a dispersed-dot screen, 4 to 64 dots by powers of two (Bayer 1973)."""
    return any(abs(period_mm - n * dot_mm) < _SCREEN * period_mm for n in (4, 8, 16, 32, 64))


def _grouped(area: str, waves: list[Sinusoid], profile: Profile, swath_mm: float) -> list[Band]:
    """Fundamentals with their harmonics: the lowest first takes its multiples."""
    length = len(profile.y_mm) * profile.step_mm
    left = sorted(waves, key=lambda w: w.frequency)
    out = []
    while left:
        first = left.pop(0)
        mine: list[Sinusoid] = []
        others: list[Sinusoid] = []
        for wave in left:
            order = round(wave.frequency / first.frequency)
            off = abs(wave.frequency - order * first.frequency)
            near = off < 0.35 / length + 3 * (wave.frequency_sd + order * first.frequency_sd)
            # a stronger multiple of a faint first is a band of its own that happens to fit
            (mine if order >= 2 and near and abs(wave.amplitude) < 2 * abs(first.amplitude) else others).append(wave)
        left = others
        amplitude = abs(first.amplitude)
        # noise adds to the square of a modulus
        amplitude = math.sqrt(max(amplitude**2 - 2 * first.amplitude_sd**2, 0.25 * amplitude**2))
        half = 1.96 * math.hypot(first.amplitude_sd, _SCALE_SD * amplitude)
        weight = max(
            (abs(w.amplitude) - 1.64 * w.amplitude_sd) / float(visible_amplitude(w.frequency)) for w in [first, *mine]
        )
        if weight < _LEAST_WEIGHT:
            continue
        period = 1.0 / first.frequency
        out.append(
            Band(
                area, period, period**2 * first.frequency_sd, amplitude,
                (max(0.0, amplitude - half), amplitude + half),
                tuple((round(w.frequency / first.frequency), abs(w.amplitude)) for w in mine),
                weight, _cause(period, swath_mm), first.false_alarm,
            )
        )  # fmt: skip
    return out


def _cause(period: float, swath_mm: float) -> str:
    for cause, expected in (("feed", swath_mm), ("passes", swath_mm / 2), ("strokes", 2 * swath_mm)):
        if (1 - _SHORTER) * expected < period < (1 + _LONGER) * expected:
            return cause
    return "unmatched"


def _once(bands: list[Band]) -> list[Band]:
    """The most visible first, each period once: with the surest reading of it where areas agree."""
    out: list[Band] = []
    for band in sorted(bands, key=lambda b: -b.weight):
        near = (k for k, b in enumerate(out) if abs(b.period_mm - band.period_mm) < _SAME * band.period_mm)
        same = next(near, None)
        if same is None:
            out.append(band)
            continue
        first = out[same]
        agree = 3.0 * math.hypot(first.period_sd_mm, band.period_sd_mm) + 0.002 * first.period_mm
        if band.period_sd_mm < first.period_sd_mm and abs(band.period_mm - first.period_mm) < agree:
            out[same] = replace(first, period_mm=band.period_mm, period_sd_mm=band.period_sd_mm, cause=band.cause)
    return out


def _streak(rest: NDArray[np.float64], step_mm: float) -> float:
    def mean(width_mm: float) -> NDArray[np.float64]:
        count = max(1, round(width_mm / step_mm))
        return np.convolve(rest, np.ones(count) / count, "same")

    return float(np.abs(mean(_STREAK_MM) - mean(_AROUND_MM)).max())
