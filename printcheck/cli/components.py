"""``printcheck components``: an example of a shop's table of turning parts, to be filled in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.aside import write_aside
from printcheck.cli.output import shown

__all__ = ["components"]


def components(
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE.toml", help="File to write; standard output by default.")
    ] = None,
) -> None:
    """Print an example of a table of a toner cartridge's turning parts, to be filled in with your own figures.

    Example: printcheck components --out our-cartridge.toml
    """
    from printcheck.measure.components import example_components

    text = example_components()
    if out is None:
        typer.echo(text, nl=False)
    else:
        write_aside(out, text.encode())
        typer.echo(f"{shown(out)}: an example; put your own measured figures in it", err=True)
