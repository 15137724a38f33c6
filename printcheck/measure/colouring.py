"""The colour of a sheet: solids against their reference, foreign ink, the paper itself."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.calibration import Calibration
from printcheck.colour.control_strip import StripValues
from printcheck.colour.house import HouseReference
from printcheck.colour.published import DEFAULT_CONDITION
from printcheck.limits import LIMITS
from printcheck.measure.areas import Area, AreaReader, InkAreas
from printcheck.measure.colour import CaptureColour, at_black, is_cut, paper_lab, solid_colour
from printcheck.measure.common_light import without_shadow
from printcheck.measure.contamination import Basis, house_basis, published_basis, read_contamination
from printcheck.measure.leaning import leanings
from printcheck.measure.overprints import read_grey, read_overprints
from printcheck.measure.paper import PaperLight
from printcheck.measure.result import (
    BackgroundReading,
    ContaminationReading,
    GreyBalance,
    OverprintReading,
    SolidReading,
)
from printcheck.measure.sound_colour import off_sound, published_solids
from printcheck.measure.tint import tint_density_sd
from printcheck.pattern.inks import INKS

if TYPE_CHECKING:
    from collections.abc import Collection

    from printcheck.capture.result import Capture
    from printcheck.pattern.layout import Layout
    from printcheck.register.result import Registration

__all__ = [
    "ColourAreas",
    "ColourSettings",
    "Coloured",
    "measure_colour",
    "of_black",
    "of_no_number",
    "read_colour_areas",
]


@dataclass(frozen=True, slots=True)
class ColourSettings:
    """What colour is judged against.

    Attributes
    ----------
    house : HouseReference or None
        What a known-good cartridge gave on this printer and paper.
    condition : str
        Published condition, where there is no house reference.
    calibration : Calibration or None
        The scanner's own map to colour; sRGB or the capture's profile without one.
    strip : StripValues or None
        Of the control strip that lies beside the sheet in a photo.
    """

    house: HouseReference | None = None
    condition: str = DEFAULT_CONDITION
    calibration: Calibration | None = None
    strip: StripValues | None = None


@dataclass(frozen=True, slots=True)
class ColourAreas:
    """What is read off a picture for its colour: all areas of each ink, the overprints, the light of bare paper."""

    inks: dict[str, InkAreas]
    overprints: tuple[Area, ...]
    paper: PaperLight


def read_colour_areas(
    capture: Capture, registration: Registration, paper: PaperLight | None, *, wedge: bool = False
) -> ColourAreas | None:
    """Read all areas whose colour counts; none of a grey picture, or where too little bare `paper` is in it.

    `wedge` adds the steps of the wedges, which only a calibration needs.
    """
    if capture.grey or paper is None:
        return None
    layout = registration.layout
    # the coarser of luma's and chroma's rounding; a chroma coefficient is 8 times its block's mean (ISO/IEC 10918-1)
    step = max([capture.block_step, *(first / 8.0 for first in capture.chroma_steps[:1])])
    reader = AreaReader(capture.pixels, registration, paper, capture.icc, step)
    inks = reader.inks([ink.ink for ink in layout.head.inks], wedge=wedge)
    overprints = reader.areas(layout.patches_of("overprint"))
    return ColourAreas(inks, tuple(overprints.values()), paper)


@dataclass(frozen=True, slots=True)
class Coloured:
    """Colour readings of one sheet, an entry an ink; `secondaries` says what overprints tell of the inks in them."""

    solids: tuple[SolidReading, ...]
    contamination: tuple[ContaminationReading, ...]
    background: BackgroundReading
    warnings: tuple[str, ...]
    secondaries: tuple[OverprintReading, ...] = ()
    grey: GreyBalance | None = None


def measure_colour(
    capture: Capture,
    layout: Layout,
    read: ColourAreas | None,
    kind: str,
    solids: tuple[SolidReading, ...],
    settings: ColourSettings,
    *,
    grey: bool = False,
    absent: Collection[str] = (),
) -> Coloured:
    """Measure the colour of a sheet, as far as this capture carries it.

    Parameters
    ----------
    read : ColourAreas or None
        Of this picture, by `read_colour_areas`.
    kind : str
        ``"scan"`` or ``"photo"``.
    solids : tuple of SolidReading
        Without their colour.
    grey : bool
        The picture shows no colour though it has three channels: a photocopy.
    absent : collection of str
        Inks that were not laid down at all: there is nothing another could be mixed into.
    """
    nothing = tuple(map(_unmeasured, solids))
    if capture.grey or grey:
        return Coloured(solids, nothing, BackgroundReading(None), ())
    if read is None:
        return Coloured(
            solids, nothing, BackgroundReading(None),
            ("colour can't be measured: too little bare paper is in the picture; show the whole sheet",),
        )  # fmt: skip
    warnings: list[str] = []
    house, look = _usable(capture, layout, kind, settings, warnings)
    basis = _basis(read, look, house, settings.condition, len(solids), warnings)
    aim = house if house is not None else settings.condition
    coloured = tuple(solid_colour(solid, read.inks[solid.ink].solid, look, aim) for solid in solids)
    found = read_contamination(read.inks, basis, photo=kind == "photo")
    if not basis.exact:
        found = tuple(_held_against_sound(reading, read.inks[reading.ink].solid, look, house) for reading in found)
    if kind == "photo" or not basis.exact:
        leans = leanings(read.inks, basis, photo=kind == "photo")
        found = tuple(replace(reading, leaning=leans.get(reading.ink)) for reading in found)
    found = tuple(_unmeasured(reading) if reading.ink in absent else reading for reading in found)
    warnings += [f"{INKS[ink].word}: foreign ink not measured: lays down no ink" for ink in absent]
    warnings += _of_light(read, kind)
    cut = [ink for ink, one in read.inks.items() if one.solid is not None and is_cut(one.solid)]
    warnings += [
        f"{INKS[ink].word}: colour not measured: it reads darker than ink on paper can; turn automatic contrast off"
        for ink in cut
    ]
    secondaries = read_overprints(read.overprints, read.inks, look)
    warnings += [
        *_of_overprints(secondaries),
        *of_black(found),
        *of_no_number(found),
        *(_of_colours(found) if not basis.exact else ()),
    ]
    background = BackgroundReading(paper_lab(read.paper.mean, capture.icc))
    return Coloured(coloured, found, background, tuple(warnings), secondaries, read_grey(read.inks, look))


def _unmeasured(of: SolidReading | ContaminationReading) -> ContaminationReading:
    """Nothing known of what is mixed into an ink."""
    return ContaminationReading(of.ink, "", None, None, None, None, None)


def _usable(
    capture: Capture, layout: Layout, kind: str, settings: ColourSettings, warnings: list[str]
) -> tuple[HouseReference | None, CaptureColour]:
    """The house reference and the way to colour that serve this sheet and capture; why others don't is warned of."""
    house, calibration = settings.house, settings.calibration
    if house is not None and house.head != layout.head.name:
        warnings.append(
            f"house reference {house.name} is of head {house.head}, this sheet of {layout.head.name}: not used; "
            "add one from a sheet of this head"
        )
        house = None
    lacking = [] if house is None else [ink.ink for ink in layout.head.inks if ink.ink not in house.inks]
    flaw = None if house is None else house.flaw()
    if house is not None and (lacking or flaw):  # nothing would be looked for in an ink that it tells nothing of
        what = (
            f"tells nothing of {' or '.join(INKS[ink].word for ink in lacking)}"
            if lacking
            else f"is damaged ({flaw})"
        )
        warnings.append(f"house reference {house.name} {what}: not used; add it again")
        house = None
    if calibration is not None and (refusal := calibration.refusal(kind, capture.profile, capture.source)):
        warnings.append(f"{refusal}: not used; calibrate this kind of capture")
        calibration = None
    return house, CaptureColour(kind, capture.icc, calibration, capture.profile, capture.source)


def _basis(
    read: ColourAreas, look: CaptureColour, house: HouseReference | None, condition: str, inks: int,
    warnings: list[str],
) -> Basis:  # fmt: skip
    """What pure inks look like, for foreign ink; what that can't carry is warned of."""
    if house is None:
        foreign = ", and foreign ink shows only where it is much or changes down the page" if inks > 1 else ""
        warnings.append(
            f"colour is compared with published solids ({condition}) through "
            f"{'a calibrated' if look.calibration else 'an uncalibrated'} {look.kind}: its numbers are only as sure "
            f"as their intervals{foreign}; for more, add a house reference from a known-good cartridge "
            "(printcheck reference add)"
        )
        return published_basis(read.inks, condition, photo=look.kind == "photo")
    same = look.sees_as(house)
    if not same:
        other = "" if house.source == look.source else ", of another device"
        warnings.append(
            f"house reference {house.name} comes from a {house.kind} ({house.profile}), this is a {look.kind} "
            f"({look.profile}){other}: they see colour differently, so foreign ink shows only where it is "
            "much, and colour differences are given only where both are calibrated"
        )
    elif house.source != look.source:
        warnings.append(
            f"house reference {house.name} was scanned at {house.source or 'an unknown resolution'}, and neither "
            "file names its scanner: taken to be the same one"
        )
    paper_sd = 0.0 if house.paper is None else tint_density_sd(read.paper.mean, np.array(house.paper))
    ratios = {n: np.array(i.ratio) for n, i in house.inks.items()}
    return house_basis(
        house.name, ratios, same_capture=same, paper_sd=paper_sd, areas=read.inks, photo=look.kind == "photo"
    )


def _of_light(read: ColourAreas, kind: str) -> list[str]:
    """What is wrong with the light on the sheet."""
    out = []
    shadow = 1.0 - 10.0 ** -without_shadow(read.inks)[1]
    if shadow > LIMITS["shadow_told"].value:
        out.append(
            f"the light on all run-off strips changes by {100 * shadow:.0f} % at the same height: a shadow, not ink; "
            "close the lid, or light the sheet evenly, and capture it again"
        )
    if read.paper.mean.max() >= LIMITS["paper_burnt"].value:
        how = "turn automatic levels off and scan it again" if kind == "scan" else "photograph it with less exposure"
        out.append(
            "the bare paper is as light as the picture can show, or lighter: what is faint reads fainter, and "
            f"colours read darker, than they are; where that matters {how}"
        )
    return out


def _held_against_sound(
    reading: ContaminationReading, solid: Area | None, look: CaptureColour, house: HouseReference | None
) -> ContaminationReading:
    """Add how far a colour's solid lies from any sound one: a house reference's where there is one, or published."""
    if reading.ink == "K" or reading.foreign is None or solid is None or is_cut(solid):
        return reading
    own = None if house is None else house.inks.get(reading.ink)
    aims = published_solids(reading.ink) if own is None else (own.true_lab or own.lab,)
    if not aims:
        return reading
    lab, covariance = look.shown(solid)
    black = None if look.mapped(solid.ratio, solid.paper) is not None else at_black(solid)
    off = off_sound(lab, np.sqrt(np.diag(covariance)), aims, INKS[reading.ink].absorbs, black)
    return replace(reading, off_sound=off)


def _of_overprints(readings: tuple[OverprintReading, ...]) -> list[str]:
    """Which ink is short where inks lie over one another."""
    out = []
    for reading in readings:
        words = " and ".join(INKS[part.ink].word for part in reading.inks)
        for part in reading.inks:
            if part.state != "present":
                how = "hardly there" if part.state == "missing" else "weak"
                out.append(
                    f"where {words} are printed over one another, {INKS[part.ink].word} is {how}: "
                    f"{100 * part.amount:.0f} % of its solid, where printing conditions like these show "
                    f"{100 * part.usual:.0f} %; look for starving, or a wrong setting of the printer"
                )
    return out


def _of_colours(readings: tuple[ContaminationReading, ...]) -> list[str]:
    """What the colours keep to themselves where the pure ink is not known from this printer and capture device."""
    hidden = [r for r in readings if r.ink != "K" and (r.could_hide or 0.0) >= LIMITS["hidden_told"].value]
    if not hidden:
        return []
    each = ", ".join(f"{100 * (r.could_hide or 0.0):.0f} % in {INKS[r.ink].word}" for r in hidden)
    return [f"another ink that stays the same down the page could go unseen: up to {each}"]


def of_no_number(readings: tuple[ContaminationReading, ...]) -> list[str]:
    """Where what is known of an ink, or read of it, is no number, so that nothing foreign can be told in it."""
    inks = ", ".join(INKS[r.ink].word for r in readings if r.no_number)
    if not inks:
        return []
    basis = next(r.basis for r in readings if r.no_number)
    return [f"foreign ink in {inks} can't be told: what {basis} or the picture says of their colour is no number"]


def of_black(readings: tuple[ContaminationReading, ...]) -> list[str]:
    """What black keeps to itself."""
    if [(r.ink, r.foreign) for r in readings] == [("K", None)]:
        return ["foreign ink in black not looked for: a head of one ink shows no other to know it by"]
    hidden = max((r.could_hide or 0.0 for r in readings if r.ink == "K"), default=0.0)
    if hidden < LIMITS["hidden_told"].value:
        return []
    return [f"black would hide up to {100 * hidden:.0f} % of another ink: foreign ink barely shows in it"]
