"""Rows for a ledger, made from readings built by hand."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta

from readings import sheet

from printcheck.ledger.entry import Entry, Notes, entry_of
from printcheck.measure.result import LinesReading
from printcheck.report.json import report_of
from printcheck.verdict.policy import load_policy

START = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)  # a Monday


def entry(*lines: LinesReading, ticket: str = "T1", number: int = 0, notes: Notes | None = None, **known) -> Entry:
    """A row; `number` makes the picture, and the minute it was scored at."""
    from dataclasses import replace

    scored = sheet(*lines, ticket=ticket, **known)
    digest = hashlib.sha256(f"{ticket}/{number}".encode()).hexdigest()
    scored = replace(scored, image=replace(scored.image, sha256=digest, path=f"{ticket}-{number}.png"))
    when = START + timedelta(minutes=number)
    return entry_of(scored, report_of(scored), load_policy(), notes, when)
