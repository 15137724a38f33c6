"""The band profile of the page report: lightness down each ink's run-off strip, drawn as SVG.

What is drawn is what bands and fade were measured on: L* relative to the bare paper beside, against page height. The
curve is averaged over half a millimetre, finer than any band the eye finds at reading distance. Solids of overlapping
drops hide bands that a mid-tone shows ten times as strong, so where a band shows most elsewhere than on the strip,
that area is drawn below it, at its own scale.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from printcheck.measure.evenness import read_profiles
from printcheck.measure.evenness_result import BandingReading, FadeReading
from printcheck.measure.profile import Profile
from printcheck.pipeline import Scored
from printcheck.report.markup import Markup, joined, tag
from printcheck.report.palette import FAINT, INK, MUTED, RULE, STATE, hex_of
from printcheck.report.words import ink_word

__all__ = ["profile_figure"]

_WIDTH, _PANEL, _HEAD, _FOOT = 340.0, 44.0, 15.0, 14.0  # of the drawing; a phone shows it one to one
_LEFT, _RIGHT = 26.0, 4.0
_TEXT = 9.5
_POINT_MM = 0.5
_LEAST_SPAN = 4.0  # L* from top to bottom of a panel, so that noise is not blown up
_POINTS = 12  # of a band's period, where it is drawn close up
_AREAS = {"tint": "mid-tone", "solid": "solid"}


def profile_figure(scored: Scored) -> Markup:
    """A figure with a panel for each ink whose strip was measured; nothing where none was."""
    sheet, evenness = scored.sheet, scored.sheet.evenness
    if evenness is None or scored.registration is None or sheet.layout is None:
        return Markup("")
    panels: list[Markup] = []
    said: list[str] = []
    closer = False
    strips = [patch.box for patch in sheet.layout.patches if patch.kind == "strip"]
    reach = (min(box.y0 for box in strips), max(box.y1 for box in strips))
    profiles = read_profiles(scored.capture.pixels, scored.registration)
    for ink, bands, fade in zip(sheet.layout.head.inks, evenness.banding, evenness.fade, strict=True):
        profile = profiles["strip"][ink.ink]
        if profile is None or bands is None:
            continue
        words = f"{ink_word(ink.ink)}: {_words(bands, fade)}"
        blanks = () if fade is None else fade.blanks_mm
        panels.append(_panel(len(panels) * (_HEAD + _PANEL), _averaged(profile, _POINT_MM), blanks, words, reach))
        said.append(words)
        band = bands.bands[0] if bands.bands and bands.bands[0].told else None
        close = profiles[band.area][ink.ink] if band is not None and band.area in _AREAS else None
        if band is not None and close is not None:
            ends = (float(close.y_mm[0]), float(close.y_mm[-1]))
            words = f"the same in its {_AREAS[band.area]}, {ends[0]:.0f} to {ends[1]:.0f} mm"
            curve = _averaged(close, min(_POINT_MM, band.period_mm / _POINTS))
            panels.append(_panel(len(panels) * (_HEAD + _PANEL), curve, (), words, ends))
            closer = True
    return _figure(panels, said, reach, closer=closer) if panels else Markup("")


def _figure(panels: list[Markup], said: list[str], reach: tuple[float, float], *, closer: bool) -> Markup:
    """The drawing, with a scale of mm over `reach`, and its caption; `closer` where some panels are close-ups."""
    height = len(panels) * (_HEAD + _PANEL) + _FOOT
    ticks = [
        _text(_x(mm, reach), height - 3, f"{mm} mm" if mm == 100 else str(mm), "middle", MUTED)
        for mm in range(50, int(reach[1]), 50)
    ]
    drawing = tag(
        "svg",
        *panels,
        *ticks,
        viewBox=f"0 0 {_WIDTH:g} {height:g}",
        role="img",
        aria_label=f"Lightness down the sheet. {'. '.join(said)}.",
        font_size=f"{_TEXT:g}",
    )
    caption = (
        "Lightness (L*, paper is 100) of each ink's strip against the height on the page, from its head: bands are "
        "ripples, fade is a slope upwards, air is a gap."
        + (" Where a band shows most elsewhere, that place is drawn close up, to its own scale." if closer else "")
    )
    return tag("figure", drawing, tag("figcaption", caption), class_="profile")


def _words(bands: BandingReading, fade: FadeReading | None) -> str:
    if bands.bands and bands.bands[0].told:
        band = bands.bands[0]
        seen = "visible" if bands.visible else "not visible"
        said = [f"bands of {band.amplitude_dL:.1f} L* every {band.period_mm:.1f} mm, {seen}"]
    else:
        said = ["no bands"]
    if fade is not None and fade.kind != "none":
        said.append({"fade": "fades", "starvation": "starved", "air": "air in its channel"}[fade.kind])
    return ", ".join(said)


def _panel(
    top: float,
    curve: tuple[NDArray[np.float64], NDArray[np.float64]],
    blanks: Sequence[tuple[float, float]],
    words: str,
    reach: tuple[float, float],
) -> Markup:
    y_mm, light = curve
    low, high = float(light.min()), float(light.max())
    middle, span = (low + high) / 2, max(high - low, _LEAST_SPAN)
    upper, lower = top + _HEAD, top + _HEAD + _PANEL - 6

    def up(value: float) -> float:
        return lower - (value - middle + span / 2) / span * (lower - upper)

    left, right = _x(float(y_mm[0]), reach), _x(float(y_mm[-1]), reach)
    parts = [
        _rect(left, upper, right - left, lower - upper, FAINT),
        *(_rect(_x(a, reach), upper, _x(b, reach) - _x(a, reach), lower - upper, RULE) for a, b in blanks),
        _text(2, top + 11, words, "start", INK),
        _text(_LEFT - 3, upper + 8, f"{middle + span / 2:.0f}", "end", MUTED),
        _text(_LEFT - 3, lower, f"{middle - span / 2:.0f}", "end", MUTED),
        tag(
            "polyline",
            points=" ".join(
                f"{_x(float(y), reach):.1f},{up(float(v)):.1f}" for y, v in zip(y_mm, light, strict=True)
            ),
            fill="none",
            stroke=hex_of(STATE["weak"]),
            stroke_width="1",
        ),
    ]
    return joined(parts)


def _averaged(profile: Profile, point_mm: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(P,) page heights in mm and the mean L* over `point_mm` around each."""
    size = max(1, round(point_mm / profile.step_mm))
    count = len(profile.y_mm) // size
    shape: Sequence[int] = (count, size)
    used = count * size
    return profile.y_mm[:used].reshape(shape).mean(axis=1), profile.lightness()[:used].reshape(shape).mean(axis=1)


def _x(mm: float, reach: tuple[float, float]) -> float:
    """Place of a page height, the strips reaching from edge to edge."""
    return _LEFT + (_WIDTH - _LEFT - _RIGHT) * (mm - reach[0]) / (reach[1] - reach[0])


def _rect(x: float, y: float, width: float, height: float, rgb: tuple[int, int, int]) -> Markup:
    size = {"x": x, "y": y, "width": width, "height": height}
    return tag("rect", fill=hex_of(rgb), **{name: f"{value:.1f}" for name, value in size.items()})


def _text(x: float, y: float, text: str, anchor: str, rgb: tuple[int, int, int]) -> Markup:
    return tag("text", text, x=f"{x:.1f}", y=f"{y:.1f}", text_anchor=anchor, fill=hex_of(rgb))
