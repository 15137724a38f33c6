"""The record of one scored sheet: all that reports, comparisons and the ledger need, and no pixels."""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.measure.evenness_result import Evenness
from printcheck.measure.result import (
    BackgroundReading,
    ContaminationReading,
    GreyBalance,
    LinesReading,
    OverprintReading,
    SolidReading,
)
from printcheck.measure.toner_result import TonerReading
from printcheck.pattern.layout import Layout
from printcheck.verdict.result import Assessment

__all__ = ["SCHEMA", "CaptureRecord", "ImageRecord", "ScoredSheet"]

SCHEMA = "printcheck-report/1"


@dataclass(frozen=True, slots=True)
class ImageRecord:
    """The file that was read."""

    path: str
    sha256: str
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class CaptureRecord:
    """How the picture was taken and how well the page was found in it.

    Attributes
    ----------
    kind : str or None
        ``"scan"`` or ``"photo"``; none where no sheet was found.
    dots_per_inch : float or None
        Measured on the sheet, assuming it was printed at its true size.
    print_scale_x, print_scale_y : float or None
        Printed size over true size; needs a scan that states its resolution.
    rotation_deg : float or None
    registration_rms_mm, registration_doubt_mm : float or None
        What the fit leaves of the marks, and how far dashes may lie off where they are looked for.
    warnings : tuple of str
    """

    kind: str | None
    dots_per_inch: float | None
    print_scale_x: float | None
    print_scale_y: float | None
    rotation_deg: float | None
    registration_rms_mm: float | None
    warnings: tuple[str, ...]
    registration_doubt_mm: float | None = None


@dataclass(frozen=True, slots=True)
class ScoredSheet:
    """One scored sheet. `layout` is none, and the readings empty, where no sheet could be read."""

    image: ImageRecord
    capture: CaptureRecord
    layout: Layout | None
    ticket: str
    lines: tuple[LinesReading, ...]
    solids: tuple[SolidReading, ...]
    background: BackgroundReading | None
    assessment: Assessment
    evenness: Evenness | None = None
    contamination: tuple[ContaminationReading, ...] = ()
    toner: TonerReading | None = None
    overprints: tuple[OverprintReading, ...] = ()
    grey_balance: GreyBalance | None = None
