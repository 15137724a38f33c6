"""A wave that is nearly all that moves in a short area, against waves drawn by numpy and rows that only scatter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from printcheck.measure.plain_wave import find_plain_wave

STEP_MM = 1 / 12
HEIGHT_MM = 7.0
Y = 100.0 + np.arange(round(HEIGHT_MM / STEP_MM)) * STEP_MM


def rows(rng: np.random.Generator, sd: float) -> np.ndarray:
    """Rows of 600 to the inch, each a little off, as a scan at 300 dots/inch blurs them; `sd` of what is left."""
    own = rng.normal(size=8 * len(Y))
    seen = gaussian_filter1d(own, 4.0)[::8]
    return sd * seen / seen.std()


@pytest.mark.parametrize("period", [1.3, 2.5, 4.7, 6.3])
@pytest.mark.parametrize("amplitude", [1.5, 4.0])
def test_a_drawn_wave_is_read_back_with_honest_errors(period: float, amplitude: float) -> None:
    off = []
    for seed in range(40):
        rng = np.random.default_rng([seed, round(100 * period)])
        phase, slope = rng.uniform(0, 2 * math.pi), rng.normal(0, 0.05)
        drawn = 55 + slope * (Y - Y.mean()) + amplitude * np.cos(2 * math.pi * Y / period + phase)
        found = find_plain_wave(Y, drawn + rows(rng, 0.35 * amplitude), np.ones(len(Y), bool))
        if found is None:
            continue
        off.append(((1 / found.frequency) / period - 1, found.amplitude / amplitude - 1))
    assert len(off) >= 38
    of_period, of_amplitude = np.median(np.abs(off), axis=0)
    assert of_period < {1.3: 0.02, 2.5: 0.02, 4.7: 0.06, 6.3: 0.15}[period]  # one turn is little to tell a period by
    assert of_amplitude < (0.12 if period < 5 else 0.25)


def test_rows_that_scatter_make_no_wave() -> None:
    """Fisher 1929 bounds the chance; with two thirds of the variance asked for, none of 3000 may pass."""
    rng = np.random.default_rng(4)
    every = np.ones(len(Y), bool)
    assert not any(find_plain_wave(Y, 55 + rows(rng, 1.0), every) for _ in range(3000))


def test_a_slope_is_no_wave_and_masked_samples_say_nothing() -> None:
    rng = np.random.default_rng(5)
    assert find_plain_wave(Y, 55 + 0.5 * (Y - Y.mean()) + rows(rng, 0.1), np.ones(len(Y), bool)) is None
    keep = np.ones(len(Y), bool)
    keep[30:36] = False
    spoilt = 55 + 2 * np.cos(2 * math.pi * Y / 2.5) + rows(rng, 0.3)
    spoilt[30:36] += 30.0
    found = find_plain_wave(Y, spoilt, keep)
    assert found is not None
    assert 1 / found.frequency == pytest.approx(2.5, rel=0.02)
