"""The verdict for a person at the bench: verdict first, a line an ink, what to do, and how to do it safely."""

from __future__ import annotations

from printcheck.document import ScoredSheet
from printcheck.report.plain import to_do, wrapped
from printcheck.report.toner_words import toner_in_words
from printcheck.report.words import HEADLINES, capture_line, findings_in_words, ink_word, limit_in_words
from printcheck.verdict.result import Reason

__all__ = ["text_of"]


def text_of(sheet: ScoredSheet) -> str:
    """The report as plain text, ending in a newline."""
    assessment, layout = sheet.assessment, sheet.layout
    head, tail = HEADLINES[assessment.action]
    out = [f"{head}: {tail}"]
    if layout is not None:
        ticket = f", ticket {sheet.ticket}" if sheet.ticket else ""
        out.append(f"{layout.head.name} on {layout.page.name}{ticket}; {_capture_line(sheet)}")
    out.append("")
    for reason in assessment.reasons:
        out += wrapped(_with_limit(reason), "  - ", "    ")
    if assessment.reasons:
        out.append("")
    for reading in sheet.lines:
        said = f"{ink_word(reading.ink)}: " + "; ".join(findings_in_words(reading))
        out += wrapped(said, f"  {reading.ink:<3}", "     ")
    for what, finding in () if sheet.toner is None else toner_in_words(sheet.toner):
        out += wrapped(finding, f"  {what:<9}", " " * 11)
    if sheet.lines or sheet.toner is not None:
        out.append("")
    out += to_do(assessment)
    notes = [w for w in sheet.capture.warnings if not any(w == r.text for r in assessment.reasons)]
    if notes:
        out.append("Notes:")
        for note in notes:
            out += wrapped(note, "  - ", "    ")
    return "\n".join(out) + "\n"


def _capture_line(sheet: ScoredSheet) -> str:
    doubt = sheet.capture.registration_doubt_mm
    return capture_line(sheet) + ("" if doubt is None else f", found to {doubt:.3f} mm")


def _with_limit(reason: Reason) -> str:
    limit = limit_in_words(reason)
    return reason.text + (f" ({limit})" if limit else "")
