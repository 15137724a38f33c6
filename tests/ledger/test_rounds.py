"""What the ledger tells a verdict about a ticket."""

from __future__ import annotations

from dataclasses import replace

import pytest
from entries import entry
from readings import reading

from printcheck.ledger.entry import Notes
from printcheck.ledger.rounds import cleaning_history, rounds_of
from printcheck.ledger.store import open_ledger


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
