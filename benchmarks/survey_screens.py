"""Toner sheets in screens of many rulings and angles, scanned a little askew: no mark named that isn't there.

    python benchmarks/survey_screens.py --count 120 --start 0

A screen, the pixels of a scan and their angle beat with one another; none of that may be called a roller. Each even
seed is a clean sheet; each odd one has a mark of 0.4 to 1 mm that repeats three times or more. It owes the simulator
nothing: the ideal sheet as the pattern's own renderer draws it, its tints made dots of 75 to 150 lines/inch at any
of four angles with edges a dot of 600 dots/inch soft, turned by 0.05 to 1 degree, averaged over the area of pixels of
200, 300 or 600 dots/inch, with blur, noise and, on every third, a driver's sharpening, by numpy and OpenCV.
"""

from __future__ import annotations

import argparse
import os
import time
from functools import cache
from typing import TYPE_CHECKING, Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

RULINGS = (75.0, 85.0, 106.066, 120.0, 133.0, 141.42, 150.0)  # lines/inch
ANGLES = (0.0, 18.0, 45.0, 71.0)  # degrees
SPACINGS_MM = (94.2, 75.4, 62.8, 37.7)
SHARPENED = 0.8
RASTER = 600  # dots/inch


@cache
def _coverage() -> NDArray[np.uint8]:
    """(H, W) what the sheet asks for, 255 for solid."""
    from printcheck.pattern.heads import load_head
    from printcheck.pattern.layout import build_layout
    from printcheck.pattern.pages import page_named
    from printcheck.pattern.render.raster import compose_rgb
    from printcheck.pattern.sheet import make_sheet

    layout = build_layout(load_head("toner-mono"), page_named("A4"))
    assert layout.raster == RASTER
    return np.ascontiguousarray(255 - compose_rgb(make_sheet(layout, "S-1"))[..., 1])


def printed(ruling: float, angle_deg: float, phase: float) -> NDArray[np.float32]:
    """(H, W) light of the sheet in a screen of two crossed cosines."""
    asked = _coverage()
    k = 2 * np.pi * ruling / RASTER
    along, across = k * np.cos(np.deg2rad(angle_deg)), k * np.sin(np.deg2rad(angle_deg))
    x, y = np.arange(asked.shape[1]), np.arange(asked.shape[0])

    def wave(kx: float, ky: float, at: float) -> NDArray[np.float32]:
        columns, rows = np.exp(1j * (kx * x + at)).astype(np.complex64), np.exp(1j * ky * y).astype(np.complex64)
        return np.outer(rows.real, columns.real) - np.outer(rows.imag, columns.imag)

    screen = (2 + wave(along, across, phase) + wave(-across, along, 2 * phase)) / np.float32(4)
    turn = np.cos(2 * np.pi * (np.arange(400) + 0.5) / 400)
    levels = np.sort(((2 + turn[:, None] + turn) / 4).ravel())
    table = levels[np.minimum((1 - np.arange(256) / 255) * levels.size, levels.size - 1).astype(int)].astype(
        np.float32
    )
    table[0], table[255] = 9, -9
    toner = np.clip((screen - table[asked]) / np.float32(0.3 * k) + np.float32(0.5), 0, 1)
    return np.asarray(0.85 * (1 - 0.95 * cv2.GaussianBlur(toner, (0, 0), 0.6)), np.float32)


def scanned(
    light: NDArray[np.float32], dots_per_inch: int, skew_deg: float, sharp: float, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """The sheet askew on the glass, in sRGB (IEC 61966-2-1)."""
    height, width = light.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), skew_deg, 1.0)
    turn[:, 2] += 90 + rng.random(2) * 3
    seen = cv2.warpAffine(light, turn, (width + 180, height + 180), flags=cv2.INTER_CUBIC, borderValue=0.92)
    size = seen.shape[1] * dots_per_inch // RASTER, seen.shape[0] * dots_per_inch // RASTER
    seen = cv2.GaussianBlur(cv2.resize(seen, size, interpolation=cv2.INTER_AREA), (0, 0), 0.45)
    seen = np.clip(seen + rng.normal(0, 0.004, seen.shape).astype(np.float32), 0, 1)
    encoded = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * np.maximum(seen, 1e-6) ** (1 / 2.4) - 0.055)
    value = (255 * encoded).astype(np.float32)
    if sharp:
        value += sharp * (value - cv2.GaussianBlur(value, (0, 0), 1.0))
    return np.clip(value + 0.5, 0, 255).astype(np.uint8)


def read_one(seed: int) -> dict[str, Any]:
    """Draw, scan and read one sheet."""
    from printcheck.measure.toner import measure_toner
    from printcheck.register.sheet import register_sheet

    rng = np.random.default_rng(seed)
    ruling, angle = float(rng.choice(RULINGS)), float(rng.choice(ANGLES))
    dots, skew = int(rng.choice((200, 300, 300, 600))), float(rng.uniform(0.05, 1.0) * rng.choice((-1, 1)))
    light = printed(ruling, angle, float(rng.uniform(0, 6)))
    spacing = None
    if seed % 2:
        spacing = float(rng.choice(SPACINGS_MM))
        per_mm, x = RASTER / 25.4, float(rng.uniform(66, 94))
        radius = round(float(rng.uniform(0.2, 0.5)) * per_mm)
        for y in np.arange(18 + float(rng.uniform(0, 60)) * (spacing < 90), 275, spacing):
            cv2.circle(light, (round(x * per_mm), round(y * per_mm)), radius, (0.15,), -1, cv2.LINE_AA)
    wave = None
    if seed % 5 == 0:
        wave = float(np.exp(rng.uniform(np.log(13), np.log(120)))), float(rng.uniform(0.06, 0.15))
        down = np.arange(len(light), dtype=np.float32) / (RASTER / 25.4)
        thinner = 1 + wave[1] * np.sin(2 * np.pi * down / wave[0] + rng.uniform(0, 6))[:, None]
        light[:] = 1 - (1 - light) * np.clip(thinner, 0, 1.2)
    picture = scanned(light, dots, skew, SHARPENED * (seed % 3 == 0), rng)
    reading, _ = measure_toner(picture, register_sheet(picture))
    return {
        "seed": seed, "ruling": ruling, "angle": angle, "dots": dots, "skew": round(skew, 3), "spacing": spacing,
        "marks": reading.marks, "hiding": reading.hiding, "streaks": len(reading.streaks or ()),
        "wave": wave, "bands": [(round(b.period_mm, 1), round(b.ci95[0], 2)) for b in reading.bands or ()],
        "named": None if reading.repeats is None else [round(r.spacing_mm, 2) for r in reading.repeats],
    }  # fmt: skip


def main() -> None:
    cv2.setNumThreads(1)
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--start", type=int, default=0)
    args = parser.parse_args()
    begun = time.monotonic()
    rows = []
    for seed in range(args.start, args.start + args.count):
        rows.append(read_one(seed))
        if rows[-1]["hiding"] or rows[-1]["streaks"] or rows[-1]["marks"] > 10:
            print(rows[-1], flush=True)
    clean, ours = ([r for r in rows if (r["spacing"] is not None) == odd] for odd in (False, True))
    false = [r for r in clean if r["named"]]
    right = [r for r in ours if r["named"] and abs(r["named"][0] / r["spacing"] - 1) < 0.01]
    alone = [r for r in right if len(r["named"]) == 1]
    unread = sum(r["hiding"] > 0 for r in rows)
    print(f"clean: a mark named on {len(false)} of {len(clean)}: {false}; unread on {unread} of {len(rows)}")
    print(f"marks: the right spacing first on {len(right)} of {len(ours)}, and nothing else on {len(alone)}")
    print(f"  others: {[r for r in ours if r not in alone]}")
    waves = [r for r in rows if r["wave"]]
    told = [r for r in waves if r["bands"] and abs(r["bands"][0][0] / r["wave"][0] - 1) < 0.02]
    print(f"waves of toner: found on {len(told)} of {len(waves)}; others: {[r for r in waves if r not in told]}")
    loud = [r for r in rows if not r["wave"] and any(2 * low > 0.5 for _, low in r["bands"])]
    print(f"bands of 0.5 L* and more that are not there: on {len(loud)} of {len(rows) - len(waves)}: {loud}")
    print(f"streaks that are not there: on {sum(r['streaks'] > 0 for r in rows)} of {len(rows)}")
    print(f"{(time.monotonic() - begun) / len(rows):.1f} s a sheet")


if __name__ == "__main__":
    main()
