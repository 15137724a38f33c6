"""The comparison as one HTML page: the page report's own template, filled with two sheets."""

from __future__ import annotations

import base64
import io
from pathlib import Path

from PIL import Image

from printcheck import __version__
from printcheck.document import ScoredSheet
from printcheck.pipeline import Scored
from printcheck.report.compare_picture import comparison_picture
from printcheck.report.compare_text import OUTCOME_WORDS, ink_phrases
from printcheck.report.markup import Markup, fill, items, joined, tag
from printcheck.report.palette import FAINT, INK, MUTED, RULE, STATE, VERDICT, hex_of
from printcheck.report.words import HEADLINES, ink_word
from printcheck.verdict.compare import Comparison, Outcome
from printcheck.verdict.result import Action

__all__ = ["comparison_html"]

_PICTURE_WIDTH_PX = 1800
_JPEG_QUALITY = 80
_COLOUR = {
    Outcome.CURED: VERDICT[Action.TOP_OFF],
    Outcome.BETTER: STATE["weak"],
    Outcome.UNCHANGED: VERDICT[Action.RESCAN],
    Outcome.WORSE: VERDICT[Action.REJECT],
}
_MARKS = "A tick: came back. A ring: still missing. A cross: newly missing. Rows count from 0 at the top of a ladder."


def comparison_html(comparison: Comparison, before: Scored, after: Scored) -> str:
    """Write the comparison as one HTML document: no script, nothing fetched."""
    word, meaning = OUTCOME_WORDS[comparison.outcome]
    assessment = comparison.assessment
    picture, width, height = _picture(comparison, before, after)
    names = [sheet.image.path for sheet in (comparison.before, comparison.after)]
    rows = [
        tag("tr", tag("th", ink_word(ink.ink), scope="row"), tag("td", items("ul", ink_phrases(ink))))
        for ink in comparison.inks
    ]
    heads = [tag("th", text, scope="col") for text in ("Ink", "Rows")]
    table = tag("table", tag("caption", "What changed"), tag("thead", tag("tr", *heads)), tag("tbody", *rows))
    return fill(
        (Path(__file__).parent / "page.html").read_text(encoding="utf-8"),
        {
            "title": f"{word}: {comparison.after.ticket or Path(names[1]).name}",
            "ink": hex_of(INK),
            "muted": hex_of(MUTED),
            "rule": hex_of(RULE),
            "faint": hex_of(FAINT),
            "verdict": hex_of(_COLOUR[comparison.outcome]),
            "word": word,
            "meaning": meaning,
            "identity": _identity(comparison),
            "reasons": items("ul", comparison.reasons),
            "picture": picture,
            "picture_width": str(width),
            "picture_height": str(height),
            "picture_alt": "Both sheets side by side. "
            + " ".join(f"{ink_word(ink.ink)}: {'; '.join(ink_phrases(ink))}." for ink in comparison.inks),
            "marks": _MARKS,
            "profile": Markup(""),
            "inks": table if rows else Markup(""),
            "steps": _section(f"As it now stands: {HEADLINES[assessment.action][0].lower()}", _now(comparison)),
            "cautions": _section("Take care", items("ul", assessment.cautions, class_="small")),
            "history": Markup(""),
            "facts": _section("Pictures", items("ul", [_file(s) for s in (comparison.before, comparison.after)])),
            "footer": f"printcheck {__version__}",
        },
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


def _section(title: str, content: Markup) -> Markup:
    return tag("section", tag("h2", title), content) if content else Markup("")


def _picture(comparison: Comparison, before: Scored, after: Scored) -> tuple[str, int, int]:
    image = Image.fromarray(comparison_picture(comparison, before, after))
    size = (_PICTURE_WIDTH_PX, round(image.height * _PICTURE_WIDTH_PX / image.width))
    image = image.resize(size, reducing_gap=2)
    out = io.BytesIO()
    # colour at full resolution: thin coloured lines are what the picture is about
    image.save(out, "JPEG", quality=_JPEG_QUALITY, subsampling=0, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode(), image.width, image.height
