"""How the patches of a colour chart lie, from the names its CGATS.17 file gives them.

Charts name their patches by row and column (``A1`` to ``L22``, the naming of ISO 12641-1 targets) or number them in
reading order. Which of letter and number counts rows is not always the same, so both are kept open: the picture
tells, by the colours that lie where.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printcheck.colour.cgats import read_cgats
from printcheck.colour.difference import delta_e00
from printcheck.colour.lab import D50_WHITE, lab_flaw, xyz_to_lab
from printcheck.errors import InputError
from printcheck.limits import LIMITS

__all__ = ["ChartLayout", "layouts_of", "parse_grid", "read_samples", "sample_name"]

_LETTERED = re.compile(r"([A-Za-z]{1,2})[ _-]?0*([1-9]\d{0,2})")
_NUMBERED = re.compile(r"0*([1-9]\d{0,3})")
_GRID = re.compile(r"([1-9]\d{0,2})\s*[xX]\s*([1-9]\d{0,2})")
_LAB, _XYZ = ("LAB_L", "LAB_A", "LAB_B"), ("XYZ_X", "XYZ_Y", "XYZ_Z")
_DEVICE = ("RGB_R", "RGB_G", "RGB_B")
_XYZ_TO_ONE = 1.5  # largest XYZ of a file on a scale to 1; on one to 100 all of it would be blacker than ink
_NOISE_XYZ = 0.005  # an instrument's own, in the deepest blacks
LEAST_SAMPLES = 12  # of a file of values, as many as a calibration needs


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
    names : tuple of str
        As the file names them.
    """

    rows: int
    columns: int
    places: NDArray[np.int_]
    lab: NDArray[np.float64]
    names: tuple[str, ...]


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


def read_samples(path: Path) -> dict[str, NDArray[np.float64]]:
    """CIELAB D50 (3,), absolute, of every named sample of a CGATS.17 file, from its CIELAB or its XYZ (0 to 100).

    A sample that was measured more than once has the mean of its values.

    Raises
    ------
    InputError
        The file can't be read, a sample has no colour, or one that none has, or two that contradict each other.
    """
    rows = read_cgats(path)
    if "LAB_L" not in rows[0]:
        _check_scale(rows, path)
    found: dict[str, list[NDArray[np.float64]]] = {}
    device: dict[tuple[str, ...], tuple[str, NDArray[np.float64]]] = {}
    for row in rows:
        name, lab = sample_name(row), _sample_lab(row, path)
        _check_repeat(name, lab, ((name, known) for known in found.get(name, ())), path)
        if (fill := tuple(row.get(field, "") for field in _DEVICE)) != ("", "", ""):
            _check_repeat(name, lab, [device[fill]] if fill in device else [], path)
            device[fill] = name, lab
        if name:
            found.setdefault(name, []).append(lab)
    return {name: np.mean(labs, axis=0) for name, labs in found.items()}


def _check_repeat(
    name: str, lab: NDArray[np.float64], before: Iterable[tuple[str, NDArray[np.float64]]], path: Path
) -> None:
    """Refuse a colour that differs from what the same sample, or the same device colour, had before."""
    for other, known in before:
        if (apart := float(delta_e00(lab, known))) > LIMITS["values_repeat"].value:
            whose = f"sample '{name}' twice" if name == other else f"samples '{other}' and '{name}', of the same RGB,"
            raise InputError(
                f"{path} holds {whose} with colours {apart:.1f} deltaE00 apart; keep the value that is right"
            )


def _check_scale(rows: list[dict[str, str]], path: Path) -> None:
    """Refuse XYZ on a scale to 1: taken for percents, all of it would be black."""
    try:
        most = max(float(row[k]) for row in rows for k in _XYZ)
    except (KeyError, ValueError):
        return  # told with the sample's name
    if 0.0 < most <= _XYZ_TO_ONE:
        raise InputError(f"{path}: no XYZ is above {most:.2f}, their scale ends at 1; write them on a scale to 100")


def _sample_lab(row: dict[str, str], path: Path) -> NDArray[np.float64]:
    name = sample_name(row)
    try:
        if "LAB_L" in row:
            lab = np.array([float(row[k]) for k in _LAB])
        else:
            xyz = np.array([float(row[k]) for k in _XYZ]) / 100.0
            if (xyz < -_NOISE_XYZ).any():
                raise InputError(f"{path}: sample '{name}' has negative XYZ; measure it again, or leave it out")
            lab = xyz_to_lab(np.minimum(xyz, 1e6), D50_WHITE)
    except KeyError as error:
        raise InputError(f"{path} has no field {error}; it takes LAB_L LAB_A LAB_B, or XYZ_X XYZ_Y XYZ_Z") from None
    except ValueError as error:
        raise InputError(f"{path}: sample '{name}' holds no number ({error})") from None
    if (flaw := lab_flaw(lab)) is not None:
        raise InputError(f"{path}: sample '{name}' {flaw}; measure it again, or leave it out")
    return lab


def layouts_of(
    samples: Mapping[str, NDArray[np.float64]], path: Path, grid: tuple[int, int] | None
) -> tuple[ChartLayout, ...]:
    """Ways the patches of the chart measured in `path` may lie; the picture decides between them.

    Parameters
    ----------
    samples : mapping of str to (3,) float64
        What `read_samples` gave of it: a pipe can be read once.
    path : Path
        For messages.
    grid : (int, int) or None
        Rows and columns of a chart whose patches are numbered in reading order.

    Raises
    ------
    InputError
        The file does not say how the patches lie.
    """
    placed = [(_letters(m[1]), int(m[2]) - 1, n) for n in samples if (m := _LETTERED.fullmatch(n)) is not None]
    if len(placed) >= LEAST_SAMPLES:
        names = tuple(name for *_, name in placed)
        known = np.array([samples[name] for name in names])
        at = np.array([(a, b) for a, b, _ in placed])
        at = at - at.min(axis=0)  # a chart may be cut, or count from elsewhere
        return tuple(
            ChartLayout(int(p[:, 0].max()) + 1, int(p[:, 1].max()) + 1, p, known, names)
            for p in (at, at[:, ::-1].copy())
        )
    counted = sorted((int(m[1]) - 1, n) for n in samples if (m := _NUMBERED.fullmatch(n)) is not None)
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
    names = tuple(name for _, name in counted)
    known = np.array([samples[name] for name in names])
    along = np.column_stack([index // grid[1], index % grid[1]])
    down = np.column_stack([index % grid[0], index // grid[0]])  # numbered column by column
    return tuple(ChartLayout(*grid, p, known, names) for p in (along, down))


def _letters(text: str) -> int:
    value = 0
    for letter in text.upper():
        value = 26 * value + ord(letter) - ord("A") + 1
    return value - 1
