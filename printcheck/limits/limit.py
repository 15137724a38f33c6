"""One row of the table of limits."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Limit"]


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit: `value` in `unit` (empty for a ratio or a count), and the `basis` for it."""

    name: str
    value: float
    unit: str
    basis: str
