"""Rows that noise hides one by one, and the ink as a whole shows: readings are drawn, no picture takes part."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.together import WIDE_WINDOW, beyond_noise, from_rows_about

ROWS, LIMIT = 200, 0.15


def drawn(seed: int, sd: float, weak: int = 0, loss: float = 0.25) -> np.ndarray:
    """Two printings of a ladder with normal noise, its first rows weak, (2, ROWS)."""
    readings = sd * np.random.default_rng(seed).standard_normal((2, ROWS))
    readings[:, :weak] += loss
    return readings


@pytest.mark.parametrize("one_sided", [True, False])
def test_noise_alone_is_told_no_oftener_than_its_share(one_sided) -> None:
    """The false discovery rate of R. Barber and E. Candes (2015): without a fault any find is a false one."""
    found = [beyond_noise(drawn(seed, 0.12), LIMIT, 0.2, one_sided=one_sided).rows.any() for seed in range(200)]
    assert np.mean(found) <= 0.05


@pytest.mark.parametrize("one_sided", [True, False])
def test_weak_rows_are_counted_though_none_is_four_deviations_off(one_sided) -> None:
    """Noise of 0.1 in each printing: 0.27 is 3.8 deviations of the mean."""
    counts = [beyond_noise(drawn(seed, 0.1, 20, 0.27), LIMIT, 0.2, one_sided=one_sided).count for seed in range(50)]
    assert np.mean(np.array(counts) > 10) >= 0.9
    assert np.mean(counts) <= 20.5


def test_what_the_printings_do_not_share_is_noise() -> None:
    """Thirty rows half a dash off in one printing, and as many in the other: long tails, no weak nozzles."""
    readings = drawn(1, 0.01)
    readings[0, :30], readings[1, 30:60] = 0.4, 0.4
    assert not beyond_noise(readings, LIMIT, 0.2, one_sided=True).rows.any()
    readings[1, :30] = 0.4
    assert beyond_noise(readings[:, :30].repeat(2, axis=1), LIMIT, 0.2, one_sided=True).count == 0  # no sound ones


def test_as_many_too_strong_as_too_weak_are_noise_though_both_printings_agree() -> None:
    readings = drawn(2, 0.01)
    readings[:, :20], readings[:, 20:40] = 0.2, -0.2
    assert not beyond_noise(readings, LIMIT, 0.2, one_sided=True).rows.any()


def test_too_few_rows_tell_nothing() -> None:
    readings = drawn(3, 0.02, 20)
    readings[0, 39:] = np.nan
    assert beyond_noise(readings, LIMIT, 0.2, one_sided=True).count == 0


def test_a_wide_window_leaves_a_run_its_loss() -> None:
    """Of a head that prints its rows dot by dot in two passes a run of 16 dead nozzles takes half the dots of 32."""
    readings = drawn(5, 0.05)
    for start in (20, 120):
        readings[:, start : start + 16] += 0.3
    assert np.median(from_rows_about(readings)[:, 20:36]) < 0.1
    found = beyond_noise(from_rows_about(readings, WIDE_WINDOW), LIMIT, 0.2, one_sided=True)
    assert 28 <= found.rows[20:36].sum() + found.rows[120:136].sum() <= 32


def test_what_rows_side_by_side_share_is_their_place_on_the_page() -> None:
    readings = drawn(4, 0.01)
    readings[:, :12] += 0.2  # the first dash of each of twelve columns
    readings[:, 100] += 0.2
    own = from_rows_about(readings)
    assert np.abs(own[:, :12]).max() < 0.06
    assert own[:, 100] == pytest.approx(0.2, abs=0.04)
