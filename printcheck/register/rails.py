"""The strips as rulers across the page: how a curled sheet lies between its marks, which stand 50 mm apart.

The middle between a strip's left and its right edge stays where it was drawn, however much ink spreads or light
scatters: both edges move outward alike. It is where a window of the strip's width holds as much ink when it is moved
left as when it is moved right.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.limits import LIMITS
from printcheck.pattern.inks import INKS
from printcheck.register.view import look_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.pattern.elements import Patch
    from printcheck.register.result import Registration

__all__ = ["STRIP_PIECE_MM", "strip_middles"]

STRIP_PIECE_MM = 8.0
"""Of strip that gives one reading: many rows to average over, and a curl turns little in it."""
_END_MM = 0.8  # left off at a strip's ends
_REACH_MM = 0.7  # how far from its place a strip is looked for: half the paper between two of them
_MOVED_MM = 0.4  # how far the window is moved to either side: over an edge, blur and spread included
_CONTRAST = LIMITS["rail_contrast"].value


def strip_middles(pixels: NDArray[Any], registration: Registration) -> NDArray[np.float64]:
    """Displacement across the page along each strip: rows of page x, page y, displacement, (M, 3) mm.

    Pieces too pale to tell, or at the end of the reach, are left out.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
    registration : Registration
        Good to `_REACH_MM`.
    """
    strips = [patch for patch in registration.layout.patches if patch.kind == "strip"]
    return np.concatenate([np.zeros((0, 3)), *(_of(pixels, registration, strip) for strip in strips)])


def _of(pixels: NDArray[Any], registration: Registration, strip: Patch) -> NDArray[np.float64]:
    box = strip.box.inset(-_REACH_MM - _MOVED_MM, _END_MM)
    view = look_at(pixels, registration, box, INKS[strip.inks[0]].bgr)
    if view.inside < 1.0:
        return np.zeros((0, 3))
    light = linear_light(np.ascontiguousarray(view.values))
    pieces = max(1, round(box.height / STRIP_PIECE_MM))
    starts = np.arange(pieces) * len(light) // pieces
    parts = np.add.reduceat(light, starts, axis=0) / np.diff([*starts, len(light)])[:, None]
    held = np.cumsum(np.pad(parts, ((0, 0), (1, 0))), axis=1) / view.px_per_mm_x
    edge_mm = box.x0 + np.arange(held.shape[1]) / view.px_per_mm_x
    off = np.arange(-_REACH_MM, _REACH_MM + 1e-9, 0.5 / view.px_per_mm_x)

    def within(moved: float) -> NDArray[np.float64]:
        """Mean light in the window at each of `off`, moved by `moved`, (pieces, offs)."""
        left, right = strip.box.x0 + off + moved, strip.box.x1 + off + moved
        ends = [np.array([np.interp(at, edge_mm, row) for row in held]) for at in (left, right)]
        return np.asarray((ends[1] - ends[0]) / strip.box.width)

    here, lean = within(0.0), within(_MOVED_MM) - within(-_MOVED_MM)
    darkest = np.clip(np.argmin(here, axis=1), 1, len(off) - 2)
    paper = parts.max(axis=1)
    out = []
    for piece, k in enumerate(darkest):
        low, high = lean[piece, k - 1], lean[piece, k + 1]
        if here[piece, k] > (1.0 - _CONTRAST) * paper[piece] or not low < 0.0 < high:
            continue
        middle_mm = (box.y0 * (2 * pieces - 2 * piece - 1) + box.y1 * (2 * piece + 1)) / (2 * pieces)
        moved = off[k - 1] + (off[k + 1] - off[k - 1]) * low / (low - high)
        out.append((strip.box.centre[0], middle_mm, moved))
    return np.array(out).reshape(-1, 3)
