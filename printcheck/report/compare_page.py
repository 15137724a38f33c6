"""The comparison as one HTML page: the page report's own frame, filled with two sheets."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from printcheck import __version__
from printcheck.document import ScoredSheet
from printcheck.pipeline import Scored
from printcheck.report.compare_picture import comparison_picture
from printcheck.report.compare_text import ink_phrases, outcome_words
from printcheck.report.markup import Markup, items, joined
from printcheck.report.page_frame import Picture, page_of, section, table
from printcheck.report.palette import STATE, VERDICT
from printcheck.report.words import HEADLINES, ink_word
from printcheck.verdict.compare import Comparison, Outcome
from printcheck.verdict.result import Action

__all__ = ["comparison_html"]

_PICTURE_WIDTH_PX = 1800
_COLOUR = {
    Outcome.CURED: VERDICT[Action.TOP_OFF],
    Outcome.BETTER: STATE["weak"],
    Outcome.UNCHANGED: VERDICT[Action.RESCAN],
    Outcome.WORSE: VERDICT[Action.REJECT],
}
_MARKS = (
    "A tick: came back. A ring: still missing, or missing where rows can't be matched. A cross: newly missing. "
    "A broken box: missing now, not readable before. Rows count from 0 at the top of a ladder."
)


def comparison_html(comparison: Comparison, before: Scored, after: Scored) -> str:
    """Write the comparison as one HTML document: no script, nothing fetched."""
    word, meaning = outcome_words(comparison)
    assessment = comparison.assessment
    sheets = (comparison.before, comparison.after)
    alt = "Both sheets side by side. " + " ".join(
        f"{ink_word(ink.ink)}: {'; '.join(ink_phrases(comparison, ink))}." for ink in comparison.inks
    )
    return page_of(
        title=f"{word}: {comparison.after.ticket or Path(comparison.after.image.path).name}",
        colour=_COLOUR[comparison.outcome],
        word=word,
        meaning=meaning,
        identity=_identity(comparison),
        reasons=comparison.reasons,
        picture=Picture(
            Image.fromarray(comparison_picture(comparison, before, after)), _PICTURE_WIDTH_PX, alt, _MARKS
        ),
        below=[],
        beside=[
            table(
                "What changed",
                ["Ink", "Rows"],
                [[ink_word(ink.ink), items("ul", ink_phrases(comparison, ink))] for ink in comparison.inks],
            ),
            section(f"As it now stands: {HEADLINES[assessment.action][0].lower()}", _now(comparison)),
            section("Take care", items("ul", assessment.cautions, class_="small")),
            section("Pictures", items("ul", [_file(sheet) for sheet in sheets])),
        ],
        footer=f"printcheck {__version__}",
    )


def _now(comparison: Comparison) -> Markup:
    assessment = comparison.assessment
    reasons = items("ul", [reason.text for reason in assessment.reasons])
    return joined([reasons, items("ol", assessment.next_steps)])


def _identity(comparison: Comparison) -> str:
    sheet = comparison.after if comparison.after.layout is not None else comparison.before
    if sheet.layout is None:
        return "No sheet was found in either picture"
    ticket = f"Ticket {sheet.ticket}, " if sheet.ticket else ""
    return f"{ticket}head {sheet.layout.head.name}, {sheet.layout.page.name}, before and after a cleaning"


def _file(sheet: ScoredSheet) -> str:
    return f"{Path(sheet.image.path).name}: {sheet.image.width_px} x {sheet.image.height_px} pixels"
