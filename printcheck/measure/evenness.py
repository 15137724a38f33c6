"""Bands, fade and dirt of one sheet: its strips are read once and shared."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printcheck.limits import LIMITS
from printcheck.measure.background import (
    BLOCKS_HIDE,
    LEAST_PX_PER_MM,
    Dirt,
    hides_specks,
    read_dirt,
)
from printcheck.measure.banding import read_banding
from printcheck.measure.evenness_result import BandingReading, Evenness, Spray
from printcheck.measure.fade import FadeReading, read_fade
from printcheck.measure.linequality import LineQuality, read_hairline
from printcheck.measure.profile import BEYOND_MM, Profile, read_patch_profiles, read_strip_profiles
from printcheck.measure.result import LinesReading
from printcheck.measure.rows_wave import rows_wave
from printcheck.measure.scanner_bands import ScannerBands, read_scanner_bands
from printcheck.measure.strokes import StrokeOffset, read_strokes
from printcheck.pattern.elements import Hairline, Patch
from printcheck.pattern.heads import HeadInk
from printcheck.pattern.inks import INKS
from printcheck.pattern.layout import Layout
from printcheck.register.result import Registration
from printcheck.units import MM_PER_INCH

if TYPE_CHECKING:
    from printcheck.capture.result import Pixels

__all__ = ["Evenness", "EvennessAreas", "measure_evenness", "read_evenness_areas", "read_profiles", "spray_of"]

_MOST_EDGE_SD_MM, _MOST_CHROMA_MM = LIMITS["spray_blur"].value, LIMITS["spray_chroma"].value


Profiles = dict[str, dict[str, Profile | None]]
"""Down each area, ``"strip"``, ``"tint"`` and ``"solid"``, of each ink; none where it can't be seen whole."""


@dataclass(frozen=True, slots=True)
class EvennessAreas:
    """What is read off the picture before anything is known of the lines."""

    profiles: Profiles
    dirt: Dirt | None
    hairlines: tuple[LineQuality, ...]
    blocks: float = 0.0


def read_evenness_areas(pixels: Pixels, registration: Registration, blocks: float = 0.0) -> EvennessAreas:
    """Read all areas that bands, fade and specks are told from.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
    registration : Registration
    blocks : float
        Share of the bare paper's light in one step of a JPEG's blocks.
    """
    return EvennessAreas(
        read_profiles(pixels, registration),
        None if hides_specks(blocks) else read_dirt(pixels, registration),
        _hairlines(pixels, registration),
        blocks,
    )


def read_profiles(pixels: Pixels, registration: Registration) -> Profiles:
    """Read the light down the run-off strips, mid-tones and solids."""
    layout = registration.layout
    strips = _strips(pixels, registration, layout)
    patches = {kind: _patches(pixels, registration, layout, kind, strips) for kind in ("tint", "solid")}
    return {"strip": strips, **patches}


def measure_evenness(
    areas: EvennessAreas,
    layout: Layout,
    lines: Sequence[LinesReading],
    *,
    photo: bool = False,
    chroma_mm: float = 0.0,
) -> Evenness:
    """Measure bands, fade and specks.

    Parameters
    ----------
    areas : EvennessAreas
    layout : Layout
    lines : sequence of LinesReading
        An entry an ink of the head: which inks are absent, how long their runs of missing rows are.
    photo : bool
        A camera's file is sharpened and denoised, and an edge in it is no clean one's: no spray is told.
    chroma_mm : float
        Width of a value of the file's chroma where that is halved, which holds what coloured inks take away; else 0.
    """
    strips = [strip for strip in areas.profiles["strip"].values() if strip is not None]
    edges = [strip.edge_sd_mm for strip in strips if strip.edge_sd_mm is not None]
    sheet = _SheetWide(
        read_scanner_bands(strips),
        statistics.median(edges) if edges else 0.0,
        MM_PER_INCH / layout.raster,
        tuple(ink.swath_mm for ink in layout.head.inks),
        photo,
        chroma_mm,
    )
    found = [
        _of_ink(ink, reading, {kind: of_inks[ink.ink] for kind, of_inks in areas.profiles.items()}, sheet)
        for ink, reading in zip(layout.head.inks, lines, strict=True)
    ]
    warnings = [warning for one in found for warning in one.warnings]
    if photo:
        warnings.append("spray beside strips not measured: a photo's edges are sharpened; scan the sheet")
    if hides_specks(areas.blocks):
        warnings.append(BLOCKS_HIDE)
    elif areas.dirt is None:
        warnings.append(
            f"specks not counted: needs {MM_PER_INCH * LEAST_PX_PER_MM:.0f} dots/inch and bare paper in the picture; "
            "scan at 300 dots/inch or more"
        )
    return Evenness(
        tuple(one.banding for one in found),
        tuple(one.fade for one in found),
        areas.dirt,
        areas.hairlines,
        tuple(warnings),
        tuple(one.strokes for one in found),
        tuple(one.spray for one in found),
        areas.blocks,
    )


@dataclass(frozen=True, slots=True)
class _SheetWide:
    """What all inks share: the scanner's own bands, blur of edges, mm a dot, inks' heights, kind, mm of chroma."""

    paper: ScannerBands | None
    edge_sd_mm: float
    dot_mm: float
    swaths_mm: tuple[float, ...]
    photo: bool
    chroma_mm: float

    def holds_spray_of(self, ink: str) -> bool:
        """Whether the file's chroma is finer than what is looked at beside a strip; black is held by luma."""
        return ink == "K" or self.chroma_mm <= _MOST_CHROMA_MM


@dataclass(frozen=True, slots=True)
class _OfInk:
    """What is uneven about one ink; none where it could not be measured, and why."""

    banding: BandingReading | None
    fade: FadeReading | None
    strokes: StrokeOffset | None
    spray: Spray | None
    warnings: tuple[str, ...]


def _of_ink(ink: HeadInk, lines: LinesReading, profiles: Mapping[str, Profile | None], sheet: _SheetWide) -> _OfInk:
    """Measure one ink; `profiles` are those of its strip, mid-tone and solid."""
    word, strip = INKS[ink.ink].word, profiles["strip"]
    if lines.absent or strip is None:
        why = "lays down no ink" if lines.absent else "its strip down the page can't be seen whole"
        return _OfInk(None, None, None, None, (f"{word}: bands and fade not measured: {why}",))
    fade = read_fade(ink.ink, strip, lines.longest_run * ink.pitch_mm, ink.swath_mm)
    banding = read_banding(
        ink.ink,
        [(kind, profile) for kind, profile in profiles.items() if profile is not None],
        sheet.paper,
        (ink.swath_mm, *sheet.swaths_mm),
        sheet.dot_mm,
        sheet.edge_sd_mm,
        () if fade is None else fade.odd_mm,
        lines.stride * ink.pitch_mm if lines.stride else None,
        broken=lines.arrangement == "run",
        whole=not (lines.missing or lines.intermittent),
        photo=sheet.photo,
        swings=lines.swings,
        rows_swing=lambda period_mm: rows_wave(lines, period_mm / ink.pitch_mm),
    )
    strokes = read_strokes(strip, sheet.swaths_mm)
    spray = spray_of(ink.ink, strip) if not sheet.photo and sheet.holds_spray_of(ink.ink) else None
    measured = _OfInk(banding, fade, strokes, spray, ())
    return replace(measured, warnings=(*_unread(ink, measured, profiles, sheet), *_of_printer(word, banding)))


def _unread(ink: HeadInk, measured: _OfInk, profiles: Mapping[str, Profile | None], sheet: _SheetWide) -> list[str]:
    """What could not be measured of one ink, and why."""
    banding, fade = measured.banding, measured.fade
    why_not = (
        (
            banding is None,
            "bands not measured: too many lines missing, too noisy a picture, or a shadow's edge lies on it",
        ),
        (
            banding is not None and any(p is not None and p.light_steps for p in profiles.values()),
            f"bands longer than {LIMITS['band_by_shadow'].value:.0f} mm told only from "
            f"{LIMITS['band_by_shadow_least'].value:.1f} L* on where the light on the paper beside its areas changes "
            "abruptly, as at a shadow's edge",
        ),
        (fade is None, "fade not measured: too little of its strip down the page is printed"),
        (
            fade is not None and ink.ink == "Y" and fade.density_ratio is None,
            "loss of density down the page not measured: it is too dark in this picture's blue",
        ),
        (measured.strokes is None, "offset of the strokes not measured: its strip's edges are too faint or rough"),
        (
            measured.spray is None and not sheet.photo and sheet.holds_spray_of(ink.ink),
            "spray beside its strip not measured: the picture is too soft; scan it",
        ),
        (
            measured.spray is None and not sheet.photo and not sheet.holds_spray_of(ink.ink),
            "spray beside its strip not measured: the file keeps colour at half the resolution",
        ),
    )
    return [f"{INKS[ink.ink].word}: {why}" for unread, why in why_not if unread]


def spray_of(ink: str, strip: Profile) -> Spray | None:
    """Ink beside a strip's edges less the tail of the capture's blur; none where that is most of it."""
    if strip.beyond is None or strip.edge_sd_mm is None or strip.edge_sd_mm > _MOST_EDGE_SD_MM:
        return None
    near, far = (distance / strip.edge_sd_mm for distance in BEYOND_MM)

    def area(z: float) -> float:  # integral of the normal distribution's upper tail from z on
        return math.exp(-z * z / 2) / math.sqrt(2 * math.pi) - z * 0.5 * math.erfc(z / math.sqrt(2))

    tail = (area(near) - area(far)) / (far - near)
    left, right = (share - tail for share in strip.beyond)
    return Spray(ink, left, right, LIMITS["spray"].value)


def _hairlines(pixels: Pixels, registration: Registration) -> tuple[LineQuality, ...]:
    widest: dict[tuple[tuple[str, ...], str], Hairline] = {}
    for line in registration.layout.hairlines:
        other = widest.setdefault((line.inks, line.along), line)
        if min(line.box.width, line.box.height) > min(other.box.width, other.box.height):
            widest[line.inks, line.along] = line
    read = (read_hairline(pixels, registration, line) for line in widest.values())
    return tuple(line for line in read if line is not None)


def _strips(pixels: Pixels, registration: Registration, layout: Layout) -> dict[str, Profile | None]:
    names = [ink.ink for ink in layout.head.inks]
    pairs = []
    for name in names:
        paper = next(p.box for p in layout.papers if p.near == f"strip-{name}")
        pairs.append((layout.patches_of("strip", name)[0], paper))
    return dict(zip(names, read_strip_profiles(pixels, registration, pairs), strict=True))


def _patches(
    pixels: Pixels,
    registration: Registration,
    layout: Layout,
    kind: str,
    strips: dict[str, Profile | None],
) -> dict[str, Profile | None]:
    """The first patch of a kind of each ink; those in a row are read together."""
    rows: dict[tuple[float, float], list[Patch]] = {}
    for ink in strips:
        patch = layout.patches_of(kind, ink)[0]
        rows.setdefault((patch.box.y0, patch.box.y1), []).append(patch)
    out: dict[str, Profile | None] = {}
    for patches in rows.values():
        found = read_patch_profiles(pixels, registration, patches, [strips[p.inks[0]] for p in patches])
        out.update({p.inks[0]: profile for p, profile in zip(patches, found, strict=True)})
    return out


_PRINTERS = {
    "feed": "one swath: the printer's paper feed; clean its rollers, run its feed calibration",
    "passes": "half a swath: the printer's passes are out of line; run its alignment",
    "strokes": "two swaths: the printer's forward and backward strokes differ; run its alignment",
}


def _of_printer(word: str, reading: BandingReading | None) -> list[str]:
    if reading is None or not reading.visible or reading.bands[0].cause not in _PRINTERS:
        return []
    band = reading.bands[0]
    return [
        f"{word}: bands of {band.amplitude_dL:.1f} L* every {band.period_mm:.1f} mm come from the printer, not the "
        f"cartridge: {_PRINTERS[band.cause]}"
    ]
