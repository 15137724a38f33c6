"""Scoring a picture against decoding it, in one process, once imported; peak memory; start-up.

    python benchmarks/bench_score.py [--runs 9] [--photo] [IMAGE]

An A4 JPEG of 600 dots/inch, with `--photo` one of 12 megapixels from a phone, or IMAGE. Prints the medians and the
ratio; the aim is at most 2.5 times `cv2.imread` with every measurement on, and a peak of at most 3 times the decoded
image on top of the imported program. What decoding costs grows with the file, what scoring costs beyond it hardly
does: phones write 3 to 6 MB for 12 megapixels, and simulated photos may be smaller, so the size is told. A picture
that its EXIF tag turns costs `cv2.imread` a quarter to a half more, and the score nothing, so that is told too. The
last line counts processor time with OpenCV on one thread, which other work on the machine sways less.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("image", nargs="?", type=Path)
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--head", default="quad-416-192")
    parser.add_argument("--photo", action="store_true", help="a simulated photo instead of a scan")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        image = args.image or make(Path(folder) / "a4.jpg", args.head, photo=args.photo)
        for key, value in measure(image, args.runs).items():
            print(f"{key:34} {value}")


def make(path: Path, head: str, *, photo: bool = False) -> Path:
    """A simulated scan or photo, in a process of its own so that its memory does not count."""
    kind, more = ("random_photo", "") if photo else ("random_scan", "dots_per_inch=600, encoding='jpeg'")
    code = (
        f"import sys; from pathlib import Path; from printcheck.simulate.SCENARIO import {kind}; "
        f"{kind}(21, head=sys.argv[2], page='A4', {more}).write(Path(sys.argv[1]))"
    ).replace("SCENARIO", "photo_scenario" if photo else "scenario")
    subprocess.run([sys.executable, "-c", code, str(path), head], check=True)
    return path


def measure(image: Path, runs: int) -> dict[str, str]:
    import cv2
    from PIL import ExifTags, Image

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
    with Image.open(image) as header:
        turned = ", turned by EXIF" if header.getexif().get(ExifTags.Base.Orientation, 1) > 1 else ""
    return {
        "file": f"{image.stat().st_size / 1e6:.1f} MB, {pixels[..., 0].size / 1e6:.1f} megapixels{turned}",
        "cv2.imread, median": f"{1e3 * statistics.median(decode):.0f} ms",
        "score, median": f"{1e3 * statistics.median(score):.0f} ms",
        "ratio, median (least)": f"{statistics.median(ratios):.2f} ({min(score) / min(decode):.2f})",
        "peak over imported, / decoded": f"{(peak - before) * 1024 / pixels.nbytes:.2f}",
        "printcheck --help": f"{1e3 * start:.0f} ms",
        "ratio of least processor times": f"{processor_ratio(image, runs):.2f}",
    }


def processor_ratio(image: Path, runs: int) -> float:
    """Least processor time of a score, all its threads together, over that of decoding."""
    import cv2

    from printcheck.pipeline import score_image

    cv2.setNumThreads(1)

    def least(work: Callable[[], object]) -> float:
        times = []
        for _ in range(runs):
            begun = time.process_time()
            work()
            times.append(time.process_time() - begun)
        return min(times)

    return least(lambda: score_image(image)) / least(lambda: cv2.imread(str(image)))


if __name__ == "__main__":
    main()
