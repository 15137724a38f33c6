"""Banding: periodic lightness across the print direction, on an ink's run-off strip, mid-tone and solid.

Lightness is read down each area, missing lines left out, and searched for sinusoids (`periodic`). The scanner's
bands lie on the bare strips beside as well: where they show there they are taken off, as the share of light they
are. What is left is grouped by harmonics, weighed by the eye's contrast sensitivity (`csf`), and matched against
the head's swath: bands at a swath, half or two of it, are how the printer moves the paper, lines up its passes or
its strokes.

Solid ink hardly shows what mid-tones do: the strip, which runs past many swaths, mostly gives the period, the
mid-tone beside the solid the amplitude. Every area has a band in the same phase. What the mid-tone alone shows may
be the driver's screen or the rows of the head, each a little stronger or weaker: both repeat with known periods, and
are told by them where the mid-tone is two swaths tall and more. On sheets of the first layout it is shorter than a
swath, in which rows look like any band: there the strip must show a band too, however faintly, or one wave be nearly
all that moves in the mid-tone (`plain_wave`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.band_cause import cause_of, is_cell, is_screen, on_rows
from printcheck.measure.csf import visible_amplitude
from printcheck.measure.evenness_result import Band, BandingReading
from printcheck.measure.periodic import Series, Sinusoid, Spectrum, find_common
from printcheck.measure.plain_wave import PlainWave, find_plain_wave
from printcheck.measure.profile import Profile, block_medians, sound_samples
from printcheck.measure.scanner_bands import HIGH, LOW, TREND_BLOCK_MM, ScannerBands, without_scanner
from printcheck.robust import MAD_SD, median_high

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["read_banding"]

_LEAST_CYCLES = 2.0  # in an area
_TREND_MM = 45.0  # of strip for each order of the polynomial
_BLANK_CLEAR_MM = 1.5  # air goes and comes back over some rows
_LEAST_KEPT = 0.5  # of the samples; with fewer sound ones there is nothing to call even
_SCALE_SD = LIMITS["band_scale_sd"].value
_YELLOW_SCALE_SD = LIMITS["band_scale_sd_yellow"].value
_MOST_HARMONIC = 8  # multiples of a frequency that may be its own harmonics, at most
_OFF_MULTIPLE = 0.35  # of a cycle over the longest area: how far off a whole multiple a harmonic may seem to lie
_LEAST_WEIGHT = LIMITS["band_weight"].value
_PRINTED_EDGE_MM = LIMITS["printed_edge"].value
_MOST_GAIN = 1.5  # of what blur took, given back at most: beyond, it is noise that grows
_FOLDED_STEPS, _OUTDOES = LIMITS["screen_folded"].value, LIMITS["screen_outdoes"].value
_USABLE_LIMIT_DL = LIMITS["band_usable"].value
_ONE_SIDED = 1.64  # standard deviations to the one end of an interval beyond which 5 % lie
_CREST = 2.5  # robust standard deviations; the crest of a sinusoid lies at 1.35
_FLANK = 1.1  # times the period where two searches meet, or by it, within which a wave beyond it may show its flank
_LEAST_DL = LIMITS["band_least"].value
_BY_SHADOW = 1.0 / LIMITS["band_by_shadow"].value  # cycles/mm
_BY_SHADOW_DL = LIMITS["band_by_shadow_least"].value
_FAINT_DL = LIMITS["band_least_solid"].value
_TALL_SWATHS = 2.0  # in an area of less the rows of the head, which repeat every swath, look like a band
_CLEAR_SD = LIMITS["band_clear"].value
_STANDS_OUT_SD = LIMITS["band_stands_out"].value
_MOST_DOUBT = 0.7  # radians of a band's phase
_ROWS_WEIGHT = LIMITS["band_of_rows"].value
_TINT_WEIGHT = LIMITS["band_tint_only"].value
_ALONE_WEIGHT = LIMITS["band_tint_short"].value
_OWN_SD = LIMITS["band_own"].value
# of the arrays whose own texture is coarse enough to be seen, the largest: blue noise, in larger ones, has none
_SMEARED_DOTS = 32
_HEAD_SHARE = LIMITS["head_band_share"].value
_SKIRTS = LIMITS["cell_beside"].value
_STREAK_MM, _AROUND_MM = 0.5, 6.0  # width of a streak, and of the surroundings it is held against


def read_banding(
    ink: str,
    areas: Sequence[tuple[str, Profile]],
    paper: ScannerBands | None,
    swaths_mm: Sequence[float],
    dot_mm: float,
    edge_sd_mm: float = 0.0,
    blanks_mm: Sequence[tuple[float, float]] = (),
    rows_mm: float | None = None,
    *,
    broken: bool = False,
    whole: bool = False,
    photo: bool = False,
    swings: tuple[float, float] = (0.0, 0.0),
    rows_swing: Callable[[float], float] | None = None,
) -> BandingReading | None:
    """Judge the areas of one ink.

    Parameters
    ----------
    ink : str
    areas : sequence of (str, Profile)
        ``"strip"``, ``"tint"`` or ``"solid"``, and the light down it.
    paper : ScannerBands or None
        Of the same sheet: the scanner's own bands.
    swaths_mm : sequence of float
        Heights of the head's inks, rows times pitch, this ink's first. Inks printed together are moved on by the
        least of them.
    dot_mm : float
        Of the raster the sheet was composed at, for the period of the driver's halftone screen.
    edge_sd_mm : float
        Blur of the strips' edges in the capture, which takes from the amplitude of fine bands: made up for.
    blanks_mm : sequence of (float, float)
        Page y from and to where air left the ink's areas bare, or ink that could not follow left them light and came
        back: nothing there is a band, for a band repeats.
    rows_mm : float or None
        Spacing of missing rows where they lie evenly: what repeats with it is not counted twice.
    broken : bool
        A run of rows is missing, which lightens part of every swath: a tint alone then tells no band.
    whole : bool
        No row is missing: what rows then differ by makes no strong wave.
    photo : bool
        The page is known to a tenth of a millimetre at best, which smears the period of a driver's screen: what is as
        fine, and shows in the mid-tone alone, is not told from one.
    swings : (float, float)
        Share by which the head's own lines swing once and twice over its height; see `head_swings`.
    rows_swing : callable or None
        Share by which its lines swing at a period, mm, much shorter than it; see `rows_wave`. None: they don't.

    Returns
    -------
    BandingReading or None
        None where bands well above the visible would be missed: too noisy, or too few sound lines.
    """
    searched = _to_search(areas, blanks_mm, swaths_mm)
    if not searched:
        return None
    spectra = find_common([one.series for one in searched])
    limits = tuple(
        (one.area, limit) for one, limit in zip(searched, map(_limit, spectra), strict=True) if limit is not None
    )
    limit = min((value for _, value in limits), default=math.inf)
    if not limit <= _USABLE_LIMIT_DL:
        return None
    shown, scanner = _shown_by(searched, spectra, paper, edge_sd_mm)
    by_shadow = _long_by_shadow(areas, blanks_mm, swaths_mm)
    if by_shadow:
        longer = _shown_by(by_shadow, find_common([one.series for one in by_shadow]), paper, edge_sd_mm)[0]
        shown = [own for own in longer if not _is_flank(own, shown)] + [
            own for own in shown if not _is_flank(own, longer)
        ]
    streak = max(_streak(s.rest, one.profile.step_mm) for one, s in zip(searched, spectra, strict=True))
    length = max(one.profile.height_mm for one in searched)
    tint = min((one.profile.height_mm for one in searched if one.area == "tint"), default=length)
    # in a photo the pixels' pitch changes with the slant, and what is folded is smeared
    step = math.inf if photo else min(one.profile.step_mm for one in searched)

    depths = {one.area: 100.0 - median_high(one.lightness) for one in searched}

    def cell(wave: Sinusoid | PlainWave) -> bool:
        if not is_cell(wave.frequency, wave.frequency_sd, _weight(wave), dot_mm, tint):
            return False
        explained = 0.0 if rows_swing is None else rows_swing(1.0 / wave.frequency) * depths.get("tint", 0.0)
        return not explained > _HEAD_SHARE * abs(wave.amplitude)

    cells = [wave for wave in (_tint_of(own) for own in shown) if wave is not None and cell(wave)]

    def clustered(wave: Sinusoid | PlainWave) -> bool:
        beside = [one for one in cells if abs(wave.frequency - one.frequency) < _SKIRTS / tint]
        return cell(wave) or any(_OUTDOES * abs(wave.amplitude) < abs(one.amplitude) for one in beside)

    def screen(wave: Sinusoid | PlainWave) -> bool:
        own = is_screen(wave.frequency, wave.frequency_sd, _weight(wave), dot_mm, tint, step)
        return own or clustered(wave)

    # a feed's bands are coarser than a few of a scanner's steps, and a screen that those fold is as strong as any
    folded = 0.0 if photo else _FOLDED_STEPS * step

    def outdoes(wave: Sinusoid | PlainWave) -> bool:
        return wave.frequency * folded > 1.0 or clustered(wave)

    in_step = [own for own in (_in_step(own, screen, outdoes) for own in shown if own) if own]
    finest = _SMEARED_DOTS * dot_mm if photo else 0.0
    scale_sd = _YELLOW_SCALE_SD if ink == "Y" else _SCALE_SD
    bands = _grouped(in_step, length, swaths_mm, rows_mm, scale_sd, finest, whole=whole)
    bands = [_of_head(band, swaths_mm[0], swings, depths[band.area]) for band in bands]
    for one in searched:
        if one.area == "tint" and not one.tall and not broken:
            alone = _alone(one, swaths_mm, rows_mm, scale_sd, finest, screen)
            if alone is not None and not any(b.told and b.weight > 0.5 * alone.weight for b in bands):
                bands = [b for b in bands if b.area != "tint"] + [alone]
    return BandingReading(ink, tuple(sorted(bands, key=_importance)), limit, scanner, streak, limits)


@dataclass(frozen=True, slots=True)
class _Searched:
    """An area, its lightness and what of that is searched; `tall` where rows of the head would repeat in it."""

    area: str
    profile: Profile
    lightness: NDArray[np.float64]
    series: Series
    tall: bool


def _limit(spectrum: Spectrum) -> float | None:
    """Amplitude from which a band at half to one cycle/mm is found, L*; none where that was not searched."""
    middle = (spectrum.frequency >= 0.5) & (spectrum.frequency <= 1.0)
    return median_high(spectrum.limit[middle]) if middle.any() else None


def _shown_by(
    searched: Sequence[_Searched], spectra: Sequence[Spectrum], paper: ScannerBands | None, edge_sd_mm: float
) -> tuple[list[list[_Shown]], float]:
    """What the areas show at each frequency found, freed of the scanner's, and the most that the scanner adds, L*."""
    frequencies = [next(wave.frequency for wave in waves if wave is not None) for waves in _by_frequency(spectra)]
    of_scanner = [None if paper is None else paper.at(frequency) for frequency in frequencies]
    shown: list[list[_Shown]] = [[] for _ in frequencies]
    scanner = 0.0
    for one, spectrum in zip(searched, spectra, strict=True):
        level, step = median_high(one.lightness), one.profile.step_mm
        for own, wave, own_of_scanner in zip(shown, spectrum.found, of_scanner, strict=True):
            if wave is None:
                continue
            kept, seen = without_scanner(wave, own_of_scanner, level)
            scanner = max(scanner, seen)
            if kept is None:
                continue
            gain = _unblurred(kept.frequency, edge_sd_mm, step)
            sd = kept.amplitude_sd if one.tall else max(kept.amplitude_sd, _sd_of_rest(spectrum, kept.amplitude))
            kept = replace(kept, amplitude=kept.amplitude * gain, amplitude_sd=kept.amplitude_sd * gain)
            own.append(_Shown(one.area, kept, one.tall, float(one.profile.y_mm.mean()), sd * gain))
    return shown, scanner


@dataclass(frozen=True, slots=True)
class _Shown:
    """A sinusoid in one area: `tall` where rows of the head would repeat in it, `y_mm` its middle.

    `most_sd` is its amplitude's standard deviation if all else that moves in a short area is noise.
    """

    area: str
    wave: Sinusoid
    tall: bool
    y_mm: float
    most_sd: float

    @property
    def sure(self) -> bool:
        return abs(self.wave.amplitude) > _OWN_SD * self.wave.amplitude_sd


def _sd_of_rest(spectrum: Spectrum, amplitude: complex) -> float:
    """Standard deviation of an amplitude if all else that moves in the area is noise, other sinusoids too.

    A few taken off a short area, which holds few independent frequencies, leave too little to judge noise by.
    """
    return math.sqrt(max(spectrum.variance - abs(amplitude) ** 2 / 2, 0.0) / spectrum.independent)


def _by_frequency(spectra: Sequence[Spectrum]) -> list[tuple[Sinusoid | None, ...]]:
    return list(zip(*(spectrum.found for spectrum in spectra), strict=True))


def _importance(band: Band) -> tuple[bool, bool, float]:
    return not band.visible, not band.told, -band.weight


def _tint_of(shown: list[_Shown]) -> Sinusoid | None:
    return next((one.wave for one in shown if one.area == "tint"), None)


def _in_step(
    shown: list[_Shown],
    screen: Callable[[Sinusoid | PlainWave], bool],
    outdoes: Callable[[Sinusoid | PlainWave], bool],
) -> list[_Shown]:
    """Keep of the short areas what swings in step with the surest tall one, as a real amplitude.

    All areas of an ink get the same drops at the same place on the page, so a band has one phase in all of them.
    What is out of step is noise, and taking only the part in step keeps it from adding to the amplitude. Left as
    they are where no tall area knows the phase. The period of a `screen` that only the mid-tone has is the driver's,
    or one that `outdoes` rows and that it has many times as strong: rows swing solid ink by a little anywhere.
    """
    tall = [one for one in shown if one.tall and one.sure]
    tint = _tint_of(shown)
    if tint is not None and screen(tint):
        fine = outdoes(tint)
        solid = [one for one in tall if not fine or _OUTDOES * abs(one.wave.amplitude) > abs(tint.amplitude)]
        if not _in_solid(solid):
            return [one for one in shown if one.area != "tint"]
    if not tall:
        return shown
    guide = max(tall, key=lambda one: abs(one.wave.amplitude) / one.wave.amplitude_sd)
    unit = guide.wave.amplitude / abs(guide.wave.amplitude)
    out = []
    for one in shown:
        if one.tall:
            out.append(one)
            continue
        sway = 2 * math.pi * guide.wave.frequency_sd * (one.y_mm - guide.y_mm)
        doubt = math.hypot(guide.wave.amplitude_sd / abs(guide.wave.amplitude), sway)
        if doubt > _MOST_DOUBT:
            continue
        along = (one.wave.amplitude * unit.conjugate()).real
        if along > 0.5 * abs(one.wave.amplitude) > 0.5 * _CLEAR_SD * one.most_sd:
            out.append(one)  # noise hardly adds to it, and it knows its phase better than the tall one does
        elif along > 0:
            grown = math.exp(doubt**2 / 2)  # the mean of a cosine about its crest
            wave = replace(one.wave, amplitude=along * grown * unit, amplitude_sd=one.wave.amplitude_sd * grown)
            out.append(replace(one, wave=wave, most_sd=one.most_sd * grown))
    return out


def _to_search(
    areas: Sequence[tuple[str, Profile]],
    blanks_mm: Sequence[tuple[float, float]],
    swaths_mm: Sequence[float],
) -> list[_Searched]:
    """The areas of which enough is sound to look for bands in, as `read_banding` takes them."""
    out = []
    for area, profile in areas:
        prepared = _prepare(profile, blanks_mm, min(swaths_mm))
        if prepared is not None:
            out.append(_Searched(area, profile, *prepared, profile.height_mm >= _TALL_SWATHS * swaths_mm[0]))
    return out


def _prepare(
    profile: Profile, blanks_mm: Sequence[tuple[float, float]], repeat_mm: float
) -> tuple[NDArray[np.float64], Series] | None:
    """Lightness down an area, and what of it to search; none where too little is sound or it is too short."""
    lightness = profile.lightness()
    y, step = profile.y_mm, profile.step_mm
    inked = np.ones(len(y), bool)
    for a, b in blanks_mm:
        inked &= (y < a - _BLANK_CLEAR_MM) | (y > b + _BLANK_CLEAR_MM)
    if profile.stepped is not None:
        inked &= ~profile.stepped
    if inked.mean() < _LEAST_KEPT:
        return None
    height = len(y) * step
    trend = np.interp(y, *block_medians(y[inked], lightness[inked], max(2, round(TREND_BLOCK_MM / step))))
    keep = inked & sound_samples(np.where(inked, lightness, trend), trend, step)
    low = max(LOW, _LEAST_CYCLES / height)
    if profile.light_steps:  # about an edge of light the paper beside tells how light it was only on the whole
        low = max(low, _BY_SHADOW)
        level = median_high(lightness)
        lightness, trend = lightness - trend + level, np.full(len(y), level)
    high = min(HIGH, 0.3 / step)
    if keep.mean() < _LEAST_KEPT or low > high / 2:
        return None
    # single rows that are weak or lie askew stand out of the noise; the crest of a sinusoid never does
    rest = lightness - trend
    most = _CREST * MAD_SD * median_high(np.abs(rest[keep]))
    clipped = trend + np.clip(rest, -most, most)
    return lightness, Series(y, clipped, keep, low, high, 1 + round(height / _TREND_MM), _least, repeat_mm)


def _long_by_shadow(
    areas: Sequence[tuple[str, Profile]],
    blanks_mm: Sequence[tuple[float, float]],
    swaths_mm: Sequence[float],
) -> list[_Searched]:
    """The areas that a shadow's edge crosses, for strong bands that are longer than are looked for beside it else.

    On either side of the edge light is another, and close to it the paper beside tells it only on the whole.
    """
    crossed = {area: profile for area, profile in areas if profile.light_steps}
    whole = [(area, replace(profile, stepped=None)) for area, profile in crossed.items()]
    out = []
    for one in _to_search(whole, blanks_mm, swaths_mm):
        profile, series = crossed[one.area], one.series
        if series.low <= _BY_SHADOW / 2 and profile.stepped is not None:
            series = replace(
                series, keep=series.keep & ~profile.stepped, high=_BY_SHADOW, least=_least_by_shadow,
                steps_mm=_steps_mm(profile),
            )  # fmt: skip
            out.append(replace(one, profile=profile, series=series))
    return [one for one in out if one.series.keep.mean() >= _LEAST_KEPT]


def _is_flank(shown: list[_Shown], beyond: list[list[_Shown]]) -> bool:
    """Whether a wave is no more than the flank of a stronger one `beyond` the period where two searches meet."""
    apart = max((abs(math.log(one.wave.frequency / _BY_SHADOW)) for one in shown), default=math.inf)
    most = max((_strongest(own) for own in beyond), default=0.0)
    return apart < math.log(_FLANK) and _strongest(shown) < most


def _strongest(shown: list[_Shown]) -> float:
    return max((abs(one.wave.amplitude) for one in shown), default=0.0)


def _steps_mm(profile: Profile) -> tuple[float, ...]:
    """Page y of the middle of each stretch where the light on the paper beside steps."""
    if profile.stepped is None or not profile.stepped.any():
        return ()
    ends = np.flatnonzero(np.diff(np.pad(profile.stepped.astype(np.int8), 1)))
    return tuple(float(profile.y_mm[first:last].mean()) for first, last in ends.reshape(-1, 2).tolist())


def _least(frequency: ArrayLike) -> NDArray[np.float64]:
    """Amplitude (F,) from which a band is looked for, L*."""
    return np.minimum(_LEAST_WEIGHT * visible_amplitude(frequency), _FAINT_DL)


def _least_by_shadow(frequency: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.full(len(frequency), _BY_SHADOW_DL)


def _unblurred(frequency: float, edge_sd_mm: float, step_mm: float) -> float:
    """What an amplitude has lost to the capture's blur and sampling: the inverse of a Gaussian's transfer, a factor.

    Sampling alone, over a pixel and between two, adds a quarter of the step's square to the variance: a twelfth for
    the pixel's width, a sixth on average for the linear interpolation.
    """
    variance = max(edge_sd_mm**2 - _PRINTED_EDGE_MM**2, step_mm**2 / 4)
    return min(math.exp(2 * (math.pi * frequency) ** 2 * variance), _MOST_GAIN)


def _in_solid(shown: list[_Shown]) -> bool:
    """True where solid ink itself shows a wave that is worth a mention."""
    return any(one.tall and one.area != "tint" and _weight(one.wave) > _LEAST_WEIGHT for one in shown)


def _grouped(
    shown: list[list[_Shown]],
    length_mm: float,
    swaths_mm: Sequence[float],
    rows_mm: float | None,
    scale_sd: float,
    finest_mm: float,
    *,
    whole: bool,
) -> list[Band]:
    """Fundamentals with their harmonics: the lowest first takes its multiples."""
    left = sorted(shown, key=lambda own: own[0].wave.frequency)
    out = []
    while left:
        at_one = left.pop(0)
        chosen = _most_telling(at_one)
        harmonics, left = _harmonics_of(chosen, left, length_mm)
        weight = max(_weight(wave) for wave in [chosen.wave, *harmonics])
        if weight >= _LEAST_WEIGHT or _lower(chosen.wave) >= _LEAST_DL:
            cause, told = _told(at_one, chosen, weight, length_mm, swaths_mm, rows_mm, finest_mm, whole=whole)
            out.append(_band(chosen, harmonics, weight, cause, told, scale_sd))
    return out


def _harmonics_of(
    chosen: _Shown, left: list[list[_Shown]], length_mm: float
) -> tuple[list[Sinusoid], list[list[_Shown]]]:
    """Waves among those `left` that are multiples of the chosen one, and the rest of them."""
    first, mine, others = chosen.wave, [], []
    for own in left:
        telling = _most_telling(own)
        wave = telling.wave
        most = (2.0 if telling.area == chosen.area else 1.0) * abs(first.amplitude)
        order = round(wave.frequency / first.frequency)
        off = abs(wave.frequency - order * first.frequency)
        near = off < _OFF_MULTIPLE / length_mm + 3 * (wave.frequency_sd + order * first.frequency_sd)
        # a stronger multiple of a faint first is a band of its own that happens to fit
        if 2 <= order <= _MOST_HARMONIC and near and abs(wave.amplitude) < most:
            mine.append(wave)
        else:
            others.append(own)
    return mine, others


def _told(
    at_one: list[_Shown],
    chosen: _Shown,
    weight: float,
    length_mm: float,
    swaths_mm: Sequence[float],
    rows_mm: float | None,
    finest_mm: float,
    *,
    whole: bool,
) -> tuple[str, bool]:
    """Cause of the wave that all of `at_one` show, and whether it is told from rows of the head and from screens."""
    first = chosen.wave
    down_page = any(one.tall and one.sure for one in at_one)
    period, period_sd = 1.0 / first.frequency, first.frequency_sd / first.frequency**2
    cause = cause_of(period, period_sd, swaths_mm, rows_mm, repeats=down_page, weight=weight)
    if cause == "rows" and whole and weight > _ROWS_WEIGHT:
        cause = "unmatched"
    if chosen.tall and chosen.area == "tint":
        # a mid-tone shows every row's own strength, solid ink hardly knows rows
        told = cause != "rows" and (_in_solid(at_one) or (weight > _TINT_WEIGHT and period > finest_mm))
    else:
        # rows of the head are in the noise of a short area: what stands so far out of it is none of them
        far_out = abs(first.amplitude) > _STANDS_OUT_SD * chosen.most_sd
        stands_out = far_out and not on_rows(first.frequency, swaths_mm, length_mm)
        in_solid = any(one.tall and one.sure and one.area != "tint" for one in at_one)
        told = in_solid and (chosen.tall or stands_out)
    return (cause, True) if told else ("rows", False)


def _of_head(band: Band, swath_mm: float, swings: tuple[float, float], depth: float) -> Band:
    """A band at the printer's periods that the head's own lines explain by half and more is the head's.

    An area that takes `depth` of the paper's L* changes by up to as large a share of that as its ink does.
    """
    order = {"feed": 1, "passes": 2}.get(band.cause, 0)
    alone = cause_of(band.period_mm, band.period_sd_mm, (swath_mm,), None, repeats=False, weight=band.weight)
    own = order > 0 and alone == band.cause
    explained = swings[order - 1] * depth if own else 0.0
    return replace(band, cause="head") if explained > _HEAD_SHARE * band.amplitude_dL else band


def _band(chosen: _Shown, harmonics: list[Sinusoid], weight: float, cause: str, told: bool, scale_sd: float) -> Band:
    """The record of a wave and its harmonics."""
    first = chosen.wave
    period = 1.0 / first.frequency
    amplitude = abs(first.amplitude)
    # noise adds to the square of a modulus
    amplitude = math.sqrt(max(amplitude**2 - 2 * first.amplitude_sd**2, 0.25 * amplitude**2))
    half = 1.96 * math.hypot(chosen.most_sd, scale_sd * amplitude)
    return Band(
        chosen.area,
        period,
        period**2 * first.frequency_sd,
        amplitude,
        (max(0.0, amplitude - half), amplitude + half),
        tuple((round(wave.frequency / first.frequency), abs(wave.amplitude)) for wave in harmonics),
        weight,
        cause,
        first.false_alarm,
        told,
    )


def _alone(
    tint: _Searched,
    swaths_mm: Sequence[float],
    rows_mm: float | None,
    scale_sd: float,
    finest_mm: float,
    screen: Callable[[Sinusoid | PlainWave], bool],
) -> Band | None:
    """The band that is nearly all that moves in a tint, several times what can be seen; none where there is none."""
    wave = find_plain_wave(tint.profile.y_mm, tint.lightness, tint.series.keep)
    if wave is None or wave.frequency * finest_mm > 1.0 or screen(wave):
        return None
    weight = _weight(wave)
    if weight < _ALONE_WEIGHT:
        return None
    period = 1.0 / wave.frequency
    period_sd = period**2 * wave.frequency_sd
    half = 1.96 * math.hypot(wave.amplitude_sd, scale_sd * wave.amplitude)
    return Band(
        "tint", period, period_sd, wave.amplitude, (max(0.0, wave.amplitude - half), wave.amplitude + half), (),
        weight, cause_of(period, period_sd, swaths_mm, rows_mm, repeats=False, weight=weight), wave.false_alarm,
    )  # fmt: skip


def _most_telling(at_one: list[_Shown]) -> _Shown:
    """The area where a band shows most: a tall one, unless a short one surely shows more."""
    tall = [one for one in at_one if one.tall and one.sure]
    if not tall:
        sure = [one for one in at_one if one.sure]
        if sure:
            return max(sure, key=lambda one: _weight(one.wave))
        return max(at_one, key=lambda one: abs(one.wave.amplitude) / one.wave.amplitude_sd)
    best = max(tall, key=lambda one: abs(one.wave.amplitude))
    short = [one for one in at_one if not one.tall and one.sure]
    most = max(short, key=lambda one: _weight(one.wave), default=None)
    if most is not None and _lower(most.wave) > abs(best.wave.amplitude) + _ONE_SIDED * best.wave.amplitude_sd:
        return most
    return best


def _lower(wave: Sinusoid | PlainWave) -> float:
    return abs(wave.amplitude) - _ONE_SIDED * wave.amplitude_sd


def _weight(wave: Sinusoid | PlainWave) -> float:
    """Amplitude less what noise may have added over what can be seen."""
    return _lower(wave) / float(visible_amplitude(wave.frequency))


def _streak(rest: NDArray[np.float64], step_mm: float) -> float:
    def mean(width_mm: float) -> NDArray[np.float64]:
        return np.asarray(cv2.blur(rest, (1, max(1, round(width_mm / step_mm))), borderType=cv2.BORDER_CONSTANT))

    return float(np.abs(mean(_STREAK_MM) - mean(_AROUND_MM)).max())
