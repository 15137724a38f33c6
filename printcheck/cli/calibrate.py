"""``printcheck calibrate``: teach a scanner's colours by a sheet that somebody has measured."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.cli.options import MaxMegapixels

__all__ = ["calibrate"]


def calibrate(
    capture: Annotated[
        Path, typer.Argument(help="Scan of a test sheet or colour chart.", show_default=False)
    ],
    values: Annotated[
        Path,
        typer.Option("--values", metavar="FILE", help="Its measured colours, as CGATS.17 text.", show_default=False),
    ],
    name: Annotated[str, typer.Option("--name", metavar="NAME", help="What to call it.")] = "scanner",
    grid: Annotated[
        str | None,
        typer.Option("--grid", metavar="ROWSxCOLUMNS", help="How a chart's numbered patches lie."),
    ] = None,
    corners: Annotated[
        str | None,
        typer.Option(
            "--corners", metavar="'X,Y X,Y X,Y X,Y'", show_default=False,
            help="Centres of a chart's corner patches, in pixels, going round; without them it is looked for.",
        ),
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Replace a calibration of that name even if it is better.")
    ] = False,
    max_megapixels: MaxMegapixels = DEFAULT_MAX_MEGAPIXELS,
) -> None:  # fmt: skip
    """Fit a scanner's light to measured colours, and keep the fit with its own error.

    A test sheet's samples are named paper, solid C, tint C, wedge C 30, overprint CM and so on; a chart's by row and
    column (A1) or by number. The fit is used by score --calibration NAME, for scans of the same device and colour
    profile only.

    Example: printcheck calibrate original.png --values measured.txt --name office
    """
    from printcheck.calibrate import calibrate_by, calibration_file, keep_calibration, parse_corners
    from printcheck.colour.chart import parse_grid
    from printcheck.colour.plausible import named
    from printcheck.places import keep_apart

    keep_apart({"the calibration": calibration_file(name)}, {"the scan": capture, "--values": values})
    fit = calibrate_by(
        capture, values, grid=None if grid is None else parse_grid(grid),
        corners=None if corners is None else parse_corners(corners), max_megapixels=max_megapixels,
    )  # fmt: skip
    old = keep_calibration(name, fit, replace_better=replace)
    lost = f"; left out as lighter than the scan can show: {named(fit.clipped)}" if fit.clipped else ""
    before = "" if old is None else f"; it replaces one of {old.delta_e00:.2f}"
    typer.echo(
        f"kept '{name}': {len(fit.fitted)} patches, polynomial of degree {fit.degree}, "
        f"median error on patches left out {fit.delta_e00:.2f} deltaE00{lost}{before}"
    )
