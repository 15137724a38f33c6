"""A colour chart as a simulated scanner shows it, made of spectra: what a shop that buys a chart calibrates by."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from printcheck.simulate.inks import demichel, lab, primaries, xyz_weights
from printcheck.simulate.scanner import ScannerSettings
from printcheck.simulate.spectra import absorbance, paper, sensor
from printcheck.simulate.tone import encode_table, sensor_to_srgb

ROWS, COLUMNS = 12, 14
_PATCH, _GAP, _MARGIN = 80, 12, 150  # px
_NOISE = 1.5  # of 255
_BED = 0.8  # light of what lies around the chart


def chart_spectra(ink_set: str, sheet: str, rng: np.random.Generator) -> NDArray[np.float64]:
    """Reflectance (N, 31) of all patches: a grey scale, a scale of each ink, mixtures."""
    count = ROWS * COLUMNS
    inks = primaries([absorbance(ink_set, name) for name in "CMYK"], paper(sheet), np.eye(31))
    cover = rng.uniform(0, 1, (4, count)) * np.array([1.0, 1.0, 1.0, 0.35])[:, None]
    cover[:, :44] = 0.0
    cover[3, :14] = np.linspace(0, 1, 14)
    for ink in range(3):
        cover[ink, 14 + 10 * ink : 24 + 10 * ink] = np.linspace(0.1, 1, 10)
    return np.asarray(demichel(cover[:, rng.permutation(count)]).T @ inks)


def write_chart(
    scanner: ScannerSettings, ink_set: str, sheet: str, rng: np.random.Generator, folder: Path
) -> tuple[Path, Path]:
    """Scan and values of a chart printed with `ink_set` on paper `sheet`."""
    spectra = chart_spectra(ink_set, sheet, rng)
    weights = xyz_weights()
    known = lab(spectra @ weights.T, weights.sum(axis=1)) + 0.1 * rng.standard_normal((len(spectra), 3))
    eye = sensor(scanner.sensor)
    mix = (1.0 - scanner.matrix_share) * np.eye(3) + scanner.matrix_share * sensor_to_srgb(eye)
    light = scanner.white_level * (1.0 - scanner.flare) * (spectra @ eye.T) @ mix.T + scanner.flare
    step = _PATCH + _GAP
    image = np.full((ROWS * step + 2 * _MARGIN, COLUMNS * step + 2 * _MARGIN, 3), _BED)
    image[_MARGIN - _GAP : _MARGIN + ROWS * step, _MARGIN - _GAP : _MARGIN + COLUMNS * step] = light.max(axis=0)
    for k, one in enumerate(light):
        y, x = _MARGIN + step * (k // COLUMNS), _MARGIN + step * (k % COLUMNS)
        image[y : y + _PATCH, x : x + _PATCH] = one
    table = encode_table(scanner.curve)
    steps = table[np.rint(np.clip(image, 0, 1) * (len(table) - 1)).astype(int)].astype(float)
    steps = cv2.GaussianBlur(steps, (0, 0), 0.8) + rng.normal(0, _NOISE, image.shape)
    scan, values = folder / "chart.png", folder / "chart.txt"
    Image.fromarray(np.clip(np.rint(steps), 0, 255).astype(np.uint8)).save(
        scan, dpi=(scanner.dots_per_inch, scanner.dots_per_inch)
    )
    rows = [
        f"{chr(65 + k // COLUMNS)}{1 + k % COLUMNS} " + " ".join(f"{v:.2f}" for v in one)
        for k, one in enumerate(known)
    ]
    head = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    values.write_text(head + "\n".join(rows) + "\nEND_DATA\n", encoding="utf-8")
    return scan, values
