"""Rate of a batch by number of workers, and the memory of the whole.

    python benchmarks/bench_batch.py --sheets 200
    python benchmarks/bench_batch.py --sheets 1000 --workers 2 --dots-per-inch 200     # is memory flat?

The sheets are a few simulated scans under many names. Memory is the sum over this process and its workers.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from pathlib import Path

from printcheck.batch import score_many
from printcheck.bench import BenchSettings
from printcheck.simulate.scenario import random_scan

_KINDS = 4


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sheets", type=int, default=200)
    parser.add_argument("--workers", type=int, nargs="*", default=[1, 2])
    parser.add_argument("--dots-per-inch", type=int, default=300)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        made = []
        for seed in range(_KINDS):
            capture = random_scan(seed, head="tri-192", page="A4", dots_per_inch=asked.dots_per_inch, encoding="jpeg")
            made.append(Path(folder) / f"kind-{seed}.jpg")
            made[-1].write_bytes(capture.encoded())
        paths = [Path(folder) / f"{number:05d}.jpg" for number in range(asked.sheets)]
        for number, path in enumerate(paths):
            shutil.copy(made[number % _KINDS], path)
        rates = {}
        for workers in asked.workers:
            begun, quarter = time.perf_counter(), 0.0
            memory = []
            for done, _ in enumerate(score_many(paths, BenchSettings(), workers=workers), 1):
                if done % max(1, asked.sheets // 20) == 0:
                    memory.append(_memory_mb())
                if done == max(1, asked.sheets // 4):
                    quarter = memory[-1] if memory else _memory_mb()
            took = time.perf_counter() - begun
            rates[workers] = asked.sheets / took
            ratio = rates[workers] / rates[asked.workers[0]]
            print("  memory, MB, by twentieth of the sheets: " + " ".join(f"{mb:.0f}" for mb in memory), flush=True)
            print(
                f"{workers} workers: {rates[workers]:.2f} sheets/s, {ratio:.2f} times; memory {quarter:.0f} MB "
                f"after a quarter, {memory[-1]:.0f} MB at the end, at most {max(memory):.0f} MB",
                flush=True,
            )


def _memory_mb() -> float:
    """Resident memory of this process and its children, MB; Linux only."""
    pages = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = stat.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        if int(words[1]) == os.getpid() or stat.parent.name == str(os.getpid()):
            pages += int(words[21])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


if __name__ == "__main__":
    main()
