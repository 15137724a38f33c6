"""Counts in words, so that one is one."""

from __future__ import annotations

__all__ = ["counted"]


def counted(count: int, noun: str, plural: str | None = None) -> str:
    """``counted(1, "row")`` is ``"1 row"``, of 2 ``"2 rows"``; `plural` where adding an s does not make one."""
    return f"{count} {noun if count == 1 else plural or noun + 's'}"
