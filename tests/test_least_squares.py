"""Least squares against NumPy's, which goes by singular values and not by the normal equations."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from printcheck.least_squares import least_squares


@pytest.mark.parametrize("columns", [(), (3,)])
def test_coefficients_are_those_of_numpy(columns: tuple[int, ...]) -> None:
    rng = np.random.default_rng(1)
    at = rng.uniform(-1, 1, 60)
    design, values = np.stack([np.ones(60), at, at**2, at**3], axis=1), rng.normal(size=(60, *columns))
    assert_allclose(least_squares(design, values), np.linalg.lstsq(design, values, rcond=None)[0], atol=1e-8)


def test_terms_that_are_alike_share_what_they_explain() -> None:
    design, values = np.ones((40, 2)), np.full(40, 3.0)
    assert_allclose(least_squares(design, values), np.linalg.lstsq(design, values, rcond=None)[0], atol=1e-5)
