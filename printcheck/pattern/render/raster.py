"""A sheet as an RGB raster, one pixel a dot of the head's raster, nothing smoothed but the text."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from printcheck.geometry import Box
from printcheck.pattern.inks import paint_rgb
from printcheck.pattern.marks import MARK_MODULES, dark_modules
from printcheck.pattern.sheet import Sheet
from printcheck.units import mm_to_dots

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["compose_rgb", "font_path"]


def font_path(bold: bool) -> Path:
    """Return the typeface of the sheet, Bitstream Vera, which ships with the PDF library: one for every format."""
    import reportlab

    return Path(reportlab.__file__).parent / "fonts" / ("VeraBd.ttf" if bold else "Vera.ttf")


def compose_rgb(sheet: Sheet) -> NDArray[np.uint8]:
    """Draw `sheet`.

    Returns
    -------
    (H, W, 3) uint8
        RGB, the whole page at ``sheet.layout.raster`` dots/inch. Every dash covers exactly its own rows.
    """
    layout = sheet.layout
    raster = layout.raster
    width, height = mm_to_dots(layout.width_mm, raster), mm_to_dots(layout.height_mm, raster)
    page = np.full((height, width, 3), 255, np.uint8)

    def fill(box: Box, rgb: tuple[int, int, int]) -> None:
        x0, y0, x1, y1 = (mm_to_dots(v, raster) for v in (box.x0, box.y0, box.x1, box.y1))
        page[y0:y1, x0:x1] = rgb

    text_rgb = paint_rgb(layout.head.text)
    for ladder in layout.ladders:
        rgb = paint_rgb((ladder.ink,))
        for row in range(ladder.rows):
            fill(ladder.dash(row), rgb)
    for patch in layout.patches:
        fill(patch.box, paint_rgb(*patch.paint))
    for line in layout.hairlines:
        fill(line.box, paint_rgb(line.inks))
    for mark in layout.marks:
        x0, y0 = mm_to_dots(mark.box.x0, raster), mm_to_dots(mark.box.y0, raster)
        module = (mm_to_dots(mark.box.x1, raster) - x0) // MARK_MODULES
        _stamp(page, x0, y0, module, np.array(dark_modules(mark.number)), paint_rgb(mark.inks))
    modules = np.array(sheet.code)
    for code in layout.codes:
        x0, y0 = mm_to_dots(code.box.x0, raster), mm_to_dots(code.box.y0, raster)
        module = (mm_to_dots(code.box.x1, raster) - x0) // len(sheet.code)
        _stamp(page, x0, y0, module, modules, paint_rgb(code.inks))
    _write_texts(page, sheet, text_rgb)
    return page


def _stamp(
    page: NDArray[np.uint8],
    x0: int,
    y0: int,
    module: int,
    dark: NDArray[np.bool_],
    rgb: tuple[int, int, int],
) -> None:
    """Paint a matrix of square modules of `module` dots with its top-left corner at (x0, y0)."""
    big = np.kron(dark, np.ones((module, module), bool))
    page[y0 : y0 + big.shape[0], x0 : x0 + big.shape[1]][big] = rgb


def _write_texts(page: NDArray[np.uint8], sheet: Sheet, rgb: tuple[int, int, int]) -> None:
    """Text, hard-edged: a soft edge would be halftoned by the driver."""
    from PIL import Image, ImageDraw, ImageFont

    raster = sheet.layout.raster
    for text in sheet.texts:
        size = text.size_mm * raster / 25.4
        font = ImageFont.truetype(str(font_path(text.bold)), size)
        left, top, right, bottom = (int(v) for v in font.getbbox(text.text, anchor="ls"))
        tile = Image.new("1", (right - left + 4, bottom - top + 4), 0)
        draw = ImageDraw.Draw(tile)
        draw.fontmode = "1"
        draw.text((2 - left, 2 - top), text.text, fill=1, font=font, anchor="ls")
        x = round(text.x * raster / 25.4) + left - 2
        y = round(text.y * raster / 25.4) + top - 2
        mask = np.asarray(tile)
        page[y : y + mask.shape[0], x : x + mask.shape[1]][mask] = rgb
