"""The policy table: read from TOML, checked, printable."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from printcheck.errors import PrintcheckError
from printcheck.parse import load_toml

__all__ = ["Policy", "PolicyRow", "load_policy"]


@dataclass(frozen=True, slots=True)
class PolicyRow:
    """Limits of one measure; none where that verdict does not follow from it.

    `defect` names the ladder of steps that answers it; missing lines take the one of their arrangement. With
    `reached_is_over` a limit is over once it is reached: so many are allowed, and done.
    """

    measure: str
    title: str
    unit: str
    top_off: float
    reject: float | None
    rescan: float | None
    rescan_instead_of_top_off: bool
    basis: str
    defect: str | None = None
    reached_is_over: bool = False

    def over(self, value: float, limit: float) -> bool:
        """Whether `value` is over one of the row's limits."""
        return value > limit or (self.reached_is_over and value == limit)


Policy = dict[str, PolicyRow]

_NUMBERS, _TEXTS, _SWITCHES = (
    ("top_off", "reject", "rescan"),
    ("title", "unit", "basis", "defect"),
    ("rescan_instead_of_top_off", "reached_is_over"),
)
_KEYS = {*_NUMBERS, *_TEXTS, *_SWITCHES}


@lru_cache(maxsize=8)
def load_policy(own: Path | None = None) -> Policy:
    """Load the shipped policy, with the values of the shop's `own` file in place of its own.

    Raises
    ------
    PrintcheckError
        The file can't be read, names a measure or key that is not in the table, or gives a key what it can't be.
    """
    shipped = tomllib.loads((Path(__file__).parent / "policy.toml").read_text(encoding="utf-8"))
    if own is not None:
        _merge(shipped, load_toml(own, "policy"), own)
    return {
        name: PolicyRow(
            name,
            row["title"],
            row["unit"],
            float(row["top_off"]),
            _optional(row, "reject"),
            _optional(row, "rescan"),
            bool(row.get("rescan_instead_of_top_off", False)),
            row["basis"],
            row.get("defect"),
            bool(row.get("reached_is_over", False)),
        )
        for name, row in shipped.items()
    }


def _merge(shipped: dict[str, Any], changes: dict[str, Any], own: Path) -> None:
    for name, row in changes.items():
        if name not in shipped or not isinstance(row, dict):
            raise PrintcheckError(f"policy {own}: '{name}' is no measure; known are {', '.join(shipped)}")
        below = {key for key in ("reject", "rescan") if _is_below(shipped[name], key)}  # shipped so on purpose
        for key, value in row.items():
            if key not in _KEYS:
                raise PrintcheckError(f"policy {own}: '{name}.{key}' is no key; known are {', '.join(sorted(_KEYS))}")
            if (wanted := _wanted(key, value)) is not None:
                raise PrintcheckError(f"policy {own}: '{name}.{key}' must be {wanted}")
            shipped[name][key] = value
        for key in ("reject", "rescan"):
            if key not in below and _is_below(shipped[name], key):
                raise PrintcheckError(f"policy {own}: '{name}.{key}' is below '{name}.top_off'; put one right")


def _is_below(row: dict[str, Any], key: str) -> bool:
    return key in row and bool(row[key] < row["top_off"])


def _wanted(key: str, value: object) -> str | None:
    """What `key` takes, in words; none where `value` is that."""
    if key in _NUMBERS:
        # nothing is above nan or infinity: such a limit would let every fault pass
        sound = isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < math.inf
        return None if sound else "a number, 0 or more"
    if key in _TEXTS:
        return None if isinstance(value, str) else "text"
    return None if isinstance(value, bool) else "true or false"


def _optional(row: dict[str, Any], key: str) -> float | None:
    return float(row[key]) if key in row else None
