"""The tables of limits and steps as text and as data: what ``printcheck limits`` prints."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from printcheck.limits import SUBJECTS
from printcheck.verdict.policy import Policy, PolicyRow
from printcheck.verdict.steps import Steps

__all__ = ["tables_of", "tables_text"]

_BASIS_WIDTH = 52  # characters: the other columns leave so much of a wide terminal


def tables_of(policy: Policy, steps: Steps) -> dict[str, Any]:
    """Return policy, limits of reading and steps, ready for ``json.dumps``."""
    return {
        "schema": "printcheck-limits/1",
        "policy": [asdict(row) for row in policy.values()],
        "limits": [asdict(limit) | {"subject": title} for title, rows in SUBJECTS.items() for limit in rows],
        "steps": [{**asdict(step), "cautions": list(step.cautions)} for step in steps.steps.values()],
        "ladders": {defect: list(names) for defect, names in steps.ladders.items()},
    }


def tables_text(policy: Policy, steps: Steps) -> str:
    """Write the three tables for a person, ending in a newline."""
    out = ["WHEN TO TOP OFF, PURGE, REJECT OR RESCAN (a shop's own file: --policy FILE.toml)", ""]
    rows = [
        [
            row.measure,
            "any more: rescan" if row.rescan_instead_of_top_off else _passes(row),
            _over(row, row.reject),
            _over(row, row.rescan),
            row.unit,
            row.basis,
        ]
        for row in policy.values()
    ]
    out += _table(["measure", "top off", "reject", "rescan", "unit", "basis"], rows)
    out += ["", "Between the limit for top off and that for reject, the verdict is purge.", ""]
    out += ["LIMITS OF READING, AND WHAT IS ASSUMED (fixed)", ""]
    for title, limits in SUBJECTS.items():
        fixed = [[limit.name, f"{limit.value:g}", limit.unit, limit.basis] for limit in limits]
        out += [title[0].upper() + title[1:], "", *_table(["limit", "value", "unit", "basis"], fixed), ""]
    out += ["STEPS BY DEFECT, gentlest first (a shop's own file: --steps FILE.toml)", ""]
    out += _table(["defect", "steps"], [[defect, ", ".join(names)] for defect, names in steps.ladders.items()])
    return "\n".join(out) + "\n"


def _passes(row: PolicyRow) -> str:
    return f"{'under' if row.reached_is_over else 'up to'} {row.top_off:g}"


def _over(row: PolicyRow, limit: float | None) -> str:
    return "" if limit is None else f"{'from' if row.reached_is_over else 'above'} {limit:g}"


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lay out columns as wide as they must be, the last one wrapped."""
    widths = [max(len(row[k]) for row in (heads, *rows)) for k in range(len(heads) - 1)]
    out = []
    for row in (heads, ["-" * len(head) for head in heads], *rows):
        start = "  ".join(cell.ljust(width) for cell, width in zip(row[:-1], widths, strict=True))
        lines = textwrap.wrap(row[-1], _BASIS_WIDTH) or [""]
        out += [f"{start}  {lines[0]}".rstrip(), *(f"{'':{len(start) + 2}}{line}" for line in lines[1:])]
    return out
