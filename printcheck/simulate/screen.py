"""The clustered-dot screen of a laser printer's driver: a tone becomes dots that grow from the middles of a lattice.

The lattice has rational tangents: its cell is spanned by whole dots (a, b) and (-b, a), so every cell holds the same
a^2 + b^2 dots and a tone sets the same number of them everywhere; a lattice at any angle beats with the printer's
dots (Ulichney, Digital Halftoning, 1987, chapter 5). At 600 dots/inch (4, 4) is 106 lines/inch at 45 degrees, (3, 3)
is 141.
"""

from __future__ import annotations

from math import atan2, degrees, hypot

import numpy as np
from numpy.typing import NDArray

__all__ = ["SCREENS", "Screen"]

SCREENS = {"tune": ((4, 4), (3, 3), (5, 1)), "report": ((4, 4), (3, 3), (5, 2), (4, 3))}
"""Cells of each split, in dots."""


class Screen:
    """A screen with the cell (a, b), (-b, a) in dots of a printer of `dots_per_inch`."""

    def __init__(self, a: int, b: int, dots_per_inch: int) -> None:
        self.lines_per_inch = dots_per_inch / hypot(a, b)
        self.angle_deg = degrees(atan2(b, a))
        size = a * a + b * b
        y, x = np.mgrid[0:size, 0:size]
        # place in the cell, in dots times size: whole numbers, the same for dots a lattice vector apart
        u, v = (a * x + b * y) % size, (-b * x + a * y) % size
        spot = np.cos(2 * np.pi * u / size) + np.cos(2 * np.pi * v / size) + 1e-6 * u + 1e-9 * v
        order = np.unique(np.round(spot, 12))[::-1]
        rank = len(order) - 1 - np.searchsorted(order[::-1], np.round(spot, 12))
        self._tile = ((rank + 0.5) / len(order)).astype(np.float32)

    def threshold(self, y0: int, y1: int, x0: int, x1: int) -> NDArray[np.float32]:
        """(y1 - y0, x1 - x0) thresholds, 0 to 1; a dot is set where the tone is above."""
        side = self._tile.shape[0]
        rows, columns = np.arange(y0, y1) % side, np.arange(x0, x1) % side
        return np.asarray(self._tile[rows[:, None], columns[None, :]])
