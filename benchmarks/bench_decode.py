"""Decoding against ``cv2.imread`` of the same file: ``python benchmarks/bench_decode.py [--repeats N]``.

Prints, for an A4 page of noise-textured paper at 600 dots/inch in several containers, the median times in ms,
their ratio, and the peak of memory over the decoded size (each in a process of its own).
"""

from __future__ import annotations

import argparse
import multiprocessing
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from printcheck.capture.decode import read_captures

A4_600 = (7016, 4961)  # height, width in px


def page(seed: int = 1) -> np.ndarray:
    """A4 at 600 dots/inch: grey-white paper with noise and dark bars."""
    rng = np.random.default_rng(seed)
    tile = rng.normal(238.0, 5.0, (1024, 1024, 3)).clip(0, 255).astype(np.uint8)
    tile[100:900:40, 100:900] //= 4
    height, width = A4_600
    return np.tile(tile, (7, 5, 1))[:height, :width].copy()


def median_ms(run: Callable[[], object], repeats: int) -> float:
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        run()
        times.append((time.perf_counter() - start) * 1e3)
    return statistics.median(times)


def peak_mb(path: str, ours: bool) -> float:
    """Growth of the peak resident size while reading `path` in a fresh process, in MB."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(_peak, (path, ours))


def _peak(path: str, ours: bool) -> float:
    before = _high_water_kb()
    kept = next(iter(read_captures(path))) if ours else cv2.imread(path, cv2.IMREAD_UNCHANGED)
    after = _high_water_kb()
    del kept
    return (after - before) / 1024


def _high_water_kb() -> int:
    """Peak resident size of this process (Linux); getrusage would include the parent's before the exec."""
    status = Path("/proc/self/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=7)
    repeats = parser.parse_args().repeats
    image = page()
    cases = [
        ("a4.jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 90]),
        ("a4-grey.jpg", image[:, :, 0], [cv2.IMWRITE_JPEG_QUALITY, 90]),
        ("a4.png", image, []),
        ("a4.bmp", image, []),
        ("a4-lzw.tif", image, []),
        ("a4-raw.tif", image, [cv2.IMWRITE_TIFF_COMPRESSION, 1]),
        ("a4-16bit-raw.tif", image.astype(np.uint16) * 257, [cv2.IMWRITE_TIFF_COMPRESSION, 1]),
    ]
    print(f"{'file':<20}{'MB':>7}{'imread ms':>11}{'ours ms':>9}{'ratio':>7}{'peak imread':>13}{'peak ours':>11}")
    with tempfile.TemporaryDirectory() as folder:
        for name, pixels, options in cases:
            path = str(Path(folder) / name)
            cv2.imwrite(path, pixels, options)
            theirs = median_ms(lambda p=path: cv2.imread(p, cv2.IMREAD_UNCHANGED), repeats)
            ours = median_ms(lambda p=path: next(iter(read_captures(p))), repeats)
            size = Path(path).stat().st_size / 1e6
            decoded_mb = pixels.nbytes / 2**20
            peaks = (peak_mb(path, False) / decoded_mb, peak_mb(path, True) / decoded_mb)
            times = f"{theirs:11.0f}{ours:9.0f}{ours / theirs:7.2f}"
            print(f"{name:<20}{size:7.1f}{times}{peaks[0]:12.2f}x{peaks[1]:10.2f}x")
            Path(path).unlink()


if __name__ == "__main__":
    main()
