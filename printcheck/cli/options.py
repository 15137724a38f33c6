"""Options that several commands share, each written once."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from printcheck.errors import PrintcheckError

if TYPE_CHECKING:
    from printcheck.ledger.entry import Notes
    from printcheck.weights import Weighing

__all__ = [
    "Calibration", "Cartridge", "Cleaning", "Cleanings", "Components", "ControlStrip", "Csv", "InkLot", "Json",
    "LedgerPlace", "MaxMegapixels", "Operator", "Policy", "Printer", "Reference", "Steps", "Tried", "Weight",
    "Weights", "notes_of", "said", "weighing_of",
]  # fmt: skip


def _unless_blank(text: str | None) -> str | None:
    return text if text and text.strip() else None


Json = Annotated[
    Path | None, typer.Option("--json", metavar="FILE|-", help="Write it as JSON; - for standard output.")
]
Csv = Annotated[Path | None, typer.Option("--csv", metavar="FILE|-", help="Write it as CSV; - for standard output.")]
Policy = Annotated[
    Path | None,
    typer.Option(
        "--policy", metavar="FILE.toml", help="The shop's own limits; what it does not name stays as shipped."
    ),
]
Steps = Annotated[
    Path | None,
    typer.Option(
        "--steps", metavar="FILE.toml", help="The shop's own steps; what it does not name stays as shipped."
    ),
]
Components = Annotated[
    Path | None,
    typer.Option("--components", metavar="FILE.toml", help="The shop's table of a toner cartridge's turning parts."),
]
Calibration = Annotated[
    str | None,
    typer.Option("--calibration", metavar="NAME", help="Calibration of the scanner; see printcheck calibrate."),
]
ControlStrip = Annotated[
    Path | None,
    typer.Option("--strip", metavar="FILE.toml", help="Values of the control strip beside the sheet in a photo."),
]
Reference = Annotated[
    str | None,
    typer.Option("--reference", metavar="NAME", help="House reference to judge colour by; see printcheck reference."),
]
MaxMegapixels = Annotated[float, typer.Option("--max-megapixels", help="Refuse larger pictures.", min=0.1)]
LedgerPlace = Annotated[
    str | None,
    typer.Option(
        "--ledger",
        metavar="FILE|URL",
        envvar="PRINTCHECK_LEDGER",
        callback=_unless_blank,
        help="The ledger: a SQLite file, or postgresql://... (extra 'postgres'); the user's own by default.",
    ),
]
Cartridge = Annotated[str | None, typer.Option("--cartridge", metavar="NAME", help="Cartridge kind.")]
InkLot = Annotated[str | None, typer.Option("--ink-lot", metavar="NAME", help="Lot of the ink it was filled with.")]
Printer = Annotated[str | None, typer.Option("--printer", metavar="NAME", help="Printer the sheet came from.")]
Operator = Annotated[str | None, typer.Option("--operator", metavar="INITIALS", help="Who is at the bench.")]
Cleaning = Annotated[
    list[str] | None,
    typer.Option(
        "--cleaning",
        metavar="STEP",
        help="Step done just before this sheet (repeat for several); printcheck limits names them.",
    ),
]
Cleanings = Annotated[
    int | None,
    typer.Option("--cleanings", min=0, metavar="N", help="How often it was cleaned; else the ledger says."),
]
Tried = Annotated[
    list[str] | None,
    typer.Option("--tried", metavar="STEP", help="Step done on this cartridge before, not to be proposed again."),
]
Weight = Annotated[float | None, typer.Option("--weight", metavar="GRAMS", help="Weight of the cartridge now.")]
Weights = Annotated[
    Path | None, typer.Option("--weights", metavar="FILE.toml", help="The shop's table of full and empty weights.")
]


def notes_of(
    cartridge: str | None,
    ink_lot: str | None,
    printer: str | None,
    operator: str | None,
    cleaning: list[str] | None,
    weight_g: float | None = None,
) -> Notes:
    """Gather what was noted; blanks count as not said."""
    from printcheck.ledger.entry import Notes

    kind, lot, device, initials = ("".join(said([text])) or None for text in (cartridge, ink_lot, printer, operator))
    return Notes(kind, lot, device, initials, "+".join(said(cleaning)) or None, weight_g)


def said(texts: Iterable[str | None] | None) -> tuple[str, ...]:
    """Return what was said, without what is blank."""
    return tuple(text.strip() for text in texts or () if text and text.strip())


def weighing_of(weight: float | None, weights: Path | None, cartridge: str | None) -> Weighing | None:
    """Look the weight up, where one was given.

    Raises
    ------
    PrintcheckError
        The table, the cartridge's name or the weight was not given, or the weight can't be right.
    """
    if weight is None:
        if weights is not None:
            raise PrintcheckError("--weights is of no use alone; add --weight GRAMS")
        return None
    if weights is None or not cartridge:
        missing = "--weights FILE.toml" if weights is None else "--cartridge NAME"
        raise PrintcheckError(f"--weight needs {missing} too")
    from printcheck.weights import load_weights, weigh

    return weigh(load_weights(weights), cartridge, weight)
