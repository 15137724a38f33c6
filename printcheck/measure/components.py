"""The shop's own table of the parts that turn in a toner cartridge and its printer.

A part prints its fault once a turn, every pi x diameter on the paper; one whose surface runs faster than the paper
prints closer than that, by that ratio.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from printcheck.errors import PrintcheckError
from printcheck.limits import LIMITS
from printcheck.parse import load_toml

__all__ = ["Component", "example_components", "load_components"]

_TOLERANCE = LIMITS["part_tolerance"].value
_WORDS = {"of": ("cartridge", "printer"), "then": ("clean", "replace")}
_NUMBERS = {"diameter_mm": (1.0, 1000.0), "tolerance_mm": (0.0, 50.0), "speed_ratio": (0.2, 5.0)}
"""Limits of what a caliper can have measured on such a part, both left out."""


@dataclass(frozen=True, slots=True)
class Component:
    """A turning part, as a shop's table has it.

    Attributes
    ----------
    name : str
    diameter_mm : float
    speed_ratio : float
        Its surface's speed over the paper's.
    tolerance_mm : float or None
        How far the diameter of a worn or refitted part may be off; 2 % by default.
    of : str
        ``"cartridge"`` or ``"printer"``: whose part it is.
    then : str
        ``"clean"`` or ``"replace"``: what a mark of it asks for.
    what : str
        What to do, in the shop's own words; may be empty.
    """

    name: str
    diameter_mm: float
    speed_ratio: float = 1.0
    tolerance_mm: float | None = None
    of: str = "cartridge"
    then: str = "clean"
    what: str = ""

    @property
    def within_mm(self) -> float:
        """The tolerance of its diameter, mm."""
        return _TOLERANCE * self.diameter_mm if self.tolerance_mm is None else self.tolerance_mm

    @property
    def spacing_mm(self) -> float:
        """Distance on paper of marks it prints once a turn."""
        return math.pi * self.diameter_mm / self.speed_ratio


def load_components(path: Path) -> tuple[Component, ...]:
    """A shop's table of the turning parts of a cartridge, and of its printer where they are known.

    The file::

        [[components]]
        name = "drum"
        diameter_mm = 30.0
        tolerance_mm = 0.4   # optional: of the diameter; 2 % of it by default
        speed_ratio = 1.0    # optional: surface speed over the paper's
        of = "cartridge"     # or "printer"
        then = "replace"     # or "clean", the default: what a mark of it asks for
        what = "Fit a new drum."

    Raises
    ------
    PrintcheckError
        The file can't be read, or entries are at fault: all of them are named, with their keys.
    """
    data = load_toml(path, "components")
    entries = data.get("components")
    faults = [f"'{key}' is not a key of a table of components" for key in sorted(data.keys() - {"components"})]
    if not isinstance(entries, list) or not entries:
        faults.append("at least one [[components]] table is needed")
        entries = []
    out: list[Component] = []
    for number, entry in enumerate(entries):
        made = _component(entry, f"components[{number}]", faults)
        if made is not None:
            if any(made.name == other.name for other in out):
                faults.append(f"'{made.name}' is there twice")
            out.append(made)
    if faults:
        raise PrintcheckError(f"components {path}: " + "; ".join(faults))
    return tuple(out)


def example_components() -> str:
    """The example that ships with the program, as TOML; its figures are invented."""
    return (Path(__file__).parent / "components.toml").read_text(encoding="utf-8")


def _component(entry: object, at: str, faults: list[str]) -> Component | None:
    if not isinstance(entry, dict):
        faults.append(f"'{at}' must be a table")
        return None
    before = len(faults)
    name = entry.get("name")
    if not isinstance(name, str) or not name.strip() or not name.isprintable():
        faults.append(f"{at} needs a 'name'")
    where = f"'{name}'" if isinstance(name, str) and name else at
    known = {"name", "what", *_WORDS, *_NUMBERS}
    faults += [f"{where} has no key '{key}'" for key in sorted(entry.keys() - known)]
    for key, (low, high) in _NUMBERS.items():
        value = entry.get(key)
        if value is None and key != "diameter_mm":
            continue
        if not isinstance(value, int | float) or isinstance(value, bool) or not low < value < high:
            faults.append(f"{where} needs '{key}' above {low:g} and below {high:g}")
    for key, words in _WORDS.items():
        if entry.get(key, words[0]) not in words:
            faults.append(f"{where}: '{key}' must be {' or '.join(words)}")
    what = entry.get("what", "")
    if not isinstance(what, str) or not (what == "" or what.isprintable()):
        faults.append(f"{where}: 'what' must be text on one line")
    if len(faults) > before:
        return None
    return Component(**{**entry, "name": str(name).strip()})
