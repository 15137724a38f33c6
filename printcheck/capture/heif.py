"""HEIF (HEIC), as phones write it, through the optional pillow-heif."""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np

from printcheck.capture.header import device_mark, exif_facts, load_exif, unreadable
from printcheck.capture.limits import check_size
from printcheck.capture.native_log import native_log
from printcheck.capture.nclx import profile_of_code_points
from printcheck.capture.raster import drop_alpha
from printcheck.capture.result import Capture, Pixels
from printcheck.capture.source import Source
from printcheck.capture.still import checked_profile
from printcheck.errors import InputError

__all__ = ["is_heif", "read_pages"]

# Brands of ISO/IEC 23008-12 and of its HEVC profile; AVIF's are not among them
_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})
_DAMAGED = "the HEIC picture is damaged: send it again, or set the phone's camera to JPEG"


def is_heif(data: bytes) -> bool:
    """Tell whether the file type box names a HEIF brand."""
    return data[4:8] == b"ftyp" and data[8:12] in _BRANDS


def read_pages(source: Source, max_megapixels: float) -> Iterator[Capture | InputError]:
    """Yield the primary picture of a HEIF file, or the reason why it can't be read."""
    try:
        with unreadable(source.path, _DAMAGED):
            capture = _read(source, max_megapixels)
    except InputError as error:
        yield error
    else:
        yield capture


def _read(source: Source, max_megapixels: float) -> Capture:
    try:
        import pillow_heif
    except ImportError:
        raise InputError(
            f"{source.path}: reading HEIC needs one more package: pip install 'printcheck[heic]', "
            "or set the phone's camera to JPEG"
        ) from None
    # 10- and 12-bit pictures are widened to 16 bit, whose full scale is the format's own
    opened = pillow_heif.open_heif(io.BytesIO(source.data), convert_hdr_to_8bit=False, bgr_mode=True)
    primary = opened[opened.primary_index]
    width_px, height_px = primary.size
    check_size(source.path, width_px, height_px, max_megapixels)
    info: dict[str, Any] = dict(primary.info)
    with native_log():
        decoded: Any = np.asarray(primary)
    if decoded.ndim == 3 and decoded.shape[2] == 4:
        decoded = drop_alpha(decoded, alpha=True, grey=False)
    pixels: Pixels = np.ascontiguousarray(decoded)
    # libheif has turned and mirrored the picture: EXIF must not do it again
    read_exif = partial(load_exif, info.get("exif") or b"")
    _, stated_dpi, camera = exif_facts(read_exif)
    notes: list[str] = []
    icc, profile = checked_profile(info.get("icc_profile") or profile_of_code_points(info.get("nclx_profile")), notes)
    pixels.flags.writeable = False
    return Capture(
        path=source.path,
        sha256=source.sha256,
        format="HEIF",
        page=0,
        width_px=width_px,
        height_px=height_px,
        pixels=pixels,
        orientation=1,
        stated_dpi=stated_dpi,
        icc=icc,
        profile=profile,
        camera=camera,
        notes=tuple(notes),
        device=device_mark(read_exif),
    )
