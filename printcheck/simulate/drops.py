"""Drops on paper: round spots of ink, cell by cell of a fine raster.

A drop of relative volume V leaves a spot of diameter ``d0 * V**g``: g is 1/3 for a spherical cap of constant contact
angle and 1/2 for a film of constant thickness; ink soaking into plain paper lies between. Every spot adds its own
area to the cells it touches; in each cell areas of different rows are taken as laid independently, so cover
``1 - prod(1 - a)`` is kept as the sum of ``-log(1 - a)``, the *load*. Within a row the spots are of one size and in
line: where a dot and both its neighbours are fired, the cell takes the area that the three cover together, so a line
is as wide as it is however it lies along the row; a dot without both neighbours covers what it covers alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["SpotModel", "cell_areas", "deposit", "row_loads"]

Floats = NDArray[np.float64]

_FULL = 0.985  # a cell wholly inside one spot: fibres keep a little paper bare
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)
_NEGLIGIBLE = 1e-4
_SPARSE = 0.25  # a tap that fewer rows than this use is added row by row


@dataclass(frozen=True, slots=True)
class SpotModel:
    """Spot size of one ink on one paper.

    Attributes
    ----------
    diameter_um : float
        Of a drop of nominal volume.
    exponent : float
        Growth of the diameter with volume.
    """

    diameter_um: float
    exponent: float = 0.42

    def radius_um(self, volume: Floats) -> Floats:
        """Spot radius for relative volumes; 0 for no drop."""
        return np.asarray(0.5 * self.diameter_um * np.clip(volume, 0.0, None) ** self.exponent)


def cell_areas(
    radius: Floats,
    centre_y: Floats,
    centre_x: Floats,
    cells_y: NDArray[np.int64],
    cells_x: NDArray[np.int64],
    every: int | None = None,
) -> Floats:
    """Share of each square cell that a disc covers; all lengths in cells.

    With `every`, that a row of such discs covers together, one at every so many cells.

    Parameters
    ----------
    radius, centre_y, centre_x : (N,)
    cells_y, cells_x : (J,), (K,) int
        Numbers of the cells; cell k reaches from k - 0.5 to k + 0.5.

    Returns
    -------
    (N, J, K)
        Integrated exactly along y, by Gauss-Legendre quadrature (12 nodes) along x.
    """
    x = cells_x[:, None] + 0.5 * _NODES[None, :] - centre_x[:, None, None]
    if every is not None:
        x = x - every * np.round(x / every)  # the nearest disc has the longest chord
    half = np.sqrt(np.clip(radius[:, None, None] ** 2 - x**2, 0.0, None))  # half chord, (N, K, Q)
    low = (cells_y[None, :] - 0.5 - centre_y[:, None])[:, :, None, None]
    inside = np.clip(half[:, None], low, low + 1.0) - np.clip(-half[:, None], low, low + 1.0)
    return np.asarray((inside * (0.5 * _WEIGHTS)).sum(axis=-1))


def row_loads(
    radius: Floats, offset_y: Floats, offset_x: Floats, cells_per_row: int, margin: int
) -> NDArray[np.float32]:
    """Load that one drop of each row leaves on the cells around its dot.

    Parameters
    ----------
    radius, offset_y, offset_x : (N,)
        Of the drops of each row, in fine cells; radius 0 leaves nothing.
    cells_per_row : int
        Fine cells to a row, and to a dot along the row.
    margin : int
        Cells beyond the dot's own to each side; what lands further out is lost.

    Returns
    -------
    (N, J, J + cells_per_row) float32
        J is ``cells_per_row + 2 * margin``: columns 0 to J for a dot alone, the rest for the dot's own cells where
        both neighbours are fired too.
    """
    centre = (cells_per_row - 1) / 2
    cells = np.arange(-margin, cells_per_row + margin)
    alone = cell_areas(radius, centre + offset_y, centre + offset_x, cells, cells)
    own = np.arange(cells_per_row)
    in_line = cell_areas(radius, centre + offset_y, centre + offset_x, cells, own, every=cells_per_row)
    areas = np.concatenate([alone, in_line], axis=2)
    return np.asarray(-np.log1p(-np.minimum(areas, _FULL)), np.float32)


def deposit(dots: NDArray[np.uint8], load: NDArray[np.float32], cells_per_row: int, out: NDArray[np.float32]) -> None:
    """Add the load of a block of rows of dots to a fine raster.

    Parameters
    ----------
    dots : (R, C) uint8
        1 where a drop is fired.
    load : (R, J, J + cells_per_row) float32
        Of each row's drops, as from `row_loads`; J is `cells_per_row` and a margin on both sides.
    cells_per_row : int
    out : (R * cells_per_row + margins, C * cells_per_row + margins) float32
        The block with its margin all around; added to.
    """
    rows, columns = dots.shape
    margin = (load.shape[1] - cells_per_row) // 2
    term = np.empty(dots.shape, np.float32)
    across = load.shape[1]
    in_line = _in_line(dots)
    lone: dict[int, NDArray[np.float32]] = {}
    used = load.max(axis=0) > _NEGLIGIBLE
    for j, k in zip(*np.nonzero(used), strict=True):
        if k >= across:
            fired, left = in_line, int(k) - across + margin
        else:
            away, left = (int(k) - margin) // cells_per_row, int(k)
            if away not in lone:
                lone[away] = _beside(dots, away) if away else dots - in_line
            fired = lone[away]
        column = slice(left, left + columns * cells_per_row, cells_per_row)
        target = out[int(j) : int(j) + rows * cells_per_row : cells_per_row, column]
        tap = load[:, j, k]
        some = np.flatnonzero(tap)
        if some.size < _SPARSE * rows:
            target[some] += tap[some, None] * fired[some]
        else:
            np.multiply(fired, tap[:, None], out=term)
            target += term


def _in_line(dots: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Dots whose neighbours to both sides are fired too."""
    out = np.zeros(dots.shape, np.float32)
    out[:, 1:-1] = dots[:, 1:-1] * dots[:, :-2] * dots[:, 2:]
    return out


def _beside(dots: NDArray[np.uint8], away: int) -> NDArray[np.float32]:
    """Dots that spread to the place `away` dots to the right: those with none fired there."""
    fired = dots.astype(np.float32)
    if away > 0:
        fired[:, :-away] *= 1 - dots[:, away:]
    elif away < 0:
        fired[:, -away:] *= 1 - dots[:, :away]
    return fired
