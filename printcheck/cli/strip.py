"""``printcheck strip``: control strips, which give photos their colour."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.cli.options import MaxMegapixels
from printcheck.cli.output import shown

__all__ = ["strip_app"]

strip_app = typer.Typer(
    help="Read control strips, which are laid beside sheets in photos to give them their colour.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@strip_app.callback()
def _strip() -> None:
    """Read control strips, which are laid beside sheets in photos to give them their colour."""


@strip_app.command("read")
def read(
    capture: Annotated[
        Path, typer.Argument(help="Scan of a control strip, or of a page of them.", show_default=False)
    ],
    calibration: Annotated[
        str, typer.Option("--calibration", metavar="NAME", help="Calibration of the scanner.", show_default=False)
    ],
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE.toml", help="File to write the values to.", show_default=False)
    ],
    max_megapixels: MaxMegapixels = DEFAULT_MAX_MEGAPIXELS,
) -> None:
    """Read the colours of control strips on the calibrated scanner, and write them to a file.

    Print the strips first (printcheck pattern strip), and calibrate the scanner (printcheck calibrate). Photos are
    then scored with --strip FILE.toml.

    Example: printcheck strip read strips.png --calibration office --out strips.toml
    """
    from printcheck.calibrate import calibration_file, load_calibration
    from printcheck.capture.decode import read_captures
    from printcheck.colour.control_strip import save_strip_values
    from printcheck.measure.control_strip import read_strip_values
    from printcheck.places import keep_apart

    keep_apart({"--out": out}, {"the scan": capture, "the calibration": calibration_file(calibration)})
    fit = load_calibration(calibration)
    first = next(iter(read_captures(capture, max_megapixels=max_megapixels)))
    values = read_strip_values(first, fit, calibration)
    save_strip_values(values, out)
    for identity, patches in values.strips.items():
        typer.echo(f"{shown(out)}: control strip {identity}, {len(patches)} patches", err=True)
