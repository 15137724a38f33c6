"""Scoring an A4 JPEG at 600 dots/inch against decoding it, in one process, once imported; peak memory; start-up.

    python benchmarks/bench_score.py [--runs 9] [IMAGE]

Prints the medians and the ratio; the aim is at most 2.5 times `cv2.imread` with every measurement on, and a peak of
at most 3 times the decoded image on top of the imported program.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("image", nargs="?", type=Path)
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--head", default="quad-416-192")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        image = args.image or make(Path(folder) / "a4-600.jpg", args.head)
        for key, value in measure(image, args.runs).items():
            print(f"{key:34} {value}")


def make(path: Path, head: str) -> Path:
    """A simulated scan, in a process of its own so that its memory does not count."""
    code = (
        "import sys; from pathlib import Path; from printcheck.simulate.scenario import random_scan; "
        "random_scan(21, head=sys.argv[2], page='A4', dots_per_inch=600, encoding='jpeg').write(Path(sys.argv[1]))"
    )
    subprocess.run([sys.executable, "-c", code, str(path), head], check=True)
    return path


def measure(image: Path, runs: int) -> dict[str, str]:
    import cv2

    from printcheck.pipeline import score_image

    score_image(Path(__file__).parents[1] / "sample_scans" / "black-good.jpg")  # imports and first-use costs
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    score_image(image)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    decode, score = [], []
    for _ in range(runs):
        begun = time.perf_counter()
        pixels = cv2.imread(str(image))
        decode.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        score_image(image)
        score.append(time.perf_counter() - begun)
    assert pixels is not None
    begun = time.perf_counter()
    subprocess.run([sys.executable, "-m", "printcheck", "--help"], check=True, stdout=subprocess.DEVNULL)
    start = time.perf_counter() - begun
    ratios = [s / d for s, d in zip(score, decode, strict=True)]
    return {
        "cv2.imread, median": f"{1e3 * statistics.median(decode):.0f} ms",
        "score, median": f"{1e3 * statistics.median(score):.0f} ms",
        "ratio, median (least)": f"{statistics.median(ratios):.2f} ({min(score) / min(decode):.2f})",
        "peak over imported, / decoded": f"{(peak - before) * 1024 / pixels.nbytes:.2f}",
        "printcheck --help": f"{1e3 * start:.0f} ms",
    }


if __name__ == "__main__":
    main()
