"""PDF scans: pixels are those of the embedded image where a page is one image; truth is the array put in."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from captures import read_capture
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from printcheck.capture.decode import read_captures
from printcheck.capture.resolution import Resolution
from printcheck.errors import InputError

Page = NDArray[np.uint8]


def jpeg(page: Page) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(page).save(buffer, "JPEG", quality=95)
    return buffer.getvalue()


def canvas(path: Path, width_pt: float, height_pt: float) -> Canvas:
    return Canvas(str(path), pagesize=(width_pt, height_pt))


@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_full_page_jpeg_is_taken_out_undecoded(tmp_path: Path, page: Page, mode: str) -> None:
    image = Image.fromarray(page).convert(mode)
    image.save(tmp_path / "a.pdf", resolution=300, quality=95)  # Pillow's writer
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=95)
    (tmp_path / "a.jpg").write_bytes(buffer.getvalue())
    capture, plain = read_capture(tmp_path / "a.pdf"), read_capture(tmp_path / "a.jpg")
    assert_array_equal(capture.pixels, plain.pixels)
    assert capture.format == "PDF"
    assert capture.stated_dpi is not None
    assert capture.stated_dpi.agrees(Resolution(300, 300))


def test_a_phones_picture_stays_one_in_a_pdf(tmp_path: Path, page: Page) -> None:
    """Exposure data says that a camera took it (EXIF 2.3), and a page has no scale then, whatever the PDF states."""
    image, exif = Image.fromarray(page), Image.Exif()
    exif.get_ifd(0x8769)[0x829A] = 1 / 60  # ExposureTime
    for name, more in (("phone", {"exif": exif}), ("scanner", {})):
        buffer = io.BytesIO()
        image.save(buffer, "JPEG", quality=95, **more)
        sheet = canvas(tmp_path / f"{name}.pdf", 380, 260)
        (tmp_path / f"{name}.jpg").write_bytes(buffer.getvalue())
        sheet.drawImage(str(tmp_path / f"{name}.jpg"), 0, 0, 380, 260)
        sheet.save()
        assert read_capture(tmp_path / f"{name}.pdf").camera == (name == "phone")


def test_lossless_page_comes_out_to_the_bit(tmp_path: Path, page: Page) -> None:
    sheet = canvas(tmp_path / "a.pdf", 380 * 0.12, 260 * 0.12)  # 600 dots/inch
    sheet.drawImage(ImageReader(Image.fromarray(page)), 0, 0, 380 * 0.12, 260 * 0.12)
    sheet.save()
    capture = read_capture(tmp_path / "a.pdf")
    assert_array_equal(capture.pixels, page[:, :, ::-1])
    assert capture.stated_dpi is not None
    assert capture.stated_dpi.agrees(Resolution(600, 600))


def test_a_mirrored_placement_is_undone(tmp_path: Path, page: Page) -> None:
    sheet = canvas(tmp_path / "a.pdf", 380, 260)
    sheet.transform(-1, 0, 0, 1, 380, 0)
    sheet.drawImage(ImageReader(Image.fromarray(page)), 0, 0, 380, 260)
    sheet.save()
    capture = read_capture(tmp_path / "a.pdf")
    assert capture.mirrored_by_exif
    assert_array_equal(capture.pixels, page[:, ::-1, ::-1])


def test_invisible_text_of_character_recognition_does_not_hinder(tmp_path: Path, page: Page) -> None:
    sheet = canvas(tmp_path / "a.pdf", 380, 260)
    sheet.drawImage(ImageReader(Image.fromarray(page)), 0, 0, 380, 260)
    text = sheet.beginText(20, 20)
    text.setTextRenderMode(3)
    text.textLine("recognised")
    sheet.drawText(text)
    sheet.save()
    assert_array_equal(read_capture(tmp_path / "a.pdf").pixels, page[:, :, ::-1])


def test_a_drawn_page_is_rendered_at_300_dots_per_inch(tmp_path: Path) -> None:
    sheet = canvas(tmp_path / "a.pdf", 144, 216)
    sheet.rect(36, 36, 36, 72, stroke=0, fill=1)
    sheet.save()
    capture = read_capture(tmp_path / "a.pdf")
    assert_allclose((capture.width_px, capture.height_px), (600, 900), atol=1)  # PDFium rounds up
    dark = capture.pixels.min(axis=2) < 128
    assert_allclose(dark.sum(), 150 * 300, rtol=0.02)  # 36 x 72 points
    assert dark[700, 200]
    assert any("300 dots/inch" in note for note in capture.notes)


def test_a_page_in_strips_is_drawn_at_the_strips_own_resolution(tmp_path: Path, page: Page) -> None:
    sheet = canvas(tmp_path / "a.pdf", 380 * 0.144, 260 * 0.144)  # 500 dots/inch
    for top in (0, 130):
        strip = ImageReader(Image.fromarray(page[top : top + 130]))
        sheet.drawImage(strip, 0, (130 - top) * 0.144, 380 * 0.144, 130 * 0.144)
    sheet.save()
    capture = read_capture(tmp_path / "a.pdf")
    assert not capture.layered
    assert abs(capture.width_px - 380) <= 1
    assert np.abs(capture.pixels[:260, :380, ::-1].astype(int) - page).mean() < 3


@pytest.mark.parametrize("mask", ["soft", "stencil"])
def test_a_page_in_layers_is_told_from_one_in_strips(tmp_path: Path, page: Page, mask: str) -> None:
    """Mixed raster content (ISO/IEC 16485): a coarse background, and over it what a mask takes for text."""
    width, height = 380 * 0.24, 260 * 0.24
    sheet = canvas(tmp_path / "a.pdf", width, height)
    sheet.drawImage(ImageReader(Image.fromarray(page).resize((127, 87))), 0, 0, width, height)
    if mask == "soft":
        text = np.dstack([page // 4, 255 * (page[..., 1] < 128).astype(np.uint8)])
    else:
        text = np.where(page[..., 1:2] < 128, np.uint8(0), np.uint8(255)) * np.ones(3, np.uint8)
    over = ImageReader(Image.fromarray(text))
    sheet.drawImage(over, 0, 0, width, 0.4 * height, mask="auto" if mask == "soft" else [255] * 6)
    sheet.save()
    assert read_capture(tmp_path / "a.pdf").layered
    stamped = canvas(tmp_path / "b.pdf", width, height)
    stamped.drawImage(ImageReader(Image.fromarray(page)), 0, 0, width, height)
    stamped.drawImage(over, 0, 0, 0.3 * width, 0.1 * height)
    stamped.save()
    assert not read_capture(tmp_path / "b.pdf").layered


def test_pages_come_in_order(tmp_path: Path, page: Page) -> None:
    pages = [Image.fromarray(page // (i + 1)) for i in range(3)]
    pages[0].save(tmp_path / "a.pdf", save_all=True, append_images=pages[1:], resolution=150)
    captures = list(read_captures(tmp_path / "a.pdf"))
    assert [c.page for c in captures] == [0, 1, 2]
    assert captures[0].pixels.mean() > captures[1].pixels.mean() > captures[2].pixels.mean()


def test_the_pixel_limit_holds_for_drawn_and_embedded_pages(tmp_path: Path, page: Page) -> None:
    sheet = canvas(tmp_path / "a.pdf", 595, 842)
    sheet.drawString(100, 100, "text")
    sheet.save()
    Image.fromarray(page).save(tmp_path / "b.pdf")
    for name, limit in (("a.pdf", 5.0), ("b.pdf", 0.05)):
        with pytest.raises(InputError, match="--max-megapixels"):
            read_capture(tmp_path / name, max_megapixels=limit)


def test_damaged_and_locked_documents_are_refused(tmp_path: Path, page: Page) -> None:
    (tmp_path / "a.pdf").write_bytes(b"%PDF-1.7\nnothing of the kind")
    with pytest.raises(InputError, match="damaged"):
        read_capture(tmp_path / "a.pdf")
    sheet = Canvas(str(tmp_path / "b.pdf"), encrypt="secret")
    sheet.drawString(100, 100, "text")
    sheet.save()
    with pytest.raises(InputError, match="password"):
        read_capture(tmp_path / "b.pdf")
