"""House references: what a known-good cartridge gave on this printer and paper, kept as one JSON file each.

The refill standards judge a refill against the original cartridge in the same printer on the same paper
(DIN 33871-1); a house reference is that original, scored once.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from printcheck.aside import write_aside
from printcheck.colour.lab import Lab, as_lab, lab_flaw
from printcheck.colour.names import check_name
from printcheck.errors import OutputError, PrintcheckError
from printcheck.parse import parse_json
from printcheck.regular import regular_bytes

__all__ = [
    "VARIABLE",
    "HouseInk",
    "HouseReference",
    "list_house",
    "load_house",
    "reference_file",
    "references_folder",
    "remove_house",
    "save_house",
]  # fmt: skip

VARIABLE = "PRINTCHECK_REFERENCES"
"""Environment variable that names the folder of house references."""
_SCHEMA = "printcheck-house-reference/1"
_KINDS = ("scan", "photo")
# light relative to paper, or of paper to the picture's white: no print sends back twice what its paper does. What
# lies outside sRGB is negative there in one channel, down to -0.4 for the pure colours of the widest RGB spaces that
# scanners write (the cyan of opRGB, IEC 61966-2-5, in linear sRGB, by both primaries)
_LEAST_LIGHT, _MOST_LIGHT = -0.5, 2.0
_MOST_SD = 100.0  # CIELAB; what is known no better is not known


@dataclass(frozen=True, slots=True)
class HouseInk:
    """One ink of a reference: its solid's linear light relative to paper (R, G, B) and CIELAB, media-relative.

    `lab` is what the capture shows as it stands; `true_lab`, with its standard deviation, what it is through a
    calibration, where there was one.
    """

    ratio: tuple[float, float, float]
    ratio_sd: tuple[float, float, float]
    lab: Lab
    true_lab: Lab | None = None
    true_sd: Lab | None = None

    def flaw(self) -> str | None:
        """What makes it no solid of a print; none where it is one."""
        if not all(_LEAST_LIGHT < v < _MOST_LIGHT for v in self.ratio):
            return f"its light is that of no ink ({_said(self.ratio)})"
        if not all(0.0 <= v < _MOST_LIGHT for v in self.ratio_sd):
            return f"its light is known to no number ({_said(self.ratio_sd)})"
        for lab in (self.lab, self.true_lab):
            if lab is not None and (flaw := lab_flaw(lab)) is not None:
                return flaw
        if self.true_sd is not None and not all(0.0 <= v < _MOST_SD for v in self.true_sd):
            return f"its colour is known to no number ({_said(self.true_sd)})"
        return None


@dataclass(frozen=True, slots=True)
class HouseReference:
    """A stored reference.

    Attributes
    ----------
    name : str
    head, page : str
        Of the sheet it was taken from.
    kind : str
        ``"scan"`` or ``"photo"``.
    profile : str
        The capture's colour profile.
    sha256 : str
        Of the picture.
    inks : dict of str to HouseInk
    source : str
        Mark of the capture's device, or its resolution; empty where unknown.
    paper : (float, float, float) or None
        Linear R, G, B of its bare paper; none in files that don't hold it.
    """

    name: str
    head: str
    page: str
    kind: str
    profile: str
    sha256: str
    inks: dict[str, HouseInk]
    source: str = ""
    paper: tuple[float, float, float] | None = None

    def flaw(self) -> str | None:
        """What makes it no reference; none where it is one, as any that a sheet gave."""
        if self.kind not in _KINDS:
            return f"kind {self.kind}"
        if not self.inks:
            return "it holds no ink"
        for name, ink in self.inks.items():
            flaw = ink.flaw()
            if flaw is None and name != "K" and max(ink.ratio) <= 0.0:  # a scanner may cut black, and no colour
                flaw = "it sends back no light"
            if flaw is not None:
                return f"ink {name}: {flaw}"
        if self.paper is not None and not all(0.0 < v < _MOST_LIGHT for v in self.paper):
            return f"its paper has no light ({_said(self.paper)})"
        return None


def _said(values: tuple[float, float, float]) -> str:
    return " ".join(f"{v:.4g}" for v in values)


def references_folder() -> Path:
    """Return the folder references are kept in."""
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named)
    from platformdirs import user_data_path

    return user_data_path("printcheck", appauthor=False) / "references"


def reference_file(name: str) -> Path:
    """Return the file the reference called `name` is kept in; raises `PrintcheckError` where it can't name one."""
    return references_folder() / f"{check_name(name, 'reference')}.json"


def save_house(reference: HouseReference) -> Path:
    """Store `reference`, replacing one of the same name; returns its file."""
    path = reference_file(reference.name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise PrintcheckError(
            f"{path.parent} can't be made: {error.strerror}; set {VARIABLE} to another folder"
        ) from error
    document = {"schema": _SCHEMA, **asdict(reference)}
    write_aside(path, (json.dumps(document, indent=1) + "\n").encode())
    return path


def list_house() -> tuple[tuple[HouseReference, ...], tuple[PrintcheckError, ...]]:
    """Return all stored references, by name, and what is wrong with those that can't be read."""
    folder = references_folder()
    sound, faults = [], []
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        try:
            sound.append(load_house(path.stem))
        except PrintcheckError as error:
            faults.append(error)
    return tuple(sound), tuple(faults)


def load_house(name: str) -> HouseReference:
    """Return the reference called `name`.

    Raises
    ------
    PrintcheckError
        There is none, or its file is damaged.
    """
    path = reference_file(name)
    try:
        document = parse_json(regular_bytes(path))
    except ValueError as error:
        if isinstance(error.__cause__, FileNotFoundError):
            raise _unknown(name) from None
        raise PrintcheckError(f"reference {path} can't be read: {error}; add it again, or remove it") from error
    try:
        if document["schema"] != _SCHEMA:
            raise PrintcheckError(
                f"reference {path} is of another kind ({document['schema']}); add it again, or remove it"
            )
        inks = {str(ink): _ink(values) for ink, values in document["inks"].items()}
        head, page, kind, profile, sha256 = (str(document[k]) for k in ("head", "page", "kind", "profile", "sha256"))
        source, bare = str(document.get("source", "")), document.get("paper")
        paper = None if bare is None else as_lab(bare)
        found = HouseReference(name, head, page, kind, profile, sha256, inks, source, paper)
        if (flaw := found.flaw()) is not None:
            raise ValueError(flaw)
        return found
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise PrintcheckError(f"reference {path} is damaged ({error}); add it again, or remove it") from error


def _ink(values: dict[str, Any]) -> HouseInk:
    lab, sd = values.get("true_lab"), values.get("true_sd")
    known = (None, None) if lab is None or sd is None else (as_lab(lab), as_lab(sd))
    return HouseInk(as_lab(values["ratio"]), as_lab(values["ratio_sd"]), as_lab(values["lab"]), *known)


def remove_house(name: str) -> None:
    """Delete the reference called `name`, whatever its file holds; raises `PrintcheckError` where it can't."""
    path = reference_file(name)
    try:
        path.unlink()
    except FileNotFoundError:
        raise _unknown(name) from None
    except OSError as error:
        raise OutputError(
            f"reference {path} can't be removed: {error.strerror or error}; remove it by hand"
        ) from error


def _unknown(name: str) -> PrintcheckError:
    known = ", ".join(path.stem for path in sorted(references_folder().glob("*.json"))) or "none yet"
    return PrintcheckError(f"there is no reference '{name}'; known: {known}; see printcheck reference add")
