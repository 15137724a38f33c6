"""Bands, fade and dirt as the report's JSON has them."""

from __future__ import annotations

from typing import Any

from printcheck.document import ScoredSheet
from printcheck.measure.evenness_result import BandingReading, FadeReading, LineQuality, Spray, StrokeOffset
from printcheck.verdict.result import Action

__all__ = ["dirt_of", "evenness_of"]


def evenness_of(sheet: ScoredSheet, number: int) -> dict[str, Any]:
    """Return what is uneven about ink `number`; null where not measured, or with a rescan."""
    if sheet.evenness is None or sheet.assessment.action is Action.RESCAN:
        return {"banding": None, "fade": None, "hairlines": None, "strokes": None, "spray": None}
    ink = sheet.lines[number].ink
    return {
        "banding": _banding(sheet.evenness.banding[number]),
        "fade": _fade(sheet.evenness.fade[number]),
        "hairlines": [_hairline(line) for line in sheet.evenness.hairlines if line.inks == (ink,)] or None,
        "spray": _spray(sheet.evenness.spray[number] if sheet.evenness.spray else None),
        "strokes": _strokes(sheet.evenness.strokes[number] if sheet.evenness.strokes else None),
    }


def dirt_of(sheet: ScoredSheet) -> dict[str, Any]:
    """The specks of the ``background`` object."""
    dirt = None if sheet.evenness is None or sheet.assessment.action is Action.RESCAN else sheet.evenness.dirt
    if dirt is None:
        names = ("specks_per_dm2", "specks_per_dm2_ci95", "largest_speck_mm", "specks_area_dm2", "specks", "smears")
        return dict.fromkeys(names)
    return {
        "specks_per_dm2": round(dirt.per_dm2, 2),
        "specks_per_dm2_ci95": [round(limit, 2) for limit in dirt.per_dm2_ci95],
        "largest_speck_mm": round(dirt.largest_mm, 3),
        "specks_area_dm2": round(dirt.area_dm2, 3),
        "specks": [
            {"x_mm": round(s.x_mm, 2), "y_mm": round(s.y_mm, 2), "diameter_mm": round(s.diameter_mm, 3)}
            for s in dirt.specks[:50]
        ],
        "smears": [
            {
                "x_mm": [round(s.x0_mm, 2), round(s.x1_mm, 2)],
                "y_mm": [round(s.y0_mm, 2), round(s.y1_mm, 2)],
                "area_mm2": round(s.area_mm2, 2),
                "contrast": round(s.contrast, 4),
            }
            for s in dirt.smears[:50]
        ],
    }


def _banding(reading: BandingReading | None) -> dict[str, Any] | None:
    if reading is None:
        return None
    return {
        "amplitude_dL": round(reading.amplitude_dL, 3),
        "period_mm": None if reading.period_mm is None else round(reading.period_mm, 4),
        "visible": reading.visible,
        "ci95": [round(v, 3) for v in reading.ci95],
        "limit_dL": round(reading.limit_dL, 3),
        "limits_dL": {area: round(value, 3) for area, value in reading.limits_dL},
        "scanner_dL": round(reading.scanner_dL, 3),
        "streak_dL": round(reading.streak_dL, 3),
        "bands": [
            {
                "area": band.area,
                "amplitude_dL": round(band.amplitude_dL, 3),
                "period_mm": round(band.period_mm, 4),
                "ci95": [round(v, 3) for v in band.ci95],
                "times_visible": round(band.weight, 3),
                "cause": band.cause,
                "told_from_rows": band.told,
                "harmonics": [{"order": order, "amplitude_dL": round(value, 3)} for order, value in band.harmonics],
            }
            for band in reading.bands
        ],
    }


def _hairline(line: LineQuality) -> dict[str, Any]:
    return {
        "along": line.along,
        "drawn_mm": round(line.drawn_mm, 4),
        "width_mm": round(line.width_mm, 4),
        "raggedness_mm": round(line.raggedness_mm, 4),
        "blurriness_mm": None if line.blurriness_mm is None else round(line.blurriness_mm, 4),
        "broken": round(line.broken, 3),
    }


def _spray(reading: Spray | None) -> dict[str, Any] | None:
    if reading is None:
        return None
    return {
        "left": round(reading.left, 4),
        "right": round(reading.right, 4),
        "limit": round(reading.limit, 4),
        "seen": reading.seen,
    }


def _strokes(reading: StrokeOffset | None) -> dict[str, Any] | None:
    if reading is None:
        return None
    return {
        "offset_mm": round(reading.offset_mm, 4),
        "ci95": [round(v, 4) for v in reading.ci95],
        "advance_mm": None if reading.advance_mm is None else round(reading.advance_mm, 3),
    }


def _fade(reading: FadeReading | None) -> dict[str, Any] | None:
    if reading is None:
        return None
    return {
        "dL_first_to_last": round(reading.dL_first_to_last, 3),
        "ci95": [round(v, 3) for v in reading.ci95],
        "kind": reading.kind,
        "worst_dL": round(reading.worst_dL, 3),
        "density_ratio": None if reading.density_ratio is None else round(reading.density_ratio, 4),
        "start_mm": None if reading.start_mm is None else round(reading.start_mm, 1),
        "end_mm": None if reading.end_mm is None else round(reading.end_mm, 1),
        "blanks_mm": [[round(v, 2) for v in blank] for blank in reading.blanks_mm],
    }
