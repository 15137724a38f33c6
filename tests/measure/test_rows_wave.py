"""Rows of known strength, waves in them and noise by numpy: what is drawn is the truth."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.geometry import Box
from printcheck.measure.result import DashReading, LinesReading
from printcheck.measure.rows_wave import rows_wave


def lines(strengths: np.ndarray, missing: tuple[int, ...] = ()) -> LinesReading:
    """A reading of the strengths (printings, rows)."""
    dashes = tuple(
        DashReading(
            row, repeat, Box(0, 0, 1, 1), float(v), 0.03, 0.0, 0.01, "missing" if row in missing else "present"
        )
        for repeat, own in enumerate(strengths)
        for row, v in enumerate(own)
    )
    return LinesReading("C", strengths.shape[1], dashes, False, missing, (), (), (), (), None, "none", None, 0)


def noisy(swing: float, spacing: float, seed: int, rows: int = 100) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return 1.0 + swing * np.cos(2 * np.pi * np.arange(rows) / spacing + 1.0) + rng.normal(0.0, 0.05, (2, rows))


@pytest.mark.parametrize("spacing", [5.0, 6.0, 8.4])
def test_a_wave_of_the_rows_is_read_back(spacing: float) -> None:
    found = rows_wave(lines(noisy(0.1, spacing, 0), missing=(7,)), spacing)
    assert found == pytest.approx(0.1, abs=0.02)
    assert rows_wave(lines(noisy(0.1, spacing, 0)), 2 * spacing) == 0.0


def test_noise_one_printing_alone_and_a_head_of_which_most_is_missing_are_no_wave() -> None:
    assert [rows_wave(lines(noisy(0.0, 5.0, seed)), 5.0) for seed in range(20)] == [0.0] * 20
    one = noisy(0.1, 5.0, 1)
    one[1] = noisy(0.0, 5.0, 2)[1]
    assert rows_wave(lines(one), 5.0) == 0.0
    assert rows_wave(lines(noisy(0.1, 5.0, 3), missing=tuple(range(60))), 5.0) == 0.0
