"""The page report: one HTML file with everything in it, to be read on a phone, printed on one page, or mailed."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from PIL import Image

from printcheck import __version__
from printcheck.document import ScoredSheet
from printcheck.measure.result import LinesReading, SolidReading
from printcheck.pipeline import Scored
from printcheck.report.annotate import marked_page
from printcheck.report.markup import Markup, fill, items, joined, tag
from printcheck.report.palette import FAINT, INK, MUTED, PAPER, RULE, STATE, VERDICT, contrast, hex_of, ink_rgb
from printcheck.report.words import HEADLINES, capture_line, findings_in_words, ink_word, limit_in_words
from printcheck.verdict.result import Action

__all__ = ["Visit", "page_html"]

_PICTURE_WIDTH_PX = 1400
_JPEG_QUALITY = 82
_ROWS_LISTED = 24


@dataclass(frozen=True, slots=True)
class Visit:
    """An earlier sheet of the same ticket.

    Attributes
    ----------
    when : str
        As it is to be shown.
    action : Action
    rows_missing : int or None
    done_before : str
        What was done to the cartridge before that sheet.
    """

    when: str
    action: Action
    rows_missing: int | None
    done_before: str


def page_html(scored: Scored, history: Sequence[Visit] = (), profile: Markup | None = None) -> str:
    """The report of one sheet as one HTML document: no script, nothing fetched.

    Parameters
    ----------
    scored : Scored
    history : sequence of Visit
        Earlier sheets of this ticket, oldest first.
    profile : Markup, optional
        A figure to stand under the picture.
    """
    sheet = scored.sheet
    assessment = sheet.assessment
    word, meaning = HEADLINES[assessment.action]
    picture, width, height = _picture(scored)
    identity = _identity(sheet)
    reasons = [f"{r.text} ({limit})" if (limit := limit_in_words(r)) else r.text for r in assessment.reasons]
    return fill(
        _template(),
        {
            "title": f"{word}: {sheet.ticket or Path(sheet.image.path).name}",
            "ink": hex_of(INK),
            "muted": hex_of(MUTED),
            "rule": hex_of(RULE),
            "faint": hex_of(FAINT),
            "verdict": hex_of(VERDICT[assessment.action]),
            "word": word,
            "meaning": meaning,
            "identity": identity,
            "reasons": items("ul", reasons or ["no limit was crossed"]),
            "picture": picture,
            "picture_width": str(width),
            "picture_height": str(height),
            "picture_alt": _alt(sheet),
            "marks": _marks() if sheet.layout is not None else "The picture as it was read.",
            "profile": profile or Markup(""),
            "inks": _inks(sheet),
            "steps": _section("Next steps", items("ol", assessment.next_steps)),
            "cautions": _section("Take care", items("ul", assessment.cautions, class_="small")),
            "history": _history(history),
            "facts": _facts(sheet),
            "footer": f"printcheck {__version__}, {Path(sheet.image.path).name}, SHA-256 {sheet.image.sha256}",
        },
    )


@lru_cache(maxsize=1)
def _template() -> str:
    return (Path(__file__).parent / "page.html").read_text(encoding="utf-8")


def _picture(scored: Scored) -> tuple[str, int, int]:
    image = Image.fromarray(marked_page(scored))
    if image.width > _PICTURE_WIDTH_PX:
        height = round(image.height * _PICTURE_WIDTH_PX / image.width)
        image = image.resize((_PICTURE_WIDTH_PX, height), reducing_gap=2)
    buffer = io.BytesIO()
    # colour at full resolution: thin coloured lines are what the picture is about
    image.save(buffer, "JPEG", quality=_JPEG_QUALITY, subsampling=0, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(buffer.getvalue()).decode(), image.width, image.height


def _identity(sheet: ScoredSheet) -> str:
    parts = [f"Ticket {sheet.ticket}"] if sheet.ticket else []
    if sheet.layout is not None:
        parts += [f"head {sheet.layout.head.name}", sheet.layout.page.name]
    return ", ".join([*parts, capture_line(sheet)])


def _alt(sheet: ScoredSheet) -> str:
    if sheet.layout is None:
        return "The picture as it was read; no test sheet could be judged in it."
    said = "; ".join(f"{ink_word(r.ink)}: {', '.join(findings_in_words(r, 6))}" for r in sheet.lines)
    return f"The test sheet with its findings marked. {said}."


def _inks(sheet: ScoredSheet) -> Markup:
    if not sheet.lines:
        return Markup("")
    solids = {solid.ink: solid for solid in sheet.solids if solid.lab is not None}
    rows = []
    for reading in sheet.lines:
        cells = [tag("th", _chip(reading.ink), ink_word(reading.ink), scope="row"), tag("td", _findings(reading))]
        if solids:
            cells.append(tag("td", _swatch(reading, solids.get(reading.ink))))
        rows.append(tag("tr", *cells))
    heads = [tag("th", text, scope="col") for text in ("Ink", "Rows", *(["Solid"] if solids else []))]
    return tag("table", tag("caption", "Inks"), tag("thead", tag("tr", *heads)), tag("tbody", *rows))


def _chip(ink: str) -> Markup:
    rgb = ink_rgb(ink)
    text = max((INK, PAPER), key=lambda colour: contrast(colour, rgb))
    style = f"background:{hex_of(rgb)};color:{hex_of(text)}"
    return tag("span", ink, class_="chip", style=style, aria_hidden="true")


def _findings(reading: LinesReading) -> Markup:
    phrases = findings_in_words(reading, _ROWS_LISTED)
    return joined(phrases) if len(phrases) == 1 else items("ul", phrases)


def _swatch(reading: LinesReading, solid: SolidReading | None) -> Markup:
    if solid is None or solid.lab is None or reading.absent:
        return joined(["not measured"])
    lightness, a, b = solid.lab
    # CSS Color 4: lab() is CIELAB under D50, as measured
    style = f"background:lab({lightness:.1f}% {a:.1f} {b:.1f})"
    return joined([tag("span", class_="swatch", style=style), f" L* {lightness:.0f}, a* {a:.0f}, b* {b:.0f}"])


def _section(title: str, content: Markup) -> Markup:
    return tag("section", tag("h2", title), content) if content else Markup("")


def _history(history: Sequence[Visit]) -> Markup:
    if not history:
        return Markup("")
    heads = [tag("th", text, scope="col") for text in ("When", "Done before", "Rows missing", "Verdict")]
    rows = [
        tag(
            "tr",
            tag("th", visit.when, scope="row"),
            tag("td", visit.done_before or "nothing"),
            tag("td", "not known" if visit.rows_missing is None else str(visit.rows_missing)),
            tag("td", HEADLINES[visit.action][0].lower()),
        )
        for visit in history
    ]
    return tag("table", tag("caption", "This ticket before"), tag("thead", tag("tr", *heads)), tag("tbody", *rows))


def _facts(sheet: ScoredSheet) -> Markup:
    capture, facts = sheet.capture, [("file", f"{sheet.image.width_px} x {sheet.image.height_px} pixels")]
    if capture.kind is not None:
        facts.append(("capture", capture_line(sheet)))
    if capture.registration_rms_mm is not None:
        facts.append(("marks found to", f"{capture.registration_rms_mm:.3f} mm"))
    if capture.rotation_deg is not None:
        facts.append(("turned by", f"{capture.rotation_deg:.2f} degrees"))
    if capture.print_scale_x is not None and capture.print_scale_y is not None:
        facts.append(("printed at", f"{100 * capture.print_scale_x:.2f} x {100 * capture.print_scale_y:.2f} %"))
    told = {reason.text for reason in sheet.assessment.reasons}
    notes = items("ul", [w for w in capture.warnings if w not in told], class_="small")
    terms = [part for name, value in facts for part in (tag("dt", name), tag("dd", value))]
    return joined([_section("Picture", tag("dl", *terms)), _section("Notes", notes)])


def _marks() -> Markup:
    """What the shapes mean, drawn as on the picture."""
    shapes = {
        "missing": '<rect x="1" y="4" width="38" height="9" rx="4.5"/>',
        "weak": '<path d="M1 6v2q0 5 5 5h28q5 0 5-5V6"/>',
        "displaced": '<path d="M20 1l6 6-6 6-6-6zM17 14l3 3 3-3"/>',
        "unreadable": '<rect x="1" y="4" width="38" height="9" stroke-dasharray="4 3"/>',
    }
    words = {
        "missing": "missing",
        "weak": "weak",
        "displaced": "off its place, the way it points",
        "unreadable": "not readable",
    }
    entries = [
        tag(
            "li",
            Markup(
                f'<svg viewBox="0 0 40 18" fill="none" stroke="{hex_of(STATE[state])}" stroke-width="2" '
                f'aria-hidden="true">{shape}</svg>'
            ),
            words[state],
        )
        for state, shape in shapes.items()
    ]
    return joined(["Row numbers count from 0 at the top of a ladder.", tag("ul", *entries, class_="marks")])
