"""Every other encoding to 8- or 16-bit B, G, R or grey, a band of rows at a time.

Bands bound the memory: beside the decoder's own image only the result exists page-wide, and nothing becomes
float page-wide.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from printcheck.capture.opencv import cv
from printcheck.capture.result import Pixels
from printcheck.errors import InputError
from printcheck.limits import LIMITS

__all__ = ["colour_mode_to_bgr", "drop_alpha", "float_to_uint16", "has_colour_transform", "undo_mirror"]

_BAND_ROWS = 256
_ROUNDING = 1.001  # float white may overshoot by a rounding or a resampling
_LAB, _CMYK = "LAB", "CMYK"


def _bands(height: int) -> Iterator[slice]:
    for top in range(0, height, _BAND_ROWS):
        yield slice(top, min(top + _BAND_ROWS, height))


def drop_alpha(pixels: Pixels, *, alpha: bool, grey: bool) -> Pixels:
    """Four channels to three (or to one where `grey`), transparency laid on white.

    Parameters
    ----------
    pixels : ndarray, (H, W, 4), B, G, R, A
    alpha : bool
        False where the fourth channel is padding, as in 32-bit BMP.
    grey : bool
        The colours are known to be equal; one channel is kept.
    """
    channels = 1 if grey else 3
    out = np.empty((*pixels.shape[:2], channels), dtype=pixels.dtype)
    full = np.uint32(np.iinfo(pixels.dtype).max)
    for rows in _bands(pixels.shape[0]):
        colour, cover = pixels[rows, :, :channels], pixels[rows, :, 3:]
        if not alpha or int(cover.min()) == int(full):
            out[rows] = colour
        else:
            wide = cover.astype(np.uint32)  # 65535 * 65535 fits
            out[rows] = (colour * wide + full * (full - wide) + full // 2) // full
    return out[:, :, 0] if grey else out


def float_to_uint16(pixels: NDArray[Any], name: str, bits: int = 0) -> tuple[NDArray[np.uint16], list[str]]:
    """Float or wide integer samples of the file `name` to 16 bit, with notes of which full scale was assumed.

    `bits` is how many a sample has where that is fewer than its type has.
    Samples that hold no finite number are read as white, which a note counts. Where there are more of them than the
    limit ``samples_lost``, nobody knows what stood there: as well a fault as bare paper.

    No standard fixes the white of a float TIFF; of 1, 255, 65535 and the
    integer types' own maxima the smallest that no sample exceeds is taken.

    Raises
    ------
    InputError
        Too many samples hold no number.
    """
    scales = (
        (255.0, 65535.0, float(2**31 - 1), float(2**32 - 1)) if pixels.dtype.kind in "iu" else (1.0, 255.0, 65535.0)
    )
    brightest, lost = 0.0, 0
    for rows in _bands(pixels.shape[0]):
        known = np.isfinite(pixels[rows])
        lost += known.size - int(np.count_nonzero(known))
        brightest = max(brightest, float(np.max(pixels[rows], where=known, initial=0.0)))
    if lost > LIMITS["samples_lost"].value * pixels.size:
        raise InputError(
            f"{name}: {lost} of {pixels.size} samples hold no number, so a part of the image is missing: save it "
            "again as 8 or 16 bit, or scan it again"
        )
    if bits:
        scales = (float(2**bits - 1), *scales)
    full = next((scale for scale in scales if brightest <= scale * _ROUNDING), brightest)
    out = np.empty(pixels.shape, dtype=np.uint16)
    for rows in _bands(pixels.shape[0]):
        band = np.nan_to_num(pixels[rows].astype(np.float32) / np.float32(full), nan=1.0, posinf=1.0, neginf=1.0)
        out[rows] = np.rint(np.clip(band, 0.0, 1.0) * 65535.0)
    notes = [f"{pixels.dtype} samples read as 16 bit with white at {full:g}"]
    if lost:
        notes.append(f"{lost} of {pixels.size} samples hold no number, read as white")
    return out, notes


def has_colour_transform(mode: str) -> bool:
    """Tell the modes whose profile must be applied here, since no other stage knows their channels."""
    return mode in (_CMYK, _LAB)


def colour_mode_to_bgr(image: Image.Image, icc: bytes | None) -> tuple[NDArray[np.uint8], str | None]:
    """Convert a loaded Pillow image of any mode to 8-bit grey or B, G, R.

    Returns
    -------
    pixels : ndarray, (H, W) or (H, W, 3)
    note : str or None
        How CMYK or LAB was brought to sRGB.
    """
    mode, transform = image.mode, None
    note: str | None = None
    if mode == _CMYK:
        transform = _cmyk_transform(icc)
        how = "through its profile" if transform else "without a profile: colours are rough"
        note = f"CMYK converted to sRGB {how}"
    elif mode == _LAB:
        srgb, lab = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
        transform = ImageCms.buildTransform(lab, srgb, "LAB", "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC)
        note = "CIELAB converted to sRGB"
    width, height = image.size
    grey = mode in ("1", "L", "LA", "La") and not (mode == "L" and "transparency" in image.info)
    alpha = mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info
    target = "RGBA" if alpha else "L" if grey else "RGB"
    out = np.empty((height, width) if grey else (height, width, 3), dtype=np.uint8)
    for rows in _bands(height):
        part = image.crop((0, rows.start, width, rows.stop))
        part.info.update({k: v for k, v in image.info.items() if k == "transparency"})
        if transform is not None:
            part = ImageCms.applyTransform(part, transform) or part
        band = np.asarray(part.convert(target))
        if alpha:
            band = drop_alpha(band, alpha=True, grey=grey)
        out[rows] = band if grey else band[:, :, ::-1]
    return out, note


def _cmyk_transform(icc: bytes | None) -> ImageCms.ImageCmsTransform | None:
    if icc is None:
        return None
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(icc))
        intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
        return ImageCms.buildTransform(source, ImageCms.createProfile("sRGB"), "CMYK", "RGB", intent)
    except (ImageCms.PyCMSError, OSError, TypeError, ValueError):  # no CMYK profile, or a damaged one
        return None


def undo_mirror(pixels: Pixels) -> Pixels:
    """Flip the picture left to right."""
    flipped: Pixels = cv().flip(pixels, 1)
    return flipped
