"""How far the rows of a head print unevenly over its height: what repeats with every swath and is no paper feed's.

A gap or an overlap between swaths leaves every line as strong as it was. A head that gets weaker towards one end
(air, or too little ink there) prints bands of one swath as well, but its lines show it, in all printings alike.
Rows' strengths are told against a plane over their ladder, which takes such a slope for the capture's; so the
lines' own weights are looked at here. Of a wave that fits the head's height once or twice the amplitude stays the
same where another advance has the second printing begin at another row.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printcheck.least_squares import least_squares
from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printcheck.measure.ladder import LadderSignal

__all__ = ["head_swings"]

_ORDERS = 2  # waves down the head that are looked for: of one swath and of half of it
_LEAST_LINES = LIMITS["head_swing_lines"].value
_SURE = LIMITS["head_swing_sure"].value


def head_swings(signals: Sequence[LadderSignal]) -> tuple[float, float]:
    """Amplitudes of the waves once and twice down the head in its lines' weights, over their mean.

    Parameters
    ----------
    signals : sequence of LadderSignal
        The printings of one ink's ladder.

    Returns
    -------
    (float, float)
        The least that any printing shows, for what one alone shows is the paper's or the capture's; 0 where noise
        may explain it.
    """
    found = np.array([_swings(signal) for signal in signals])
    once, twice = found.min(axis=0) if len(found) > 1 else np.zeros(_ORDERS)
    return float(once), float(twice)


def _swings(signal: LadderSignal) -> NDArray[np.float64]:
    """The same of one printing, (2,)."""
    level = signal.level
    there = signal.readable & (signal.amplitude > LIMITS["dash_missing"].value * level)
    if level <= 0 or there.mean() < _LEAST_LINES:
        return np.zeros(_ORDERS)
    turns = 2 * np.pi * np.arange(1, _ORDERS + 1) * np.arange(len(there))[:, None] / len(there)
    design = np.column_stack([np.ones(len(there)), np.cos(turns), np.sin(turns)])[there]
    weight = signal.amplitude[there]
    fit = least_squares(design, weight)
    swings = np.hypot(fit[1 : 1 + _ORDERS], fit[1 + _ORDERS :])
    noise = float(np.std(weight - design @ fit)) * np.sqrt(2 / len(weight))
    return np.asarray(np.where(swings > _SURE * noise, swings / max(float(fit[0]), 1e-9), 0.0))
