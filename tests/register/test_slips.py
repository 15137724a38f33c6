"""A map that is off by a whole spacing of dashes: the phase of a comb can't tell, its ends can.

Profiles are drawn from the ladder's own geometry (every dash a Gaussian line), pictures by OpenCV from a drawn sheet.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from drawn_pages import drawn_page

from printcheck.register.combs import refine_by_combs
from printcheck.register.sheet import register_sheet
from printcheck.register.slips import column_slips

LAYOUT = drawn_page(300).layout
LADDER = LAYOUT.ladders[0]
SPACING = len(LADDER.columns) * LADDER.pitch_mm


def _profiles(down_mm: float, dead: tuple[int, ...] = (), noise: float = 0.01) -> tuple[np.ndarray, np.ndarray]:
    y = np.arange(LADDER.box.y0 - 0.6, LADDER.box.y1 + 0.6, 25.4 / 300)
    light = np.full((len(y), len(LADDER.columns)), 0.8)
    for row in range(LADDER.rows):
        if row not in dead:
            centre = LADDER.box.y0 + (row + 0.5) * LADDER.pitch_mm + down_mm
            light[:, LADDER.column_of(row)] -= 0.3 * np.exp(-0.5 * ((y - centre) / 0.07) ** 2)
    return light + noise * np.random.default_rng(1).standard_normal(light.shape), y


@pytest.mark.parametrize("slip", [-1, 0, 1])
@pytest.mark.parametrize("phase", [-0.2, 0.0, 0.15])
def test_the_ends_tell_which_dash_is_which(slip: int, phase: float) -> None:
    profiles, y = _profiles(phase + slip * SPACING)
    known = np.full(len(LADDER.columns), phase)
    slips, sure = column_slips(profiles, y, LADDER, known, known)
    assert sure.sum() >= len(sure) - 2
    assert set(slips[sure].tolist()) == {slip}


def test_dead_rows_at_the_ends_are_no_slip() -> None:
    ends = (0, 1, LADDER.rows - 1)
    profiles, y = _profiles(0.0, dead=ends)
    nothing = np.zeros(len(LADDER.columns))
    assert not column_slips(profiles, y, LADDER, nothing, nothing)[0].any()


def test_nothing_printed_tells_nothing() -> None:
    profiles, y = _profiles(0.0, dead=tuple(range(LADDER.rows)))
    nothing = np.zeros(len(LADDER.columns))
    slips, sure = column_slips(profiles, y, LADDER, nothing, nothing)
    assert not slips.any()
    assert not sure.any()


@pytest.mark.parametrize("off_mm", [0.0, 0.45, -0.55])
def test_a_map_that_is_a_spacing_off_is_put_right(off_mm: float) -> None:
    drawn = drawn_page(300)
    found = register_sheet(drawn.pixels)
    moved = replace(found, field=None, grid=None, homography=found.homography @ _down(off_mm))
    mended = refine_by_combs(drawn.pixels, moved, np.zeros((0, 4)))
    middles = np.array([ladder.box.centre for ladder in drawn.layout.ladders])
    error = (mended.to_px(middles) - found.to_px(middles)) / found.px_per_mm_y
    assert np.abs(error[:, 1]).max() < 0.06


def _down(mm: float) -> np.ndarray:
    return np.array([[1.0, 0.0, 0.0], [0.0, 1.0, mm], [0.0, 0.0, 1.0]])
