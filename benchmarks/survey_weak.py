"""Weak and displaced rows of simulated scans against what was planted: recall, precision, cover of the intervals.

    python benchmarks/survey_weak.py --count 14 --start 50000 --split report --dpi 300

A dash counts as weak from a drop volume of 70 % down and as displaced from 25 um on; those between these and sound
(85 % and 15 um) count neither for nor against. The reader calls a dash displaced from 20 um on: with a reading good
to 2 or 3 um, one that truly lies 18 or 22 um off may fall on either side of that limit, and is wrong on neither; from
15 um down it may not. Offsets are, like the reading, relative to the rows about that the same pass printed: where a
pass lies as a whole is the printer's feed. A row of which two nozzles print a half each (``two-pass-dots``) lies
where the two do on the mean. Cover is the share of intervals of 1.96 standard deviations that hold the true offset,
and the true strength: the light that a dash takes away on the paper itself (`simulate.strength`).
"""

from __future__ import annotations

import argparse
import collections
import os
import statistics
import tempfile
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

WEAK, SOUND = 0.70, 0.85  # relative drop volume
DISPLACED_UM, PLACED_UM = 25.0, 15.0


def score_one(seed: int, options: dict[str, Any]) -> tuple[collections.Counter[str], list[tuple[float, float]]]:
    """Counts of one scan, and (true volume, strength) of its weak dashes."""
    import cv2

    cv2.setNumThreads(1)
    from printcheck.pipeline import score_image
    from printcheck.simulate.scenario import random_scan

    capture = random_scan(seed, clean=False, encoding="jpeg", strength_truth=True, **options)
    with tempfile.TemporaryDirectory() as folder:
        lines = score_image(capture.write(Path(folder) / "scan.jpeg")).sheet.lines
    counts: collections.Counter[str] = collections.Counter()
    curve = []
    for reading in lines:
        truths = {(d.row, d.repeat): d for d in capture.truth.dashes[reading.ink]}
        own = own_offsets(capture.truth.dashes[reading.ink])
        for dash in reading.dashes:
            true = truths[dash.row, dash.repeat]
            if true.state == "missing" or dash.state in ("missing", "unreadable"):
                counts[f"{true.state} read {dash.state}"] += true.state != "missing"
                continue
            shift = max(abs(own[dash.row, dash.repeat]), abs(true.offset_um))
            weak, shifted = true.volume <= WEAK, shift >= DISPLACED_UM
            if weak or true.volume >= SOUND:
                counts[f"weak {weak} {dash.state == 'weak'}"] += 1
            if dash.strength is not None and dash.strength_sd is not None and true.strength is not None:
                kind = "weak strengths" if weak else "strengths"
                counts[kind] += 1
                counts[f"{kind} held"] += abs(dash.strength - true.strength) <= 1.96 * dash.strength_sd
            if weak:
                curve.append((true.volume, dash.strength or 0.0))
            elif shifted or shift < PLACED_UM:
                counts[f"displaced {shifted} {dash.state == 'displaced'}"] += 1
            if dash.offset_mm is not None and dash.offset_sd_mm is not None and not weak:
                counts["offsets"] += 1
                error = dash.offset_mm - own[dash.row, dash.repeat] / 1000
                counts["offsets held"] += abs(error) <= 1.96 * dash.offset_sd_mm
    return counts, curve


def own_offsets(dashes: tuple[Any, ...]) -> dict[tuple[int, int], float]:
    """Landing error of each dash less the median of the forty rows about it of the same turn, um."""
    sound = {(d.row, d.repeat): d.offset_um for d in dashes if d.state != "missing"}
    out = {}
    for row, repeat in sound:
        about = [sound[r, repeat] for r in range(row - 20, row + 21, 2) if (r, repeat) in sound]
        out[row, repeat] = sound[row, repeat] - statistics.median(about)
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=14)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--dpi", type=int, default=300)
    args = parser.parse_args()
    total: collections.Counter[str] = collections.Counter()
    curve: list[tuple[float, float]] = []
    for seed in range(args.start, args.start + args.count):
        counts, points = score_one(seed, {"split": args.split, "dots_per_inch": args.dpi})
        total += counts
        curve += points
    for what in ("weak", "displaced"):
        hit, missed, false = (total[f"{what} {k}"] for k in ("True True", "True False", "False True"))
        recall, precision = hit / max(hit + missed, 1), hit / max(hit + false, 1)
        print(f"{what:10} planted {hit + missed:4} recall {recall:.3f} precision {precision:.3f}")
    for kind in ("strengths", "weak strengths"):
        print(f"{kind}: intervals hold the truth {total[kind + ' held'] / max(total[kind], 1):.3f} of {total[kind]}")
    held = total["offsets held"] / max(total["offsets"], 1)
    print(f"offsets: intervals hold the truth {held:.3f} of {total['offsets']}")
    for low, high in ((0.3, 0.5), (0.5, 0.6), (0.6, 0.7)):
        inside = sorted(strength for volume, strength in curve if low <= volume < high)
        if inside:
            middle = inside[len(inside) // 2]
            print(f"strength at volume {low:.1f} to {high:.1f}: median {middle:.3f}, {len(inside)} dashes")
    print({k: v for k, v in total.items() if "read" in k and v})


if __name__ == "__main__":
    main()
