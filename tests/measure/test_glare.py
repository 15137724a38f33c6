"""Dashes that a lamp burnt out: a view painted in light, and what the ladder read from it, both put in by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.measure.glare import without_burnt_out, without_veiled
from printcheck.measure.ladder import LadderSignal, ladder_box
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.register.view import View

LADDER = build_layout(load_head("tri-100"), page_named("A4")).ladders_of("C")[0]
PAPER = 0.6  # linear light
SOUND = 0.07  # mm of full absorption
PER_MM = 12.0
TURN = len(LADDER.columns)
ROW = 45
COLUMN = ROW % TURN


def view(
    spot: float = 0.0, over: tuple[int, ...] = (), share: tuple[float, float] = (0.0, 1.0), paper: float = PAPER
) -> View:
    """Bare paper, and `spot` times its light over the dashes `over` and the paper about them.

    `share` is the part of their length, from left to right, that it falls on.
    """
    box = ladder_box(LADDER)
    light = np.full((round(box.height * PER_MM), round(box.width * PER_MM)), paper)
    for row in over:
        dash = LADDER.dash(row)
        reach = TURN * LADDER.pitch_mm
        y0, y1 = (round((y - box.y0) * PER_MM) for y in (dash.centre[1] - reach, dash.centre[1] + reach))
        x0, x1 = (round((dash.x0 + s * dash.width - box.x0) * PER_MM) for s in share)
        light[max(y0, 0) : y1, x0:x1] = paper * spot
    light = np.clip(light, 0, 1)
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)  # IEC 61966-2-1
    return View(np.rint(255 * encoded).astype(np.uint8), box, PER_MM, PER_MM, 1.0)


def signal(gone: tuple[int, ...] = ()) -> LadderSignal:
    amplitude = np.full(LADDER.rows, SOUND)
    amplitude[list(gone)] = 0.0
    full = np.ones(LADDER.rows)
    parts = np.repeat(amplitude[:, None], 8, axis=1)
    return LadderSignal(
        parts, 0 * parts, amplitude, 0.02 * SOUND * full, 0 * full, 0.003 * full, full.astype(bool), PAPER * full,
        0.055, 0.0,
    )  # fmt: skip


def test_without_a_lamp_nothing_is_taken_away() -> None:
    before = signal(gone=(ROW,))
    after = without_burnt_out(before, view(), LADDER)
    assert after.readable.all()
    assert np.array_equal(after.amplitude, before.amplitude)


@pytest.mark.parametrize(
    ("paper", "spot"), [(0.3, 2.5), (PAPER, 1.7)], ids=["far lighter than paper", "at the camera's ceiling"]
)
def test_a_dash_under_a_lamp_is_not_missing_but_unreadable(paper: float, spot: float) -> None:
    before = signal(gone=(ROW,))
    after = without_burnt_out(before, view(spot, (ROW,), paper=paper), LADDER)
    assert not after.readable[ROW]
    assert np.isnan(after.amplitude[ROW])
    assert np.isnan(after.parts[ROW]).all()
    assert before.readable.all(), "what was read is left as it was"


def test_a_dash_that_is_plainly_there_stays() -> None:
    after = without_burnt_out(signal(), view(3.0, (ROW,)), LADDER)
    assert after.readable.all()
    assert np.isfinite(after.amplitude).all()


def test_other_faint_dashes_of_the_spoilt_column_go_too_and_those_of_the_others_stay() -> None:
    """The paper's level is one curve down a column: where a lamp lies on part of it, it errs in the rest."""
    beside = next(row for row in range(ROW + 1, LADDER.rows) if row % TURN != COLUMN)
    below = ROW + 4 * TURN if LADDER.rows > ROW + 4 * TURN else ROW - 4 * TURN
    after = without_burnt_out(signal(gone=(ROW, beside, below)), view(3.0, (ROW,)), LADDER)
    assert after.readable[[ROW, below, beside]].tolist() == [False, False, True]
    assert after.amplitude[beside] == 0.0


@pytest.mark.parametrize(("share", "read"), [((0.0, 0.1), True), ((0.0, 0.5), False)], ids=["an eighth", "half"])
def test_a_reflection_on_one_end_of_a_dash_spoils_it_only_beyond_what_its_middle_leaves_out(
    share: tuple[float, float], read: bool
) -> None:
    after = without_burnt_out(signal(gone=(ROW,)), view(1.7, (ROW,), share), LADDER)
    assert bool(after.readable[ROW]) is read


def test_light_on_one_side_alone_is_the_next_dashs_gap_and_no_reflection() -> None:
    """The darker side counts: where paper keeps its level on one side of a place, a dash there would be seen.

    Tried on the last row, whose other side no further dash of the column shares.
    """
    last = LADDER.rows - 1
    shown = view()
    below = LADDER.dash(last).centre[1] + 0.3 * TURN * LADDER.pitch_mm
    values = shown.values.copy()
    values[round((below - shown.box.y0) * PER_MM) :] = 255
    assert without_burnt_out(signal(gone=(last,)), replace(shown, values=values), LADDER).readable[last]


def test_paper_light_over_all_of_the_ladder_alike_is_no_reflection() -> None:
    """Only the ceiling spoils a ladder that is light everywhere; just below it, dashes are read."""
    every = tuple(range(LADDER.rows))
    assert without_burnt_out(signal(gone=(ROW,)), view(1.5, every), LADDER).readable[ROW]
    assert not without_burnt_out(signal(gone=(ROW,)), view(1.7, every), LADDER).readable[ROW]


def in_light(rows: NDArray[np.int64], strength: float, times: float) -> LadderSignal:
    """Dashes of `rows` read `strength` of a sound one, beside paper that shows `times` the others' light."""
    before = signal()
    amplitude, paper = before.amplitude.copy(), before.paper.copy()
    amplitude[rows] *= strength
    paper[rows] *= times
    return replace(before, amplitude=amplitude, parts=np.repeat(amplitude[:, None], 8, axis=1), paper=paper)


LEFT = np.flatnonzero(np.arange(LADDER.rows) % TURN == COLUMN)


def test_a_column_that_a_reflection_veils_is_unreadable_and_no_step_of_dead_rows() -> None:
    """Light added to ink and paper alike: at twice the paper's light a sound dash reads half."""
    after = without_veiled(in_light(LEFT, 0.35, 1.6), LADDER)
    assert not after.readable[LEFT].any()
    assert after.readable.sum() == LADDER.rows - len(LEFT)


def test_a_column_missing_on_paper_like_its_neighbours_is_missing() -> None:
    """An electrical fault may take every so many rows, and so a whole column: no light explains that."""
    after = without_veiled(in_light(LEFT, 0.0, 1.03), LADDER)
    assert after.readable.all()


def test_rows_missing_in_all_columns_are_the_heads_even_where_the_paper_is_lighter() -> None:
    run = np.arange(LADDER.rows // 2, LADDER.rows)
    shown = in_light(run, 0.0, 1.0)
    graded = replace(shown, paper=PAPER * np.linspace(0.8, 1.2, LADDER.rows))
    assert without_veiled(graded, LADDER).readable.all()


def test_rows_faint_in_all_columns_are_unreadable_where_the_light_explains_it() -> None:
    low = np.arange(LADDER.rows // 2, LADDER.rows)
    after = without_veiled(in_light(low, 0.4, 1.9), LADDER)
    assert not after.readable[low[2 * TURN] :].any()
    assert after.readable[: low[0] - 4 * TURN].all()


def test_where_nothing_was_read_nothing_happens() -> None:
    empty = signal()
    empty.amplitude[:] = np.nan
    assert without_burnt_out(empty, view(3.0, (ROW,)), LADDER) is empty
