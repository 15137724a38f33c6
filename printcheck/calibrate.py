"""Calibrating a scanner by a sheet or chart whose patches somebody has measured, and keeping the result."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printcheck.aside import write_aside
from printcheck.capture.decode import read_captures
from printcheck.colour.calibration import Calibration, fit_calibration
from printcheck.colour.cgats import read_cgats
from printcheck.colour.chart import layouts_of, sample_lab, sample_name
from printcheck.colour.house import references_folder
from printcheck.colour.lab import as_lab, lab_to_xyz, media_relative, xyz_to_lab
from printcheck.errors import InputError, PrintcheckError
from printcheck.measure.areas import Area, linear_srgb
from printcheck.measure.chart import read_chart
from printcheck.measure.colouring import read_colour_areas
from printcheck.pipeline import score_image

__all__ = ["calibrate_by", "load_calibration", "parse_corners", "patch_name", "save_calibration"]

_SCHEMA = "printcheck-calibration/2"
_PAPER = "paper"
_OF_A_SHEET = (_PAPER, "solid ", "tint ", "wedge ", "overprint ")
_NO_PHOTO = "its light differs from the next one's; calibrate a scanner"
_PLAIN, _WHITE_L = 12.0, 70.0  # chroma and lightness of a patch that may stand in for paper, CIELAB


def patch_name(area: Area) -> str:
    """Name of a patch in a file of values: ``solid C``, ``tint C``, ``wedge C 30``, ``overprint CM``."""
    name = f"{area.kind} {''.join(area.inks)}"
    return f"{name} {round(100 * area.tone)}" if area.kind == "wedge" else name


def calibrate_by(
    capture: Path,
    values: Path,
    *,
    grid: tuple[int, int] | None = None,
    corners: NDArray[np.float64] | None = None,
    max_megapixels: float = 200.0,
) -> Calibration:
    """Fit `capture` to the CIELAB (or XYZ) in the CGATS.17 file `values`.

    Parameters
    ----------
    capture : Path
        Scan of a printed test sheet, or of any chart of patches on a grid; `values` names the one or the other.
    grid, corners
        Of a chart, see `colour.chart.layouts_of` and `measure.chart.read_chart`.

    Raises
    ------
    InputError
        One of the files can't be read, or names no patch of the sheet.
    PrintcheckError
        The sheet or chart can't be found in the picture, or too few of its patches have values.
    """
    known = {sample_name(row): row for row in read_cgats(values)}
    if any(name.startswith(_OF_A_SHEET) for name in known):
        named = {name: sample_lab(row, values) for name, row in known.items()}
        return _by_sheet(capture, values, named, max_megapixels)
    layouts = layouts_of(values, grid)
    picture = next(iter(read_captures(capture, max_megapixels=max_megapixels)))
    if picture.camera:
        raise PrintcheckError(f"{capture} is a photo: {_NO_PHOTO}")
    if picture.grey:
        raise PrintcheckError(f"{capture} is grey; scan the chart in colour")
    reading = read_chart(picture.pixels, layouts, corners)
    light, lab = linear_srgb(reading.light, picture.icc), reading.layout.lab
    # colours are relative to paper: on a chart the lightest patch without colour stands in for it
    plain = np.hypot(lab[:, 1], lab[:, 2]) < _PLAIN
    white = int(np.where(plain, lab[:, 0], -1.0).argmax())
    if not plain[white] or lab[white, 0] < _WHITE_L:
        raise PrintcheckError(
            f"{values} holds no white patch (L* above {_WHITE_L:.0f}), which the others are relative to"
        )
    relative = xyz_to_lab(media_relative(lab_to_xyz(lab), lab_to_xyz(lab[white])))
    ratio = light / np.maximum(light[white], 1e-6)
    return fit_calibration(ratio, relative, "scan", picture.profile, picture.source)


def parse_corners(text: str) -> NDArray[np.float64]:
    """Four (x, y) in pixels, (4, 2), of ``"x,y x,y x,y x,y"``; raises `InputError` for anything else."""
    try:
        corners = np.array([[float(v) for v in pair.split(",")] for pair in text.split()])
    except ValueError:
        corners = np.zeros(0)
    if corners.shape != (4, 2) or not np.isfinite(corners).all():
        raise InputError(f"'{text}' is not four corners; give them as --corners 'x,y x,y x,y x,y', in pixels")
    return corners


def _by_sheet(sheet: Path, values: Path, known: dict[str, NDArray[np.float64]], max_megapixels: float) -> Calibration:
    if _PAPER not in known:
        raise InputError(f"{values} has no sample '{_PAPER}'; measure the bare paper too, colours are relative to it")
    scored = score_image(sheet, max_megapixels=max_megapixels)
    record = scored.sheet.capture
    if scored.registration is None or record.kind is None:
        raise PrintcheckError(f"{sheet} can't be calibrated by: {scored.sheet.assessment.reasons[0].text}")
    if record.kind != "scan":
        raise PrintcheckError(f"{sheet} is a photo: {_NO_PHOTO}")
    found = read_colour_areas(scored.capture, scored.registration, wedge=True)
    if found is None:
        raise PrintcheckError(f"{sheet} can't be calibrated by: it shows no colour; scan it whole, in colour")
    areas = [a for ink in found.inks.values() for a in (ink.solid, *ink.tones) if a is not None]
    used = [(a, known[patch_name(a)]) for a in (*areas, *found.overprints) if patch_name(a) in known]
    if not used:
        raise InputError(f"{values} names no patch of this sheet; name samples like '{patch_name(areas[0])}'")
    paper = lab_to_xyz(known[_PAPER])
    lab = xyz_to_lab(media_relative(lab_to_xyz(np.array([v for _, v in used] + [known[_PAPER]])), paper))
    ratio = np.array([a.ratio for a, _ in used] + [np.ones(3)])
    return fit_calibration(ratio, lab, record.kind, scored.capture.profile, scored.capture.source)


def _path(name: str) -> Path:
    if not name or not all(c.isalnum() or c in " ._-" for c in name) or name.startswith("."):
        raise PrintcheckError(f"'{name}' can't name a calibration; use letters, digits, spaces, dots, dashes")
    return references_folder() / "calibrations" / f"{name}.json"


def save_calibration(name: str, fit: Calibration) -> Path:
    """Keep `fit` under `name`; returns its file."""
    path = _path(name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise PrintcheckError(f"{path.parent} can't be made: {error.strerror}") from error
    document = {
        "schema": _SCHEMA, "kind": fit.kind, "profile": fit.profile, "degree": fit.degree,
        "coefficients": fit.coefficients.tolist(), "fitted": fit.fitted.tolist(), "sd": list(fit.sd),
        "delta_e00": fit.delta_e00, "source": fit.source,
        "near_sd": list(fit.near_sd or fit.sd), "growth": list(fit.growth),
    }  # fmt: skip
    write_aside(path, (json.dumps(document) + "\n").encode())
    return path


def load_calibration(name: str) -> Calibration:
    """Return the calibration called `name`; raises `PrintcheckError` where there is none, or it is damaged."""
    path = _path(name)
    try:
        read = json.loads(path.read_text(encoding="utf-8"))
        if read["schema"] != _SCHEMA:
            raise ValueError(read["schema"])
        coefficients, fitted = np.array(read["coefficients"], float), np.array(read["fitted"], float)
        return Calibration(
            str(read["kind"]), str(read["profile"]), int(read["degree"]), coefficients, fitted, as_lab(read["sd"]),
            float(read["delta_e00"]), source=str(read["source"]), near_sd=as_lab(read["near_sd"]),
            growth=as_lab(read["growth"]),
        )  # fmt: skip
    except FileNotFoundError:
        raise PrintcheckError(f"there is no calibration '{name}'; see printcheck calibrate") from None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise PrintcheckError(f"calibration {path} is damaged ({error}); calibrate again") from error
