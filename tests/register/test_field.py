"""The field of a registration."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from printcheck.register.result import Field, Lens


def test_over_a_grid_it_is_what_it_is_at_each_of_its_points() -> None:
    rng = np.random.default_rng(5)
    plane = np.array([[11.0, 0.3, 200.0], [-0.2, 11.2, 300.0], [1e-5, 2e-5, 1.0]])
    lens = Lens(plane, np.array([1499.5, 1999.5]), 2500.0, 11.0)
    middle = np.array([105.0, 148.5])
    splines = {name: rng.normal(size=(33, 4)) for name in ("feed", "cross")}
    field = Field(rng.normal(size=(21, 2)), middle, middle, 5, lens, 0.7, **splines)
    x, y = np.linspace(-10, 220, 24), np.linspace(-10, 307, 33)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    assert_allclose(field.over(x, y), field.at(points).T.reshape(2, 33, 24), atol=1e-9)
