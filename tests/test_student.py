"""Quantiles of Student's t against a statistics library."""

from __future__ import annotations

import pytest
from scipy.stats import t

from printcheck.student import t95


@pytest.mark.parametrize("freedom", [*range(1, 31), 60, 120, 1000, 100_000])
def test_quantiles_equal_scipys(freedom: int) -> None:
    assert t95(freedom) == pytest.approx(t.ppf(0.975, freedom), abs=1e-3)
