"""Scans wrapped in PDF: the embedded image as it is where a page is one image, else the page drawn.

PDFium is used through pypdfium2 and is not thread-safe: one thread a process.
"""

from __future__ import annotations

import ctypes
import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw

from printcheck.capture.header import open_image, unreadable
from printcheck.capture.limits import MAX_PAGES, check_size
from printcheck.capture.native_log import native_log
from printcheck.capture.raster import undo_mirror
from printcheck.capture.resolution import Resolution
from printcheck.capture.result import Capture, Pixels
from printcheck.capture.source import Source
from printcheck.capture.still import checked_profile
from printcheck.capture.still import read_pages as read_still
from printcheck.errors import InputError
from printcheck.limits import LIMITS
from printcheck.units import MM_PER_INCH

__all__ = ["is_pdf", "read_pages"]

_POINTS_PER_INCH = 72.0  # ISO 32000: default user space
_DRAWN_DPI = (300.0, 600.0)  # drawn at the finest embedded image's resolution, within these
_FULL_PAGE = 0.9  # share of the page; scanners leave white margins out of the image
_ONE_LAYER = LIMITS["pdf_cover"].value
_HEADER_WITHIN = 1024  # bytes before the header that readers tolerate; from memory
_MAX_SIDE_INCHES = 200.0  # ISO 32000 annex C: 14400 units
_REMEDY = "scan again, as JPEG or PNG if the scanner offers it"
_DAMAGED = f"the PDF is damaged: {_REMEDY}"


def is_pdf(data: bytes) -> bool:
    """Tell whether `data` starts as a PDF does."""
    return b"%PDF-" in data[:_HEADER_WITHIN]


def read_pages(source: Source, max_megapixels: float) -> Iterator[Capture | InputError]:
    """Each page of a PDF in turn, or the reason why that page can't be read."""
    try:
        with unreadable(source.path, _DAMAGED):
            document = _open(source)
            pages = len(document)
    except InputError as error:
        yield error
        return
    try:
        for index in range(min(pages, MAX_PAGES)):
            try:
                with unreadable(source.path, _DAMAGED), native_log():
                    page = document[index]
                    try:
                        capture = _read_page(source, page, index, max_megapixels)
                    finally:
                        page.close()
            except InputError as error:
                yield error
            else:
                yield capture
    finally:
        document.close()


def _open(source: Source) -> pdfium.PdfDocument:
    try:
        return pdfium.PdfDocument(source.data)
    except pdfium.PdfiumError as error:
        if getattr(error, "err_code", None) == raw.FPDF_ERR_PASSWORD:
            raise InputError(f"{source.path}: this PDF asks for a password: save it without one") from None
        raise InputError(f"{source.path}: {_DAMAGED}") from None


def _read_page(source: Source, page: pdfium.PdfPage, index: int, max_megapixels: float) -> Capture:
    width_in, height_in = (points / _POINTS_PER_INCH for points in page.get_size())
    if not (0.0 < width_in <= _MAX_SIDE_INCHES and 0.0 < height_in <= _MAX_SIDE_INCHES):
        raise InputError(f"{source.path}: page {index + 1} is no sheet of paper: {_REMEDY}")
    image = _only_image(page)
    if image is not None:
        extracted = _extract(source, page, image, index, max_megapixels)
        if extracted is not None:
            return extracted
    dpi = _drawing_dpi(page)
    width_px, height_px = math.ceil(width_in * dpi), math.ceil(height_in * dpi)
    check_size(source.path, width_px, height_px, max_megapixels)
    pixels = _owned(page.render(scale=dpi / _POINTS_PER_INCH))
    note = f"PDF page of {width_in * MM_PER_INCH:.0f} x {height_in * MM_PER_INCH:.0f} mm drawn at {dpi:.0f} dots/inch"
    return replace(_capture(source, index, pixels, Resolution.of(dpi, dpi), (note,)), layered=_layered(page))


def _layered(page: pdfium.PdfPage) -> bool:
    """Tell whether pictures cover the page more than once; strips of a scan, side by side, do so once."""
    images = page.get_objects(filter=(raw.FPDF_PAGEOBJ_IMAGE,), max_depth=1)
    return sum(_share_of_page(page, image) for image in images) > _ONE_LAYER


def _share_of_page(page: pdfium.PdfPage, image: pdfium.PdfImage) -> float:
    left, bottom, right, top = image.get_bounds()
    page_left, page_bottom, page_right, page_top = page.get_bbox()
    wide = max(0.0, min(right, page_right) - max(left, page_left))
    high = max(0.0, min(top, page_top) - max(bottom, page_bottom))
    return float(wide * high / ((page_right - page_left) * (page_top - page_bottom)))


def _only_image(page: pdfium.PdfPage) -> pdfium.PdfImage | None:
    """Find the page's one image, where nothing visible is drawn beside it (invisible text is a scanner's OCR)."""
    found = None
    for item in page.get_objects(max_depth=1):
        if item.type == raw.FPDF_PAGEOBJ_IMAGE and found is None:
            found = item
        elif item.type != raw.FPDF_PAGEOBJ_TEXT or not _invisible(item):
            return None
    if found is None or raw.FPDFPageObj_HasTransparency(found):
        return None
    return found if _share_of_page(page, found) >= _FULL_PAGE else None


def _invisible(text: pdfium.PdfObject) -> bool:
    return bool(raw.FPDFTextObj_GetTextRenderMode(text) == raw.FPDF_TEXTRENDERMODE_INVISIBLE)


def _dpi(image: pdfium.PdfImage) -> Resolution | None:
    """Pixels over the length of the image's edges on the page."""
    m = image.get_matrix()
    width_px, height_px = image.get_px_size()
    width_in, height_in = math.hypot(m.a, m.b) / _POINTS_PER_INCH, math.hypot(m.c, m.d) / _POINTS_PER_INCH
    return Resolution.of(width_px / width_in, height_px / height_in) if width_in > 0 and height_in > 0 else None


def _drawing_dpi(page: pdfium.PdfPage) -> float:
    low, high = _DRAWN_DPI
    images = page.get_objects(filter=(raw.FPDF_PAGEOBJ_IMAGE,), max_depth=3)
    finest = max((max(r.x_dpi, r.y_dpi) for r in map(_dpi, images) if r is not None), default=low)
    return min(max(finest, low), high)


def _extract(
    source: Source, page: pdfium.PdfPage, image: pdfium.PdfImage, index: int, max_megapixels: float
) -> Capture | None:
    """Take the image's own pixels; None for stencils and bilevel pictures, which are safer drawn."""
    if image.get_metadata().bits_per_pixel == 1:
        return None
    width_px, height_px = image.get_px_size()
    check_size(source.path, width_px, height_px, max_megapixels)
    m, dpi = image.get_matrix(), _dpi(image)
    mirrored = m.a * m.d - m.b * m.c < 0
    capture = None
    if image.get_filters(skip_simple=True) == ["DCTDecode"]:
        capture = _embedded_jpeg(source, page, image, max_megapixels)
    if capture is None:
        # PDFium has applied the colour space's profile, where it has one: these are sRGB
        capture = _capture(source, index, _owned(image.get_bitmap()), dpi, ())
    pixels = capture.pixels
    if mirrored:
        pixels = undo_mirror(pixels)
        pixels.flags.writeable = False
    return replace(
        capture,
        format="PDF",
        page=index,
        pixels=pixels,
        orientation=2 if mirrored else 1,
        stated_dpi=dpi,
    )


def _embedded_jpeg(
    source: Source, page: pdfium.PdfPage, image: pdfium.PdfImage, max_megapixels: float
) -> Capture | None:
    """Decode an embedded JPEG as a file would be, with the profile that the PDF gives it."""
    data = bytes(image.get_data(decode_simple=True))
    with open_image(source.path, data) as header:
        if header.mode not in ("L", "RGB"):
            return None  # CMYK in PDF has its own conventions of sign
    capture = next(read_still(source.part(data), max_megapixels))
    if isinstance(capture, InputError):
        raise capture
    if capture.mirrored_by_exif:  # PDF ignores EXIF
        return None
    notes = list(capture.notes)
    icc, profile = checked_profile(_icc(page, image) or capture.icc, notes)
    return replace(capture, icc=icc, profile=profile, notes=tuple(notes))


def _icc(page: pdfium.PdfPage, image: pdfium.PdfImage) -> bytes | None:
    read = getattr(raw, "FPDFImageObj_GetIccProfileDataDecoded", None)  # absent from older PDFium
    size = ctypes.c_size_t(0)
    if read is None or not read(image, page, None, 0, ctypes.byref(size)) or not size.value:
        return None
    buffer = (ctypes.c_uint8 * size.value)()
    return bytes(buffer) if read(image, page, buffer, size.value, ctypes.byref(size)) else None


def _owned(bitmap: pdfium.PdfBitmap) -> Pixels:
    """Grey or B, G, R pixels that outlive PDFium's bitmap."""
    try:
        view = bitmap.to_numpy()
        if view.ndim == 3 and view.shape[2] == 1:
            view = view[:, :, 0]
        return np.array(view[:, :, :3] if view.ndim == 3 else view, order="C")
    finally:
        bitmap.close()


def _capture(source: Source, index: int, pixels: Pixels, dpi: Resolution | None, notes: tuple[str, ...]) -> Capture:
    pixels.flags.writeable = False
    height_px, width_px = pixels.shape[:2]
    icc, profile = checked_profile(None, [])
    return Capture(
        path=source.path,
        sha256=source.sha256,
        format="PDF",
        page=index,
        width_px=width_px,
        height_px=height_px,
        pixels=pixels,
        orientation=1,
        stated_dpi=dpi,
        icc=icc,
        profile=profile,
        camera=False,
        notes=notes,
    )
