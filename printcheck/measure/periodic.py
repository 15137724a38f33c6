"""Sinusoids in an unevenly masked profile: found one by one, each tested against the noise around its frequency.

The profile is freed of a slow polynomial, masked samples weigh nothing, and the periodogram's tallest peak in units
of the local noise floor (running median of the periodogram, divided by ln 2, the median of a unit exponential) is
tested: power over the floor is exponentially distributed for noise, so the chance that the tallest of M independent
frequencies reaches z is ``1 - (1 - exp(-z))**M`` (Scargle, Astrophys. J. 263, 835, 1982). What passes is fitted by
least squares together with the polynomial and all found before it (Bretthorst 1988); the search goes on in the rest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Sinusoid", "Spectrum", "amplitude_at", "find_sinusoids"]

_FALSE_ALARM = 1e-4  # per profile; a sheet has up to twelve
_MOST = 5  # components
_PAD = 4  # of the transform, so that a peak is met within an eighth of its width
_NOISE_OCTAVES = 0.75  # half width of the window for the noise floor
_LEAST_BINS = 24  # independent frequencies the floor is taken from
_FLOOR_SAMPLES = 96  # of the periodogram in each window
_FLOOR_KNOTS = 24
_PARABOLAS = 2
_APART = 1.0  # cycles over the profile


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
    """Result of a search.

    Attributes
    ----------
    found : tuple of Sinusoid
        The surest first.
    frequency : (F,) float64
        Cycles/mm searched.
    limit, sd : (F,) float64
        Amplitude that would have been found at each, and an amplitude's standard deviation.
    rest : (N,) float64
        What is left of the profile; masked samples are 0.
    """

    found: tuple[Sinusoid, ...]
    frequency: NDArray[np.float64]
    limit: NDArray[np.float64]
    sd: NDArray[np.float64]
    rest: NDArray[np.float64]


def find_sinusoids(
    y_mm: NDArray[np.float64],
    values: NDArray[np.float64],
    keep: NDArray[np.bool_],
    low: float,
    high: float,
    order: int,
) -> Spectrum:
    """Find the sinusoids of `values` (N,) at evenly spaced `y_mm` (N,), samples outside `keep` (N,) left out.

    Parameters
    ----------
    low, high : float
        Range of frequencies, cycles/mm.
    order : int
        Of the polynomial that takes the trend.
    """
    step = float(y_mm[1] - y_mm[0])
    length = len(y_mm) * step
    weight = keep.astype(float)
    total = float(weight.sum())
    size = 1 << (len(y_mm) * _PAD - 1).bit_length()
    frequency: NDArray[np.float64] = np.fft.rfftfreq(size, step).astype(np.float64)
    use = (frequency >= low) & (frequency <= high)
    frequency = frequency[use]
    independent = max(1.0, (high - low) * length)
    trials = math.log1p(-_FALSE_ALARM) / independent
    least = -math.log(-math.expm1(trials))  # z a peak must reach
    slow = np.polynomial.legendre.legvander(2 * (y_mm - y_mm.mean()) / length, order)
    rest = _residual(slow, values, keep)
    power = np.abs(np.fft.rfft(rest, size)[use]) ** 2
    windows = _windows(frequency, size * step / length)
    floor = _floor(frequency, power, windows)
    found: list[tuple[float, float]] = []
    for _ in range(_MOST):
        z = power / floor
        for f, _ in found:  # two closer than this can't be told apart, and would be fitted against each other
            z[np.abs(frequency - f) < _APART / length] = 0.0
        k = int(np.argmax(z))
        if z[k] < least:
            break
        f = _refine(y_mm, rest, float(frequency[k]), 0.25 / length)
        found.append((f, float(z[k])))
        rest = _residual(np.hstack([slow, *(_pair(y_mm, g) for g, _ in found)]), values, keep)
        power = np.abs(np.fft.rfft(rest, size)[use]) ** 2
        floor = _floor(frequency, power, windows)
    out = []
    if found:
        design = np.hstack([slow, *(_pair(y_mm, f) for f, _ in found)])
        fitted = np.linalg.lstsq(design[keep], values[keep], rcond=None)[0][order + 1 :]
        for (f, z_k), (cos, sin) in zip(found, fitted.reshape(-1, 2), strict=True):
            sd = math.sqrt(2.0 * float(np.interp(f, frequency, floor))) / total
            amplitude = complex(cos, -sin)
            f_sd = math.sqrt(3.0) / (math.pi * length) * sd / abs(amplitude)
            alarm = -math.expm1(independent * math.log1p(-math.exp(-min(z_k, 700.0)))) if z_k < 30 else 0.0
            out.append(Sinusoid(f, f_sd, amplitude, sd, alarm))
    return Spectrum(tuple(out), frequency, 2.0 * np.sqrt(least * floor) / total, np.sqrt(2.0 * floor) / total, rest)


def amplitude_at(
    y_mm: NDArray[np.float64], values: NDArray[np.float64], keep: NDArray[np.bool_], frequency: float, order: int
) -> complex:
    """Complex amplitude of one known frequency, by least squares together with a polynomial of `order`."""
    length = len(y_mm) * float(y_mm[1] - y_mm[0])
    slow = np.polynomial.legendre.legvander(2 * (y_mm - y_mm.mean()) / length, order)
    design = np.hstack([slow, _pair(y_mm, frequency)])
    fitted = np.linalg.lstsq(design[keep], values[keep], rcond=None)[0]
    return complex(fitted[-2], -fitted[-1])


def _pair(y: NDArray[np.float64], frequency: float) -> NDArray[np.float64]:
    angle = 2 * np.pi * frequency * y
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _residual(
    design: NDArray[np.float64], values: NDArray[np.float64], keep: NDArray[np.bool_]
) -> NDArray[np.float64]:
    part = design[keep]
    fitted = np.linalg.solve(part.T @ part + 1e-9 * np.eye(part.shape[1]), part.T @ values[keep])
    return np.where(keep, values - design @ fitted, 0.0)


def _refine(y: NDArray[np.float64], rest: NDArray[np.float64], start: float, reach: float) -> float:
    """Frequency of the periodogram's peak next to `start`, by parabolas through three points ever closer."""
    f, step = start, reach
    turned = rest * np.exp(-2j * np.pi * f * y)
    for _ in range(_PARABOLAS):
        turn = np.exp(-2j * np.pi * step * y)
        p = np.abs([(turned * turn.conj()).sum(), turned.sum(), (turned * turn).sum()])
        bend = float(p[0] - 2 * p[1] + p[2])
        move = 0.5 * float(p[0] - p[2]) / bend if bend < 0 else 0.0
        move = step * min(max(move, -1.0), 1.0)
        turned = turned * np.exp(-2j * np.pi * move * y)
        f, step = f + move, step / 4
    return float(f)


def _windows(frequency: NDArray[np.float64], bins: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Knots (K,) of the noise floor and the samples (K, S) of the periodogram each is taken from."""
    knots = np.geomspace(frequency[0], frequency[-1], _FLOOR_KNOTS)
    half = _LEAST_BINS * bins / 2
    middle = np.searchsorted(frequency, knots)
    first = np.minimum(np.searchsorted(frequency, knots * 2**-_NOISE_OCTAVES), middle - half).clip(0)
    last = np.maximum(np.searchsorted(frequency, knots * 2**_NOISE_OCTAVES), middle + half)
    last = last.clip(max=len(frequency) - 1)
    share = np.linspace(0.0, 1.0, _FLOOR_SAMPLES)
    return knots, (first[:, None] + share * (last - first)[:, None]).round().astype(np.int64)


def _floor(
    frequency: NDArray[np.float64],
    power: NDArray[np.float64],
    windows: tuple[NDArray[np.float64], NDArray[np.int64]],
) -> NDArray[np.float64]:
    """Noise floor at each frequency: the mean of the exponential whose median the power around it has."""
    knots, samples = windows
    level = np.maximum(np.median(power[samples], axis=1) / math.log(2), 1e-12)
    return np.exp(np.interp(np.log(frequency), np.log(knots), np.log(level)))
