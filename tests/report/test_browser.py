"""The pages in a real browser: quiet, offline, readable on a phone, one or two pages on paper, accessible.

The browser is Debian's ``chromium`` (or the one ``PRINTCHECK_TEST_BROWSER`` names) driven by playwright; the checker
is axe-core, which tests against WCAG 2.1 A and AA and its own landmark rules. Where there is no browser these tests
are skipped, and say so.
"""

from __future__ import annotations

import io
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pypdfium2
import pytest

from printcheck.pipeline import Scored, score_image
from printcheck.report.compare_page import comparison_html
from printcheck.report.page import Visit, page_html
from printcheck.verdict.compare import compare_sheets
from printcheck.verdict.result import Action

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed (extra 'dev')")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed (extra 'dev')")

BROWSER = os.environ.get("PRINTCHECK_TEST_BROWSER") or shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no chromium on this machine: apt-get install chromium")

PHONE = {"width": 360, "height": 740}  # CSS pixels of a small phone
DESK = {"width": 1280, "height": 900}
PAPERS = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}  # points; ISO 216 and ANSI/ASME Y14.1
VISITS = tuple(
    Visit(f"2026-11-0{day} 09:12", Action.PURGE, 5 - day, "blot" if day > 1 else "") for day in range(1, 4)
)


@pytest.fixture(scope="module")
def samples_scored(samples: Path) -> dict[str, Scored]:
    names = ("black-clogged", "black-cleaned", "tricolour-good", "four-ink-phone", "toner-drum")
    return {name: score_image(samples / f"{name}.jpg") for name in names}


@pytest.fixture(scope="module")
def written(
    samples_scored: dict[str, Scored], faulty: Scored, refused: Scored, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    """A page of every kind that the program writes, by name."""
    scored = samples_scored
    before, after = scored["black-clogged"], scored["black-cleaned"]
    pages = {name: page_html(one, VISITS if name == "black-cleaned" else ()) for name, one in scored.items()}
    pages |= {"hostile-ticket": page_html(faulty), "no-sheet": page_html(refused)}
    pages["better"] = comparison_html(compare_sheets(before.sheet, after.sheet), before, after)
    good = scored["tricolour-good"]
    pages["unchanged"] = comparison_html(compare_sheets(good.sheet, good.sheet), good, good)
    pages["not-compared"] = comparison_html(
        compare_sheets(refused.sheet, good.sheet, ignore_ticket=True), refused, good
    )
    folder = tmp_path_factory.mktemp("pages")
    out = {}
    for name, text in pages.items():
        out[name] = folder / f"{name}.html"
        out[name].write_text(text, encoding="utf-8")
    return out


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    with playwright.sync_playwright() as drive:
        opened = drive.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def visit(browser) -> Iterator[Callable[..., object]]:
    """Open a page file; what the browser said and asked the network for is kept on it."""
    contexts = []

    def call(path: Path, size: dict[str, int] = DESK):
        context = browser.new_context(viewport=size)
        contexts.append(context)
        page = context.new_page()
        page.said, page.asked = [], []
        page.on("console", lambda message: page.said.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: page.said.append(str(error)))
        page.on("request", lambda request: page.asked.append(request.url))
        page.goto(path.as_uri(), wait_until="load")
        return page

    yield call
    for context in contexts:
        context.close()


NAMES = (
    "black-clogged", "black-cleaned", "tricolour-good", "four-ink-phone", "toner-drum", "hostile-ticket", "no-sheet",
    "better", "unchanged", "not-compared",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_quiet_and_offline(name: str, written: dict[str, Path], visit) -> None:
    page = visit(written[name])
    assert page.said == []
    asked = [url for url in page.asked if not url.startswith("data:")]
    assert asked == [written[name].as_uri()]
    assert page.evaluate("document.images[0].naturalWidth") > 100  # the picture is in the file, and decodes


@pytest.mark.parametrize("name", NAMES)
def test_nothing_to_scroll_sideways_on_a_phone(name: str, written: dict[str, Path], visit) -> None:
    page = visit(written[name], PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    wide = page.evaluate(
        "[...document.body.querySelectorAll('*')].filter(e => e.getBoundingClientRect().right > innerWidth + 0.5)"
        ".map(e => e.outerHTML.slice(0, 80))"
    )
    assert wide == []
    columns = page.evaluate("getComputedStyle(document.querySelector('main')).gridTemplateColumns")
    assert len(columns.split()) == 1


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("name", ["toner-drum", "four-ink-phone", "black-cleaned", "better"])
def test_no_word_of_a_row_s_head_is_broken(name: str, size: dict[str, int], written: dict[str, Path], visit) -> None:
    broken = """[...document.querySelectorAll('tbody th')].flatMap(head => {
        const walk = document.createTreeWalker(head, NodeFilter.SHOW_TEXT), out = [];
        for (let node = walk.nextNode(); node; node = walk.nextNode())
            for (const word of node.data.matchAll(/[A-Za-z]+/g)) {
                const range = document.createRange();
                range.setStart(node, word.index);
                range.setEnd(node, word.index + word[0].length);
                if (range.getClientRects().length > 1) out.push(word[0]);
            }
        return out;
    })"""
    page = visit(written[name], size)
    assert page.evaluate("document.querySelectorAll('tbody th').length") > 0
    assert page.evaluate(broken) == []


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_prints_on_one_or_two_pages(name: str, paper: str, written: dict[str, Path], visit) -> None:
    data = visit(written[name]).pdf(format=paper, prefer_css_page_size=False, print_background=True)
    document = pypdfium2.PdfDocument(io.BytesIO(data))
    try:
        assert 1 <= len(document) <= 2
        size = document[0].get_size()
        assert size == pytest.approx(PAPERS[paper], abs=1.5)
        text = document[0].get_textpage().get_text_range()
        assert any(
            word in text for word in ("TOP OFF", "PURGE", "REJECT", "RESCAN", "BETTER", "UNCHANGED", "NOT COMPARED")
        )
    finally:
        document.close()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("name", NAMES)
def test_axe_finds_no_barrier(name: str, size: dict[str, int], written: dict[str, Path], visit) -> None:
    found = axe.Axe().run(visit(written[name], size)).response
    assert [(v["id"], [n["html"][:90] for n in v["nodes"]]) for v in found["violations"]] == []
    passed = {rule["id"] for rule in found["passes"]}
    # it did look: contrast, the landmarks, the picture's text
    assert {"color-contrast", "landmark-one-main", "region", "image-alt", "page-has-heading-one"} <= passed
    doubtful = [rule["id"] for rule in found["incomplete"] if rule["id"] != "color-contrast"]
    assert doubtful == []  # contrast on a chip over a border is for a person; test_page.py works it out


def test_axe_would_find_one(written: dict[str, Path], visit, tmp_path: Path) -> None:
    """The checker is really at work: the same page with pale text and no main landmark fails."""
    spoilt = written["tricolour-good"].read_text(encoding="utf-8").replace("--muted: #585f69", "--muted: #c8c8c8")
    spoilt = spoilt.replace("<main>", "<div>").replace("</main>", "</div>")
    path = tmp_path / "spoilt.html"
    path.write_text(spoilt, encoding="utf-8")
    found = {v["id"] for v in axe.Axe().run(visit(path)).response["violations"]}
    assert {"color-contrast", "landmark-one-main"} <= found


def test_the_band_profile_is_drawn_for_every_ink(written: dict[str, Path], visit) -> None:
    page = visit(written["tricolour-good"])
    assert page.locator("figure.profile polyline").count() == 3
    label = page.locator("figure.profile svg").get_attribute("aria-label")
    assert all(word in label for word in ("cyan", "magenta", "yellow"))
    size = page.locator("figure.profile svg").bounding_box()
    for number in range(3):
        line = page.locator("figure.profile polyline").nth(number).bounding_box()
        assert size["y"] <= line["y"]
        assert line["y"] + line["height"] <= size["y"] + size["height"]
        assert line["width"] > 0.5 * size["width"]  # the strip runs down most of the page
