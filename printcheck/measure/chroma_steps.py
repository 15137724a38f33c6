"""Whether a JPEG's chroma is held too coarsely for yellow's lines, which are seen in it alone.

Of an ink that luma hardly knows a file keeps what its chroma keeps, mostly at half the resolution and in steps that
are the coarser the finer the detail (ISO/IEC 10918-1, tables K.1 and K.2). Where a step is about as much as the
lines' wave, rounding takes lines away and moves others, in both printings alike where these lie alike among blocks.
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
_BLOCK = 8  # values of chroma in a block, each way
# two values of chroma to a wave hold it or not by where they fall: whole columns of lines are gone
_MOST_ORDER = _BLOCK * (1.0 - LIMITS["chroma_sampled"].value)
_MOST_ROUNDED = LIMITS["chroma_rounded"].value


def steps_take_lines(
    ladders: Sequence[Ladder],
    signals: Sequence[LadderSignal],
    chroma_steps: Sequence[float],
    px_per_mm: float,
    width_mm: float,
) -> bool:
    """Tell whether the file's chroma rounds the wave of yellow's lines by more than they may differ.

    Parameters
    ----------
    ladders, signals : sequence
        The printings of yellow's ladder, and what each shows.
    chroma_steps : sequence of float
        Of the capture.
    px_per_mm : float
        Along the feed.
    width_mm : float
        Sigma of lines in the picture, of the inks that luma shows: how wide yellow's are is what rounding spoils.
    """
    if not chroma_steps:
        return False
    spacing = ladders[0].pitch_mm * len(ladders[0].columns)
    # a cosine of amplitude a down a block is a coefficient of a sqrt(8) sqrt(8 / 2); half periods in its height
    order = 2 * _BLOCK / (spacing * px_per_mm / 2)
    if order > _MOST_ORDER:
        return True
    step = float(np.interp(order, np.arange(len(chroma_steps)), chroma_steps))
    wave = (
        math.sqrt(_BLOCK * _BLOCK / 2) * _OF_BLUE * max(_blue_wave(signal, spacing, width_mm) for signal in signals)
    )
    return step / math.sqrt(12) > _MOST_ROUNDED * wave


def _blue_wave(signal: LadderSignal, spacing: float, width_mm: float) -> float:
    """Amplitude of the lines' first harmonic in the file's blue, levels of 255."""
    level = signal.level if signal.unmixed_level is None else signal.unmixed_level
    kept = math.exp(-2 * (math.pi * width_mm / spacing) ** 2)
    share = min(max(2 * level / spacing * kept, 0.0), 1.0)
    paper = float(middle_of(signal.paper[signal.readable])) if signal.readable.any() else 1.0
    return 255 * float(linear_to_srgb(paper) - linear_to_srgb(paper * (1 - share)))
