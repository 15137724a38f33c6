from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from printcheck.pipeline import Scored
from printcheck.report.page import Visit, page_html
from printcheck.report.palette import FAINT, INK, MUTED, PAPER, STATE, VERDICT, contrast
from printcheck.verdict.result import Action

# HTML Living Standard, section 13.1.2: void elements
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
SELF_CLOSED = {"rect", "path"}


class Reader(HTMLParser):
    """Checks that tags nest, and keeps what a test may ask for."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in SELF_CLOSED | VOID
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.text.append(data)

    def named(self, name: str) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.tags if tag == name]


@pytest.fixture(scope="module", params=["faulty", "clean", "refused"])
def page(request: pytest.FixtureRequest) -> tuple[Scored, str, Reader]:
    scored: Scored = request.getfixturevalue(request.param)
    text = page_html(scored)
    return scored, text, Reader(text)


def test_page_is_well_formed_with_landmarks(page: tuple[Scored, str, Reader]) -> None:
    _, text, reader = page
    assert text.startswith("<!DOCTYPE html>")
    assert reader.open == []
    for landmark in ("header", "main", "footer", "h1", "title"):
        assert len(reader.named(landmark)) == 1
    assert reader.named("html") == [{"lang": "en"}]


def test_page_needs_no_network_and_no_script(page: tuple[Scored, str, Reader]) -> None:
    _, text, reader = page
    assert reader.named("script") == []
    addresses = [v for _, a in reader.tags for k, v in a.items() if k in ("src", "href", "srcset", "action")]
    assert addresses
    assert all(v is not None and v.startswith("data:") for v in addresses)
    assert not re.search(r"url\(|@import|https?:", text)


def test_pictures_and_tables_can_be_heard(page: tuple[Scored, str, Reader]) -> None:
    scored, _, reader = page
    pictures, heads = reader.named("img"), reader.named("th")
    assert pictures
    assert bool(heads) == (scored.sheet.layout is not None)  # where no sheet was found there is no table
    assert all(image.get("alt") for image in pictures)
    assert all(head.get("scope") in ("row", "col") for head in heads)


def test_verdict_comes_first(page: tuple[Scored, str, Reader]) -> None:
    scored, _, reader = page
    words = [t.strip() for t in reader.text if t.strip()]
    assert words[1] == scored.sheet.assessment.action.value.replace("-", " ").upper()  # after the title
    said = " ".join(words)
    for text in (
        *(r.text for r in scored.sheet.assessment.reasons),
        *scored.sheet.assessment.next_steps,
        *scored.sheet.assessment.cautions,
    ):
        assert text in said


def test_a_ticket_cannot_become_markup(faulty: Scored, hostile_ticket: str) -> None:
    assert faulty.sheet.ticket == hostile_ticket  # it came through the code on the sheet
    text = page_html(faulty)
    assert "<script" not in text
    assert hostile_ticket in "".join(Reader(text).text)


def test_a_file_name_cannot_become_markup(refused: Scored) -> None:
    image = replace(refused.sheet.image, path='x"><img src=y>$ink${rule}.png')
    text = page_html(replace(refused, sheet=replace(refused.sheet, image=image)))
    assert len(Reader(text).named("img")) == 1
    assert "$ink${rule}.png" in text


def test_history_is_told(clean: Scored) -> None:
    visits = (Visit("2 March", Action.PURGE, 12, ""), Visit("<3 March>", Action.RESCAN, None, "blot"))
    said = " ".join(Reader(page_html(clean, visits)).text)
    for word in ("2 March", "12", "<3 March>", "not known", "blot", "purge"):
        assert word in said


def test_contrast_is_that_of_the_standard() -> None:
    # WCAG 2.1: black on white is 21:1; #777777 just misses 4.5 at 4.48 (widely published, from memory)
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert contrast((0x77, 0x77, 0x77), (255, 255, 255)) == pytest.approx(4.48, abs=0.005)


def test_text_colours_meet_aa() -> None:
    # WCAG 2.1, 1.4.3: 4.5:1 for text; 1.4.11: 3:1 for graphics
    for back in (PAPER, FAINT):
        assert contrast(INK, back) >= 4.5
        assert contrast(MUTED, back) >= 4.5
    assert all(contrast(PAPER, colour) >= 4.5 for colour in VERDICT.values())
    assert all(contrast(PAPER, colour) >= 3 for colour in STATE.values())
