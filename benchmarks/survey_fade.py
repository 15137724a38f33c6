"""Fade of 2 L* from the head of the page to its foot under light that falls by 30 %: found, and not invented.

    python benchmarks/survey_fade.py scan --count 80 --start 82000 --split report
    python benchmarks/survey_fade.py photo --count 40 --start 82080 --split report
    python benchmarks/survey_fade.py drawn --count 80 --start 82120

Each second sheet is clean; on the others about half the inks fade by 2 to 3 L*. The light falls by 30 % across the
sheet in any direction: multiplied into the linear light of a scan, set as the lamp's fall-off of a photo. ``drawn``
owes the simulator nothing: the ideal sheet as the pattern's own renderer draws it, its inks given side absorptions,
the strips' coverage let go so that L* climbs by a known amount, light, paper clouds, blur, noise and JPEG by numpy
and OpenCV. The truth of the other two is the least-squares slope of L* of the printed strip over this paper.
"""

from __future__ import annotations

import argparse
import collections
import json
import os
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.pattern.sheet import Sheet
    from printcheck.simulate.capture import Capture

FALL = 0.30  # of the light across the sheet
LEAST, MOST = 2.0, 3.0  # L*
BLOCK_MM = 5.0  # the reader speaks of the change from its first block's middle to its last one's
DEPTH = {"C": 0.23, "M": 0.28, "Y": 0.75, "K": 0.17}  # loss of drop volume that makes about 2.4 L* of fade
SIDE = np.array([[1.0, 0.15, 0.04], [0.25, 1.0, 0.12], [0.06, 0.35, 1.0]])  # densities in R, G, B of C, M, Y, about
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1


def lightness(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIE L* (ISO/CIE 11664-4)."""
    return np.where(ratio > 216 / 24389, 116 * np.cbrt(ratio) - 16, 24389 / 27 * ratio)


def light_of(lightness_: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give back the luminance of an L*."""
    return np.where(lightness_ > 8, ((lightness_ + 16) / 116) ** 3, lightness_ * 27 / 24389)


def falling(shape: tuple[int, ...], rng: np.random.Generator) -> NDArray[np.float32]:
    """Light (H, W) that falls from 1 by `FALL` in some direction."""
    turn = rng.uniform(0, 2 * np.pi)
    y, x = np.ogrid[-0.5 : 0.5 : shape[0] * 1j, -0.5 : 0.5 : shape[1] * 1j]
    slope = np.cos(turn) * x + np.sin(turn) * y
    slope = (slope - slope.min()) / (slope.max() - slope.min())
    return np.asarray(1.0 - FALL * slope, np.float32)


def of_simulator(kind: str, seed: int, split: str, dpi: int | None) -> tuple[bytes, dict[str, float]]:
    """A file, and each ink's true change."""
    from printcheck.simulate.capture import encode
    from printcheck.simulate.faults import Flow, InkState
    from printcheck.simulate.photo_scenario import random_photo
    from printcheck.simulate.scenario import random_scan

    rng = np.random.default_rng([seed, 5])
    inks = {}
    for ink, depth in DEPTH.items():
        fades = seed % 2 == 0 and rng.random() < 0.6
        deep = depth * rng.uniform(0.85, 1.25)
        inks[ink] = InkState(flow=(Flow("fade", 0.0, 297.0, deep),) if fades else ())
    if kind == "photo":
        fall = {"light_gradient": FALL, "light_deg": float(rng.uniform(0, 360))}
        capture = random_photo(seed, split=split, inks=inks, colour_truth=True, changes=fall)
        return capture.encoded(), true_changes(capture)
    capture = random_scan(seed, split=split, inks=inks, colour_truth=True, encoding="jpeg", dots_per_inch=dpi)
    curve = capture.truth.settings["scanner"]["curve"]
    levels = np.arange(256) / 255.0
    light = np.where(levels > 0.04045, ((levels + 0.055) / 1.055) ** 2.4, levels / 12.92)
    table = (light if curve == "srgb" else levels ** float(curve)).astype(np.float32)
    less = falling(capture.image.shape[:2], rng)
    image = np.empty_like(capture.image)
    for top in range(0, len(image), 512):
        seen = table[capture.image[top : top + 512]] * less[top : top + 512, :, None]
        image[top : top + 512] = np.searchsorted((table[1:] + table[:-1]) / 2, seen).astype(np.uint8)
    return encode(image, capture.encoding), true_changes(capture)


def true_changes(capture: Capture) -> dict[str, float]:
    """Change of L* over this paper from the middle of the first block to that of the last."""
    out = {}
    paper = light_of(np.array(capture.truth.paper_lab[0]))
    for patch in capture.truth.patches:
        if patch.kind != "strip":
            continue
        value = lightness(light_of(patch.lightness.astype(np.float64)) / paper)
        y = np.arange(len(value)) * patch.row_mm
        out[patch.inks[0]] = float(np.polyfit(y, value, 1)[0]) * (len(value) * patch.row_mm - BLOCK_MM)
    return out


def drawn(seed: int, dpi: int | None) -> tuple[bytes, dict[str, float]]:
    """A file, and each ink's true change."""
    from printcheck.pattern.heads import builtin_heads, load_head
    from printcheck.pattern.layout import build_layout
    from printcheck.pattern.pages import page_named
    from printcheck.pattern.render.raster import compose_rgb
    from printcheck.pattern.sheet import make_sheet

    rng = np.random.default_rng([seed, 6])
    head = load_head(str(rng.choice([name for name in sorted(builtin_heads()) if "toner" not in name])))
    sheet = make_sheet(build_layout(head, page_named(str(rng.choice(["A4", "Letter"])))), f"D{seed}")
    factor = head.raster / (dpi or int(rng.choice([300, 600])))
    ideal = compose_rgb(sheet)
    size = round(ideal.shape[1] / factor), round(ideal.shape[0] / factor)
    seen = cv2.resize(ideal, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255.0
    depth = -np.log10(np.clip(seen, 0.05, 1.0))
    light = np.power(10.0, -(depth @ SIDE.astype(np.float32)))
    changes = fade_strips(light, sheet, head.raster / 25.4 / factor, rng, seed % 2 == 0)
    clouds = cv2.resize(rng.normal(0, 1, (size[1] // 12, size[0] // 12)).astype(np.float32), size)
    light *= (1.0 + float(rng.uniform(0.001, 0.004)) * clouds)[..., None]
    light *= falling(light.shape, rng)[..., None]
    light *= (rng.uniform(0.8, 0.95) * rng.uniform(0.94, 1.0, 3)).astype(np.float32)
    turn = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), float(rng.uniform(-1.5, 1.5)), 0.97)
    light = cv2.warpAffine(light, turn, size, flags=cv2.INTER_LINEAR, borderValue=(0.7, 0.7, 0.7))
    light = cv2.GaussianBlur(light, (0, 0), float(rng.uniform(0.4, 0.9)))
    light += rng.normal(0, 1, light.shape).astype(np.float32) * np.sqrt(light) * np.float32(rng.uniform(0.004, 0.015))
    light = np.clip(light, 0, 1)
    encoded = np.where(light > 0.0031308, 1.055 * np.power(light, 1 / 2.4) - 0.055, 12.92 * light)
    bgr = np.rint(255 * encoded[..., ::-1]).astype(np.uint8)
    return cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(82, 96))])[1].tobytes(), changes


def fade_strips(
    light: NDArray[np.float32], sheet: Sheet, per_mm: float, rng: np.random.Generator, faulty: bool
) -> dict[str, float]:
    """Let the strips' coverage go in place, so that L* climbs evenly; returns each ink's change."""
    changes = {}
    for patch in sheet.layout.patches_of("strip"):
        change = float(rng.uniform(LEAST, MOST)) / 0.975 if faulty and rng.random() < 0.6 else 0.0
        x0, y0, x1, y1 = (round(v * per_mm) for v in (patch.box.x0, patch.box.y0, patch.box.x1, patch.box.y1))
        part = light[y0 + 1 : y1 - 1, x0 - 1 : x1 + 1]
        ink = part[len(part) // 2, part.shape[1] // 2].astype(np.float64)
        start = float(ink @ LUMINANCE)
        aim = light_of(lightness(np.array(start)) + change * np.linspace(0, 1, len(part)))
        bare = (aim - start) / (1.0 - start)  # share of the ink that is gone
        part += (1.0 - part) * bare[:, None, None].astype(np.float32)
        changes[patch.inks[0]] = change * (1.0 - BLOCK_MM / patch.box.height)
    return changes


def main() -> None:
    cv2.setNumThreads(1)
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=["scan", "photo", "drawn"])
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--dpi", type=int, help="of scans; 300 or 600 by default, as drawn")
    parser.add_argument("--tell", action="store_true", help="a line a miss")
    parser.add_argument("--out", type=Path, help="add a line of JSON a sheet")
    args = parser.parse_args()
    from printcheck.errors import PrintcheckError
    from printcheck.pipeline import score_image

    counts: collections.Counter[str] = collections.Counter()
    errors, widths = [], []
    for seed in range(args.start, args.start + args.count):
        if args.kind == "drawn":
            data, changes = drawn(seed, args.dpi)
        else:
            data, changes = of_simulator(args.kind, seed, args.split, args.dpi)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "sheet.jpeg"
            path.write_bytes(data)
            try:
                evenness = score_image(path).sheet.evenness
            except PrintcheckError as refused:
                counts["refused"] += 1
                print(f"{seed}: {refused}", file=sys.stderr)
                continue
        rows: list[dict[str, Any]] = []
        for reading in () if evenness is None else evenness.fade:
            if reading is None:
                counts["not measured"] += 1
                continue
            true = changes[reading.ink]
            low, high = reading.ci95
            rows.append(
                {
                    "seed": seed, "ink": reading.ink, "true": true, "read": reading.dL_first_to_last, "low": low,
                    "high": high, "kind": reading.kind, "clean": seed % 2 == 1,
                }
            )  # fmt: skip
            counts["read"] += 1
            counts["held"] += low <= true <= high
            errors.append(reading.dL_first_to_last - true)
            widths.append(high - low)
            if LEAST <= true <= MOST:
                counts["planted"] += 1
                counts["found"] += reading.kind == "fade"
            missed = LEAST <= true <= MOST and reading.kind != "fade"
            if args.tell and (missed or (seed % 2 and reading.kind != "none") or not low <= true <= high):
                print(rows[-1])
        if seed % 2:
            counts["clean sheets"] += 1
            counts["clean and none named"] += all(row["kind"] == "none" for row in rows)
        if args.out:
            with args.out.open("a", encoding="utf-8") as file:
                file.writelines(json.dumps(row) + "\n" for row in rows)
    print(f"fade of {LEAST:g} to {MOST:g} L*: found {counts['found']} of {counts['planted']}")
    print(f"clean sheets with none named: {counts['clean and none named']} of {counts['clean sheets']}")
    print(f"interval holds the truth: {counts['held']} of {counts['read']} ({counts['held'] / counts['read']:.3f})")
    print(f"off by {np.median(np.abs(errors)):.2f} L* (median); interval {np.median(widths):.2f} wide (median)")
    print(f"not measured: {counts['not measured']}, refused: {counts['refused']}")


if __name__ == "__main__":
    main()
