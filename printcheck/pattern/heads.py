"""Head kinds: which inks a print head carries and how its nozzles lie. Data, one TOML file each.

A head file::

    name = "tri-192"                # lower-case letters, digits and hyphens
    title = "Tricolour head, 192 nozzles each"
    text = ["C", "M", "Y"]          # what black text, marks and codes are printed with
    [[inks]]
    ink = "C"                       # one of K C M Y
    nozzles = 192
    nozzles_per_inch = 600
    rows_per_inch = 600             # printed rows; a multiple of nozzles_per_inch (interlaced where larger)

A toner cartridge has no nozzles, so its file says instead::

    name = "toner-mono"
    title = "Black toner cartridge"
    technology = "toner"            # "inkjet" where it is left out
    dots_per_inch = 600             # what the sheet is composed at
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from printcheck.errors import PatternError, PrintcheckError
from printcheck.parse import load_toml
from printcheck.pattern.inks import INKS
from printcheck.units import MM_PER_INCH

__all__ = ["RASTERS", "TECHNOLOGIES", "Head", "HeadInk", "builtin_heads", "load_head", "parse_head"]

RASTERS = (600, 720)
"""Dots per inch a sheet can be composed at; a head takes the first that all its rows divide."""

TECHNOLOGIES = ("inkjet", "toner")
"""How a head prints: rows of nozzles, or toner fused to the paper, which has none."""

_MAX_ROWS = 1200  # two inches at 600 rows/inch: what fits a page twice
_MAX_TITLE = 72  # characters; what stays clear of the code beside it in print
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,15}")
_KEYS = {"name", "title", "text", "inks", "note", "technology"}
_TONER_KEYS = {"name", "title", "note", "technology", "dots_per_inch"}
_WORDS = {"inkjet": "head file", "toner": "head file of a toner cartridge"}
_INK_KEYS = {"ink", "nozzles", "nozzles_per_inch", "rows_per_inch"}


@dataclass(frozen=True, slots=True)
class HeadInk:
    """The nozzles of one ink.

    Attributes
    ----------
    ink : str
    nozzles : int
        Count in one head.
    nozzles_per_inch, rows_per_inch : int
        Spacing of the nozzles, and of the rows they print; the second is a multiple of the first.
    """

    ink: str
    nozzles: int
    nozzles_per_inch: int
    rows_per_inch: int

    @property
    def rows(self) -> int:
        """Printed rows in one head height."""
        return self.nozzles * self.rows_per_inch // self.nozzles_per_inch

    @property
    def passes(self) -> int:
        """Passes that interlace to fill the rows: 1 where every row has its own nozzle."""
        return self.rows_per_inch // self.nozzles_per_inch

    @property
    def pitch_mm(self) -> float:
        """Distance between rows, mm."""
        return MM_PER_INCH / self.rows_per_inch

    @property
    def swath_mm(self) -> float:
        """Height of one head, rows x pitch, mm."""
        return self.rows * self.pitch_mm


@dataclass(frozen=True, slots=True)
class Head:
    """A print head: its inks, and the inks black text is made of.

    A toner cartridge has no entry in `inks`, which are rows of nozzles; its text is black, and `dots_per_inch` says
    what its sheet is composed at.
    """

    name: str
    title: str = field(compare=False)  # words only; a sheet's code doesn't carry it
    inks: tuple[HeadInk, ...]
    text: tuple[str, ...]
    technology: str = "inkjet"
    dots_per_inch: int | None = None

    @property
    def toner(self) -> bool:
        return self.technology == "toner"

    @property
    def raster(self) -> int:
        """Dots per inch the sheet is composed at: the first of `RASTERS` that every ink's rows divide."""
        if self.dots_per_inch is not None:
            return self.dots_per_inch
        for dpi in RASTERS:
            if all(dpi % ink.rows_per_inch == 0 for ink in self.inks):
                return dpi
        raise PatternError(
            f"head '{self.name}': rows_per_inch {sorted({i.rows_per_inch for i in self.inks})} "
            f"divide neither {RASTERS[0]} nor {RASTERS[1]}"
        )

    @property
    def paints(self) -> tuple[tuple[str, ...], ...]:
        """What marks and codes are printed with in turn, so that one ink gone altogether leaves the sheet readable.

        Where black has colours beside it, every second one is the overprint of cyan and magenta, dark to any
        capture.
        """
        names = {ink.ink for ink in self.inks}
        other = ("C", "M")
        return (self.text, other) if self.text == ("K",) and names.issuperset(other) else (self.text,)

    def ink(self, name: str) -> HeadInk:
        """Return the nozzles of ink `name`; raises `KeyError`."""
        for ink in self.inks:
            if ink.ink == name:
                return ink
        raise KeyError(name)


def parse_head(data: dict[str, Any], where: str) -> Head:
    """Check a head description and make a `Head` of it.

    Parameters
    ----------
    data : dict
        As read from TOML.
    where : str
        What to call the source in messages.

    Raises
    ------
    PatternError
        Naming every key at fault, in one line.
    """
    faults: list[str] = []
    technology = data.get("technology", "inkjet")
    if technology not in TECHNOLOGIES:
        raise PatternError(f"{where}: 'technology' must be {' or '.join(TECHNOLOGIES)}, not {technology!r}")
    keys = _TONER_KEYS if technology == "toner" else _KEYS
    faults += [f"'{key}' is not a key of a {_WORDS[technology]}" for key in sorted(data.keys() - keys)]
    name = data.get("name")
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        faults.append("'name' must be 1 to 16 lower-case letters, digits or hyphens")
    title = data.get("title", name)
    if not isinstance(title, str) or not 1 <= len(title) <= _MAX_TITLE or not title.isprintable():
        faults.append(f"'title' must be 1 to {_MAX_TITLE} characters of text on one line")
    if technology == "toner":
        return _toner_head(str(name), str(title), data, faults, where)
    entries = data.get("inks")
    inks: list[HeadInk] = []
    if not isinstance(entries, list) or not entries:
        faults.append("'inks' must hold at least one [[inks]] table")
    else:
        for number, entry in enumerate(entries):
            made = _parse_ink(entry, f"inks[{number}]", faults)
            if made is not None:
                if any(made.ink == other.ink for other in inks):
                    faults.append(f"'inks[{number}].ink' {made.ink} is there twice")
                inks.append(made)
    default_text = ["K"] if any(i.ink == "K" for i in inks) else [i.ink for i in inks]
    text = data.get("text", default_text)
    if not isinstance(text, list) or not text or any(not isinstance(t, str) or t not in INKS for t in text):
        faults.append(f"'text' must list inks out of {' '.join(INKS)}")
    elif len(set(text)) != len(text):
        faults.append("'text' names an ink twice")
    if not faults and not any(all(dpi % i.rows_per_inch == 0 for i in inks) for dpi in RASTERS):
        faults.append(
            f"'rows_per_inch' of all inks together must divide {' or '.join(map(str, RASTERS))}, "
            f"not {sorted({i.rows_per_inch for i in inks})}"
        )
    if faults:
        raise PatternError(f"{where}: " + "; ".join(faults))
    return Head(str(name), str(title), tuple(inks), tuple(text))


def _toner_head(name: str, title: str, data: dict[str, Any], faults: list[str], where: str) -> Head:
    dots = data.get("dots_per_inch", RASTERS[0])
    if dots not in RASTERS or isinstance(dots, bool):
        faults.append(f"'dots_per_inch' must be {' or '.join(map(str, RASTERS))}")
    if faults:
        raise PatternError(f"{where}: " + "; ".join(faults))
    return Head(name, title, (), ("K",), "toner", int(dots))


def _parse_ink(entry: object, at: str, faults: list[str]) -> HeadInk | None:
    if not isinstance(entry, dict):
        faults.append(f"'{at}' must be a table")
        return None
    before = len(faults)
    faults += [f"'{at}.{key}' is not a key" for key in sorted(entry.keys() - _INK_KEYS)]
    if not isinstance(entry.get("ink"), str) or entry["ink"] not in INKS:
        faults.append(f"'{at}.ink' must be one of {' '.join(INKS)}")
    for key in ("nozzles", "nozzles_per_inch", "rows_per_inch"):
        value = entry.get(key)
        if not isinstance(value, int) or isinstance(value, bool) or value < 1:
            faults.append(f"'{at}.{key}' must be a whole number of at least 1")
    if len(faults) > before:
        return None
    ink = HeadInk(entry["ink"], entry["nozzles"], entry["nozzles_per_inch"], entry["rows_per_inch"])
    if ink.rows_per_inch % ink.nozzles_per_inch:
        faults.append(f"'{at}.rows_per_inch' must be a multiple of nozzles_per_inch")
        return None
    if not 8 <= ink.rows <= _MAX_ROWS:
        faults.append(f"'{at}.nozzles' gives {ink.rows} printed rows; 8 to {_MAX_ROWS} can be laid out")
        return None
    return ink


def _heads_folder() -> Path:
    installed = Path(__file__).parents[1] / "patterns"
    return installed if installed.is_dir() else Path(__file__).parents[2] / "patterns"


def builtin_heads(technology: str | None = "inkjet") -> dict[str, Path]:
    """Name and file of each head kind of one technology that ships with the program; of all with None."""
    found = {path.stem: path for path in sorted(_heads_folder().glob("*.toml"))}
    if technology is None:
        return found
    return {name: path for name, path in found.items() if _technology(path) == technology}


@lru_cache(maxsize=64)
def _technology(path: Path) -> object:
    return tomllib.loads(path.read_text(encoding="utf-8")).get("technology", "inkjet")


def load_head(name_or_path: str) -> Head:
    """Return the head called `name_or_path`, or the one described by the TOML file of that path.

    Raises
    ------
    PatternError
        Unknown name, unreadable file, or a file with faults, each named with its key.
    """
    known = builtin_heads(None)
    path = known.get(name_or_path.lower())
    if path is None:
        path = Path(name_or_path)
        if path.suffix != ".toml":
            raise PatternError(
                f"head '{name_or_path}' is not known; use one of {', '.join(known)}, or the path of a .toml file"
            )
    try:
        data = load_toml(path, "head file")
    except PrintcheckError as error:
        raise PatternError(str(error)) from error
    return parse_head(data, str(path))
