"""Whether a JPEG holds yellow's lines too coarsely to tell one from another.

Blue, which yellow takes away, is a ninth of luma, and a half of one chroma (ITU-T T.871). A file holds both in steps
that are the coarser the finer the detail (ISO/IEC 10918-1, tables K.1 and K.2), and chroma mostly at half the
resolution. Where a step is about as much as the lines' wave, rounding takes lines away and moves others, in both
printings alike where these lie alike among blocks.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import linear_to_srgb
from printcheck.limits import LIMITS
from printcheck.robust import middle_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printcheck.measure.ladder import LadderSignal
    from printcheck.pattern.elements import Ladder

__all__ = ["steps_take_lines"]

_OF_BLUE = 0.5  # of a change in blue, that is in its chroma (ITU-T T.871, 7)
_BLOCK = 8  # values in a block, each way
# two values of chroma to a wave hold it or not by where they fall: whole columns of lines are gone
_MOST_ORDER = _BLOCK * (1.0 - LIMITS["chroma_sampled"].value)
_MOST_ROUNDED = LIMITS["lines_rounded"].value


def steps_take_lines(
    ladders: Sequence[Ladder],
    signals: Sequence[LadderSignal],
    steps: Sequence[float],
    px_per_mm: float,
    width_mm: float,
) -> bool:
    """Tell whether the file rounds the wave of yellow's lines by more than they may differ.

    Parameters
    ----------
    ladders, signals : sequence
        The printings of yellow's ladder, and what each shows: in luma, or with chroma.
    steps : sequence of float
        Of the capture: `luma_steps` or `chroma_steps`, as the signals are.
    px_per_mm : float
        Along the feed.
    width_mm : float
        Sigma of lines in the picture, of the inks that luma shows: how wide yellow's are in chroma is what rounding
        spoils.
    """
    if not steps:
        return False
    in_luma = signals[0].in_luma
    spacing = ladders[0].pitch_mm * len(ladders[0].columns)
    # a cosine of amplitude a down a block is a coefficient of a sqrt(8) sqrt(8 / 2); half periods in its height
    order = 2 * _BLOCK / (spacing * px_per_mm / (1 if in_luma else 2))
    if order > _MOST_ORDER:
        return not in_luma
    step = float(np.interp(order, np.arange(len(steps)), steps))
    share = 1.0 if in_luma else _OF_BLUE
    wave = math.sqrt(_BLOCK * _BLOCK / 2) * share * max(_wave(signal, spacing, width_mm) for signal in signals)
    return step / math.sqrt(12) > _MOST_ROUNDED * wave


def _wave(signal: LadderSignal, spacing: float, width_mm: float) -> float:
    """Amplitude of the lines' first harmonic where they are read, in blue or in luma, levels of 255."""
    level = signal.level if signal.unmixed_level is None else signal.unmixed_level
    kept = math.exp(-2 * (math.pi * (signal.width_mm if signal.in_luma else width_mm) / spacing) ** 2)
    share = min(max(2 * level / spacing * kept, 0.0), 1.0)
    paper = float(middle_of(signal.paper[signal.readable])) if signal.readable.any() else 1.0
    return 255 * float(linear_to_srgb(paper) - linear_to_srgb(paper * (1 - share)))
