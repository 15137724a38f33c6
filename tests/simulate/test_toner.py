"""The simulated laser print lays down what it was told to."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.simulate.screen import SCREENS, Screen
from printcheck.simulate.toner_faults import PARTS, random_toner_state


@pytest.mark.parametrize("cell", sorted({*SCREENS["tune"], *SCREENS["report"]}))
def test_every_cell_of_a_screen_holds_the_same_dots(cell: tuple[int, int]) -> None:
    """Rational tangents: a tone can't drift over the page, wherever a window of whole cells is cut out."""
    screen = Screen(*cell, 600)
    side = cell[0] ** 2 + cell[1] ** 2
    for tone in (0.2, 0.5, 0.8):
        counts = {
            int((tone > screen.threshold(y, y + side, x, x + side)).sum()) for y, x in ((0, 0), (17, 5), (1000, 903))
        }
        assert len(counts) == 1
        assert counts.pop() / side**2 == pytest.approx(tone, abs=1.0 / len(np.unique(screen.threshold(0, 60, 0, 60))))


def test_published_screens_of_600_dots_an_inch() -> None:
    """600 / (4 sqrt 2) = 106 and 600 / (3 sqrt 2) = 141 lines/inch at 45 degrees."""
    assert [round(Screen(n, n, 600).lines_per_inch) for n in (4, 3)] == [106, 141]
    assert Screen(4, 4, 600).angle_deg == pytest.approx(45.0)


def test_a_planted_part_prints_at_its_circumference() -> None:
    for seed in range(40):
        part = list(PARTS)[seed % len(PARTS)]
        state = random_toner_state(np.random.default_rng(seed), 210.0, 297.0, part=part, specks=0, hide=False)
        (fault,) = state.repeats
        y = np.array([spot.y_mm for spot in fault.spots])
        assert len(y) >= 3
        assert np.diff(y).mean() == pytest.approx(np.pi * PARTS[part], rel=0.02)
        assert all(7.0 < spot.y_mm < 290.0 for spot in fault.spots)
