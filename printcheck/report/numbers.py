"""Numbers as the reports' JSON holds them: rounded, and never NaN or infinite, which JSON does not know."""

from __future__ import annotations

import math
from collections.abc import Iterable

__all__ = ["rounded", "rounded_all"]


def rounded(value: float | None, digits: int) -> float | None:
    """`value` to so many decimals; none for what is no finite number."""
    return None if value is None or not math.isfinite(value) else round(value, digits)


def rounded_all(values: Iterable[float] | None, digits: int) -> list[float | None] | None:
    """The same of several; none where there are none to give."""
    return None if values is None else [rounded(value, digits) for value in values]
