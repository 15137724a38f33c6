"""Where everything lies on the sheet of a toner cartridge: tints and bare paper as long as the page.

What turns in a cartridge prints its faults once a turn, so nothing here is a row of nozzles: two mid-tints and three
columns of bare paper run the whole way down the middle of the page, long enough for a drum of 30 mm to come round
three times on A4 (3 x 94.2 mm). The bars at their sides hold what a toner sheet has in common with every other:
codes, marks, solids at the head and at the foot, a stepped wedge, hairlines and text.

Marks and codes lie where they lie on every sheet of the page.
"""

from __future__ import annotations

import itertools
import textwrap

from printcheck.geometry import Box
from printcheck.pattern.code import TONER_LAYOUT
from printcheck.pattern.elements import Code, Hairline, Paper, Patch, Text
from printcheck.pattern.heads import Head
from printcheck.pattern.layout import CODE_SIDE_MM, CODE_STAGGER_MM, WEDGE_TONES, Layout
from printcheck.pattern.marks import mark_side_dots, place_marks
from printcheck.pattern.pages import EDGE_MM, Page
from printcheck.units import dots_to_mm

__all__ = ["TINT_TONES", "compose_toner"]

TINT_TONES = (0.3, 0.5)

_FIELD_EDGE_MM = 6.35  # of tints and bare columns: laser printers reach within 4.2 mm, from memory
_CLEAR_MM = 2.4  # quiet zone of a mark, and bare paper between bar and column
_BAR_MM = 30.0
_COLUMN_MM = 9.0  # bare, between a bar and a tint
_PAPER_CLEAR_MM = 0.8  # bare paper counts from here on beside a tint: toner scatters about an edge
_PIECE_MM = 12.0  # of a bare column, read as one
_SOLID_MM, _STEP_MM = 18.0, 9.0
_GAP_MM = 4.0
_SMALL_MM, _LINE_MM = 2.1, 2.9  # letters, and from line to line
_ACROSS = 24  # characters across a bar
_HOW = (
    "Print at 100 %, no scaling or fitting, on plain paper, toner saving off, quality normal. Let three pages run "
    "before it. Scan flat and whole at 300 or 600 dots/inch. Do not write on the grey or the bare columns."
)
_SAMPLES = ((2.9, "Quick wizards jump"), (2.3, "over grey violets 01234"), (1.8, "and 56789 five boxes more"))
_FOOT = ("Read by printcheck:", "keep both codes and most", "squares in the picture.")


def compose_toner(head: Head, page: Page) -> Layout:
    """Lay out the sheet of a toner cartridge on `page`; every page has room for it."""
    return _Composer(head, page).compose()


class _Composer:
    """Places the bars and the columns between them, in dots; one use."""

    def __init__(self, head: Head, page: Page) -> None:
        self.head, self.page, self.raster = head, page, head.raster
        self.marks = place_marks(page, self.raster, head.paints)
        side, clear = mark_side_dots(self.raster), self.d(_CLEAR_MM)
        self.edge = -(-int(EDGE_MM * self.raster * 1000 / 25.4) // 1000)
        self.left = self.edge + side + clear
        self.right = int((page.width_mm - EDGE_MM) * self.raster / 25.4) - side - clear
        self.foot = self.edge + self.d(CODE_STAGGER_MM[page.name])
        self.patches: list[Patch] = []
        self.papers: list[Paper] = []
        self.hairlines: list[Hairline] = []
        self.texts: list[Text] = []

    def d(self, mm: float) -> int:
        """Whole dots nearest to `mm`."""
        return round(mm * self.raster / 25.4)

    def mm(self, dots: int) -> float:
        return dots_to_mm(dots, self.raster)

    def box(self, x0: int, y0: int, x1: int, y1: int) -> Box:
        return Box(*(self.mm(v) for v in (x0, y0, x1, y1)))

    def compose(self) -> Layout:
        code, bar, gap = self.d(CODE_SIDE_MM), self.d(_BAR_MM), self.d(_GAP_MM)
        codes = (
            Code(self.box(self.right - code, self.edge, self.right, self.edge + code), ("K",)),
            Code(self.box(self.left, self.foot, self.left + code, self.foot + code), ("K",)),
        )
        x1 = self.right - bar
        top, low = self.edge + code + gap + self.d(1.0), self.foot - gap - self.d(_SOLID_MM)
        for x in (self.left, x1):
            self.place_solid(x, top, "solid, head")
            self.place_solid(x, low, "solid, foot")
        self.place_columns(self.left + bar, x1)
        self.place_title()
        below = top + self.d(_SOLID_MM) + gap + self.d(1.0)
        y = self.place_wedge(self.left, below) + gap
        y = self.place_hairlines(self.left, y) + gap
        self.place_lines(self.left, y, *((size, line) for size, line in _SAMPLES))
        inner = x1 + self.d(_CLEAR_MM)
        ticket = self.box(inner, below, self.right, below + self.d(18.0))
        how = [(_SMALL_MM, line) for line in textwrap.wrap(_HOW, _ACROSS)]
        self.place_lines(inner, below + self.d(24.0), *how)
        self.place_lines(self.left, self.foot + code + self.d(2.0), *((_SMALL_MM, line) for line in _FOOT))
        return Layout(
            TONER_LAYOUT,
            self.head,
            self.page,
            self.raster,
            self.mm(round(self.page.width_mm * self.raster / 25.4)),
            self.mm(round(self.page.height_mm * self.raster / 25.4)),
            self.marks,
            codes,
            (),
            tuple(self.patches),
            tuple(self.papers),
            tuple(self.hairlines),
            tuple(self.texts),
            ticket,
        )

    def place_columns(self, x0: int, x1: int) -> None:
        """Place bare paper, tint, bare paper with the middle marks at its ends, tint, bare paper."""
        column, clear = self.d(_COLUMN_MM), self.d(_CLEAR_MM)
        first = -(-int(_FIELD_EDGE_MM * self.raster * 1000 / 25.4) // 1000)
        last = int((self.page.height_mm - _FIELD_EDGE_MM) * self.raster / 25.4)
        upper, lower = self.marks[-2].box, self.marks[-1].box
        middle = (round(upper.x0 * self.raster / 25.4) - clear, round(upper.x1 * self.raster / 25.4) + clear)
        for tone, (a, b) in zip(TINT_TONES, ((x0 + column, middle[0]), (middle[1], x1 - column)), strict=True):
            self.patches.append(Patch("tint", ("K",), tone, self.box(a, first, b, last)))
        tall = round(upper.y1 * self.raster / 25.4) + clear, round(lower.y0 * self.raster / 25.4) - clear
        spans = ((x0, x0 + column, first, last), (*middle, *tall), (x1 - column, x1, first, last))
        inset = self.d(_PAPER_CLEAR_MM)
        for number, (a, b, top, bottom) in enumerate(spans):
            pieces = max(1, round((bottom - top) / self.d(_PIECE_MM)))
            edges = [top + (bottom - top) * k // pieces for k in range(pieces + 1)]
            self.papers += [
                Paper(f"column-{number}", self.box(a + inset, y0, b - inset, y1))
                for y0, y1 in itertools.pairwise(edges)
            ]

    def place_solid(self, x: int, y: int, label: str) -> None:
        end = x + self.d(_BAR_MM) - self.d(_CLEAR_MM) if x == self.left else self.right
        start = x if x == self.left else x + self.d(_CLEAR_MM)
        self.patches.append(Patch("solid", ("K",), 1.0, self.box(start, y, end, y + self.d(_SOLID_MM))))
        self.texts.append(Text(self.mm(start), self.mm(y) - 0.8, 1.9, label))

    def place_wedge(self, x: int, y: int) -> int:
        """Place the stepped wedge, light to solid; steps touch, so a missing step can't be missed."""
        end, step = x + self.d(_BAR_MM) - self.d(_CLEAR_MM), self.d(_STEP_MM)
        self.texts.append(Text(self.mm(x), self.mm(y) - 0.8, 1.9, "steps, 10 to 100 %"))
        for number, tone in enumerate(WEDGE_TONES):
            top = y + number * step
            self.patches.append(Patch("wedge", ("K",), tone, self.box(x, top, end, top + step)))
        return y + len(WEDGE_TONES) * step

    def place_hairlines(self, x: int, y: int) -> int:
        """Place hairlines in both directions, one, two and three dots wide at 600 dots/inch."""
        dot = max(1, round(self.raster / 600))
        for k, thick in enumerate((1, 2, 3)):
            at = y + self.d(1.0) + k * self.d(2.6)
            self.hairlines.append(Hairline(("K",), "x", self.box(x, at, x + self.d(13.0), at + thick * dot)))
            across = x + self.d(16.0) + k * self.d(2.6)
            self.hairlines.append(Hairline(("K",), "y", self.box(across, y, across + thick * dot, y + self.d(8.0))))
        return y + self.d(8.0)

    def place_lines(self, x: int, y: int, *lines: tuple[float, str]) -> None:
        """Place lines of text, each of its own size, from `y` down."""
        at = self.mm(y)
        for size, line in lines:
            at += max(_LINE_MM, 1.4 * size)
            self.texts.append(Text(self.mm(x), at, size, line))

    def place_title(self) -> None:
        x, y = self.mm(self.left), self.mm(self.edge)
        self.texts.append(Text(x, y + 3.4, 4.0, "Toner sheet", bold=True))
        said = textwrap.wrap(self.head.title, _ACROSS)[:3]
        for k, line in enumerate([*said, f"{self.head.name}, {self.page.name}"]):
            self.texts.append(Text(x, y + 8.2 + _LINE_MM * k, _SMALL_MM, line))
