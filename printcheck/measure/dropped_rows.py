"""Rows of the page that the printer's driver dropped, to make a sheet smaller.

A driver that scales a page by s without smoothing leaves out one row of dots in every 1 / (1 - s), all over the page:
what is missing lies on one lattice of page heights, in every ink and every printing. A nozzle's fault lies on the
head: it takes the same rows of each printing, and mostly of one ink.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.result import DashReading, LinesReading

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["scale_of_dropped_rows"]

_LEAST_ROWS = int(LIMITS["dropped_needed"].value)
_FINER = 5  # times what tells frequencies apart, in the search
_MOST_ROWS = 200  # that are looked at, spread evenly
_STEPS = (LIMITS["dropped_step_least"].value, LIMITS["dropped_step_most"].value)
_OFF_ROWS = LIMITS["dropped_off"].value
_ON_LATTICE = LIMITS["dropped_on_lattice"].value
_FOUND = LIMITS["dropped_found"].value
_COHERENT = 0.9  # of the most coherent lattice: as good as that, and wider
_SAME_ROWS = LIMITS["dropped_same_rows"].value


def scale_of_dropped_rows(lines: Sequence[LinesReading], dots_per_inch: int) -> tuple[float, float] | None:
    """What a driver scaled the sheet by, as its missing rows tell; none where they don't lie so.

    Parameters
    ----------
    lines : sequence of LinesReading
    dots_per_inch : int
        Of the raster the sheet was composed at.

    Returns
    -------
    tuple of float or None
        Printed over true size along the page's x and y, which drivers scale alike.
    """
    if 2 * sum(len(reading.missing) + len(reading.intermittent) for reading in lines) < _LEAST_ROWS:
        return None
    if _same_in_all(lines):
        return None
    ladders = _ladders(lines, dots_per_inch)
    missing = np.concatenate([y[gone] for y, gone in ladders])
    if len(missing) < _LEAST_ROWS:
        return None
    step, first = _lattice(missing[:: 1 + len(missing) // _MOST_ROWS])
    turns = (missing - first) / step
    on = int((np.abs(turns - np.round(turns)) * step <= _OFF_ROWS).sum())
    expected = sum(len(y) for y, _ in ladders) / step  # a dash stands on one row of dots
    if on < max(_ON_LATTICE * len(missing), _FOUND * expected):
        return None
    scale = 1.0 - 1.0 / step
    return scale, scale


def _ladders(
    lines: Sequence[LinesReading], dots_per_inch: int
) -> list[tuple[NDArray[np.float64], NDArray[np.bool_]]]:
    """Heights of the readable dashes of each printing, rows of dots down the page, and which are missing."""
    out = []
    for reading in lines:
        for dashes in _printings(reading):
            read = [dash for dash in dashes if dash.state != "unreadable"]
            if read:
                y = np.array([(d.box.y0 + d.box.y1) / 2 for d in read]) * (dots_per_inch / 25.4)
                out.append((y, np.array([d.state == "missing" for d in read])))
    return out


def _printings(reading: LinesReading) -> list[list[DashReading]]:
    """Its dashes by printing."""
    return [list(dashes) for _, dashes in itertools.groupby(reading.dashes, key=lambda dash: dash.repeat)]


def _same_in_all(lines: Sequence[LinesReading]) -> bool:
    """True where the printings miss the same rows, as a head's fault makes them.

    So do dropped ones where the printings lie a whole number of steps apart, which can't be told from the head then.
    """
    every, some = 0, 0
    for reading in lines:
        printings = [{d.row for d in dashes if d.state == "missing"} for dashes in _printings(reading)]
        if len(printings) > 1:
            every += len(set.intersection(*printings))
            some += len(set.union(*printings))
    return every > _SAME_ROWS * some


def _lattice(y: NDArray[np.float64]) -> tuple[float, float]:
    """Step and first point of the widest lattice on which most of `y` (N,) lie, rows."""
    fine = 1.0 / (float(np.ptp(y)) + 1.0)  # cycles a row that turn the phase once from end to end
    rows = np.bincount(np.round(y - y.min()).astype(np.int64))
    coarse = np.fft.rfftfreq(_FINER * len(rows))
    coherent = np.abs(np.fft.rfft(rows, _FINER * len(rows)))
    searched = (coarse >= 1 / _STEPS[1]) & (coarse <= 1 / _STEPS[0])
    coarse, coherent = coarse[searched], coherent[searched]
    # on a lattice of whole rows its half, third... are as coherent
    widest = coarse[np.flatnonzero(coherent >= _COHERENT * coherent.max())[0]]
    about = coarse[np.argmax(np.where(coarse < 1.5 * widest, coherent, 0.0))]
    near = about + np.arange(-0.5, 0.5, 0.01) * fine
    phases = _phase(near, y)
    best = int(np.argmax(np.abs(phases)))
    return float(1 / near[best]), float(np.angle(phases[best]) / (2 * np.pi * near[best]))


def _phase(frequency: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Mean of the turns that `y` (N,) make at each frequency (F,)."""
    return np.asarray(np.exp(2j * np.pi * np.outer(frequency, y)).mean(axis=1))
