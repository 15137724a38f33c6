"""How the patches of a colour chart lie, from the names its CGATS.17 file gives them.

Charts name their patches by row and column (``A1`` to ``L22``, the naming of ISO 12641-1 targets) or number them in
reading order. Which of letter and number counts rows is not always the same, so both are kept open: the picture
tells, by the colours that lie where.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printcheck.colour.cgats import read_cgats
from printcheck.colour.lab import D50_WHITE, xyz_to_lab
from printcheck.errors import InputError

__all__ = ["ChartLayout", "layouts_of", "parse_grid", "sample_lab", "sample_name"]

_LETTERED = re.compile(r"([A-Za-z]{1,2})[ _-]?0*([1-9]\d{0,2})")
_NUMBERED = re.compile(r"0*([1-9]\d{0,3})")
_GRID = re.compile(r"([1-9]\d{0,2})\s*[xX]\s*([1-9]\d{0,2})")
LEAST_SAMPLES = 12


@dataclass(frozen=True, slots=True)
class ChartLayout:
    """Patches on a grid.

    Attributes
    ----------
    rows, columns : int
    places : (N, 2) int
        Row and column of each patch, from 0.
    lab : (N, 3) float64
        Its CIELAB D50, absolute.
    """

    rows: int
    columns: int
    places: NDArray[np.int_]
    lab: NDArray[np.float64]


def parse_grid(text: str) -> tuple[int, int]:
    """Rows and columns of ``"4x6"``.

    Raises
    ------
    InputError
        It is nothing of that form.
    """
    found = _GRID.fullmatch(text.strip())
    if found is None:
        raise InputError(f"'{text}' is no grid; give rows x columns, as in --grid 4x6")
    return int(found[1]), int(found[2])


def sample_name(row: dict[str, str]) -> str:
    """Name of a sample: its location on the chart where one is given, else its name or number."""
    for field in ("SAMPLE_LOC", "SAMPLE_NAME", "SAMPLE_ID"):
        if row.get(field):
            return row[field].strip()
    return ""


def sample_lab(row: dict[str, str], path: Path) -> NDArray[np.float64]:
    """CIELAB D50 (3,) of a sample, from its CIELAB or its XYZ (0 to 100).

    Raises
    ------
    InputError
        It has neither, or no numbers.
    """
    try:
        if "LAB_L" in row:
            lab = np.array([float(row[k]) for k in ("LAB_L", "LAB_A", "LAB_B")])
        else:
            lab = xyz_to_lab(np.array([float(row[k]) for k in ("XYZ_X", "XYZ_Y", "XYZ_Z")]) / 100.0, D50_WHITE)
    except KeyError as error:
        raise InputError(f"{path} has no field {error}; it takes LAB_L LAB_A LAB_B, or XYZ_X XYZ_Y XYZ_Z") from None
    except ValueError as error:
        raise InputError(f"{path}: sample '{sample_name(row)}' holds no number ({error})") from None
    if not np.isfinite(lab).all() or not -5.0 <= lab[0] <= 150.0:
        raise InputError(f"{path}: sample '{sample_name(row)}' is no CIELAB colour: {lab.tolist()}")
    return lab


def layouts_of(path: Path, grid: tuple[int, int] | None) -> tuple[ChartLayout, ...]:
    """Ways the patches of the chart measured in `path` may lie; the picture decides between them.

    Parameters
    ----------
    grid : (int, int) or None
        Rows and columns of a chart whose patches are numbered in reading order.

    Raises
    ------
    InputError
        The file can't be read, or does not say how the patches lie.
    """
    rows = read_cgats(path)
    names = [sample_name(row) for row in rows]
    lettered = [(_LETTERED.fullmatch(name), row) for name, row in zip(names, rows, strict=True)]
    placed = [(_letters(m[1]), int(m[2]) - 1, row) for m, row in lettered if m is not None]
    if len(placed) >= LEAST_SAMPLES:
        known = np.array([sample_lab(row, path) for *_, row in placed])
        at = np.array([(a, b) for a, b, _ in placed])
        at = at - at.min(axis=0)  # a chart may be cut, or count from elsewhere
        return tuple(
            ChartLayout(int(p[:, 0].max()) + 1, int(p[:, 1].max()) + 1, p, known) for p in (at, at[:, ::-1].copy())
        )
    numbered = [(_NUMBERED.fullmatch(name), row) for name, row in zip(names, rows, strict=True)]
    counted = sorted((int(m[1]) - 1, k) for k, (m, _) in enumerate(numbered) if m is not None)
    if len(counted) < LEAST_SAMPLES:
        raise InputError(
            f"{path} places only {max(len(placed), len(counted))} patches; name samples by row and column, "
            f"as in A1, or number them, {LEAST_SAMPLES} at least"
        )
    if grid is None:
        raise InputError(f"{path} numbers its {len(counted)} samples; say how they lie with --grid ROWSxCOLUMNS")
    if counted[-1][0] >= grid[0] * grid[1]:
        raise InputError(
            f"{path} numbers samples up to {counted[-1][0] + 1}, a grid of {grid[0]}x{grid[1]} has fewer"
        )
    index = np.array([n for n, _ in counted])
    known = np.array([sample_lab(rows[k], path) for _, k in counted])
    along = np.column_stack([index // grid[1], index % grid[1]])
    down = np.column_stack([index % grid[0], index // grid[0]])  # numbered column by column
    return tuple(ChartLayout(*grid, p, known) for p in (along, down))


def _letters(text: str) -> int:
    value = 0
    for letter in text.upper():
        value = 26 * value + ord(letter) - ord("A") + 1
    return value - 1
