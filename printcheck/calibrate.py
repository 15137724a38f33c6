"""Calibrating a scanner by a sheet or chart whose patches somebody has measured, and keeping the result."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printcheck.aside import write_aside
from printcheck.capture.decode import read_captures
from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.capture.result import Capture
from printcheck.colour.calibration import CHART_INKS_SD, LEAST_PATCHES, Calibration, fit_calibration
from printcheck.colour.chart import ChartLayout, layouts_of, read_samples
from printcheck.colour.house import references_folder
from printcheck.colour.lab import as_lab, lab_to_xyz, media_relative, xyz_to_lab
from printcheck.colour.names import check_name
from printcheck.colour.plausible import check_fit, check_values, named
from printcheck.errors import InputError, PrintcheckError
from printcheck.limits import LIMITS
from printcheck.measure.areas import Area, light_to_xyz, linear_srgb
from printcheck.measure.chart import read_chart
from printcheck.measure.colouring import read_colour_areas
from printcheck.measure.paper import read_paper
from printcheck.parse import parse_json
from printcheck.pipeline import score_image
from printcheck.regular import read_regular

__all__ = [
    "calibrate_by",
    "calibration_file",
    "keep_calibration",
    "load_calibration",
    "parse_corners",
    "patch_name",
    "save_calibration",
]

_SCHEMA = "printcheck-calibration/2"
_PAPER = "paper"
_OF_A_SHEET = (_PAPER, "solid ", "tint ", "wedge ", "overprint ")
_NO_PHOTO = "its light differs from the next one's; calibrate a scanner"
_LEAST_UNCLIPPED = LIMITS["chart_unclipped"].value
_SAME_DELTA_E00 = LIMITS["calibration_same"].value
_PLAIN, _WHITE_L = LIMITS["chart_paper_chroma"].value, LIMITS["chart_paper_lightness"].value


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
    max_megapixels: float = DEFAULT_MAX_MEGAPIXELS,
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
        The sheet or chart can't be found in the picture, too few of its patches have values, or the values can't be
        those of what the picture shows.
    """
    samples = read_samples(values)
    if any(name.startswith(_OF_A_SHEET) for name in samples):
        return _by_sheet(capture, values, samples, max_megapixels)
    return _by_chart(capture, values, layouts_of(samples, values, grid), corners, max_megapixels)


def _by_chart(
    capture: Path, values: Path, layouts: tuple[ChartLayout, ...], corners: NDArray[np.float64] | None,
    max_megapixels: float,
) -> Calibration:  # fmt: skip
    picture = next(iter(read_captures(capture, max_megapixels=max_megapixels)))
    if picture.camera:
        raise PrintcheckError(f"{capture} is a photo: {_NO_PHOTO}")
    if picture.grey:
        raise PrintcheckError(f"{capture} is grey; scan the chart in colour")
    try:
        reading = read_chart(picture.pixels, layouts, corners)
    except PrintcheckError as error:
        one = layouts[0]
        raise PrintcheckError(
            f"{capture}: {error}; {values} places {len(one.names)} samples on {one.rows} by {one.columns}: where the "
            "chart has more, the file must hold them too"
        ) from None
    names, absolute = reading.layout.names, reading.layout.lab
    clipped = reading.light.max(axis=1) >= LIMITS["light_clipped"].value
    lost = tuple(name for name, cut in zip(names, clipped, strict=True) if cut)
    if (~clipped).sum() < max(LEAST_PATCHES, _LEAST_UNCLIPPED * len(names)):
        raise PrintcheckError(
            f"{capture}: {len(lost)} of {len(names)} patches are lighter than the scan can show ({named(lost)}); "
            "scan the chart with less exposure, and all automatic corrections off"
        )
    light = linear_srgb(reading.light, picture.icc)
    white = _white_patch(absolute, clipped, values)
    used = np.flatnonzero(~clipped)
    fit = _fitted(
        [names[k] for k in used], light[used] / np.maximum(light[white], 1e-6), absolute[used], absolute[white],
        light[white], values, picture,
    )  # fmt: skip
    # its patches are printed in other inks than any sheet's, of other spectra, which their own error can't show
    return replace(
        fit, clipped=lost, sd=as_lab(np.hypot(fit.sd, CHART_INKS_SD)),
        near_sd=as_lab(np.hypot(fit.near_sd or fit.sd, CHART_INKS_SD)),
    )  # fmt: skip


def _white_patch(absolute: NDArray[np.float64], clipped: NDArray[np.bool_], values: Path) -> int:
    """Number of the patch that stands in for paper, which colours are relative to: the lightest one without colour.

    `absolute` are the values (N, 3), CIELAB; `clipped` (N,) patches are lighter than the scan can show.
    """
    plain = (np.hypot(absolute[:, 1], absolute[:, 2]) < _PLAIN) & ~clipped
    white = int(np.where(plain, absolute[:, 0], -np.inf).argmax())
    if not plain[white] or absolute[white, 0] < _WHITE_L:
        dark = "; those it has are lighter than the scan can show: scan with less exposure" if clipped.any() else ""
        raise PrintcheckError(
            f"{values} holds no white patch (L* above {_WHITE_L:.0f}), which the others are relative to{dark}"
        )
    return white


def _fitted(
    names: list[str], ratio: NDArray[np.float64], absolute: NDArray[np.float64], paper: NDArray[np.float64],
    paper_light: NDArray[np.float64], values: Path, picture: Capture,
) -> Calibration:  # fmt: skip
    """Fit light (N, 3) relative to paper to CIELAB (N, 3), absolute as paper's, which has `paper_light`."""
    check_values(names, absolute, paper, str(values))
    lab = xyz_to_lab(media_relative(lab_to_xyz(absolute), lab_to_xyz(paper)))
    fit = fit_calibration(ratio, lab, "scan", picture.profile, picture.source, as_lab(paper_light))
    check_fit(names, ratio, xyz_to_lab(light_to_xyz(ratio)), lab, str(values))
    return fit


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
    found = read_colour_areas(
        scored.capture, scored.registration, read_paper(scored.capture.pixels, scored.registration), wedge=True
    )
    if found is None:
        raise PrintcheckError(f"{sheet} can't be calibrated by: it shows no colour; scan it whole, in colour")
    if not found.inks:
        raise PrintcheckError(f"{sheet} shows a toner sheet, which has no colours to calibrate by; scan an ink sheet")
    if found.paper.mean.max() >= LIMITS["paper_burnt"].value:
        raise PrintcheckError(
            f"{sheet} can't be calibrated by: its paper is lighter than the scan can show; scan it with less "
            "exposure, and all automatic corrections off"
        )
    areas = [a for ink in found.inks.values() for a in (ink.solid, *ink.tones) if a is not None]
    used = [a for a in (*areas, *found.overprints) if patch_name(a) in known]
    if not used:
        raise InputError(f"{values} names no patch of this sheet; name samples like '{patch_name(areas[0])}'")
    names = [*(patch_name(a) for a in used), _PAPER]
    absolute = np.array([known[name] for name in names])
    ratio = np.array([*(a.ratio for a in used), np.ones(3)])
    bare = np.mean([a.paper for a in used], axis=0)
    return _fitted(names, ratio, absolute, known[_PAPER], bare, values, scored.capture)


def calibration_file(name: str) -> Path:
    """Return the file the calibration called `name` is kept in; raises `PrintcheckError` where it can't name one."""
    return references_folder() / "calibrations" / f"{check_name(name, 'calibration')}.json"


def save_calibration(name: str, fit: Calibration) -> Path:
    """Keep `fit` under `name`; returns its file. Raises `PrintcheckError` where it can't be written."""
    path = calibration_file(name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise PrintcheckError(f"{path.parent} can't be made: {error.strerror}") from error
    document = {
        "schema": _SCHEMA, "kind": fit.kind, "profile": fit.profile, "degree": fit.degree,
        "coefficients": fit.coefficients.tolist(), "fitted": fit.fitted.tolist(), "sd": list(fit.sd),
        "delta_e00": fit.delta_e00, "source": fit.source,
        "near_sd": list(fit.near_sd or fit.sd), "growth": list(fit.growth),
        "paper": None if fit.paper is None else list(fit.paper),
    }  # fmt: skip
    write_aside(path, (json.dumps(document) + "\n").encode())
    return path


def keep_calibration(name: str, fit: Calibration, *, replace_better: bool = False) -> Calibration | None:
    """Keep `fit` under `name`; returns the calibration that it replaces, if one was there and whole.

    Raises
    ------
    PrintcheckError
        One is kept whose error is clearly less, and `replace_better` is not said.
    """
    old = None
    if calibration_file(name).exists():
        with suppress(PrintcheckError):  # a damaged one is no loss
            old = load_calibration(name)
    most = LIMITS["calibration_worse"].value
    if old is not None and not replace_better and fit.delta_e00 > most * max(old.delta_e00, _SAME_DELTA_E00):
        raise PrintcheckError(
            f"not kept: this fit leaves {fit.delta_e00:.2f} deltaE00, the calibration '{name}' that it would replace "
            f"{old.delta_e00:.2f} (median); give it another --name, or --replace to have it all the same"
        )
    save_calibration(name, fit)
    return old


def load_calibration(name: str) -> Calibration:
    """Return the calibration called `name`; raises `PrintcheckError` where there is none, or it is damaged."""
    path = calibration_file(name)
    try:
        if not path.exists():
            raise PrintcheckError(f"there is no calibration '{name}'; see printcheck calibrate")
        read = parse_json(read_regular(path, "a file that printcheck calibrate wrote"))
        if read["schema"] != _SCHEMA:
            raise ValueError(read["schema"])
        coefficients, fitted = np.array(read["coefficients"], float), np.array(read["fitted"], float)
        found = Calibration(
            str(read["kind"]), str(read["profile"]), int(read["degree"]), coefficients, fitted, as_lab(read["sd"]),
            float(read["delta_e00"]), source=str(read["source"]), near_sd=as_lab(read["near_sd"]),
            growth=as_lab(read["growth"]),
            paper=None if read.get("paper") is None else as_lab(read["paper"]),  # not kept by earlier versions
        )  # fmt: skip
        if (flaw := found.flaw()) is not None:
            raise ValueError(flaw)
        return found
    except (OSError, ValueError, KeyError, TypeError, OverflowError, InputError) as error:
        raise PrintcheckError(f"calibration {path} is damaged ({error}); calibrate again") from error
