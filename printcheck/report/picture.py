"""The picture behind the marks: the sheet laid flat on the ideal page, or the capture itself where there is none."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from PIL import Image, ImageCms

from printcheck.capture.result import Capture
from printcheck.geometry import Box
from printcheck.register.result import Registration
from printcheck.register.view import look_at
from printcheck.units import MM_PER_INCH

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["flattened", "flattened_dpi", "reduced"]

_LEAST_DPI, _MOST_DPI = 150.0, 200.0  # letters stay legible; a dash of 600 rows/inch still shows as a third of a dot
_STEP = 4  # levels: scanner noise below it would only swell the file
_TURNS = {3: 2, 4: 2, 5: 1, 6: 3, 7: 3, 8: 1}  # EXIF orientation, mirroring undone: quarter turns anticlockwise


def flattened_dpi(registration: Registration) -> float:
    """Dots/inch of the flattened page: those of the capture, kept within 150 to 200."""
    native = MM_PER_INCH * min(registration.px_per_mm_x, registration.px_per_mm_y)
    return float(np.clip(native, _LEAST_DPI, _MOST_DPI))


def flattened(capture: Capture, registration: Registration, box: Box, scale: float) -> NDArray[np.uint8]:
    """The part of the sheet inside `box`, upright and in its true proportions.

    Parameters
    ----------
    capture : Capture
    registration : Registration
    box : Box
        mm on the page.
    scale : float
        px a mm.

    Returns
    -------
    (H, W, 3) uint8
        sRGB.
    """
    native = min(registration.px_per_mm_x, registration.px_per_mm_y)
    # averaged down by a whole factor first, then by area to the size wanted: no dash is stepped over
    view = look_at(capture.pixels, registration, box, scale=1 / max(1, int(native / scale + 1e-6)))
    size = (round(box.width * scale), round(box.height * scale))
    smaller = size[0] < view.values.shape[1]
    pixels = cv2.resize(view.values, size, interpolation=cv2.INTER_AREA if smaller else cv2.INTER_CUBIC)
    return _quieter(_srgb(pixels, capture.icc))


def reduced(capture: Capture, width: int, height: int) -> NDArray[np.uint8]:
    """The whole capture, turned as its file says, no larger than `width` x `height`; (H, W, 3) uint8, sRGB."""
    pixels = capture.pixels
    turns = 0 if capture.format in ("TIFF", "HEIF") else _TURNS.get(capture.orientation, 0)
    if turns % 2:
        width, height = height, width
    factor = min(width / pixels.shape[1], height / pixels.shape[0], 1.0)
    size = max(1, round(factor * pixels.shape[1])), max(1, round(factor * pixels.shape[0]))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(np.rot90(_quieter(_srgb(small, capture.icc)), turns))


def _srgb(pixels: NDArray[Any], icc: bytes | None) -> NDArray[np.uint8]:
    """Grey or BGR of 8 or 16 bits to 8-bit sRGB."""
    if pixels.dtype == np.uint16:
        pixels = (pixels >> 8).astype(np.uint8)
    rgb = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_GRAY2RGB if pixels.ndim == 2 else cv2.COLOR_BGR2RGB), np.uint8)
    if icc is not None and pixels.ndim == 3:
        try:
            profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
            turned = ImageCms.profileToProfile(Image.fromarray(rgb), profile, ImageCms.createProfile("sRGB"))
        except (ImageCms.PyCMSError, OSError, ValueError):
            return rgb  # an odd profile spoils the tint of the picture, not the reading
        if turned is not None:
            return np.asarray(turned)
    return rgb


def _quieter(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    levels = np.minimum(255, _STEP * np.rint(np.arange(256) / _STEP)).astype(np.uint8)
    return np.asarray(cv2.LUT(rgb, levels))
