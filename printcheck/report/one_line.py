"""Names as they may be shown: a file's name or a note may hold what ends a line or commands a terminal."""

from __future__ import annotations

import unicodedata

__all__ = ["one_line"]

_UNSHOWN = ("Cc", "Cs", "Zl", "Zp")  # control characters, bytes of a name that are no UTF-8, ends of lines


def one_line(text: str) -> str:
    """Return `text` with what would end, overwrite or break a line written out."""
    return "".join(c if unicodedata.category(c) not in _UNSHOWN else repr(c)[1:-1] for c in text)
