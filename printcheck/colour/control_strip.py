"""What the patches of control strips truly look like: read once on a calibrated scanner, kept as a TOML file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from printcheck.aside import write_aside
from printcheck.colour.lab import Lab, as_lab, lab_flaw
from printcheck.errors import InputError
from printcheck.parse import parse_toml
from printcheck.regular import read_regular

__all__ = ["PatchValue", "StripValues", "load_strip_values", "save_strip_values"]

_SCHEMA = "printcheck-control-strip/1"
_MOST_SD = 100.0  # CIELAB; what is known no better is not known


@dataclass(frozen=True, slots=True)
class PatchValue:
    """CIELAB D50 relative to the strip's own paper, and the standard deviation it is known to."""

    lab: Lab
    sd: Lab


@dataclass(frozen=True, slots=True)
class StripValues:
    """Values of the strips of one printed page.

    Attributes
    ----------
    calibration : str
        What they were measured through.
    delta_e00 : float
        Median CIEDE2000 of that calibration on patches left out of its fit.
    strips : dict of str to dict of str to PatchValue
        By the strip's identity (``NAME/A``), then by the patch's name (``C 50``).
    """

    calibration: str
    delta_e00: float
    strips: dict[str, dict[str, PatchValue]]


def save_strip_values(values: StripValues, path: Path) -> None:
    """Write `values` to `path`, all of it or nothing; raises `OutputError`."""
    lines = [
        "# Colours of control strips: CIELAB D50 relative to the strip's own paper, and their standard deviations.",
        f'schema = "{_SCHEMA}"',
        f"calibration = {_quoted(values.calibration)}",
        f"delta_e00 = {values.delta_e00:.3f}",
    ]
    for identity, patches in values.strips.items():
        lines += ["", f"[strips.{_quoted(identity)}]"]
        lines += [f"{_quoted(n)} = {{ lab = {_triple(v.lab)}, sd = {_triple(v.sd)} }}" for n, v in patches.items()]
    write_aside(path, ("\n".join(lines) + "\n").encode())


def _quoted(text: str) -> str:
    """A TOML basic string (TOML 1.0, "String"): what closes it, and what it may not hold, as escapes."""
    escaped = (f"\\{c}" if c in '\\"' else c if c.isprintable() else f"\\U{ord(c):08x}" for c in text)
    return f'"{"".join(escaped)}"'


def _triple(values: Lab) -> str:
    return "[" + ", ".join(f"{v:.3f}" for v in values) + "]"


def load_strip_values(path: Path) -> StripValues:
    """Read a file that `save_strip_values` wrote.

    Raises
    ------
    InputError
        It can't be read, is damaged, or is another kind of file.
    """
    again = "write it anew with printcheck strip read"
    try:
        document = parse_toml(read_regular(path, f"the strip's values; {again}"))
    except ValueError as error:
        raise InputError(f"{path} holds no strip values: {error}; {again}") from None
    if document.get("schema") != _SCHEMA:
        raise InputError(f'{path} holds no strip values (no schema "{_SCHEMA}"); {again}')
    try:
        strips = {
            str(identity): {str(name): _value(found, f"{identity}, {name}") for name, found in patches.items()}
            for identity, patches in document["strips"].items()
        }
        if not strips:
            raise ValueError("no strip is in it")
        if not 0.0 <= (error_of := float(document["delta_e00"])) < _MOST_SD:
            raise ValueError(f"delta_e00 is {error_of:g}")
        return StripValues(str(document["calibration"]), error_of, strips)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise InputError(f"strip values {path} are damaged ({error}); {again}") from None


def _value(found: dict[str, Any], name: str) -> PatchValue:
    lab, sd = as_lab(found["lab"]), as_lab(found["sd"])
    if (flaw := lab_flaw(lab)) is not None:
        raise ValueError(f"'{name}' {flaw}")
    if not all(0.0 <= v < _MOST_SD for v in sd):
        raise ValueError(f"the sd of '{name}' is {sd}")
    return PatchValue(lab, sd)
