"""Reading control strips: their values on a calibrated scanner, and a photo's colour by them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.control_strip import PatchValue, StripValues
from printcheck.colour.lab import as_lab
from printcheck.colour.strip_fit import StripCalibration, fit_strip
from printcheck.errors import PrintcheckError
from printcheck.limits import LIMITS
from printcheck.measure.areas import Area, AreaReader
from printcheck.measure.colour import CaptureColour
from printcheck.measure.colouring import ColourSettings
from printcheck.measure.paper import PaperLight, read_paper
from printcheck.pattern.control_strip import strip_patch_name
from printcheck.register.control_strip import FoundStrip, find_strips
from printcheck.register.kind import capture_kind

if TYPE_CHECKING:
    from printcheck.capture.result import Capture
    from printcheck.colour.calibration import Calibration
    from printcheck.register.result import Registration

__all__ = ["StripColour", "calibrate_photo", "read_strip_values", "with_strip"]


@dataclass(frozen=True, slots=True)
class StripColour:
    """What the strip in a photo gave: `calibration` is none where `warnings` say why."""

    calibration: StripCalibration | None
    warnings: tuple[str, ...]


def read_strip_values(capture: Capture, calibration: Calibration, called: str) -> StripValues:
    """Read the values of every strip in a scan.

    Parameters
    ----------
    calibration : Calibration
        Of this scanner.
    called : str
        Its name, for the record.

    Raises
    ------
    PrintcheckError
        No strip is in the scan, it is no scan of the calibrated kind, or too few patches can be read.
    """
    if capture.grey:
        raise PrintcheckError(f"{capture.path} is grey; scan the control strip in colour")
    try:
        found = find_strips(capture.pixels)
    except PrintcheckError as error:
        raise PrintcheckError(f"{capture.path}: {error}") from None
    strips = {}
    for strip in found:
        kind = capture_kind(capture, strip.registration)
        if (refusal := calibration.refusal(kind, capture.profile, capture.source)) is not None:
            raise PrintcheckError(f"{capture.path}: {refusal}; scan the strip on the scanner that was calibrated")
        paper = _paper(capture, strip)
        if paper.mean.max() >= LIMITS["paper_burnt"].value:
            raise PrintcheckError(
                f"{capture.path}: the paper of control strip {strip.identity} is lighter than the scan can show; "
                "scan it with less exposure, and all automatic corrections off"
            )
        look = CaptureColour(kind, capture.icc, calibration)
        values = {}
        areas, count = _areas(capture, strip.registration, paper), len(strip.registration.layout.patches)
        if len(areas) < count:
            raise PrintcheckError(
                f"{capture.path}: only {len(areas)} of {count} patches of control strip {strip.identity} are in the "
                "picture; scan the whole strip"
            )
        for name, area in areas.items():
            if calibration.lab(area.ratio) is not None:  # a colour far from the calibration's own is not known
                lab, sd = look.see(area)
                values[name] = PatchValue(as_lab(lab), as_lab(sd))
        if len(values) < LIMITS["strip_values"].value * count:
            raise PrintcheckError(
                f"{capture.path}: only {len(values)} of {count} patches of control strip {strip.identity} lie "
                f"within what calibration '{called}' knows; calibrate by more colours"
            )
        strips[strip.identity] = values
    return StripValues(called, calibration.delta_e00, strips)


def with_strip(
    capture: Capture, sheet: Registration, kind: str, settings: ColourSettings
) -> tuple[ColourSettings, tuple[str, ...]]:
    """`settings` with the photo's own calibration, where they name a control strip and it can be used; warnings."""
    if settings.strip is None:
        return settings, ()
    found = calibrate_photo(capture, sheet, kind, settings.strip)
    if found.calibration is None:
        return settings, found.warnings
    return replace(settings, calibration=found.calibration), found.warnings


def calibrate_photo(capture: Capture, sheet: Registration, kind: str, values: StripValues) -> StripColour:
    """Fit the photo's light to colour by the strip of known `values` that lies in it beside the sheet."""
    try:
        return _calibrated(capture, sheet, kind, values)
    except PrintcheckError as error:
        return StripColour(None, (f"colour is not calibrated by a control strip: {error}",))


def _calibrated(capture: Capture, sheet: Registration, kind: str, values: StripValues) -> StripColour:
    if kind != "photo":
        raise PrintcheckError("this is a scan; calibrate the scanner instead (printcheck calibrate)")
    if capture.grey:
        raise PrintcheckError("the picture is grey; take it in colour")
    found = find_strips(capture.pixels)
    known = [strip for strip in found if strip.identity in values.strips]
    if not known:
        raise PrintcheckError(
            f"the strip in the picture is {found[0].identity}, values are those of {', '.join(values.strips)}; "
            "read this strip's own values (printcheck strip read)"
        )
    strip = known[0]
    paper, sheet_paper = _paper(capture, strip), read_paper(capture.pixels, sheet)
    if sheet_paper is None:
        raise PrintcheckError("too little of the sheet's bare paper can be seen")
    aims = values.strips[strip.identity]
    areas = {n: a for n, a in _areas(capture, strip.registration, paper).items() if n in aims}
    if len(areas) < LIMITS["strip_seen"].value * len(aims):
        raise PrintcheckError(f"only {len(areas)} of the strip's {len(aims)} patches can be seen; uncover it")
    ratio = np.array([area.ratio for area in areas.values()])
    lab = np.array([aims[name].lab for name in areas])
    apart = sheet_paper.mean / np.maximum(paper.mean, 1e-6)
    tint = apart / apart[1]
    sd = np.array([aims[name].sd for name in areas])
    fit = fit_strip(ratio, lab, capture.profile, tint, capture.source, sd)
    least, most = LIMITS["strip_light"].value, LIMITS["strip_tint"].value
    if not least < apart[1] < 1 / least or float(np.abs(np.log(tint)).max()) > most:
        raise PrintcheckError(
            "the control strip and the sheet lie in different light, or on papers of very different colour; lay "
            "them side by side in the same even light"
        )
    note = (
        f"colour is calibrated by control strip {strip.identity}: its patches left out are {fit.delta_e00:.1f} "
        "deltaE00 off (median)"
    )
    return StripColour(fit, (note,))


def _paper(capture: Capture, strip: FoundStrip) -> PaperLight:
    paper = read_paper(capture.pixels, strip.registration)
    if paper is None:
        raise PrintcheckError(f"the bare paper of control strip {strip.identity} can't be seen; uncover it")
    return paper


def _areas(capture: Capture, strip: Registration, paper: PaperLight) -> dict[str, Area]:
    """Every patch that can be seen, by name."""
    reader = AreaReader(capture.pixels, strip, paper, capture.icc)
    return {strip_patch_name(patch): area for patch, area in reader.areas(strip.layout.patches).items()}
