"""Values that fit an option's form and nothing else: refused in one line before anything is done, or taken as meant.

Bounds: Python's `date` ends with the year 9999, SQLite's whole numbers at 64 bits (sqlite.org/datatype3.html), names
of files at 255 bytes (POSIX NAME_MAX on common file systems).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from entries import entry

from printcheck.ledger.store import open_ledger

LONG = "a" * 300


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("log", "--last", "9" * 23), 2, "--last"),
        (("log", "--last", "9" * 5000), 2, "--last"),
        (("demo", "--seed", "-1"), 2, "--seed"),
        (("demo", "--seed", "9" * 30), 2, "--seed"),
        (("demo", LONG), 2, "too long"),
        (("watch", ".", "--once", "--poll", "1e300"), 2, "--poll"),
        (("watch", ".", "--once", "--poll", "nan"), 2, "--poll"),
        (("watch", ".", "--once", "--settle", "inf"), 2, "--settle"),
        (("watch", LONG, "--once"), 2, "too long"),
        (("batch", ".", "--workers", "9" * 12), 2, "--workers"),
        (("batch", LONG), 2, "too long"),
        (("batch", ".", "--out", LONG), 2, "too long"),
        (("log", "--ledger", LONG), 2, "too long"),
        (("log", "--ledger", "~nosuchuser/x.db"), 3, "no user's folder"),
        (("score", "a.jpg", "--ledger", "~nosuchuser/x.db"), 3, "no user's folder"),
        (("stats", "--ledger", "postgresql://bench:secret@[::1"), 3, "address"),
        (("calibrate", "a.png", "--values", "v.txt", "--name", LONG), 2, "up to 60"),
        (("score", "a.jpg", "--calibration", LONG), 2, "up to 60"),
        (("score", "a.jpg", "--reference", LONG), 2, "up to 60"),
    ],
)
def test_an_extreme_value_is_refused_in_one_line(words: tuple[str, ...], code: int, says: str, call) -> None:
    done = call(*words)
    assert done.returncode == code, done.stderr
    assert done.stderr.startswith("printcheck: ")
    assert done.stderr.count("\n") == 1
    assert says in done.stderr
    assert "secret" not in done.stderr


def test_the_last_day_there_is_may_be_the_last_one_asked_for(call, tmp_path: Path) -> None:
    with open_ledger(str(tmp_path / "shop.db")) as book:
        book.add(entry())
    done = call("stats", "--ledger", tmp_path / "shop.db", "--since", "0001-01-01", "--until", "9999-12-31")
    assert done.returncode == 0, done.stderr
    assert "1 ticket, 1 sheet" in done.stdout
