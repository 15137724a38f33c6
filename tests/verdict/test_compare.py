"""Before and after: what came back, and when nothing can be said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from readings import reading, rescan, sheet

from printcheck.errors import PrintcheckError
from printcheck.measure.evenness_result import Band, BandingReading, Evenness, FadeReading
from printcheck.measure.result import ContaminationReading, ForeignInk, LinesReading, SolidReading
from printcheck.report.compare_json import comparison_of
from printcheck.report.compare_text import comparison_text
from printcheck.verdict.align import row_shift
from printcheck.verdict.compare import Outcome, compare_sheets
from printcheck.verdict.policy import load_policy
from printcheck.verdict.result import Action
from printcheck.verdict.rules import assess, decide


def outcome(before, after):
    return compare_sheets(sheet(*before), sheet(*after)).outcome


def test_every_row_back_is_cured():
    done = compare_sheets(sheet(reading("C", missing={3, 50})), sheet())
    assert done.outcome is Outcome.CURED
    assert done.inks[0].recovered == (3, 50)
    assert done.inks[0].still_missing == done.inks[0].newly_missing == ()
    assert done.assessment.action is Action.TOP_OFF


def test_one_row_of_three_back_is_better():
    done = compare_sheets(sheet(reading("C", missing={3, 50, 70})), sheet(reading("C", missing={3, 70})))
    assert done.outcome is Outcome.BETTER
    assert (done.inks[0].recovered, done.inks[0].still_missing) == ((50,), (3, 70))


def test_more_rows_gone_is_worse():
    done = compare_sheets(sheet(reading("M", missing={3})), sheet(reading("M", missing={3, 9})))
    assert done.outcome is Outcome.WORSE
    assert done.inks[1].newly_missing == (9,)


def test_the_same_rows_missing_is_unchanged():
    assert outcome([reading("C", missing={3, 9})], [reading("C", missing={3, 9})]) is Outcome.UNCHANGED


def test_two_sound_sheets_are_unchanged_not_cured():
    assert outcome([], []) is Outcome.UNCHANGED


def test_changes_both_ways_need_more_than_chance():
    # 4 back, 2 lost: p = 2 * (1 + 6 + 15) / 64 = 0.69
    few = compare_sheets(sheet(reading("C", missing={1, 11, 21, 31})), sheet(reading("C", missing={41, 57})))
    assert few.outcome is Outcome.UNCHANGED
    assert few.test is not None
    assert few.test.p_value == pytest.approx(44 / 64)
    # 12 back, 2 lost: p = 0.0129 (Armitage and Berry 1994, p. 127)
    many = compare_sheets(sheet(reading("C", missing=range(0, 36, 3))), sheet(reading("C", missing={70, 92})))
    assert many.outcome is Outcome.BETTER


def test_a_change_within_the_noise_of_the_readings_is_unchanged():
    before, after = (sheet(reading("Y", missing=rows, sd=0.3)) for rows in ({5, 60}, {5}))
    assert compare_sheets(before, after).outcome is Outcome.UNCHANGED
    # two printings tell more than one: the mean of two of 0.2 is good to 0.14, the difference of two means to 0.2
    before, after = (sheet(reading("Y", missing=rows, sd=0.2)) for rows in ({5, 60}, {5}))
    assert compare_sheets(before, after).outcome is Outcome.BETTER


def test_weak_rows_turned_sound_count_where_no_row_is_missing():
    assert outcome([reading("C", weak=range(0, 60, 3))], [reading("C", weak={0, 3})]) is Outcome.BETTER
    # 0.6 of a sound dash to a whole one: no noise at an sd of 0.03, well possible at 0.2
    assert outcome([reading("C", weak={1, 2, 3})], [reading("C", weak={2, 3})]) is Outcome.BETTER
    assert outcome([reading("C", weak={2})], [reading("C", weak={2, 9})]) is Outcome.WORSE
    assert outcome([reading("C", weak={1, 2})], [reading("C", weak={2, 9})]) is Outcome.UNCHANGED
    assert outcome([reading("C", weak={1, 2, 3}, sd=0.2)], [reading("C", weak={2, 3}, sd=0.2)]) is Outcome.UNCHANGED


def test_rows_that_cross_a_limit_by_less_than_their_noise_are_no_evidence_however_many() -> None:
    """Two captures of one print read all its weak rows a little apart, one way: so many would pass McNemar's test."""
    many = range(0, 60, 3)
    assert outcome([reading("C", weak=many, sd=0.25)], [reading("C", weak={0, 3}, sd=0.25)]) is Outcome.UNCHANGED
    assert outcome([reading("C", weak=many, sd=0.1)], [reading("C", weak={0, 3}, sd=0.1)]) is Outcome.BETTER


@pytest.mark.parametrize("fault", [{"unreadable": {8}}, {"missing": {8}}, {"intermittent": {8}}, {"absent": True}])
def test_never_cured_while_a_row_is_missing_or_unread(fault):
    done = compare_sheets(sheet(reading("K", 416, missing=range(40), head="mono-416"), head="mono-416"),
                          sheet(reading("K", 416, head="mono-416", **fault), head="mono-416"))  # fmt: skip
    assert done.outcome is not Outcome.CURED


def test_never_cured_with_a_row_missing_that_the_shop_lets_pass(tmp_path):
    own = tmp_path / "policy.toml"
    own.write_text("[missing_lines]\ntop_off = 1\n")
    after = sheet(reading("C", missing={3}))
    after = replace(after, assessment=assess(after.lines, 0.02, load_policy(own)))
    assert after.assessment.action is Action.TOP_OFF
    assert compare_sheets(sheet(reading("C", missing={3, 50})), after).outcome is Outcome.BETTER


def test_never_cured_with_a_dead_row_left_over_random_pairs():
    rng = np.random.default_rng(3)
    for _ in range(60):
        before = set(rng.choice(100, int(rng.integers(1, 12)), replace=False).tolist())
        after = set(rng.choice(sorted(before), int(rng.integers(1, len(before) + 1)), replace=False).tolist())
        found = outcome([reading("C", missing=before)], [reading("C", missing=after)])
        assert found is (Outcome.BETTER if len(after) < len(before) else Outcome.UNCHANGED)


def test_a_row_that_was_missing_and_is_unread_now_is_not_called_recovered():
    done = compare_sheets(sheet(reading("C", missing={3, 8})), sheet(reading("C", unreadable={8})))
    assert done.inks[0].recovered == (3,)
    assert done.inks[0].still_missing == (8,)
    assert done.inks[0].unread == (8,)


def test_a_row_that_was_unread_and_is_missing_now_is_named_and_not_called_new() -> None:
    before, after = sheet(reading("C", missing={3}, unreadable={8})), sheet(reading("C", missing={3, 8}))
    done = compare_sheets(before, after)
    assert done.inks[0].missing_unread_before == (8,)
    assert (done.inks[0].still_missing, done.inks[0].newly_missing, done.inks[0].unread) == ((3,), (), (8,))
    assert done.outcome is Outcome.UNCHANGED
    assert done.reasons[-1].startswith("1 row missing now could not be read before")
    assert "1 missing now, not readable before: 8" in comparison_text(done)
    assert comparison_of(done)["inks"][0]["missing_not_read_before"] == [8]
    assert comparison_of(done)["told"] is True


def test_no_row_is_called_the_same_where_none_was_seen_missing_on_both() -> None:
    done = compare_sheets(sheet(reading("C", unreadable={8})), sheet(reading("C", missing={8})))
    assert done.reasons[0] == "of the rows that both sheets show, none is missing on either"


def test_an_absent_ink_that_prints_again_has_all_rows_back():
    done = compare_sheets(sheet(reading("Y", absent=True)), sheet(reading("Y", missing={4})))
    assert done.outcome is Outcome.BETTER
    assert done.inks[2].recovered == tuple(r for r in range(100) if r != 4)


def test_a_pale_ink_unread_does_not_hide_what_the_others_did():
    """Such a sheet has a verdict by its other inks, so it can be compared by them; unread rows take no part."""
    before = sheet(reading("C", missing={3, 50}), reading("Y", unreadable=range(40)))
    assert before.assessment.action is Action.PURGE
    done = compare_sheets(before, sheet(reading("C", missing={3})))
    assert done.outcome is Outcome.BETTER
    assert (done.inks[0].recovered, done.inks[0].still_missing) == ((50,), (3,))
    assert done.inks[2].unread == tuple(range(40))


@pytest.mark.parametrize("measure", ["colour_unread", "leaning_colour_scan"])
def test_pictures_whose_colour_alone_is_in_doubt_are_compared_by_their_rows(measure):
    policy = load_policy()
    doubt = decide(measure, "C", 30.0, policy, "")
    pair = [
        replace(one, assessment=assess(one.lines, 0.02, policy, extra=doubt))
        for one in (sheet(reading("C", missing={3, 50})), sheet())
    ]
    assert [s.assessment.action for s in pair] == [Action.PURGE, Action.RESCAN]
    done = compare_sheets(*pair)
    assert done.inks[0].recovered == (3, 50)
    assert done.outcome is Outcome.BETTER


@pytest.mark.parametrize(("first", "second"), [(rescan(), sheet()), (sheet(), rescan()), (rescan(), rescan())])
def test_a_picture_that_cannot_be_judged_gives_no_outcome(first, second):
    done = compare_sheets(first, second)
    assert done.outcome is Outcome.UNCHANGED
    assert "judged" in done.reasons[0]
    known = first.layout is not None or second.layout is not None  # of two blank pictures not even the inks
    assert [(ink.recovered, ink.missing_unread_before) for ink in done.inks] == [(None, None)] * 3 * known
    assert not done.told
    assert comparison_of(done)["told"] is False
    assert comparison_text(done).startswith("NOT COMPARED")


def test_sheets_of_other_heads_pages_or_tickets_are_refused_by_name():
    first = sheet(path="one.png")
    with pytest.raises(PrintcheckError, match=r"not the same head: one.png is tri-100 .* two.png is mono-416"):
        compare_sheets(first, sheet(head="mono-416", path="two.png"))
    with pytest.raises(PrintcheckError, match=r"page: one.png is tri-100 on A4.* two.png is tri-100 on Letter"):
        compare_sheets(first, sheet(page="Letter", path="two.png"))
    with pytest.raises(PrintcheckError, match=r"ticket T1, but two.png .* ticket T2; add --ignore-ticket"):
        compare_sheets(first, sheet(ticket="T2", path="two.png"))
    assert compare_sheets(first, sheet(ticket="T2"), ignore_ticket=True).outcome is Outcome.UNCHANGED


def test_rows_are_matched_where_the_paper_started_elsewhere():
    before = {2, 9, 30, 55, 71, 90}
    after = {(row + 37) % 100 for row in before - {9}}
    done = compare_sheets(sheet(reading("C", missing=before)), sheet(reading("C", missing=after)))
    assert done.inks[0].shift_rows == 37
    assert (done.inks[0].recovered, done.inks[0].still_missing) == ((9,), (2, 30, 55, 71, 90))
    assert done.outcome is Outcome.BETTER


@pytest.mark.parametrize(
    ("was", "now", "found"),
    [
        (range(48, 67), range(11, 20), Outcome.BETTER),  # ten fewer: 2 x 2^-10 (binomial distribution)
        (range(11, 20), range(48, 67), Outcome.WORSE),
        (range(95, 104), range(40, 59), Outcome.WORSE),  # over the ladder's ends
        (range(48, 57), range(11, 20), Outcome.UNCHANGED),
        (range(48, 52), range(11, 13), Outcome.UNCHANGED),  # two fewer, p = 0.5
        ({10, 50}, {47, 87}, Outcome.UNCHANGED),
    ],
)
def test_of_a_run_that_stands_elsewhere_only_how_many_rows_it_has_is_compared(was, now, found) -> None:
    was, now = ({row % 100 for row in rows} for rows in (was, now))
    done = compare_sheets(sheet(reading("M", missing=was)), sheet(reading("M", missing=now)))
    magenta = done.inks[1]
    assert done.outcome is found
    assert (magenta.recovered, magenta.still_missing, magenta.newly_missing) == (None, None, None)
    assert magenta.counts == (len(was), len(now))
    assert f"{len(was)} missing before, {len(now)} now" in comparison_text(done)
    told = comparison_of(done)
    assert (told["inks"][1]["recovered"], told["inks"][1]["missing_after"]) == (None, len(now))
    if len(was) != len(now):
        assert told["test"]["name"] == "exact binomial"
        assert told["test"]["p_value"] == pytest.approx(2.0 ** (1 - abs(len(was) - len(now))))


def test_rows_are_matched_as_they_stand_where_nothing_speaks_for_another_start() -> None:
    run, others = set(range(30, 42)), {5, 17, 60, 88}
    part = compare_sheets(sheet(reading("M", missing=run)), sheet(reading("M", missing=range(30, 36))))
    assert part.inks[1].recovered == tuple(range(36, 42))
    # cyan's rows stand where they stood, so the paper started there
    before = sheet(reading("M", missing=run), reading("C", missing=others))
    after = sheet(reading("M", missing=range(70, 75)), reading("C", missing=others))
    still = compare_sheets(before, after)
    assert still.inks[1].newly_missing == tuple(range(70, 75))


def test_rows_unread_may_be_missing_where_only_how_many_are_is_compared() -> None:
    now = reading("M", missing=range(11, 20), unreadable=range(60, 66))
    done = compare_sheets(sheet(reading("M", missing=range(48, 67))), sheet(now))
    assert done.outcome is Outcome.UNCHANGED  # four fewer for sure, p = 0.125
    assert done.test is not None
    assert done.test.p_value == pytest.approx(0.125)


def test_rows_that_can_be_matched_count_beside_an_ink_whose_rows_cannot() -> None:
    before = sheet(reading("M", missing=range(48, 57)), reading("C", missing={5, 17, 60}))
    after = sheet(reading("M", missing=range(11, 20)), reading("C", missing={5}))
    assert compare_sheets(before, after).outcome is Outcome.BETTER
    assert compare_sheets(after, before).outcome is Outcome.WORSE


def with_printings(first: set[int], second: set[int], advance: int | None) -> LinesReading:
    """Rows missing in each printing, named as they are read where the shift between them is known, or is not."""
    plain = reading("C")
    gone = (first, second)
    dashes = tuple(d._replace(state="missing", strength=0.0) if d.row in gone[d.repeat] else d for d in plain.dashes)
    rows = first | {(row - (advance or 0)) % 100 for row in second}
    both = first & {(row - (advance or 0)) % 100 for row in second}
    return replace(
        plain, dashes=dashes, missing=tuple(sorted(both)), intermittent=tuple(sorted(rows - both)),
        advance_rows=advance, arrangement="scattered",
    )  # fmt: skip


def test_one_dead_nozzle_is_one_row_where_the_other_sheet_shows_the_shift():
    before = with_printings({48, 71, 85}, {88, 11, 25}, -60)
    after = with_printings({71}, {11}, None)  # too few rows to show that 11 is 71 again
    done = compare_sheets(sheet(before), sheet(after))
    assert done.outcome is Outcome.BETTER
    assert (done.inks[0].recovered, done.inks[0].still_missing, done.inks[0].newly_missing) == ((48, 85), (71,), ())
    worse = compare_sheets(sheet(after), sheet(before))
    assert worse.outcome is Outcome.WORSE
    assert worse.inks[0].newly_missing == (48, 85)
    # rows that the shift does not bring together are rows of their own
    other = compare_sheets(sheet(before), sheet(with_printings({71}, {30}, None)))
    assert other.inks[0].newly_missing == (30,)


def test_unrelated_rows_are_seldom_taken_for_shifted_ones():
    rng = np.random.default_rng(5)
    draws = 300
    taken = 0
    for _ in range(draws):
        a, b = (frozenset(rng.choice(192, int(rng.integers(3, 12)), replace=False).tolist()) for _ in range(2))
        taken += row_shift(a, b, 192) != 0
    assert taken <= 3  # an expected 1 in 1000 each


def fouled(share: float, low: float, high: float, ink: str = "Y") -> ContaminationReading:
    foreign = (ForeignInk("C", share, (low, high), share, share),) if share else ()
    return ContaminationReading(ink, "house own", foreign, "steady" if share else "none", None, None, high)


@pytest.mark.parametrize(
    ("before", "after", "found"),
    [
        (fouled(0.20, 0.16, 0.24), fouled(0.06, 0.03, 0.09), Outcome.BETTER),
        (fouled(0.06, 0.03, 0.09), fouled(0.20, 0.16, 0.24), Outcome.WORSE),
        (fouled(0.20, 0.12, 0.28), fouled(0.10, 0.05, 0.15), Outcome.UNCHANGED),  # the intervals meet
        (fouled(0.20, 0.16, 0.24), fouled(0.0, 0.0, 0.03), Outcome.BETTER),
    ],
)
def test_foreign_ink_decides_where_no_row_changed(before, after, found):
    same = reading("C", missing={3})
    pair = [replace(sheet(same), contamination=(one,)) for one in (before, after)]
    done = compare_sheets(*pair)
    assert done.outcome is found
    assert ("foreign ink in yellow" in done.reasons[-1]) == (found is not Outcome.UNCHANGED)


def test_less_foreign_ink_does_not_outweigh_rows_gone():
    before = replace(sheet(reading("C", missing={3})), contamination=(fouled(0.20, 0.16, 0.24),))
    after = replace(sheet(reading("C", missing={3, 9})), contamination=(fouled(0.0, 0.0, 0.02),))
    assert compare_sheets(before, after).outcome is Outcome.WORSE


def printed_apart(first: set[int], second: set[int], rows: list[int], advance: int | None) -> LinesReading:
    """A reading of which these dashes of either printing are missing, laid over one another as these rows."""
    plain = reading("Y", 192, head="tri-192")
    gone = {(0, row) for row in first} | {(1, row) for row in second}
    dashes = tuple(
        dash._replace(state="missing", strength=0.02) if (dash.repeat, dash.row) in gone else dash
        for dash in plain.dashes
    )
    return replace(plain, dashes=dashes, intermittent=tuple(rows), advance_rows=advance, arrangement="scattered")


def test_a_dash_missing_on_both_sheets_is_of_no_new_row() -> None:
    """Nozzles 42, 66 and 95 of a head whose paper advances 184 of 192 rows, of which 66 alone stays dead.

    What one nozzle leaves bare are rows 27 and, in the second printing, 163; before, 163 was laid to row 19.
    """
    before = printed_apart({3, 27, 56, 187}, {8, 139, 163}, [3, 19, 27, 56, 187], -48)
    after = printed_apart({27}, {163}, [27, 163], None)
    done = compare_sheets(sheet(before, head="tri-192"), sheet(after, head="tri-192"))
    assert done.outcome is Outcome.BETTER
    yellow = next(ink for ink in done.inks if ink.ink == "Y")
    assert yellow.recovered == (3, 56, 187)
    assert yellow.newly_missing == ()
    back = compare_sheets(sheet(after, head="tri-192"), sheet(before, head="tri-192"))
    assert back.outcome is Outcome.WORSE


def test_foreign_ink_by_the_other_sheets_colours_is_told_though_both_pass() -> None:
    """Published colours leave in doubt what both sheets have in common; between them it does not count."""
    none, much = (fouled(0.0, 0.0, 0.05),), (fouled(0.30, 0.22, 0.38),)
    done = compare_sheets(sheet(), sheet(), mutual=(none, much))
    assert done.outcome is Outcome.WORSE
    assert "more foreign ink in yellow" in "; ".join(done.reasons)
    assert "at least 22 % cyan that the first sheet does not show" in done.reasons[-1]
    done = compare_sheets(sheet(), sheet(), mutual=(much, none))
    assert done.outcome is Outcome.CURED
    assert "less foreign ink in yellow" in done.reasons
    few = (fouled(0.12, 0.08, 0.16),)
    assert compare_sheets(sheet(), sheet(), mutual=(none, few)).outcome is Outcome.UNCHANGED


def test_rows_that_came_back_are_no_cure_while_another_ink_came_in() -> None:
    none, much = (fouled(0.0, 0.0, 0.05),), (fouled(0.30, 0.22, 0.38),)
    gone = sheet(reading("Y", missing={3, 9}))
    assert compare_sheets(gone, sheet(), mutual=(none, none)).outcome is Outcome.CURED
    done = compare_sheets(gone, sheet(), mutual=(none, much))
    assert done.outcome is Outcome.BETTER
    assert "but there is more foreign ink in yellow" in done.reasons


def test_foreign_ink_both_ways_is_no_clear_way():
    same = sheet(reading("C", missing={3}))
    few, many = (0.02, 0.01, 0.03), (0.20, 0.16, 0.24)
    before = replace(same, contamination=(fouled(*few), fouled(*many, ink="M")))
    after = replace(same, contamination=(fouled(*many), fouled(*few, ink="M")))
    assert compare_sheets(before, after).outcome is Outcome.UNCHANGED


def uneven(plain, fade=0.0, bands=0.0, blanks=(), doubt=0.3, every=5.0, cause="unmatched"):
    """A sheet whose cyan strip gets `fade` L* lighter, shows `bands` of that amplitude, and is bare at `blanks`."""
    kind = "air" if blanks else "fade" if fade > 1 else "none"
    wave = (Band("strip", every, 0.05, bands, (bands - doubt, bands + doubt), (), bands / 0.2, cause, 1e-6),)
    return replace(
        plain,
        evenness=Evenness(
            (BandingReading("C", wave if bands else (), 0.05, 0.0, 0.0), None),
            (FadeReading("C", kind, fade, (fade - doubt, fade + doubt), None, fade, None, None, tuple(blanks)), None),
            None,
            (),
            (),
        ),
    )


EVEN = {}


@pytest.mark.parametrize(
    ("before", "after", "found", "words"),
    [
        (EVEN, {"fade": 7.0}, Outcome.WORSE, "more fade of cyan"),
        ({"fade": 7.0}, {"fade": 2.0}, Outcome.BETTER, "less fade of cyan"),
        (EVEN, {"bands": 2.0}, Outcome.WORSE, "more bands in cyan"),
        ({"bands": 2.0}, {"bands": 0.7}, Outcome.BETTER, "less bands in cyan"),
        ({"bands": 2.0}, {"bands": 1.6}, Outcome.UNCHANGED, "no more than chance"),
        (EVEN, {"bands": 2.0, "cause": "rows"}, Outcome.UNCHANGED, "no more than chance"),
        ({"bands": 1.0, "every": 5.0}, {"bands": 2.0, "every": 1.7}, Outcome.UNCHANGED, "which is no clear way"),
        (EVEN, {"blanks": [(200.0, 206.0)]}, Outcome.WORSE, "more air in cyan"),
        ({"fade": 7.0}, {"bands": 2.0}, Outcome.UNCHANGED, "less fade of cyan"),
        ({"fade": 4.0, "doubt": 2.0}, {"fade": 7.0, "doubt": 2.0}, Outcome.UNCHANGED, "no more than chance"),
        ({"fade": 1.5, "doubt": 0.6}, {"fade": 0.05, "doubt": 0.4}, Outcome.UNCHANGED, "no more than chance"),
        ({"fade": -0.5, "doubt": 0.1}, {"fade": 0.5, "doubt": 0.1}, Outcome.UNCHANGED, "no more than chance"),
    ],
)
def test_fade_air_and_bands_decide_where_no_row_changed(before, after, found, words) -> None:
    done = compare_sheets(uneven(sheet(), **before), uneven(sheet(reading("M", missing={3})), **after))
    assert done.outcome is Outcome.WORSE  # a row gone outweighs them
    gone = sheet(reading("M", missing={3}))
    done = compare_sheets(uneven(gone, **before), uneven(gone, **after))
    assert done.outcome is found
    assert words in "; ".join(done.reasons)


def test_bands_of_an_ink_that_lacks_rows_are_the_rows() -> None:
    """They come back at every advance, and where an area begins decides at which fractions of it they show most."""
    gone = sheet(reading("C", missing={3, 9}))
    faint = sheet(reading("C", weak={3, 9}))  # as two nozzles that share a row leave it
    assert compare_sheets(uneven(faint, bands=2.0), uneven(faint, bands=0.3)).outcome is Outcome.UNCHANGED
    done = compare_sheets(uneven(gone, bands=2.0), uneven(gone, bands=0.3))
    assert done.outcome is Outcome.UNCHANGED
    assert "bands" not in "; ".join(done.reasons)


@pytest.mark.parametrize(("taken", "found"), [(0.93, Outcome.WORSE), (0.98, Outcome.UNCHANGED)])
def test_bands_and_fade_are_not_compared_across_levels_that_were_stretched(taken, found) -> None:
    """Of the light that black sends back 7 % are left, or 2: its L* then differ two to three times as much."""
    gone = sheet(reading("M", missing={3}))
    for fault in ({"bands": 2.0}, {"fade": 7.0}):
        first, second = uneven(gone), uneven(gone, **fault)
        first = replace(first, solids=(SolidReading("C", 0.94, None, None),))
        second = replace(second, solids=(SolidReading("C", taken, None, None),))
        assert compare_sheets(first, second).outcome is found


def test_a_fade_that_is_new_is_told_where_rows_came_back() -> None:
    gone = reading("M", missing={3, 9})
    done = compare_sheets(uneven(sheet(gone)), uneven(sheet(reading("M", missing={3})), fade=7.0))
    assert done.outcome is Outcome.BETTER
    assert "but there is more fade of cyan" in done.reasons


def test_rows_unread_before_are_no_fault_that_was_cured():
    done = compare_sheets(sheet(reading("Y", unreadable={47, 48})), sheet(reading("Y")))
    assert done.outcome is Outcome.UNCHANGED
    assert "what the first picture could not show" in done.reasons[0]
    assert "nothing was found wrong before" in compare_sheets(sheet(), sheet()).reasons[0]
