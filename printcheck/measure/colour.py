"""Colour of the solids: CIELAB relative to the sheet's own paper, and the difference to a reference.

What a number is known to depends on what it is compared with. Against published aims, all the capture's own error
counts: a generic scanner is off by about 7 CIELAB units, a phone that is told its light by bare paper by no less, and
all by more where there is more colour. Against a house reference seen by the same scanner most of it cancels, and
what is left grows with the difference itself.

Cyans lie outside sRGB: they take more red than it can show. A channel that reads darker than stray light lets any
light on paper be was cut there, and is but a bound: the ink may send back that little, or so much less that the
channel would have to be negative. How much less, published cyans tell.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.calibration import CUT_LIGHT, Calibration
from printcheck.colour.difference import delta_e00_interval
from printcheck.colour.house import HouseInk, HouseReference
from printcheck.colour.lab import D50_WHITE, Lab, as_lab, lab_to_xyz, media_relative, xyz_to_lab
from printcheck.colour.published import conditions, published
from printcheck.limits import LIMITS
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, light_to_xyz
from printcheck.measure.tint import tint_sd, tint_shift
from printcheck.pattern.inks import INKS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.result import SolidReading

__all__ = ["CAPTURE_SD", "CaptureColour", "at_black", "is_cut", "paper_lab", "solid_colour"]

CAPTURE_SD = (LIMITS["capture_sd_lightness"].value, LIMITS["capture_sd_chroma"].value, LIMITS["capture_sd_hue"].value)
"""Standard deviation in L*, along chroma and across it of an uncalibrated capture of prints. A phone's mean is above
10 deltaE00, and about half of that with a chart in the picture, which makes some 7 CIELAB units of prints (a study of
several phones, lights and materials, lawdata 475787); bare paper is such a chart of one patch. An unknown tone curve,
stray light and a matrix of unknown strength make all colours more or less vivid; only where channels err unlike each
other does hue turn, about six tenths as far (0.6 and 0.7 of cyans and magentas of simulated scanners of the tune
split, 0.3 of yellows)."""
_DISTANCE_SD = (CAPTURE_SD[0], 5.0, 5.0)  # the same in L*, a*, b*, where a difference may run either way
_PHOTO_LIGHT = LIMITS["photo_light"].value
# a phone's lightness errs by its tone curve, and by a quarter as much at full chroma as its channels overlap; its hue
# by the latter alone: channels that take this share (sd) of each other's light turn the mixtures below by 2.5 on
# average, two thirds of the turn above: broad channels turn hues by a quarter to four tenths of what chroma errs by
_PHOTO_OVERLAP, _PHOTO_MIXING = LIMITS["photo_overlap"].value, LIMITS["photo_mixing"].value
_TAKES, _TAKEN = np.nonzero(~np.eye(3, dtype=bool))
_OF = np.eye(3)[_TAKES]
# CIELAB, of the prints those are means over: of all mixtures of cyan, magenta and yellow alike, from the published
# solids after Demichel and Yule and Nielsen (n = 1.7); 26 to 41 from condition to condition. Solids have more
_USUAL_CHROMA = LIMITS["usual_chroma"].value
_USUAL_LIGHTNESS = 60.0  # CIELAB, of those, 59 and 64
# of the size of a difference seen by the same scanner, by which each of L*, a*, b* is misread: its channels are not
# the observer's, and hue and chroma suffer most. Large differences are misread by less, relatively. From simulation
_RELATIVE = np.array([0.09, 0.27, 0.27])
_RELATIVE_CALIBRATED = np.array([0.05, 0.2, 0.15])
_LARGE = 20.0  # CIELAB, where it has fallen to half
_OUTSIDE_SD = 1.2  # more, where a channel is cut
_STRAY = LIMITS["stray_light"].value
_HIDDEN = (np.arange(9) + 0.5) / 9.0  # places, evenly from what a channel at black shows to the most that it may hide
_CURVE_SD, _CONTRAST_SD = LIMITS["curve_sd"].value, LIMITS["contrast_sd_photo"].value
_FULL_CHROMA, _FULL_DEPTH = 40.0, 40.0  # from which a colour's lightness is as uncertain as any
# L*, a*, b*, from scan to scan: JPEG's coarse chroma steps and the paper's grain. How bright the lamp is lies on the
# paper beside as well, and cancels
_REPEAT = (0.10, 0.28, 0.32)


@dataclass(frozen=True, slots=True)
class CaptureColour:
    """How a capture turns light into colour.

    Attributes
    ----------
    kind : str
        ``"scan"`` or ``"photo"``.
    icc : bytes or None
    calibration : Calibration or None
    profile, source : str
        Of the capture.
    """

    kind: str
    icc: bytes | None
    calibration: Calibration | None = None
    profile: str = ""
    source: str = ""

    def sees_as(self, reference: HouseReference) -> bool:
        """Tell whether a reference was captured by the same device in the same way; photos differ in their light.

        Where neither file names a device, the shop that named the reference answers for it, at any resolution.
        """
        ours = ("scan", self.profile, _device_of(self.source))
        theirs = (reference.kind, reference.profile, _device_of(reference.source))
        return self.kind == "scan" and theirs == ours

    def mapped(self, ratio: NDArray[np.float64], paper: NDArray[np.float64] | None) -> NDArray[np.float64] | None:
        """CIELAB (3,) through the calibration of light `ratio` (3,) to `paper` (3,), where that is known."""
        by = self.calibration
        lab = None if by is None else by.lab(ratio)
        if lab is None or by is None or by.paper is None or paper is None:
            return lab
        return lab + tint_shift(ratio, paper, np.array(by.paper))

    def lab(self, area: Area) -> NDArray[np.float64]:
        """Media-relative CIELAB (3,) of an area."""
        mapped = self.mapped(area.ratio, area.paper)
        return area_lab(area) if mapped is None else mapped

    def see(self, area: Area) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Media-relative CIELAB (3,) of an area, and its standard deviation, the capture's own error included."""
        lab, covariance = self.seen(area)
        return lab, np.sqrt(np.diag(covariance))

    def seen(self, area: Area) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The same with the covariance (3, 3); what channels at black may hide is in both."""
        lab, covariance = self.shown(area)
        if self.mapped(area.ratio, area.paper) is not None or not at_black(area).any():
            return lab, covariance
        may_be = _relative_lab(area.light - _HIDDEN[:, None] * _hidden(area), area.paper)
        return may_be.mean(axis=0), covariance + np.cov(may_be.T)

    def shown(self, area: Area) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The same of the picture's own colour: channels at black are taken to be as dark as they look."""
        repeat = np.diag(np.square(reading_sd(area)))
        lab = self.mapped(area.ratio, area.paper)
        if lab is not None and self.calibration is not None:
            sd = self.calibration.sd_at(area.ratio)
            bare = self.calibration.paper
            sd = sd if bare is None else np.hypot(sd, tint_sd(lab, area.paper, np.array(bare)))
            return lab, repeat + np.diag(np.square(sd))
        lab = area_lab(area)
        return lab, repeat + self._own_error(area, lab)

    def _own_error(self, area: Area, lab: NDArray[np.float64]) -> NDArray[np.float64]:
        """Covariance (3, 3) of an uncalibrated capture's colours.

        Bare paper and greys a capture gets right; what it gets wrong grows with what the ink does, and more where a
        channel shows none of it.
        """
        chroma = float(np.hypot(lab[1], lab[2]))
        depth = min(1.0, float(100.0 - lab[0]) / _FULL_DEPTH + chroma / _FULL_CHROMA)
        share = np.array([depth, *[0.1 + 0.9 * chroma / _USUAL_CHROMA] * 2])
        cut = float(area.ratio.min()) < CUT_LIGHT
        sd = np.array(CAPTURE_SD) * share * (_OUTSIDE_SD if cut else 1.0)
        sd[0] = max(sd[0], _CURVE_SD * _by_power(float(lab[0])))
        variance = np.square(sd)
        along = np.array([1.0, 0.0]) if chroma == 0.0 else lab[1:] / chroma
        if self.kind == "photo":
            light = _PHOTO_LIGHT * (lab[0] + 16.0) / 3.0  # dL* = (L* + 16) / 3 dY / Y
            overlap = CAPTURE_SD[0] * _PHOTO_OVERLAP * chroma / _FULL_CHROMA
            curve = CAPTURE_SD[0] * _by_power(float(lab[0])) / _by_power(_USUAL_LIGHTNESS)
            variance[0] = curve**2 + _by_contrast(float(lab[0])) ** 2 + overlap**2 + light**2
            variance[2] = (0.1 * CAPTURE_SD[2]) ** 2 + _by_overlap(area, np.array([-along[1], along[0]])) ** 2
        turn = np.eye(3)
        turn[1:, 1:] = [[along[0], -along[1]], [along[1], along[0]]]
        return np.asarray(turn @ np.diag(variance) @ turn.T)


def _by_power(lightness: float) -> float:
    """How far a lightness moves with the power of a tone curve: none of paper's, little of yellow's, most of black's.

    dL* = (L* + 16) / 3 d ln Y, and the power moves ln Y by a share of itself.
    """
    at = min(max(lightness, 0.0), 100.0) + 16.0
    return float(at * np.log(116.0 / at))


def _by_contrast(lightness: float) -> float:
    """How far a phone's contrast moves a lightness: a part of 3 v^2 - 2 v^3, which is S, in place of v = L* / 100.

    That darkens what is darker than mid-tones; what is lighter gets lighter along with its paper.
    """
    v = min(max(lightness / 100.0, 0.0), 0.5)
    return _CONTRAST_SD * 100.0 * v * (1.0 - v) * (1.0 - 2.0 * v)


def at_black(area: Area) -> NDArray[np.bool_]:
    """Which channels (3,) a capture has cut at black; what is far below it, a profile wider than sRGB has told."""
    return np.asarray(np.abs(area.ratio) < _STRAY)


def _hidden(area: Area) -> NDArray[np.float64]:
    """Linear sRGB (3,) that channels at black may lack at most; as much less, the nearer one comes to stray light."""
    near = np.where(at_black(area), 1.0 - np.clip(area.ratio / _STRAY, 0.0, 1.0), 0.0)
    return np.asarray(near * _outside() * area.ratio.max() * area.paper)


@lru_cache(maxsize=1)
def _outside() -> NDArray[np.float64]:
    """How far (3,) each channel of published inks lies below black, relative to their lightest channel, at most."""
    aims = [published(name).relative for name in conditions()]
    light = lab_to_xyz(np.array([lab for aim in aims for ink, lab in aim.items() if ink in INKS])) @ XYZ_TO_LINEAR.T
    return np.asarray(np.maximum(-(light / light.max(axis=1, keepdims=True)).min(axis=0), 0.0))


def _by_overlap(area: Area, across: NDArray[np.float64]) -> float:
    """How far a* and b* move along `across` (2,) where each channel takes some of each other's light.

    A yellow's red and green are both paper's, and take as much from its blue: it does not turn. A cyan's three
    channels differ, and it turns most.
    """
    mixed = area.light + _PHOTO_MIXING * (area.ratio[_TAKEN] - area.ratio[_TAKES])[:, None] * area.paper * _OF
    moved = (_relative_lab(mixed, area.paper) - area_lab(area))[:, 1:] @ across
    return float(np.sqrt(np.square(moved).sum()))


def area_lab(area: Area) -> NDArray[np.float64]:
    """Media-relative CIELAB (3,) of an area whose light is linear sRGB."""
    return _relative_lab(area.light, area.paper)


def _relative_lab(light: NDArray[np.float64], paper: NDArray[np.float64]) -> NDArray[np.float64]:
    """Media-relative CIELAB (..., 3) of linear sRGB `light` (..., 3) on `paper` (3,)."""
    return xyz_to_lab(media_relative(light_to_xyz(light), np.maximum(light_to_xyz(paper), 1e-6)))


def reading_sd(area: Area) -> NDArray[np.float64]:
    """Standard deviation (3,) of its CIELAB, from the scatter of its light."""
    steps = np.diag(np.maximum(area.ratio_sd * area.paper, 1e-6))
    moved = _relative_lab(area.light + steps, area.paper) - area_lab(area)
    return np.asarray(np.sqrt(np.square(moved).sum(axis=0) + np.square(_REPEAT)))


def is_cut(area: Area) -> bool:
    """Tell whether an area reads darker than ink on paper can be: what levels cut off at black has no colour."""
    return float(area_lab(area)[0]) < LIMITS["ink_darkest"].value


def _device_of(source: str) -> str:
    """The mark of a device; "" where a source is but the resolution of a file that names none."""
    return "" if source.endswith(" dots/inch") else source


def solid_colour(
    reading: SolidReading, area: Area | None, capture: CaptureColour, reference: HouseReference | str
) -> SolidReading:
    """Fill in a solid's colour and its difference to `reference`, a house reference or a published condition.

    As it was where no area was seen, or one too dark to be ink on paper.
    """
    if area is None or is_cut(area):
        return reading
    lab, covariance = capture.seen(area)
    if isinstance(reference, HouseReference):
        name, aim = f"house {reference.name}", reference.inks.get(reading.ink)
        aim_lab = None if aim is None else aim.lab
    else:
        name, aim_lab = f"published {reference}", published(reference).relative.get(reading.ink)
    if isinstance(reference, HouseReference):  # whose channels at black are as dark as they look, too
        shown = capture.shown(area)[0]
        lab, covariance = shown, covariance + np.outer(lab - shown, lab - shown)
    colour = replace(reading, lab=as_lab(lab), lab_sd=as_lab(np.sqrt(np.diag(covariance))))
    if aim_lab is None:
        return colour
    compared = lab
    if isinstance(reference, HouseReference) and aim is not None:
        both = _beside(area, capture, reference, aim)
        if both is None:  # two captures that see differently: no number is better than one that may be anything
            return replace(colour, reference=name, reference_lab=aim_lab)
        compared, there, covariance = both
        aim_lab = as_lab(there)
    value, low, high = delta_e00_interval(compared, aim_lab, covariance)
    return replace(colour, reference=name, reference_lab=aim_lab, delta_e00=value, delta_e00_ci95=(low, high))


def _beside(
    area: Area, capture: CaptureColour, reference: HouseReference, aim: HouseInk
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]] | None:
    """CIELAB (3,) of an area and of the reference's ink, seen alike, and the covariance (3, 3) of their difference.

    One device sees both alike, through its calibration or without; different devices only where both are calibrated.
    """
    repeat = np.sqrt(2.0) * reading_sd(area)
    by, ratio = capture.calibration, np.array(aim.ratio)
    here = capture.mapped(area.ratio, area.paper)
    bare = None if reference.paper is None else np.array(reference.paper)
    if bare is not None:
        repeat = np.hypot(repeat, tint_sd(area_lab(area), area.paper, bare))
    if not capture.sees_as(reference):
        if by is None or here is None or aim.true_lab is None or aim.true_sd is None:
            return None
        return here, np.array(aim.true_lab), capture.seen(area)[1] + np.diag(np.square(aim.true_sd))
    if by is not None and here is not None and (there := capture.mapped(ratio, bare)) is not None:
        apart = float(np.linalg.norm(here - there))
        error = np.hypot(repeat, _RELATIVE_CALIBRATED * apart / (1.0 + apart / _LARGE))
        # what the map gets wrong in both alike cancels; what it makes up of a cut channel does not
        return here, there, np.diag(np.square(error) + np.square(by.sd_at(area.ratio) - by.sd_at(ratio)))
    here, there = area_lab(area), np.array(aim.lab)
    apart = float(np.linalg.norm(here - there))
    error = np.hypot(repeat, _RELATIVE * apart / (1.0 + apart / _LARGE))
    # one that misreads chroma as such misreads it alike in all colours: by as great a share of any difference
    return here, there, np.diag(np.square(error) + np.square(np.array(_DISTANCE_SD) * apart / _USUAL_CHROMA))


def paper_lab(light: NDArray[np.float64], icc: bytes | None) -> Lab:
    """CIELAB D50 of bare paper, absolute: the capture's white is 100."""
    return as_lab(xyz_to_lab(light_to_xyz(light[None], icc), D50_WHITE)[0])
