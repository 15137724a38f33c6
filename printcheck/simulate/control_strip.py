"""A control strip from a good printer: as scanned by itself, and as it lies beside a sheet in a photo."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from printcheck.pattern.control_strip import control_strip, make_control_strips
from printcheck.simulate.mapping import Feed, Floats, ScanMapping
from printcheck.simulate.page import PrintedPage
from printcheck.simulate.press import PrintSettings, print_sheet
from printcheck.simulate.printer import PrintMode
from printcheck.simulate.scanner import ScannerSettings, scan_page
from printcheck.simulate.scenario import paper_texture
from printcheck.simulate.texture import Texture
from printcheck.simulate.truth import PatchTruth, patch_truths
from printcheck.simulate.view import PhoneMapping, every_pixel

__all__ = ["PrintedStrip", "StripOnBench", "placed_beside", "print_strip", "scan_strip"]

_GAP_MM = (5.0, 22.0)  # bench between sheet and strip
_TURN_DEG = 4.0  # laid down by hand: standard deviation


@dataclass(frozen=True, slots=True)
class PrintedStrip:
    """A strip as printed and cut out, and what its patches truly look like.

    Attributes
    ----------
    letter, name : str
    page : PrintedPage
        The piece by itself.
    texture : Texture
        Of its paper.
    patches : tuple of PatchTruth
    """

    letter: str
    name: str
    page: PrintedPage
    texture: Texture
    patches: tuple[PatchTruth, ...]


@dataclass(frozen=True, slots=True)
class StripOnBench:
    """Where a strip lies: flat on the bench on which the sheet's middle lies.

    Attributes
    ----------
    strip : PrintedStrip
    middle_mm : (float, float)
        Of the strip, from the middle of the sheet along the sheet's x and y.
    turn_deg : float
        From the sheet's x to the strip's, clockwise.
    """

    strip: PrintedStrip
    middle_mm: tuple[float, float]
    turn_deg: float

    def _axes(self) -> Floats:
        c, s = np.cos(np.deg2rad(self.turn_deg)), np.sin(np.deg2rad(self.turn_deg))
        return np.array([[c, -s], [s, c]])

    def on_bench(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Bench position, mm from the middle of the sheet, of points of the strip."""
        layout = control_strip(self.strip.letter)
        axes = self._axes()
        dx, dy = x - layout.width_mm / 2, y - layout.height_mm / 2
        return (
            self.middle_mm[0] + axes[0, 0] * dx + axes[0, 1] * dy,
            self.middle_mm[1] + axes[1, 0] * dx + axes[1, 1] * dy,
        )

    def to_px(self, view: PhoneMapping, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Pixel coordinates of points of the strip."""
        bench = _bench(view)
        bx, by = self.on_bench(np.asarray(x, float), np.asarray(y, float))
        return bench.print_to_px(bx + bench.feed.width_mm / 2, by + bench.feed.height_mm / 2)

    def seen_by(self, view: PhoneMapping) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Position on the strip, mm, that every pixel of `view` looks at."""
        bench, layout = _bench(view), control_strip(self.strip.letter)
        x, y = every_pixel(bench)
        x = x - np.float32(bench.feed.width_mm / 2 + self.middle_mm[0])
        y = y - np.float32(bench.feed.height_mm / 2 + self.middle_mm[1])
        c, s = (np.float32(v) for v in self._axes()[:, 0])
        return c * x + s * y + np.float32(layout.width_mm / 2), c * y - s * x + np.float32(layout.height_mm / 2)


def _bench(view: PhoneMapping) -> PhoneMapping:
    """The same camera above the bare bench: neither curl nor the sheet's own feed."""
    return replace(view, feed=Feed(view.feed.width_mm, view.feed.height_mm), curl_mm=0.0, twist_mm=0.0)


def print_strip(
    rng: np.random.Generator, *, letter: str = "A", name: str = "S1", ink_set: str = "pigment-a",
    paper: str = "matte-coated", halftone: str = "blue-noise", errors: float = 0.6,
) -> PrintedStrip:  # fmt: skip
    """Print one strip on a printer that works well: single pass, all nozzles sound.

    Parameters
    ----------
    errors : float
        Grain, volume and aim errors, relative to those of a common printer.
    """
    sheet = make_control_strips(control_strip(letter), name)
    layout = sheet.layout
    modes = {ink.ink: PrintMode("single", ink.nozzles, 0, 2.0, 0.0, draft=False) for ink in layout.head.inks}
    settings = PrintSettings(
        modes, halftone, 1.0, ink_set, paper, {ink: float(rng.uniform(1.5, 1.66)) for ink in modes},
        float(rng.uniform(0.34, 0.5)), float(rng.uniform(25, 50)), errors * 0.1, errors * 0.03, errors * 3.0,
    )  # fmt: skip
    page = print_sheet(sheet, settings, {}, rng)
    return PrintedStrip(letter, name, page, paper_texture(page, rng), patch_truths(page, layout, 1.0))


def scan_strip(strip: PrintedStrip, scanner: ScannerSettings, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Scan a cut-out strip, BGR: laid on the glass a little askew, the lid around it."""
    layout = control_strip(strip.letter)
    per_mm = scanner.dots_per_inch / 25.4
    mapping = ScanMapping(
        Feed(layout.width_mm, layout.height_mm), float(rng.normal(0, 0.7)),
        (float(rng.uniform(6, 12)), float(rng.uniform(6, 12))), per_mm, per_mm, 0.0, 60.0, 0.0,
        round((layout.width_mm + 25) * per_mm), round((layout.height_mm + 25) * per_mm), 0,
    )  # fmt: skip
    return scan_page(strip.page, scanner, mapping, strip.texture, (), rng)


def placed_beside(strip: PrintedStrip, width_mm: float, height_mm: float, rng: np.random.Generator) -> StripOnBench:
    """Lay a strip beside a sheet of this size as a person would: along a long side, or across its foot or head."""
    layout = control_strip(strip.letter)
    gap, turn = float(rng.uniform(*_GAP_MM)), float(rng.normal(0, _TURN_DEG))
    lean = abs(np.sin(np.deg2rad(turn)))
    side = str(rng.choice(["left", "right", "foot", "head"]))
    out = 1.0 if side in ("right", "foot") else -1.0
    half = layout.height_mm / 2 + lean * layout.width_mm / 2 + gap
    if side in ("left", "right"):
        slack = max(0.0, height_mm - layout.width_mm) / 2
        upright = float(rng.choice([90.0, -90.0]))
        return StripOnBench(strip, (out * (width_mm / 2 + half), float(rng.uniform(-slack, slack))), upright + turn)
    slack = max(0.0, width_mm - layout.width_mm) / 2
    across = float(rng.choice([0.0, 180.0]))
    return StripOnBench(strip, (float(rng.uniform(-slack, slack)), out * (height_mm / 2 + half)), across + turn)
