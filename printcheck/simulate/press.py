"""A sheet put through a printer: driver, head, paper."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import Sheet
from printcheck.simulate.drops import SpotModel
from printcheck.simulate.faults import InkState, draw_health
from printcheck.simulate.halftone import halftone
from printcheck.simulate.page import InkLayer, PrintedPage
from printcheck.simulate.printer import PrintMode, assign_nozzles
from printcheck.simulate.separate import scale_about_centre, separate
from printcheck.simulate.spectra import absorbance, paper
from printcheck.simulate.texture import Texture

__all__ = ["PrintSettings", "print_sheet"]

_SWATHS = 211  # feed errors drawn; a page has fewer swaths than this
_MOST_FEED_SD = 2.5


@dataclass(frozen=True, slots=True)
class PrintSettings:
    """One printer, ink set and paper.

    Attributes
    ----------
    modes : dict of str to PrintMode
        For each ink.
    halftone : str
        See ``halftone.HALFTONES``.
    scale : float
        Of the driver; 1 is as it should be.
    ink_set, paper : str
        Names in `spectra`.
    spot_ratio : dict of str to float
        Spot diameter of each ink over the distance of its rows (1.41 just fills a solid).
    spot_exponent : float
        See `drops.SpotModel`.
    spread_um : float
        Of light in the paper.
    grain : float
        Uneven take-up of ink, relative.
    volume_sd, aim_sd_um : float
        Healthy spread from nozzle to nozzle.
    """

    modes: Mapping[str, PrintMode]
    halftone: str = "floyd-steinberg"
    scale: float = 1.0
    ink_set: str = "dye-a"
    paper: str = "office-white"
    spot_ratio: Mapping[str, float] | None = None
    spot_exponent: float = 0.42
    spread_um: float = 40.0
    grain: float = 0.12
    volume_sd: float = 0.03
    aim_sd_um: float = 3.0


def print_sheet(
    sheet: Sheet, settings: PrintSettings, inks: Mapping[str, InkState], rng: np.random.Generator
) -> PrintedPage:
    """Print `sheet` with a cartridge in the state `inks` (inks not named are healthy)."""
    head = sheet.layout.head
    planes = separate(scale_about_centre(compose_rgb(sheet), settings.scale), [ink.ink for ink in head.inks])
    layers = []
    for number, ink in enumerate(head.inks):
        state = inks.get(ink.ink, InkState())
        mode = settings.modes[ink.ink]
        size = head.raster // ink.rows_per_inch
        tone = np.ascontiguousarray(planes[ink.ink][size // 2 :: size, size // 2 :: size])
        dots = halftone(tone, settings.halftone, shift=(17 * number, 29 * number))
        if mode.draft:
            turn = (np.arange(dots.shape[0])[:, None] + np.arange(dots.shape[1])) % 2
            dots = np.where(turn == 0, dots, 0).astype(np.uint8)
        pitch = 25400.0 / ink.rows_per_inch
        ratio = (settings.spot_ratio or {}).get(ink.ink, 1.5)
        feed = mode.feed_sd_um * np.clip(rng.standard_normal(_SWATHS), -_MOST_FEED_SD, _MOST_FEED_SD)
        health = draw_health(
            ink.nozzles, state.nozzles, rng, volume_sd=settings.volume_sd, aim_sd_um=settings.aim_sd_um
        )
        layers.append(
            InkLayer(
                ink.ink,
                dots,
                assign_nozzles(ink, mode, dots.shape[0]),
                health,
                state,
                feed,
                mode.bidirectional_um,
                SpotModel(ratio * pitch, settings.spot_exponent),
                size,
                pitch,
            )
        )
    absorbances = {name: absorbance(settings.ink_set, name) for name in "CMYK"}
    grain = Texture(((settings.grain, 0.0), (0.6 * settings.grain, 1.6), (0.25 * settings.grain, 9.0)), rng)
    return PrintedPage(head, tuple(layers), absorbances, paper(settings.paper), settings.spread_um, grain)
