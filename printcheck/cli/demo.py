"""``printcheck demo``: the whole job in one command, without a printer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["demo"]


def demo(
    folder: Annotated[Path, typer.Argument(help="Folder to write the pictures to.")] = Path("printcheck-demo"),
    seed: Annotated[int, typer.Option(help="Another number, another cartridge.")] = 7,
) -> None:
    """Make a sheet, simulate its print by a faulty cartridge and a scan of it, score the scan and mark it.

    Example: printcheck demo
    """
    raise NotImplementedError
