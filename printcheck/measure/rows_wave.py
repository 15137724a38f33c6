"""How far rows of a head print unevenly at one spacing of them: what a mid-tone's fine wave has to show as well.

A halftone's cells leave gaps in mid-tones alone. Rows that are weak at an even spacing, as those of one group of a
head's circuits are, make the same wave there; but every line of a ladder is one row at full ink, and shows them too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printcheck.least_squares import least_squares
from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from printcheck.measure.result import LinesReading

__all__ = ["rows_wave"]

_SURE = LIMITS["head_swing_sure"].value
_LEAST_LINES = LIMITS["head_swing_lines"].value


def rows_wave(lines: LinesReading, spacing: float) -> float:
    """Amplitude of the wave of `spacing` rows in the strengths of an ink's lines, over their mean.

    Returns
    -------
    float
        The least that any printing shows, for what one alone shows is the paper's or the capture's; 0 where noise
        may explain it. Rows that are missing or can't be read are left out.
    """
    printings: dict[int, list[tuple[int, float]]] = {}
    for dash in lines.dashes:
        own = printings.setdefault(dash.repeat, [])
        if dash.strength is not None and dash.state not in ("missing", "unreadable"):
            own.append((dash.row, dash.strength))
    if not printings or min(map(len, printings.values())) < _LEAST_LINES * lines.rows:
        return 0.0
    return min(_wave(np.array(own), spacing) for own in printings.values())


def _wave(strengths: np.ndarray[tuple[int, ...], np.dtype[np.float64]], spacing: float) -> float:
    """The same of one printing's rows and their strengths (N, 2)."""
    rows, strength = strengths.T
    turns = 2 * np.pi * rows / spacing
    design = np.column_stack([np.ones(len(rows)), np.cos(turns), np.sin(turns)])
    fit = least_squares(design, strength)
    swing = float(np.hypot(fit[1], fit[2]))
    noise = float(np.std(strength - design @ fit)) * (2 / len(rows)) ** 0.5
    return swing / max(float(fit[0]), 1e-9) if swing > _SURE * noise else 0.0
