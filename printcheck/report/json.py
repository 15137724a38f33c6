"""The report as JSON, field by field as the published contract has it."""

from __future__ import annotations

from typing import Any

from printcheck.document import SCHEMA, ScoredSheet
from printcheck.measure.result import DashReading, LinesReading
from printcheck.report.colour_json import colour_of, overprints_of
from printcheck.report.evenness_json import dirt_of, evenness_of
from printcheck.report.numbers import rounded, rounded_all
from printcheck.report.toner_json import toner_inks, toner_of
from printcheck.verdict.result import Assessment

__all__ = ["report_of", "verdict_of"]


def report_of(sheet: ScoredSheet, *, all_dashes: bool = False) -> dict[str, Any]:
    """The report of one scored sheet, ready for ``json.dumps``.

    Parameters
    ----------
    sheet : ScoredSheet
    all_dashes : bool
        List every dash, not only those that are not present.
    """
    capture, layout = sheet.capture, sheet.layout
    return {
        "schema": SCHEMA,
        "image": {
            "path": sheet.image.path,
            "sha256": sheet.image.sha256,
            "width_px": sheet.image.width_px,
            "height_px": sheet.image.height_px,
        },
        "sheet": None
        if layout is None
        else {
            "head": layout.head.name,
            "page": layout.page.name,
            "layout": layout.version,
            "ticket": sheet.ticket,
            "inks": [
                {"ink": ink.ink, "rows": ink.rows, "rows_per_inch": ink.rows_per_inch} for ink in layout.head.inks
            ]
            or [{"ink": ink, "rows": None, "rows_per_inch": None} for ink in layout.head.text],
        },
        "capture": {
            "kind": capture.kind,
            "dots_per_inch": rounded(capture.dots_per_inch, 2),
            "print_scale_x": rounded(capture.print_scale_x, 5),
            "print_scale_y": rounded(capture.print_scale_y, 5),
            "rotation_deg": rounded(capture.rotation_deg, 3),
            "registration_rms_mm": rounded(capture.registration_rms_mm, 4),
            "registration_doubt_mm": rounded(capture.registration_doubt_mm, 4),
            "warnings": list(capture.warnings),
        },
        "verdict": verdict_of(sheet.assessment),
        "inks": [
            _ink(lines, all_dashes) | colour_of(sheet, number) | evenness_of(sheet, number)
            for number, lines in enumerate(sheet.lines)
        ]
        or toner_inks(sheet),
        **overprints_of(sheet),
        "toner": toner_of(sheet),
        "background": {
            "lab": None if sheet.background is None else rounded_all(sheet.background.lab, 3),
            **dirt_of(sheet),
        },
    }


def verdict_of(assessment: Assessment) -> dict[str, Any]:
    """The ``verdict`` object of a report."""
    return {
        "action": assessment.action.value,
        "reasons": [
            {
                "measure": r.measure,
                "ink": r.ink,
                "value": rounded(r.value, 4),
                "limit": r.limit,
                "unit": r.unit,
                "action": r.action.value,
                "text": r.text,
            }
            for r in assessment.reasons
        ],
        "next_steps": list(assessment.next_steps),
        "cautions": list(assessment.cautions),
    }


def _ink(lines: LinesReading, all_dashes: bool) -> dict[str, Any]:
    return {
        "ink": lines.ink,
        "absent": lines.absent,
        "lines": {
            "rows": lines.rows,
            "missing": list(lines.missing),
            "intermittent": list(lines.intermittent),
            "advance_rows": lines.advance_rows,
            "weak": list(lines.weak),
            "displaced": _displaced(lines),
            "unreadable": list(lines.unreadable),
            "dashes": [_dash(d) for d in lines.dashes if all_dashes or d.state != "present"],
            "arrangement": lines.arrangement,
            "stride": lines.stride,
        },
    }


def _displaced(lines: LinesReading) -> list[dict[str, Any]]:
    """Each displaced row with its mean offset: over the printings that show it displaced, or else over all."""
    out = []
    for row in lines.displaced:
        known = [d for d in lines.dashes_of(row) if d.offset_mm is not None]
        shown = [d for d in known if d.state == "displaced"] or known
        offsets = [d.offset_mm for d in shown if d.offset_mm is not None]
        out.append({"row": row, "offset_mm": rounded(sum(offsets) / len(offsets), 4) if offsets else None})
    return out


def _dash(dash: DashReading) -> dict[str, Any]:
    x, y = dash.box, dash.box.centre[1]
    return {
        "row": dash.row,
        "repeat": dash.repeat,
        "x_mm": [round(x.x0, 3), round(x.x1, 3)],
        "y_mm": round(y, 4),
        "strength": rounded(dash.strength, 4),
        "strength_sd": rounded(dash.strength_sd, 4),
        "state": dash.state,
    }
