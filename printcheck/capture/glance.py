"""A large JPEG at half or a quarter of its size, before all of it is decoded.

The transform that JPEG is made of can be undone at a part of the size for a part of the time (ISO/IEC 10918-1;
libjpeg's scaled decoding). A thread of its own finds the sheet on that while another decodes the whole.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from printcheck.errors import PrintcheckError

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["factor_of", "reduced_size", "whole_size"]

_LEAST_LONG_SIDE_PX = 3000  # smaller pictures are decoded before a second thread has begun
_QUARTER_LONG_SIDE_PX = 4500  # and those below this before half of one is decoded and registered
_QUARTER_SHORT_SIDE_PX = 1600  # a quarter of it shows a page's modules as 3 pixels, which the marks' detector needs


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


def factor_of(size: tuple[int, int]) -> int:
    """By what to reduce a picture of `size` so that the sheet is found on it while the whole decodes: 2 or 4."""
    return 4 if max(size) < _QUARTER_LONG_SIDE_PX and min(size) >= _QUARTER_SHORT_SIDE_PX else 2


def reduced_size(path: Path, size: tuple[int, int], factor: int) -> NDArray[np.uint8] | None:
    """The first picture of a JPEG, averaged down by `factor`, as stored: not turned upright, not unmirrored.

    Parameters
    ----------
    path : Path
    size : (int, int)
        As `whole_size` gives it.
    factor : int
        2 or 4.

    Returns
    -------
    (H, W, 3) uint8 or None
        Blue, green, red. None for what can't be read or has changed since.
    """
    from printcheck.capture.native_log import native_log
    from printcheck.capture.opencv import cv, decoded_file

    cv2 = cv()
    reduced = {2: cv2.IMREAD_REDUCED_COLOR_2, 4: cv2.IMREAD_REDUCED_COLOR_4}[factor]
    flags = reduced | cv2.IMREAD_IGNORE_ORIENTATION
    try:
        with native_log() as log:
            picture = decoded_file(str(path), flags)
            if picture is None:
                picture = cv2.imdecode(np.fromfile(path, np.uint8), flags)
    except Exception:  # whatever is wrong with the file is told by the reading proper
        return None
    if picture is None or log.data_lost or picture.shape[:2] != tuple(-(-side // factor) for side in size):
        return None
    return np.asarray(picture, np.uint8)
