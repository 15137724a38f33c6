"""How well the picture shows the sheet: sharpness, scale, light, clipping, tilt; and the one thing to change.

Sharpness is read on the sheet itself, from the outer edges of the marks. An edge printed in ink is sharper than any
capture, so its blur is the capture's: each edge profile is fitted with the integral of a Gaussian, and the
resolution is where the Gaussian's transfer falls to one half, sqrt(ln 2 / 2) / (pi sigma) (the slanted-edge idea of
ISO 12233, with a Gaussian in place of the differentiated profile, which noise and missing rows would ruin).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.measure.ladder import ladder_box
from printcheck.measure.lineshape import edge_sigma
from printcheck.register.locate import darkest_channel
from printcheck.register.view import look_at
from printcheck.robust import quantile_of

if TYPE_CHECKING:
    from printcheck.capture.result import Pixels
    from printcheck.measure.result import LinesReading
    from printcheck.register.result import Registration

__all__ = ["FINER", "FULL_QUALITY", "Quality", "measure_quality", "share_inside", "what_to_change"]

FULL_QUALITY = (
    "Send the picture as the phone or scanner made it, as a file, or save it in full quality, and score that."
)
FINER = "Scan the sheet again in colour at 300 or 600 dots/inch, and save it in full quality."

_EDGE_MM = 0.9  # profile half length: the dark ring of a mark is 1.2 mm wide, its quiet zone 2.4
# blurs tried, from a sharp scan at 1200 dots/inch to nothing left of a dash
_SIGMAS_MM = np.geomspace(0.015, 0.5, 24)
_CLIPPED = LIMITS["paper_ceiling"].value
_PAPER_SAMPLES = 24  # pieces of bare paper looked at, spread over the page
_BRIGHTEST = 0.98  # quantile of the paper's light
_FEW_UNREAD = LIMITS["unread_few"].value
_FILLED = LIMITS["picture_filled"].value
_ACROSS, _DOWN = 31, 44  # places, about 6 mm apart, at which a sheet is looked at for lying in the picture


@dataclass(frozen=True, slots=True)
class Quality:
    """What the picture can carry.

    Attributes
    ----------
    dots_per_inch : float
        Least of the two directions, in the middle of the sheet.
    cycles_per_mm : float or None
        Resolution at 50 % contrast, median over the marks' edges; none where no edge could be fitted.
    paper_light : float
        Median linear light of the bare paper, 0 to 1.
    clipped : float
        Share of the bare paper at the ceiling of the capture.
    perspective : float
        Largest over smallest local scale, less 1.
    inside : float
        Share of the area of ladders, strips and patches that lies in the picture.
    doubt_mm : float
        Error to reckon with in the map from the page to the picture.
    brightest : float
        Light of the lightest of the bare paper over its median.
    fills : float
        Share of the picture's width or height that the sheet takes up, of whichever it takes more.
    """

    dots_per_inch: float
    cycles_per_mm: float | None
    paper_light: float
    clipped: float
    perspective: float
    inside: float
    doubt_mm: float
    brightest: float = 1.0
    fills: float = 1.0


def measure_quality(pixels: Pixels, registration: Registration) -> Quality:
    """Measure how well `pixels` show the registered sheet."""
    sigmas = [s for mark in registration.layout.marks for s in _mark_blur(pixels, registration, mark.box)]
    sigma = float(np.median(sigmas)) if sigmas else None
    papers = registration.layout.papers
    light = []
    for paper in papers[:: max(1, len(papers) // _PAPER_SAMPLES)]:
        view = look_at(pixels, registration, paper.box, scale=0.5, most_x=6.0)
        if view.inside > 0.9:
            light.append(linear_light(np.ascontiguousarray(view.values)).ravel())
    values = np.concatenate(light) if light else np.zeros(1, np.float32)
    middle = float(np.median(values))
    return Quality(
        25.4 * min(registration.px_per_mm_x, registration.px_per_mm_y),
        None if sigma is None else float(np.sqrt(np.log(2) / 2) / (np.pi * sigma)),
        middle,
        float(np.mean(values > _CLIPPED)),
        registration.perspective,
        share_inside(pixels, registration),
        registration.doubt_mm,
        quantile_of(values.astype(np.float64), _BRIGHTEST) / max(middle, 1e-6),
        _fills(pixels, registration),
    )


def share_inside(pixels: Pixels, registration: Registration) -> float:
    """Share, 0 to 1, of the area that ladders, strips and patches fill which lies in the picture."""
    layout = registration.layout
    boxes = [element.box for element in layout.patches] + [ladder_box(ladder) for ladder in layout.ladders]
    x, y = np.meshgrid(
        np.linspace(min(b.x0 for b in boxes), max(b.x1 for b in boxes), _ACROSS),
        np.linspace(min(b.y0 for b in boxes), max(b.y1 for b in boxes), _DOWN),
    )
    px = registration.to_px(np.stack([x.ravel(), y.ravel()], axis=1))
    return float(np.mean((px >= 0).all(axis=1) & (px < (pixels.shape[1], pixels.shape[0])).all(axis=1)))


def _fills(pixels: Pixels, registration: Registration) -> float:
    """Share of the picture's width or height between the sheet's outermost corners, the larger of the two."""
    wide, high = registration.layout.width_mm, registration.layout.height_mm
    corners = registration.to_px(np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]]))
    return float(np.max(np.ptp(corners, axis=0) / (pixels.shape[1], pixels.shape[0])))


def _mark_blur(pixels: Pixels, registration: Registration, box: Box) -> list[float]:
    """Sigma in mm of each outer edge of one mark that could be fitted."""
    x, y = box.centre
    reach = box.width / 2 - 0.4
    edges = (
        (Box(box.x0 - _EDGE_MM, y - reach, box.x0 + _EDGE_MM, y + reach), 1, 1),
        (Box(box.x1 - _EDGE_MM, y - reach, box.x1 + _EDGE_MM, y + reach), 1, -1),
        (Box(x - reach, box.y0 - _EDGE_MM, x + reach, box.y0 + _EDGE_MM), 0, 1),
        (Box(x - reach, box.y1 - _EDGE_MM, x + reach, box.y1 + _EDGE_MM), 0, -1),
    )
    out = []
    for edge, axis, sign in edges:
        view = look_at(pixels, registration, edge)
        if view.inside < 1.0:
            continue
        light = linear_light(darkest_channel(np.ascontiguousarray(view.values)))
        # the middle of the samples across the profile: dead rows and dust fall out
        profile = np.median(light, axis=1 - axis).astype(np.float64)[::sign]
        step = 1.0 / (view.px_per_mm_x if axis == 1 else view.px_per_mm_y)
        sigma = edge_sigma(profile, step, _SIGMAS_MM)
        if sigma is not None:
            out.append(sigma)
    return out


def what_to_change(quality: Quality, lines: tuple[LinesReading, ...], kind: str, otherwise: str | None = None) -> str:
    """The one thing to change about the picture, a sentence; the most hindering first.

    `otherwise` is what to say where nothing about the picture is to blame; by default to take it again.
    """
    sharp = quality.cycles_per_mm
    if quality.inside < LIMITS["sheet_inside"].value:
        return "Part of the sheet lies outside the picture: put the whole sheet in it."
    if quality.dots_per_inch < LIMITS["sheet_dots_per_inch"].value:
        seen = f"The sheet shows at only {quality.dots_per_inch:.0f} dots/inch"
        return f"{seen}: go closer, so that it fills the picture, or scan at 300 dots/inch."
    unread = [r.ink for r in lines if sum(d.state == "unreadable" for d in r.dashes) > _FEW_UNREAD * len(r.dashes)]
    faint = bool(unread) or any(r.unreadable or r.weak_about or r.displaced_about for r in lines)
    if faint and kind == "scan" and quality.dots_per_inch < LIMITS["scan_dots_per_inch"].value:
        return f"The sheet was scanned at only {quality.dots_per_inch:.0f} dots/inch: scan it at 300 or 600."
    if sharp is not None and sharp < LIMITS["sheet_sharpness"].value:
        if kind == "scan":
            return "The scan is blurred: lay the sheet flat on the glass, close the lid, and clean the glass."
        return "The picture is blurred: hold steadier or rest the phone, tap the sheet to focus, and wipe the lens."
    burnt_out = quality.clipped > LIMITS["paper_clipped"].value
    if kind == "photo" and quality.clipped > LIMITS["paper_whitened"].value:
        return (
            "Most of the paper is burnt out: turn document mode and any lamp above off, and expose less; or scan it."
        )
    if burnt_out and kind == "photo":
        return "Part of the paper is burnt out: turn off the lamp above or move it aside, and expose less."
    if quality.paper_light < LIMITS["paper_light"].value:
        return "The picture is too dark: more light, evenly from both sides."
    if unread and kind == "photo" and quality.dots_per_inch < LIMITS["photo_dots_per_inch"].value:
        seen = f"shows at only {quality.dots_per_inch:.0f} dots/inch"
        if quality.fills < _FILLED:
            return (
                f"The sheet takes up only {100 * quality.fills:.0f} % of the picture and {seen}: go nearer, so that "
                "it fills the picture, or scan it at 300 dots/inch."
            )
        return f"The sheet fills the picture and {seen}: set the camera to more megapixels, or scan at 300 dots/inch."
    if quality.perspective > LIMITS["perspective"].value:
        return "The picture is taken at a slant: hold the phone over the middle of the sheet, flat above it."
    if quality.doubt_mm > LIMITS["sheet_flat"].value:
        flat = "The sheet is bent or creased: lay it flat, weighed down at its edges, and "
        return flat + ("photograph it again." if kind == "photo" else "scan it again with the lid closed.")
    if burnt_out:  # a scanner's lamp is even, so that lines can be read there as well
        return (
            "The paper is as light as the scan can show: turn automatic levels or document mode off, and scan again."
        )
    if kind == "photo" and quality.brightest > LIMITS["paper_brightest"].value:
        return "A lamp is mirrored in the sheet, or shines on part of it: move it aside, and light the sheet evenly."
    if any(r.rounded and (r.unreadable or r.weak_about or r.displaced_about) for r in lines):
        return FULL_QUALITY
    if unread == ["Y"] and kind == "photo":
        return (
            "Yellow is too faint in this picture: scan the sheet in colour at 300 dots/inch, or photograph it closer."
        )
    if otherwise is not None:
        return otherwise
    if kind == "photo":
        return "Photograph the sheet again from straight above in even light, or scan it at 300 dots/inch."
    return "Scan the sheet again, flat and whole, at 300 or 600 dots/inch; if it reads the same, print a fresh one."
