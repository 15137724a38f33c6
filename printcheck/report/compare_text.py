"""The comparison of two sheets for a person at the bench."""

from __future__ import annotations

from printcheck.document import ScoredSheet
from printcheck.report.plain import to_do, wrapped
from printcheck.report.words import HEADLINES, ink_word, row_list
from printcheck.verdict.compare import Comparison, InkComparison, Outcome
from printcheck.verdict.compare_foreign import largest_share

__all__ = ["comparison_text", "ink_phrases", "outcome_words"]

_NOT_TOLD = ("NOT COMPARED", "whether anything changed can't be told")
_OUTCOME_WORDS: dict[Outcome, tuple[str, str]] = {
    Outcome.CURED: ("CURED", "the sheet passes now"),
    Outcome.BETTER: ("BETTER", "not there yet"),
    Outcome.UNCHANGED: ("UNCHANGED", "no change that the pictures can prove"),
    Outcome.WORSE: ("WORSE", "more is wrong than before"),
}


def outcome_words(comparison: Comparison) -> tuple[str, str]:
    """Return the outcome in capitals, and what it means; that it can't be told where it can't."""
    return _OUTCOME_WORDS[comparison.outcome] if comparison.told else _NOT_TOLD


def comparison_text(comparison: Comparison) -> str:
    """Write the comparison as plain text, ending in a newline."""
    word, meaning = outcome_words(comparison)
    out = [f"{word}: {meaning}"]
    out += [f"  before  {_sheet(comparison.before)}", f"  after   {_sheet(comparison.after)}", ""]
    out += wrapped("; ".join(comparison.reasons), "  - ", "    ")
    out.append("")
    for ink in comparison.inks:
        out += wrapped(f"{ink_word(ink.ink)}: {'; '.join(ink_phrases(comparison, ink))}", f"  {ink.ink:<3}", "     ")
    if comparison.inks:
        out.append("")
    assessment = comparison.assessment
    word, meaning = HEADLINES[assessment.action]
    out.append(f"As it now stands: {word}: {meaning}")
    for reason in assessment.reasons:
        out += wrapped(reason.text, "  - ", "    ")
    return "\n".join([*out, *to_do(assessment)]) + "\n"


def ink_phrases(comparison: Comparison, ink: InkComparison) -> list[str]:
    """Say what is to be said of one ink, a phrase each; at least one."""
    return [*_rows_in_words(ink), *_colour_in_words(comparison, ink.ink)]


def _colour_in_words(comparison: Comparison, ink: str) -> list[str]:
    """Foreign ink where either sheet shows some, and the solid's colour where a house reference judges it."""
    out = []
    sheets = (comparison.before, comparison.after)
    shares = [largest_share(next((r for r in s.contamination if r.ink == ink), None)) for s in sheets]
    if any(shares):
        was, now = ("none found" if f is None else f"{100 * f.fraction:.0f} % {ink_word(f.ink)}" for f in shares)
        out.append(f"foreign ink: {was} before, {now} after")
    solids = [next((solid for solid in s.solids if solid.ink == ink), None) for s in sheets]
    told = [solid for solid in solids if solid is not None and solid.delta_e00 is not None]
    if len(told) == 2 and all((solid.reference or "").startswith("house") for solid in told):
        out.append(f"{told[0].delta_e00:.1f} deltaE00 from {told[0].reference} before, {told[1].delta_e00:.1f} after")
    return out


def _rows_in_words(ink: InkComparison) -> list[str]:
    if ink.counts is None:
        return ["not compared"]
    if ink.recovered is None:
        was, now = ink.counts
        return [f"{was} missing before, {now} now; which of them came back or are new can't be told"]
    out = []
    for rows, what in (
        (ink.recovered, "came back"),
        (ink.still_missing, "still missing"),
        (ink.newly_missing, "newly missing"),
        (ink.missing_unread_before, "missing now, not readable before"),
        (ink.unread, "not readable on one of the sheets"),
    ):
        if rows:
            out.append(f"{len(rows)} {what}: {row_list(rows)}")
    if ink.shift_rows:
        out.append(f"row numbers are the first sheet's; add {ink.shift_rows} for the second")
    return out or ["no row missing before or after"]


def _sheet(sheet: ScoredSheet) -> str:
    said = [HEADLINES[sheet.assessment.action][0].lower(), sheet.image.path]
    if sheet.layout is not None:
        said.append(f"{sheet.layout.head.name} on {sheet.layout.page.name}")
    if sheet.ticket:
        said.append(f"ticket {sheet.ticket}")
    return ", ".join(said)
