"""The registration marks: their bit patterns and where a page carries them.

The bits are the 50 words of the general-purpose 4 x 4 fiducial dictionary of the OpenCV library
(``cv2.aruco.DICT_4X4_50``), kept as a table so that drawing a sheet needs no image library;
tests/pattern/test_marks.py compares the table with the library. White is 1, row by row from the top left.
"""

from __future__ import annotations

from functools import lru_cache

from printcheck.geometry import Box
from printcheck.pattern.elements import Mark
from printcheck.pattern.pages import EDGE_MM, PAGES, Page
from printcheck.units import dots_to_mm

__all__ = [
    "MARK_MODULES",
    "MARK_SIDE_MM",
    "MARK_WORDS",
    "SHEET_MARKS",
    "SHEET_MARKS_EACH",
    "dark_modules",
    "mark_side_dots",
    "place_marks",
]

MARK_MODULES = 6  # modules along one side: 4 of data and a dark ring
MARK_ROWS = 6  # marks down each side of the page
MARK_WORDS: tuple[int, ...] = (
    0xB532, 0x0F9A, 0x332D, 0x9946, 0x549E, 0x79CD, 0x9E2E, 0xC4F2, 0xFEDA, 0xCF56,
    0xF991, 0x11A7, 0x0EB7, 0x2A0F, 0x24B1, 0x263E, 0x4665, 0x6600, 0x6C5E, 0x76AF,
    0x868B, 0xB02B, 0xCCD5, 0xDD82, 0xFE47, 0x9471, 0xACE4, 0xA554, 0x2123, 0x346F,
    0x4415, 0x57B2, 0x9ECF, 0xF0CB, 0x08AE, 0x0929, 0x1875, 0x04FF, 0x0DF6, 0x1C5A,
    0x1718, 0x2A28, 0x328C, 0x38B2, 0x24E8, 0x2EEB, 0x2D3F, 0x4B64, 0x502E, 0x5013,
)  # fmt: skip
SHEET_MARKS_EACH = 2 * MARK_ROWS + 2  # on one sheet
SHEET_MARKS = frozenset(page.first_mark + k for page in PAGES.values() for k in range(SHEET_MARKS_EACH))
"""Numbers of the marks that sheets carry; control strips have others."""
_SHIFTS_LEFT_MM = (0.0, -8.0, -5.0, -7.0, 6.5, -6.5)
_SHIFTS_RIGHT_MM = (0.0, 6.0, -7.5, 7.0, 7.5, -7.5)
"""Off even spacing, which would be nearly three swaths of a 17.6 mm head: dead rows would cut
all marks alike. Found by search: a fifth of the rows of a 17.6 or 25.4 mm swath, wherever it lies, leaves at least
three marks whole on either page."""
MARK_SIDE_MM = 7.2  # 1.2 mm a module: 7 pixels at 150 dots/inch, 4 in the weakest photo that can carry a verdict


def dark_modules(number: int) -> list[list[bool]]:
    """6 x 6 modules of mark `number`, True where dark, row by row from the top."""
    word = MARK_WORDS[number]
    rows = [[True] * MARK_MODULES for _ in range(MARK_MODULES)]
    for bit in range(16):
        rows[1 + bit // 4][1 + bit % 4] = not word >> (15 - bit) & 1
    return rows


def mark_side_dots(raster: int) -> int:
    """Side of a mark in dots: a whole number of dots to each module."""
    return round(MARK_SIDE_MM * raster / 25.4 / MARK_MODULES) * MARK_MODULES


@lru_cache(maxsize=32)
def place_marks(page: Page, raster: int, paints: tuple[tuple[str, ...], ...] = (("K",),)) -> tuple[Mark, ...]:
    """Place the marks of a page: six down each side, and one in the middle of the head and of the foot.

    They depend on the page alone (to within 0.13 mm, for whole dots), so a reader finds its place before
    it knows the head. `paints` are the inks they are printed in, taken in turn.
    """
    side = mark_side_dots(raster)
    left = -(-int(EDGE_MM * raster * 1000 / 25.4) // 1000)
    right = int((page.width_mm - EDGE_MM) * raster / 25.4) - side
    top, bottom = left, int((page.height_mm - EDGE_MM) * raster / 25.4) - side
    places = []
    for row in range(MARK_ROWS):
        even = top + (bottom - top) * row / (MARK_ROWS - 1)
        for side_x, turn, shifts in ((left, row, _SHIFTS_LEFT_MM), (right, row + 1, _SHIFTS_RIGHT_MM)):
            # what is printed alike never stands in one line
            places.append((side_x, round(even + shifts[row] * raster / 25.4), turn))
    middle = (left + right) // 2
    places += [(middle, top, 0), (middle, bottom, 1)]
    return tuple(
        Mark(
            page.first_mark + number,
            Box(*(dots_to_mm(v, raster) for v in (x, y, x + side, y + side))),
            paints[turn % len(paints)],
        )
        for number, (x, y, turn) in enumerate(places)
    )
