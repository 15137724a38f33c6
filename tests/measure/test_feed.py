"""Whose doing it is that rows lie off together, from places that are put in by hand."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.feed import Places, off_most_rows, rows_about, thrown_together

ROWS, HEIGHT_MM = 100, 8.47
SMALL, LARGE = 0.030, 0.040  # under and over what two passes may lie apart by


def off(*runs: tuple[int, int, float]) -> np.ndarray:
    out = np.zeros(ROWS)
    for first, stop, mm in runs:
        out[first:stop] = mm
    return out


def shared(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """What two printings that show these places have of the head."""
    every = np.ones(ROWS, bool)
    return thrown_together(*(Places(one, every, one, one, 6) for one in (first, second)), 1, HEIGHT_MM)


@pytest.mark.parametrize(
    ("runs", "heads"),
    [
        ([(30, 60, SMALL)], True),  # the paper does not come back within a pass
        ([(0, 30, SMALL)], False),  # two swaths meet at row 30
        ([(70, 100, -SMALL)], False),
        ([(0, 30, LARGE)], True),  # no feed errs by so much
        ([(0, 12, SMALL), (88, 100, SMALL)], True),  # a run of nozzles where the head begins within the ladder
        ([(0, 12, SMALL), (88, 100, -SMALL)], False),  # a feed that is off at either end of a swath
        ([(30, 36, SMALL)], False),  # three rows of each turn
        ([(30, 60, 0.008)], False),  # under half the limit
    ],
)
def test_a_part_of_the_head_is_told_from_the_feed(runs, heads: bool) -> None:
    both = off(*runs)
    first, second = shared(both, both)
    np.testing.assert_array_equal(first, both if heads else 0.0 * both)
    np.testing.assert_array_equal(second, first)


def test_the_head_throws_no_more_than_both_printings_have_in_common() -> None:
    first, second = shared(off((30, 60, 0.05)), off((30, 60, 0.04), (70, 90, 0.05)))
    np.testing.assert_array_equal(first, off((30, 60, 0.04)))
    np.testing.assert_array_equal(second, first)


def test_printings_that_show_rows_unlike_distances_off_show_the_paper() -> None:
    assert not shared(off((30, 60, 0.05)), off((30, 60, 0.025))).any()


def test_rows_thrown_by_turns_are_the_heads_even_at_the_ladders_end() -> None:
    """Every second nozzle of a head that prints two rows a nozzle: two rows off, two rows in place."""
    by_turns = np.where((np.arange(ROWS) // 2 % 2 == 0) & (np.arange(ROWS) < 40), SMALL, 0.0)
    np.testing.assert_array_equal(shared(by_turns, by_turns)[0], by_turns)


def test_each_printing_has_its_rows_where_the_paper_advanced_by_another_height() -> None:
    first, second = shared(off((20, 50, 0.05)), off((60, 90, 0.05)))
    np.testing.assert_array_equal(first, off((20, 50, 0.05)))
    np.testing.assert_array_equal(second, off((60, 90, 0.05)))


def test_rows_are_held_against_those_of_their_own_turn() -> None:
    """Passes that take turns lie apart throughout; a run of one turn's rows stands out of that turn alone."""
    every = np.ones(ROWS, bool)
    offset = np.where(np.arange(ROWS) % 2 == 0, 0.03, -0.01) + 0.0004 * np.arange(ROWS)  # and the whole ladder leans
    assert rows_about(offset, every, 2)[0][20:80] == pytest.approx(offset[20:80])
    assert set(rows_about(offset, every, 2)[1].tolist()) == {13}
    assert off_most_rows(offset, every, 2, 6, HEIGHT_MM).about[20:80] == pytest.approx(0.0, abs=5e-4)
    offset[30:60:2] += 0.05
    off = off_most_rows(offset, every, 2, 6, HEIGHT_MM)
    for places in (off.own(), off.about):
        assert places[34:56:2] == pytest.approx(0.05, abs=4e-3)
        assert places[21:80:2] == pytest.approx(0.0, abs=5e-4)
    assert rows_about(offset, ~every, 2)[1].max() == 0


def test_where_no_line_holds_for_two_rows_in_five_nothing_is_told() -> None:
    wavering = 0.1 * np.sin(2 * np.pi * np.arange(ROWS) / 40)
    assert not off_most_rows(wavering, np.ones(ROWS, bool), 2, 6, HEIGHT_MM).about.any()


@pytest.mark.parametrize("seed", range(6))
def test_half_of_a_pass_may_be_thrown(seed: int) -> None:
    """Every second nozzle of a part of the head that prints in two places: 48 of a pass's 100 rows.

    Which half is askew nobody can tell, and each printing may be held against the other one.
    """
    rows, random = np.arange(200), np.random.default_rng(seed)
    askew = (rows % 2 == 1) & ((rows > 30) & (rows < 79) | (rows > 126) & (rows < 175))
    both = []
    for bend in (0.005, -0.003):  # of the paper, of either printing its own
        place = 0.037 * askew + bend * np.sin(rows / 25) + 0.004 * random.standard_normal(200)
        both.append(off_most_rows(place, np.ones(200, bool), 1, 6, HEIGHT_MM))
    thrown = thrown_together(both[0], both[1], 1, HEIGHT_MM)[0]
    assert not thrown[0::2].any()
    step = np.median(thrown[askew]) - np.median(thrown[1::2][~askew[1::2]])
    assert step == pytest.approx(0.037, abs=0.012)


def test_what_a_column_shares_is_none_of_its_rows_own() -> None:
    of_column = np.tile([0.03, -0.02, 0.0, 0.01, 0.0, -0.03], 17)[:ROWS]
    own = off_most_rows(of_column, np.ones(ROWS, bool), 2, 6, HEIGHT_MM).own()
    assert np.ptp(own[::2]) < 0.006
    assert np.ptp(own[1::2]) < 0.006


def test_columns_that_pixels_draw_aside_are_no_rows_thrown() -> None:
    """At 300 dots/inch every dash of a column falls alike among the pixels, and every third column lies off by 30 um.

    Of a turn's rows those are every second one, half of which a running median takes for the rest.
    """
    rows = np.arange(192)
    place = np.where(rows % 4 == 0, -0.03, 0.0) + 0.002 * np.random.default_rng(4).standard_normal(192)
    one = off_most_rows(place, np.ones(192, bool), 1, 12, HEIGHT_MM)
    assert np.abs(one.about).max() < 0.006
    assert not thrown_together(one, one, 1, HEIGHT_MM).any()


def test_what_bends_is_the_papers_or_the_maps_however_far() -> None:
    """A scanner's wobble of 50 um over 8 mm, at the same place of both printings; a head's own rows step."""
    wave = 0.05 * np.sin(2 * np.pi * np.arange(ROWS) / ROWS)
    assert not shared(wave, wave).any()
    stepped = 0.15 * wave + off((30, 60, 0.05))
    assert (shared(stepped, stepped)[0, 30:60] > 0.03).all()


def test_a_third_of_the_head_about_a_swaths_end_is_found_in_printings_that_lie_apart() -> None:
    """Rows 60 of 192 thrown, the second printing 18 rows on: each ends within what the other shows as thrown."""
    rows = np.arange(192)
    both = []
    for number, (above, below) in enumerate([(27, 159), (9, 141)]):
        thrown = 0.07 * ((rows < above) | (rows >= below))
        place = thrown + 0.003 * np.random.default_rng(number).standard_normal(192)
        both.append(off_most_rows(place, np.ones(192, bool), 1, 6, HEIGHT_MM))
    first, second = thrown_together(both[0], both[1], 1, HEIGHT_MM)
    assert first[18:27:2] == pytest.approx(0.07, abs=0.01)  # of the other turn only four lie here
    assert first[160::2] == pytest.approx(0.07, abs=0.01)
    assert not first[30:156].any()
    assert second[142:174:2] == pytest.approx(0.07, abs=0.01)
    assert not second[12:138].any()


@pytest.mark.parametrize(("foot", "told"), [(0.065, True), (-0.065, False), (0.03, False)])
def test_both_ends_off_in_one_printing_are_no_feed_where_the_other_moved_past_one(foot: float, told: bool) -> None:
    """The paper steps once within a ladder of one swath: what comes back after 130 rows is the head's."""
    rows, part = np.arange(192), []
    for number, (above, below) in enumerate([(24, 154), (3, 133)]):
        thrown = np.where(rows < above, foot, np.where(rows >= below, 0.065, 0.0))
        place = thrown + 0.003 * np.random.default_rng(number).standard_normal(192)
        part.append(off_most_rows(place, np.ones(192, bool), 1, 6, HEIGHT_MM))
    # the paper may err by all that a pass as high as a page does
    first, second = thrown_together(part[0], part[1], 1, 60.0)
    if told:
        assert first[156:] == pytest.approx(0.065, abs=0.012)
        assert second[135:170] == pytest.approx(0.065, abs=0.012)
    assert not first[30:150].any()
    assert first[156:].any() == second[135:170].any() == told


@pytest.mark.parametrize("mm", [0.06, 0.017])
def test_nozzles_thrown_by_turns_where_an_odd_advance_puts_them_at_both_ends_are_no_feed(mm: float) -> None:
    """One this way and the next that: the rows at one end lie off the other way than those at the other end."""
    rows = np.arange(192)
    both = []
    for number, (above, below) in enumerate([(21, 185), (15, 179)]):
        thrown = np.where(rows < above, -1.0, np.where(rows >= below, 1.0, 0.0)) * np.where(rows % 2, -mm, mm)
        place = thrown + 0.003 * np.random.default_rng(number).standard_normal(192)
        both.append(off_most_rows(place, np.ones(192, bool), 1, 6, HEIGHT_MM))
    first, second = thrown_together(both[0], both[1], 1, HEIGHT_MM)
    named = [int((np.abs(one) > 0.01).sum()) for one in (first, second)]
    # by less than two passes of rows by turns may lie apart, the paper may have done it
    assert min(named) >= 12 if mm > 0.05 else max(named) == 0


@pytest.mark.parametrize(("mm", "heads"), [(-0.025, True), (0.025, False), (-0.013, False)])
def test_a_part_that_throws_both_rows_it_shares_is_told_at_the_ladders_end_by_the_other(
    mm: float, heads: bool
) -> None:
    """Of two passes that share rows dot by dot nozzles print two parts of a ladder; a paper steps otherwise."""
    end = off((0, 26, mm))
    both = end + off((60, 80, -0.025))
    first, second = shared(both, both)
    np.testing.assert_array_equal(first, both if heads else both - end)
    np.testing.assert_array_equal(second, first)


def followed(thrown: np.ndarray, number: int, width: int = 81) -> Places:
    """A printing of 360 rows whose map has followed the rows `thrown`, mm, by their mean over so many rows."""
    smooth = np.convolve(np.pad(thrown, width // 2, mode="edge"), np.ones(width) / width, "valid")
    offset = thrown - smooth + 0.003 * np.random.default_rng(number).standard_normal(len(thrown))
    return off_most_rows(offset, np.ones(len(thrown), bool), 2, 7, 25.4)


@pytest.mark.parametrize("moved", [0, 6])
def test_a_part_that_the_map_follows_is_told_by_its_two_steps(moved: int) -> None:
    rows = np.arange(360)
    thrown = [np.where((rows >= 36 + k) & (rows < 104 + k), -0.066, 0.0) for k in (0, moved)]
    found = thrown_together(*(followed(one, k) for k, one in enumerate(thrown)), 2, 25.4)
    for part, truth in zip(found, thrown, strict=True):
        assert ((part != 0) != (truth != 0)).sum() <= 4  # a row of either turn at either end
        assert part[truth < 0].min() == pytest.approx(-0.066, abs=0.02)


@pytest.mark.parametrize("second", ["one step", "another place", "another size", "the paper"])
def test_steps_of_the_paper_are_no_part_of_the_head(second: str) -> None:
    """Where swaths meet the paper steps once; and what one printing alone shows the head did not do."""
    rows = np.arange(360)
    box = np.where((rows >= 100) & (rows < 200), 0.06, 0.0)
    other = {
        "one step": np.where(rows >= 100, 0.06, 0.0),
        "another place": np.where((rows >= 100) & (rows < 260), 0.06, 0.0),
        "another size": 0.3 * box,
        "the paper": 0.06 * np.exp(-(((rows - 150) / 50.0) ** 2)),
    }[second]
    assert not thrown_together(followed(box, 1), followed(other, 2), 2, 25.4).any()
