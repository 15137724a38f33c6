"""Which nozzle prints which row of dots, in which pass, and where the paper lay just then."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd

import numpy as np
from numpy.typing import NDArray

from printcheck.pattern.heads import HeadInk

__all__ = ["Firing", "PrintMode", "assign_nozzles"]


@dataclass(frozen=True, slots=True)
class PrintMode:
    """How the printer works its way down the page.

    Attributes
    ----------
    kind : str
        ``"single"``: each swath once. ``"two-pass-dots"``, ``"two-pass-rows"``: the paper moves by half a head, a
        row's alternate dots, or alternate rows, are printed in the two passes. ``"interlaced"``: nozzles further
        apart than rows, the paper moves by a number of rows that has no factor in common with the interlace.
        ``"paired"``: the same head, the paper moves by one row, then by the rest of the head.
    advance : int or None
        Rows moved from swath to swath; None takes all the head allows.
    phase : int
        Rows from the top of the page to the first swath.
    feed_sd_um : float
        Standard deviation of the paper's position from swath to swath.
    bidirectional_um : float
        How far every second stroke lands to the right of its aim.
    draft : bool
        Only every second dot of a row is fired.
    """

    kind: str = "single"
    advance: int | None = None
    phase: int = 0
    feed_sd_um: float = 0.0
    bidirectional_um: float = 0.0
    draft: bool = False


@dataclass(frozen=True, slots=True)
class Firing:
    """The passes over each row.

    Attributes
    ----------
    nozzle, swath : (P, N) int
        Nozzle and swath number of pass p over row n; -1 where pass p prints nothing of row n.
    advance : int
        Rows moved from swath to swath.
    by_dot : bool
        True where the passes share a row dot by dot: pass p prints columns with ``(x + n) % P == p``.
    """

    nozzle: NDArray[np.int64]
    swath: NDArray[np.int64]
    advance: int
    by_dot: bool


def assign_nozzles(ink: HeadInk, mode: PrintMode, rows: int) -> Firing:
    """Nozzles that print rows 0 to `rows` - 1 of the page, in the row spacing of `ink`."""
    n, passes = ink.nozzles, ink.passes
    r = np.arange(rows) - mode.phase
    if mode.kind in ("two-pass-dots", "two-pass-rows") and passes == 1:
        step = mode.advance or n // 2
        swath = r // step
        nozzle = np.stack([r - swath * step, r - swath * step + step])
        swaths = np.stack([swath, swath - 1])
        if mode.kind == "two-pass-dots":
            return Firing(nozzle, swaths, step, True)
        pick = r % 2
        every = np.arange(rows)
        return Firing(nozzle[pick, every][None], swaths[pick, every][None], step, False)
    if mode.kind == "paired" and passes > 1:
        height = n * passes
        block, within = np.divmod(r, height)
        return Firing((within // passes)[None], (block * passes + within % passes)[None], height, False)
    step = mode.advance or n
    while gcd(step, passes) > 1:
        step -= 1
    # swath s prints rows s*step + passes*j, j < step: find the s of the right remainder whose span holds r
    inverse = pow(step, -1, passes) if passes > 1 else 0
    remainder = (r * inverse) % passes
    swath = ((r // step) - remainder) // passes * passes + remainder
    nozzle = (r - swath * step) // passes
    return Firing(nozzle[None], swath[None], step, False)
