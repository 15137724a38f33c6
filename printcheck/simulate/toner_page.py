"""A page as a laser printer leaves it: screened dots of toner, uneven and speckled, fused onto paper.

Toner lies on top of the paper, so a dot's edge is soft by the spread of the toner cloud, its middle dark by the
thickness of the layer; light spreads in the paper beneath as it does under ink (see `page`).
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from printcheck.pattern.heads import Head
from printcheck.simulate.inks import SURFACE, Floats
from printcheck.simulate.screen import Screen
from printcheck.simulate.stream import blurred
from printcheck.simulate.texture import Texture
from printcheck.simulate.toner_faults import Spot, TonerState

__all__ = ["TonerPage"]

_SLAB = 192  # rows done at once
_MARGIN = 6  # rows beside a slab that the toner's spread may bring in
_FULL, _LEAST = 2.0, 0.12  # toner is laid in full from 0.56 of a dot's exposure, and not at all under 0.06
_FAR = 1 << 20  # cells; many of the grain's tiles
_EDGE_MM = 5.0  # outermost part of a sheet, where less fog may reach


class TonerPage:
    """A printed page, ready to be looked at.

    Parameters
    ----------
    head : Head
    tone : (H, W) uint8
        What was asked for, 0 paper, 255 solid.
    screen : Screen
    state : TonerState
    density : float
        Of a full layer over paper.
    paper : (31,)
        Reflectance factor.
    spread_um, toner_um : float
        Standard deviation of light's travel in the paper, and of toner about its place.
    grain : Texture
        Uneven take-up, a factor, mean 1.
    """

    def __init__(
        self,
        head: Head,
        tone: NDArray[np.uint8],
        screen: Screen,
        state: TonerState,
        density: float,
        paper: Floats,
        spread_um: float,
        toner_um: float,
        grain: Texture,
    ) -> None:
        self.head, self.paper, self.spread_um, self.state = head, paper, spread_um, state
        self.tone, self.screen, self.density, self.grain = tone, screen, density, grain
        self.height, self.width = tone.shape
        self.cell_um = 25400.0 / head.raster
        self._sigma = toner_um / self.cell_um
        self._per_mm = 1000.0 / self.cell_um
        self._jumps = int(grain.window(0, 0, 1, 1).copy().view(np.uint32)[0, 0])

    def reflectance(
        self, weights: Floats, y0: int = 0, y1: int | None = None, x0: int = 0, x1: int | None = None
    ) -> Iterator[NDArray[np.float32]]:
        """Reflectance factor seen by an observer, as slabs (h, x1 - x0, 3) of rows; see `page.PrintedPage`."""
        y1, x1 = self.height if y1 is None else y1, x1 or self.width
        white = (self.paper @ weights.T).astype(np.float32)
        sigma = self.spread_um / self.cell_um

        def out_again(there: NDArray[np.float32], back: NDArray[np.float32]) -> NDArray[np.float32]:
            light = there * back.reshape(there.shape)
            light *= 1.0 - SURFACE
            light += SURFACE  # the surface of toner shines as well
            return light

        for grey in blurred(self._transmittance(y0, y1, x0, x1), sigma, sigma, out_again):
            flat = grey.reshape(grey.shape[0], grey.shape[1])
            yield np.asarray(cv2.merge([flat * w for w in white]), np.float32)

    def _transmittance(self, y0: int, y1: int, x0: int, x1: int) -> Iterator[NDArray[np.float32]]:
        """One-way transmittance, as slabs (h, w, 1)."""
        black = 10.0 ** (-self.density / 2.0)
        for top in range(y0, y1, _SLAB):
            bottom = min(top + _SLAB, y1)
            exposure, layer, loose = self._developed(top, bottom, x0, x1)
            cover = np.clip(_FULL * exposure - _LEAST, 0.0, 1.0)
            cover *= np.minimum(layer, 1.0)
            dark = black ** np.clip(layer, 0.3, 1.2)
            through = 1.0 - cover * (1.0 - dark)
            through *= 1.0 - np.clip(loose, 0.0, 1.0) * (1.0 - black)
            yield np.asarray(through[..., None], np.float32)

    def _developed(self, top: int, bottom: int, x0: int, x1: int) -> tuple[NDArray[np.float32], ...]:
        """Exposure, thickness of the layer (1 full), and loose toner where none belongs, each (h, w)."""
        a, b = max(0, top - _MARGIN), min(self.height, bottom + _MARGIN)
        tone = self.tone[a:b, x0:x1]
        dots = (tone == 255).astype(np.float32)
        middle = np.flatnonzero(((tone > 0) & (tone < 255)).any(axis=0))
        if middle.size:
            left, right = int(middle[0]), int(middle[-1]) + 1
            part = tone[:, left:right].astype(np.float32) / 255.0
            screened = part > self.screen.threshold(a, b, x0 + left, x0 + right)
            dots[:, left:right] = np.where(part == 1.0, 1.0, screened)
        spread = np.asarray(cv2.GaussianBlur(dots, (0, 0), self._sigma, borderType=cv2.BORDER_REPLICATE), np.float32)
        exposure = spread[top - a : top - a + bottom - top]
        layer = self._gain(top, bottom, x0, x1)
        # every slab reads another part of the grain's tile, at random: one that came back down the page at even
        # distances would be a roller's
        down, across = np.random.default_rng([self._jumps, top // _SLAB]).integers(0, _FAR, 2)
        grain = self.grain.window(top + int(down), x0 + int(across), *layer.shape)
        loose = self._fog(top, bottom, x0, x1) * np.maximum(0.0, 1.0 + 4.0 * (grain - 1.0))
        for spot in self._spots():
            _lay(spot, layer if spot.toner < 0 else loose, self._per_mm, top, x0)
        columns = (np.arange(x0, x1) + 0.5) / self._per_mm
        rows = (np.arange(top, bottom) + 0.5) / self._per_mm
        for streak in self.state.streaks:
            across = np.exp(-0.5 * ((columns - streak.x_mm) / (streak.width_mm / 2)) ** 2)
            along = (rows >= streak.top_mm) & (rows <= streak.bottom_mm)
            add = (streak.toner * np.outer(along, across)).astype(np.float32)
            if streak.toner < 0:
                layer *= 1.0 + add
            else:
                loose += add
        return exposure, (layer * grain).astype(np.float32), np.asarray(loose, np.float32)

    def _spots(self) -> Iterator[Spot]:
        for fault in self.state.repeats:
            yield from fault.spots
        yield from self.state.specks

    def _gain(self, top: int, bottom: int, x0: int, x1: int) -> NDArray[np.float32]:
        rows = np.arange(top, bottom) + 0.5
        down = 1.0 - self.state.fade * rows / self.height
        for period, share, phase in self.state.waves:
            down *= 1.0 + share * np.cos(2 * np.pi * rows / self._per_mm / period + phase)
        across = 1.0 + self.state.lean * ((np.arange(x0, x1) + 0.5) / self.width - 0.5)
        return (self.state.density * np.outer(down, across)).astype(np.float32)

    def _fog(self, top: int, bottom: int, x0: int, x1: int) -> NDArray[np.float32]:
        edge = _EDGE_MM * self._per_mm
        rows, columns = np.arange(top, bottom), np.arange(x0, x1)
        inside = np.outer(
            (rows >= edge) & (rows < self.height - edge), (columns >= edge) & (columns < self.width - edge)
        )
        fog = np.where(inside, self.state.fog, self.state.fog * self.state.fog_margin)
        return fog.astype(np.float32)


def _lay(spot: Spot, field: NDArray[np.float32], per_mm: float, top: int, left: int) -> None:
    """Add a soft disc of toner to `field`, or take it from there."""
    radius = spot.diameter_mm / 2 * per_mm
    reach = int(radius + 6)
    cy, cx = spot.y_mm * per_mm - top, spot.x_mm * per_mm - left
    y0, y1 = max(0, int(cy) - reach), min(field.shape[0], int(cy) + reach + 1)
    x0, x1 = max(0, int(cx) - reach), min(field.shape[1], int(cx) + reach + 1)
    if y0 >= y1 or x0 >= x1:
        return
    y, x = np.ogrid[y0:y1, x0:x1]
    disc = np.clip((radius - np.hypot(y + 0.5 - cy, x + 0.5 - cx)) / 2.0 + 0.5, 0.0, 1.0)
    if spot.toner < 0:
        field[y0:y1, x0:x1] *= (1.0 + spot.toner * disc).astype(np.float32)
    else:
        field[y0:y1, x0:x1] += (spot.toner * disc).astype(np.float32)
