"""``printcheck calibrate``: teach a scanner's colours by a sheet that somebody has measured."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.cli.options import MaxMegapixels

__all__ = ["calibrate"]


def calibrate(
    capture: Annotated[
        Path, typer.Argument(help="Scan of a test sheet, as sheets will be scanned.", show_default=False)
    ],
    values: Annotated[
        Path,
        typer.Option("--values", metavar="FILE", help="Its measured colours, as CGATS.17 text.", show_default=False),
    ],
    name: Annotated[str, typer.Option("--name", metavar="NAME", help="What to call it.")] = "scanner",
    max_megapixels: MaxMegapixels = 200.0,
) -> None:
    """Fit a scanner's light to measured colours, and keep the fit with its own error.

    Samples are named paper, solid C, tint C, wedge C 30, overprint CM and so on. The fit is used by score
    --calibration NAME, for scans with the same colour profile only.

    Example: printcheck calibrate original.png --values measured.txt --name office
    """
    from printcheck.calibrate import calibrate_by, save_calibration

    fit = calibrate_by(capture, values, max_megapixels=max_megapixels)
    save_calibration(name, fit)
    typer.echo(
        f"kept '{name}': {len(fit.fitted)} patches, polynomial of degree {fit.degree}, "
        f"median error on patches left out {fit.delta_e00:.2f} deltaE00"
    )
