"""From a sheet of a known-good cartridge to a house reference."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.colour.house import HouseInk, HouseReference
from printcheck.colour.lab import Lab, as_lab
from printcheck.errors import PrintcheckError
from printcheck.measure.colour import CaptureColour, area_lab
from printcheck.measure.colouring import ColourSettings, read_colour_areas
from printcheck.measure.paper import read_paper
from printcheck.pipeline import Scored, score_image
from printcheck.verdict.result import Action

if TYPE_CHECKING:
    from printcheck.colour.calibration import Calibration

__all__ = ["colour_settings", "reference_from", "reference_of"]


def reference_of(
    sheet: Path, name: str, *, calibration: str | None = None, max_megapixels: float = DEFAULT_MAX_MEGAPIXELS
) -> HouseReference:
    """Read `sheet` as a reference called `name`, its true colours through `calibration` where one is named.

    Raises
    ------
    InputError
        `sheet` is no image that can be opened.
    PrintcheckError
        It can't be judged, is no colour picture, or is not sound itself.
    """
    from printcheck.calibrate import load_calibration

    fit = None if calibration is None else load_calibration(calibration)
    scored = score_image(sheet, max_megapixels=max_megapixels)
    assessment = scored.sheet.assessment
    if scored.sheet.toner is not None:
        raise PrintcheckError(f"{sheet} is a toner sheet, which has no colours to keep; use that of an ink cartridge")
    if assessment.action is not Action.TOP_OFF:
        why = assessment.reasons[0].text if assessment.reasons else ""
        raise PrintcheckError(
            f"{sheet} can't be a reference: its verdict is {assessment.action.value} ({why}); use a sound sheet"
        )
    return reference_from(scored, name, fit)


def reference_from(scored: Scored, name: str, fit: Calibration | None = None) -> HouseReference:
    """The colours of a scored ink sheet as a reference called `name`, whatever its verdict.

    Raises
    ------
    PrintcheckError
        It shows no colours, or none that ink has.
    """
    record, capture, sheet = scored.sheet.capture, scored.capture, scored.sheet.image.path
    if scored.registration is None or record.kind is None:
        raise PrintcheckError(f"{sheet} can't be a reference: no sheet was found in it")
    read = read_colour_areas(capture, scored.registration, read_paper(capture.pixels, scored.registration))
    if read is None:
        raise PrintcheckError(f"{sheet} can't be a reference: it shows no colour; scan it whole, in colour")
    if fit is not None and (refusal := fit.refusal(record.kind, capture.profile, capture.source)) is not None:
        raise PrintcheckError(f"{sheet}: {refusal}; calibrate this kind of capture, or add it without")
    look = CaptureColour(record.kind, capture.icc, fit)
    inks = {}
    for ink, reading in read.inks.items():
        if reading.solid is None:
            raise PrintcheckError(f"{sheet} can't be a reference: the solid of {ink} is not in the picture")
        solid = reading.solid
        known: tuple[Lab | None, ...] = (None, None)
        if fit is not None and fit.lab(solid.ratio) is not None:
            known = tuple(as_lab(v) for v in look.see(solid))
        inks[ink] = HouseInk(as_lab(solid.ratio), as_lab(solid.ratio_sd), as_lab(area_lab(solid)), *known)
    layout = scored.registration.layout
    reference = HouseReference(
        name, layout.head.name, layout.page.name, record.kind, capture.profile, capture.sha256, inks, capture.source,
        as_lab(np.mean([ink.solid.paper for ink in read.inks.values() if ink.solid is not None], axis=0)),
    )  # fmt: skip
    if (flaw := reference.flaw()) is not None:  # what is kept must be found sound when it is read
        raise PrintcheckError(f"{sheet} can't be a reference: {flaw}; scan it again, without automatic levels")
    return reference


def colour_settings(
    reference: str | None, calibration: str | None = None, strip: Path | None = None
) -> ColourSettings:
    """Settings that judge by the house reference and calibration of these names, and the strip of this file."""
    from printcheck.calibrate import load_calibration
    from printcheck.colour.control_strip import load_strip_values
    from printcheck.colour.house import load_house

    return ColourSettings(
        None if reference is None else load_house(reference),
        calibration=None if calibration is None else load_calibration(calibration),
        strip=None if strip is None else load_strip_values(strip),
    )
