"""What the measurements give: frozen records, no image, no drawing."""

from __future__ import annotations

from dataclasses import dataclass, field

from printcheck.geometry import Box

__all__ = ["BackgroundReading", "DashReading", "LinesReading", "SolidReading"]


@dataclass(frozen=True, slots=True)
class DashReading:
    """One dash of one printing of a ladder.

    Attributes
    ----------
    row, repeat : int
    box : Box
        Where it should be, mm on the page.
    strength : float or None
        Ink laid down relative to this ink's sound dashes: 1 sound, 0 bare paper.
    strength_sd : float or None
        Standard deviation of the reading.
    offset_mm : float or None
        How far below its place it landed, relative to its neighbours.
    offset_sd_mm : float or None
    state : str
        ``"present"``, ``"weak"``, ``"missing"``, ``"displaced"`` or ``"unreadable"``.
    """

    row: int
    repeat: int
    box: Box
    strength: float | None
    strength_sd: float | None
    offset_mm: float | None
    offset_sd_mm: float | None
    state: str


@dataclass(frozen=True, slots=True)
class LinesReading:
    """The ladder of one ink.

    Attributes
    ----------
    ink : str
    rows : int
    dashes : tuple of DashReading
        Every dash, by repeat, then row.
    absent : bool
        No ink at all was found: no cartridge, or a dead head.
    missing, intermittent, weak, displaced, unreadable : tuple of int
        Rows, as the contract defines them.
    advance_rows : int or None
        Shift in rows from the first printing to the next that makes their missing rows agree.
    arrangement : str
        ``"none"``, ``"scattered"``, ``"run"`` or ``"stride"``.
    stride : int or None
    longest_run : int
    notes : tuple of str
    """

    ink: str
    rows: int
    dashes: tuple[DashReading, ...]
    absent: bool
    missing: tuple[int, ...]
    intermittent: tuple[int, ...]
    weak: tuple[int, ...]
    displaced: tuple[int, ...]
    unreadable: tuple[int, ...]
    advance_rows: int | None
    arrangement: str
    stride: int | None
    longest_run: int
    notes: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class SolidReading:
    """The solid of one ink: mean absorptance in the ink's own channel, and its colour.

    Attributes
    ----------
    ink : str
    absorptance : float or None
        1 - reflectance relative to the bare paper beside it.
    lab : tuple of float or None
        CIELAB D50, media-relative.
    lab_sd : tuple of float or None
    """

    ink: str
    absorptance: float | None
    lab: tuple[float, float, float] | None
    lab_sd: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True)
class BackgroundReading:
    """The bare paper: CIELAB D50 of the capture, absolute (the capture's white is 100)."""

    lab: tuple[float, float, float] | None
