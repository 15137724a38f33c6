"""JPEG, PNG, TIFF, WebP and BMP: header by Pillow, pixels by OpenCV where it reads them faithfully."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from PIL import Image, TiffImagePlugin

from printcheck.capture.header import Header, open_image, read_header, unreadable
from printcheck.capture.limits import MAX_PAGES, check_size
from printcheck.capture.native_log import native_log
from printcheck.capture.opencv import cv, decoded_file
from printcheck.capture.profile import SRGB_ASSUMED, ProfileError, describe_profile
from printcheck.capture.raster import (
    colour_mode_to_bgr,
    drop_alpha,
    float_to_uint16,
    has_colour_transform,
    undo_mirror,
)
from printcheck.capture.result import MIRRORING_ORIENTATIONS, Capture, Pixels
from printcheck.capture.source import Source
from printcheck.errors import InputError

__all__ = ["checked_profile", "read_pages"]

# TIFF 6.0 tags
_SUBFILE, _BITS, _PHOTOMETRIC, _SAMPLES, _PLANAR, _SAMPLE_FORMAT = 254, 258, 262, 277, 284, 339
_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB, _YCBCR = 0, 1, 2, 6
_REDUCED = 1
_UINT, _FLOAT = 1, 3

_DAMAGED = "the image is damaged, a part of it is missing: copy it again from the scanner or phone, or scan it again"


def read_pages(source: Source, max_megapixels: float) -> Iterator[Capture | InputError]:
    """Each page of `source` in turn, or the reason why that page can't be read."""
    try:
        with unreadable(source.path):
            image = open_image(source.path, source.data)
    except InputError as error:
        yield error
        return
    with image:
        pages = MAX_PAGES if isinstance(image, TiffImagePlugin.TiffImageFile) else 1
        for page in range(pages):
            try:
                with unreadable(source.path):
                    try:
                        image.seek(page)
                    except EOFError:
                        return
                    if page and int(image.tag_v2.get(_SUBFILE, 0)) & _REDUCED:  # type: ignore[attr-defined]
                        continue
                    capture = _read_page(source, image, page, max_megapixels)
            except InputError as error:
                yield error
                if page and image.tell() != page:
                    return  # the chain of pages itself is broken
            else:
                yield capture


def _read_page(source: Source, image: Image.Image, page: int, max_megapixels: float) -> Capture:
    header = read_header(image)
    check_size(source.path, header.width_px, header.height_px, max_megapixels)
    if header.format == "JPEG" and not _jpeg_ends(source.data):
        raise InputError(f"{source.path}: {_DAMAGED}")
    notes: list[str] = []
    pixels = _by_opencv(source, header, page, notes)
    converted = False
    if pixels is None:
        pixels = _by_pillow(source, image, header, notes)
        converted = has_colour_transform(header.mode)
    if header.orientation in MIRRORING_ORIENTATIONS and header.format != "TIFF":  # both TIFF decoders undo it
        pixels = undo_mirror(pixels)
    icc = None if converted else header.icc
    icc, profile = checked_profile(icc, notes)
    pixels.flags.writeable = False
    return Capture(
        path=source.path,
        sha256=source.sha256,
        format=header.format,
        page=page,
        width_px=header.width_px,
        height_px=header.height_px,
        pixels=pixels,
        orientation=header.orientation,
        stated_dpi=header.stated_dpi,
        icc=icc,
        profile=profile,
        camera=header.camera,
        notes=tuple(notes),
        device=header.device,
        block_step=header.block_step,
        luma_steps=header.luma_steps,
        chroma_steps=header.chroma_steps,
        chroma_halved=header.chroma_halved,
    )


def checked_profile(icc: bytes | None, notes: list[str]) -> tuple[bytes | None, str]:
    """Return the profile and its name, or none and a note where it can't be used."""
    try:
        return icc, describe_profile(icc)
    except ProfileError as error:
        notes.append(f"embedded colour profile not used ({error}); sRGB assumed")
        return None, SRGB_ASSUMED


def _jpeg_ends(data: bytes) -> bool:
    """Tell whether an end-of-image marker follows the first scan.

    libjpeg fills what a truncated file lacks with grey. Thumbnails in the header have end markers too, so the
    header's segments are stepped over; bytes after the end marker are common and harmless.
    """
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        if data[at + 1] == 0xFF:  # fill byte
            at += 1
            continue
        if data[at + 1] == 0xDA:  # start of scan
            return data.rfind(b"\xff\xd9", at) > 0
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return data.rfind(b"\xff\xd9", at) > 0 if at < len(data) else False


def _by_opencv(source: Source, header: Header, page: int, notes: list[str]) -> Pixels | None:
    """Pixels as OpenCV decodes them; None where it can't, or can't be trusted to."""
    if not _opencv_is_faithful(header):
        return None
    cv2 = cv()
    buffer = np.frombuffer(source.data, dtype=np.uint8)
    decoded = None
    with native_log() as log:
        try:
            if page == 0:
                decoded = _first_page(source, cv2.IMREAD_UNCHANGED)  # leaves EXIF orientation alone
            else:
                done, decoded_pages = cv2.imdecodemulti(buffer, cv2.IMREAD_UNCHANGED, range=(page, page + 1))
                decoded = decoded_pages[0] if done and decoded_pages else None
        except cv2.error:
            decoded = None
    if log.data_lost or decoded is None:
        if header.format == "TIFF":
            return None  # Pillow decides whether it was damage or only a kind that OpenCV lacks
        raise InputError(f"{source.path}: {_DAMAGED}")
    if log.doubtful:
        notes.append("the file has bytes that don't belong to the image; it may be damaged")
    if decoded.dtype not in (np.uint8, np.uint16):
        decoded, how = float_to_uint16(decoded, source.path)
        notes += how
    if decoded.ndim == 3 and decoded.shape[2] == 1:
        decoded = decoded[:, :, 0]
    if decoded.ndim == 3 and decoded.shape[2] == 4:
        decoded = drop_alpha(decoded, alpha=header.alpha, grey=header.mode == "LA")
    if decoded.dtype == np.uint16 and header.tags.get(_PHOTOMETRIC) == _WHITE_IS_ZERO:
        np.subtract(65535, decoded, out=decoded)  # OpenCV does so itself at 8 bits only
    pixels: Pixels = decoded
    return pixels


def _first_page(source: Source, flags: int) -> Pixels | None:
    """Pixels as OpenCV decodes them: from the file itself while it still is what was read, else from its bytes."""
    file = source.file()
    decoded = None if file is None else decoded_file(file, flags)
    if decoded is None or source.file() is None:
        decoded = cv().imdecode(np.frombuffer(source.data, dtype=np.uint8), flags)
    return decoded


def _opencv_is_faithful(header: Header) -> bool:
    if header.format != "TIFF":
        return not has_colour_transform(header.mode)
    tags = header.tags
    bits = set(_as_tuple(tags.get(_BITS, 1)))
    samples = int(tags.get(_SAMPLES, 1))
    photometric = tags.get(_PHOTOMETRIC)
    kinds = set(_as_tuple(tags.get(_SAMPLE_FORMAT, _UINT)))
    plain = photometric in (_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB) and samples in (1, 3)
    if bits == {8}:
        return (plain or (photometric == _YCBCR and samples == 3)) and kinds == {_UINT}
    if not plain or (samples == 3 and tags.get(_PLANAR, 1) != 1):  # OpenCV interleaves wide planes wrongly
        return False
    return (bits == {16} and kinds == {_UINT}) or (bits <= {32, 64} and len(bits) == 1 and kinds == {_FLOAT})


def _as_tuple(value: object) -> tuple[object, ...]:
    return value if isinstance(value, tuple) else (value,)


def _by_pillow(source: Source, image: Image.Image, header: Header, notes: list[str]) -> Pixels:
    bits = {b for b in _as_tuple(header.tags.get(_BITS, 8)) if isinstance(b, int)}
    if max(bits, default=8) > 8 and header.tags.get(_PLANAR, 1) != 1:  # both libraries interleave wide planes wrongly
        raise InputError(f"{source.path}: a TIFF of separate {max(bits)}-bit planes can't be read: save it as PNG")
    with native_log() as log:
        image.load()
    if log.data_lost:
        raise InputError(f"{source.path}: {_DAMAGED}")
    if image.mode.startswith(("I", "F")):
        most = max(bits, default=0)
        wide, how = float_to_uint16(np.asarray(image), source.path, most if 8 < most < 16 else 0)
        notes += how
        return wide
    if max(bits, default=8) > 8:
        notes.append(f"{max(bits)}-bit samples read as 8 bit")
    pixels, note = colour_mode_to_bgr(image, header.icc)
    if note is not None:
        notes.append(note)
    return pixels
