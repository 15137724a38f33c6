"""Where the rows of a ladder stand on the page: the same for every sheet of a head, so worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.pattern.elements import Ladder

__all__ = ["Rows", "rows_of"]


@dataclass(frozen=True, slots=True)
class Rows:
    """The rows of one printing of a ladder.

    Attributes
    ----------
    first, last : (columns,) int64
        Row whose dash stands uppermost in each column, and lowest.
    column : (rows,) int64
        That holds the dash of each.
    ends_mm : (rows, 2, 2) float64
        Page x, y of the left and the right end of each dash.
    middle_mm : (rows, 2) float64
        Page x, y of its middle.
    """

    first: NDArray[np.int64]
    last: NDArray[np.int64]
    column: NDArray[np.int64]
    ends_mm: NDArray[np.float64]
    middle_mm: NDArray[np.float64]


@lru_cache(maxsize=64)
def rows_of(ladder: Ladder) -> Rows:
    """Return the rows of `ladder`, not to be written to."""
    columns = len(ladder.order)
    first = np.argsort(ladder.order)
    last = ladder.rows - 1 - (ladder.rows - 1 - first) % columns
    column = np.resize(np.array(ladder.order, np.int64), ladder.rows)
    y = ladder.box.y0 + (np.arange(ladder.rows) + 0.5) * ladder.pitch_mm
    ends = np.stack([np.array(ladder.columns)[column], np.stack([y, y], axis=1)], axis=2)
    rows = first, last, column, ends, ends.mean(axis=1)
    for values in rows:
        values.flags.writeable = False
    return Rows(*rows)
