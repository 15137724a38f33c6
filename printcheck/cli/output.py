"""Writing results: JSON to a file or to standard output, and the folder they go to."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from printcheck.aside import write_aside
from printcheck.errors import OutputError, PrintcheckError
from printcheck.report.one_line import one_line

if TYPE_CHECKING:
    from printcheck.verdict.steps import Steps

__all__ = ["check_png", "emit_json", "first_step", "make_folder", "one_line", "shown"]


def emit_json(document: dict[str, Any], to: Path) -> None:
    """Write one JSON document to the file `to`, or to standard output where `to` is ``-``."""
    text = json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    if str(to) == "-":
        typer.echo(text, nl=False)
    else:
        write_aside(to, text.encode())


def shown(path: Path) -> str:
    """Return a file's name as it may be shown."""
    return one_line(str(path))


def first_step(steps: Steps, next_steps: Sequence[str], cautions: Sequence[str]) -> str:
    """Return the first of the next steps with its own cautions, on one line: no step is told without them.

    Parameters
    ----------
    steps : Steps
    next_steps, cautions : sequence of str
        Of a verdict. All its cautions are told where the step is none of `steps`, as in an entry that was noted when
        others were in force.
    """
    if not next_steps:
        return ""
    beside = steps.cautions_beside(next_steps[0], cautions)
    return one_line(" ".join([next_steps[0], *(["Take care:"] if beside else []), *beside]))


def check_png(option: str, path: Path | None) -> None:
    """Raise `PrintcheckError` where the name of a picture to write says that it is of another kind."""
    if path is not None and path.suffix.lower() not in ("", ".png"):
        raise PrintcheckError(f"{path}: {option} writes a PNG; end its name in .png")


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
