"""Whether a row is one that this program can have written: of a damaged or edited ledger nothing may be assumed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from printcheck.ledger.toner_trend import density_trend
from printcheck.verdict.result import Action

__all__ = ["report_flaw", "row_flaw"]

_TEXTS = ("ticket", "image_path", "image_sha256")
_SAID = ("head", "page", "cartridge", "ink_lot", "printer", "operator", "cleaning")  # or not
_ACTIONS = {action.value for action in Action}


def row_flaw(data: Mapping[str, Any], findings: object) -> str | None:
    """What is wrong with a row, its report aside; none where it is sound."""
    for name in _TEXTS:
        if not isinstance(data[name], str):
            return f"its {name} is no text"
    for name in _SAID:
        if not isinstance(data[name], str | None):
            return f"its {name} is no text"
    if not _is_time(data["scored_at"]):
        return "its scored_at is no time"
    if data["action"] not in _ACTIONS:
        return f"its action is none of {', '.join(sorted(_ACTIONS))}"
    rows, weight = data["rows_missing"], data["weight_g"]
    if rows is not None and not (isinstance(rows, int) and rows >= 0):
        return "its rows_missing is no count"
    if weight is not None and not (isinstance(weight, int | float) and math.isfinite(weight)):
        return "its weight_g is no weight"
    if not isinstance(findings, list) or not all(_is_finding(finding) for finding in findings):
        return "its findings can't be read"
    return None


def report_flaw(report: object) -> str | None:
    """What is wrong with a row's report; none where all that a ledger needs of it is there."""
    if not isinstance(report, dict) or not isinstance(report.get("image"), dict):
        return "its report can't be read"
    if "verdict" not in report:
        return "no verdict"
    try:
        density_trend([report])
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError):
        return "its report can't be read"
    return None


def _is_time(text: object) -> bool:
    try:
        return isinstance(text, str) and datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _is_finding(finding: object) -> bool:
    return (
        isinstance(finding, dict)
        and isinstance(finding.get("measure"), str)
        and finding.get("action") in _ACTIONS
        and all(name in finding and isinstance(finding[name], str | None) for name in ("ink", "defect"))
    )
