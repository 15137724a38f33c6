"""Dashes that a lamp's reflection in a photo has burnt out.

A reflection adds light. Where paper and ink both reach the camera's ceiling a printed dash leaves no trace, and
would pass for missing; where the reflection is several times as light as the paper, it leaves too little of one; and
the paper's level, a smooth curve down each column, can't follow the reflection's edge. Such dashes are unreadable. A
dash that is plainly there is there all the same.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.robust import middle_of, quantile_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.ladder import LadderSignal
    from printcheck.pattern.elements import Ladder
    from printcheck.register.view import View

__all__ = ["without_burnt_out"]

_CEILING = 0.97  # of full scale, linear light: JPEG leaves burnt-out paper within 2 of 255
_PIECES = 8  # along a dash
_BURNT_PIECES = 2  # the middle of a dash's pieces leaves out the lowest one
_PLAIN = 0.7  # of a sound dash: plainly there
_FAR_LIGHTER = 2.0  # paper over the ladder's usual, beyond which a sound dash keeps less than half its depth
_LEAST_MM = 0.015  # line weight under which no ink of any sheet prints: a third of the palest
_SOUND = 0.9  # quantile of the line weights that stands for a sound dash


def without_burnt_out(signal: LadderSignal, view: View, ladder: Ladder) -> LadderSignal:
    """`signal` with dashes that may have been burnt out taken away; `view` is what it was read from."""
    finite = signal.amplitude[np.isfinite(signal.amplitude)]
    if not finite.size:
        return signal
    light = _beside(view, ladder)  # (rows, pieces)
    burnt = (light > _CEILING).sum(axis=1) >= _BURNT_PIECES
    veiled = middle_of(light, 1) > _FAR_LIGHTER * middle_of(light.ravel())
    faint = ~(signal.amplitude > max(_PLAIN * quantile_of(finite, _SOUND), _LEAST_MM))
    spoilt = burnt | veiled
    columns = np.arange(ladder.rows) % len(ladder.order)
    gone = np.isin(columns, columns[spoilt]) & faint
    if not gone.any():
        return signal
    parts, amplitude = signal.parts.copy(), signal.amplitude.copy()
    parts[gone], amplitude[gone] = np.nan, np.nan
    return replace(signal, parts=parts, amplitude=amplitude, readable=signal.readable & ~gone)


def _beside(view: View, ladder: Ladder) -> NDArray[np.float64]:
    """Light of the paper half-way to the next dashes of the column, the darker side of the two, (rows, pieces)."""
    half = len(ladder.columns) * ladder.pitch_mm / 2
    rows = np.arange(ladder.rows)
    y = ladder.box.y0 + (rows + 0.5) * ladder.pitch_mm
    ends = np.array(ladder.columns)[np.array(ladder.order)[rows % len(ladder.order)]]
    share = (np.arange(_PIECES) + 0.5) / _PIECES
    x = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * share  # (rows, pieces)
    column = np.clip(((x - view.box.x0) * view.px_per_mm_x).astype(int), 0, view.values.shape[1] - 1)
    sides = []
    for side in (-half, half):
        line = np.clip(((y + side - view.box.y0) * view.px_per_mm_y).astype(int), 0, view.values.shape[0] - 1)
        sides.append(linear_light(view.values[line[:, None], column]))
    return np.asarray(np.minimum(*sides), np.float64)
