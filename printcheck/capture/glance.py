"""A large JPEG at half its size, well before all of it is decoded.

The transform that JPEG is made of can be undone at half the size for half the time (ISO/IEC 10918-1; libjpeg's
scaled decoding). A thread of its own finds the sheet on that while another decodes the whole.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["half_size"]

_LEAST_LONG_SIDE_PX = 3000  # smaller pictures are decoded before a second thread has begun


def half_size(path: Path, max_megapixels: float) -> NDArray[np.uint8] | None:
    """The first picture of a colour JPEG, averaged down by two, as stored: not turned upright, not unmirrored.

    Parameters
    ----------
    path : Path
    max_megapixels : float
        Larger pictures are left alone.

    Returns
    -------
    (H, W, 3) uint8 or None
        Blue, green, red. None for other files, small ones, and all that can't be read: that is for
        `printcheck.capture.decode` to say.
    """
    from PIL import ExifTags
    from PIL.JpegImagePlugin import JpegImageFile

    from printcheck.capture.native_log import native_log
    from printcheck.capture.opencv import cv, decoded_file
    from printcheck.capture.result import MIRRORING_ORIENTATIONS

    cv2 = cv()
    flags = cv2.IMREAD_REDUCED_COLOR_2 | cv2.IMREAD_IGNORE_ORIENTATION

    if not path.is_file():  # opening a pipe would wait for ever
        return None
    try:
        with JpegImageFile(path) as image:  # `Image.open` warns of large pictures on standard error
            width, height = image.size
            if max(width, height) < _LEAST_LONG_SIDE_PX or width * height > max_megapixels * 1e6:
                return None
            if image.mode != "RGB" or image.getexif().get(ExifTags.Base.Orientation) in MIRRORING_ORIENTATIONS:
                return None
        with native_log() as log:
            half = decoded_file(str(path), flags)
            if half is None:
                half = cv2.imdecode(np.fromfile(path, np.uint8), flags)
    except Exception:  # whatever is wrong with the file is told by the reading proper
        return None
    if half is None or log.data_lost or half.shape[:2] != ((height + 1) // 2, (width + 1) // 2):
        return None
    return np.asarray(half, np.uint8)
