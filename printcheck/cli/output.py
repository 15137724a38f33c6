"""Writing results: JSON to a file or to standard output, files aside and then renamed."""

from __future__ import annotations

import json
import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import typer

from printcheck.errors import OutputError

__all__ = ["emit_json", "write_aside"]


def emit_json(document: dict[str, Any], to: Path) -> None:
    """Write one JSON document to the file `to`, or to standard output where `to` is ``-``."""
    text = json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    if str(to) == "-":
        typer.echo(text, nl=False)
    else:
        write_aside(to, text.encode())


def write_aside(path: Path, data: bytes) -> None:
    """Write `data` to a file beside `path` and rename it, so that no half-written result is ever seen.

    Raises
    ------
    OutputError
        The place can't be written to.
    """
    aside: str | None = None
    try:
        if path.is_dir():
            raise OutputError(f"{path} is a folder; name a file to write")
        handle, aside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        umask = os.umask(0)
        os.umask(umask)
        Path(aside).chmod(0o666 & ~umask)
        Path(aside).replace(path)
        aside = None
    except OSError as error:
        raise OutputError(f"{path} can't be written: {error.strerror or error}; choose another place") from error
    finally:
        if aside is not None:
            with suppress(OSError):
                Path(aside).unlink()
