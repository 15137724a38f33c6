"""Colour of the solids: CIELAB relative to the sheet's own paper, and the difference to a reference.

What a number is known to depends on what it is compared with. Against published aims, all the capture's own error
counts: a generic scanner is off by about 7 CIELAB units, a phone by more than 10. Against a house reference seen by
the same scanner most of it cancels, and what is left grows with the difference itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.calibration import Calibration
from printcheck.colour.difference import delta_e00_interval
from printcheck.colour.house import HouseReference
from printcheck.colour.lab import D50_WHITE, Lab, as_lab, media_relative, xyz_to_lab
from printcheck.colour.published import published
from printcheck.measure.areas import Area, light_to_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.result import SolidReading

__all__ = ["CAPTURE_SD", "CaptureColour", "paper_lab", "solid_colour"]

CAPTURE_SD = {"scan": (2.5, 4.5, 4.5), "photo": (4.0, 7.0, 7.0)}
"""Standard deviation in L*, a*, b* of an uncalibrated capture: together about 7 (published for generic scanners) and
above 10 (for phones without a chart in the picture)."""

_RELATIVE = 0.22  # of a difference seen by the same scanner: its channels are not the observer's
_RELATIVE_OTHER = 0.35  # of a difference between two captures that do not see alike
_OUTSIDE, _OUTSIDE_SD = 0.04, 1.6  # light below which a colour lies at or outside sRGB's edge: cyan does, and is cut
_FULL_CHROMA, _FULL_DEPTH = 40.0, 40.0  # from which a colour is as uncertain as any
_REPEAT = (0.25, 0.3, 0.3)  # L*, a*, b*, from scan to scan: JPEG's chroma steps, light, paper


@dataclass(frozen=True, slots=True)
class CaptureColour:
    """How a capture turns light into colour.

    Attributes
    ----------
    kind : str
        ``"scan"`` or ``"photo"``.
    icc : bytes or None
    calibration : Calibration or None
    """

    kind: str
    icc: bytes | None
    calibration: Calibration | None = None

    def see(self, area: Area) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Media-relative CIELAB (3,) of an area, and its standard deviation, the capture's own error included."""
        repeat = reading_sd(area)
        lab = None if self.calibration is None else self.calibration.lab(area.ratio)
        if lab is not None and self.calibration is not None:
            return lab, np.hypot(repeat, self.calibration.sd)
        # bare paper and greys a capture gets right; what it gets wrong grows with what the ink does
        lab = area_lab(area)
        chroma = min(1.0, float(np.hypot(lab[1], lab[2])) / _FULL_CHROMA)
        depth = min(1.0, float(100.0 - lab[0]) / _FULL_DEPTH + chroma)
        share = np.array([depth, 0.1 + 0.9 * chroma, 0.1 + 0.9 * chroma])
        if float(area.ratio.min()) < _OUTSIDE:
            share = share * _OUTSIDE_SD
        return lab, np.hypot(repeat, np.array(CAPTURE_SD[self.kind]) * share)


def area_lab(area: Area) -> NDArray[np.float64]:
    """Media-relative CIELAB (3,) of an area whose light is linear sRGB."""
    xyz = light_to_xyz(np.stack([area.light, area.paper]))
    return xyz_to_lab(media_relative(xyz[0], np.maximum(xyz[1], 1e-6)))


def reading_sd(area: Area) -> NDArray[np.float64]:
    """Standard deviation (3,) of its CIELAB, from the scatter of its light."""
    base = area_lab(area)
    out = np.zeros((3, 3))
    for channel in range(3):
        step = np.zeros(3)
        step[channel] = max(float(area.ratio_sd[channel] * area.paper[channel]), 1e-6)
        out[channel] = area_lab(replace(area, light=area.light + step)) - base
    return np.asarray(np.sqrt(np.square(out).sum(axis=0) + np.square(_REPEAT)))


def solid_colour(
    reading: SolidReading, area: Area | None, capture: CaptureColour, reference: HouseReference | str
) -> SolidReading:
    """Fill in a solid's colour and its difference to `reference`, a house reference or a published condition."""
    if area is None:
        return reading
    lab, sd = capture.see(area)
    if isinstance(reference, HouseReference):
        name, aim = f"house {reference.name}", reference.inks.get(reading.ink)
        aim_lab = None if aim is None else aim.lab
    else:
        name, aim_lab = f"published {reference}", published(reference).relative.get(reading.ink)
    colour = replace(reading, lab=as_lab(lab), lab_sd=as_lab(sd))
    if aim_lab is None:
        return colour
    compared = lab
    if isinstance(reference, HouseReference):
        # the reference was seen uncalibrated, so the sheet is too
        compared, repeat = area_lab(area), reading_sd(area)
        apart = compared - np.array(aim_lab)
        if reference.kind == capture.kind == "scan":
            error = np.hypot(np.sqrt(2.0) * repeat, _RELATIVE * np.abs(apart))
        else:
            error = np.hypot(sd, _RELATIVE_OTHER * np.abs(apart))
    else:
        error = sd
    value, low, high = delta_e00_interval(compared, aim_lab, np.diag(np.square(error)))
    return replace(colour, reference=name, reference_lab=aim_lab, delta_e00=value, delta_e00_ci95=(low, high))


def paper_lab(light: NDArray[np.float64], icc: bytes | None) -> Lab:
    """CIELAB D50 of bare paper, absolute: the capture's white is 100."""
    return as_lab(xyz_to_lab(light_to_xyz(light[None], icc), D50_WHITE)[0])
