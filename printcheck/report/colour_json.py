"""Colour in the report: the ``solid`` and ``contamination`` objects of one ink, as the contract has them."""

from __future__ import annotations

from typing import Any

from printcheck.document import ScoredSheet
from printcheck.measure.result import ContaminationReading, SolidReading
from printcheck.report.numbers import rounded, rounded_all

__all__ = ["colour_of", "overprints_of"]


def colour_of(sheet: ScoredSheet, number: int) -> dict[str, Any]:
    """``solid`` and ``contamination`` of ink `number` of the head."""
    contamination = sheet.contamination[number] if sheet.contamination else None
    return {"solid": _solid(sheet.solids[number]), "contamination": _contamination(contamination)}


def overprints_of(sheet: ScoredSheet) -> dict[str, Any]:
    """``overprints`` and ``grey_balance`` of the sheet."""
    grey = sheet.grey_balance
    return {
        "overprints": [
            {
                "inks": [
                    {"ink": p.ink, "amount": rounded(p.amount, 3), "usual": rounded(p.usual, 3), "state": p.state}
                    for p in reading.inks
                ],
                "lab": rounded_all(reading.lab, 3),
            }
            for reading in sheet.overprints
        ],
        "grey_balance": None
        if grey is None
        else {"lab": rounded_all(grey.lab, 3), "lab_sd": rounded_all(grey.lab_sd, 3)},
    }


def _solid(solid: SolidReading) -> dict[str, Any]:
    return {
        "lab": rounded_all(solid.lab, 3),
        "lab_sd": rounded_all(solid.lab_sd, 3),
        "reference": solid.reference,
        "reference_lab": rounded_all(solid.reference_lab, 3),
        "delta_e00": rounded(solid.delta_e00, 3),
        "delta_e00_ci95": rounded_all(solid.delta_e00_ci95, 3),
    }


def _contamination(reading: ContaminationReading | None) -> dict[str, Any] | None:
    if reading is None or reading.foreign is None:
        return None
    return {
        "basis": reading.basis,
        "foreign": [
            {
                "ink": foreign.ink,
                "fraction": rounded(foreign.fraction, 4),
                "ci95": rounded_all(foreign.ci95, 4),
                "fraction_first": rounded(foreign.first, 4),
                "fraction_last": rounded(foreign.last, 4),
                "rivals": list(foreign.rivals),
            }
            for foreign in reading.foreign
        ],
        "trend": reading.trend,
        "clears_after_mm": rounded(reading.clears_after_mm, 1),
        "wrong_ink": reading.wrong_ink,
        "could_hide": rounded(reading.could_hide, 4),
        "leaning": None
        if reading.leaning is None
        else {
            "ink": reading.leaning.ink,
            "fraction": rounded(reading.leaning.share, 4),
            "sds": rounded(reading.leaning.sds, 2),
        },
    }
