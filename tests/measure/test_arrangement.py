"""Runs, steps and chance: what the arrangement of missing rows is called.

The expected answers come from how heads are wired and printed (common practice, no source), the false alarms from
rows drawn at random.
"""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.limits import LIMITS
from printcheck.measure.arrangement import arrange
from printcheck.pattern.heads import HeadInk, builtin_heads, load_head

INKS = {(ink.rows, ink.passes): ink for head in builtin_heads() for ink in load_head(head).inks}
ALARM_RATE = 1e-3  # steps seen in rows thrown at random: at most one sheet in a thousand
SHEETS = 2000


@pytest.mark.parametrize("rows", [100, 192, 416])
def test_nothing_missing_has_no_arrangement(rows: int) -> None:
    assert arrange(set(), rows).kind == "none"
    assert arrange({rows // 2}, rows).kind == "scattered"


@pytest.mark.parametrize("rows", [100, 192, 416])
@pytest.mark.parametrize("length", [3, 8, 24])
def test_neighbours_are_a_run(rows: int, length: int) -> None:
    found = arrange(set(range(20, 20 + length)), rows)
    assert found.kind == "run"
    assert found.longest_run == length
    assert found.stride is None


def test_a_run_that_the_start_of_a_swath_cuts_in_two_is_one() -> None:
    assert arrange({0, 1, 2, 97, 98, 99}, 100).longest_run == 6


def test_a_run_with_strays_is_still_a_run() -> None:
    assert arrange({*range(150, 174), 12, 77, 301, 333, 402}, 416).kind == "run"


def steps():
    for rows, passes in INKS:
        if passes == 1:
            for step in (4, 8, 13, 16):
                if (rows - 1) // step >= 5:
                    yield rows, step


@pytest.mark.parametrize(("rows", "step"), list(steps()))
def test_a_failed_address_line_is_a_step_on_every_head(rows: int, step: int) -> None:
    for start in range(step):
        found = arrange(set(range(start, rows, step)), rows)
        assert (found.kind, found.stride) == ("stride", step)


@pytest.mark.parametrize("rows", [192, 416])
def test_a_step_with_strays_and_a_clog_is_still_a_step(rows: int) -> None:
    rng = np.random.default_rng(1)
    missing = set(range(5, rows, 16)) | set(rng.choice(rows, 4, replace=False).tolist()) | {50, 51, 52, 53}
    found = arrange(missing, rows)
    assert (found.kind, found.stride) == ("stride", 16)


@pytest.mark.parametrize("rows", [192, 416])
@pytest.mark.parametrize("cut", [0.2, 0.4])
def test_a_step_that_the_start_of_a_swath_cuts_in_two_is_still_a_step(rows: int, cut: float) -> None:
    """The swath starts anywhere: rows wrap round, and the step is broken where they do."""
    phase = round(cut * rows)
    missing = {(nozzle + phase) % rows for nozzle in range(5, rows, 15)}
    found = arrange(missing, rows)
    assert (found.kind, found.stride) == ("stride", 15)


@pytest.mark.parametrize("phase", range(20, 80, 7))
def test_a_close_step_of_a_small_head_is_one_wherever_it_is_cut(phase: int) -> None:
    """Twelve rows of a hundred: neither part alone is beyond chance, both together are."""
    missing = {(nozzle + phase) % 98 for nozzle in range(3, 98, 8)}
    found = arrange(missing, 100)
    assert (found.kind, found.stride) == ("stride", 8)


@pytest.mark.parametrize("step", [2, 3])
@pytest.mark.parametrize("length", [4, 7, 12])
def test_a_clog_in_a_head_whose_passes_share_the_rows_is_a_run_not_a_step(step: int, length: int) -> None:
    found = arrange(set(range(30, 30 + step * length, step)), 416, 1)
    assert found.kind == "run"
    assert found.longest_run == length


def test_a_clog_seen_twice_by_two_passes_is_no_step() -> None:
    """Each of two passes prints every second row; ten dead neighbours show as two combs half a head apart."""
    comb = set(range(20, 40, 2))
    assert arrange(comb | {r + 209 for r in comb}, 416, 1).kind == "run"


def returns(ink: HeadInk, nozzle: int, advance: int, phase: int) -> set[int]:
    """Rows of one head height that `nozzle` prints where the paper moves by `advance` rows each time."""
    first = ink.passes * nozzle + phase
    return set(range(first % advance, ink.rows, advance))


@pytest.mark.parametrize("advance", [*range(170, 191), 359, 360, 361])
def test_one_dead_nozzle_that_comes_back_is_never_a_step(advance: int) -> None:
    (ink,) = [ink for ink in INKS.values() if ink.passes == 2]
    for nozzle in range(ink.nozzles):
        for phase in (0, 1, 37):
            assert arrange(returns(ink, nozzle, advance, phase), ink.rows, ink.passes).kind == "scattered"


def test_a_few_dead_nozzles_that_come_back_are_hardly_ever_a_step() -> None:
    """Returns come in pairs, so chance has fewer independent rows than the bound assumes: at most 1 sheet in 100."""
    (ink,) = [ink for ink in INKS.values() if ink.passes == 2]
    rng = np.random.default_rng(2)
    alarms = 0
    for _ in range(1000):
        advance, phase = int(rng.integers(150, 181)), int(rng.integers(0, 360))
        missing: set[int] = set()
        for nozzle in rng.choice(ink.nozzles, int(rng.integers(2, 9)), replace=False):
            missing |= returns(ink, int(nozzle), advance, phase)
        alarms += arrange(missing, ink.rows, ink.passes).kind == "stride"
    assert alarms <= 10


@pytest.mark.parametrize(("rows", "passes"), sorted(INKS))
def test_rows_at_random_are_called_a_step_on_less_than_one_sheet_in_a_thousand(rows: int, passes: int) -> None:
    """False-alarm rate over 2000 faulty sheets a head, 5 rows to a sixth of the head missing on each.

    With a true rate of 1 in 1000, 7 or more of 2000 come up in one of 220 such tests (Poisson, mean 2).
    """
    assert LIMITS["stride_false_alarm"].value <= ALARM_RATE
    rng = np.random.default_rng(rows + passes)
    alarms = 0
    for _ in range(SHEETS // 10):
        count = int(rng.integers(5, rows // 6))
        for _ in range(10):
            alarms += arrange(set(rng.choice(rows, count, replace=False).tolist()), rows, passes).kind == "stride"
    assert alarms <= 6


def test_clogs_at_random_are_never_called_a_step_either() -> None:
    """Runs hold chains of every step; half a thousand sheets with one to four clogs and some single rows."""
    rng = np.random.default_rng(3)
    for _ in range(500):
        missing = set(rng.choice(416, int(rng.integers(0, 8)), replace=False).tolist())
        for _ in range(int(rng.integers(1, 5))):
            start, length = int(rng.integers(0, 400)), int(rng.integers(3, 30))
            missing |= {r % 416 for r in range(start, start + length)}
        assert arrange(missing, 416).kind != "stride"
