"""Foreign ink that shows whatever the tone curve of a picture that doesn't name its own.

Without a profile a picture is taken for sRGB (IEC 61966-2-1), as most are. Scanners and older files are written with
a plain power of 1.8 too, which as sRGB deepens an ink's dark channel against its light ones: a healthy warm yellow
then looks as if it held magenta. So foreign ink that is told by a reference of another capture is named only where it
shows under that curve as well, and its interval takes in what it says. Steeper curves err the other way and make up
none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import linear_to_srgb
from printcheck.measure.areas import Area, InkAreas, Strip
from printcheck.measure.contamination import Basis, read_contamination
from printcheck.measure.result import ContaminationReading, ForeignInk

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["under_any_curve"]

_POWER = 1.8  # the lowest that untagged files are written for; from memory, no source


def under_any_curve(
    found: tuple[ContaminationReading, ...],
    areas: Mapping[str, InkAreas],
    basis: Basis,
    *,
    photo: bool,
) -> tuple[ContaminationReading, ...]:
    """Readings of `found` that hold under the other tone curve too.

    Parameters
    ----------
    found : tuple of ContaminationReading
        Of `areas` taken as sRGB.
    areas : mapping of str to InkAreas
    basis : Basis
    photo : bool
    """
    if not any(reading.foreign for reading in found):  # nothing is named that another curve could clear
        return found
    other = {ink: _through(one) for ink, one in areas.items()}
    again = {reading.ink: reading for reading in read_contamination(other, basis, photo=photo)}
    return tuple(_held(reading, again[reading.ink]) for reading in found)


def _through(areas: InkAreas) -> InkAreas:
    solid = None if areas.solid is None else _area(areas.solid)
    strip = areas.strip
    if strip is not None and areas.solid is not None:
        paper = areas.solid.paper
        strip = Strip(strip.y_mm, _light(strip.ratio * paper) / _light(paper), strip.ratio_sd)
    return replace(areas, solid=solid, strip=strip)


def _area(area: Area) -> Area:
    return replace(area, light=_light(area.light), paper=_light(area.paper))


def _light(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Light that was taken for sRGB, if it was written as a plain power."""
    return np.asarray(np.clip(linear_to_srgb(np.clip(light, 0.0, None)), 0.0, None) ** _POWER, np.float64)


def _held(reading: ContaminationReading, other: ContaminationReading) -> ContaminationReading:
    """`reading` without what `other` doesn't name, and with intervals that take in those of `other`."""
    if not reading.foreign or other.foreign is None:
        return reading
    named = {one.ink: one for one in other.foreign}
    kept: list[ForeignInk] = []
    hidden = reading.could_hide or 0.0
    for one in reading.foreign:
        if one.ink in named:
            ci = named[one.ink].ci95
            kept.append(replace(one, ci95=(min(one.ci95[0], ci[0]), max(one.ci95[1], ci[1]))))
        else:
            hidden = max(hidden, one.ci95[1])
    leading = bool(kept) and kept[0].ink == reading.foreign[0].ink  # the trend told is the largest share's
    return replace(
        reading,
        foreign=tuple(kept),
        trend=reading.trend if leading else "steady" if kept else "none",
        clears_after_mm=reading.clears_after_mm if leading else None,
        wrong_ink=reading.wrong_ink if any(one.ink == reading.wrong_ink for one in kept) else None,
        could_hide=float(min(hidden, 1.0)),
    )
