"""A sheet's RGB raster split into inks, as a desktop driver does it, and scaled as a driver scales."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["scale_about_centre", "separate"]


def separate(rgb: NDArray[np.uint8], inks: Sequence[str]) -> dict[str, NDArray[np.uint8]]:
    """Tone planes of the head's inks.

    Parameters
    ----------
    rgb : (H, W, 3) uint8
    inks : sequence of str
        Out of ``K C M Y``. With black, grey parts are printed in black alone (full grey component replacement);
        without, in the three colours.

    Returns
    -------
    dict of (H, W) uint8
        0 paper, 255 solid.
    """
    planes: dict[str, NDArray[np.uint8]] = {}
    channels = [cv2.bitwise_not(channel) for channel in cv2.split(rgb)]
    if "K" in inks:
        grey = cv2.min(cv2.min(channels[0], channels[1]), channels[2])
        planes["K"] = np.asarray(grey, np.uint8)
        channels = [cv2.subtract(c, grey) for c in channels]
    for name, channel in zip("CMY", channels, strict=True):
        if name in inks:
            planes[name] = np.asarray(channel, np.uint8)
    return planes


def scale_about_centre(rgb: NDArray[np.uint8], scale: float) -> NDArray[np.uint8]:
    """Print a page at `scale` (0.97: "fit to page") about its centre, on paper of the same size.

    Nearest dot, as drivers do to keep edges hard: rows of the sheet are dropped or doubled.
    """
    if scale == 1.0:
        return rgb
    height, width = rgb.shape[:2]
    cx, cy = (width - 1) / 2, (height - 1) / 2
    move = np.array([[scale, 0.0, cx * (1 - scale)], [0.0, scale, cy * (1 - scale)]])
    out = cv2.warpAffine(
        rgb, move, (width, height), flags=cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT, borderValue=(255,) * 3
    )
    return np.asarray(out, np.uint8)
