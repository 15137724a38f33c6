"""The control strip: a small chart that is laid beside a sheet in a photo and gives the photo its colour.

A page holds two of them, A and B, to be cut apart. Each has registration marks with numbers of its own, which no
sheet carries, so a strip never passes for a sheet and one strip never for the other. The code says
``PC:STRIP1:NAME``; it is no sheet's code (`code.decode_announcement` returns none).

Patches are what a refill bench looks at: solids, their overprints, tints, near-neutral mixtures, and each colour with
a quarter of another in it, for that is where leaking chambers lead. Even bare paper lies around every patch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeVar

from printcheck.errors import PatternError
from printcheck.geometry import Box
from printcheck.pattern.code import check_ticket
from printcheck.pattern.elements import Code, Hairline, Mark, Paper, Patch, Text
from printcheck.pattern.heads import Head, HeadInk
from printcheck.pattern.layout import Layout
from printcheck.pattern.marks import mark_side_dots
from printcheck.pattern.pages import EDGE_MM, Page
from printcheck.pattern.sheet import Sheet
from printcheck.units import dots_to_mm

__all__ = [
    "STRIP_MARKS",
    "STRIP_VERSION",
    "StripPatch",
    "control_strip",
    "control_strip_page",
    "decode_strip",
    "make_control_strips",
    "strip_patch_name",
    "strip_patches",
]  # fmt: skip

STRIP_VERSION = 1
STRIP_MARKS: dict[str, tuple[int, ...]] = {"A": (14, 15, 16, 17, 18, 19), "B": (39, 40, 41, 42, 43, 44)}
"""Numbers of each strip's marks: left top and bottom, right top and bottom, middle top and bottom. Sheets have 0 to
13 and 25 to 38."""

_PREFIX = "PC:STRIP"
_RASTER = 600
_LONG_MM, _SHORT_MM = 184.0, 48.0  # the piece as cut out
_MARGIN_X_MM, _MARGIN_Y_MM = 5.0, 4.0  # around what is printed: the marks' quiet zone, and room for a crooked cut
_PRINTED_MM = (174.0, 40.0)
_CODE_MM = 15.0
_FIRST_MM, _PITCH_MM = 18.0, 12.4  # left edge of the first column of patches; distance of columns
_PATCH_MM = (9.4, 10.4)
_ROW_MM = 13.4
_GAP_INSET_MM = 0.6  # bare paper is read this far from a patch: blur, and chroma that JPEG halves
_COLUMNS, _ROWS = 12, 3
_MARK_COLUMN = 6  # the middle marks stand in its upper and lower cell
_TOP_MM, _APART_MM = 46.0, 58.0  # the first strip's place on the page, and the second's below it
_TEXT_MM = 2.0

_Element = TypeVar("_Element", Mark, Code, Patch, Paper, Hairline)


@dataclass(frozen=True, slots=True)
class StripPatch:
    """What a patch is printed with: inks laid over one another and the tone value of each."""

    inks: tuple[str, ...]
    tones: tuple[float, ...]

    @property
    def name(self) -> str:
        """The inks and their tone values in per cent: ``C 50``, ``C 45 M 35 Y 35``."""
        return " ".join(f"{ink} {round(100 * tone)}" for ink, tone in zip(self.inks, self.tones, strict=True))


def _mix(**tones: float) -> StripPatch:
    return StripPatch(tuple(tones), tuple(tones.values()))


@lru_cache(maxsize=1)
def strip_patches() -> tuple[StripPatch, ...]:
    """The 34 patches, row by row; each row holds dark and light, so that no end of the strip is dark."""
    return (
        _mix(C=1), _mix(M=0.5), _mix(Y=1), _mix(K=0.4), _mix(M=1, Y=1), _mix(C=0.25),
        _mix(C=1, M=0.25), _mix(Y=0.25), _mix(M=1), _mix(C=0.45, M=0.35, Y=0.35), _mix(C=0.5, Y=0.5),
        _mix(Y=1, M=0.25), _mix(C=0.5), _mix(K=1), _mix(M=0.25), _mix(C=1, Y=1), _mix(Y=0.75), _mix(M=1, C=0.25),
        _mix(K=0.2), _mix(C=0.75), _mix(C=0.35, M=0.45, Y=0.35), _mix(Y=1, C=0.25), _mix(M=0.75), _mix(C=1, M=1),
        _mix(Y=0.5), _mix(K=0.6), _mix(M=0.5, Y=0.5), _mix(C=1, Y=0.25), _mix(C=0.22, M=0.16, Y=0.16),
        _mix(M=1, Y=0.25), _mix(K=0.8), _mix(C=0.5, M=0.5), _mix(C=0.35, M=0.35, Y=0.45),
        _mix(C=0.75, M=0.65, Y=0.65),
    )  # fmt: skip


def strip_patch_name(patch: Patch) -> str:
    """Name of a patch of a strip's layout; see `StripPatch.name`."""
    return StripPatch(patch.inks, patch.tones).name


def _head() -> Head:
    inks = tuple(HeadInk(ink, 300, _RASTER, _RASTER) for ink in "KCMY")
    return Head("strip", "Control strip", inks, ("K",))


@lru_cache(maxsize=2)
def control_strip(letter: str) -> Layout:
    """Strip `letter`, ``"A"`` or ``"B"``, by itself: origin at the top left corner of the piece as cut out."""
    side = dots_to_mm(mark_side_dots(_RASTER), _RASTER)
    wide, high = _PRINTED_MM
    column = _FIRST_MM + _MARK_COLUMN * _PITCH_MM + (_PATCH_MM[0] - side) / 2
    aside = (_PATCH_MM[1] - side) / 2
    places = (
        (0.0, 0.0), (0.0, high - side), (wide - side, 0.0), (wide - side, high - side),
        (column, aside), (column, 2 * _ROW_MM + aside),
    )  # fmt: skip
    marks = tuple(
        Mark(number, _box(*place, side, side), ("K",))
        for number, place in zip(STRIP_MARKS[letter], places, strict=True)
    )
    cells = [
        (row, column) for row in range(_ROWS) for column in range(_COLUMNS) if column != _MARK_COLUMN or row == 1
    ]
    patches, papers = [], []
    for wanted, (row, column_number) in zip(strip_patches(), cells, strict=True):
        box = _cell(row, column_number)
        kind = "solid" if wanted.tones == (1.0,) else "tint" if len(wanted.inks) == 1 else "overprint"
        patches.append(Patch(kind, wanted.inks, max(wanted.tones), box, wanted.tones))
    for row in range(_ROWS):
        for column_number in range(_COLUMNS):
            box, inset = _cell(row, column_number), _GAP_INSET_MM
            after = 2.8 if column_number == _COLUMNS - 1 else _PITCH_MM - _PATCH_MM[0]
            papers.append(Paper("strip", Box(box.x1 + inset, box.y0 + 1.0, box.x1 + after - inset, box.y1 - 1.0)))
            if row + 1 < _ROWS:
                below = box.y0 + _ROW_MM - inset
                papers.append(Paper("strip", Box(box.x0 + 1.0, box.y1 + inset, box.x1 - 1.0, below)))
    code = _box(0.0, (high - _CODE_MM) / 2, _CODE_MM, _CODE_MM)
    page = Page(f"strip-{letter}", _LONG_MM, _SHORT_MM, STRIP_MARKS[letter][0])
    width, height = (dots_to_mm(round(v * _RASTER / 25.4), _RASTER) for v in (_LONG_MM, _SHORT_MM))
    return Layout(
        STRIP_VERSION, _head(), page, _RASTER, width, height, marks, (Code(code, ("K",)),), (), tuple(patches),
        tuple(papers), (), (),
    )  # fmt: skip


def _box(x: float, y: float, width: float, height: float) -> Box:
    """Whole dots, at `x`, `y` of what is printed on the strip."""
    x0, y0 = (round((v + m) * _RASTER / 25.4) for v, m in ((x, _MARGIN_X_MM), (y, _MARGIN_Y_MM)))
    across, down = round(width * _RASTER / 25.4), round(height * _RASTER / 25.4)
    return Box(*(dots_to_mm(v, _RASTER) for v in (x0, y0, x0 + across, y0 + down)))


def _cell(row: int, column: int) -> Box:
    return _box(_FIRST_MM + column * _PITCH_MM, row * _ROW_MM, *_PATCH_MM)


def _moved(element: _Element, x: float, y: float) -> _Element:
    box = element.box
    return replace(element, box=Box(box.x0 + x, box.y0 + y, box.x1 + x, box.y1 + y))


@lru_cache(maxsize=4)
def control_strip_page(page: Page) -> Layout:
    """Two strips on a page, with lines to cut along."""
    left = dots_to_mm(round((page.width_mm - _LONG_MM) / 2 * _RASTER / 25.4), _RASTER)
    marks: list[Mark] = []
    codes: list[Code] = []
    patches: list[Patch] = []
    papers: list[Paper] = []
    lines: list[Hairline] = []
    thin = dots_to_mm(3, _RASTER)
    for number, letter in enumerate(STRIP_MARKS):
        strip = control_strip(letter)
        top = dots_to_mm(round((_TOP_MM + number * _APART_MM) * _RASTER / 25.4), _RASTER)
        marks += [_moved(m, left, top) for m in strip.marks]
        codes += [_moved(c, left, top) for c in strip.codes]
        patches += [_moved(p, left, top) for p in strip.patches]
        papers += [_moved(p, left, top) for p in strip.papers]
        x1, y1 = left + strip.width_mm, top + strip.height_mm
        lines += [Hairline(("K",), "x", Box(left, y, x1, y + thin)) for y in (top, y1 - thin)]
        lines += [Hairline(("K",), "y", Box(x, top, x + thin, y1)) for x in (left, x1 - thin)]
    width, height = (dots_to_mm(round(v * _RASTER / 25.4), _RASTER) for v in (page.width_mm, page.height_mm))
    x = max(left, EDGE_MM) + 1.0
    told = (
        ("Control strips for photos", 4.0, True, 20.0),
        ("Print once at 100 %, best quality, from a known-good printer; let it dry for a day. Scan this page on the", 2.8, False, 27.0),  # noqa: E501
        ("calibrated scanner (printcheck strip read). Cut out along the lines. Lay a strip flat beside the sheet, in the", 2.8, False, 31.5),  # noqa: E501
        ("same light, and take both in one picture. Keep strips in the dark; print and read new ones once they fade.", 2.8, False, 36.0),  # noqa: E501
    )  # fmt: skip
    texts = tuple(Text(x, y, size, text, bold=bold) for text, size, bold, y in told)
    return Layout(
        STRIP_VERSION, _head(), page, _RASTER, width, height, tuple(marks), tuple(codes), (), tuple(patches),
        tuple(papers), tuple(lines), texts,
    )  # fmt: skip


def make_control_strips(layout: Layout, name: str) -> Sheet:
    """Make out a page of strips, or one strip, under `name`, which its code and its text carry.

    Raises
    ------
    PatternError
        The name is empty or does not fit the code.
    """
    import segno

    name = check_ticket(name)
    if not name:
        raise PatternError("a control strip needs a name, by which its values are known; add for example --ticket S1")
    text = f"{_PREFIX}{STRIP_VERSION}:{name}"
    code = None
    for level, version in (("q", 2), ("m", 2), ("m", 3), ("l", 3)):  # the largest modules that hold the text
        try:
            code = segno.make_qr(text, error=level, version=version, boost_error=False)
            break
        except segno.DataOverflowError:
            continue
    assert code is not None  # MAX_TICKET characters fit version 3
    modules = tuple(tuple(bool(module) for module in row) for row in code.matrix)
    lettered = {numbers[0]: letter for letter, numbers in STRIP_MARKS.items()}
    lines = []
    for mark in layout.marks:
        if mark.number in lettered:
            x = mark.box.x0 + _FIRST_MM
            y = mark.box.y0 + _PRINTED_MM[1]
            lines.append(Text(x, y, _TEXT_MM, f"Control strip {name} / {lettered[mark.number]}"))
    return Sheet(layout, name, modules, layout.texts + tuple(lines))


def decode_strip(text: str) -> tuple[int, str] | None:
    """Layout version and name in a strip's code; none where the code is no strip's."""
    head, _, name = text.removeprefix(_PREFIX).partition(":")
    if not text.startswith(_PREFIX) or not head.isdigit():
        return None
    return int(head), name
