"""Encoded capture values to linear light, by table."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["LUMA_OF_RGB", "linear_light", "linear_to_srgb", "srgb_slope", "srgb_to_linear"]

LUMA_OF_RGB = (0.299, 0.587, 0.114)
"""Shares of encoded red, green and blue in a JPEG's luma (ITU-T T.871, 7)."""


def srgb_to_linear(encoded: ArrayLike) -> NDArray[np.float64]:
    """IEC 61966-2-1 decoding of values 0..1, any shape."""
    v = np.asarray(encoded, dtype=np.float64)
    return np.where(v <= 0.04045, v / 12.92, np.power((np.maximum(v, 0.0) + 0.055) / 1.055, 2.4))


def linear_to_srgb(light: ArrayLike) -> NDArray[np.float64]:
    """IEC 61966-2-1 encoding of linear values 0..1, any shape; the inverse of `srgb_to_linear`."""
    v = np.asarray(light, dtype=np.float64)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.power(np.maximum(v, 0.0), 1 / 2.4) - 0.055)


def srgb_slope(light: ArrayLike) -> NDArray[np.float64]:
    """Linear light per encoded value at `light` 0..1, any shape: the derivative of `srgb_to_linear` there."""
    encoded = linear_to_srgb(light)
    power = 2.4 / 1.055 * np.power((np.maximum(encoded, 0.0) + 0.055) / 1.055, 1.4)
    return np.where(encoded <= 0.04045, 1 / 12.92, power)


@lru_cache(maxsize=4)
def _table(levels: int) -> NDArray[np.float32]:
    table = srgb_to_linear(np.linspace(0.0, 1.0, levels)).astype(np.float32)
    table.flags.writeable = False
    return table


def linear_light(values: NDArray[Any]) -> NDArray[np.float32]:
    """Linear light, float32 0 to 1, of uint8 or uint16 `values` of any shape; floats are light already.

    A ratio of two such values is what is measured, so an unknown gamma of the capture bends a strength between
    0 and 1 a little and leaves 0 and 1 where they are.
    """
    if values.dtype.kind == "f":
        return np.asarray(values, np.float32)
    if values.dtype == np.uint8:
        import cv2

        return np.asarray(cv2.LUT(values, _table(256)), np.float32)
    return np.asarray(_table(65536)[values])
