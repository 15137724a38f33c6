"""From a path to pixels: every page of every kind of file a scanner or phone writes.

The plain kinds (8- or 16-bit grey or RGB) go to OpenCV straight from the bytes that were hashed, so that reading
costs what ``cv2.imread`` costs. The rest (CMYK, CIELAB, palettes, odd TIFF compressions) goes through Pillow in
bands of rows. PDF and HEIF have modules of their own.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

from printcheck.capture import heif, pdf
from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.capture.result import Capture
from printcheck.capture.source import Source, read_source
from printcheck.capture.still import read_pages
from printcheck.errors import InputError

__all__ = ["read_captures"]


def read_captures(
    path: str | os.PathLike[str], *, max_megapixels: float = DEFAULT_MAX_MEGAPIXELS
) -> Iterator[Capture]:
    """Yield the pages of one file, each decoded only when asked for.

    Parameters
    ----------
    path : path-like
        JPEG, PNG, TIFF, WebP, BMP, HEIF or PDF; told by its bytes, not by its name. Never written to.
    max_megapixels : float
        Pages above it are refused before a pixel is decoded.

    Yields
    ------
    Capture
        At least one. Pages that can't be read are passed over while others can.

    Raises
    ------
    InputError
        No page can be read; the message is that of the first page.
    """
    source = read_source(path)
    first_error: InputError | None = None
    found = False
    for page in _pages(source, max_megapixels):
        if isinstance(page, InputError):
            first_error = first_error or page
        else:
            found = True
            yield page
    if not found:
        raise first_error or InputError(f"{source.path}: there is no page in it: scan it again")


def _pages(source: Source, max_megapixels: float) -> Iterator[Capture | InputError]:
    if pdf.is_pdf(source.data):
        return pdf.read_pages(source, max_megapixels)
    if heif.is_heif(source.data):
        return heif.read_pages(source, max_megapixels)
    return read_pages(source, max_megapixels)
