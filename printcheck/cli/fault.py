"""A fault of the program itself: one line for the bench, the traceback in a file for whoever mends it."""

from __future__ import annotations

import traceback
from pathlib import Path

__all__ = ["told_fault"]


def told_fault(error: Exception) -> str:
    """Keep the traceback of `error` in the user's log folder, over an earlier one, and say so in one line."""
    last = traceback.extract_tb(error.__traceback__)[-1:]
    where = "".join(f" in {Path(frame.filename).name}, line {frame.lineno}" for frame in last)
    said = f"a fault of the program, not of your input: {type(error).__name__}{where}"
    try:
        from platformdirs import user_log_path

        kept = user_log_path("printcheck", appauthor=False, ensure_exists=True) / "fault.txt"
        kept.write_text("".join(traceback.format_exception(error)), encoding="utf-8")
    except OSError:  # nowhere to keep it: the line alone has to do
        return f"{said}; please report it with the picture"
    return f"{said}; please report it with the picture and {kept}"
