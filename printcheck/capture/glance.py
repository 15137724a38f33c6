"""A large JPEG at half its size, well before all of it is decoded.

The transform that JPEG is made of can be undone at half the size for half the time (ISO/IEC 10918-1; libjpeg's
scaled decoding). A thread of its own finds the sheet on that while another decodes the whole.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from printcheck.errors import PrintcheckError

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["half_size", "whole_size"]

_LEAST_LONG_SIDE_PX = 3000  # smaller pictures are decoded before a second thread has begun


def whole_size(path: Path, max_megapixels: float) -> tuple[int, int] | None:
    """Height and width of a colour JPEG that is worth a glance; None for other files and small ones.

    Files that can't be read are left to `printcheck.capture.decode` as well, which says why. This belongs in the main
    thread, before the other begins: what reads headers keeps Python's warnings off, which is the whole process's, so
    it would wait there until all is decoded.

    Parameters
    ----------
    path : Path
    max_megapixels : float
        Larger pictures are left alone.
    """
    from PIL import ExifTags
    from PIL.JpegImagePlugin import JpegImageFile

    from printcheck.capture.header import unreadable
    from printcheck.capture.result import MIRRORING_ORIENTATIONS

    if not path.is_file():  # opening a pipe would wait for ever
        return None
    try:
        with unreadable(str(path)), JpegImageFile(path) as image:
            width, height = image.size
            if max(width, height) < _LEAST_LONG_SIDE_PX or width * height > max_megapixels * 1e6:
                return None
            if image.mode != "RGB" or image.getexif().get(ExifTags.Base.Orientation) in MIRRORING_ORIENTATIONS:
                return None
    except PrintcheckError:
        return None
    return height, width


def half_size(path: Path, size: tuple[int, int]) -> NDArray[np.uint8] | None:
    """The first picture of a JPEG, averaged down by two, as stored: not turned upright, not unmirrored.

    Parameters
    ----------
    path : Path
    size : (int, int)
        As `whole_size` gives it.

    Returns
    -------
    (H, W, 3) uint8 or None
        Blue, green, red. None for what can't be read or has changed since.
    """
    from printcheck.capture.native_log import native_log
    from printcheck.capture.opencv import cv, decoded_file

    cv2 = cv()
    flags = cv2.IMREAD_REDUCED_COLOR_2 | cv2.IMREAD_IGNORE_ORIENTATION
    try:
        with native_log() as log:
            half = decoded_file(str(path), flags)
            if half is None:
                half = cv2.imdecode(np.fromfile(path, np.uint8), flags)
    except Exception:  # whatever is wrong with the file is told by the reading proper
        return None
    if half is None or log.data_lost or half.shape[:2] != ((size[0] + 1) // 2, (size[1] + 1) // 2):
        return None
    return np.asarray(half, np.uint8)
