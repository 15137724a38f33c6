"""Writing tables: CSV (RFC 4180) and lines, to a file or to standard output."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

import typer

from printcheck.aside import write_aside
from printcheck.errors import PrintcheckError

__all__ = ["emit_csv", "emit_lines", "is_stdout"]


def emit_csv(rows: Iterable[Sequence[object]], to: Path) -> None:
    """Write a table, names first, to the file `to`, or to standard output where `to` is ``-``."""
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    emit_lines([out.getvalue()], to)


def emit_lines(lines: Iterable[str], to: Path) -> None:
    """Write lines that end themselves to the file `to`, or to standard output where `to` is ``-``."""
    if str(to) == "-":
        for line in lines:
            typer.echo(line, nl=False)
    else:
        write_aside(to, "".join(lines).encode())


def is_stdout(*places: Path | None) -> bool:
    """Tell whether standard output is taken by a document.

    Raises
    ------
    PrintcheckError
        By two.
    """
    taken = sum(place is not None and str(place) == "-" for place in places)
    if taken > 1:
        raise PrintcheckError("standard output can take one document; name a file for the other")
    return taken == 1
