"""Colour in the report: the ``solid`` and ``contamination`` objects of one ink, as the contract has them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from printcheck.document import ScoredSheet
from printcheck.measure.result import ContaminationReading, SolidReading

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
                "inks": [{"ink": p.ink, "amount": _number(p.amount, 3), "state": p.state} for p in reading.inks],
                "lab": _numbers(reading.lab, 3),
            }
            for reading in sheet.overprints
        ],
        "grey_balance": None if grey is None else {"lab": _numbers(grey.lab, 3), "lab_sd": _numbers(grey.lab_sd, 3)},
    }


def _solid(solid: SolidReading) -> dict[str, Any]:
    return {
        "lab": _numbers(solid.lab, 3),
        "lab_sd": _numbers(solid.lab_sd, 3),
        "reference": solid.reference,
        "reference_lab": _numbers(solid.reference_lab, 3),
        "delta_e00": _number(solid.delta_e00, 3),
        "delta_e00_ci95": _numbers(solid.delta_e00_ci95, 3),
    }


def _contamination(reading: ContaminationReading | None) -> dict[str, Any] | None:
    if reading is None or reading.foreign is None:
        return None
    return {
        "basis": reading.basis,
        "foreign": [
            {
                "ink": foreign.ink,
                "fraction": _number(foreign.fraction, 4),
                "ci95": _numbers(foreign.ci95, 4),
                "fraction_first": _number(foreign.first, 4),
                "fraction_last": _number(foreign.last, 4),
            }
            for foreign in reading.foreign
        ],
        "trend": reading.trend,
        "clears_after_mm": _number(reading.clears_after_mm, 1),
        "wrong_ink": reading.wrong_ink,
        "could_hide": _number(reading.could_hide, 4),
        "leaning": None
        if reading.leaning is None
        else {"ink": reading.leaning.ink, "fraction": _number(reading.leaning.share, 4)},
    }


def _number(value: float | None, digits: int) -> float | None:
    """Rounded; none for what is no finite number, so that JSON never holds NaN."""
    return None if value is None or not math.isfinite(value) else round(value, digits)


def _numbers(values: Iterable[float] | None, digits: int) -> list[float | None] | None:
    return None if values is None else [_number(v, digits) for v in values]
