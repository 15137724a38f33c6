"""Bands of known L* amplitude and period on scans and photos, read back; sheets without as controls.

    python benchmarks/survey_banding.py print --count 20 --start 80000 --split report
    python benchmarks/survey_banding.py photo --count 20 --start 80000 --split report
    python benchmarks/survey_banding.py drawn --count 20 --start 80000

``print`` and ``photo`` are simulated: each ink of a sheet has its own band of drop volume or none (four in ten), its
frequency drawn log-uniform from 0.1 to 2 cycles/mm. The true amplitude in each area is fitted to the lightness of the
page itself, row by row, relative to its paper, and compared in the area that the reader names.

``drawn`` knows nothing of the simulator: the ideal sheet in solid colours, whose CIE L* scikit-image changes by an
exact sinusoid, everywhere but on bare paper (``even``), or whose light is multiplied by one (``light``: dark areas
then show less L* than pale ones, and the amplitude is the mid-tone's). Blurred, turned a little, with correlated
noise that grows with light, quantised, and half of them JPEG. A third of the sheets are even.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from printcheck.measure.evenness_result import BandingReading
    from printcheck.simulate.truth import Truth

LEAST_DL, MOST_DL = 0.3, 1.0
PHOTO_LEAST_DL = 0.6
SLOPE = {"K": 18.0, "C": 9.0, "M": 10.0, "Y": 0.9}  # L* for each unit of log volume, roughly, to plant about right
DRAWN = {"K": (40, 40, 42), "C": (30, 140, 200), "M": (205, 50, 120), "Y": (245, 225, 60)}  # sRGB of drawn solids
PAPER = (238, 238, 234)
TOLERANCE = 0.02  # of the period


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def simulated(seed: int, options: argparse.Namespace) -> list[dict[str, Any]]:
    """Simulate and read one sheet: an entry an ink."""
    import numpy as np

    from printcheck.pattern.heads import builtin_heads, load_head
    from printcheck.pipeline import score_image
    from printcheck.simulate.faults import Band, InkState
    from printcheck.simulate.photo_scenario import random_photo
    from printcheck.simulate.scenario import random_scan

    rng = np.random.default_rng([seed, 5])
    head = load_head(str(rng.choice(sorted(builtin_heads()))))
    states, frequencies = {}, {}
    low, high = (PHOTO_LEAST_DL, 2.0) if options.kind == "photo" else (LEAST_DL, MOST_DL)
    for ink in head.inks:
        frequency, want, phase = log_uniform(rng, 0.1, 2.0), rng.uniform(low, 1.2 * high), rng.uniform(0, 6.28)
        if rng.random() < 0.6:
            volume = min(want / SLOPE[ink.ink], 0.5)
            states[ink.ink] = InkState(bands=(Band(volume, 1 / frequency, phase),))
            frequencies[ink.ink] = frequency
    draw = random_photo if options.kind == "photo" else random_scan
    capture = draw(seed, split=options.split, head=head.name, inks=states, colour_truth=True)
    with tempfile.TemporaryDirectory() as folder:
        kind = capture.encoding.kind
        scored = score_image(capture.write(Path(folder) / f"sheet.{kind}")).sheet
    rows = []
    readings = [None] * len(head.inks) if scored.evenness is None else scored.evenness.banding
    for ink, reading in zip(head.inks, readings, strict=True):
        frequency = frequencies.get(ink.ink)
        true = {} if frequency is None else true_amplitudes(capture.truth, ink.ink, frequency)
        row = {"seed": seed, "head": head.name, "mode": capture.truth.print_mode, "swath_mm": ink.swath_mm}
        said = () if scored.evenness is None else scored.evenness.warnings
        why = next((w for w in said if "bands" in w), None) or "; ".join(r.text for r in scored.assessment.reasons)
        rows.append({**row, "dpi": capture.encoding.dots_per_inch, **compared(ink.ink, reading, frequency, true)})
        rows[-1]["why"] = None if reading is not None else why
    return rows


def true_amplitudes(truth: Truth, ink: str, frequency: float) -> dict[str, float]:
    """L* amplitude of the band in each area, relative to the paper, by least squares on the page itself."""
    import numpy as np

    white = ((truth.paper_lab[0] + 16) / 116) ** 3
    out = {}
    for kind in ("strip", "tint", "solid"):
        patch = next(p for p in truth.patches if p.kind == kind and p.inks == (ink,))
        y = patch.top_mm + patch.row_mm * (np.arange(len(patch.lightness)) + 0.5)
        lightness = (patch.lightness.astype(np.float64) + 16) / white ** (1 / 3) - 16
        if len(y) * patch.row_mm * frequency < 2:
            continue
        at = (y - y.mean()) / np.ptp(y)
        turn = 2 * np.pi * frequency * y
        columns = [np.cos(turn), np.sin(turn), *(at**k for k in range(4))]
        fitted = np.linalg.lstsq(np.stack(columns, axis=1), lightness, rcond=None)[0]
        out[kind] = float(np.hypot(*fitted[:2]))
    return out


def drawn(seed: int, options: argparse.Namespace) -> list[dict[str, Any]]:
    """Draw, spoil and read one sheet: an entry an ink."""
    import cv2
    import numpy as np

    from printcheck.pattern.heads import builtin_heads, load_head
    from printcheck.pattern.layout import build_layout
    from printcheck.pattern.pages import page_named
    from printcheck.pattern.sheet import make_sheet
    from printcheck.pipeline import score_image

    rng = np.random.default_rng([seed, 6])
    head = load_head(str(rng.choice(sorted(builtin_heads()))))
    sheet = make_sheet(build_layout(head, page_named("A4")), f"B{seed}")
    dpi = int(rng.choice([300, 600]))
    mode = str(rng.choice(["even", "light", "none"]))
    frequency, amplitude = log_uniform(rng, 0.1, 2.0), rng.uniform(LEAST_DL, MOST_DL)
    light, true = banded_sheet(sheet, dpi, mode, frequency, amplitude, rng.uniform(0, 6.28))
    light = cv2.GaussianBlur(light, (0, 0), dpi / 300 * rng.uniform(0.5, 0.8))
    height, width = light.shape[:2]
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), rng.uniform(-0.6, 0.6), 1.0)
    white = [float(v) for v in light[2, 2]]
    light = cv2.warpAffine(light, turn, (width, height), flags=cv2.INTER_CUBIC, borderValue=white)
    grain = np.random.default_rng(seed).standard_normal(light.shape, np.float32)
    light += cv2.GaussianBlur(grain, (0, 0), 0.6) * rng.uniform(0.004, 0.02) * np.sqrt(0.02 + np.clip(light, 0, 1))
    steps = np.linspace(0, 1, 65536)
    table = np.where(steps <= 0.0031308, 12.92 * steps, 1.055 * steps ** (1 / 2.4) - 0.055)  # IEC 61966-2-1
    encoded = np.rint(255 * table).astype(np.uint8)[np.clip(light * 65535, 0, 65535).astype(np.uint16)]
    name, how = ("sheet.jpg", [cv2.IMWRITE_JPEG_QUALITY, 90]) if seed % 2 else ("sheet.png", [1, 1])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        cv2.imwrite(str(path), encoded[..., ::-1], how if seed % 2 else [])
        scored = score_image(path).sheet
    rows = []
    for ink, reading in zip(head.inks, scored.evenness.banding, strict=True):
        seen = {k: v for (k, name), v in true.items() if name == ink.ink}
        at = None if mode == "none" else frequency
        row = {"seed": seed, "head": head.name, "mode": mode, "swath_mm": ink.swath_mm, "dpi": dpi}
        rows.append({**row, **compared(ink.ink, reading, at, seen), "why": None})
    return rows


def banded_sheet(
    sheet: Any, dpi: int, mode: str, frequency: float, amplitude: float, phase: float
) -> tuple[NDArray[np.float32], dict[tuple[str, str], float]]:
    """Linear sRGB light (H, W, 3) of a drawn sheet, and the L* amplitude by area and ink, relative to the paper."""
    import cv2
    import numpy as np
    from skimage.color import rgb2xyz

    from printcheck.pattern.render.raster import compose_rgb

    rgb = compose_rgb(sheet)
    factor = dpi / sheet.layout.raster
    size = (round(rgb.shape[1] * factor), round(rgb.shape[0] * factor))
    cover = 1.0 - cv2.resize(rgb, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    colours = {k: linear(v) / linear(PAPER) for k, v in {**DRAWN}.items()}
    # cyan, magenta and yellow absorb red, green and blue; grey is black ink where the head has one
    black = (
        cover.min(axis=2) if any(i.ink == "K" for i in sheet.layout.head.inks) else np.zeros(size[::-1], np.float32)
    )
    light = np.empty_like(cover)
    light[:] = linear(PAPER)
    light *= 1 - black[..., None] * (1 - colours["K"].astype(np.float32))
    for channel, ink in enumerate("CMY"):
        own = cover[..., channel] - black
        light *= 1 - own[..., None] * (1 - colours[ink].astype(np.float32))
    y_mm = (np.arange(size[1]) + 0.5) * 25.4 / dpi
    wave = np.sin(2 * np.pi * frequency * y_mm + phase)
    true: dict[tuple[str, str], float] = {}
    level = {}
    for kind in ("strip", "tint", "solid"):
        for ink in sheet.layout.head.inks:
            box = sheet.layout.patches_of(kind, ink.ink)[0].box
            x, y = (round(v * dpi / 25.4) for v in box.centre)
            xyz = float(luminance(light[y, x] / linear(PAPER), rgb2xyz))
            level[kind, ink.ink] = 116 * xyz ** (1 / 3) - 16 if xyz > 216 / 24389 else 24389 / 27 * xyz
    inked = cover.max(axis=2) > 0.02
    if mode == "even":
        relative = (light / linear(PAPER).astype(np.float32)) @ np.array([0.2126, 0.7152, 0.0722], np.float32)
        lightness = 116 * np.cbrt(relative) - 16
        moved = ((lightness + amplitude * wave[:, None].astype(np.float32) + 16) / 116) ** 3
        light *= np.where(inked, moved / relative, 1.0).astype(np.float32)[..., None]
        true = dict.fromkeys(level, amplitude)
    elif mode == "light":
        first = sheet.layout.head.inks[0].ink
        share = 3 * amplitude / (level["tint", first] + 16)  # dL* = (L* + 16) / 3 x dY / Y
        factors = (1 + share * wave).astype(np.float32)[:, None]
        light *= np.where(inked, factors, np.float32(1.0))[..., None]
        true = {key: share * (value + 16) / 3 for key, value in level.items()}
    return light, true


def linear(srgb: tuple[int, int, int]) -> NDArray[np.float64]:
    import numpy as np

    v = np.asarray(srgb, np.float64) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def luminance(light: NDArray[np.float64], rgb2xyz: Any) -> float:
    """Y of linear light by scikit-image, which takes encoded values."""
    import numpy as np

    light = np.clip(light, 0, 1)
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return float(rgb2xyz(encoded.reshape(1, 1, 3))[0, 0, 1])


def compared(
    ink: str, reading: BandingReading | None, frequency: float | None, true: dict[str, float]
) -> dict[str, Any]:
    """What was planted and what was read."""
    row: dict[str, Any] = {"ink": ink, "read": reading is not None, "frequency": frequency, "true": true}
    if reading is None:
        return row
    bands = [
        [b.area, 1 / b.period_mm, b.amplitude_dL, *b.ci95, b.weight, b.cause, len(b.harmonics)] for b in reading.bands
    ]
    row |= {"limit": reading.limit_dL, "visible": reading.visible, "scanner": reading.scanner_dL, "bands": bands}
    if frequency is not None:
        near = [b for b in bands if abs(b[1] / frequency - 1) < TOLERANCE]
        row["found"] = near[0] if near else None
    return row


def summary(rows: list[dict[str, Any]], least: float) -> str:
    """The rates as text."""
    import numpy as np

    out = []
    planted = [r for r in rows if r["frequency"] is not None]
    for word, areas in (("strip", ("strip",)), ("any area", ("strip", "tint", "solid"))):
        full = [r for r in planted if max((r["true"].get(a, 0.0) for a in areas), default=0.0) >= least]
        read = [r for r in full if r["read"]]
        found = [r for r in read if r["found"]]
        out.append(
            f"{least} L* and up in {word}: found within 2 % of period {len(found)} of {len(read)} "
            f"({len(full) - len(read)} more not read, with the reason)"
        )
        if word == "strip":
            for r in read:
                if not r["found"]:
                    out.append(f"   missed: {r}")
        if found:
            period = [abs(r["found"][1] / r["frequency"] - 1) for r in found]
            told = [r for r in found if r["found"][0] in r["true"]]
            ratio = np.array([r["found"][2] / r["true"][r["found"][0]] - 1 for r in told])
            held = [r["found"][3] <= r["true"][r["found"][0]] <= r["found"][4] for r in told]
            out.append(
                f"   period off by {100 * np.median(period):.2f} % (median), {100 * max(period):.2f} % at most; "
                f"amplitude off by {100 * np.median(np.abs(ratio)):.0f} % (median; bias "
                f"{100 * np.median(ratio):+.0f} %), {100 * np.percentile(np.abs(ratio), 90):.0f} % (9 in 10); "
                f"interval holds {sum(held)} of {len(held)}; {sum(r['found'][5] >= 1 for r in found)} visible"
            )
    bare = [r for r in rows if r["frequency"] is None and r["read"]]
    shown = [r for r in bare if r["visible"]]
    out.append(f"inks without a band: {len(shown)} of {len(bare)} said to show a visible one")
    out += [f"   {r}" for r in shown]
    return "\n".join(out)


def main() -> None:
    import cv2

    cv2.setNumThreads(1)
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=["print", "photo", "drawn"])
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--keep", type=Path, help="add a line of JSON an ink")
    args = parser.parse_args()
    rows: list[dict[str, Any]] = []
    for seed in range(args.start, args.start + args.count):
        begun = time.process_time()
        new = (drawn if args.kind == "drawn" else simulated)(seed, args)
        rows += new
        print(seed, new[0]["head"], new[0]["dpi"], f"{time.process_time() - begun:.1f} s", flush=True)
        if args.keep:
            with args.keep.open("a") as file:
                file.writelines(json.dumps(row) + "\n" for row in new)
    print(summary(rows, PHOTO_LEAST_DL if args.kind == "photo" else LEAST_DL))


if __name__ == "__main__":
    main()
