"""How strong each dash truly is: the light that it takes away on the paper itself, before any optics.

Strength is a matter of light, not of drop volume: half the volume is a line three quarters as wide, and light that
wanders in the paper makes it darker than its width. So the truth is taken where the ink lies, from the printed page
as the sensor's own channel sees it: the light missing from a strip of half the dashes' spacing to either side of a
dash, over its length, as a share of what sound dashes of the same printing take. What differs from dash to dash in
print (drop volume, uneven take-up of the ink by the paper) is part of it; what capture adds is not.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from printcheck.pattern.elements import Ladder
from printcheck.pattern.inks import INKS
from printcheck.pattern.layout import Layout
from printcheck.simulate.inks import Floats
from printcheck.simulate.page import PrintedPage
from printcheck.simulate.truth import Truth

__all__ = ["with_strengths"]

_ENDS_MM = 0.45  # left out at a dash's ends, where it is rounded
_CHANNELS = "rgb"


def with_strengths(truth: Truth, page: PrintedPage, layout: Layout, weights: Floats) -> Truth:
    """`truth` with every dash's strength.

    Parameters
    ----------
    truth : Truth
        Of a page printed at its true size.
    page : PrintedPage
    layout : Layout
    weights : (3, 31)
        The sensor's channels; each ink is seen in the one in which it absorbs most.
    """
    dashes = {}
    for ink, known in truth.dashes.items():
        channel = _CHANNELS.index(INKS[ink].absorbs)
        out = list(known)
        for ladder in layout.ladders_of(ink):
            taken = _light_taken(page, ladder, weights, channel)
            here = [k for k, dash in enumerate(known) if dash.repeat == ladder.repeat]
            sound = [taken[known[k].row] for k in here if known[k].state in ("present", "displaced")]
            level = float(np.median(sound)) if sound else float("nan")
            for k in here:
                out[k] = replace(known[k], strength=float(taken[known[k].row]) / level)
        dashes[ink] = tuple(out)
    return replace(truth, dashes=dashes)


def _light_taken(page: PrintedPage, ladder: Ladder, weights: Floats, channel: int) -> Floats:
    """Light missing about each row's dash, (rows,) mm of full absorption."""
    cell_mm = page.cell_um / 1000.0
    size = max(layer.cells_per_row for layer in page.layers)
    half = max(1, int(len(ladder.columns) * ladder.pitch_mm / 2 / cell_mm))
    out = np.empty(ladder.rows)
    y0 = int((ladder.box.y0 / cell_mm - 2 * half) // size) * size
    y1 = int((ladder.box.y1 / cell_mm + 2 * half) // size + 1) * size
    white = float(page.paper @ weights[channel])
    for number, (left, right) in enumerate(ladder.columns):
        x0, x1 = (round(x / cell_mm / size) * size for x in (left + _ENDS_MM, right - _ENDS_MM))
        slabs = page.reflectance(weights, y0, y1, x0, x1)
        missing = 1.0 - np.concatenate([slab[..., channel].mean(axis=1, dtype=np.float64) for slab in slabs]) / white
        for row in ladder.rows_in(number):
            middle = int((ladder.box.y0 + (row + 0.5) * ladder.pitch_mm) / cell_mm) - y0
            out[row] = missing[middle - half : middle + half + 1].sum() * cell_mm
    return out
