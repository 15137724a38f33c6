"""Sinusoids in unevenly masked profiles: found one by one, each tested against the noise around its frequency.

A profile is freed of a slow polynomial, masked samples weigh nothing, and its periodogram is taken in units of the
local noise floor, the mean of the lower three quarters of the periodogram around. Power z over a floor known from n
frequencies exceeds a limit with the chance ``(1 + z / n)**-n``, so ``n log(1 + z / n)`` is exponentially distributed
for noise (the likelihood ratio of Bretthorst 1988; the periodogram of Scargle, Astrophys. J. 263, 835, 1982, where n
is large). Its maximum over M independent frequencies is tested in each profile, and so is the sum over k profiles,
which follows the gamma distribution of shape k. Whatever is surest is fitted by least squares together with the
polynomial and all found before it in every profile; the search goes on in what is left.

Noise that repeats, as a head's rows do every swath, lies on the lines of a comb: they have a noise floor of their
own, taken from all of them, and their side lobes are no peaks. Of two frequencies that only a long profile tells
apart, the short one's peak is left to the one it lies at.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Series", "Sinusoid", "Spectrum", "Trendless", "find_common"]

_FALSE_ALARM = LIMITS["band_false_alarm"].value
_MOST = 8  # components: of a wave that is far from a sinusoid its harmonics may be surer than itself
_PAD = 3  # of the transform: a peak is met within a sixth of its width
_NOISE_OCTAVES = 0.75  # half width of the window for the noise floor
_LEAST_BINS = 32  # independent frequencies the floor is taken from, where the profile has as many
_LOWER = 0.75  # share of them that counts: the taller ones may be bands
_LOWER_MEAN = 0.5379  # mean of the lower three quarters of a unit exponential: (1 - (1 + ln 4) / 4) / 0.75
_FLOOR_SAMPLES = 96  # of the periodogram in each window
_FLOOR_KNOTS = 16  # frequencies at which the noise floor is worked out; between them it is interpolated
_APART = 1.0  # cycles over the profile
_OWN_SD = 3.0  # standard deviations from which a profile shows a sinusoid itself
_STEEP = 6.0  # sureness of a peak: one that noise gives once in 400
_FLANK = 0.4  # cycles over the profile: a frequency farther than this from a peak lies on its flank
_HAS_A_SAY = 0.2  # of the height of the surest profile's peak, that another's must reach to say where it lies
_LEAST_LINES = 16  # multiples of what repeats, needed for a noise floor of their own
_REPEATS = 4.0  # in a profile, from which on what repeats stands apart
_LINE_WIDTH = 0.75  # cycles over the profile to either side of a multiple


@dataclass(frozen=True, slots=True)
class Series:
    """One profile to search.

    Attributes
    ----------
    y_mm, values : (N,) float64
        Evenly spaced positions, and what lies there.
    keep : (N,) bool
        The others weigh nothing.
    low, high : float
        Range of frequencies, cycles/mm.
    order : int
        Of the polynomial that takes the trend.
    least : callable or None
        Amplitude from which a sinusoid of given frequencies (F,) counts; none for any.
    repeat_mm : float or None
        Spacing at which part of the noise repeats, a head's rows every swath. All that part lies on the multiples of
        one frequency, where the noise floor is therefore another than between them.
    steps_mm : tuple of float
        Where the values may step from one level to another, as at a shadow's edge: each level is its own.
    """

    y_mm: NDArray[np.float64]
    values: NDArray[np.float64]
    keep: NDArray[np.bool_]
    low: float
    high: float
    order: int
    least: Callable[[NDArray[np.float64]], NDArray[np.float64]] | None = None
    repeat_mm: float | None = None
    steps_mm: tuple[float, ...] = ()

    def slow(self) -> NDArray[np.float64]:
        """(order + 1 + steps, N) what is no wave: the polynomial, and a step up at each place where there is one."""
        slow = _slow(len(self.y_mm), self.order)
        above = [self.y_mm > at for at in self.steps_mm]
        return np.vstack([slow, *above]) if above else slow


class Trendless:
    """One profile less its polynomial and what else is taken off."""

    def __init__(self, series: Series) -> None:
        self.series = series
        self.weight = series.keep.astype(np.float64)
        slow = series.slow() * self.weight
        lower = np.linalg.cholesky(slow @ slow.T + 1e-9 * slow.shape[1] * np.eye(len(slow)))
        # orthonormal rows of all that is taken off: the polynomial, then a pair for each sinusoid
        self.basis = np.linalg.inv(lower) @ slow  # solved for each sample by itself it takes five times as long
        self.rest = self._off(series.values * self.weight)

    def _off(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """`values` (..., N) less what of them lies in the basis."""
        return np.asarray(values - (values @ self.basis.T) @ self.basis)

    def amplitude_at(self, frequency: float) -> complex:
        """Complex amplitude of one known frequency, fitted together with the polynomial."""
        waves = self._off(np.stack(_pair(self.series.y_mm, frequency)) * self.weight)
        cos, sin = np.linalg.solve(waves @ waves.T + 1e-9 * np.eye(2), waves @ self.rest)
        return complex(cos, -sin)


@dataclass(frozen=True, slots=True)
class Sinusoid:
    """``amplitude * cos(2 pi frequency y + phase)`` with standard deviations.

    Attributes
    ----------
    frequency : float
        Cycles per mm.
    frequency_sd : float
    amplitude : complex
        ``|amplitude|`` in the profile's unit; its angle is the phase at y = 0.
    amplitude_sd : float
        Of the modulus.
    false_alarm : float
        Chance that noise alone gives a peak like it anywhere in the range searched.
    """

    frequency: float
    frequency_sd: float
    amplitude: complex
    amplitude_sd: float
    false_alarm: float


@dataclass(frozen=True, slots=True)
class Spectrum:
    """Result of a search of one profile.

    Attributes
    ----------
    found : tuple of Sinusoid or None
        An entry a frequency found in any profile, the surest first; none where it lies outside this one's range.
    frequency : (F,) float64
        Cycles/mm searched.
    limit, sd : (F,) float64
        Amplitude that would have been found in this profile alone at each, and an amplitude's standard deviation.
    rest : (N,) float64
        What is left of the profile; masked samples are 0.
    variance : float
        Of the profile less its polynomial, before any sinusoid was taken off.
    independent : float
        Independent frequencies searched.
    """

    found: tuple[Sinusoid | None, ...]
    frequency: NDArray[np.float64]
    limit: NDArray[np.float64]
    sd: NDArray[np.float64]
    rest: NDArray[np.float64]
    variance: float
    independent: float


def find_common(series: Sequence[Series]) -> tuple[Spectrum, ...]:
    """Find the sinusoids that the profiles share or that show in one of them; a `Spectrum` a profile."""
    searches = [_Search(one) for one in series]
    longest = max(searches, key=lambda s: s.length)
    grid = longest.frequency
    found: list[tuple[float, float]] = []
    while len(found) < _MOST:
        peak = _surest(searches, grid)
        if peak is None:
            break
        at = _crest(searches, peak[0], 1.0 / longest.length)
        found.append((at, peak[1]))
        surest = max((s for s in searches if s.holds(at)), key=lambda s: s.sure_at(at))
        for search in searches:
            if search is surest or not search.is_flank(at):
                search.take(at)
    amplitudes = [search.amplitudes([f for f, _ in found]) for search in searches]
    spreads = []
    of_longest = amplitudes[searches.index(longest)]
    for k, (f, _) in enumerate(found):
        # the information of each long profile on the frequency: (length x amplitude / its sd)^2
        shortest = longest.length / 2 if abs(of_longest[k][0]) > _OWN_SD * of_longest[k][1] else 0.0
        parts = [
            (s.length * abs(a[k][0]) / a[k][1]) ** 2
            for s, a in zip(searches, amplitudes, strict=True)
            if f in s.taken and s.length >= shortest
        ]
        spreads.append(math.sqrt(3.0) / math.pi / math.sqrt(max(sum(parts), 1e-12)))
    out = []
    for search, own in zip(searches, amplitudes, strict=True):
        waves = [
            Sinusoid(f, spreads[k], *own[k], alarm) if f in search.taken else None
            for k, (f, alarm) in enumerate(found)
        ]
        known, total = search.windows.known, search.total
        least = known * np.expm1(_least(search.independent) / known)
        out.append(
            Spectrum(
                tuple(waves), search.frequency, 2.0 * np.sqrt(least * search.floor) / total,
                np.sqrt(2.0 * search.floor) / total, search.rest, search.variance, search.independent,
            )
        )  # fmt: skip
    return tuple(out)


def _least(independent: float) -> float:
    """What the surest of `independent` peaks must reach."""
    return -math.log(-math.expm1(math.log1p(-_FALSE_ALARM) / independent))


class _Search(Trendless):
    """One profile while it is searched: what is left of it, and the periodogram of that."""

    def __init__(self, series: Series) -> None:
        super().__init__(series)
        self.taken: list[float] = []
        y = series.y_mm
        self.step = float(y[1] - y[0])
        self.length = len(y) * self.step
        self.size = cv2.getOptimalDFTSize(len(y) * _PAD + 1) & ~1
        frequency = np.arange(self.size // 2) / (self.size * self.step)
        first, last = (int(v) for v in np.searchsorted(frequency, (series.low, series.high)))
        self.first, self.last = max(first, 1), max(last, first + 2)
        self.frequency = frequency[self.first : self.last]
        self.independent = max(1.0, (series.high - series.low) * self.length)
        spacing = 1.0 / (self.size * self.step)
        repeat = series.repeat_mm if series.repeat_mm and self.length > _REPEATS * series.repeat_mm else 0.0
        place = float(self.frequency[0]), spacing, len(self.frequency)
        self.windows = _windows(*place, 1.0 / (spacing * self.length), repeat)
        self.total = float(np.count_nonzero(series.keep))
        self.variance = float(self.rest @ self.rest) / self.total
        least = np.zeros(len(self.frequency)) if series.least is None else series.least(self.frequency)
        self.least_power = (least * self.total / 2.0) ** 2
        self._transform()

    def holds(self, frequency: float) -> bool:
        return self.series.low <= frequency <= self.series.high

    def take(self, frequency: float) -> None:
        """Take the sinusoid of `frequency` off what is left."""
        if not self.holds(frequency):
            return
        self.taken.append(frequency)
        cos, sin = self._off(np.stack(_pair(self.series.y_mm, frequency)) * self.weight)
        columns: list[NDArray[np.float64]] = []
        for column in (cos, sin):
            for before in columns:  # each is freed of the other too
                column = column - before * float(before @ column)
            size = math.sqrt(float(column @ column))
            if size > 1e-6:
                columns.append(column / size)
                self.rest = self.rest - columns[-1] * float(columns[-1] @ self.rest)
        self.basis = np.vstack([self.basis, *columns])
        self._transform()

    def sure_at(self, frequency: float) -> float:
        return float(np.interp(frequency, self.frequency, self.sure))

    def is_flank(self, frequency: float) -> bool:
        """True on the flank of a peak that another profile has told from `frequency`: it is left for its own turn."""
        a, b = (int(v) for v in np.searchsorted(self.frequency, frequency + np.array([-1.0, 1.0]) / self.length))
        if b <= a:
            return False
        k = a + int(np.argmax(self.power[a:b]))
        return bool(self.sure[k] > _STEEP and abs(self.frequency[k] - frequency) > _FLANK / self.length)

    def amplitudes(self, frequencies: Sequence[float]) -> list[tuple[complex, float]]:
        """Complex amplitude of each that was taken, fitted together, and its standard deviation."""
        held: list[float] = []
        for f in self.taken:  # two that this profile can't tell apart would be fitted against each other
            if all(abs(f - other) > _APART / self.length for other in held):
                held.append(f)
        out = [(0j, math.inf)] * len(frequencies)
        if not held:
            return out
        s = self.series
        waves = [wave * self.weight for f in held for wave in _pair(s.y_mm, f)]
        slow = s.slow() * self.weight
        design = np.vstack([slow, *waves])
        gram = design @ design.T
        fitted = np.linalg.solve(gram + 1e-9 * np.eye(len(gram)), design @ (s.values * self.weight))[len(slow) :]
        for k, f in enumerate(held):
            sd = math.sqrt(2.0 * float(np.interp(f, self.frequency, self.floor))) / self.total
            out[list(frequencies).index(f)] = (complex(fitted[2 * k], -fitted[2 * k + 1]), sd)
        return out

    def _transform(self) -> None:
        padded = np.zeros((1, self.size))
        padded[0, : len(self.rest)] = self.rest
        packed = cv2.dft(padded)[0]  # real parts at odd, imaginary at even places
        part = packed[2 * self.first - 1 : 2 * self.last - 1].reshape(-1, 2)
        self.power: NDArray[np.float64] = np.einsum("ij,ij->i", part, part)
        self.base = _floor_of(self.power, self.windows.between)
        self.floor = _floor(self.power, self.base, self.windows)
        known = self.windows.known
        # exponentially distributed for noise, for all that the floor is only known so well
        self.sure: NDArray[np.float64] = known * np.log1p(self.power / self.floor / known)
        if self.windows.lines is not None:
            # a line's flanks and side lobes reach between the lines, where they would pass for peaks
            power = self.power[None].astype(np.float32)
            crest = power == cv2.dilate(power, np.ones((1, 2 * _PAD + 1), np.uint8))
            near = cv2.dilate(crest.astype(np.uint8), np.ones((1, _PAD), np.uint8))[0] > 0
            self.sure[~near & ~self.windows.lines.mine] = 0.0


def _surest(searches: Sequence[_Search], grid: NDArray[np.float64]) -> tuple[float, float] | None:
    """Frequency and false alarm of the surest peak; none where no test passes."""
    best = (math.inf, grid, grid, 0)  # its false alarm, the frequencies and heights around it, its place
    total, count, over = np.zeros(len(grid)), np.zeros(len(grid), np.int64), np.zeros(len(grid), bool)
    for search in searches:
        sure = _without(search.frequency, search.sure, search.taken, search.length)
        counts = (search.power > search.least_power) & (sure > 0.0)
        k = int(np.argmax(np.where(counts, sure, 0.0)))
        alarm = search.independent * math.exp(-min(float(sure[k]), 700.0))
        if counts[k] and alarm < best[0]:
            best = (alarm, search.frequency, sure, k)
        a, b = (int(v) for v in np.searchsorted(grid, search.frequency[[0, -1]]))
        near = ((grid[a:b] - search.frequency[0]) * (search.size * search.step) + 0.5).astype(np.int64)
        near = np.minimum(near, len(sure) - 1)
        total[a:b] += sure[near]
        over[a:b] |= counts[near]
        count[a:b] += 1
    independent = max(s.independent for s in searches)
    for shape in range(2, int(count.max()) + 1):
        k = int(np.argmax(np.where((count == shape) & over, total, 0.0)))
        alarm = independent * _gamma_tail(float(total[k]), shape)
        if over[k] and alarm < best[0]:
            best = (alarm, grid, total, k)
    alarm, frequency, height, k = best
    return (_top(frequency, height, k), min(alarm, 1.0)) if alarm < _FALSE_ALARM else None


def _crest(searches: Sequence[_Search], frequency: float, reach: float) -> float:
    """Where near `frequency` all profiles together swing most: tests change from one noise floor to the next.

    One that swings there by a small part of what another does shows its noise, and has no say.
    """
    searches = [search for search in searches if search.holds(frequency)]
    # the longest may be searched from a higher frequency on
    grid = max(searches, key=lambda search: search.length).frequency
    a, b = (int(v) for v in np.searchsorted(grid, (frequency - reach, frequency + reach)))
    near = grid[max(a - 1, 0) : b + 1]
    heights = []
    for search in searches:
        # a short profile's peak is moved by its trend more than by noise: it counts as its few frequencies allow
        known = search.windows.between.known
        heights.append(np.interp(near, search.frequency, known * np.log1p(search.power / search.base / known)))
    most = max((float(one.max()) for one in heights), default=0.0)
    height = sum((one for one in heights if one.max() > _HAS_A_SAY * most), np.zeros(len(near)))
    return _top(near, height, int(np.argmax(height)))


def _without(
    frequency: NDArray[np.float64], z: NDArray[np.float64], taken: Sequence[float], length: float
) -> NDArray[np.float64]:
    """`z` without what is so close to a frequency that is `taken` that the two could not be told apart."""
    if not taken:
        return z
    z = z.copy()
    for f in taken:
        a, b = np.searchsorted(frequency, (f - _APART / length, f + _APART / length))
        z[a:b] = 0.0
    return z


def _gamma_tail(total: float, shape: int) -> float:
    """Chance that the sum of `shape` unit exponentials exceeds `total`."""
    return math.exp(-min(total, 700.0)) * sum(total**k / math.factorial(k) for k in range(shape))


def _top(frequency: NDArray[np.float64], height: NDArray[np.float64], k: int) -> float:
    """Where the parabola through sample `k` and its neighbours peaks."""
    if k in (0, len(height) - 1):
        return float(frequency[k])
    before, at, after = (float(v) for v in height[k - 1 : k + 2])
    bend = before - 2 * at + after
    move = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float(frequency[k] + min(max(move, -0.5), 0.5) * (frequency[1] - frequency[0]))


@lru_cache(maxsize=32)
def _slow(count: int, order: int) -> NDArray[np.float64]:
    """(order + 1, count) Legendre polynomials."""
    at = (2 * np.arange(count) + 1 - count) / count
    out: NDArray[np.float64] = np.ascontiguousarray(np.polynomial.legendre.legvander(at, order).T, np.float64)
    out.flags.writeable = False
    return out


def _pair(y: NDArray[np.float64], frequency: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cosine and sine of 2 pi frequency y; 1e-6 is enough of them, and single precision a tenth of the time."""
    turns = frequency * y
    angle = (2 * np.pi * (turns - np.floor(turns))).astype(np.float32)
    return np.cos(angle).astype(np.float64), np.sin(angle).astype(np.float64)


@dataclass(frozen=True, slots=True)
class _Part:
    """The frequencies that share one noise floor, and where it is taken from.

    Attributes
    ----------
    mine : (F,) bool
    logs : (F,) float64
        Of the frequencies.
    knots : (K,) float64
        Logs of the frequencies at which the floor is worked out.
    samples : (K, S) int64
        Of the periodogram, for each.
    known : (F,) float64
        Independent frequencies it rests on.
    """

    mine: NDArray[np.bool_]
    logs: NDArray[np.float64]
    knots: NDArray[np.float64]
    samples: NDArray[np.int64]
    known: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Windows:
    """The multiples of what repeats, if anything does, and all other frequencies; `known` is as in `_Part`."""

    between: _Part
    lines: _Part | None
    known: NDArray[np.float64]


@lru_cache(maxsize=64)
def _windows(first: float, step: float, count: int, bins: float, repeat_mm: float) -> _Windows:
    """Make the windows of `count` frequencies from `first` on, `bins` of which are one independent frequency."""
    frequency: NDArray[np.float64] = first + step * np.arange(count, dtype=np.float64)
    order = frequency * repeat_mm
    off = np.abs(order - np.rint(order))
    off[order < 0.5] = 1.0
    on_lines, crests = off < _LINE_WIDTH * repeat_mm * step * bins, off <= 0.5 * repeat_mm * step
    if np.count_nonzero(crests) < _LEAST_LINES:
        everywhere = np.ones(count, bool)
        whole = _part(frequency, everywhere, everywhere, bins)
        return _Windows(whole, None, whole.known)
    between = _part(frequency, ~on_lines, ~on_lines, bins)
    lines = _part(frequency, on_lines, crests, 1.0)  # their flanks are lower, and say nothing of their height
    return _Windows(between, lines, np.where(on_lines, lines.known, between.known))


def _part(frequency: NDArray[np.float64], mine: NDArray[np.bool_], sampled: NDArray[np.bool_], bins: float) -> _Part:
    place = np.flatnonzero(sampled)
    own, count = frequency[place], len(place)
    knots = np.geomspace(own[0], own[-1], _FLOOR_KNOTS)
    half = _LEAST_BINS * bins / 2
    middle = np.searchsorted(own, knots)
    low = np.minimum(np.searchsorted(own, knots * 2**-_NOISE_OCTAVES), middle - half).clip(0)
    high = np.maximum(np.searchsorted(own, knots * 2**_NOISE_OCTAVES), middle + half).clip(max=count - 1)
    share = np.linspace(0.0, 1.0, _FLOOR_SAMPLES)
    samples = place[(low[:, None] + share * (high - low)[:, None]).round().astype(np.int64)]
    known = np.maximum(_LOWER * (high - low) / bins - 1.0, 2.0)
    logs = np.log(frequency)
    return _Part(mine, logs, np.log(knots), samples, np.interp(logs, np.log(knots), known))


def _floor(power: NDArray[np.float64], base: NDArray[np.float64], windows: _Windows) -> NDArray[np.float64]:
    """Noise floor at each frequency, `base` between what repeats."""
    lines = windows.lines
    return base if lines is None else np.where(lines.mine, np.maximum(_floor_of(power, lines), base), base)


def _floor_of(power: NDArray[np.float64], part: _Part) -> NDArray[np.float64]:
    """The mean of the exponential whose lower part the power around each frequency has."""
    count = round(_LOWER * part.samples.shape[1])
    lower = np.partition(power[part.samples], count, axis=1)[:, :count]
    level = np.maximum(lower.mean(axis=1) / _LOWER_MEAN, 1e-12)
    return np.asarray(np.exp(np.interp(part.logs, part.knots, np.log(level))))
