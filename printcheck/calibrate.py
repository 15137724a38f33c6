"""Calibrating a scanner by a sheet whose patches somebody has measured, and keeping the result."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printcheck.aside import write_aside
from printcheck.colour.calibration import Calibration, fit_calibration
from printcheck.colour.cgats import read_cgats
from printcheck.colour.house import references_folder
from printcheck.colour.lab import as_lab, lab_to_xyz, media_relative, xyz_to_lab
from printcheck.errors import InputError, PrintcheckError
from printcheck.measure.areas import Area
from printcheck.measure.colouring import ColourSettings, measure_colour
from printcheck.pipeline import score_image

__all__ = ["calibrate_by", "load_calibration", "patch_name", "save_calibration"]

_SCHEMA = "printcheck-calibration/1"
_PAPER = "paper"


def patch_name(area: Area) -> str:
    """Name of a patch in a file of values: ``solid C``, ``tint C``, ``wedge C 30``, ``overprint CM``."""
    name = f"{area.kind} {''.join(area.inks)}"
    return f"{name} {round(100 * area.tone)}" if area.kind == "wedge" else name


def calibrate_by(sheet: Path, values: Path, *, max_megapixels: float = 200.0) -> Calibration:
    """Fit the capture `sheet` to the CIELAB (or XYZ) in the CGATS.17 file `values`.

    Raises
    ------
    InputError
        One of the files can't be read, or names no patch of the sheet.
    PrintcheckError
        The sheet can't be found in the picture, or too few of its patches have values.
    """
    known = _values(values)
    if _PAPER not in known:
        raise InputError(f"{values} has no sample '{_PAPER}'; measure the bare paper too, colours are relative to it")
    scored = score_image(sheet, max_megapixels=max_megapixels)
    record = scored.sheet.capture
    if scored.registration is None or record.kind is None:
        raise PrintcheckError(f"{sheet} can't be calibrated by: {scored.sheet.assessment.reasons[0].text}")
    if record.kind != "scan":
        raise PrintcheckError(f"{sheet} is a photo: its light differs from the next one's; calibrate a scanner")
    found = measure_colour(
        scored.capture, scored.registration, record.kind, scored.sheet.solids, ColourSettings(), wedge=True
    )
    if found.areas is None:
        raise PrintcheckError(f"{sheet} can't be calibrated by: it shows no colour; scan it whole, in colour")
    areas = [a for ink in found.areas.values() for a in (ink.solid, *ink.tones) if a is not None]
    used = [(a, known[patch_name(a)]) for a in (*areas, *found.overprints) if patch_name(a) in known]
    if not used:
        raise InputError(f"{values} names no patch of this sheet; name samples like '{patch_name(areas[0])}'")
    paper = lab_to_xyz(known[_PAPER])
    lab = xyz_to_lab(media_relative(lab_to_xyz(np.array([v for _, v in used] + [known[_PAPER]])), paper))
    ratio = np.array([a.ratio for a, _ in used] + [np.ones(3)])
    return fit_calibration(ratio, lab, record.kind, scored.capture.profile)


def _values(path: Path) -> dict[str, NDArray[np.float64]]:
    out = {}
    for row in read_cgats(path):
        name = row.get("SAMPLE_NAME") or row.get("SAMPLE_ID") or ""
        try:
            if "LAB_L" in row:
                lab = np.array([float(row[k]) for k in ("LAB_L", "LAB_A", "LAB_B")])
            else:
                lab = xyz_to_lab(np.array([float(row[k]) for k in ("XYZ_X", "XYZ_Y", "XYZ_Z")]) / 100.0)
        except KeyError as error:
            raise InputError(
                f"{path} has no field {error}; LAB_L LAB_A LAB_B or XYZ_X XYZ_Y XYZ_Z are needed"
            ) from None
        except ValueError as error:
            raise InputError(f"{path}, sample '{name}': {error}; the table is damaged") from None
        out[name] = lab
    return out


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
        "delta_e00": fit.delta_e00,
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
            float(read["delta_e00"]),
        )  # fmt: skip
    except FileNotFoundError:
        raise PrintcheckError(f"there is no calibration '{name}'; see printcheck calibrate") from None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise PrintcheckError(f"calibration {path} is damaged ({error}); calibrate again") from error
