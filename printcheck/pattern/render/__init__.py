"""Drawing a sheet. Each module draws one format and knows nothing of what the elements mean.

A new format is one module and one entry of `WRITERS`. The modules load on use: the drawing libraries take longer
to import than a command line takes to parse.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from printcheck.aside import write_aside
from printcheck.errors import PatternError
from printcheck.pattern.sheet import Sheet

__all__ = ["COLOURS", "WRITERS", "write_sheet"]

COLOURS = ("rgb", "cmyk")


def _pdf(sheet: Sheet, colour: str) -> bytes:
    from printcheck.pattern.render.pdf import pdf_bytes

    return pdf_bytes(sheet, colour)


def _png(sheet: Sheet, colour: str) -> bytes:
    from printcheck.pattern.render.png import png_bytes

    if colour != "rgb":
        raise PatternError(f"a PNG holds RGB only, not {colour}; write a .pdf for {colour}, or leave --colour out")
    return png_bytes(sheet)


WRITERS: dict[str, Callable[[Sheet, str], bytes]] = {".pdf": _pdf, ".png": _png}
"""File ending to the function that encodes a sheet in a colour model, one of `COLOURS`."""


def write_sheet(sheet: Sheet, path: str | Path, colour: str = "rgb") -> None:
    """Write `sheet` to `path` in the format its ending names.

    Parameters
    ----------
    sheet : Sheet
    path : str or Path
        Ends in one of `WRITERS`, in any case. Written aside, then renamed: never half a file.
    colour : {"rgb", "cmyk"}
        ``"cmyk"`` is for PDF only.

    Raises
    ------
    PatternError
        Unknown ending or colour, or a colour the format can't hold.
    OutputError
        The file can't be written.
    """
    path = Path(path)
    writer = WRITERS.get(path.suffix.lower())
    if writer is None:
        raise PatternError(f"'{path}' names no format a sheet can be written in; end it in {' or '.join(WRITERS)}")
    if colour not in COLOURS:
        raise PatternError(f"colour '{colour}' is not known; use {' or '.join(COLOURS)}")
    write_aside(path, writer(sheet, colour))
