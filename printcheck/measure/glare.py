"""Dashes that a lamp's reflection in a photo has burnt out.

A reflection adds light. Where paper and ink both reach the camera's ceiling a printed dash leaves no trace, and
would pass for missing; where the reflection is several times as light as the paper, it leaves too little of one; and
the paper's level, a smooth curve down each column, can't follow the reflection's edge. Such dashes are unreadable. A
dash that is plainly there is there all the same.

A fainter reflection lightens ink and paper alike, so that all dashes in it are faint. The rows of a column come from
all over the head, and those between them stand in the other columns: where a whole stretch of one column is faint,
its paper lighter than where the dashes beside it are sound, it is the light that differs and not the head.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.limits import LIMITS
from printcheck.measure.dashes import sound_level
from printcheck.register.rows import rows_of
from printcheck.robust import column_medians, middle_of, quantile_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.ladder import LadderSignal
    from printcheck.pattern.elements import Ladder
    from printcheck.register.view import View

__all__ = ["without_burnt_out", "without_veiled"]

_CEILING = LIMITS["glare_ceiling"].value
_PIECES = 8  # along a dash
_BURNT_PIECES = 2  # the middle of a dash's pieces leaves out the lowest one
_PLAIN = LIMITS["glare_plain"].value
_FAR_LIGHTER = LIMITS["glare_lighter"].value
_LEAST_MM = LIMITS["glare_least_line"].value
_SOUND = 0.9  # quantile of the line weights that stands for a sound dash
_STRETCH = 4  # dashes of its column to either side of one
_NEEDED = 5  # dashes of other columns at a row's height, to compare with
_MOST = 0.75  # of those: of rows missing as a run, half are missing at its ends
_ALIKE = LIMITS["glare_alike"].value
_STEEPER = LIMITS["glare_steeper"].value


def without_burnt_out(signal: LadderSignal, view: View, ladder: Ladder) -> LadderSignal:
    """`signal` with dashes that may have been burnt out taken away; `view` is what it was read from."""
    finite = signal.amplitude[np.isfinite(signal.amplitude)]
    if not finite.size:
        return signal
    light = _beside(view, ladder)  # (rows, pieces)
    burnt = (light > _CEILING).sum(axis=1) >= _BURNT_PIECES
    veiled = middle_of(light, 1) > _FAR_LIGHTER * middle_of(light.ravel())
    spoilt = burnt | veiled
    if not spoilt.any():
        return signal
    faint = ~(signal.amplitude > max(_PLAIN * quantile_of(finite, _SOUND), _LEAST_MM))
    columns = rows_of(ladder).column
    return _without(signal, np.isin(columns, columns[spoilt]) & faint)


def without_veiled(signal: LadderSignal, ladder: Ladder) -> LadderSignal:
    """`signal` with dashes taken away that a reflection may have made faint, of whatever channels it is a mixture."""
    return _without(signal, _veiled(signal, ladder))


def _without(signal: LadderSignal, gone: NDArray[np.bool_]) -> LadderSignal:
    if not gone.any():
        return signal
    parts, amplitude = signal.parts.copy(), signal.amplitude.copy()
    parts[gone], amplitude[gone] = np.nan, np.nan
    return replace(signal, parts=parts, amplitude=amplitude, readable=signal.readable & ~gone)


def _veiled(signal: LadderSignal, ladder: Ladder) -> NDArray[np.bool_]:
    """Dashes that a reflection may have made faint, with all that stand about them in their column, (rows,)."""
    count, weak = len(ladder.order), LIMITS["dash_weak"].value
    strength = signal.amplitude / sound_level(ladder, signal)
    if not (strength < weak).any():
        return np.zeros(ladder.rows, bool)
    around = _stretches(strength, count)
    sound = around >= weak
    if not sound.any():
        return np.zeros(ladder.rows, bool)
    usual = float(middle_of(signal.paper[sound]))
    column = np.arange(ladder.rows) % count
    out = np.zeros(ladder.rows, bool)
    for row in np.flatnonzero((strength < weak) & (around < weak)).tolist():
        across = np.arange(max(0, row - count), min(ladder.rows, row + count + 1))
        across = across[column[across] != column[row]]
        lighter = (signal.paper[row] / signal.paper[across]) ** _STEEPER
        if _mostly(strength[across][lighter < _ALIKE] >= weak):
            continue  # in light like this others are sound
        out[row] = _mostly(strength[across][lighter > 1.0 / weak] > _ALIKE * around[row]) or (
            # faint all across: the head's rows, unless so much light explains it
            around[row] * (signal.paper[row] / usual) ** _STEEPER > weak
        )
    return out


def _mostly(these: NDArray[np.bool_]) -> bool:
    return len(these) >= _NEEDED and float(these.mean()) > _MOST


def _stretches(strength: NDArray[np.float64], columns: int) -> NDArray[np.float64]:
    """Median strength of the dashes about each in its column, itself included, (rows,); NaN counts as nothing."""
    lines = -(-len(strength) // columns)
    padded = np.full((lines + 2 * _STRETCH, columns), np.nan)
    padded[_STRETCH : _STRETCH + lines].ravel()[: len(strength)] = strength
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * _STRETCH + 1, axis=0)
    return np.asarray(column_medians(windows.reshape(-1, 2 * _STRETCH + 1).T))[: len(strength)]


def _beside(view: View, ladder: Ladder) -> NDArray[np.float64]:
    """Light of the paper half-way to the next dashes of the column, the darker side of the two, (rows, pieces)."""
    half = len(ladder.columns) * ladder.pitch_mm / 2
    rows = rows_of(ladder)
    left, right = rows.ends_mm[:, :1, 0], rows.ends_mm[:, 1:, 0]
    x = left + (right - left) * ((np.arange(_PIECES) + 0.5) / _PIECES)  # (rows, pieces)
    y = rows.middle_mm[:, 1] + np.array([[-half], [half]])  # (sides, rows)
    column = ((x - view.box.x0) * view.px_per_mm_x).astype(int).clip(0, view.values.shape[1] - 1)
    line = ((y - view.box.y0) * view.px_per_mm_y).astype(int).clip(0, view.values.shape[0] - 1)
    return np.asarray(linear_light(view.values[line[..., None], column]).min(axis=0), np.float64)
