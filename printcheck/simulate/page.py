"""The printed page: from dots to what reaches an observer with three channels, a slab of rows at a time.

Cover of each ink comes from its drops. The page's transmittance (one way) in each channel is the Neugebauer mean of
its primaries' (see `inks`). Light enters through the ink, wanders sideways in the paper, and leaves through the ink
at another place, so reflectance is ``paper * T * (T blurred by the paper's spread)``: solids keep the colour of
their primary, fine detail shows the optical dot gain of Yule and Nielsen.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from printcheck.pattern.heads import Head
from printcheck.simulate.drops import SpotModel, deposit, row_loads
from printcheck.simulate.faults import InkState, NozzleHealth
from printcheck.simulate.inks import Floats, mixed, primaries
from printcheck.simulate.printer import Firing
from printcheck.simulate.stream import blurred
from printcheck.simulate.texture import Texture

__all__ = ["InkLayer", "PrintedPage", "SeenPage"]

_SLAB = 96  # rows of the fine raster done at once; a multiple of the fine cells per row of every head
_BLOCK = 64  # columns looked at together for ink
_MARGIN = 3  # fine cells around a dot's own that its spot may reach
_LOAD_POWER = 0.5
"""Where spots overlap, less ink is also a thinner layer: density goes with this power of the volume that flows. It
is 1 for ink that stays on top and 0 for paper that soaks up any amount; plain paper lies between."""
_MOST_OFF = 1.75  # fine cells; landing errors are cut off here so that spots stay within the margin


class SeenPage(Protocol):
    """What a capture needs of a printed page, however it was printed: size in cells, and the light it sends back."""

    head: Head
    paper: Floats
    height: int
    width: int
    cell_um: float

    def reflectance(
        self, weights: Floats, y0: int = 0, y1: int | None = None, x0: int = 0, x1: int | None = None
    ) -> Iterator[NDArray[np.float32]]:
        """Reflectance factor seen by an observer, as slabs of rows from the top down."""
        ...


@dataclass(frozen=True, slots=True)
class InkLayer:
    """One ink as printed.

    Attributes
    ----------
    ink : str
    dots : (N, M) uint8
        At the spacing of the ink's rows in both directions; 1 where a drop is asked for.
    firing : Firing
    health : NozzleHealth
    state : InkState
    feed_um : (S,)
        Paper position error of each swath, added to the landing of its drops; indexed by swath number modulo S.
    bidirectional_um : float
    spot : SpotModel
    cells_per_row : int
        Fine cells to a row.
    pitch_um : float
        Height of a row.
    """

    ink: str
    dots: NDArray[np.uint8]
    firing: Firing
    health: NozzleHealth
    state: InkState
    feed_um: Floats
    bidirectional_um: float
    spot: SpotModel
    cells_per_row: int
    pitch_um: float

    def volume(self, rows: NDArray[np.int64]) -> Floats:
        """(P, n) relative drop volume of each pass over `rows`."""
        y_mm = (rows + 0.5) * self.pitch_um / 1000.0
        fired: Floats = self.health.volume[self.firing.nozzle[:, rows]]
        return fired * self.state.volume_factor(np.asarray(y_mm, np.float64))

    def landing_um(self, rows: NDArray[np.int64]) -> tuple[Floats, Floats]:
        """(P, n) landing error along the feed and along the stroke of each pass over `rows`."""
        nozzle, swath = self.firing.nozzle[:, rows], self.firing.swath[:, rows]
        y = self.health.aim_y_um[nozzle] + self.feed_um[swath % self.feed_um.size]
        x = self.health.aim_x_um[nozzle] + np.where(swath % 2 == 1, self.bidirectional_um, 0.0)
        return y, x


class PrintedPage:
    """A page of ink on paper, ready to be looked at.

    Parameters
    ----------
    head : Head
    layers : tuple of InkLayer
    absorbances : dict of (31,)
        Of each ink as filled into a healthy cartridge.
    paper : (31,)
        Reflectance factor.
    spread_um : float
        Standard deviation of light's sideways travel in the paper.
    grain : Texture
        Uneven take-up of ink: a factor on the load, mean 1.
    """

    def __init__(
        self,
        head: Head,
        layers: tuple[InkLayer, ...],
        absorbances: dict[str, Floats],
        paper: Floats,
        spread_um: float,
        grain: Texture,
    ) -> None:
        self.head, self.layers, self.absorbances, self.paper = head, layers, absorbances, paper
        self.spread_um, self.grain = spread_um, grain
        first = layers[0]
        self.height = first.dots.shape[0] * first.cells_per_row
        self.width = first.dots.shape[1] * first.cells_per_row
        self.cell_um = 25400.0 / head.raster
        self._loads: dict[str, NDArray[np.float32]] = {}

    def absorbance_at(self, layer: InkLayer, y_mm: float) -> Floats:
        """(31,) absorbance of what comes out of a layer's nozzles at `y_mm`, foreign ink and all."""
        shares: dict[str, float] = {}
        for foreign in layer.state.contamination:
            shares[foreign.ink] = shares.get(foreign.ink, 0.0) + foreign.share_at(y_mm)
        flow = 1.0
        for effect in layer.state.flow:
            flow *= float(effect.factor(np.array([y_mm]))[0])
        load = layer.state.strength * flow**_LOAD_POWER
        out: Floats = load * mixed(layer.ink, shares, self.absorbances)
        return out

    def reflectance(
        self, weights: Floats, y0: int = 0, y1: int | None = None, x0: int = 0, x1: int | None = None
    ) -> Iterator[NDArray[np.float32]]:
        """Reflectance factor seen by an observer, as slabs of rows from the top down.

        Parameters
        ----------
        weights : (3, 31)
            Channels of the observer.
        y0, y1, x0, x1 : int
            Part of the fine raster to look at; all of it by default.

        Yields
        ------
        (h, x1 - x0, 3) float32
        """
        x1 = x1 or self.width
        white = np.tile(self.paper @ weights.T, x1 - x0).astype(np.float32)  # flat rows: numpy is slow along 3
        sigma = self.spread_um / self.cell_um
        through = self._transmittance(weights, y0, self.height if y1 is None else y1, x0, x1)

        def out_again(there: NDArray[np.float32], back: NDArray[np.float32]) -> NDArray[np.float32]:
            light = np.multiply(there, back)
            flat = light.reshape(light.shape[0], -1)
            flat *= white
            return light

        return blurred(through, sigma, sigma, out_again)

    def loads(self, layer: InkLayer) -> NDArray[np.float32]:
        """(P, N, J, J + cells) load around one drop of each pass over each row; worked out once."""
        if layer.ink not in self._loads:
            rows = np.arange(layer.dots.shape[0])
            radius = layer.spot.radius_um(layer.volume(rows)) / self.cell_um
            off_y, off_x = (np.clip(v / self.cell_um, -_MOST_OFF, _MOST_OFF) for v in layer.landing_um(rows))
            self._loads[layer.ink] = np.stack(
                [row_loads(*drops, layer.cells_per_row, _MARGIN) for drops in zip(radius, off_y, off_x, strict=True)]
            )
        return self._loads[layer.ink]

    def cover(self, layer: InkLayer, y0: int, y1: int, x0: int, x1: int) -> NDArray[np.float32] | None:
        """(y1 - y0, x1 - x0) area cover of one ink, all in multiples of the fine cells per row; None where bare."""
        size = layer.cells_per_row
        extra = -(-_MARGIN // size)
        r0, r1 = y0 // size - extra, -(-y1 // size) + extra
        c0, c1 = x0 // size - extra, -(-x1 // size) + extra
        top, left = max(r0, 0), max(c0, 0)
        dots = layer.dots[top : max(r1, 0), left : max(c1, 0)]
        if not dots.any():
            return None
        rows = np.arange(top, top + dots.shape[0])
        loads = self.loads(layer)[:, rows]
        if not loads.any():
            return None
        load = np.zeros([side * size + 2 * _MARGIN for side in dots.shape], np.float32)
        passes = loads.shape[0]
        for p in range(passes):
            fired = dots
            if passes > 1:
                turn = (np.arange(left, left + dots.shape[1])[None, :] + rows[:, None]) % passes
                fired = np.where(turn == p, dots, 0).astype(np.uint8)
            deposit(fired, loads[p], size, load)
        down, right = y0 - top * size + _MARGIN, x0 - left * size + _MARGIN
        part = load[down : down + y1 - y0, right : right + x1 - x0]
        part *= self.grain.window(y0, x0, part.shape[0], part.shape[1])
        return np.asarray(-np.expm1(-part))

    def _transmittance(self, weights: Floats, y0: int, y1: int, x0: int, x1: int) -> Iterator[NDArray[np.float32]]:
        """One-way transmittance, 1 for bare paper, as slabs of rows."""
        white = self.paper @ weights.T
        for top in range(y0, y1, _SLAB):
            bottom = min(top + _SLAB, y1)
            slab = np.ones((bottom - top, x1 - x0, 3), np.float32)
            middle_mm = (top + bottom) / 2 * self.cell_um / 1000.0
            inks = [self.absorbance_at(layer, middle_mm) for layer in self.layers]
            present = np.stack([self._blocks_with_ink(layer, top, bottom, x0, x1) for layer in self.layers])
            for start, stop in _runs(present):
                here = np.flatnonzero(present[:, start])
                left, right = x0 + start * _BLOCK, min(x0 + stop * _BLOCK, x1)
                covers, seen = [], []
                for k in here:
                    cover = self.cover(self.layers[k], top, bottom, left, right)
                    if cover is not None:
                        covers.append(cover)
                        seen.append(inks[k])
                if covers:
                    kinds = np.sqrt(primaries(seen, self.paper, weights) / white)
                    slab[:, left - x0 : right - x0] = _neugebauer(covers, kinds.astype(np.float32))
            yield slab

    def _blocks_with_ink(self, layer: InkLayer, top: int, bottom: int, x0: int, x1: int) -> NDArray[np.bool_]:
        """For each block of columns, whether spots of this ink may reach it."""
        size = layer.cells_per_row
        extra = -(-_MARGIN // size)
        rows = layer.dots[max(0, top // size - extra) : -(-bottom // size) + extra, x0 // size : -(-x1 // size)]
        columns = np.repeat(rows.any(axis=0), size)[: x1 - x0]
        count = -(-(x1 - x0) // _BLOCK)
        padded = np.zeros(count * _BLOCK, bool)
        padded[: columns.size] = columns
        blocks = padded.reshape(count, _BLOCK)
        out: NDArray[np.bool_] = np.asarray(blocks.any(axis=1))
        out[:-1] |= blocks[1:, :_MARGIN].any(axis=1)
        out[1:] |= blocks[:-1, -_MARGIN:].any(axis=1)
        return out


def _runs(present: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Find runs of blocks that hold the same inks, bare ones left out."""
    code = (present * (1 << np.arange(present.shape[0]))[:, None]).sum(axis=0)
    edges = np.flatnonzero(np.diff(code)) + 1
    for start, stop in zip([0, *edges], [*edges, code.size], strict=True):
        if code[start]:
            yield int(start), int(stop)


def _neugebauer(covers: list[NDArray[np.float32]], kinds: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mean of the primaries `kinds` (2**n, 3) under n covers (h, w), folded ink by ink (Demichel's weights)."""
    out = np.empty((*covers[0].shape, kinds.shape[1]), np.float32)
    for channel in range(kinds.shape[1]):
        level: list[NDArray[np.float32] | np.float32] = list(kinds[:, channel])
        for cover in covers:
            level = [a + cover * (b - a) for a, b in zip(level[0::2], level[1::2], strict=True)]
        out[..., channel] = level[0]
    return out
