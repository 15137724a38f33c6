"""Published aims: CIELAB of the solids of reference printing conditions.

Values extracted from Fogra's and CGATS's published characterisation data; the file beside this module names the
source of each row. They are aims of offset inks: a guide for desktop inks, never a requirement.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from printcheck.colour.lab import Lab, as_lab, lab_to_xyz, media_relative, xyz_to_lab
from printcheck.errors import PrintcheckError

__all__ = ["DEFAULT_CONDITION", "PublishedCondition", "conditions", "published"]

DEFAULT_CONDITION = "FOGRA47L"
"""Uncoated white paper (type 4 of ISO 12647-2:2004): nearest to plain office paper."""

_CSV = Path(__file__).with_name("published_solids.csv")


@dataclass(frozen=True, slots=True)
class PublishedCondition:
    """One reference printing condition.

    Attributes
    ----------
    name : str
    source : str
    absolute : dict of str to (float, float, float)
        CIELAB D50 by patch: ``"Paper"``, inks (``"K"``, ``"C"``, ...), overprints (``"R"``, ``"G"``, ``"B"``,
        ``"CMY"``).
    relative : dict of str to (float, float, float)
        The same relative to the condition's own paper.
    """

    name: str
    source: str
    absolute: dict[str, Lab]
    relative: dict[str, Lab]


@lru_cache(maxsize=1)
def _table() -> dict[str, PublishedCondition]:
    rows: dict[str, dict[str, Lab]] = {}
    sources: dict[str, str] = {}
    with _CSV.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            rows.setdefault(row["condition"], {})[row["patch"]] = as_lab([row["L"], row["a"], row["b"]])
            sources[row["condition"]] = row["source"]
    out = {}
    for name, absolute in rows.items():
        paper = lab_to_xyz(absolute["Paper"])
        relative = {k: as_lab(xyz_to_lab(media_relative(lab_to_xyz(v), paper))) for k, v in absolute.items()}
        out[name] = PublishedCondition(name, sources[name], absolute, relative)
    return out


def conditions() -> tuple[str, ...]:
    """Names of all conditions in the table."""
    return tuple(_table())


def published(name: str = DEFAULT_CONDITION) -> PublishedCondition:
    """Return the condition called `name`.

    Raises
    ------
    PrintcheckError
        There is none of that name.
    """
    found = _table().get(name)
    if found is None:
        raise PrintcheckError(f"'{name}' is no published condition; known are {', '.join(_table())}")
    return found
