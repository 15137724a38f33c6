"""What a sheet is made of. Each element knows its box in mm and what it is for, never how it is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.geometry import Box

__all__ = ["Code", "Hairline", "Ladder", "Mark", "Paper", "Patch", "Text"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A registration mark: a square of 6 x 6 modules, the outer ring dark, `number` coded in the inner 4 x 4.

    Printed in `inks`, laid over one another.
    """

    number: int
    box: Box
    inks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Code:
    """Room for one copy of the sheet's QR code (ISO/IEC 18004); the symbol fills `box`, printed in `inks`."""

    box: Box
    inks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ladder:
    """One printing of the dash ladder of one ink: a dash for each row of the head.

    Attributes
    ----------
    ink : str
    repeat : int
        0 for the upper printing, 1 for the next one down.
    rows : int
    pitch_mm : float
        Row r covers ``box.y0 + r * pitch_mm`` to ``box.y0 + (r + 1) * pitch_mm``.
    box : Box
    columns : tuple of (float, float)
        Left and right end of the dashes of each column, mm.
    order : tuple of int
        Column of row r is ``order[r % len(order)]``.
    """

    ink: str
    repeat: int
    rows: int
    pitch_mm: float
    box: Box
    columns: tuple[tuple[float, float], ...]
    order: tuple[int, ...]

    def column_of(self, row: int) -> int:
        """Index of the column that holds `row`."""
        return self.order[row % len(self.order)]

    def dash(self, row: int) -> Box:
        """Box of the dash of `row`, mm."""
        x0, x1 = self.columns[self.column_of(row)]
        y0 = self.box.y0 + row * self.pitch_mm
        return Box(x0, y0, x1, y0 + self.pitch_mm)

    def rows_in(self, column: int) -> range:
        """Return the rows whose dashes stand in `column`, from the top."""
        return range(self.order.index(column), self.rows, len(self.order))


@dataclass(frozen=True, slots=True)
class Patch:
    """An even area.

    Attributes
    ----------
    kind : str
        ``"solid"``, ``"tint"`` (one mid-tone), ``"wedge"`` (one step of the stepped wedge), ``"strip"`` (the
        run-off strip down the page) or ``"overprint"``.
    inks : tuple of str
        Inks laid over one another.
    tone : float
        Nominal tone value, 0 to 1.
    box : Box
    tones : tuple of float
        Tone value of each ink where they differ (a control strip's mixtures); empty where all have `tone`.
    """

    kind: str
    inks: tuple[str, ...]
    tone: float
    box: Box
    tones: tuple[float, ...] = ()

    @property
    def paint(self) -> tuple[tuple[str, ...], tuple[float, ...]]:
        """The inks, and the tone value of each."""
        return self.inks, self.tones or (self.tone,) * len(self.inks)


@dataclass(frozen=True, slots=True)
class Paper:
    """Bare paper kept free beside what is measured; `near` says what it belongs to."""

    near: str
    box: Box


@dataclass(frozen=True, slots=True)
class Hairline:
    """A thin line for the eye, and for line quality: `along` is ``"x"`` or ``"y"``."""

    inks: tuple[str, ...]
    along: str
    box: Box


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text: left end of the baseline, size (height of the letters' em) in mm."""

    x: float
    y: float
    size_mm: float
    text: str
    bold: bool = False
