"""The page-long areas of a toner sheet, tints and bare columns, as linear light with the halftone still in it.

A picture's values are made linear pixel by pixel and only then averaged or interpolated: a tint is dots, and light
adds up where encoded values don't. The nearest pixel would not do: askew, the samples step over a row of pixels every
pixel / sin(skew), the dots' lattice is broken there, and each break looks like a row of marks that repeat.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.pattern.layout import Layout
from printcheck.register.result import Registration
from printcheck.register.view import LUMA, look_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["SCALE_SD", "Field", "field_boxes", "read_fields"]

_INSET_X_MM, _INSET_Y_MM = 0.5, 1.2  # clear of edges, about which toner scatters
_PAPER_INSET_X_MM = -0.3  # the pattern keeps its bare columns 0.8 mm clear of a tint
_SAMPLES_PER_MM = 9.0  # finer pictures are averaged down to no less
SCALE_SD = LIMITS["toner_scale_sd"].value


@dataclass(frozen=True)
class Field:
    """One page-long area.

    Attributes
    ----------
    name : str
        ``"tint 30 %"`` or ``"paper"``.
    tone : float
        Asked for, 0 on bare paper.
    box : Box
        What it covers, mm on the page.
    light : (H, W) float32
        Linear light of the luma: toner is grey, and a JPEG's coarse steps of chroma leave luma alone.
    per_mm_x, per_mm_y : float
    """

    name: str
    tone: float
    box: Box
    light: NDArray[np.float32]
    per_mm_x: float
    per_mm_y: float

    def holds(self, x_mm: float, y_mm: float) -> bool:
        """Whether a place on the page lies on it."""
        return self.box.x0 <= x_mm <= self.box.x1 and self.box.y0 <= y_mm <= self.box.y1

    @cached_property
    def rows(self) -> NDArray[np.float64]:
        """Light (H,) of each row: of a tint the mean, for dots have no middle; of paper that, clear of specks."""
        return np.asarray(np.median(self.light, axis=1) if self.tone == 0 else self.light.mean(axis=1), np.float64)

    def down(self, step_mm: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Page y and mean light of blocks about `step_mm` tall."""
        count = max(2, round(self.box.height / step_mm))
        edges = np.linspace(0, self.light.shape[0], count + 1).astype(int)
        light = np.array([self.rows[a:b].mean() for a, b in itertools.pairwise(edges)])
        y = self.box.y0 + (edges[:-1] + edges[1:]) / 2 / self.per_mm_y
        return np.asarray(y, np.float64), light


def field_boxes(layout: Layout) -> tuple[tuple[str, float, Box], ...]:
    """Name, tone and box of the page-long areas of `layout`, from the left."""
    tints = layout.patches_of("tint")
    out = [(f"tint {100 * p.tone:.0f} %", p.tone, p.box.inset(_INSET_X_MM, _INSET_Y_MM)) for p in tints]
    columns: dict[str, list[Box]] = {}
    for paper in layout.papers:
        columns.setdefault(paper.near, []).append(paper.box)
    for pieces in columns.values():
        box = Box(pieces[0].x0, pieces[0].y0, pieces[-1].x1, pieces[-1].y1)
        out.append(("paper", 0.0, box.inset(_PAPER_INSET_X_MM, _INSET_Y_MM)))
    return tuple(sorted(out, key=lambda entry: entry[2].x0))


def read_fields(pixels: Pixels, registration: Registration) -> tuple[Field, ...]:
    """Read every page-long area that lies in the picture whole."""
    out = []
    factor = max(1, int(min(registration.px_per_mm_x, registration.px_per_mm_y) / _SAMPLES_PER_MM))
    for name, tone, box in field_boxes(registration.layout):
        view = look_at(pixels, registration, box, LUMA, scale=1 / factor, light=True)
        if view.inside < 1.0:
            continue
        out.append(Field(name, tone, box, view.values, view.px_per_mm_x, view.px_per_mm_y))
    return tuple(out)
