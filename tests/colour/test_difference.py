"""CIEDE2000 and its interval, against the published pairs and an outside colour library."""

from __future__ import annotations

import csv
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from numpy.testing import assert_allclose

from printcheck.colour.difference import delta_e00, delta_e00_interval

# Sharma, Wu, Dalal, Color Res. Appl. 30(1), 21-30, 2005, Table 1
PAIRS = Path(__file__).parents[1] / "reference" / "ciede2000_sharma2005.csv"


def sharma_pairs() -> list[tuple[int, list[float], list[float], float]]:
    with PAIRS.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return [
        (int(r["pair"]), [float(r[k]) for k in ("L1", "a1", "b1")], [float(r[k]) for k in ("L2", "a2", "b2")],
         float(r["delta_e00"]))
        for r in rows
    ]  # fmt: skip


def test_the_table_has_all_34_pairs() -> None:
    assert [pair[0] for pair in sharma_pairs()] == list(range(1, 35))


@pytest.mark.parametrize(("number", "first", "second", "expected"), sharma_pairs())
def test_sharma_pairs(number: int, first: list[float], second: list[float], expected: float) -> None:
    # pair 14: the hue difference is 180 degrees to the last bit, so the arctangent decides between two values
    allowed = (4.8045, 4.7461) if number == 14 else (expected,)
    for a, b in ((first, second), (second, first)):
        assert min(abs(float(delta_e00(a, b)) - value) for value in allowed) < 1e-4


def test_agrees_with_an_outside_library_on_random_colours(colour_science: ModuleType) -> None:
    rng = np.random.default_rng(5)
    first, second = (rng.uniform([0, -90, -90], [100, 90, 90], (500, 3)) for _ in range(2))
    assert_allclose(
        delta_e00(first, second), colour_science.delta_E(first, second, method="CIE 2000"), atol=1e-7
    )  # colour-science 0.4


@pytest.mark.parametrize("apart", [0.0, 1.0, 3.0, 10.0])
@pytest.mark.parametrize("sd", [0.3, 1.5])
def test_interval_covers_the_true_difference(apart: float, sd: float) -> None:
    rng = np.random.default_rng(11)
    reference = np.array([60.0, -26.0, -44.0])
    true = reference + apart * np.array([0.6, 0.64, -0.48])
    covariance = sd**2 * np.diag([1.0, 1.4, 0.7])
    expected = float(delta_e00(true, reference))
    hits = 0
    for k in range(250):
        seen = true + rng.multivariate_normal(np.zeros(3), covariance)
        value, low, high = delta_e00_interval(seen, reference, covariance, seed=k)
        assert 0 <= low <= value <= high
        hits += low <= expected <= high
    assert hits / 250 >= 0.92  # 95 % less three standard errors of 250 trials; wider where it cannot be exact


def test_interval_is_no_wider_than_it_need_be() -> None:
    value, low, high = delta_e00_interval([60, -20, -44], [60, -26, -44], 0.01 * np.eye(3))
    assert high - low < 0.3 < value
