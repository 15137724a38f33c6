"""Readings built by hand: sheets whose every row is known, with no picture in sight."""

from __future__ import annotations

from collections.abc import Iterable

from printcheck.document import CaptureRecord, ImageRecord, ScoredSheet
from printcheck.measure.result import BackgroundReading, DashReading, LinesReading, SolidReading
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.verdict.policy import load_policy
from printcheck.verdict.rules import assess, rescan_assessment


def reading(
    ink: str = "C",
    rows: int = 100,
    *,
    missing: Iterable[int] = (),
    intermittent: Iterable[int] = (),
    weak: Iterable[int] = (),
    unreadable: Iterable[int] = (),
    arrangement: str | None = None,
    stride: int | None = None,
    absent: bool = False,
    sd: float = 0.03,
    head: str = "tri-100",
) -> LinesReading:
    layout = build_layout(load_head(head), page_named("A4"))
    sets = [tuple(sorted(v)) for v in (missing, intermittent, weak, unreadable)]
    dashes = []
    for ladder in layout.ladders_of(ink):
        for row in range(rows):
            gone = absent or row in sets[0] or (row in sets[1] and ladder.repeat == 0)
            state, strength = ("missing", 0.02) if gone else ("present", 1.0)
            if row in sets[2]:
                state, strength = "weak", 0.6
            if row in sets[3]:
                state = "unreadable"
            known = strength if state != "unreadable" else None
            dashes.append(DashReading(row, ladder.repeat, ladder.dash(row), known, sd, 0.0, 0.004, state))
    count = len(sets[0]) + len(sets[1])
    kind = arrangement or ("scattered" if count and not absent else "none")
    return LinesReading(
        ink, rows, tuple(dashes), absent, () if absent else sets[0], sets[1], sets[2], (), sets[3], None, kind,
        stride, count if kind == "run" else min(count, 1),
    )  # fmt: skip


def sheet(
    *lines: LinesReading, ticket: str = "T1", head: str = "tri-100", page: str = "A4", path: str = "scan.png"
) -> ScoredSheet:
    layout = build_layout(load_head(head), page_named(page))
    given = {r.ink: r for r in lines}
    all_lines = tuple(given.get(i.ink) or reading(i.ink, i.rows, head=head) for i in layout.head.inks)
    return ScoredSheet(
        ImageRecord(path, f"{hash(path) & 0xFFFFFFFF:064x}", 1654, 2339),
        CaptureRecord("scan", 200.0, 1.0, 1.0, 0.0, 0.02, (), 0.03),
        layout,
        ticket,
        all_lines,
        tuple(SolidReading(i.ink, None, None, None) for i in layout.head.inks),
        BackgroundReading(None),
        assess(all_lines, 0.02, load_policy()),
    )


def rescan(path: str = "blank.png") -> ScoredSheet:
    return ScoredSheet(
        ImageRecord(path, "0" * 64, 100, 100),
        CaptureRecord(None, None, None, None, None, None, ()),
        None,
        "",
        (),
        (),
        None,
        rescan_assessment("no sheet was found; scan it again", "registration", None, None, ""),
    )
