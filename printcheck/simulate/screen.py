"""The clustered-dot screen of a laser printer's driver: a tone becomes dots that grow from the middles of a lattice.

The spot function is the usual sum of two cosines along the lattice's axes; its distribution is made uniform, so that
a tone of 0.3 sets 30 % of the dots (Ulichney, Digital Halftoning, 1987, chapter 5).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["Screen"]

_SAMPLES = 512  # of a lattice cell, each way, for the distribution of the spot function
_STEPS = 1024


@lru_cache(maxsize=1)
def _distribution() -> NDArray[np.float32]:
    """Share of a cell where the spot function (-2 to 2) is at most its argument, at `_STEPS` places."""
    phase = np.cos(2 * np.pi * (np.arange(_SAMPLES) + 0.5) / _SAMPLES)
    values = np.sort((phase[:, None] + phase[None, :]).ravel())
    places = np.linspace(-2.0, 2.0, _STEPS)
    return (np.searchsorted(values, places) / values.size).astype(np.float32)


class Screen:
    """A screen of `lines_per_inch` at `angle_deg`, seen by a printer of `dots_per_inch`."""

    def __init__(self, lines_per_inch: float, angle_deg: float, dots_per_inch: int) -> None:
        self.lines_per_inch, self.angle_deg = lines_per_inch, angle_deg
        turn = np.deg2rad(angle_deg)
        step = 2 * np.pi * lines_per_inch / dots_per_inch
        self._along, self._across = step * np.cos(turn), step * np.sin(turn)

    def threshold(self, y0: int, y1: int, x0: int, x1: int) -> NDArray[np.float32]:
        """(y1 - y0, x1 - x0) thresholds, 0 to 1; a dot is set where the tone is above."""
        x, y = np.arange(x0, x1), np.arange(y0, y1)
        # cos(a + b) from the cosines and sines of columns and rows: no transcendental a dot
        u = _cosine_of_sum(self._across * y, self._along * x)
        v = _cosine_of_sum(self._along * y, -self._across * x)
        u += v
        u += 2.0
        u *= (_STEPS - 1) / 4.0
        return np.take(1.0 - _distribution(), u.astype(np.int16), mode="clip")


def _cosine_of_sum(rows: NDArray[np.float64], columns: NDArray[np.float64]) -> NDArray[np.float32]:
    c, s = np.cos(columns).astype(np.float32), np.sin(columns).astype(np.float32)
    out = np.outer(np.cos(rows).astype(np.float32), c)
    out -= np.outer(np.sin(rows).astype(np.float32), s)
    return out
