"""Compare simulated pairs of sheets whose change is known, and print how often the outcome is right.

    python benchmarks/survey_compare.py --pairs 200 --split report --start 1000

One printer prints both sheets of a pair; what was done in between is drawn: all rows back, some back, none, or more
gone. Right is ``cured`` where nothing is wrong afterwards, ``better`` and ``worse`` where rows only came or only
went, ``unchanged`` where none did.
"""

from __future__ import annotations

import argparse
import collections
import os
import tempfile
import time
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np

from printcheck.pattern.heads import load_head
from printcheck.pipeline import score_image
from printcheck.simulate.faults import InkState, NozzleFaults, random_dead
from printcheck.simulate.scenario import random_scan
from printcheck.simulate.shop import random_modes
from printcheck.verdict.compare import compare_sheets

_CHANGES = {"cured": "cured", "some back": "better", "none": "unchanged", "more gone": "worse"}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pairs", type=int, default=200)
    parser.add_argument("--split", default="tune")
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--dots-per-inch", type=int, default=300)
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    right = rescans = 0
    wrong_cured = 0
    seen: collections.Counter[tuple[str, str]] = collections.Counter()
    begun = time.perf_counter()
    for seed in range(asked.start, asked.start + asked.pairs):
        rng = np.random.default_rng([seed, 77])
        name = str(rng.choice(["tri-100", "tri-192", "mono-416"]))
        head = load_head(name)
        ink = head.inks[int(rng.integers(len(head.inks)))]
        kind = str(rng.choice(["scattered", "run"]))
        dead = random_dead(ink.nozzles, kind, rng).dead | {int(rng.integers(ink.nozzles))}
        change = list(_CHANGES)[seed % 4]
        others = sorted(set(range(ink.nozzles)) - dead)
        after = {
            "cured": frozenset(),
            "some back": frozenset(rng.permutation(sorted(dead))[: len(dead) // 2].tolist()),
            "none": dead,
            "more gone": dead | frozenset(rng.choice(others, int(rng.integers(1, 6)), replace=False).tolist()),
        }[change]
        if change == "some back" and not after:  # the only row came back
            change = "cured"
        modes = random_modes(head, rng)
        sheets = []
        with tempfile.TemporaryDirectory() as folder:
            for number, nozzles in enumerate((dead, frozenset(after))):
                capture = random_scan(
                    2 * seed + number, split=asked.split, head=name, ticket=f"P{seed}", page="A4", modes=modes,
                    dots_per_inch=asked.dots_per_inch, inks={ink.ink: InkState(NozzleFaults(frozenset(nozzles)))},
                )  # fmt: skip
                path = Path(folder) / f"{number}.{capture.encoding.kind}"
                path.write_bytes(capture.encoded())
                sheets.append(score_image(path).sheet)
        told = compare_sheets(*sheets)
        seen[change, told.outcome.value] += 1
        right += told.outcome.value == _CHANGES[change]
        wrong_cured += told.outcome.value == "cured" and bool(after)
        rescans += any(sheet.assessment.action.value == "rescan" for sheet in sheets)
        if told.outcome.value == _CHANGES[change]:
            print(f"seed {seed} {name}: {change}, right", flush=True)
        else:
            print(f"seed {seed} {name}: {change}, told {told.outcome.value}: {'; '.join(told.reasons)}", flush=True)
    for (change, outcome), count in sorted(seen.items()):
        print(f"{change:>10} -> {outcome:<10} {count}")
    print(
        f"{right} of {asked.pairs} right, {wrong_cured} called cured with a dead row left, "
        f"{rescans} with a picture not fit; {time.perf_counter() - begun:.0f} s"
    )


if __name__ == "__main__":
    main()
