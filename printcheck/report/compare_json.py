"""The comparison of two sheets as JSON, field by field as the published contract has it."""

from __future__ import annotations

from typing import Any

from printcheck.document import ScoredSheet
from printcheck.report.json import report_of, verdict_of
from printcheck.report.toner_json import toner_of
from printcheck.verdict.compare import Comparison, InkComparison

__all__ = ["COMPARISON_SCHEMA", "comparison_of"]

COMPARISON_SCHEMA = "printcheck-comparison/1"


def comparison_of(comparison: Comparison) -> dict[str, Any]:
    """Return the comparison, ready for ``json.dumps``; what either sheet can't give is none."""
    before, after = (_by_ink(sheet) for sheet in (comparison.before, comparison.after))
    test = comparison.test
    return {
        "schema": COMPARISON_SCHEMA,
        "before": _sheet(comparison.before),
        "after": _sheet(comparison.after),
        "inks": [_ink(ink, before.get(ink.ink, {}), after.get(ink.ink, {})) for ink in comparison.inks],
        "toner": _toner(comparison),
        "outcome": comparison.outcome.value,
        "told": comparison.told,
        "reasons": list(comparison.reasons),
        "test": None
        if test is None
        else {
            "name": "exact binomial" if test.by_counts else "McNemar exact",
            "states": test.states,
            "recovered": test.recovered,
            "lost": test.lost,
            "p_value": test.p_value,
        },
        "verdict": verdict_of(comparison.assessment),
    }


def _toner(comparison: Comparison) -> dict[str, Any] | None:
    """The ``toner`` objects of both reports; null for ink sheets."""
    if comparison.before.toner is None or comparison.after.toner is None:
        return None
    return {"before": toner_of(comparison.before), "after": toner_of(comparison.after)}


def _sheet(sheet: ScoredSheet) -> dict[str, Any]:
    report = report_of(sheet)
    return {name: report[name] for name in ("image", "sheet", "verdict")}


def _by_ink(sheet: ScoredSheet) -> dict[str, dict[str, Any]]:
    return {ink["ink"]: ink for ink in report_of(sheet)["inks"] or ()}


def _ink(ink: InkComparison, before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    out: dict[str, Any] = {
        "ink": ink.ink,
        "recovered": _rows(ink.recovered),
        "still_missing": _rows(ink.still_missing),
        "newly_missing": _rows(ink.newly_missing),
        "not_compared": _rows(ink.unread),
        "missing_not_read_before": _rows(ink.missing_unread_before),
        "shift_rows": ink.shift_rows,
        "missing_before": None if ink.counts is None else ink.counts[0],
        "missing_after": None if ink.counts is None else ink.counts[1],
    }
    for when, report in (("before", before), ("after", after)):
        out[f"delta_e00_{when}"] = (report.get("solid") or {}).get("delta_e00")
        out[f"contamination_{when}"] = report.get("contamination")
        out[f"banding_{when}"] = report.get("banding")
    return out


def _rows(rows: tuple[int, ...] | None) -> list[int] | None:
    return None if rows is None else list(rows)
