"""Foreign ink to reasons and actions, from readings built by hand; limits are those of the shipped policy table."""

from __future__ import annotations

from dataclasses import replace

import pytest

from printcheck.measure.evenness_result import FadeReading
from printcheck.measure.result import ContaminationReading, ForeignInk, Leaning
from printcheck.verdict.colour_rules import colour_reasons, pale_fade_reasons, purge_pages, without_clearing
from printcheck.verdict.photo import doubtful_in_a_photo, to_be_scanned
from printcheck.verdict.policy import load_policy
from printcheck.verdict.result import Action
from printcheck.verdict.rules import assess, decide
from printcheck.verdict.steps import load_steps
from printcheck.verdict.table import tables_text

POLICY = load_policy()


def foreign(
    share: float, spread: float = 0.01, *, ink: str = "M", first: float | None = None, last: float | None = None
) -> ForeignInk:
    ci = (max(0.0, share - spread), share + spread)
    return ForeignInk(ink, share, ci, share if first is None else first, share if last is None else last)


def reading(
    *inks: ForeignInk, ink: str = "Y", trend: str = "steady", clears: float | None = None, wrong: str | None = None
) -> ContaminationReading:
    return ContaminationReading(ink, "house bench", inks, trend if inks else "none", clears, wrong, 0.01)


def actions(*readings: ContaminationReading) -> list[Action]:
    return [reason.action for reason in colour_reasons(readings, POLICY)]


def test_nothing_foreign_and_nothing_measured_give_no_reason():
    unmeasured = ContaminationReading("Y", "", None, None, None, None, None)
    assert actions(reading(), unmeasured) == []


def test_steady_and_large_is_a_mixed_chamber_and_rejects():
    found = colour_reasons([reading(foreign(0.15))], POLICY)
    assert [r.action for r in found] == [Action.REJECT]
    assert found[0].measure == "mixed_chamber"
    assert found[0].ink == "Y"
    assert found[0].value == pytest.approx(14.0)  # the lower end, in per cent
    assert "yellow holds 15 % magenta ink" in found[0].text
    assert "does not clear" in found[0].text


def test_steady_and_small_is_purged_for_not_rejected():
    found = colour_reasons([reading(foreign(0.05))], POLICY)
    assert [(r.measure, r.action) for r in found] == [("foreign_ink", Action.PURGE)]


def test_doubt_never_condemns():
    # 15 % found, but it may be 8 %: not beyond the limit of 10; 4 %, but it may be none
    assert actions(reading(foreign(0.15, spread=0.07))) == [Action.PURGE]
    assert actions(reading(foreign(0.04, spread=0.04))) == []
    # it is certainly there, and what is likeliest is a share that is seen
    assert actions(reading(foreign(0.065, spread=0.055))) == [Action.PURGE]
    assert actions(reading(foreign(0.025, spread=0.01))) == []


def test_clearing_is_purged_however_much_there_was():
    part = foreign(0.30, first=0.30, last=0.08)
    found = colour_reasons([reading(part, trend="clearing", clears=400.0)], POLICY)
    assert [r.action for r in found] == [Action.PURGE]
    assert found[0].value == pytest.approx(8.0 * 0.31 / 0.30)  # what is left, at most
    assert "held 30 % magenta ink and is clearing: up to 8 % left" in found[0].text


def test_what_is_left_is_known_no_better_than_what_there_was():
    """2.3 % by the best estimate of 12.6 %, which may be 20 %: 5 % was left. One more page costs little."""
    part = foreign(0.126, 0.077, first=0.126, last=0.023)
    unsure = reading(part, trend="clearing", clears=50.0)
    assert actions(unsure) == [Action.PURGE]
    assert colour_reasons([unsure], POLICY, photo=True) == []
    assert actions(reading(replace(part, last=0.015), trend="clearing", clears=50.0)) == []


def test_what_the_sheet_itself_has_purged_needs_nothing():
    gone = reading(foreign(0.10, first=0.10, last=0.01), trend="clearing", clears=0.0)
    assert actions(gone) == []
    # without a reference the strip shows only what went, not what stayed
    assert actions(replace(gone, basis="published FOGRA47L")) == [Action.PURGE]


def test_two_inks_that_are_each_too_little_count_together():
    """Cyan and magenta both darken yellow, and a few per cent of the one may pass for some of either."""
    both = reading(foreign(0.027), foreign(0.017, ink="C"))
    found = colour_reasons([both], POLICY)
    assert [(r.measure, r.action, r.value) for r in found] == [("foreign_ink", Action.PURGE, pytest.approx(4.4))]
    assert "4 % of other inks, as 3 % magenta and 2 % cyan" in found[0].text
    assert colour_reasons([reading(foreign(0.027), foreign(0.017, 0.02, ink="C"))], POLICY) == []  # may be none
    assert colour_reasons([both], POLICY, photo=True) == []
    assert colour_reasons([replace(both, trend="clearing", clears_after_mm=0.0)], POLICY) == []


def test_growing_says_that_chambers_leak():
    found = colour_reasons([reading(foreign(0.20, first=0.05, last=0.20), trend="growing")], POLICY)
    assert [r.action for r in found] == [Action.PURGE]
    assert "leak into each other" in found[0].text


def test_a_wrong_ink_rejects_and_hides_shares_beside_it():
    part = foreign(0.95, 0.02, ink="C")
    found = colour_reasons([reading(part, wrong="C")], POLICY)
    assert [(r.measure, r.action) for r in found] == [("wrong_ink", Action.REJECT)]
    assert found[0].text == "the yellow chamber holds cyan ink"


def test_only_the_largest_foreign_ink_clears():
    clearing, other = foreign(0.20, first=0.20, last=0.02), foreign(0.05, ink="C")
    found = colour_reasons([reading(clearing, other, trend="clearing", clears=50.0)], POLICY)
    assert any("cyan" in r.text and "clearing" not in r.text for r in found)


def test_purge_pages_cover_the_ink_that_takes_longest():
    part = foreign(0.2, first=0.2, last=0.1)
    short = reading(part, trend="clearing", clears=100.0)
    long = reading(part, ink="C", trend="clearing", clears=600.0)
    assert purge_pages([short, long]) == 3  # at 250 mm of solid a page
    assert purge_pages([short]) == 1
    assert purge_pages([reading(part), reading(part, trend="clearing", clears=0.0)]) is None


def faded(
    ratio: float | None, *, ink: str = "Y", kind: str = "none", lighter: float = 0.5, half: float = 0.4,
    most: tuple[float, float] | None = None, depth: float = 9.0,
):  # fmt: skip
    ci = (lighter - half, lighter + half)
    return FadeReading(ink, kind, lighter, ci, ratio, max(lighter, 0.0), None, None, (), most, depth)


@pytest.mark.parametrize(
    ("fade", "said"),
    [
        (faded(0.70), ["pale_fade"]),
        (faded(0.82), ["pale_fade"]),  # a third lost, drawn in by what else the blue channel sees
        (faded(0.85), []),
        (faded(0.78, half=4.0), []),  # light that may have done it
        (faded(0.70, ink="C"), []),  # L* decides for the others
        (faded(0.40, kind="fade", lighter=4.0), []),  # and where it shows yellow's fade
        (faded(0.40, kind="air"), []),
        (faded(None), []),
        (faded(None, lighter=2.0, kind="fade"), ["pale_fade"]),  # blue is black: 1.6 L* of the 9 that it has
        (faded(None, lighter=1.7, kind="fade"), []),
        (faded(0.95, most=(0.30, 0.04)), ["pale_starvation"]),  # gone and back: 22 % at least
        (faded(0.95, most=(0.30, 0.06)), []),
        (faded(0.70, most=(0.50, 0.04)), ["pale_fade"]),  # one reason is enough
        (faded(0.95, most=(0.50, 0.04), kind="starvation", lighter=6.0), []),  # L* shows it
        (faded(0.95, most=(0.50, 0.04), kind="starvation", lighter=4.0), ["pale_starvation"]),
        (None, []),
    ],
)
def test_yellow_that_thins_is_judged_by_its_density(fade: FadeReading | None, said: list[str]):
    reasons = pale_fade_reasons([fade], POLICY)
    assert [r.measure for r in reasons] == said
    assert all(r.action is Action.PURGE for r in reasons)


@pytest.mark.parametrize(("ratio", "said"), [(0.95, []), (0.85, ["pale_fade_photo"])])
def test_a_photo_draws_yellows_fade_in_so_less_of_it_asks_for_a_scan(ratio: float, said: list[str]):
    reasons = pale_fade_reasons([faded(ratio)], POLICY, photo=True)
    assert [r.measure for r in reasons] == said
    assert doubtful_in_a_photo(reasons) == ([], reasons)


def test_a_photo_asks_for_a_scan_of_yellow_that_starves_by_a_standard_deviation():
    reasons = pale_fade_reasons([faded(0.95, most=(0.25, 0.04))], POLICY, photo=True)
    assert [r.measure for r in reasons] == ["pale_starvation"]
    assert reasons[0].value == pytest.approx(21.0)
    assert doubtful_in_a_photo(reasons) == ([], reasons)


def test_the_printing_tolerances_are_those_published():
    # ISO 12647-2:2013 solids, CIEDE2000: 3.5 for C, M, Y and 5 for K (as given by Chung, TAGA 2015)
    text = tables_text(POLICY, load_steps())
    assert "ISO 12647-2:2013: 3.5 deltaE00 for cyan, magenta and yellow, 5 for black" in " ".join(text.split())


def test_a_photo_asks_for_a_scan_only_by_what_is_certain():
    unsure = foreign(0.065, spread=0.055)
    assert [r.action for r in colour_reasons([reading(unsure)], POLICY, photo=True)] == []
    assert [r.action for r in colour_reasons([reading(foreign(0.08, 0.03))], POLICY, photo=True)] == [Action.PURGE]
    part = foreign(0.30, 0.20, first=0.30, last=0.08)
    assert colour_reasons([reading(part, trend="clearing", clears=400.0)], POLICY, photo=True) == []


def test_a_colour_that_no_sound_ink_has_asks_for_more_where_nothing_was_named():
    strange = replace(reading(), off_sound=6.2)
    (found,) = colour_reasons([strange], POLICY, photo=True)
    assert (found.measure, found.ink, found.value) == ("strange_colour", "Y", pytest.approx(6.2))
    assert "at least 6 deltaE00 off what any sound yellow looks like" in found.text
    # a deltaE00 of 1 is about what is just seen: common practice, no source
    assert colour_reasons([replace(strange, off_sound=0.9)], POLICY, photo=True) == []
    assert len(colour_reasons([replace(strange, off_sound=1.1)], POLICY, photo=True)) == 1
    named = replace(reading(foreign(0.30, 0.05)), off_sound=6.2)
    assert [r.measure for r in colour_reasons([named], POLICY, photo=True)] == ["mixed_chamber"]
    assert [r.measure for r in doubtful_in_a_photo([found])[1]] == ["strange_colour"]


def test_an_ink_that_another_could_stand_for_is_told_with_it():
    either = replace(foreign(0.08, 0.04, ink="C"), rivals=("K",))
    (found,) = colour_reasons([replace(reading(either, ink="M"), basis="published FOGRA47L")], POLICY)
    assert "magenta holds 8 % cyan ink (at least 4 %), or black, which looks much the same in it" in found.text


def test_a_scan_of_a_colour_that_no_sound_ink_has_is_never_passed():
    strange = replace(reading(), basis="published FOGRA47L", off_sound=6.2)
    (found,) = colour_reasons([strange], POLICY)
    assert (found.measure, found.action, found.limit) == ("strange_colour_scan", Action.PURGE, 3.0)
    assert "another ink is in it, or it is another maker's" in found.text
    assert actions(replace(strange, off_sound=2.9)) == []
    assert assess((), 0.01, POLICY, extra=[found]).next_steps[0].startswith("Compare with a known-good cartridge's")
    named = replace(reading(foreign(0.30, 0.05)), off_sound=6.2)
    assert [r.measure for r in colour_reasons([named], POLICY)] == ["mixed_chamber"]


def test_a_colour_that_leans_to_another_ink_asks_for_a_scan_where_nothing_surer_was_found():
    leaning = replace(reading(ink="M"), basis="published FOGRA47L", leaning=Leaning("Y", 0.28))
    (found,) = colour_reasons([leaning], POLICY, photo=True)
    assert (found.measure, found.ink, found.value, found.limit) == ("leaning_colour", "M", pytest.approx(28.0), 12.0)
    assert found.text.startswith("magenta looks as with 28 % yellow ink in it, or as another maker's")
    assert doubtful_in_a_photo([found]) == ([], [found])
    assert to_be_scanned([found])[0].action is Action.RESCAN
    assert colour_reasons([replace(leaning, leaning=Leaning("Y", 0.12))], POLICY, photo=True) == []
    strange = replace(leaning, off_sound=6.2)
    assert [r.measure for r in colour_reasons([strange], POLICY, photo=True)] == ["strange_colour"]


def test_a_small_share_asks_for_a_scan_where_it_is_surely_beyond_what_sound_inks_differ_by():
    leaning = replace(reading(ink="C"), basis="published FOGRA47L", leaning=Leaning("Y", 0.11, 2.9))
    (found,) = colour_reasons([leaning], POLICY, photo=True)
    assert (found.measure, found.ink, found.value, found.limit) == ("leaning_sure", "C", pytest.approx(2.9), 2.0)
    assert found.text.startswith("cyan looks as with 11 % yellow ink in it, or as another maker's")
    assert doubtful_in_a_photo([found]) == ([], [found])
    unsure, little = Leaning("Y", 0.11, 1.9), Leaning("Y", 0.03, 2.9)  # 3 % is what may stay in any chamber
    for passed in (unsure, little):
        assert colour_reasons([replace(leaning, leaning=passed)], POLICY, photo=True) == []
    assert colour_reasons([leaning], POLICY) == []


def test_a_scan_that_leans_to_another_ink_asks_for_a_reference_unless_something_surer_decides():
    leaning = replace(reading(ink="C"), basis="published FOGRA47L", leaning=Leaning("M", 0.28))
    (found,) = colour_reasons([leaning], POLICY)
    assert (found.measure, found.action, found.limit) == ("leaning_colour_scan", Action.RESCAN, 17.0)
    assert found.text.endswith("only a known-good cartridge's sheet can settle which")
    assert colour_reasons([replace(leaning, leaning=Leaning("M", 0.16))], POLICY) == []
    (sure,) = colour_reasons([reading(foreign(0.30, 0.05))], POLICY)
    assert assess((), 0.01, POLICY, extra=[found]).action is Action.RESCAN
    assert assess((), 0.01, POLICY, extra=[found, sure]).action is sure.action


def test_published_aims_reject_only_what_they_leave_no_doubt_about():
    """What a dozen pairs of inks show by chance is no ground to scrap a cartridge; a known-good one's sheet is."""
    doubtful, sure = reading(foreign(0.28, 0.16)), reading(foreign(0.40, 0.16))
    assert actions(doubtful, sure) == [Action.REJECT, Action.REJECT]
    (found,) = colour_reasons([replace(doubtful, basis="published FOGRA47L")], POLICY)
    assert (found.measure, found.action) == ("mixed_likely", Action.PURGE)
    assert "known-good cartridge" in found.text
    assert assess((), 0.01, POLICY, extra=[found]).next_steps[0].startswith("Compare with a known-good cartridge's")
    (shot,) = colour_reasons([replace(doubtful, basis="published FOGRA47L")], POLICY, photo=True)
    assert shot.text.endswith("and it does not clear")  # a photo asks for a scan first
    assert actions(replace(sure, basis="published FOGRA47L")) == [Action.REJECT]


def test_what_takes_over_a_chamber_lower_down_asks_a_photo_for_a_scan() -> None:
    """A lamp's reflection on the strips washes them out towards the palest ink, from some height on."""
    taken_over = reading(foreign(0.85, 0.4, first=0.0, last=0.85), trend="growing", wrong="M")
    assert [r.measure for r in colour_reasons([taken_over], POLICY)] == ["wrong_ink"]
    found = colour_reasons([taken_over], POLICY, photo=True)
    sure, doubtful = doubtful_in_a_photo(found)
    assert (sure, len(doubtful)) == ([], 1)
    whole = reading(foreign(0.9), trend="steady", wrong="M")
    assert [r.measure for r in colour_reasons([whole], POLICY, photo=True)] == ["wrong_ink"]


@pytest.mark.parametrize(("trend", "left"), [("clearing", ["banding"]), ("steady", ["fade", "banding"])])
def test_a_strip_that_clears_is_not_said_to_fade_as_well(trend: str, left: list[str]) -> None:
    read = [reading(foreign(0.30, first=0.30, last=0.08), trend=trend, clears=400.0)]
    ink = read[0].ink
    uneven = [
        *decide("fade", ink, 9.0, POLICY, "{value:.1f} L* lighter"),
        *decide("banding", ink, 9.0, POLICY, "bands"),
    ]
    told = colour_reasons(read, POLICY)
    assert told
    assert [reason.measure for reason in without_clearing(uneven, read, told)] == left
    assert len(without_clearing(uneven, read, [])) == 2
