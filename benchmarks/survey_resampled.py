"""The written sheet itself, brought to a scan's or a photo's size by plain resampling: what the pixels alone do.

    python benchmarks/survey_resampled.py scans
    python benchmarks/survey_resampled.py photos --count 40 --start 0

No ink, paper or optics, and nothing of the simulator: the pattern's pixels are averaged over areas, or sampled
between two of them, which loses lines that fall between samples (OpenCV's ``INTER_AREA`` and ``INTER_LINEAR``). All
sheets of `scans` are clean and straight, at each resolution as PNG, as JPEG, and blurred a little. In `photos`, of 12
megapixels, the sheet lies within a few degrees of straight, seen aslant, in uneven light with noise; of each odd
seed three rows an ink are taken out.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np

from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import make_sheet

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.pattern.layout import Layout

HEADS = ("mono-416", "tri-100", "tri-192", "quad-416-192", "quad-180")
RESOLUTIONS = (180, 200, 240, 300, 400, 600)
WAYS = ("averaged", "averaged, JPEG", "blurred, JPEG", "sampled")
PHOTO = (3000, 4000)  # width, height in px


@cache
def sheet(head: str) -> tuple[Layout, NDArray[np.uint8]]:
    """The layout, and its picture in BGR at its own raster."""
    layout = build_layout(load_head(head), page_named("A4"))
    return layout, np.ascontiguousarray(compose_rgb(make_sheet(layout, "S-1"))[..., ::-1])


def scan(head: str, dots_per_inch: int, way: str) -> NDArray[np.uint8]:
    layout, seen = sheet(head)
    scale = dots_per_inch / layout.raster
    how = cv2.INTER_LINEAR if way == "sampled" else cv2.INTER_AREA
    out = cv2.resize(seen, None, fx=scale, fy=scale, interpolation=how)
    return np.asarray(cv2.GaussianBlur(out, (0, 0), 0.7) if way.startswith("blurred") else out)


def photo(head: str, seed: int) -> tuple[NDArray[np.uint8], dict[str, list[int]]]:
    """A photo, and the rows that are missing in it, by ink."""
    random = np.random.default_rng(seed)
    layout, seen = sheet(head)
    seen = seen.copy()
    missing: dict[str, list[int]] = {}
    dot = layout.raster / 25.4
    for ink in layout.head.inks:
        missing[ink.ink] = sorted(random.choice(ink.rows, 3, replace=False).tolist()) if seed % 2 else []
        for ladder in layout.ladders_of(ink.ink):
            for row in missing[ink.ink]:
                box = ladder.dash(row)
                middle, reach = box.centre[1] * dot, 0.48 * ladder.pitch_mm * dot
                rows = slice(round(middle - reach), round(middle + reach))
                seen[rows, int(box.x0 * dot) - 2 : int(box.x1 * dot) + 3] = 255
    width, height = PHOTO
    high, wide = seen.shape[:2]
    corners = np.array([[-wide, -high], [wide, -high], [wide, high], [-wide, high]]) / 2
    angle = np.deg2rad(random.normal(0, 2))
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    there = random.uniform(0.8, 0.93) * height / high * corners @ turn + random.uniform(-60, 60, (4, 2))
    there += np.array([width / 2, height / 2])
    here = np.float32([[0, 0], [wide, 0], [wide, high], [0, high]])
    matrix = cv2.getPerspectiveTransform(here, np.float32(there))
    table = random.integers(20, 160, 3).tolist()
    out = cv2.warpPerspective(seen, matrix, (width, height), flags=cv2.INTER_LINEAR, borderValue=table)
    light = out.astype(np.float32)
    if random.random() < 0.6:
        light = cv2.GaussianBlur(light, (0, 0), random.uniform(0.5, 1.4))
    light *= 1 - random.uniform(0, 0.35) * np.linspace(0, 1, width, dtype=np.float32)[:, None]
    light *= np.array([random.uniform(0.85, 1), random.uniform(0.92, 1), 1]) * random.uniform(0.85, 1)
    light += random.normal(0, random.uniform(1, 6), light.shape)
    return np.asarray(np.clip(light, 0, 255), np.uint8), missing


def judged(seen: NDArray[np.uint8], folder: Path, dots_per_inch: int | None, quality: int | None) -> Any:
    from PIL import Image

    from printcheck.pipeline import score_image

    path = folder / ("seen.png" if quality is None else "seen.jpg")
    stated = {} if dots_per_inch is None else {"dpi": (dots_per_inch, dots_per_inch)}
    Image.fromarray(seen[..., ::-1]).save(path, **stated, **({} if quality is None else {"quality": quality}))
    return score_image(path).sheet


def scans(folder: Path) -> None:
    for way in WAYS:
        for dots_per_inch in RESOLUTIONS:
            quality = 90 if "JPEG" in way else None
            found = []
            for head in HEADS:
                seen = judged(scan(head, dots_per_inch, way), folder, dots_per_inch, quality)
                found.append(seen.assessment.action.value)
            told = ", ".join(f"{found.count(one)} {one}" for one in dict.fromkeys(found))
            print(f"{way:16}{dots_per_inch:4} dots/inch: {told}", flush=True)


def photos(folder: Path, start: int, count: int) -> None:
    dead = seen = false = unread = rows = clean = passed = 0
    for number in range(start, start + count):
        head = HEADS[number % len(HEADS)]
        picture, missing = photo(head, number)
        sheet_read = judged(picture, folder, None, int(np.random.default_rng(number + 1).integers(75, 96)))
        for lines in sheet_read.lines:
            told, truth = {*lines.missing, *lines.intermittent}, set(missing[lines.ink])
            dead, seen, false = dead + len(truth), seen + len(told & truth), false + len(told - truth)
            unread, rows = unread + len(lines.unreadable), rows + lines.rows
        if not any(missing.values()):
            clean, passed = clean + 1, passed + (sheet_read.assessment.action.value == "top-off")
    print(
        f"{count} photos: {seen} of {dead} missing rows found, {false} falsely, {unread} of {rows} unread in any "
        f"printing; {passed} of {clean} clean sheets topped off"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=["scans", "photos"])
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--start", type=int, default=0)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if args.kind == "scans":
            scans(Path(folder))
        else:
            photos(Path(folder), args.start, args.count)


if __name__ == "__main__":
    main()
