"""States, rows and shifts from strengths that are put in by hand: no picture takes part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from printcheck.measure.ladder import NARROWEST_MM, WIDEST_MM, LadderSignal
from printcheck.measure.lines import judge_lines
from printcheck.measure.result import LinesReading
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named

HEAD = load_head("tri-100")
INK = HEAD.ink("C")
LADDERS = build_layout(HEAD, page_named("A4")).ladders_of("C")
ROWS = INK.rows
WEIGHT = 0.07  # mm of full absorption of a sound dash: any number, strengths are relative


def strengths(seed: int = 0, **given: float) -> np.ndarray:
    """A healthy ladder with ``r12=0.5`` style exceptions."""
    out = 1 + 0.02 * np.random.default_rng(seed).standard_normal(ROWS)
    for name, value in given.items():
        out[int(name[1:])] = value
    return out


def without(rows, seed: int = 0) -> np.ndarray:
    out = strengths(seed)
    out[[r for r in rows if 0 <= r < ROWS]] = 0.01
    return out


def signal(strength: np.ndarray, sd=0.02, offset=0.0, readable=None, level=1.0) -> LadderSignal:
    full = np.ones(ROWS)
    weight = WEIGHT * level
    parts = np.repeat((strength * weight)[:, None], 8, axis=1)
    return LadderSignal(
        parts, parts * 0, strength * weight, full * sd * WEIGHT, full * offset, full * 0.003,
        np.ones(ROWS, bool) if readable is None else readable, full * 0.8, 0.055, 0.0,
    )  # fmt: skip


def judged(first: LadderSignal, second: LadderSignal | None = None, absorptance: float | None = 0.8) -> LinesReading:
    return judge_lines(INK, LADDERS, (first, second or first), absorptance)


def states(reading: LinesReading, repeat: int = 0) -> list[str]:
    return [d.state for d in reading.dashes if d.repeat == repeat]


def test_a_healthy_ladder_has_nothing_to_say() -> None:
    found = judged(signal(strengths(1)), signal(strengths(2)))
    assert set(states(found)) == {"present"}
    assert (found.missing, found.intermittent, found.weak, found.displaced, found.unreadable) == ((),) * 5
    assert found.advance_rows is None
    assert found.arrangement == "none"
    assert len(found.dashes) == 2 * ROWS
    assert np.mean([d.strength for d in found.dashes]) == pytest.approx(1.0, abs=0.01)


def test_each_state_where_it_belongs() -> None:
    offset = np.zeros(ROWS)
    offset[70] = -0.035
    readable = np.ones(ROWS, bool)
    readable[80] = False
    found = judged(signal(strengths(r10=0.0, r20=0.6, r30=0.25), offset=offset, readable=readable))
    state = states(found)
    assert [state[r] for r in (10, 20, 30, 40, 70, 80)] == [
        "missing", "weak", "missing", "present", "displaced", "unreadable",
    ]  # fmt: skip
    assert (found.missing, found.weak, found.displaced, found.unreadable) == ((10, 30), (20,), (70,), (80,))
    (moved,) = [d.offset_mm for d in found.dashes if d.row == 70 and d.repeat == 0]
    assert moved == pytest.approx(-0.035, abs=0.002)


@pytest.mark.parametrize("sd", [0.15, 0.2, 0.25])
def test_what_reads_as_lighter_than_bare_paper_in_the_noise_is_not_missing(sd) -> None:
    """Nothing is lighter than bare paper: such a reading is the noise's, and says that its tails are long."""
    loud = signal(strengths(1, r10=-0.5, r20=-0.9, r30=1.4), sd=sd)
    found = judged(loud, signal(strengths(2)))
    assert [states(found)[r] for r in (10, 20, 30)] == ["unreadable", "unreadable", "present"]
    assert (found.missing, found.intermittent, found.unreadable) == ((), (), ())


@pytest.mark.parametrize(("sd", "state"), [(0.02, "missing"), (0.1, "unreadable"), (0.12, "unreadable")])
def test_a_noisy_reading_at_the_limit_is_neither_missing_nor_there(sd, state) -> None:
    """One standard deviation either side of the limit says nothing; the other printing of the row decides."""
    found = judged(signal(strengths(1, r10=0.31, r20=0.0), sd=sd), signal(strengths(2, r20=0.0)))
    assert (states(found)[10], states(found)[20]) == (state, "missing")
    assert found.missing == (20,)
    assert found.intermittent == ((10,) if state == "missing" else ())


def test_a_noisy_dash_is_unreadable_not_missing() -> None:
    """One that can't be told from bare paper is not called missing, and one that surely can is read all the same."""
    sd = np.full(ROWS, 0.02)
    sd[[15, 25]] = 0.2
    found = judged(signal(strengths(r15=0.3, r25=1.05), sd=sd))
    assert states(found)[15] == "unreadable"
    assert states(found)[25] == "present"
    assert found.missing == ()
    assert 15 in found.unreadable


def test_a_slightly_low_dash_is_weak_only_where_it_is_sure() -> None:
    for sd, expected in ((0.02, "weak"), (0.08, "present")):
        assert states(judged(signal(strengths(r50=0.80), sd=sd)))[50] == expected


def test_missing_in_one_printing_is_intermittent_and_missing_beside_unreadable_is_missing() -> None:
    readable = np.ones(ROWS, bool)
    readable[60] = False
    found = judged(signal(strengths(3, r20=0.0, r60=0.0)), signal(strengths(4, r33=0.02), readable=readable))
    assert found.intermittent == (20, 33)
    assert found.missing == (60,)


@pytest.mark.parametrize("shift", [-31, -7, -1, 1, 4, 22, 60])
def test_an_advance_by_another_height_is_found_and_rows_are_the_first_printings(shift: int) -> None:
    """Dead rows chosen so that at least three show in both printings; those that leave the ladder show in one."""
    rng = np.random.default_rng(abs(shift))
    rows = sorted(rng.choice(np.arange(max(0, -shift), min(ROWS, ROWS - shift)), 5, replace=False).tolist())
    found = judged(signal(without(rows)), signal(without([r + shift for r in rows], 1)))
    assert found.advance_rows == shift
    assert found.missing == tuple(rows)
    assert found.intermittent == ()


def test_a_row_that_prints_in_the_first_printing_is_not_missing_in_each() -> None:
    """Passes 96 rows apart on a head of a hundred: what only the second printing shows has no number in the first."""
    dead = np.array([6, 30, 37, 48])
    second = without([6, 13, 24, ROWS - 22], 1)
    found = judged(signal(without(dead.tolist())), signal(second))
    assert found.advance_rows == -24
    assert found.missing == tuple(dead)
    assert found.intermittent == (2,)


@pytest.mark.parametrize(("period", "apart"), [(358, 352), (358, 364), (360, 350), (354, 361)])
def test_rows_that_interlaced_passes_print_with_one_nozzle_count_once(period: int, apart: int) -> None:
    """Two passes fill `period` rows by turns, then come the same nozzles again; printings are `apart` rows apart."""
    head = load_head("quad-180")
    ink, ladders = head.ink("C"), build_layout(head, page_named("A4")).ladders_of("C")
    dead = {1, 4, 12, 33, 81, 91, 99, 133, 140, 154, 168, period // 2 - 1}

    def printing(start: int) -> tuple[LadderSignal, list[int]]:
        place = (np.arange(ink.rows) + start) % period
        # the odd rows' pass begins an odd number of rows further down, and ends as much later
        nozzle = np.where(place % 2 == 0, place, (place - (period // 2 | 1)) % period) // 2
        gone = np.flatnonzero(np.isin(nozzle, list(dead)))
        weight = WEIGHT * (1 + 0.02 * np.random.default_rng(start).standard_normal(ink.rows))
        weight[gone] = 0.0
        parts, full = np.repeat(weight[:, None], 8, axis=1), np.ones(ink.rows)
        lines = LadderSignal(
            parts, parts * 0, weight, full * 0.02 * WEIGHT, full * 0.0, full * 0.003, full > 0, full * 0.8, 0.03, 0.0
        )
        return lines, gone.tolist()

    (first, gone), (second, _) = printing(11), printing(11 + apart)
    found = judge_lines(ink, ladders, (first, second), 0.8)
    assert found.advance_rows == (period - apart if period - apart else None)
    assert (found.missing, found.intermittent) == (tuple(gone), ())


def test_weak_rows_follow_the_shift_that_missing_ones_show() -> None:
    """A weak nozzle prints another row of the second printing, as a dead one leaves another out."""
    first, second = without([10, 41, 66]), without([17, 48, 73], 1)
    first[30], second[37] = 0.55, 0.55
    found = judged(signal(first), signal(second))
    assert found.advance_rows == 7
    assert found.weak == (30,)
    assert states(found)[30] == states(found, 1)[37] == "weak"


def test_rows_off_their_place_tell_a_shift_where_none_is_missing() -> None:
    """Six nozzles are askew; the printer moves on by 17 rows more than the head between the printings."""
    askew = np.array([5, 18, 30, 41, 66, 80])

    def moved(by: int, seed: int) -> LadderSignal:
        offset = np.zeros(ROWS)
        offset[askew + by] = 0.05
        return signal(strengths(seed), offset=offset)

    found = judged(moved(0, 1), moved(17, 2))
    assert found.advance_rows == 17
    assert found.displaced == tuple(askew)


def places(askew: dict[int, float], by: int, noise_mm: float, seed: int) -> LadderSignal:
    """A printing that lies `by` rows lower, whose rows are read to within `noise_mm`."""
    offset = noise_mm * np.random.default_rng(seed).standard_normal(ROWS)
    for row, mm in askew.items():
        if 0 <= row + by < ROWS:
            offset[row + by] += mm
    return replace(signal(strengths(seed), offset=offset), offset_sd_mm=np.full(ROWS, noise_mm))


def test_rows_off_their_place_tell_a_shift_that_noise_hides_one_by_one() -> None:
    """One row in five is 30 to 45 um askew, read to 8 um: hardly one is beyond doubt by itself in both printings."""
    rng = np.random.default_rng(11)
    rows = rng.choice(ROWS, ROWS // 5, replace=False)
    askew = dict(
        zip(rows.tolist(), (rng.uniform(0.03, 0.045, len(rows)) * rng.choice([-1, 1], len(rows))), strict=True)
    )
    found = judged(places(askew, 0, 0.008, 1), places(askew, -23, 0.008, 2))
    assert found.advance_rows == -23
    assert len(found.displaced) > 0.1 * ROWS
    assert judged(places(askew, 0, 0.008, 1), places(askew, 0, 0.008, 2)).advance_rows is None


def test_no_shift_is_made_up_of_noise_nor_of_what_comes_back() -> None:
    made_up = sum(
        judged(places({}, 0, 0.03, k), places({}, 0, 0.03, 100 + k)).advance_rows is not None for k in range(60)
    )
    assert made_up == 0
    pixels = {row: 0.04 if row % 8 < 2 else -0.04 for row in range(ROWS) if row % 8 < 4}
    assert judged(places(pixels, 0, 0.005, 1), places(pixels, 3, 0.005, 2)).advance_rows is None


def test_printings_that_agree_have_no_shift() -> None:
    rng = np.random.default_rng(9)
    for count in (1, 2, 3, 8, 30):
        rows = sorted(rng.choice(ROWS, count, replace=False).tolist())
        found = judged(signal(without(rows)), signal(without(rows, 1)))
        assert found.advance_rows is None
        assert found.missing == tuple(rows)


def test_a_shift_is_seldom_made_up() -> None:
    """Two printings that miss six rows each at random: a chance shift on one sheet in ten at most, no row lost."""
    rng = np.random.default_rng(9)
    made_up = 0
    for _ in range(100):
        a, b = (rng.choice(ROWS, 6, replace=False) for _ in range(2))
        found = judged(signal(without(a)), signal(without(b, 1)))
        named = set(found.missing) | set(found.intermittent)
        assert set(a.tolist()) <= named  # every missing dash counts, whether the repeat agrees or not
        if found.advance_rows is None:
            assert set(b.tolist()) <= named
        made_up += found.advance_rows is not None
    assert made_up <= 10


def test_no_dead_row_is_dropped_by_a_shift() -> None:
    """Rows that leave the ladder through its end in the second printing are missing lines all the same."""
    rows = [2, 30, 50, 71, 95]
    found = judged(signal(without(rows)), signal(without([r + 8 for r in rows], 1)))
    assert found.advance_rows == 8
    assert set(rows) <= set(found.missing) | set(found.intermittent)


def test_a_column_that_one_printing_alone_shows_gone_was_misread() -> None:
    """Rows of a column lie all over the head; in the other printing they are there."""
    columns = len(LADDERS[0].columns)
    column = list(range(2, LADDERS[0].rows, columns))
    lost = judged(signal(strengths()), signal(without(column[1:-2], 1)))
    assert (lost.missing, lost.intermittent, lost.arrangement) == ((), (), "none")
    assert {states(lost, 1)[row] for row in column} == {"unreadable"}
    assert lost.unreadable == ()
    dry = judged(signal(strengths()), signal(without(range(8, ROWS), 1)))  # air came, and all columns went
    assert dry.intermittent == tuple(range(8, ROWS))
    moved = judged(signal(without(column)), signal(without([row + 3 for row in column], 1)))
    assert (moved.advance_rows, moved.stride) == (3, columns)  # a step of dead nozzles that happens to be a column's
    between = strengths(2)
    between[column] = np.linspace(0.5, -0.6, len(column))
    other = strengths(3)
    beside = [row + 3 for row in column if row + 3 < ROWS]
    other[beside] = np.linspace(-0.4, 0.35, len(beside))
    assert judged(signal(between), signal(other)).missing == ()
    both = judged(signal(without(column)), signal(without(column, 1)))
    assert both.missing == tuple(column)
    assert both.stride == columns


def test_what_covers_part_of_a_column_in_one_printing_is_on_the_paper() -> None:
    """A label: dashes side by side there are rows far apart on the head, which print in the other printing."""
    columns = len(LADDERS[0].columns)
    label = [20 + k * columns for k in range(5)]
    covered = judged(signal(strengths()), signal(without(label, 1)))
    assert (covered.missing, covered.intermittent, covered.unreadable) == ((), (), ())
    assert {states(covered, 1)[row] for row in label} == {"unreadable"}
    few = judged(signal(strengths()), signal(without([label[0], label[1], label[3]], 1)))
    assert few.intermittent == (label[0], label[1], label[3])
    air = judged(signal(strengths()), signal(without(range(20, 50), 1)))  # rows between them are gone as well
    assert air.intermittent == tuple(range(20, 50))
    dead = judged(signal(without(label)), signal(without(label, 1)))
    assert dead.missing == tuple(label)


def test_a_gap_in_one_printing_alone_must_be_beyond_doubt() -> None:
    noisy = np.full(ROWS, 0.02)
    noisy[[10, 50, 70]] = 0.11
    dead = {f"r{row}": 0.0 for row in (4, 21, 45, 83, 91)}
    one = signal(strengths(r10=0.28, r30=0.3, r50=0.28, r70=0.05, **dead), sd=noisy)
    found = judged(one, signal(strengths(2, r50=0.0, **dead)))
    assert (states(found)[10], states(found)[30], states(found)[70]) == ("unreadable", "missing", "missing")
    assert found.missing == (4, 21, 45, 50, 83, 91)
    assert found.intermittent == (30, 70)


def test_a_gap_between_dashes_that_cannot_be_read_is_not_believed() -> None:
    """Lines off the places they are looked for leave bare paper at some of these; a gap beside read lines is one."""
    columns = len(LADDERS[0].columns)
    readable = np.ones(ROWS, bool)
    readable[[50 + k * columns for k in (-2, -1, 1, 2)] + [columns, 2 * columns]] = False
    curled = judged(signal(strengths(r0=0.0, r50=0.0), readable=readable), signal(strengths(1)))
    assert (states(curled)[0], states(curled)[50]) == ("unreadable", "unreadable")
    assert (curled.missing, curled.intermittent) == ((), ())
    readable[[50 - columns, 50 + columns]] = True
    assert judged(signal(strengths(r50=0.0), readable=readable), signal(strengths(1))).intermittent == (50,)


def test_a_step_that_one_printing_alone_shows_is_not_the_heads_wiring() -> None:
    """Something lies on the paper there; nozzles that fail at a step fail in both printings."""
    step = list(range(2, 70, 7))
    assert judged(signal(without(step)), signal(without(step, 1))).arrangement == "stride"
    alone = judged(signal(without(step)), signal(strengths(1)))
    assert alone.intermittent == tuple(step)
    assert (alone.arrangement, alone.stride) == ("scattered", None)
    beside = judged(signal(without([*step, 3, 4])), signal(without([3, 4], 1)))  # with rows that are dead
    assert (beside.missing, beside.arrangement) == ((3, 4), "scattered")
    readable = np.ones(ROWS, bool)
    readable[step[::2]] = False
    assert judged(signal(without(step)), signal(without(step, 1), readable=readable)).arrangement == "stride"


def test_an_absent_ink_is_told_as_such() -> None:
    rng = np.random.default_rng(6)
    nothing = signal(0.02 * rng.standard_normal(ROWS), sd=0.02)
    found = judged(nothing, absorptance=0.01)
    assert found.absent
    assert found.missing == ()
    assert found.arrangement == "none"
    assert found.notes
    dusty = 0.02 * rng.standard_normal(ROWS)
    dusty[[10, 40, 70]] = 0.3
    assert judged(signal(dusty, sd=0.02), absorptance=0.01).absent
    assert not judged(signal(dusty, sd=0.02), absorptance=0.5).absent
    for share, absent in ((0.4, True), (0.2, False)):
        half_seen = signal(dusty, sd=0.02, readable=np.arange(ROWS) % 10 < 10 * share)
        assert judged(half_seen, absorptance=0.01).absent is absent


@pytest.mark.parametrize("absorptance", [0.7, None])
def test_ink_on_the_solid_but_no_dash_to_be_seen_is_unreadable(absorptance: float | None) -> None:
    rng = np.random.default_rng(6)
    found = judged(signal(0.02 * rng.standard_normal(ROWS), sd=0.02), absorptance=absorptance)
    assert not found.absent
    assert found.missing == ()
    assert set(states(found)) == {"unreadable"}


@pytest.mark.parametrize("dead_share", [0.1, 0.5, 0.8])
def test_however_many_are_dead_the_sound_ones_read_one(dead_share: float) -> None:
    rng = np.random.default_rng(7)
    dead = np.sort(rng.choice(ROWS, round(dead_share * ROWS), replace=False))
    found = judged(signal(without(dead)), signal(without(dead, 1)))
    assert found.missing == tuple(dead.tolist())
    sound = [d.strength for d in found.dashes if d.row not in set(dead.tolist())]
    assert np.mean(sound) == pytest.approx(1.0, abs=0.02)


def test_a_level_that_leans_over_the_ladder_makes_no_row_weak() -> None:
    column = np.array([LADDERS[0].column_of(r) for r in range(ROWS)]) / (len(LADDERS[0].columns) - 1) - 0.5
    leaning = 1 + 0.3 * column + 0.15 * (np.arange(ROWS) / ROWS - 0.5)
    found = judged(signal(strengths(5), level=leaning))
    assert found.weak == ()
    assert found.missing == ()


def test_what_a_level_that_leans_takes_out_is_doubt_for_it_may_be_the_prints_own() -> None:
    """Every interval must hold what the dashes read without it as well."""
    lean = np.linspace(0.93, 1.07, ROWS)
    for found in (judged(signal(strengths(9) * lean)), judged(signal(strengths(9)))):
        assert {dash.state for dash in found.dashes} == {"present"}
    leaning, even = (
        np.array([d.strength_sd for d in judged(signal(strengths(9) * by)).dashes if d.repeat == 0])
        for by in (lean, np.ones(ROWS))
    )
    ends = [0, 1, ROWS - 2, ROWS - 1]
    assert (1.96 * leaning[ends] > np.abs(lean - 1)[ends]).all()
    assert leaning[ROWS // 2] == pytest.approx(even[ROWS // 2], rel=0.1)


@pytest.mark.parametrize("take", [2, 1], ids=["every second row", "a slow drift"])
def test_rows_that_move_together_are_the_papers_not_the_nozzles(take: int) -> None:
    rows = np.arange(ROWS)
    offset = np.where(rows % 2 == 0, 0.03, -0.01) if take == 2 else 0.06 * rows / ROWS
    assert judged(signal(strengths(8), offset=offset)).displaced == ()
    one = offset.copy()
    one[37] += 0.04
    assert judged(signal(strengths(8), offset=one)).displaced == (37,)


def thrown(first: int, rows: int, turns: tuple[float, float], seed: int) -> np.ndarray:
    """Places of a ladder whose `rows` from `first` on lie off by `turns` mm, the even ones and the odd ones."""
    out = 0.003 * np.random.default_rng(seed).standard_normal(ROWS)
    at = np.arange(first, first + rows)
    out[at] += np.where(at % 2 == 0, *turns)
    return out


def found_thrown(one: np.ndarray, two: np.ndarray) -> LinesReading:
    return judged(signal(strengths(8), offset=one), signal(strengths(9), offset=two))


@pytest.mark.parametrize("turns", [(0.05, 0.05), (-0.06, -0.06), (0.05, -0.05), (0.05, 0.0)])
@pytest.mark.parametrize(("first", "rows"), [(40, 20), (34, 30), (0, 24)])
def test_rows_side_by_side_that_both_printings_throw_alike_are_the_heads(first, rows, turns) -> None:
    """What the paper does is another thing in each printing; a nozzle prints its row in both."""
    found = found_thrown(thrown(first, rows, turns, 1), thrown(first, rows, turns, 2))
    expected = {r for r in range(first, first + rows) if turns[r % 2]}
    assert len(set(found.displaced) ^ expected) <= 2  # the run's own ends
    moved = [d.offset_mm for d in found.dashes if d.row in found.displaced]
    assert np.median(np.abs(moved)) == pytest.approx(abs(turns[0]), abs=0.004)


@pytest.mark.parametrize(
    ("one", "two"), [((0.05, 0.05), (0.0, 0.0)), ((0.05, 0.05), (-0.05, -0.05)), ((0.05, 0.0), (0.0, 0.0))]
)
def test_rows_that_move_together_in_one_printing_alone_are_the_papers(one, two) -> None:
    assert found_thrown(thrown(40, 24, one, 1), thrown(40, 24, two, 2)).displaced == ()


@pytest.mark.parametrize("step", [12, 24, 50, 70])
def test_two_swaths_that_meet_within_a_ladder_are_the_papers(step: int) -> None:
    """How far apart they lie differs from meeting to meeting, be it by chance."""
    one, two = (thrown(0, step, (off, off), seed) for off, seed in ((0.04, 1), (-0.01, 2)))
    assert len(found_thrown(one, two).displaced) <= 1


def test_rows_thrown_together_are_found_where_the_paper_advanced_by_other_than_the_heads_height() -> None:
    found = found_thrown(thrown(20, 24, (0.05, 0.05), 1), thrown(60, 24, (0.05, 0.05), 2))
    assert found.advance_rows == 40
    assert len(set(found.displaced) ^ set(range(20, 44))) <= 2


def test_the_reading_is_plain_data() -> None:
    found = judged(signal(strengths(r10=0.0)))
    dash = found.dashes[10]
    assert dash.box == LADDERS[0].dash(10)
    assert type(dash.strength) is float
    assert replace(found, ink="M").ink == "M"


def test_what_a_column_shares_is_the_pages_place_and_no_nozzles() -> None:
    """Curled paper under a camera shifts and slants each column by itself; a dash beyond that is still displaced."""
    columns = len(LADDERS[0].columns)
    rows = np.arange(ROWS)
    shift = np.array([0.03, -0.025, 0.0, 0.02, 0.0, -0.03, 0.01, 0.0])[:columns]
    slant = np.array([0.0, 0.03, 0.0, 0.0, -0.03, 0.0, 0.0, 0.0])[:columns]
    noise = 0.002 * np.random.default_rng(3).standard_normal(ROWS)
    offset = shift[rows % columns] + slant[rows % columns] * (rows / ROWS - 0.5) + noise
    assert judged(signal(strengths(8), offset=offset)).displaced == ()
    offset[[37, 62]] += (0.04, -0.035)
    found = judged(signal(strengths(8), offset=offset))
    assert found.displaced == (37, 62)
    assert [d.offset_mm for d in found.dashes if d.row in (37, 62) and d.repeat == 0] == pytest.approx(
        [0.04, -0.035], abs=0.006
    )


def test_a_dash_is_displaced_only_where_it_is_off_by_more_than_the_limit_and_the_doubt_about_it() -> None:
    """How the rows about it and those of its column scatter is doubt too: neither what the rows share nor the line of
    the column is better known."""
    for scatter, expected in ((0.001, (50,)), (0.012, ())):
        offset = scatter * np.random.default_rng(5).uniform(-1, 1, ROWS)
        offset[50] = 0.0245
        found = judged(signal(strengths(8), offset=offset))
        assert found.displaced == expected
        doubt = np.median([d.offset_sd_mm for d in found.dashes])
        own = np.hypot(0.003, 0.0015)  # what `signal` states, and what a line's shape leaves uncertain
        assert doubt > own
        assert doubt == pytest.approx(own, rel=0.06) if scatter < 0.002 else doubt > 1.45 * own


def test_an_ink_whose_solid_is_bare_and_whose_lines_have_no_width_is_absent() -> None:
    """Lines fitted as wide as they may be trade with the paper's light, and all of them seem sure."""
    ghost = signal(strengths(1))
    shapeless = replace(ghost, width_mm=WIDEST_MM)
    assert judged(shapeless, absorptance=0.001).absent
    assert not judged(shapeless, absorptance=0.8).absent  # blurred, but there is ink
    assert not judged(ghost, shapeless, absorptance=0.001).absent  # one printing shows lines
    needles = replace(ghost, width_mm=NARROWEST_MM)  # narrower than any pixel
    assert judged(needles, shapeless, absorptance=0.001).absent
    assert not judged(needles, shapeless, absorptance=0.8).absent


def test_where_bare_paper_reads_is_told_by_the_missing_rows_themselves() -> None:
    """Wide lines fill the gaps between them with their skirts: the paper's level, and with it 0, is uncertain."""
    wide = 0.3 * LADDERS[0].pitch_mm * len(LADDERS[0].columns)
    off = strengths(2)
    gone = [5, 22, 38, 51, 67, 84]
    off[gone] = 0.12  # bare paper reads as an eighth of a line
    one = replace(signal(off), width_mm=wide)
    found = judged(one)
    assert found.missing == tuple(gone)
    missing = [d.strength for d in found.dashes if d.row in gone]
    assert np.abs(missing).max() < 0.03
    narrow = judged(
        replace(signal(off), width_mm=0.02)
    )  # sharp lines leave bare paper between them, and the reading is believed
    assert np.mean([d.strength for d in narrow.dashes if d.row in gone]) == pytest.approx(0.12, abs=0.03)
    sound = [d.strength for d in found.dashes if d.row not in gone]
    assert np.mean(sound) == pytest.approx(1.0, abs=0.02)


def test_without_missing_rows_the_place_of_bare_paper_is_doubt_and_more_for_weak_dashes() -> None:
    """One hazy dash may be weaker or stronger than it reads; a sound one sets the scale, whatever lies at its 0."""
    wide = 0.3 * LADDERS[0].pitch_mm * len(LADDERS[0].columns)
    for width, least, most in ((0.055, 0.0, 0.06), (wide, 0.10, 0.3)):
        found = judged(replace(signal(strengths(2, r40=0.5)), width_mm=width))
        weak, sound = (next(d for d in found.dashes if d.row == row) for row in (40, 41))
        assert weak.strength == pytest.approx(0.5, abs=0.02)
        assert least <= weak.strength_sd <= most
        assert sound.strength_sd < 0.05


def test_scatter_that_no_dashs_own_noise_explains_is_doubt_about_landing_errors() -> None:
    """JPEG's blocks shift a dash as a whole: its segments agree, its neighbours don't. Normal noise, cover 95 %."""
    true = 0.003 * np.random.default_rng(4).standard_normal(ROWS)  # a healthy head's own aim
    read = true + 0.010 * np.random.default_rng(5).standard_normal(ROWS)
    assert signal(strengths()).offset_sd_mm.max() == pytest.approx(0.003)
    found = [d for d in judged(signal(strengths(8), offset=read)).dashes if d.repeat == 0]
    held = [abs(d.offset_mm - shift) <= 1.96 * d.offset_sd_mm for d, shift in zip(found, true, strict=True)]
    assert 0.92 <= np.mean(held) <= 0.99
    assert {d.state for d in found} == {"present"}


@pytest.mark.parametrize(("crossed_px", "least"), [(0.1, 0.92), (2.0, 0.0)])
def test_on_a_sheet_that_lies_straight_what_pixels_add_to_a_whole_dash_is_doubt(
    crossed_px: float, least: float
) -> None:
    """Segments that keep to one row of pixels agree on its error. Normal noise, cover 95 %; heads vary by 1 %."""
    true = 1 + 0.010 * np.random.default_rng(14).standard_normal(ROWS)
    read = true + 0.012 * np.random.default_rng(15).standard_normal(ROWS)
    found = judged(replace(signal(read, sd=0.002), crossed_px=crossed_px)).dashes
    held = [abs(d.strength - true[d.row]) <= 1.96 * d.strength_sd for d in found if d.repeat == 0]
    assert least <= np.mean(held) <= (0.99 if least else 0.85)  # across the pixels it would show in the segments


def test_a_row_is_off_its_place_by_what_both_printings_say_together() -> None:
    """One shows it weak besides, or just short of the limit: a nozzle that is askew throws both alike."""
    first, second = np.zeros(ROWS), np.zeros(ROWS)
    first[[20, 50, 80]] = (0.034, 0.026, 0.026)
    second[[20, 50, 80]] = (0.034, 0.018, 0.002)  # 18 um are under the limit of 20
    found = judged(signal(strengths(8), offset=first), signal(strengths(9, r20=0.6), offset=second))
    assert states(found, 1)[20] == "weak"
    assert states(found, 1)[50] == "present"
    assert found.displaced == (20, 50)


def test_printings_too_noisy_each_to_say_so_are_told_together() -> None:
    """Of two readings 3.4 sd off, each may be noise; their mean is 4.8 sd off."""
    rng = np.random.default_rng(3)
    first, second = (0.010 * rng.standard_normal(ROWS) for _ in range(2))
    first[50] = second[50] = 0.036
    first[20], second[20] = 0.036, 0.0
    one, two = (
        replace(signal(strengths(8), offset=offset), offset_sd_mm=np.full(ROWS, 0.01)) for offset in (first, second)
    )
    found = judged(one, two)
    assert found.displaced == (50,)
    for repeat in (0, 1):
        assert np.flatnonzero(np.array(states(found, repeat)) == "displaced").tolist() == [50]
    assert states(judged(one), 0)[50] == "present"


def test_a_half_inked_dash_is_known_less_well_than_a_sound_one() -> None:
    """Light led about in the paper makes part of a line darker than its ink (Yule and Nielsen, TAGA 1951)."""
    found = judged(signal(strengths(r40=0.6)), signal(strengths(1, r40=0.6)))
    sd = {dash.row: dash.strength_sd for dash in found.dashes if dash.repeat == 0}
    assert sd[40] is not None
    assert sd[41] is not None
    assert sd[40] > 0.045 > sd[41]


def test_what_a_whole_column_reads_too_low_is_its_place_and_no_weak_nozzles() -> None:
    """JPEG's blocks lie on a column alike down the page; its rows come from all over the head."""
    columns = len(LADDERS[0].columns)
    low = np.where(np.arange(ROWS) % columns == 2, 0.8, 1.0)
    found = judged(signal(low * strengths()), signal(low * strengths(1)))
    assert found.weak == ()
    low[20] = 0.6
    assert judged(signal(low * strengths()), signal(low * strengths(1))).weak == (20,)


@pytest.mark.parametrize(("off", "expected"), [(0.0125 * 3.4, ()), (0.0125 * 5.0, (50,))])
def test_a_row_that_one_noisy_printing_alone_puts_off_its_place_must_be_off_by_more(off, expected) -> None:
    """Two printings that agree tell more than one: their mean's error is smaller by the root of two."""
    offset, unread = np.zeros(ROWS), np.ones(ROWS, bool)
    offset[50], unread[50] = off, False
    noisy = replace(signal(strengths(8), offset=offset), offset_sd_mm=np.full(ROWS, 0.0125))
    assert judged(noisy, replace(noisy, readable=unread)).displaced == expected
    assert judged(noisy).displaced == (50,)


@pytest.mark.parametrize(("same", "expected"), [(True, ()), (False, (50,))])
def test_two_printings_that_err_alike_tell_no_more_than_one(same, expected) -> None:
    """Printings a whole number of JPEG's blocks apart are spoilt alike; the sound rows' offsets show it."""
    rng = np.random.default_rng(5)
    first, second = (0.012 * rng.standard_normal(ROWS) for _ in range(2))
    if same:
        second = first + 0.002 * rng.standard_normal(ROWS)
    first[50] = second[50] = 0.012 * 3.4
    one, two = (
        replace(signal(strengths(8), offset=offset), offset_sd_mm=np.full(ROWS, 0.01)) for offset in (first, second)
    )
    assert set(judged(one, two).displaced) & {50} == set(expected)


@pytest.mark.parametrize("same", [True, False])
def test_a_head_uneven_all_over_can_not_hide_its_weak_rows_among_its_own_scatter(same) -> None:
    """What comes back in the second printing is the head's; what does not is the capture's, and tells of no row."""
    rng = np.random.default_rng(3)
    first, second = (np.clip(1 + 0.15 * rng.standard_normal(ROWS), 0.5, 1.5) for _ in range(2))
    noise = 0.01 * rng.standard_normal(ROWS)
    found = judged(signal(first), signal(first + noise if same else second))
    low = set(np.flatnonzero(first < 0.65).tolist())
    assert len(low) >= 2
    assert low <= set(found.weak) if same else found.weak == ()
    assert set(found.weak) <= set(np.flatnonzero(first < 0.85).tolist())
    assert found.unreadable == () or not same


@pytest.mark.parametrize("same", [True, False])
def test_a_head_that_aims_astray_all_over_is_told_by_the_second_printing(same) -> None:
    rng = np.random.default_rng(4)
    first, second = (0.04 * rng.standard_normal(ROWS) for _ in range(2))
    found = judged(signal(strengths(1), offset=first), signal(strengths(2), offset=first if same else second))
    assert set(found.displaced) <= set(np.flatnonzero(np.abs(first) > 0.02).tolist())
    assert len(found.displaced) > 0.04 * ROWS if same else found.displaced == ()


def test_what_a_capture_may_do_to_both_printings_alike_names_no_rows() -> None:
    """A hundredth of a millimetre and a twentieth of a line, as JPEG's blocks and pixels make them."""
    rng = np.random.default_rng(6)
    strength, offset = 1 + 0.05 * rng.standard_normal(ROWS), 0.005 * rng.standard_normal(ROWS)
    found = judged(signal(strength, offset=offset), signal(strength, offset=offset))
    assert (found.missing, found.weak, found.displaced) == ((), (), ())


def test_where_blur_makes_lines_meet_what_printings_share_is_the_blurs() -> None:
    """Motion spoils both printings alike: nothing is missing or weak for that."""
    rng = np.random.default_rng(7)
    strength = 1 + 0.2 * rng.standard_normal(ROWS)
    soft = replace(signal(strength), width_mm=0.13)
    assert judged(soft).weak == ()
    assert len(judged(signal(strength)).weak) > 0


@pytest.mark.parametrize("photo", [False, True])
def test_weak_rows_that_hide_in_the_noise_are_told_by_the_ink_as_a_whole(photo) -> None:
    """Each is three deviations low, so that none is weak for itself; in a photo less of the loss shows."""
    low = np.arange(5, ROWS, 16)
    faint = np.ones(ROWS)
    faint[low] = 0.87 if photo else 0.83
    pair = [signal(faint + 0.02 * np.random.default_rng(k).standard_normal(ROWS), sd=0.06) for k in (1, 2)]
    found = judge_lines(INK, LADDERS, (pair[0], pair[1]), 0.8, photo=photo)
    assert found.weak == ()
    assert found.weak_about == pytest.approx(len(low), abs=1.1)
    assert judged(signal(strengths(1), sd=0.06), signal(strengths(2), sd=0.06)).weak_about == 0


def test_ten_rows_that_no_mirror_matches_are_weak_or_displaced_each() -> None:
    rows = np.arange(3, ROWS, 8)
    faint, off = np.ones(ROWS), np.zeros(ROWS)
    faint[rows], off[rows] = 0.75, 0.026 * (-1.0) ** np.arange(len(rows))
    noise = [0.03 * np.random.default_rng(k).standard_normal(ROWS) for k in (1, 2)]
    weak = [signal(faint + n, sd=0.08) for n in noise]
    assert set(judged(*weak).weak) == set(rows.tolist())
    askew = [replace(signal(strengths(k), offset=off + 0.1 * n), offset_sd_mm=np.full(ROWS, 0.012))
             for k, n in enumerate(noise)]  # fmt: skip
    found = judged(*askew)
    assert len(found.displaced) >= 10
    assert set(found.displaced) <= set(rows.tolist())
    assert found.displaced_about == pytest.approx(len(found.displaced), abs=1.0)


def test_rows_missing_alike_in_both_printings_are_shifted_by_nothing() -> None:
    """A pass's run lacks every second row, and what is read where lines are missing is no place of theirs."""
    gone = [*range(20, 40, 2), *range(61, 81, 2)]
    strength, offset = strengths(1), np.zeros(ROWS)
    strength[gone] = 0.02
    first, second = offset.copy(), offset.copy()
    first[gone], second[np.array(gone) + 2] = 0.05, 0.05
    found = judged(signal(strength, offset=first), signal(strength, offset=second))
    assert found.advance_rows is None
    assert (found.missing, found.intermittent) == (tuple(gone), ())


def test_a_piece_of_a_column_that_was_followed_off_the_surface_is_not_the_heads() -> None:
    """Its comb's phase put it 0.06 mm off; the head's own stray row on it is still told."""
    count = len(LADDERS[0].columns)
    piece = np.arange(2, ROWS // 2, count)
    folds, offset = np.zeros(ROWS, np.int64), np.zeros(ROWS)
    folds[piece], offset[piece] = 1, 0.06
    offset[piece[2]] += 0.05
    followed = replace(signal(strengths(1), offset=offset), folds=folds)
    assert judged(followed).displaced == (piece[2],)
    assert set(judged(replace(followed, folds=None)).displaced) > {piece[2]}


def test_places_that_a_coarse_jpeg_holds_name_no_rows() -> None:
    """Both printings lie alike among its blocks, so that they agree on what these did."""
    offset = 0.03 * np.random.default_rng(6).standard_normal(ROWS)
    pair = tuple(signal(strengths(k), offset=offset) for k in (1, 2))
    assert judge_lines(INK, LADDERS, pair, 0.8, blocky=True).displaced == ()
    assert len(judge_lines(INK, LADDERS, pair, 0.8).displaced) > 4


def test_rows_off_within_half_a_coarse_pixel_are_counted_and_none_is_named() -> None:
    """A sheet laid straight at 200 dots/inch, whose pixels draw three lines of ten aside.

    Each printing is of other nozzles, so that no row is off in both.
    """
    place = np.arange(ROWS)[:, None] * LADDERS[0].pitch_mm / 0.127 * np.ones(8)
    pair = []
    for first in (0, 2):
        rng = np.random.default_rng(first)
        offset = 0.003 * rng.standard_normal(ROWS) + rng.choice([-0.018, 0.0, 0.018], ROWS, p=[0.15, 0.7, 0.15])
        offset[first + np.array([5, 20, 33, 42, 58, 67, 79, 90])] = 0.042 * np.tile([1, -1], 4)
        pair.append(replace(signal(strengths(first), offset=offset), row_px=place, crossed_px=0.3))
    found = judge_lines(INK, LADDERS, tuple(pair), 0.8)
    assert found.displaced == ()
    assert 5 <= found.displaced_about <= 8
    sound = tuple(replace(one, offset_mm=one.offset_mm * 0.1) for one in pair)
    assert judge_lines(INK, LADDERS, sound, 0.8).displaced_about == 0


def test_coarse_pixels_that_draw_most_lines_where_they_are_draw_the_others_so_too() -> None:
    """200 dots/inch again: a line's place among the pixels draws it aside, and rows fall everywhere among them."""
    place = np.arange(ROWS)[:, None] * LADDERS[0].pitch_mm / 0.127 * np.ones(8)
    off = np.array([5, 20, 33, 42, 58, 67, 79, 90])
    for scatter, named in ((0.003, set(off.tolist())), (0.02, set())):
        offset = scatter * np.random.default_rng(3).uniform(-1.7, 1.7, ROWS)
        offset[off] = 0.036 * np.tile([1, -1], 4)
        one = replace(signal(strengths(1), offset=offset), row_px=place, crossed_px=0.3)
        assert set(judged(one).displaced) == named


def test_a_part_of_the_head_that_throws_is_named_however_coarse_the_pixels() -> None:
    place = np.arange(ROWS)[:, None] * LADDERS[0].pitch_mm / 0.127 * np.ones(8)
    offset = np.where((np.arange(ROWS) >= 30) & (np.arange(ROWS) < 60), 0.05, 0.0)
    one = replace(signal(strengths(1), offset=offset), row_px=place, crossed_px=0.3)
    assert set(judged(one).displaced) == set(range(30, 60))


@pytest.mark.parametrize(("way", "about"), [((-1, -1), True), ((-1, 1), False), ((0, 0), False)])
def test_rows_thrown_one_way_are_counted_in_each_printing(way: tuple[int, int], about: bool) -> None:
    """Two nozzles share a row, so that none is off in both printings, and noise of 15 um hides each by itself."""
    pair = []
    for number, sign in enumerate(way):
        rng = np.random.default_rng(number)
        offset = 0.015 * rng.uniform(-1.0, 1.0, ROWS)
        offset[rng.choice(ROWS, 12, replace=False)] += 0.05 * sign
        pair.append(replace(signal(strengths(number), offset=offset), offset_sd_mm=np.full(ROWS, 0.02)))
    found = judge_lines(INK, LADDERS, tuple(pair), 0.8)
    assert found.displaced == ()
    assert (found.displaced_about >= 5) is about


def test_ends_of_columns_that_halved_chroma_holds_worse_name_no_weak_row() -> None:
    """The block that the end of a column cuts: sound lines read 0.7 to 1.1 there, and 0.95 to 1.05 elsewhere."""
    uneven = strengths(3)
    ends = np.r_[0:12, ROWS - 12 : ROWS]
    uneven[ends] += np.tile([-0.22, 0.1, -0.1, 0.05], 6)
    uneven[50] = 0.7
    pair = (signal(uneven), signal(uneven))
    assert set(judge_lines(INK, LADDERS, pair, 0.8).weak) > {0, 4, 50}
    assert judge_lines(INK, LADDERS, pair, 0.8, halved=True).weak == (50,)


@pytest.mark.parametrize(("halved", "photo", "weak"), [(False, False, (50,)), (True, False, ()), (True, True, (50,))])
def test_what_rounding_does_to_both_printings_must_be_surer(halved: bool, photo: bool, weak: tuple[int, ...]) -> None:
    pair = tuple(signal(strengths(k, r50=0.8), sd=0.045) for k in (1, 2))  # 4.4 standard deviations
    assert judge_lines(INK, LADDERS, pair, 0.8, photo=photo, halved=halved).weak == weak


@pytest.mark.parametrize(("sd", "photo", "rounded"), [(0.12, False, True), (0.05, False, False), (0.12, True, False)])
def test_a_scan_whose_halved_chroma_scatters_much_is_a_rounded_one(sd, photo, rounded) -> None:
    """In a photo each segment falls elsewhere among the blocks, so that rounding is noise as any other."""
    pair = tuple(signal(strengths(k) + sd * np.random.default_rng(k).standard_normal(ROWS), sd=sd) for k in (1, 2))
    found = judge_lines(INK, LADDERS, pair, 0.8, photo=photo, halved=True)
    assert found.rounded is rounded
    assert found.rounded_sd == pytest.approx(sd if rounded else 0.0, rel=0.2)
    assert not judge_lines(INK, LADDERS, pair, 0.8, photo=photo).rounded


def test_how_far_a_photo_too_coarse_for_its_lines_scatters_is_told() -> None:
    """So that lines of 70 % of a drop, which would pass for sound there, keep it from passing (`weak_unseen`)."""
    sd = 0.12
    pair = tuple(signal(strengths(k) + sd * np.random.default_rng(k).standard_normal(ROWS), sd=sd) for k in (1, 2))
    assert judge_lines(INK, LADDERS, pair, 0.8, photo=True, blocky=True).rounded_sd == pytest.approx(sd, rel=0.2)


@pytest.mark.parametrize(("noise", "kind"), [(0.03, "stride"), (0.25, "scattered")])
def test_a_column_lost_in_both_printings_is_no_electrical_fault(noise, kind) -> None:
    """Bare paper reads as bare; what a coarse JPEG leaves of lines scatters about it."""
    gone = np.arange(3, ROWS, len(LADDERS[0].columns))
    pair = []
    for seed in (1, 2):
        strength = strengths(seed)
        strength[gone] = np.minimum(noise * np.random.default_rng(9).standard_normal(len(gone)), 0.3)
        pair.append(signal(strength))
    found = judged(*pair)
    assert len(found.missing) > 0.8 * len(gone)
    assert found.arrangement == kind


def test_a_line_among_coarse_pixels_is_weak_by_what_the_level_about_it_leaves_in_doubt() -> None:
    """At 200 dots/inch a column may keep to a row of pixels: its level may be the capture's doing, and so a line."""
    columns = len(LADDERS[0].columns)
    low = np.where(np.arange(ROWS) % columns == 2, 0.7, 1.0)
    low[20] *= 0.77
    place = np.arange(ROWS)[:, None] * LADDERS[0].pitch_mm / 0.127 * np.ones(8)
    fine = signal(low * strengths())
    coarse = replace(fine, row_px=place, crossed_px=0.3)
    assert judged(fine).weak == (20,)
    assert judged(coarse).weak == ()
    low[20] *= 0.55
    assert judged(replace(signal(low * strengths()), row_px=place, crossed_px=0.3)).weak == (20,)
