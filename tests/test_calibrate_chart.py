"""Charts drawn by general libraries (scikit-image for the colours, OpenCV for the picture), found and fitted.

No scan of a real chart is at hand: both grids are drawn, in the two common ways, with bare strips between the patches
and without, and seen through a scanner whose channels are not sRGB's.
"""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, lab2xyz

from printcheck.calibrate import calibrate_by, keep_calibration, load_calibration, parse_corners, save_calibration
from printcheck.colour.chart import ChartLayout, layouts_of, parse_grid, read_samples
from printcheck.errors import InputError, PrintcheckError

Floats = NDArray[np.float64]
# what this scanner sees of XYZ (D50): sRGB's own matrix (IEC 61966-2-1, Bradford-adapted), its channels mixed further
CHANNELS = np.array([[0.9, 0.08, 0.02], [0.05, 0.92, 0.03], [0.0, 0.07, 0.93]]) @ np.array(
    [[3.1341359, -1.6173863, -0.4906619], [-0.9787955, 1.9162544, 0.0334427], [0.0719554, -0.2289769, 1.4053860]]
)


def colours(count: int, seed: int = 3) -> Floats:
    """CIELAB of `count` patches: a grey scale, the rest spread over what prints show."""
    rng = np.random.default_rng(seed)
    grey = [[light, 0.0, 0.0] for light in np.linspace(95, 25, 6)]
    rest = np.column_stack([rng.uniform(35, 85, count - 6), rng.uniform(-35, 35, (count - 6, 2))])
    return rng.permutation(np.vstack([grey, rest]))


def encoded(lab: Floats) -> NDArray[np.uint8]:
    xyz = lab2xyz(lab[None], illuminant="D50")[0]
    light = np.clip(xyz @ CHANNELS.T, 0, 1)
    steps = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(255 * steps).astype(np.uint8)


def drawn(
    lab: Floats, rows: int, columns: int, *, gap: int, patch: int = 34, turn: float = 1.5, quarter: int = 0,
    background: int = 240,
) -> NDArray[np.uint8]:  # fmt: skip
    """Picture, B, G, R, of a chart whose patches lie in reading order; turned by `turn` degrees, and quarters."""
    pitch, margin = patch + gap, 70
    image = np.full((rows * pitch + 2 * margin, columns * pitch + 2 * margin, 3), background, np.uint8)
    image[margin - gap : margin + rows * pitch, margin - gap : margin + columns * pitch] = 30 if gap else 240
    for k, rgb in enumerate(encoded(lab)):
        y, x = margin + pitch * (k // columns), margin + pitch * (k % columns)
        image[y : y + patch, x : x + patch] = rgb[::-1]
    size = image.shape[1], image.shape[0]
    plane = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), turn, 1.0)
    image = cv2.warpAffine(image, plane, size, borderValue=(background,) * 3)
    image = cv2.GaussianBlur(np.rot90(image, quarter).copy(), (0, 0), 0.8)
    noise = np.random.default_rng(1).normal(0, 1.5, image.shape)
    return np.clip(np.rint(image + noise), 0, 255).astype(np.uint8)


def named(rows: int, columns: int, *, letter_rows: bool = True) -> list[str]:
    places = [(r, c) for r in range(rows) for c in range(columns)]
    return [f"{chr(65 + (r if letter_rows else c))}{1 + (c if letter_rows else r)}" for r, c in places]


def write_values(path: Path, names: list[str], lab: Floats) -> Path:
    body = "\n".join(f"{n} {v[0]:.3f} {v[1]:.3f} {v[2]:.3f}" for n, v in zip(names, lab, strict=True))
    path.write_text(
        f"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n{body}\nEND_DATA\n",
        encoding="utf-8",
    )
    return path


def write_scan(path: Path, image: NDArray[np.uint8]) -> Path:
    assert cv2.imwrite(str(path), image)
    return path


def misread(fit: object, lab: Floats) -> Floats:
    """CIEDE2000 of colours that were not on the chart, seen by the same scanner and read through the fit."""
    light = lab2xyz(lab[None], illuminant="D50")[0] @ CHANNELS.T
    white = lab2xyz(np.array([[[95.0, 0, 0]]]), illuminant="D50")[0, 0]
    read = np.array([fit.lab(v / (CHANNELS @ white)) for v in light])  # type: ignore[attr-defined]
    xyz = lab2xyz(lab[None], illuminant="D50")[0] / white
    f = np.cbrt(xyz)
    true = np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)
    return np.asarray(deltaE_ciede2000(read, true))


CHARTS = [
    pytest.param(4, 6, 12, True, 0, id="24 patches, apart"),
    pytest.param(4, 6, 12, False, 1, id="24 patches, letters across, lying on its side"),
    pytest.param(12, 22, 0, True, 0, id="12 by 22, touching"),
    pytest.param(12, 22, 3, True, 2, id="12 by 22, upside down"),
]


@pytest.mark.parametrize(("rows", "columns", "gap", "letter_rows", "quarter"), CHARTS)
def test_a_chart_is_found_and_fitted(
    tmp_path: Path, rows: int, columns: int, gap: int, letter_rows: bool, quarter: int
) -> None:
    lab = colours(rows * columns)
    values = write_values(tmp_path / "chart.txt", named(rows, columns, letter_rows=letter_rows), lab)
    scan = write_scan(tmp_path / "chart.png", drawn(lab, rows, columns, gap=gap, quarter=quarter))
    fit = calibrate_by(scan, values)
    assert len(fit.fitted) == rows * columns - len(fit.clipped)
    assert len(fit.clipped) <= 7  # the few colours outside sRGB, and one at its edge
    assert fit.kind == "scan"
    # the scanner is linear in XYZ, so the fit ought to be nearly exact; a chart misplaced by one patch gives > 10
    assert fit.delta_e00 < 1.0
    middle = np.array([[60, 10, 5], [50, -20, 10], [70, 5, 25], [55, 0, -20]], float)
    assert np.median(misread(fit, middle)) < 1.5


def test_values_that_a_shell_pipes_in_are_read_once_and_do(tmp_path: Path) -> None:
    lab = colours(24)
    values = write_values(tmp_path / "chart.txt", named(4, 6), lab)
    scan = write_scan(tmp_path / "chart.png", drawn(lab, 4, 6, gap=12))
    from_end, to_end = os.pipe()
    os.write(to_end, values.read_bytes())
    os.close(to_end)
    try:
        piped = calibrate_by(scan, Path(f"/dev/fd/{from_end}"))
        assert piped.fitted.tolist() == calibrate_by(scan, values).fitted.tolist()
    finally:
        os.close(from_end)


def test_numbered_patches_take_a_grid(tmp_path: Path) -> None:
    lab = colours(24)
    values = write_values(tmp_path / "chart.txt", [str(k + 1) for k in range(24)], lab)
    scan = write_scan(tmp_path / "chart.png", drawn(lab, 4, 6, gap=10))
    with pytest.raises(InputError, match="--grid"):
        calibrate_by(scan, values)
    assert calibrate_by(scan, values, grid=parse_grid("4x6")).delta_e00 < 1.0
    with pytest.raises(InputError, match="has fewer"):
        calibrate_by(scan, values, grid=(4, 5))
    with pytest.raises(InputError, match="no grid"):
        parse_grid("four by six")


def test_corners_place_a_chart_that_is_not_found(tmp_path: Path) -> None:
    lab = colours(24)
    values = write_values(tmp_path / "chart.txt", named(4, 6), lab)
    image = drawn(lab, 4, 6, gap=10, turn=0.0)
    height, width = image.shape[:2]
    # a leaf that stands up from the glass: no lattice of equal steps
    here = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    there = np.array([[60, 0], [width - 160, 70], [width, height], [0, height - 10]], np.float32)
    plane = cv2.getPerspectiveTransform(here, there)
    leaning = cv2.warpPerspective(image, plane, (width, height), borderValue=(240, 240, 240))
    scan = write_scan(tmp_path / "chart.png", leaning)
    with pytest.raises(PrintcheckError, match="--corners"):
        calibrate_by(scan, values)
    x0, x1, y1 = 70 + 17, 70 + 17 + 5 * 44, 70 + 17 + 3 * 44
    corners = cv2.perspectiveTransform(np.array([[[x0, x0], [x1, x0], [x1, y1], [x0, y1]]], float), plane)[0]
    text = " ".join(f"{x:.0f},{y:.0f}" for x, y in corners)
    assert calibrate_by(scan, values, corners=parse_corners(text)).delta_e00 < 1.0
    with pytest.raises(InputError, match="four corners"):
        parse_corners("1,2 3,4")


def test_another_chart_is_refused(tmp_path: Path) -> None:
    values = write_values(tmp_path / "chart.txt", named(4, 6), colours(24, seed=8))
    scan = write_scan(tmp_path / "chart.png", drawn(colours(24, seed=9), 4, 6, gap=10))
    with pytest.raises(PrintcheckError, match="not those of the file") as refusal:
        calibrate_by(scan, values)
    assert "\n" not in str(refusal.value)


def test_a_chart_without_white_is_refused(tmp_path: Path) -> None:
    lab = colours(24)
    lab[:, 1] += 40.0
    lab[:, 0] *= 0.7
    values = write_values(tmp_path / "chart.txt", named(4, 6), lab)
    with pytest.raises(PrintcheckError, match="white patch"):
        calibrate_by(write_scan(tmp_path / "chart.png", drawn(lab, 4, 6, gap=10)), values)


def of_file(path: Path) -> tuple[ChartLayout, ...]:
    return layouts_of(read_samples(path), path, None)


def test_names_give_places(tmp_path: Path) -> None:
    lab = colours(24)
    by_row, by_column = of_file(write_values(tmp_path / "a.txt", named(4, 6), lab))
    assert (by_row.rows, by_row.columns, by_column.rows) == (4, 6, 6)
    assert by_row.places[7].tolist() == [1, 1]
    names = [f"{n[0]}0{n[1:]}" for n in named(4, 6)]
    assert (of_file(write_values(tmp_path / "b.txt", names, lab))[0].places == by_row.places).all()
    with pytest.raises(InputError, match="places only 0"):
        of_file(write_values(tmp_path / "c.txt", [f'"sky {k} blue"' for k in range(24)], lab))


def test_patches_that_the_scan_cuts_are_left_out(tmp_path: Path) -> None:
    lab = colours(60)
    values = write_values(tmp_path / "chart.txt", named(6, 10), lab)
    image = drawn(lab, 6, 10, gap=8)
    over = np.clip(image.astype(float) * 1.12, 0, 255).astype(np.uint8)
    fit = calibrate_by(write_scan(tmp_path / "chart.png", over), values)
    white = named(6, 10)[int(lab[:, 0].argmax())]
    assert white in fit.clipped
    assert len(fit.fitted) + len(fit.clipped) == 60
    whole = calibrate_by(write_scan(tmp_path / "whole.png", image), values)
    middle = np.array([[60, 10, 5], [50, -20, 10], [70, 5, 25], [55, 0, -20]], float)
    assert np.median(misread(whole, middle)) < 1.5
    assert fit.delta_e00 < 2.0 * whole.delta_e00  # 4 times as much with the white that is cut
    lab[::2, 0] = np.maximum(lab[::2, 0], 90.0)  # light ones beyond what may be lost
    values = write_values(tmp_path / "light.txt", named(6, 10), lab)
    over = np.clip(drawn(lab, 6, 10, gap=8).astype(float) * 1.12, 0, 255).astype(np.uint8)
    with pytest.raises(PrintcheckError, match=r"of 60 patches are lighter .*less exposure") as refusal:
        calibrate_by(write_scan(tmp_path / "light.png", over), values)
    assert "\n" not in str(refusal.value)


def test_a_negative_and_one_colour_for_all_are_refused(tmp_path: Path) -> None:
    lab = colours(60)
    values = write_values(tmp_path / "chart.txt", named(6, 10), lab)
    image = drawn(lab, 6, 10, gap=8)
    with pytest.raises(PrintcheckError, match=r"L\* of its samples .*negative"):
        calibrate_by(write_scan(tmp_path / "negative.png", 255 - image), values)
    same = write_values(tmp_path / "same.txt", named(6, 10), np.tile([[80.0, 0.0, 0.0]], (60, 1)))
    with pytest.raises(PrintcheckError, match="differs by only 0"):
        calibrate_by(
            write_scan(tmp_path / "chart.png", image), same,
            corners=parse_corners("87,87 465,87 465,297 87,297"),
        )  # fmt: skip


def test_values_of_part_of_a_chart_say_so(tmp_path: Path) -> None:
    lab = colours(60)
    values = write_values(tmp_path / "chart.txt", named(6, 10)[:20], lab[:20])
    with pytest.raises(PrintcheckError, match="20 samples on 2 by 10: where the chart has more"):
        calibrate_by(write_scan(tmp_path / "chart.png", drawn(lab, 6, 10, gap=8)), values)


def test_a_better_calibration_is_not_lost_by_the_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(tmp_path))
    lab = colours(24)
    values = write_values(tmp_path / "chart.txt", named(4, 6), lab)
    fit = replace(calibrate_by(write_scan(tmp_path / "chart.png", drawn(lab, 4, 6, gap=10)), values), delta_e00=0.5)
    assert keep_calibration("office", fit) is None
    alike, worse = replace(fit, delta_e00=0.7), replace(fit, delta_e00=1.2)
    with pytest.raises(PrintcheckError, match=r"1\.20 deltaE00, .* 0\.50"):
        keep_calibration("office", worse)
    assert load_calibration("office").delta_e00 == 0.5
    assert getattr(keep_calibration("office", alike), "delta_e00", None) == 0.5
    assert getattr(keep_calibration("office", worse, replace_better=True), "delta_e00", None) == 0.7


@pytest.mark.parametrize(
    "change",
    [
        {"degree": 7},
        {"degree": 1},
        {"degree": float("inf")},
        {"coefficients": [[1, 2, 3]]},
        {"coefficients": [1, 2]},
        {"fitted": []},
        {"fitted": [[float("nan")] * 3] * 24},
        {"fitted": [[1e200] * 3] * 24},
        {"sd": [float("nan"), 1, 1]},
        {"sd": [-1, 1, 1]},
        {"near_sd": [1, 2]},
        {"delta_e00": float("nan")},
        {"delta_e00": None},
        {"paper": [0, 1, 1]},
        {"paper": "white"},
    ],
    ids=str,
)
def test_a_damaged_calibration_is_refused(
    change: dict[str, object], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(tmp_path))
    lab = colours(24)
    values = write_values(tmp_path / "chart.txt", named(4, 6), lab)
    fit = calibrate_by(write_scan(tmp_path / "chart.png", drawn(lab, 4, 6, gap=10)), values)
    assert fit.degree == 2
    path = save_calibration("office", fit)
    document = json.loads(path.read_text())
    path.write_text(json.dumps({**document, **change}))
    with pytest.raises(PrintcheckError, match="damaged") as refusal:
        load_calibration("office")
    assert "\n" not in str(refusal.value)
    keep_calibration("office", fit)  # mends it
    again = load_calibration("office")
    assert again.degree == 2
    assert again.paper == fit.paper is not None
    del document["paper"]  # not kept by earlier versions
    path.write_text(json.dumps(document))
    assert load_calibration("office").paper is None
