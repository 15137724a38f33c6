"""From a sheet of a known-good cartridge to a house reference."""

from __future__ import annotations

from pathlib import Path

from printcheck.colour.house import HouseInk, HouseReference
from printcheck.colour.lab import as_lab
from printcheck.errors import PrintcheckError
from printcheck.measure.colour import area_lab
from printcheck.measure.colouring import ColourSettings, measure_colour
from printcheck.pipeline import score_image
from printcheck.verdict.result import Action

__all__ = ["colour_settings", "reference_of"]


def reference_of(sheet: Path, name: str, *, max_megapixels: float = 200.0) -> HouseReference:
    """Read `sheet` as a reference called `name`.

    Raises
    ------
    InputError
        `sheet` is no image that can be opened.
    PrintcheckError
        It can't be judged, is no colour picture, or is not sound itself.
    """
    scored = score_image(sheet, max_megapixels=max_megapixels)
    record, assessment = scored.sheet.capture, scored.sheet.assessment
    if assessment.action is not Action.TOP_OFF:
        why = assessment.reasons[0].text if assessment.reasons else ""
        raise PrintcheckError(
            f"{sheet} can't be a reference: its verdict is {assessment.action.value} ({why}); use a sound sheet"
        )
    assert scored.registration is not None
    assert record.kind is not None
    areas = measure_colour(
        scored.capture, scored.registration, record.kind, scored.sheet.solids, ColourSettings()
    ).areas
    if areas is None:
        raise PrintcheckError(f"{sheet} can't be a reference: it shows no colour; scan it whole, in colour")
    inks = {}
    for ink, reading in areas.items():
        if reading.solid is None:
            raise PrintcheckError(f"{sheet} can't be a reference: the solid of {ink} is not in the picture")
        solid = reading.solid
        inks[ink] = HouseInk(as_lab(solid.ratio), as_lab(solid.ratio_sd), as_lab(area_lab(solid)))
    layout = scored.registration.layout
    return HouseReference(
        name, layout.head.name, layout.page.name, record.kind, scored.capture.profile, scored.capture.sha256, inks,
        scored.capture.source,
    )  # fmt: skip


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
