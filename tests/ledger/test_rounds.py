"""What the ledger tells a verdict about a ticket."""

from __future__ import annotations

from dataclasses import replace

import pytest
from entries import entry
from readings import reading

from printcheck.ledger.entry import Notes
from printcheck.ledger.rounds import cleaning_history, rounds_of
from printcheck.ledger.store import open_ledger
from printcheck.measure.result import LinesReading
from printcheck.verdict.policy import load_policy
from printcheck.verdict.result import Action
from printcheck.verdict.rules import assess, with_history


@pytest.fixture
def book(tmp_path):
    with open_ledger(str(tmp_path / "l.sqlite3")) as opened:
        yield opened


def test_cleanings_steps_and_counts_are_told_in_order(book):
    book.add(entry(reading("C", missing={1, 2}), number=0))
    book.add(entry(reading("C", missing={1, 2, 3}), number=1, notes=Notes(cleaning="blot")))
    book.add(entry(reading("C", missing={1}), number=2, notes=Notes(cleaning="ultrasonic+blot")))
    found = cleaning_history(book.rows(), "new", Notes(cleaning="steam"))
    assert found.cleanings == 3
    assert found.tried == ("blot", "ultrasonic", "steam")
    assert found.missing_before == (2, 3, 1)


def test_a_reprint_without_a_cleaning_is_no_cleaning(book):
    book.add(entry(reading("C", missing={1, 2}), number=0))
    book.add(entry(reading("C", missing={1}), number=1))
    found = cleaning_history(book.rows(), "new", Notes(cleaning="blot"))
    assert (found.cleanings, found.missing_before) == (1, (1,))


@pytest.mark.parametrize(
    ("pictures", "cleanings"),
    [
        ("? blot, blot", 1),  # the sheet is scanned again, and the note given again
        ("? blot, ? blot, blot", 1),
        ("? blot, -", 1),  # or not
        ("? blot, draw", 2),  # cleaned again instead
        ("blot, blot", 2),  # the same on two sheets that could be judged
        ("? blot, blot, ? blot, blot", 2),
        ("? draw, draw, ? steam, steam", 2),
        ("blot, ? -, blot", 2),
        ("? -, -", 0),
    ],
)
def test_a_picture_that_cant_be_judged_makes_no_second_cleaning(book, pictures, cleanings):
    """The same note beside a sheet's second picture is the same cleaning: dead ink is rejected for three."""
    book.add(entry(reading("C", missing={1, 2}), number=0))
    *earlier, (last, _) = [(p.split()[-1], p.startswith("?")) for p in pictures.split(", ")]
    for number, (note, unjudged) in enumerate(earlier, 1):
        row = entry(reading("C", missing={1}), number=number, notes=noted(note))
        book.add(replace(row, action="rescan", rows_missing=None) if unjudged else row)
    found = cleaning_history(book.rows(), "new", noted(last))
    assert found.cleanings == len(found.missing_before) == cleanings


def noted(cleaning: str) -> Notes:
    return Notes(cleaning=None if cleaning == "-" else cleaning)


def test_the_sheet_itself_and_later_ones_are_left_out(book):
    for number in range(3):
        book.add(entry(reading("C", missing={1}), number=number, notes=Notes(cleaning="blot")))
    second = book.rows()[1]
    found = cleaning_history(book.rows(), second.image_sha256, Notes())
    assert found.cleanings == 2  # the first sheet's, and its own


def test_a_picture_scored_under_two_policies_is_one_round(book):
    one = entry(number=0)
    book.add(one)
    book.add(replace(one, settings="other", action="purge"))
    book.add(entry(number=1))
    rounds = rounds_of(book.rows())
    assert [row.image_path for row in rounds] == ["T1-0.png", "T1-1.png"]
    assert rounds[0].action == "purge"


def judged_next(book, lines: LinesReading | tuple[LinesReading, ...], cleaning: str | None):
    """The verdict of a further sheet of the ticket, as the bench gives it."""
    policy, lines = load_policy(), lines if isinstance(lines, tuple) else (lines,)
    history = cleaning_history(book.rows(), "next", Notes(cleaning=cleaning))
    return with_history(assess(lines, 0.02, policy), lines, policy, history)


def test_an_ink_still_dead_after_the_ledgers_third_cleaning_is_rejected(book):
    dead = reading("C", absent=True)
    book.add(entry(dead, number=0))
    for number, step in enumerate(("prime", "draw"), 1):
        assert judged_next(book, dead, step).action is Action.PURGE
        book.add(entry(dead, number=number, notes=Notes(cleaning=step)))
    last = judged_next(book, dead, "steam")
    assert last.action is Action.REJECT
    assert "still dead after 3 cleanings" in last.reasons[0].text
    # a reprint in between is no cleaning
    book.add(entry(dead, number=3))
    assert judged_next(book, dead, "steam").reasons[0].text == last.reasons[0].text


def test_cleanings_before_an_ink_died_are_not_held_against_it(book):
    """Three cleanings of scattered rows, the last of which let air into another ink: that was cleaned not once."""
    gone = {3, 60}
    book.add(entry(reading("M", missing=gone), reading("C"), number=0))
    for number, step in enumerate(("blot", "ultrasonic"), 1):
        book.add(entry(reading("M", missing=gone), reading("C"), number=number, notes=Notes(cleaning=step)))
    lines = (reading("M", missing=gone), reading("C", absent=True))
    assert judged_next(book, lines, "steam").action is Action.PURGE
    # it was not dead yet with a few rows missing either
    for number, step in enumerate(("blot", "ultrasonic", "steam"), 3):
        book.add(entry(reading("M"), reading("C", missing=gone), number=number, notes=Notes(cleaning=step)))
    assert judged_next(book, lines, "prime").action is Action.PURGE
    # from here on it was
    for number, step in enumerate(("prime", "draw"), 6):
        book.add(entry(*lines, number=number, notes=Notes(cleaning=step)))
        assert judged_next(book, lines, None).action is Action.PURGE
    assert judged_next(book, lines, "draw").action is Action.PURGE
    book.add(entry(*lines, number=8, notes=Notes(cleaning="draw")))
    assert "still dead after 3 cleanings" in judged_next(book, lines, "steam").reasons[0].text


def test_cleanings_that_bring_no_ink_are_not_held_against_a_dead_one(book):
    dead = reading("C", absent=True)
    book.add(entry(dead, number=0))
    for number, step in enumerate(("align", "wipe-seal", "a step renamed by now"), 1):
        book.add(entry(dead, number=number, notes=Notes(cleaning=step)))
    assert judged_next(book, dead, "prime").action is Action.PURGE
    book.add(entry(dead, number=4, notes=Notes(cleaning="prime")))
    last = judged_next(book, dead, "align+draw")
    assert last.action is Action.REJECT
    assert "still dead after 3 cleanings" in last.reasons[0].text


def test_more_rows_missing_after_a_cleaning_twice_is_rejected_from_the_ledger(book):
    book.add(entry(reading("C", missing={1}), number=0))
    book.add(entry(reading("C", missing={1, 30}), number=1, notes=Notes(cleaning="blot")))
    once = judged_next(book, reading("C", missing={1, 30}), "ultrasonic")  # no worse this time
    assert once.action is Action.PURGE
    twice = judged_next(book, reading("C", missing={1, 30, 60}), "ultrasonic")
    assert twice.action is Action.REJECT
    assert twice.reasons[0].measure == "worsened"
    assert "2 times (1, 2, 3)" in twice.reasons[0].text


def test_what_the_ticket_was_given_is_not_proposed_again(book):
    book.add(entry(reading("C", missing={1, 50}), number=0))
    book.add(entry(reading("C", missing={1, 50}), number=1, notes=Notes(cleaning="blot+ultrasonic")))
    told = judged_next(book, reading("C", missing={1, 50}), "blot")
    assert len(told.next_steps) == 1
    assert "steam" in told.next_steps[0]
    assert len(judged_next(book, reading("C", missing={1, 50}), "draw").next_steps) == 1
