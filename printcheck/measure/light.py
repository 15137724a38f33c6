"""Linear light of one element of the sheet, in as many samples as colour needs, and the lightness it is seen as."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.register.result import Registration
from printcheck.register.view import look_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["LUMINANCE", "light_in", "lightness_of", "means_along"]

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Y of linear R, G, B (IEC 61966-2-1)."""

_ALONG_PER_MM = 2.5  # samples along a row of an even area: hundreds over its length
_LEAST_ALONG = 8.0  # and on a narrow one
_WHOLE = 0.95  # of a box that must lie in the picture: a cut edge hardly moves its mean
_DOTS_PER_MM = 12.0  # along a row of halftone dots


def light_in(
    pixels: Pixels, registration: Registration, box: Box, *, dots: bool = False
) -> NDArray[np.float32] | None:
    """Linear R, G, B (H, W, 3) of `box`; none where it can't be seen.

    Rows stay as fine as the picture has them, so that those left bare by a dead nozzle stand apart; along them some
    samples are passed over.

    Parameters
    ----------
    dots : bool
        The box holds halftone dots: light adds up, encoded values don't, so samples are never interpolated.
    """
    most = _DOTS_PER_MM if dots else max(_ALONG_PER_MM, _LEAST_ALONG / box.width)
    view = look_at(pixels, registration, box, most_x=most, nearest=dots)
    if view.inside < _WHOLE:
        return None
    how = cv2.COLOR_GRAY2RGB if view.values.ndim == 2 else cv2.COLOR_BGR2RGB
    return linear_light(cv2.cvtColor(view.values, how))


def means_along(light: NDArray[np.floating], count: int) -> NDArray[np.float64]:
    """Means (H, count, 3) of `count` equal parts of each row of `light` (H, W, 3)."""
    wide = light.shape[1] // count
    parts = np.ascontiguousarray(light[:, : count * wide]).reshape(-1, wide * 3)
    # a matrix product is the quickest way to add up so many so short runs
    return np.asarray((parts @ _adding(wide)).reshape(len(light), count, 3) / np.float32(wide), np.float64)


@lru_cache(maxsize=64)
def _adding(wide: int) -> NDArray[np.float32]:
    """What adds up `wide` R, G, B side by side, (3 wide, 3)."""
    adding = np.tile(np.eye(3, dtype=np.float32), (wide, 1))
    adding.flags.writeable = False
    return adding


def lightness_of(ratio: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """CIE L* (ISO/CIE 11664-4) of a reflectance relative to paper, any shape."""
    t = np.maximum(np.asarray(ratio, np.float64), 0.0)
    low = 216.0 / 24389.0  # (24 / 116)^3; below, a line of slope (29 / 3)^3
    return np.asarray(np.where(t > low, 116.0 * np.cbrt(t) - 16.0, 24389.0 / 27.0 * t), np.float64)
