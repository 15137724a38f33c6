"""What the measurements give: frozen records, no image, no drawing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from printcheck.geometry import Box

__all__ = [
    "BackgroundReading",
    "ContaminationReading",
    "DashReading",
    "ForeignInk",
    "GreyBalance",
    "InkPresence",
    "Leaning",
    "LinesReading",
    "OverprintReading",
    "SolidReading",
]


class DashReading(NamedTuple):
    """One dash of one printing of a ladder; a tuple, as a sheet has thousands.

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
    weak_about, displaced_about : float
        How many rows the ink as a whole shows to be weak or off their place, though none need show it for itself;
        0 where noise may explain them.
    swings : (float, float)
        Half of crest to trough, over the mean, of waves once and twice down the head that all printings' lines follow
        in their ink: 0 where they follow none.
    rounded : bool
        The picture's JPEG holds the ink in steps too coarse for its lines.
    rounded_sd : float
        Standard deviation of a row's strength where that errs alike in both printings, as in a scan; 0 elsewhere.
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
    weak_about: float = 0.0
    displaced_about: float = 0.0
    swings: tuple[float, float] = (0.0, 0.0)
    rounded: bool = False
    rounded_sd: float = 0.0

    def dashes_of(self, row: int) -> list[DashReading]:
        """The dashes, one a printing, that one nozzle laid down: `row` is that of the first printing."""
        shift = self.advance_rows or 0
        return [dash for dash in self.dashes if dash.row == (row + (shift if dash.repeat else 0)) % self.rows]


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
        Standard deviation, what the capture itself may be off included.
    reference : str or None
        What it is compared with: ``"house NAME"`` or ``"published NAME"``.
    reference_lab : tuple of float or None
        CIELAB D50, media-relative.
    delta_e00 : float or None
        CIEDE2000 against the reference.
    delta_e00_ci95 : (float, float) or None
    """

    ink: str
    absorptance: float | None
    lab: tuple[float, float, float] | None
    lab_sd: tuple[float, float, float] | None
    reference: str | None = None
    reference_lab: tuple[float, float, float] | None = None
    delta_e00: float | None = None
    delta_e00_ci95: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class ForeignInk:
    """A foreign ink in a chamber.

    Attributes
    ----------
    ink : str
    fraction : float
        Share of what is printed, 0 to 1: over the sheet where it is steady, at the first it printed where it is
        clearing, at the last where it is growing.
    ci95 : (float, float)
        Whichever of it and its rivals it is.
    first, last : float
        Share at the top and at the foot of the run-off strip.
    rivals : tuple of str
        Inks that it may be instead, by what the picture tells.
    """

    ink: str
    fraction: float
    ci95: tuple[float, float]
    first: float
    last: float
    rivals: tuple[str, ...] = ()


class Leaning(NamedTuple):
    """The other ink that a photo's colour leans to: `share`, 0 to 1, beyond what all inks of the sheet lean.

    `sds` is by how many standard deviations the sheet is likelier with it than as sound (root of the drop in chi
    squared): what one per cent is worth differs from pair to pair of inks.
    """

    ink: str
    share: float
    sds: float = 0.0


@dataclass(frozen=True, slots=True)
class ContaminationReading:
    """Foreign ink in one ink.

    Attributes
    ----------
    ink : str
    basis : str
        What the pure ink is known by: ``"house NAME"`` or ``"published NAME"``.
    foreign : tuple of ForeignInk or None
        Largest first; none where it could not be measured.
    trend : str or None
        ``"none"``, ``"clearing"``, ``"steady"`` or ``"growing"``, of the largest.
    clears_after_mm : float or None
        Further length of printed strip after which a clearing ink is below 1.5 %.
    wrong_ink : str or None
        The ink this chamber was filled with instead.
    could_hide : float or None
        Largest share of a foreign ink that this reading would not have shown; none where none was looked for.
    off_sound : float or None
        Lower end of the 95 % interval of deltaE00 between the solid and the nearest colour of a sound ink of that
        name; none where it was not looked for.
    leaning : Leaning or None
        Of a sheet whose colour is likelier with another ink in the chamber than without, though it proves nothing.
    no_number : bool
        Nothing is told because what is known of pure inks, or was read of this one, is no number.
    """

    ink: str
    basis: str
    foreign: tuple[ForeignInk, ...] | None
    trend: str | None
    clears_after_mm: float | None
    wrong_ink: str | None
    could_hide: float | None
    off_sound: float | None = None
    leaning: Leaning | None = None
    no_number: bool = False


@dataclass(frozen=True, slots=True)
class InkPresence:
    """One ink in an overprint: its amount in terms of its own solid, and ``"present"``, ``"weak"``, ``"missing"``.

    `usual` is the least amount that published printing conditions with such solids show.
    """

    ink: str
    amount: float
    state: str
    usual: float


@dataclass(frozen=True, slots=True)
class OverprintReading:
    """Two or three inks over one another: CIELAB D50, media-relative, and how much of each ink is in it."""

    lab: tuple[float, float, float]
    inks: tuple[InkPresence, ...]


@dataclass(frozen=True, slots=True)
class GreyBalance:
    """Colour that equal mid-tones of cyan, magenta and yellow make together, CIELAB D50, media-relative, and its sd.

    Equal dots never make a neutral grey, and desktop inks differ, so this is a note and no measure of the cartridge;
    it tells a change from sheet to sheet.
    """

    lab: tuple[float, float, float]
    lab_sd: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class BackgroundReading:
    """The bare paper: CIELAB D50 of the capture, absolute (the capture's white is 100)."""

    lab: tuple[float, float, float] | None
