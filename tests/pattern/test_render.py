"""What the writers draw, judged by renderers that are none of ours: PDFium, Ghostscript, Pillow."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from PIL import Image

from printcheck.aside import write_aside
from printcheck.errors import OutputError, PatternError
from printcheck.geometry import Box
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.marks import dark_modules
from printcheck.pattern.pages import PAGES
from printcheck.pattern.render import WRITERS, write_sheet
from printcheck.pattern.render.pdf import merged_modules, pdf_bytes
from printcheck.pattern.render.png import png_bytes
from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import Sheet, make_sheet
from printcheck.units import mm_to_dots

from .conftest import page_operators

Image.MAX_IMAGE_PIXELS = None
TINT_LEVELS = 1  # a renderer may round a tint's level the other way


def with_pdfium(pdf: bytes, dots_per_inch: int, folder: Path) -> NDArray[np.uint8]:
    page = pypdfium2.PdfDocument(pdf)[0]
    return np.asarray(page.render(scale=dots_per_inch / 72).to_pil().convert("RGB"))


def with_ghostscript(pdf: bytes, dots_per_inch: int, folder: Path) -> NDArray[np.uint8]:
    gs = shutil.which("gs")
    if gs is None:
        pytest.skip("Ghostscript is not installed: the proof with a second renderer was not made")
    source, target = folder / "sheet.pdf", folder / "sheet.ppm"
    source.write_bytes(pdf)
    subprocess.run(
        [gs, "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=ppmraw", f"-r{dots_per_inch}", "-o", target, source],
        check=True,
        capture_output=True,
    )
    return np.asarray(Image.open(target))


def region(picture: NDArray[np.uint8], box: Box, dots_per_inch: int, around: int = 1) -> NDArray[np.uint8]:
    """The pixels of `box` and `around` more on every side."""
    x0, y0, x1, y1 = (round(v * dots_per_inch / 25.4) for v in (box.x0, box.y0, box.x1, box.y1))
    return picture[y0 - around : y1 + around, x0 - around : x1 + around]


@pytest.mark.parametrize("render", [with_pdfium, with_ghostscript])
def test_every_dash_covers_exactly_its_own_rows(layout: Layout, render, tmp_path: Path) -> None:
    """Straight from the layout: full ink in the dash's dots, bare paper in all others of the ladder's box."""
    raster = layout.raster
    picture = render(pdf_bytes(make_sheet(layout)), raster, tmp_path)
    assert picture.shape == (mm_to_dots(layout.height_mm, raster), mm_to_dots(layout.width_mm, raster), 3)
    primaries = {"K": (0, 0, 0), "C": (0, 255, 255), "M": (255, 0, 255), "Y": (255, 255, 0)}
    for ladder in layout.ladders:
        seen = region(picture, ladder.box, raster)
        wanted = np.full_like(seen, 255)
        left, top = mm_to_dots(ladder.box.x0, raster) - 1, mm_to_dots(ladder.box.y0, raster) - 1
        for row in range(ladder.rows):
            x0, y0, x1, y1 = (mm_to_dots(v, raster) for v in sum(ladder.dash(row).corners[::2], ()))
            wanted[y0 - top : y1 - top, x0 - left : x1 - left] = primaries[ladder.ink]
        assert (seen == wanted).all(), f"ladder {ladder.ink}, printing {ladder.repeat}"


@pytest.mark.parametrize("render", [with_pdfium, with_ghostscript])
@pytest.mark.parametrize(("head", "page", "times"), [("quad-180", "A4", 1), ("tri-192", "Letter", 2)])
def test_the_pdf_and_the_raster_agree_to_the_dot(head: str, page: str, render, times: int, tmp_path: Path) -> None:
    """All elements but text; also at twice the resolution, where an edge off the grid would paint a row too many."""
    sheet = make_sheet(build_layout(load_head(head), PAGES[page]), "R-20391")
    layout, raster = sheet.layout, sheet.layout.raster
    ours = compose_rgb(sheet)
    theirs = render(pdf_bytes(sheet), raster * times, tmp_path)
    assert theirs.shape[:2] == (ours.shape[0] * times, ours.shape[1] * times)
    for element in (*layout.marks, *layout.codes, *layout.ladders, *layout.patches, *layout.hairlines):
        wanted = region(ours, element.box, raster).repeat(times, 0).repeat(times, 1).astype(int)
        seen = region(theirs, element.box, raster * times, times).astype(int)
        assert np.abs(seen - wanted).max() <= TINT_LEVELS, element


def test_same_input_same_bytes() -> None:
    def sheet() -> Sheet:
        build_layout.cache_clear()
        return make_sheet(build_layout(load_head("tri-100"), PAGES["A4"]), "R-20391")

    for ending, write in WRITERS.items():
        assert write(sheet(), "rgb") == write(sheet(), "rgb"), ending


@pytest.mark.parametrize(("head", "page"), [("quad-416-192", "Letter"), ("quad-180", "A4"), ("toner-mono", "A4")])
def test_the_png_is_the_raster_with_its_resolution(head: str, page: str) -> None:
    """A sheet of either raster, and one of the other kind: what they hold is proved by the tests above."""
    layout = build_layout(load_head(head), PAGES[page])
    sheet = make_sheet(layout)
    data = png_bytes(sheet)
    image = Image.open(io.BytesIO(data))
    assert_allclose(image.info["dpi"], layout.raster, rtol=0.002)
    assert (np.asarray(image.convert("RGB")) == compose_rgb(sheet)).all()
    assert len(data) < 1_000_000


@pytest.mark.parametrize(("page", "points"), [("A4", (595.276, 841.890)), ("Letter", (612, 792))])
def test_the_pdf_page_has_its_size(page: str, points: tuple[float, float]) -> None:
    """A4 as 210 x 297 mm and Letter as 8.5 x 11 in, at 72 points to the inch, to half a dot."""
    pdf = pypdfium2.PdfDocument(pdf_bytes(make_sheet(build_layout(load_head("quad-180"), PAGES[page]))))
    assert len(pdf) == 1
    assert_allclose(pdf[0].get_size(), points, atol=0.5 * 72 / 720 + 0.001)


@pytest.mark.parametrize("head", ["tri-192", "quad-416-192"])
def test_cmyk_asks_for_inks_and_nothing_else(head: str) -> None:
    """Operators of ISO 32000-1, table 74: k sets DeviceCMYK; g, rg, cs, sc, scn would set another space."""
    sheet = make_sheet(build_layout(load_head(head), PAGES["A4"]))
    cmyk = page_operators(pdf_bytes(sheet, "cmyk"))
    setters = set(re.findall(r"(?<=\s)(k|K|g|G|rg|RG|cs|CS|sc|SC|scn|SCN)(?=\s)", cmyk))
    assert setters == {"k"}
    paints = {tuple(float(v) for v in found.split()) for found in re.findall(r"((?:[\d.]+ ){4})k\s", cmyk)}
    for name in (ink.ink for ink in sheet.layout.head.inks):
        assert tuple(float(name == other) for other in "CMYK") in paints
    assert " k\n" not in page_operators(pdf_bytes(sheet, "rgb"))


def test_the_text_can_be_read_out_of_the_pdf(layout: Layout) -> None:
    sheet = make_sheet(layout, "R-20391")
    text = " ".join(pypdfium2.PdfDocument(pdf_bytes(sheet))[0].get_textpage().get_text_bounded().split())
    for wanted in ("Print at 100 %", "Ticket R-20391", layout.head.title, layout.page.name):
        assert wanted in text


def test_modules_merge_into_fewer_rectangles_that_cover_the_same() -> None:
    for number in range(50):
        dark = np.array(dark_modules(number))
        cover = np.zeros(dark.shape, int)
        rectangles = merged_modules(dark.tolist())
        for x0, y0, x1, y1 in rectangles:
            cover[y0:y1, x0:x1] += 1
        assert (cover == dark).all()
        assert len(rectangles) < dark.sum() / 2


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    return make_sheet(build_layout(load_head("mono-416"), PAGES["Letter"]))


@pytest.mark.parametrize(
    ("name", "colour", "says"),
    [
        ("a.png", "cmyk", "a PNG holds RGB only"),
        ("a.tif", "rgb", r"end it in \.pdf or \.png"),
        ("a", "rgb", r"end it in \.pdf or \.png"),
        ("a.pdf", "hsv", "use rgb or cmyk"),
    ],
)
def test_what_no_format_can_hold_is_refused(sheet: Sheet, tmp_path: Path, name: str, colour: str, says: str) -> None:
    with pytest.raises(PatternError, match=says):
        write_sheet(sheet, tmp_path / name, colour)
    assert not list(tmp_path.iterdir())


def test_the_ending_may_be_in_capitals(sheet: Sheet, tmp_path: Path) -> None:
    write_sheet(sheet, tmp_path / "SHEET.PDF")
    assert (tmp_path / "SHEET.PDF").read_bytes().startswith(b"%PDF-")


def test_a_place_that_can_not_be_written_is_one_line(sheet: Sheet, tmp_path: Path) -> None:
    (tmp_path / "folder.pdf").mkdir()
    (tmp_path / "plain").write_text("")
    for path in (
        tmp_path / "none" / "a.pdf",
        tmp_path / "folder.pdf",
        tmp_path / "plain" / "a.pdf",
        tmp_path / ("x" * 300 + ".pdf"),
    ):
        with pytest.raises(OutputError) as refusal:
            write_sheet(sheet, path)
        assert "\n" not in str(refusal.value)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder.pdf", "plain"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError(28, "No space left on device")])
def test_a_stopped_write_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop: BaseException
) -> None:
    def stopped(_: int) -> None:
        raise stop

    path = tmp_path / "sheet.pdf"
    path.write_bytes(b"old")
    monkeypatch.setattr("os.fsync", stopped)
    with pytest.raises((KeyboardInterrupt, OutputError)):
        write_aside(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]
