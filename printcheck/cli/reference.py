"""``printcheck reference``: what known-good cartridges gave, to judge refills against."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.cli.options import MaxMegapixels
from printcheck.cli.output import one_line

__all__ = ["reference_app"]

reference_app = typer.Typer(
    help="Keep what a known-good cartridge gave on a printer and paper, to judge refills against.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Name = Annotated[str, typer.Option("--name", metavar="NAME", help="What to call it.", show_default=False)]


@reference_app.command("add")
def add(
    sheet: Annotated[Path, typer.Argument(help="Scan of a sheet from a known-good cartridge.", show_default=False)],
    name: Name,
    calibration: Annotated[
        str | None,
        typer.Option("--calibration", metavar="NAME", help="The scanner's, so that photos can be compared too."),
    ] = None,
    max_megapixels: MaxMegapixels = DEFAULT_MAX_MEGAPIXELS,
) -> None:
    """Keep a sheet of a known-good cartridge as a reference (an older one of this name is replaced).

    Print it on the printer and paper, and scan it on the scanner, that refills will be judged with. A sheet that is
    not sound itself is refused.

    Example: printcheck reference add original.jpg --name "office printer plain paper"
    """
    from printcheck.calibrate import calibration_file
    from printcheck.colour.house import reference_file, save_house
    from printcheck.house import reference_of
    from printcheck.places import keep_apart

    by = None if calibration is None else calibration_file(calibration)
    keep_apart({"the reference": reference_file(name)}, {"the scan": sheet, "the calibration": by})
    reference = reference_of(sheet, name, calibration=calibration, max_megapixels=max_megapixels)
    save_house(reference)
    typer.echo(f"kept '{reference.name}': {reference.head}, {reference.kind}, inks {' '.join(reference.inks)}")
    if reference.kind == "photo":  # its light is no other photo's
        typer.echo(
            f"{one_line(str(sheet))} is a photo: against it foreign ink shows only where it is much, and "
            "no colour difference is given; add a scan for both",
            err=True,
        )


@reference_app.command("list")
def list_() -> None:
    """List all references that are kept.

    Example: printcheck reference list
    """
    from printcheck.colour.house import list_house, references_folder

    found, faults = list_house()
    for fault in faults:
        typer.echo(f"printcheck: {one_line(str(fault))}", err=True)
    if not found and not faults:
        typer.echo(f"no reference is kept in {references_folder()}; see printcheck reference add")
    for reference in found:
        typer.echo(f"{reference.name}: {reference.head}, {reference.kind}, {reference.profile}")
        for ink, values in reference.inks.items():
            light, a, b = values.lab
            typer.echo(f"  {ink:<3} L* {light:5.1f}  a* {a:6.1f}  b* {b:6.1f}")


@reference_app.command("remove")
def remove(name: Annotated[str, typer.Argument(help="Its name.", show_default=False)]) -> None:
    """Delete a reference.

    Example: printcheck reference remove "office printer plain paper"
    """
    from printcheck.colour.house import remove_house

    remove_house(name)
    typer.echo(f"removed '{name}'")
