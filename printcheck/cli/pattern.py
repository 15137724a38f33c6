"""``printcheck pattern``: writes a fresh sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.errors import PatternError

__all__ = ["pattern"]


def pattern(
    head: Annotated[str, typer.Argument(help="Name of a head kind (see patterns/), or the path of its .toml file.")],
    page: Annotated[str, typer.Option(help="Paper: A4 or Letter.")] = "A4",
    out: Annotated[
        Path | None, typer.Option(help="File to write, .pdf (vector) or .png (600 or 720 dots/inch).", metavar="FILE")
    ] = None,
    ticket: Annotated[str, typer.Option(help="Job number to print on the sheet and into its codes.")] = "",
    colour: Annotated[
        str, typer.Option(help="rgb, which desktop drivers take, or cmyk (PDF only).", metavar="rgb|cmyk")
    ] = "rgb",
) -> None:
    """Write a fresh test sheet for one kind of print head."""
    from printcheck.pattern.heads import load_head
    from printcheck.pattern.layout import build_layout
    from printcheck.pattern.pages import page_named
    from printcheck.pattern.render import write_sheet
    from printcheck.pattern.sheet import make_sheet

    layout = build_layout(load_head(head), page_named(page))
    if out is None:
        name = f"{layout.head.name}-{layout.page.name}.pdf"
        raise PatternError(f"no file to write was named; add for example --out {name}")
    write_sheet(make_sheet(layout, ticket), out, colour)
    typer.echo(
        f"{out}: {layout.head.title}, {layout.page.name}. Print at 100 % on plain paper, let it dry, scan, "
        f"then: printcheck score SCAN",
        err=True,
    )
