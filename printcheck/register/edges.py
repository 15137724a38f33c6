"""Even areas as rulers for the feed, where there are few dash ladders.

The middle between an area's upper and its lower edge stays where it was drawn, however much ink spreads or light
scatters: both edges move outward alike. An edge is where the light crosses half way between ink and paper.
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

__all__ = ["area_middles"]

_DARK_TONE = 0.7  # of the areas that are used: paler ones are dots, and have no edge to speak of
_TALL_MM = 3.0  # areas less tall have an edge whose blur reaches the other
_TALLEST_MM = 15.0  # its edges then move alike: half a turn of the smallest feed roller lies farther apart
_PIECE_MM = 30.0  # width of area that gives one reading
_END_MM = 0.8  # left off at an edge's ends
_ACROSS_PX_PER_MM = 4.0  # samples along an edge: they are averaged anyway
_REACH_MM = 0.6  # how far from its place an edge is looked for
_FAR_MM = 8.0  # ladders as near as this tell the same, and better
_CONTRAST = LIMITS["edge_contrast"].value


def area_middles(
    pixels: NDArray[Any], registration: Registration, known_y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Displacement along the feed of dark areas: rows of page x, page y, displacement, (M, 3) mm.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
    registration : Registration
        Good to `_REACH_MM`.
    known_y : (N,) float64
        Where on the page the feed is known already, mm: areas less than `_FAR_MM` from there are passed over.
    """
    out = []
    for patch in registration.layout.patches:
        if patch.tone < _DARK_TONE or patch.kind == "strip" or not _TALL_MM <= patch.box.height <= _TALLEST_MM:
            continue
        if known_y.size and np.abs(known_y - patch.box.centre[1]).min() < _FAR_MM:
            continue
        out += _of(pixels, registration, patch)
    return np.array(out).reshape(-1, 3)


def _of(pixels: NDArray[Any], registration: Registration, patch: Patch) -> list[tuple[float, float, float]]:
    box = patch.box.inset(_END_MM, 0.0)
    channel = INKS[patch.inks[0]].bgr
    pieces = max(1, round(box.width / _PIECE_MM))
    # both edges in one look, which costs less than two
    view = look_at(pixels, registration, box.inset(0.0, -2 * _REACH_MM), channel, most_x=_ACROSS_PX_PER_MM)
    if view.inside < 1.0:
        return []
    y_mm = view.y_mm
    starts = np.arange(pieces) * view.values.shape[1] // pieces
    widths = np.diff([*starts, view.values.shape[1]])
    shown = []
    for y in (box.y0, box.y1):
        near = np.abs(y_mm - y) < 2 * _REACH_MM
        light = linear_light(view.values[near])
        parts = np.add.reduceat(light, starts, axis=1) / widths
        shown.append([_crossing(part, y_mm[near]) for part in parts.T])
    middle = np.linspace(box.x0, box.x1, 2 * pieces + 1)[1::2].tolist()
    return [
        (x, (box.y0 + box.y1) / 2, (upper - box.y0 + lower - box.y1) / 2)
        for x, upper, lower in zip(middle, *shown, strict=True)
        if upper is not None and lower is not None
    ]


def _crossing(light: NDArray[np.float32], y_mm: NDArray[np.float64]) -> float | None:
    """Where `light` crosses half way between its ends; none where it doesn't do so once and clearly."""
    ends = light[: len(light) // 4].mean(), light[-(len(light) // 4) :].mean()
    if abs(ends[0] - ends[1]) < _CONTRAST * max(ends):
        return None
    above = light > (ends[0] + ends[1]) / 2
    turns = np.flatnonzero(above[1:] != above[:-1])
    if len(turns) != 1:
        return None
    k = int(turns[0])
    part = ((ends[0] + ends[1]) / 2 - light[k]) / (light[k + 1] - light[k])
    return float(y_mm[k] + part * (y_mm[k + 1] - y_mm[k]))
