"""Rows off their places together, where a file rounds lines alike in both printings: readings are drawn here."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.dashes import Judged
from printcheck.measure.printings import crowds, lay_over
from printcheck.robust import MAD_SD

ROWS, LIMIT_MM = 192, 0.020


def judged(offset_mm: np.ndarray) -> list[Judged]:
    """Two printings (2, rows) of sound lines that lie `offset_mm` off their places."""
    sound = np.ones(ROWS)
    return [
        Judged(sound, 0.05 * sound, off, 0.009 * sound, np.full(ROWS, "present", "<U10"), LIMIT_MM * sound)
        for off in offset_mm
    ]


def told(offset_mm: np.ndarray, *, rounded: bool) -> tuple[float, float]:
    """How many rows are told to be off their places, and how many are asked about."""
    both = judged(offset_mm)
    aligned = lay_over(np.stack([one.state for one in both]), 0, ROWS)
    _, (sure, asked) = crowds(aligned, both, 0, photo=False, rounded=rounded)
    return sure.count, asked.count


def drawn(seed: int, shared: float) -> np.ndarray:
    """Errors of 10 um with long tails (Student's t), of whose variance both printings have a share in common."""
    rng = np.random.default_rng(seed)
    alike, apart = rng.standard_t(2.5, ROWS), rng.standard_t(2.5, (2, ROWS))
    return 0.010 / MAD_SD * (np.sqrt(shared) * alike + np.sqrt(1 - shared) * apart)


def test_what_rounding_puts_off_alike_in_both_printings_is_not_told() -> None:
    found = {how: sum(told(drawn(seed, 0.85), rounded=how)[0] > 0 for seed in range(100)) for how in (False, True)}
    assert found[False] > 4  # half the difference of the printings shows too little of it
    assert found[True] <= 1


@pytest.mark.parametrize("rounded", [False, True])
def test_rows_that_are_off_are_told_all_the_same(rounded: bool) -> None:
    counts = []
    for seed in range(20):
        offset = 0.6 * drawn(seed, 0.6)
        offset[:, 40:60] += 0.045 * np.where(np.arange(20) % 2, 1, -1)
        counts.append(told(offset, rounded=rounded))
    sure, asked = np.array(counts).T
    assert np.mean(sure > 10) >= 0.8
    assert np.mean(asked > 10) >= 0.95
