"""``printcheck pattern``: writes a fresh sheet."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer

from printcheck.cli.output import shown
from printcheck.errors import PatternError

__all__ = ["pattern"]


def pattern(
    head: Annotated[str, typer.Argument(help="A head kind (see patterns/), the path of its .toml file, or strip.")],
    page: Annotated[str, typer.Option(help="Paper: A4 or Letter.")] = "A4",
    out: Annotated[
        Path | None, typer.Option(help="File to write, .pdf (vector) or .png (600 or 720 dots/inch).", metavar="FILE")
    ] = None,
    ticket: Annotated[str, typer.Option(help="Job number to print on the sheet and into its codes.")] = "",
    colour: Annotated[
        str, typer.Option(help="rgb, which desktop drivers take, or cmyk (PDF only).", metavar="rgb|cmyk")
    ] = "rgb",
) -> None:
    """Write a fresh test sheet for one kind of print head, or with "strip" a page of control strips for photos.

    Example: printcheck pattern tri-192 --page Letter --ticket T-1042 --out sheet.pdf
    """
    from printcheck.pattern.heads import load_head
    from printcheck.pattern.layout import build_layout
    from printcheck.pattern.pages import page_named
    from printcheck.pattern.render import write_sheet
    from printcheck.pattern.sheet import make_sheet
    from printcheck.places import keep_apart

    if head == "strip":
        _control_strips(page, out, ticket, colour)
        return
    keep_apart({"--out": out}, {"the head file": Path(head)})
    layout = build_layout(load_head(head), page_named(page))
    if out is None:
        name = f"{layout.head.name}-{layout.page.name}.pdf"
        raise PatternError(f"no file to write was named; add for example --out {name}")
    write_sheet(make_sheet(layout, ticket), out, colour)
    typer.echo(
        f"{shown(out)}: {layout.head.title}, {layout.page.name}. Print at 100 % on plain paper, "
        f"{'' if layout.head.toner else 'let it dry, '}scan, then: printcheck score SCAN",
        err=True,
    )


def _file_name(ticket: str) -> str:
    """A name for a file that needs no folder and no quotes."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", ticket).strip("-.") or "strips"


def _control_strips(page: str, out: Path | None, ticket: str, colour: str) -> None:
    """Write a page of control strips. Without a ticket they get a name of their own, so that no two are mixed up."""
    from secrets import choice

    from printcheck.pattern.control_strip import control_strip_page, make_control_strips
    from printcheck.pattern.pages import page_named
    from printcheck.pattern.render import write_sheet

    layout = control_strip_page(page_named(page))
    if out is None:
        raise PatternError("no file to write was named; add for example --out strip.pdf")
    name = ticket.strip() or "".join(choice("ACDEFHJKLMNPRTUVWXY34679") for _ in range(6))
    write_sheet(make_control_strips(layout, name), out, colour)
    typer.echo(
        f"{shown(out)}: control strips {name}/A and {name}/B, {page_named(page).name}. Print once at 100 % from a "
        "known-good printer, let it dry for a day, then: printcheck strip read SCAN --calibration NAME "
        f"--out {_file_name(name)}.toml",
        err=True,
    )
