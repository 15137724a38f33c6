"""``printcheck demo``: the whole job in one command, without a printer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["demo"]

_HEAD = "tri-192"
_DOTS_PER_INCH = 300


def demo(
    folder: Annotated[Path, typer.Argument(help="Folder to write the pictures to.")] = Path("printcheck-demo"),
    seed: Annotated[int, typer.Option(min=0, max=999_999_999, help="Another number, another cartridge.")] = 7,
) -> None:
    """Make a sheet, simulate its print by a faulty cartridge and a scan of it, score the scan and mark it.

    All of it is invented: the cartridge, its faults, the printer and the scanner.

    Example: printcheck demo
    """
    from printcheck.aside import write_aside
    from printcheck.cli.output import make_folder, shown
    from printcheck.errors import PrintcheckError
    from printcheck.pattern.heads import load_head
    from printcheck.pattern.layout import build_layout
    from printcheck.pattern.pages import page_named
    from printcheck.pattern.render import write_sheet
    from printcheck.pattern.sheet import make_sheet
    from printcheck.pipeline import score_image
    from printcheck.places import keep_apart
    from printcheck.report.annotate import marked_png
    from printcheck.report.text import text_of
    from printcheck.simulate.scenario import random_scan

    written = {"the sheet": folder / "sheet.pdf", "the scan": folder / "scan.jpg", "the marks": folder / "marked.png"}
    keep_apart(written)
    there = [path for path in written.values() if path.exists()]
    if len(there) == len(written):
        typer.echo(f"{shown(folder)} holds an earlier demo, which is replaced", err=True)
    elif there:
        raise PrintcheckError(f"{there[0]} is there already and would be replaced; name another folder for the demo")
    make_folder(folder)
    steps = typer.progressbar(length=4, label="simulating", show_eta=False)
    with steps as bar:
        sheet = make_sheet(build_layout(load_head(_HEAD), page_named("A4")), f"DEMO-{seed}")
        write_sheet(sheet, folder / "sheet.pdf")
        bar.update(1)
        capture = random_scan(
            seed, head=_HEAD, page="A4", dots_per_inch=_DOTS_PER_INCH, ticket=f"DEMO-{seed}", clean=False,
            encoding="jpeg", quarter_turns=0,
        )  # fmt: skip
        scan = folder / "scan.jpg"
        write_aside(scan, capture.encoded())
        bar.update(1)
        scored = score_image(scan)
        bar.update(1)
        write_aside(folder / "marked.png", marked_png(scored))
        bar.update(1)
    typer.echo(text_of(scored.sheet))
    typer.echo("Simulated, nothing of it is real. Look at:")
    typer.echo(f"  {shown(folder / 'sheet.pdf')}   the sheet to print")
    typer.echo(f"  {shown(scan)}    a scan of its print")
    typer.echo(f"  {shown(folder / 'marked.png')}  the same with every finding marked")
