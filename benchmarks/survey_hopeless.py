"""Score pictures that no reader could judge, and print what is said of them: the reason must be the right one.

    python benchmarks/survey_hopeless.py --count 300 --start 20000
    python benchmarks/survey_hopeless.py --kind glare --count 10 --start 0 --split tune

Sheets are simulated photos, spoiled past reading; wrong documents are drawn with general libraries (text and tables
by OpenCV, photographs from scikit-image's own data, other QR codes by segno). Each kind states which advice counts as
right, by words that only that advice has. A picture may be refused (exit 2) or told to be taken again (rescan): any
other outcome is not the right one, and there must be no top-off and no traceback at all.
"""

from __future__ import annotations

import argparse
import collections
import os
import re
import sys
import tempfile
import traceback
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Rng = np.random.Generator

BASES = 5  # sheets photographed for each `_TURN` pictures, every one of which is one of them spoiled in its own way
_TURN = 60


@lru_cache(maxsize=2)
def base(number: int, split: str) -> tuple[Picture, Any]:
    """A sharp 8-megapixel photo of a whole sheet, upright (H, W, 3) BGR, and its truth; every third one faultless."""
    from printcheck.simulate.photo_scenario import random_photo

    clean = number % 3 == 0
    capture = random_photo(number, split=split, megapixels=8, clean=clean, max_tilt_deg=12, shadow=False)
    return capture.image, capture.truth


def sheet_of(seed: int) -> int:
    """The seed of the sheet that picture number `seed` shows."""
    return seed // _TURN * _TURN + seed % BASES


def linear(picture: Picture) -> NDArray[np.float32]:
    """Linear light, as a gamma of 2.2."""
    table = ((np.arange(256) / 255.0) ** 2.2).astype(np.float32)
    return np.asarray(cv2.LUT(picture, table), np.float32)


def encoded(light: NDArray[np.float32]) -> Picture:
    """The reverse."""
    return np.asarray(np.rint(255 * np.clip(light, 0, 1) ** (1 / 2.2)), np.uint8)


def noisy(picture: Picture, sd: float, rng: Rng) -> Picture:
    """With noise of `sd` values."""
    grain = rng.standard_normal(picture.shape, dtype=np.float32) * np.float32(sd)
    return np.asarray(np.clip(np.rint(picture + grain), 0, 255), np.uint8)


def blurred(picture: Picture, truth: Any, rng: Rng) -> Picture:
    """Out of focus by a disc of 1 mm and more: two neighbouring dashes' distance, so that none is seen singly."""
    per_mm = max(picture.shape) / 300
    radius = int(np.ceil(per_mm * rng.uniform(0.5, 2.0)))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1)).astype(np.float32)
    return noisy(encoded(np.asarray(cv2.filter2D(linear(picture), -1, disc / disc.sum()))), 1.5, rng)


def shaken(picture: Picture, truth: Any, rng: Rng) -> Picture:
    """Moved by 1.2 to 4 mm across the dashes, give or take 45 degrees."""
    length = max(picture.shape) / 300 * rng.uniform(1.2, 4.0)
    x, y = truth.page_to_px(np.array([50.0, 50.0]), np.array([50.0, 250.0]))
    angle = np.arctan2(y[1] - y[0], x[1] - x[0]) + rng.uniform(-0.8, 0.8)
    size = 2 * int(np.ceil(length / 2)) + 3
    kernel = np.zeros((size, size), np.float32)
    for t in np.linspace(-0.5, 0.5, 16 * size):
        kernel[round(size // 2 + t * length * np.sin(angle)), round(size // 2 + t * length * np.cos(angle))] += 1
    return noisy(encoded(np.asarray(cv2.filter2D(linear(picture), -1, kernel / kernel.sum()))), 1.5, rng)


def half(picture: Picture, truth: Any, rng: Rng) -> Picture:
    """Cut so that a quarter to just under half of the sheet is left: of most inks no whole printing."""
    share = rng.uniform(0.25, 0.47)
    height, width = picture.shape[:2]
    part = [
        picture[: int(share * height)],
        picture[-int(share * height) :],
        picture[:, : int(share * width)],
        picture[:, -int(share * width) :],
    ]
    return np.ascontiguousarray(part[int(rng.integers(0, 4))])


def glare(picture: Picture, truth: Any, rng: Rng) -> Picture:
    """A lamp mirrored in the sheet, burning out a spot of 6 to 12 cm on the rows of dashes."""
    x_mm, y_mm = rng.uniform(60, 150), rng.uniform(50, 110)
    x, y = (float(v[0]) for v in truth.page_to_px(np.array([x_mm]), np.array([y_mm])))
    radius = max(picture.shape) / 300 * rng.uniform(30, 60)
    py, px = np.mgrid[: picture.shape[0], : picture.shape[1]].astype(np.float32)
    away = ((px - x) ** 2 + (py - y) ** 2) / radius**2
    spot = np.float32(rng.uniform(2.5, 6.0)) * np.exp(-0.7 * away)
    return encoded(linear(picture) + spot[..., None])


def small(picture: Picture, truth: Any, rng: Rng) -> Picture:
    """The sheet at 25 to 65 dots/inch: in a small picture, or far away in a large one."""
    scale = rng.uniform(25, 65) / (max(picture.shape) / 300 * 25.4)
    little = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    if rng.random() < 0.5:
        return np.asarray(little, np.uint8)
    height, width = 3000, 4000
    out = np.full((height, width, 3), rng.uniform(40, 160, 3), np.float32)
    out += cv2.GaussianBlur(rng.standard_normal((height, width, 1), dtype=np.float32), (0, 0), 9)[..., None] * 60
    y, x = int(rng.integers(50, height - little.shape[0] - 50)), int(rng.integers(50, width - little.shape[1] - 50))
    out[y : y + little.shape[0], x : x + little.shape[1]] = little
    return noisy(np.clip(out, 0, 255).astype(np.uint8), 2.0, rng)


def dark(picture: Picture, truth: Any, rng: Rng) -> Picture:
    """Underexposed 120 to 400 times, the noise left as it is."""
    light = linear(picture) / np.float32(rng.uniform(120, 400))
    light += rng.standard_normal(light.shape, dtype=np.float32) * np.float32(rng.uniform(0.003, 0.008))
    return encoded(light)


def document(picture: Picture, truth: Any, rng: Rng) -> Picture:
    """Something else on a sheet of paper, or no paper at all."""
    kind = int(rng.integers(0, 6))
    if kind == 0:
        return _text_page(rng)
    if kind == 1:
        return _table_page(rng)
    if kind == 2:
        return _qr_page(rng)
    if kind == 3:
        return _photograph(rng)
    if kind == 4:
        return _fiducial_page(rng)
    return _blank_page(rng)


def _paper(rng: Rng) -> Picture:
    page = np.full((2970, 2100, 3), rng.uniform(225, 248, 3), np.float32)
    return noisy(page.astype(np.uint8), 1.5, rng)


def _words(page: Picture, rng: Rng, x: int, y: int, width: int, size: float) -> None:
    letters = "abcdefghijklmnopqrstuvwxyz"
    while True:
        word = "".join(rng.choice(list(letters), int(rng.integers(2, 11))))
        (w, _), _ = cv2.getTextSize(word, cv2.FONT_HERSHEY_COMPLEX, size, 2)
        if w > width:
            return
        cv2.putText(page, word, (x, y), cv2.FONT_HERSHEY_COMPLEX, size, (30, 30, 30), 2, cv2.LINE_AA)
        x, width = x + w + 18, width - w - 18


def _text_page(rng: Rng) -> Picture:
    page, size = _paper(rng), float(rng.uniform(0.7, 1.4))
    for y in range(220, 2750, int(48 * size) + 8):
        _words(page, rng, 200, y, int(rng.uniform(900, 1700)), size)
    return _on_bench(page, rng)


def _table_page(rng: Rng) -> Picture:
    page, rows, columns = _paper(rng), int(rng.integers(8, 40)), int(rng.integers(3, 9))
    height, width = 2500 // rows, 1700 // columns
    for r in range(rows + 1):
        cv2.line(page, (200, 200 + r * height), (200 + columns * width, 200 + r * height), (40, 40, 40), 3)
    for c in range(columns + 1):
        cv2.line(page, (200 + c * width, 200), (200 + c * width, 200 + rows * height), (40, 40, 40), 3)
        for r in range(rows if c < columns else 0):
            _words(page, rng, 210 + c * width, 190 + (r + 1) * height, width - 20, 0.7)
    return _on_bench(page, rng)


def _qr_page(rng: Rng) -> Picture:
    import segno

    page = _paper(rng)
    for _ in range(int(rng.integers(1, 4))):
        text = "https://example.org/" + "".join(rng.choice(list("abcdef0123456789"), int(rng.integers(8, 60))))
        modules = np.array(segno.make_qr(text).matrix, bool)
        big = np.kron(modules, np.ones((12, 12), bool))
        y, x = int(rng.integers(100, 2000)), int(rng.integers(100, 1300))
        part = page[y : y + len(big), x : x + len(big)]
        part[big[: part.shape[0], : part.shape[1]]] = 25
    _words(page, rng, 200, 2800, 1700, 1.2)
    return _on_bench(page, rng)


def _fiducial_page(rng: Rng) -> Picture:
    """Fiducials of other families, and of ours under numbers that no sheet has."""
    page = _paper(rng)
    names = ("DICT_5X5_100", "DICT_6X6_250", "DICT_APRILTAG_36h11", "DICT_4X4_50")
    for k in range(6):
        name = str(rng.choice(names))
        number = int(rng.integers(45, 50)) if name == "DICT_4X4_50" else int(rng.integers(0, 99))
        family = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, name))
        tile = cv2.aruco.generateImageMarker(family, number, 420)
        y, x = 250 + 850 * (k // 2), 250 + 900 * (k % 2)
        page[y : y + 420, x : x + 420] = tile[..., None]
    return _on_bench(page, rng)


def _photograph(rng: Rng) -> Picture:
    from skimage import data

    names = ["astronaut", "coffee", "chelsea", "camera", "text", "page", "brick", "grass", "gravel", "coins"]
    name = str(rng.choice(names))
    picture = np.atleast_3d(getattr(data, name)())
    picture = np.repeat(picture, 3, axis=2) if picture.shape[2] == 1 else picture[..., :3]
    scale = rng.uniform(2000, 3600) / max(picture.shape)
    return np.asarray(cv2.resize(np.ascontiguousarray(picture[..., ::-1]), None, fx=scale, fy=scale), np.uint8)


def _blank_page(rng: Rng) -> Picture:
    return _on_bench(_paper(rng), rng)


def _on_bench(page: Picture, rng: Rng) -> Picture:
    """A page photographed at a slant on a table."""
    height, width = 3264, 2448
    corners = np.array([[150, 150], [2298, 150], [2298, 3114], [150, 3114]], np.float32)
    corners += rng.uniform(-110, 110, (4, 2)).astype(np.float32)
    source = np.array([[0, 0], [page.shape[1], 0], [page.shape[1], page.shape[0]], [0, page.shape[0]]], np.float32)
    warp = cv2.getPerspectiveTransform(source, corners)
    tint = [float(v) for v in rng.uniform(30, 120, 3)]
    out = cv2.warpPerspective(page, warp, (width, height), flags=cv2.INTER_AREA, borderValue=tint)
    return noisy(np.asarray(cv2.GaussianBlur(out, (0, 0), 0.7), np.uint8), 3.0, rng)


SHARP = r"blurred|nothing in the picture is sharp|steadier"
KINDS: dict[str, tuple[Callable[[Picture, Any, Rng], Picture], str]] = {
    # name: how it is made, and the words of the advice that is right
    "blurred": (blurred, SHARP),
    "shaken": (shaken, SHARP),
    "half": (half, r"whole sheet|whole printed side"),
    "glare": (glare, r"lamp"),
    "small": (small, r"too small|too few to show|go closer"),
    "dark": (dark, r"too dark|more light"),
    # enlarged photographs are not sharp, and being told so is right too
    "document": (document, r"no test sheet found|nothing in the picture is sharp"),
}


def score_one(job: tuple[str, int, str]) -> dict[str, Any]:
    """Make one picture, score it, and say how it ended."""
    cv2.setNumThreads(1)
    from printcheck.errors import PrintcheckError
    from printcheck.pipeline import score_image

    kind, seed, split = job
    make, right = KINDS[kind]
    rng = np.random.default_rng([seed, sorted(KINDS).index(kind), len(split)])
    needs_sheet = kind != "document"
    picture, truth = base(sheet_of(seed), split) if needs_sheet else (np.zeros((1, 1, 3), np.uint8), None)
    spoiled = make(picture, truth, rng)
    keep = os.environ.get("SURVEY_KEEP")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(keep or folder) / f"{kind}-{seed}.jpg"
        cv2.imwrite(str(path), spoiled, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(80, 96))])
        try:
            sheet = score_image(path).sheet
        except PrintcheckError as error:
            outcome, text = "refused", str(error)
        except Exception:  # what the survey is there to find
            outcome, text = "TRACEBACK", traceback.format_exc()
        else:
            outcome = sheet.assessment.action.value
            text = " | ".join([*(r.text for r in sheet.assessment.reasons[:3]), *sheet.assessment.next_steps[:1]])
    asked = outcome in ("refused", "rescan")
    return {
        "kind": kind, "seed": seed, "outcome": outcome, "text": text,
        "right": asked and re.search(right, text) is not None,
        "spoiled": outcome in ("top-off", "TRACEBACK"),
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=300, help="pictures in all, the kinds in turn")
    parser.add_argument("--start", type=int, default=0, help="first seed; every 60 show five other sheets")
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--kind", choices=sorted(KINDS), help="only this one")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--show", action="store_true", help="print what was said of every picture")
    args = parser.parse_args()
    kinds = [args.kind] if args.kind else list(KINDS)
    numbers = range(args.start, args.start + args.count)
    jobs = [(args.kind or kinds[n % len(kinds)], n, args.split) for n in numbers]
    jobs.sort(key=lambda job: (sheet_of(job[1]), job[0]))  # pictures of one sheet together: it is printed once
    rows = []
    with ProcessPoolExecutor(args.workers) as pool:
        for row in map(score_one, jobs) if args.workers == 1 else pool.map(score_one, jobs, chunksize=8):
            rows.append(row)
            if args.show or row["spoiled"] or not row["right"]:
                print(f"{row['kind']} {row['seed']}: {row['outcome']}: {row['text']}", flush=True)
            print(f"\r{len(rows)}/{len(jobs)}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for kind in kinds:
        mine = [row for row in rows if row["kind"] == kind]
        outcomes = dict(collections.Counter(row["outcome"] for row in mine))
        share = sum(row["right"] for row in mine) / max(len(mine), 1)
        print(f"{kind:9} {len(mine):4}  right reason {share:.3f}  {outcomes}")
    asked = sum(row["right"] for row in rows) / max(len(rows), 1)
    spoiled = sum(row["spoiled"] for row in rows)
    print(f"all       {len(rows):4}  right reason {asked:.3f}; top-off or traceback: {spoiled}")


if __name__ == "__main__":
    main()
