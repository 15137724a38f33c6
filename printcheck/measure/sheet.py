"""All measurements of one sheet, in the order they build on one another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printcheck.limits import LIMITS
from printcheck.machine import meanwhile
from printcheck.measure.background import block_contrast, hides_specks
from printcheck.measure.colouring import Coloured, ColourSettings, measure_colour, read_colour_areas
from printcheck.measure.control_strip import with_strip
from printcheck.measure.evenness import measure_evenness, read_evenness_areas
from printcheck.measure.evenness_result import Evenness
from printcheck.measure.jpeg_steps import steps_take_lines
from printcheck.measure.kept import depth_in_luma, weight_kept
from printcheck.measure.ladder_channels import read_ladders
from printcheck.measure.lines import judge_lines
from printcheck.measure.paper import PaperLight
from printcheck.measure.patches import PatchReading, read_patch
from printcheck.measure.pixel_phase import without_pixel_phase
from printcheck.measure.result import LinesReading, SolidReading
from printcheck.pattern.inks import INKS

if TYPE_CHECKING:
    from printcheck.capture.result import Capture
    from printcheck.measure.ladder import LadderSignal
    from printcheck.register.result import Registration

__all__ = ["Measured", "measure_sheet"]

_COLOURLESS = 0.12  # spread of a solid between channels over its depth; the palest real ink shows 0.5


@dataclass(frozen=True, slots=True)
class Measured:
    """All readings of one sheet, those of inks in the head's order."""

    lines: tuple[LinesReading, ...]
    evenness: Evenness
    colour: Coloured
    warnings: tuple[str, ...]


def measure_sheet(
    capture: Capture, registration: Registration, kind: str, settings: ColourSettings, paper: PaperLight | None
) -> Measured:
    """Measure everything this sheet can give.

    Parameters
    ----------
    capture : Capture
    registration : Registration
        Of its sheet.
    kind : str
        ``"scan"`` or ``"photo"``.
    settings : ColourSettings
        What colour is compared with.
    paper : PaperLight or None
        Of its bare paper; none of a grey picture, or where too little is in it.
    """
    layout = registration.layout
    blocks = block_contrast(capture.pixels, registration, capture.block_step)
    # strips and patches beside the ladders: long calls into OpenCV, which leave the interpreter to the other thread
    areas = meanwhile(lambda: read_evenness_areas(capture.pixels, registration, blocks))
    seen = {
        ink.ink: read_patch(capture.pixels, registration, layout.patches_of("solid", ink.ink)[0])
        for ink in layout.head.inks
    }
    grey = capture.grey or _colourless(seen)
    solids = tuple(SolidReading(ink, _absorptance(ink, solid), None, None) for ink, solid in seen.items())
    ladders = [layout.ladders_of(ink.ink) for ink in layout.head.inks]
    signals = [
        read_ladders(capture, registration, own, ink.ink) for ink, own in zip(layout.head.inks, ladders, strict=True)
    ]
    signals = without_pixel_phase(ladders, signals, [ink.passes for ink in layout.head.inks])
    depths = [
        depth_in_luma(seen[ink.ink], photo=kind == "photo")
        if shown[0].in_luma
        else _absorptance(ink.ink, seen[ink.ink])
        for ink, shown in zip(layout.head.inks, signals, strict=True)
    ]
    kept = weight_kept(ladders, signals, depths)
    width = min(signal.width_mm for shown in signals for signal in shown)
    coarse = [
        INKS[ink.ink].pale
        and (
            hides_specks(blocks)
            or steps_take_lines(own, shown, _steps_of(capture, shown), registration.px_per_mm_y, width)
        )
        for ink, own, shown in zip(layout.head.inks, ladders, signals, strict=True)
    ]
    # what is quantised as coarsely may have lost lines
    kept = [(0.0,) * len(share) if blocky else share for blocky, share in zip(coarse, kept, strict=True)]
    lines = [
        judge_lines(
            ink, own, shown, _taken(ink.ink, seen[ink.ink], grey=grey), photo=kind == "photo", kept=share,
            blocky=blocky, halved=INKS[ink.ink].pale and capture.chroma_halved,
        )
        for ink, own, shown, share, blocky in zip(layout.head.inks, ladders, signals, kept, coarse, strict=True)
    ]  # fmt: skip
    chroma_mm = 2.0 / registration.px_per_mm_x if capture.chroma_halved else 0.0
    evenness = measure_evenness(areas(), layout, lines, photo=kind == "photo", chroma_mm=chroma_mm)
    own_settings, told = with_strip(capture, registration, kind, settings)
    read = read_colour_areas(capture, registration, paper)
    gone = [reading.ink for reading in lines if reading.absent]
    colour = measure_colour(capture, layout, read, kind, solids, own_settings, grey=grey, absent=gone)
    warnings = [*evenness.warnings, *told, *colour.warnings]
    if grey:
        more = "; scan in colour" if any(ink.ink != "K" for ink in layout.head.inks) else ""
        warnings.insert(0, f"the picture is grey: colour can't be measured{more}")
    return Measured(tuple(lines), evenness, colour, tuple(warnings))


def _steps_of(capture: Capture, shown: tuple[LadderSignal, ...]) -> tuple[float, ...]:
    return capture.luma_steps if shown[0].in_luma else capture.chroma_steps


def _absorptance(ink: str, solid: PatchReading | None) -> float | None:
    """Light that a solid takes away, as a share of the paper's, in the channel where its ink absorbs."""
    return None if solid is None else float(1.0 - solid.ratio[2 - INKS[ink].bgr])


def _taken(ink: str, solid: PatchReading | None, *, grey: bool) -> float | None:
    """Light that an ink itself takes away: its absorptance, less what a shadow's edge takes from all alike."""
    if solid is None or grey or ink == "K":
        return _absorptance(ink, solid)
    return float(1.0 - solid.ratio[2 - INKS[ink].bgr] / solid.ratio.max())


def _colourless(solids: dict[str, PatchReading | None]) -> bool:
    """True for a photocopy, or a grey scan saved as colour: no solid of a coloured ink shows colour."""
    ratios = []
    for ink, solid in solids.items():
        depth = 0.0 if solid is None else 1.0 - float(solid.ratio.min())
        if ink != "K" and solid is not None and depth > LIMITS["ink_present"].value:
            ratios.append(float(solid.ratio.max() - solid.ratio.min()) / depth)
    return bool(ratios) and max(ratios) < _COLOURLESS
