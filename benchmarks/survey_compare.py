"""Compare simulated pairs of sheets whose change is known, and print how often the outcome is right.

    python benchmarks/survey_compare.py --pairs 200 --split report --start 1000

One printer prints both sheets of a pair; what was done in between is drawn: all nozzles back, some back, none, or
more gone. What changed on paper is what counts: not every nozzle prints in every mode, and two may share a row.
Right is ``cured`` where no row is missing, weak or displaced any more, ``better`` and ``worse`` where rows only got
better or only worse, ``unchanged`` where they are the same.
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

from printcheck.pair import foreign_by_one_another
from printcheck.pattern.heads import load_head
from printcheck.pipeline import score_image
from printcheck.simulate.faults import InkState, NozzleFaults, random_dead
from printcheck.simulate.scenario import random_scan
from printcheck.simulate.shop import random_modes
from printcheck.simulate.truth import Truth
from printcheck.verdict.compare import compare_sheets

_CHANGES = ("cured", "some back", "none", "more gone")
_WORTH = {"missing": 2, "weak": 1, "displaced": 1, "present": 0}


def true_outcome(before: Truth, after: Truth, ink: str) -> str | None:
    """Name what the rows of one ink did between two sheets; none where some got better and others worse."""
    was, now = ([_WORTH[dash.state] for dash in truth.dashes[ink]] for truth in (before, after))
    if not any(now) and any(was):
        return "cured"
    ways = {(a < b) - (a > b) for a, b in zip(was, now, strict=True)} - {0}
    return {frozenset(): "unchanged", frozenset({1}): "worse", frozenset({-1}): "better"}.get(frozenset(ways))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pairs", type=int, default=200)
    parser.add_argument("--split", default="tune")
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--dots-per-inch", type=int, default=300)
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    right = rescans = mixed = 0
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
        change = _CHANGES[seed % 4]
        others = sorted(set(range(ink.nozzles)) - dead)
        after = {
            "cured": frozenset(),
            "some back": frozenset(rng.permutation(sorted(dead))[: len(dead) // 2].tolist()),
            "none": dead,
            "more gone": dead | frozenset(rng.choice(others, int(rng.integers(1, 6)), replace=False).tolist()),
        }[change]
        modes = random_modes(head, rng)
        scored, truths = [], []
        with tempfile.TemporaryDirectory() as folder:
            for number, nozzles in enumerate((dead, frozenset(after))):
                capture = random_scan(
                    2 * seed + number, split=asked.split, head=name, ticket=f"P{seed}", page="A4", modes=modes,
                    dots_per_inch=asked.dots_per_inch, inks={ink.ink: InkState(NozzleFaults(frozenset(nozzles)))},
                )  # fmt: skip
                path = Path(folder) / f"{number}.{capture.encoding.kind}"
                path.write_bytes(capture.encoded())
                scored.append(score_image(path))
                truths.append(capture.truth)
        ought = true_outcome(*truths, ink.ink)
        if ought is None:
            mixed += 1
            continue
        sheets = [one.sheet for one in scored]
        told = compare_sheets(*sheets, mutual=foreign_by_one_another(*scored))
        seen[ought, told.outcome.value] += 1
        right += told.outcome.value == ought
        gone = any(dash.state == "missing" for dash in truths[1].dashes[ink.ink])
        wrong_cured += told.outcome.value == "cured" and gone
        rescans += any(sheet.assessment.action.value == "rescan" for sheet in sheets)
        if told.outcome.value == ought:
            print(f"seed {seed} {name}: {ought}, right", flush=True)
        else:
            print(f"seed {seed} {name}: {ought}, told {told.outcome.value}: {'; '.join(told.reasons)}", flush=True)
    for (ought, outcome), count in sorted(seen.items()):
        print(f"{ought:>10} -> {outcome:<10} {count}")
    print(
        f"{right} of {sum(seen.values())} right ({mixed} changed both ways, left out), "
        f"{wrong_cured} called cured with a dead row left, "
        f"{rescans} with a picture not fit; {time.perf_counter() - begun:.0f} s"
    )


if __name__ == "__main__":
    main()
