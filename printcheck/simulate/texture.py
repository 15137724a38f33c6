"""Random fields that are drawn once and read over and over: paper, grain, sensor noise."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Texture"]


class Texture:
    """A random field without end: one square tile with wrapped edges, read at any place.

    Parameters
    ----------
    parts : sequence of (sd, correlation in cells)
        Independent Gaussian fields that are added up.
    rng : Generator
    mean : float
    side : int
        Of the tile. It is no power of two, so that it beats with nothing in the picture.
    """

    def __init__(
        self, parts: tuple[tuple[float, float], ...], rng: np.random.Generator, *, mean: float = 1.0, side: int = 907
    ) -> None:
        tile = np.full((side, side), mean, np.float32)
        for sd, cells in parts:
            field = rng.standard_normal((side, side), dtype=np.float32)
            if cells > 0:
                pad = int(3 * cells) + 1
                wide = np.pad(field, pad, mode="wrap")
                soft = np.asarray(cv2.GaussianBlur(wide, (0, 0), cells), np.float32)
                field = soft[pad:-pad, pad:-pad]
                field = field / field.std()
            tile += np.float32(sd) * field
        self._tile = self._wide = tile
        self._side = side

    def window(self, y: int, x: int, height: int, width: int) -> NDArray[np.float32]:
        """(height, width) of the field from row `y`, column `x`; read-only."""
        if self._wide.shape[1] < width + self._side:
            self._wide = np.tile(self._tile, (1, -(-width // self._side) + 1))
            self._wide.setflags(write=False)
        top, left = y % self._side, x % self._side
        if top + height <= self._side:
            return self._wide[top : top + height, left : left + width]
        return self._wide[np.arange(top, top + height) % self._side, left : left + width]
