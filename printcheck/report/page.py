"""The page report: one HTML file with everything in it, to be read on a phone, printed on one page, or mailed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from printcheck import __version__
from printcheck.document import ScoredSheet
from printcheck.measure.result import LinesReading, SolidReading
from printcheck.pipeline import Scored
from printcheck.report.annotate import marked_page
from printcheck.report.markup import Markup, items, joined, tag
from printcheck.report.page_frame import Picture, page_of, section, table
from printcheck.report.page_profile import profile_figure
from printcheck.report.palette import STATE, VERDICT, hex_of, ink_rgb, letters_on
from printcheck.report.toner_words import toner_in_words
from printcheck.report.words import HEADLINES, capture_line, findings_in_words, ink_word, limit_in_words
from printcheck.verdict.result import Action

__all__ = ["Visit", "page_html"]

_PICTURE_WIDTH_PX = 1400
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


def page_html(scored: Scored, history: Sequence[Visit] = ()) -> str:
    """The report of one sheet as one HTML document: no script, nothing fetched.

    Parameters
    ----------
    scored : Scored
    history : sequence of Visit
        Earlier sheets of this ticket, oldest first.
    """
    sheet = scored.sheet
    assessment = sheet.assessment
    word, meaning = HEADLINES[assessment.action]
    reasons = [f"{r.text} ({limit})" if (limit := limit_in_words(r)) else r.text for r in assessment.reasons]
    caption = _marks() if sheet.layout is not None else "The picture as it was read."
    if sheet.toner is not None:
        caption = (
            "Rings: a mark that comes back; bars: its spacing; brackets: the ends of a streak; wedges: where a band "
            "is darkest."
        )
    return page_of(
        title=f"{word}: {sheet.ticket or Path(sheet.image.path).name}",
        colour=VERDICT[assessment.action],
        word=word,
        meaning=meaning,
        identity=_identity(sheet),
        reasons=reasons or ["no limit was crossed"],
        picture=Picture(Image.fromarray(marked_page(scored)), _PICTURE_WIDTH_PX, _alt(sheet), caption),
        below=[profile_figure(scored)] if sheet.toner is None else [],  # whose profile is its streaks
        beside=[
            _inks(sheet),
            _toner(sheet),
            section("Next steps", items("ol", assessment.next_steps)),
            section("Take care", items("ul", assessment.cautions, class_="small")),
            _history(history),
            _facts(sheet),
        ],
        footer=f"printcheck {__version__}, {Path(sheet.image.path).name}, SHA-256 {sheet.image.sha256}",
    )


def _identity(sheet: ScoredSheet) -> str:
    parts = [f"Ticket {sheet.ticket}"] if sheet.ticket else []
    if sheet.layout is not None:
        parts += [f"head {sheet.layout.head.name}", sheet.layout.page.name]
    return ", ".join([*parts, capture_line(sheet)])


def _alt(sheet: ScoredSheet) -> str:
    if sheet.layout is None:
        return "The picture as it was read; no test sheet could be judged in it."
    said = "; ".join(f"{ink_word(r.ink)}: {', '.join(findings_in_words(r, 6))}" for r in sheet.lines)
    if sheet.toner is not None:
        said = "; ".join(f"{what}: {finding}" for what, finding in toner_in_words(sheet.toner))
    return f"The test sheet with its findings marked. {said}."


def _inks(sheet: ScoredSheet) -> Markup:
    solids = {solid.ink: solid for solid in sheet.solids if solid.lab is not None}
    references = {solid.reference for solid in solids.values() if solid.reference is not None}
    one = references.pop() if len(references) == 1 else None  # then said once, above all
    rows = [
        [
            joined([_chip(reading.ink), ink_word(reading.ink)]),
            _findings(reading),
            *([_swatch(reading, solids.get(reading.ink), named=one is None)] if solids else []),
        ]
        for reading in sheet.lines
    ]
    heading = "Solid" if one is None else f"Solid, from {one}"
    return table("Inks", ["Ink", "Rows", *([heading] if solids else [])], rows)


def _toner(sheet: ScoredSheet) -> Markup:
    if sheet.toner is None:
        return Markup("")
    return table("Toner", ["Measured", "Found"], [[what, finding] for what, finding in toner_in_words(sheet.toner)])


def _chip(ink: str) -> Markup:
    rgb = ink_rgb(ink)
    style = f"background:{hex_of(rgb)};color:{hex_of(letters_on(rgb))}"
    return tag("span", ink, class_="chip", style=style, aria_hidden="true")


def _findings(reading: LinesReading) -> Markup:
    phrases = findings_in_words(reading, _ROWS_LISTED)
    return joined(phrases) if len(phrases) == 1 else items("ul", phrases)


def _swatch(reading: LinesReading, solid: SolidReading | None, *, named: bool) -> Markup:
    """A solid's colour, and how far it is from its reference, which is `named` where the inks have several."""
    if solid is None or solid.lab is None or reading.absent:
        return joined(["not measured"])
    measured = " L*\u00a0{:.0f}, a*\u00a0{:.0f}, b*\u00a0{:.0f}".format(*solid.lab)
    parts: list[str] = [tag("div", _colour_chip(solid.lab), measured, class_="colour")]
    if solid.reference_lab is not None and solid.delta_e00 is not None:
        said = f" {solid.delta_e00:.1f} deltaE00"
        if solid.delta_e00_ci95 is not None:
            said += " ({:.1f} to {:.1f})".format(*solid.delta_e00_ci95)
        if named:
            said += f" from {solid.reference}"
        parts.append(tag("div", _colour_chip(solid.reference_lab), said, class_="colour"))
    return joined(parts)


def _colour_chip(lab: tuple[float, float, float]) -> Markup:
    lightness, a, b = lab
    # CSS Color 4: lab() is CIELAB under D50, as measured
    return tag("span", class_="swatch", style=f"background:lab({lightness:.1f}% {a:.1f} {b:.1f})")


def _history(history: Sequence[Visit]) -> Markup:
    rows = [
        [
            visit.when,
            visit.done_before or "nothing",
            "not known" if visit.rows_missing is None else str(visit.rows_missing),
            HEADLINES[visit.action][0].lower(),
        ]
        for visit in history
    ]
    return table("This ticket before", ["When", "Done before", "Rows missing", "Verdict"], rows)


def _facts(sheet: ScoredSheet) -> Markup:
    capture, facts = sheet.capture, [("file", f"{sheet.image.width_px} x {sheet.image.height_px} pixels")]
    if capture.kind is not None:
        facts.append(("capture", capture_line(sheet)))
    if capture.registration_doubt_mm is not None:
        facts.append(("rows found to", f"{capture.registration_doubt_mm:.3f} mm"))
    if capture.rotation_deg is not None:
        facts.append(("turned by", f"{capture.rotation_deg:.2f} degrees"))
    if capture.print_scale_x is not None and capture.print_scale_y is not None:
        facts.append(("printed at", f"{100 * capture.print_scale_x:.2f} x {100 * capture.print_scale_y:.2f} %"))
    told = {reason.text for reason in sheet.assessment.reasons}
    notes = items("ul", [w for w in capture.warnings if w not in told], class_="small")
    terms = [part for name, value in facts for part in (tag("dt", name), tag("dd", value))]
    return joined([section("Picture", tag("dl", *terms)), section("Notes", notes)])


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
