"""What the rows of an ink show together: rows beyond a limit among noise that hides which of them they are.

Each row is printed twice. Half the difference of its two readings holds their noise alone, and errs as their mean
does; and whatever errs to both sides alike puts as many rows too strong as too weak. Rows that lie beyond a limit by
noise can so be counted without knowing what the noise is, and set against those that do: the mirror of R. Barber and
E. Candes (Ann. Statist. 43(5), 2015), with their one added to what is taken for noise, so that a handful proves
nothing. To be on the safe side no fewer are expected than normal noise of the rows' own spread would put there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erfc, sqrt
from typing import TYPE_CHECKING

import numpy as np

from printcheck.robust import MAD_SD, middle_of, running_middle

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["WIDE_WINDOW", "WINDOW", "Crowd", "beyond_noise", "from_rows_about"]

_NEEDED = 40  # rows read in both printings, to know their spread
WINDOW = 13  # rows whose common reading is their place's: as many as lie side by side in the columns of a ladder
WIDE_WINDOW = 53  # four times as many: half of them are more than a clog that spares every second dot of its rows


@dataclass(frozen=True, slots=True)
class Crowd:
    """Rows beyond a limit: which they are (N,), some of them by noise, and `count`, how many are not."""

    rows: NDArray[np.bool_]
    count: float


def beyond_noise(
    readings: NDArray[np.float64], limit: float, doubt: float, *, one_sided: bool, least: float | None = None
) -> Crowd:
    """Find the rows beyond a limit, of which noise explains no more than a share.

    Parameters
    ----------
    readings : (2, N) float64
        How far each row is from sound in its two printings; NaN where one was not read.
    limit : float
        The least distance that counts. Where too many rows beyond it may be noise, a farther one is tried.
    doubt : float
        Share of the rows found that noise may explain.
    one_sided : bool
        A fault can only make the readings larger, so that the lower side is the noise's.
    least : float, optional
        Standard deviation of sound rows, at the least.

    Returns
    -------
    Crowd
        Empty where noise may explain as many, or where fewer than 40 rows were read in both printings.
    """
    none = Crowd(np.zeros(readings.shape[1], bool), 0.0)
    both = np.isfinite(readings).all(axis=0)
    if both.sum() < _NEEDED:
        return none
    first, second = readings[:, both]
    mean, half = (first + second) / 2, (first - second) / 2
    half = np.abs(half - middle_of(half))
    far = mean if one_sided else np.abs(mean)
    sound = -mean[mean < 0] if one_sided else far
    if not sound.size:
        return none
    sd = max(MAD_SD * float(middle_of(sound)), least or 0.0, 1e-9)
    sides = 0.5 if one_sided else 1.0
    for at in np.sort(far[far > limit]).tolist():
        found = int((far >= at).sum())
        noise = max(
            float((mean <= -at).sum()) if one_sided else 0.0,
            sides * float((half >= at).sum()),
            sides * len(far) * erfc(at / (sqrt(2) * sd)),
        )
        if 1.0 + noise <= doubt * found:
            rows = np.zeros(readings.shape[1], bool)
            rows[both] = far >= at
            return Crowd(rows, found - noise)
    return none


def from_rows_about(readings: NDArray[np.float64], window: int = WINDOW) -> NDArray[np.float64]:
    """Readings (P, N), 0 sound, less the median of the rows about: what those share is their place on the page.

    A fault of half as many rows side by side as the `window` holds is taken for their place.
    """
    known = np.where(np.isfinite(readings), readings, 0.0)
    return np.asarray(readings - running_middle(known, window))
