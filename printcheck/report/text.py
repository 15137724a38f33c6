"""The verdict for a person at the bench: verdict first, a line an ink, what to do, and how to do it safely."""

from __future__ import annotations

import textwrap

from printcheck.document import ScoredSheet
from printcheck.measure.result import LinesReading
from printcheck.pattern.inks import INKS
from printcheck.verdict.result import Action

__all__ = ["text_of"]

_WORDS = {
    Action.TOP_OFF: "TOP OFF: the cartridge prints well",
    Action.PURGE: "PURGE: not yet, clean it and print again",
    Action.REJECT: "REJECT: cleaning can't cure this one",
    Action.RESCAN: "RESCAN: this picture can't be judged",
}
_WIDTH = 96
_LISTED_ROWS = 12


def text_of(sheet: ScoredSheet) -> str:
    """The report as plain text, ending in a newline."""
    assessment, layout = sheet.assessment, sheet.layout
    out = [_WORDS[assessment.action]]
    if layout is not None:
        ticket = f", ticket {sheet.ticket}" if sheet.ticket else ""
        out.append(f"{layout.head.name} on {layout.page.name}{ticket}; {_capture_line(sheet)}")
    out.append("")
    for reason in assessment.reasons:
        out += _wrapped(reason.text + _limit(reason.limit, reason.unit, reason.value), "  - ", "    ")
    if assessment.reasons:
        out.append("")
    for reading in sheet.lines:
        out += _wrapped(_ink_line(reading), f"  {reading.ink:<3}", "     ")
    if sheet.lines:
        out.append("")
    out.append("Next:")
    for number, step in enumerate(assessment.next_steps, 1):
        out += _wrapped(step, f"  {number}. ", "     ")
    if assessment.cautions:
        out.append("Take care:")
        for caution in assessment.cautions:
            out += _wrapped(caution, "  ! ", "    ")
    notes = [w for w in sheet.capture.warnings if not any(w == r.text for r in assessment.reasons)]
    if notes:
        out.append("Notes:")
        for note in notes:
            out += _wrapped(note, "  - ", "    ")
    return "\n".join(out) + "\n"


def _capture_line(sheet: ScoredSheet) -> str:
    capture = sheet.capture
    parts = [f"{capture.kind} at {capture.dots_per_inch:.0f} dots/inch" if capture.dots_per_inch else "picture"]
    if capture.registration_rms_mm is not None:
        parts.append(f"found to {capture.registration_rms_mm:.3f} mm")
    return ", ".join(parts)


def _limit(limit: float | None, unit: str, value: float | None) -> str:
    if limit is None or value is None or unit == "":
        return ""
    return f" ({value:.3g} {unit}, limit {limit:g})"


def _ink_line(reading: LinesReading) -> str:
    word = INKS[reading.ink].word
    if reading.absent:
        return f"{word}: no ink at all"
    parts = []
    for rows, what in (
        (reading.missing, "missing"),
        (reading.intermittent, "missing in one printing only"),
        (reading.weak, "weak"),
        (reading.displaced, "off their place"),
        (reading.unreadable, "unreadable"),
    ):
        if rows:
            parts.append(f"{len(rows)} {what} (row{'s' if len(rows) > 1 else ''} {_row_list(rows)})")
    if reading.arrangement == "stride":
        parts.append(f"at a step of {reading.stride}")
    elif reading.arrangement == "run":
        parts.append(f"{reading.longest_run} side by side")
    if reading.advance_rows:
        parts.append(f"second printing shifted by {reading.advance_rows} rows")
    return f"{word}: " + (", ".join(parts) if parts else f"all {reading.rows} rows print")


def _row_list(rows: tuple[int, ...]) -> str:
    """Rows with runs joined, at most a dozen entries."""
    spans: list[list[int]] = []
    for row in rows:
        if spans and row == spans[-1][1] + 1:
            spans[-1][1] = row
        else:
            spans.append([row, row])
    texts = [str(a) if a == b else f"{a}-{b}" for a, b in spans]
    more = len(texts) - _LISTED_ROWS
    return ", ".join(texts[:_LISTED_ROWS]) + (f" and {more} more" if more > 0 else "")


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=first, subsequent_indent=rest)
