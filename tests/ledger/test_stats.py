"""The shop's figures: intervals against published tables, and a simulated month whose true rates are known."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from entries import START, entry
from readings import reading

from printcheck.ledger.entry import Notes
from printcheck.ledger.stats import statistics, statistics_of, statistics_table
from printcheck.ledger.store import open_ledger
from printcheck.ledger.wilson import wilson


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    # R. G. Newcombe, Stat. Med. 17 (1998) 857-872, Table I, method 3 (figures from memory; the same are proved
    # against an outside library below)
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_intervals_as_published(k, n, low, high):
    assert wilson(k, n) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(("k", "n"), [(0, 1), (1, 1), (3, 7), (99, 100), (500, 1234)])
def test_wilson_equals_scipy(k, n):
    from scipy.stats import binomtest

    found = binomtest(k, n).proportion_ci(0.95, method="wilson")
    assert wilson(k, n) == pytest.approx((found.low, found.high), abs=1e-9)


@pytest.mark.parametrize(("k", "n"), [(0, 0), (3, 2), (-1, 4)])
def test_no_interval_without_a_trial(k, n):
    with pytest.raises(ValueError, match="trial"):
        wilson(k, n)


@pytest.fixture
def book(tmp_path):
    with open_ledger(str(tmp_path / "l.sqlite3")) as opened:
        yield opened


def test_a_small_shop_by_hand(book):
    scattered, run = reading("C", missing={3, 50}), reading("M", missing={4, 5, 6}, arrangement="run")
    stride = reading("Y", missing=range(0, 100, 13), arrangement="stride", stride=13)
    book.add(entry(ticket="A", number=0, notes=Notes(cartridge="x")))  # good at once
    book.add(entry(scattered, run, ticket="B", number=1, notes=Notes(cartridge="x")))
    book.add(entry(reading("M", missing={5}), ticket="B", number=2, notes=Notes(cleaning="blot")))  # C cured, M not
    book.add(entry(ticket="B", number=3, notes=Notes(cleaning="steam")))
    book.add(entry(stride, ticket="C", number=4, notes=Notes(cartridge="y")))
    found = statistics(book.rows())
    assert (found.sheets, found.tickets, found.good, found.rejected, found.open) == (5, 3, 2, 1, 0)
    assert (found.first_pass.successes, found.first_pass.trials) == (1, 3)
    assert found.rounds_to_good == {1: 1, 3: 1}
    rates = {(c.step, c.defect): (c.rate.successes, c.rate.trials) for c in found.cures}
    assert rates == {("blot", "scattered"): (1, 1), ("blot", "run"): (0, 1), ("steam", "scattered"): (1, 1)}
    assert found.causes == {"stride": 1}
    assert {g.name: (g.tickets, g.rejected) for g in found.groups["cartridge"]} == {"x": (2, 0), "y": (1, 1)}
    assert [g.name for g in found.groups["week"]] == ["2026-W45"]  # 2 November 2026 is a Monday: ISO 8601 week 45
    json.dumps(statistics_of(found), allow_nan=False)
    table = statistics_table(found)
    assert ("cure rate", "blot", "scattered", 1, 1, 1.0, pytest.approx(0.2065, abs=1e-4), 1.0) in table


@pytest.mark.parametrize("measure", ["dead_ink_cleanings", "worsened", "toner_repeats_cleanings"])
def test_what_only_the_history_tells_is_no_defect_of_its_own(book, measure):
    seen = {"measure": "toner_repeats", "ink": "K", "action": "purge", "defect": "toner-marks"}
    again = {"measure": measure, "ink": "K", "action": "reject", "defect": "worn"}
    book.add(replace(entry(ticket="A", number=0), findings=[seen, again]))
    book.add(entry(ticket="A", number=1, notes=Notes(cleaning="toner-wipe")))
    assert [(cure.step, cure.defect) for cure in statistics(book.rows()).cures] == [("toner-wipe", "toner-marks")]


def test_a_cleaning_noted_beside_a_picture_that_cant_be_judged_counts_for_the_next(book):
    """The sheet is scanned again without the note, with it, or after one step more."""
    scattered = reading("C", missing={3, 50})
    for ticket, notes in {"A": ("blot", None), "B": ("blot", "blot"), "C": ("blot", "steam")}.items():
        book.add(entry(scattered, ticket=ticket, number=0))
        unread = entry(ticket=ticket, number=1, notes=Notes(cleaning=notes[0]))
        book.add(replace(unread, action="rescan", rows_missing=None))
        book.add(entry(ticket=ticket, number=2, notes=Notes(cleaning=notes[1])))
    rates = {(c.step, c.defect): (c.rate.successes, c.rate.trials) for c in statistics(book.rows()).cures}
    assert rates == {("blot", "scattered"): (2, 2), ("blot+steam", "scattered"): (1, 1)}


def test_an_empty_ledger_has_no_rates(book):
    found = statistics(book.rows())
    assert found.first_pass.rate is None
    json.dumps(statistics_of(found), allow_nan=False)


_TRUE_CURE = {
    ("blot", "scattered"): 0.6,
    ("ultrasonic", "scattered"): 0.35,
    ("draw", "run"): 0.7,
    ("blot", "run"): 0.2,
}
_LADDER = {"scattered": ("blot", "ultrasonic"), "run": ("draw", "blot")}
_FIRST_PASS = 0.4


def test_a_month_of_300_tickets_gives_back_the_true_rates(book):
    rng = np.random.default_rng(21)
    faulty = {
        "scattered": reading("C", missing={3, 50}),
        "run": reading("C", missing={4, 5, 6}, arrangement="run"),
    }
    templates = {name: entry(lines) for name, lines in faulty.items()} | {"sound": entry()}
    number = 0

    def add(state: str, ticket: str, cleaning: str | None) -> None:
        nonlocal number
        number += 1
        when = (START + timedelta(minutes=30 * number)).isoformat(timespec="milliseconds")
        made = templates[state]
        book.add(
            replace(
                made,
                ticket=ticket,
                image_sha256=f"{number:064x}",
                scored_at=when,
                notes=Notes(cleaning=cleaning),
                report={"image": {"sha256": f"{number:064x}"}, "verdict": {}},
            )
        )

    for k in range(300):
        ticket, state = f"M{k}", "sound"
        if rng.random() > _FIRST_PASS:
            state = str(rng.choice(["scattered", "run"]))
        add(state, ticket, None)
        for step in _LADDER.get(state, ()):
            cured = rng.random() < _TRUE_CURE[step, state]
            add("sound" if cured else state, ticket, step)
            if cured:
                break
    found = statistics(book.rows())
    assert found.tickets == 300
    rates = {(c.step, c.defect): c.rate for c in found.cures}
    assert rates.keys() == _TRUE_CURE.keys()
    for pair, rate in rates.items():
        assert rate.low <= _TRUE_CURE[pair] <= rate.high, pair
    assert found.first_pass.low <= _FIRST_PASS <= found.first_pass.high
    assert all(rate.high - rate.low < 0.35 for rate in rates.values())  # an interval that says something
