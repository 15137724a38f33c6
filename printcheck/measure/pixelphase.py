"""What a line's place owes to where it lies among the picture's pixels, on a sheet that lies straight.

Pixels that are not much finer than a line, and an encoding whose values were averaged instead of their light, draw it
towards the middle of a pixel or away from it; chroma that is sampled at every second row of pixels, as JPEG's mostly
is (4:2:0), towards the middle of the pair. Where a dash crosses the rows of pixels all that averages out along it.
Where it keeps to one row, it doesn't: the dash, and those of all columns that lie alike, read off their places by the
same amount, of up to half a pixel, whatever the head did. It is a function of that place alone, which repeats with
the pixel or the pair, so that the lines themselves show it: a few waves, fitted by least squares.

A head has a regular step too. Where the pixels' step falls on that of its banks or passes (rows of 600 to the inch at
300 pixels) nothing tells the two apart, and the place is left as it reads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printcheck.least_squares import least_squares
from printcheck.robust import MAD_SD, middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["without_pixel_phase"]

_WAVES = (1.0, 0.5, 2.0, 1.5, 3.0)  # cycles a pixel: the pixel's, the pair's, and their overtones
_HEADS = (0.0, 0.25, 0.5)  # cycles a row of what a head does alike: all rows, four passes, two passes or banks
_APART = 1.0  # cycles over the ladder, nearer than which a wave is not told from those: at one they are orthogonal
_STRAIGHT_PX = 1.0  # rows of pixels that a dash crosses, from which on it averages over them
_MOST_PX = 0.75  # a pair's middle lies half a pixel off either, and coarse samples add a quarter at most
_NEEDED = 50  # lines, for ten terms
_EXPLAINED = 0.8  # of the spread may be left: with more, pixels are not what makes these places scatter
_FAR = 3.0  # spreads off the waves, from which on a line says nothing of them: it may be thrown askew


def without_pixel_phase(
    offset_mm: NDArray[np.float64],
    there: NDArray[np.bool_],
    row_px: NDArray[np.float64] | None,
    crossed_px: float,
    pitch_mm: float,
) -> NDArray[np.float64]:
    """Offsets without what they owe to the pixels, (rows,) mm.

    Parameters
    ----------
    offset_mm : (rows,) float64
        As read.
    there : (rows,) bool
        Which are those of lines.
    row_px : (rows,) float64, optional
        Where they lie across the picture's rows of pixels; centres of pixels, or their edges, at whole numbers.
    crossed_px : float
        Rows of pixels that a dash crosses.
    pitch_mm : float
        From row to row of the head.
    """
    if row_px is None or crossed_px >= _STRAIGHT_PX or there.sum() < _NEEDED:
        return offset_mm
    pitch_px = abs(float(row_px[-1] - row_px[0])) / (len(row_px) - 1)
    waves = _told_apart(pitch_px, len(row_px))
    if not waves or pitch_px <= 0:
        return offset_mm
    turn = 2 * np.pi * row_px[:, None] * np.array(waves)
    design = np.concatenate([np.ones((len(row_px), 1)), np.cos(turn), np.sin(turn)], axis=1)
    used = there & np.isfinite(offset_mm)
    left = offset_mm - middle_of(offset_mm[used])
    before = MAD_SD * float(middle_of(np.abs(left[used])))
    for _ in range(2):
        fit = design @ least_squares(design[used], offset_mm[used])
        left = offset_mm - fit
        spread = MAD_SD * float(middle_of(np.abs(left[used])))
        used = used & (np.abs(left) <= _FAR * spread + 1e-9)
        if used.sum() < _NEEDED:
            return offset_mm
    # the mean is no part of it: what all lines share is where the page lies
    fit -= fit[used].mean()
    if spread > _EXPLAINED * before or np.abs(fit).max() > _MOST_PX * pitch_mm / pitch_px:
        return offset_mm
    return offset_mm - fit


def _told_apart(pitch_px: float, rows: int) -> list[float]:
    """Those waves that differ over `rows` from all that a head may do alike, and from one another."""
    taken, out = list(_HEADS), []
    for wave in _WAVES:
        cycles = wave * pitch_px
        seen = abs(cycles - round(cycles))
        if all(abs(seen - other) * rows > _APART for other in taken):
            taken.append(seen)
            out.append(wave)
    return out
