"""A sheet as PDF (ISO 32000-1): vectors and embedded text, every edge on the sheet's dot grid.

Everything but text is drawn in a coordinate system whose unit is one dot, y down, each rectangle painted by
itself and made smaller by `INSET_DOTS` on every side. A rasteriser fills every pixel an area touches (ISO 32000-1,
10.6.5), so an edge exactly on a pixel boundary paints a row too many wherever the transform's rounding lifts it
over: with no inset both renderers of tests/pattern/test_render.py do so, at the sheet's own resolution or at
twice that. With it each area stays inside its own dots, and every one of them is filled. A renderer that smooths
edges loses 0.4 % of a one-dot dash, one level of an 8-bit picture.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from printcheck.geometry import Box
from printcheck.pattern.inks import paint_cmyk, paint_rgb
from printcheck.pattern.marks import dark_modules
from printcheck.pattern.render.raster import font_path
from printcheck.pattern.sheet import Sheet
from printcheck.units import mm_to_dots

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

__all__ = ["INSET_DOTS", "merged_modules", "pdf_bytes"]

INSET_DOTS = 0.002  # four times the rounding of a single-precision coordinate at 8000 dots
_BOX_SHY_PT = 1e-4  # page box short of the last dot's edge: renderers that round a size up must not add a dot
_POINTS_PER_INCH = 72
_FONTS = {False: "Vera", True: "VeraBd"}


def pdf_bytes(sheet: Sheet, colour: str = "rgb") -> bytes:
    """Encode `sheet` as a one-page PDF.

    Parameters
    ----------
    sheet : Sheet
    colour : {"rgb", "cmyk"}
        Whether paints are asked for as DeviceRGB primaries, which desktop drivers take, or as DeviceCMYK. A toner
        sheet is DeviceGray in place of DeviceRGB.

    Returns
    -------
    bytes
        The same for the same arguments: no time stamp, no random identifier.
    """
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    layout = sheet.layout
    for bold, name in _FONTS.items():
        pdfmetrics.registerFont(TTFont(name, str(font_path(bold))))
    scale = _POINTS_PER_INCH / layout.raster
    width, height = (mm_to_dots(v, layout.raster) * scale - _BOX_SHY_PT for v in (layout.width_mm, layout.height_mm))
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(width, height), invariant=1, pageCompression=1, initialFontName=_FONTS[False])
    canvas.setTitle(f"Cartridge test sheet {layout.head.name} {layout.page.name}")
    canvas.setAuthor("")
    canvas.setSubject(f"layout {layout.version}")
    canvas.setCreator("printcheck")
    canvas.setViewerPreference("PrintScaling", "None")  # print dialogues then start at 100 %
    # a laser printer's driver halftones grey; asked for as RGB it may mix it from what a colour printer holds
    painter = _Painter(canvas, layout.raster, "grey" if layout.head.toner and colour == "rgb" else colour)
    canvas.saveState()
    canvas.transform(scale, 0, 0, -scale, 0, height)
    _draw_shapes(painter, sheet)
    canvas.restoreState()
    painter.use(layout.head.text)
    for text in sheet.texts:
        canvas.setFont(_FONTS[text.bold], text.size_mm * _POINTS_PER_INCH / 25.4)
        canvas.drawString(text.x * _POINTS_PER_INCH / 25.4, height - text.y * _POINTS_PER_INCH / 25.4, text.text)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def merged_modules(dark: Sequence[Sequence[bool]]) -> list[tuple[int, int, int, int]]:
    """Dark modules as few rectangles ``(x0, y0, x1, y1)`` in modules, none overlapping.

    Runs along a row, grown downwards while the next row repeats them: fewer inner edges, where a renderer
    that smooths would leave a seam.
    """
    done: list[tuple[int, int, int, int]] = []
    growing: dict[tuple[int, int], int] = {}
    for y, row in enumerate([*dark, []]):
        runs = set(_runs(row))
        for (x0, x1), top in list(growing.items()):
            if (x0, x1) not in runs:
                done.append((x0, top, x1, y))
                del growing[x0, x1]
        for run in runs:
            growing.setdefault(run, y)
    return sorted(done, key=lambda r: (r[1], r[0]))


def _runs(row: Iterable[bool]) -> Iterable[tuple[int, int]]:
    start = None
    x = -1
    for x, module in enumerate(row):
        if module and start is None:
            start = x
        elif not module and start is not None:
            yield start, x
            start = None
    if start is not None:
        yield start, x + 1


class _Painter:
    """Fills rectangles of whole dots; sets a colour only where it changes."""

    def __init__(self, canvas: Canvas, raster: int, colour: str) -> None:
        self.canvas, self.raster, self.colour = canvas, raster, colour

    def use(self, inks: tuple[str, ...], tones: tuple[float, ...] = ()) -> None:
        if self.colour == "cmyk":
            self.canvas.setFillColorCMYK(*paint_cmyk(inks, tones))
        elif self.colour == "grey":
            self.canvas.setFillGray(1.0 - (tones or (1.0,))[0])
        else:
            self.canvas.setFillColorRGB(*(v / 255 for v in paint_rgb(inks, tones)))

    def dots(self, box: Box) -> tuple[int, int, int, int]:
        x0, y0, x1, y1 = (mm_to_dots(v, self.raster) for v in (box.x0, box.y0, box.x1, box.y1))
        return x0, y0, x1, y1

    def fill(self, x0: int, y0: int, x1: int, y1: int) -> None:
        # one painting operator each: in a path of many, renderers smooth or merge edges by other rules
        i = INSET_DOTS
        self.canvas._code.append(f"{x0 + i:.3f} {y0 + i:.3f} {x1 - x0 - 2 * i:.3f} {y1 - y0 - 2 * i:.3f} re f")

    def fill_box(self, box: Box) -> None:
        self.fill(*self.dots(box))

    def stamp(self, box: Box, dark: Sequence[Sequence[bool]]) -> None:
        """Fill `box` with a matrix of square modules."""
        left, top, right, _ = self.dots(box)
        module = (right - left) // len(dark)
        for x0, y0, x1, y1 in merged_modules(dark):
            self.fill(left + x0 * module, top + y0 * module, left + x1 * module, top + y1 * module)


def _draw_shapes(painter: _Painter, sheet: Sheet) -> None:
    layout = sheet.layout
    for ladder in layout.ladders:
        painter.use((ladder.ink,))
        for row in range(ladder.rows):
            painter.fill_box(ladder.dash(row))
    for patch in layout.patches:
        painter.use(*patch.paint)
        painter.fill_box(patch.box)
    for line in layout.hairlines:
        painter.use(line.inks)
        painter.fill_box(line.box)
    for mark in layout.marks:
        painter.use(mark.inks)
        painter.stamp(mark.box, dark_modules(mark.number))
    for code in layout.codes:
        painter.use(code.inks)
        painter.stamp(code.box, sheet.code)
