"""Writing results: JSON to a file or to standard output, and the folder they go to."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path
from typing import Any

import typer

from printcheck.aside import write_aside
from printcheck.errors import OutputError

__all__ = ["emit_json", "make_folder", "one_line"]


def emit_json(document: dict[str, Any], to: Path) -> None:
    """Write one JSON document to the file `to`, or to standard output where `to` is ``-``."""
    text = json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    if str(to) == "-":
        typer.echo(text, nl=False)
    else:
        write_aside(to, text.encode())


def one_line(text: str) -> str:
    """Return `text` with what would end or overwrite a line, as a name may hold, written out."""
    return "".join(c if unicodedata.category(c) not in ("Cc", "Zl", "Zp") else repr(c)[1:-1] for c in text)


def make_folder(path: Path) -> None:
    """Make the folder `path`, and those above it.

    Raises
    ------
    OutputError
        It can't be made.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"folder {path} can't be made: {error.strerror or error}; choose another place") from error
