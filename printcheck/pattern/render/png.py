"""A sheet as PNG (ISO/IEC 15948): one pixel a dot, the resolution tagged, no colour lost."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np

from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import Sheet

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["png_bytes"]

_STRIP_ROWS = 256  # rows indexed at a time, so that no second copy of the page is ever wide in memory
_ZLIB_LEVEL = 6  # 9 takes several times as long for a few per cent: the page is mostly paper


def png_bytes(sheet: Sheet) -> bytes:
    """Encode `sheet` as PNG.

    The sheet has a few dozen colours, so it is stored as a palette image: the same RGB in a third of the room.
    The resolution is kept in whole dots per metre (chunk pHYs), which is within 0.003 % of the sheet's own.
    """
    from PIL import Image

    rgb = compose_rgb(sheet)
    indexed = _indexed(rgb)
    if indexed is None:
        image = Image.fromarray(rgb)
    else:
        image = Image.fromarray(indexed[0], mode=None)
        image.putpalette(indexed[1].tobytes())
    out = io.BytesIO()
    dpi = float(sheet.layout.raster)
    image.save(out, "PNG", dpi=(dpi, dpi), compress_level=_ZLIB_LEVEL)
    return out.getvalue()


def _indexed(rgb: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], NDArray[np.uint8]] | None:
    """Palette form of an (H, W, 3) image: (H, W) indices and (n, 3) colours; none beyond 256 colours."""
    seen = np.zeros(1 << 24, bool)
    packed = np.empty(rgb.shape[:2], np.int32)
    for top in range(0, rgb.shape[0], _STRIP_ROWS):
        strip = rgb[top : top + _STRIP_ROWS].astype(np.int32)
        packed[top : top + _STRIP_ROWS] = strip[..., 0] << 16 | strip[..., 1] << 8 | strip[..., 2]
        seen[packed[top : top + _STRIP_ROWS]] = True
    colours = np.flatnonzero(seen)
    if colours.size > 256:
        return None
    index_of = np.zeros(1 << 24, np.uint8)
    index_of[colours] = np.arange(colours.size)
    palette = np.stack([colours >> 16, colours >> 8 & 255, colours & 255], axis=1).astype(np.uint8)
    return index_of[packed], palette
