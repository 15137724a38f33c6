"""Score simulated captures whose truth is known, and print the rates.

    python benchmarks/survey.py scan --count 200 --split report --start 1000
    python benchmarks/survey.py photo --count 60 --split tune
    python benchmarks/survey.py photo --count 20 --split tune --megapixels 48

Seeds of the ``report`` split are for reporting only: nothing may be tuned on them.
"""

from __future__ import annotations

import argparse
import collections
import json
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def score_one(job: tuple[str, int, dict[str, Any]]) -> dict[str, Any]:
    """Simulate, score and compare one capture."""
    import cv2
    import numpy as np

    cv2.setNumThreads(1)
    from printcheck.pipeline import score_image
    from printcheck.simulate import scenario

    kind, seed, options = job
    keep = os.environ.get("SURVEY_KEEP")
    begun = time.perf_counter()
    if kind == "scan":
        capture = scenario.random_scan(seed, **options)
    else:
        from printcheck.simulate import photo_scenario

        capture = photo_scenario.random_photo(seed, strength_truth=True, **options)
    made = time.perf_counter() - begun
    with tempfile.TemporaryDirectory() as folder:
        path = capture.write(Path(keep or folder) / f"{kind}-{seed}.{capture.encoding.kind}")
        begun = time.perf_counter()
        scored = score_image(path)
        took = time.perf_counter() - begun
    truth, sheet = capture.truth, scored.sheet
    row: dict[str, Any] = {
        "seed": seed, "head": truth.head, "made_s": round(made, 1), "took_s": round(took, 2),
        "action": sheet.assessment.action.value, "clean": truth.clean, "mode": truth.print_mode,
        "reasons": [r.text for r in sheet.assessment.reasons][:3], "inks": {}, "dpi": sheet.capture.dots_per_inch,
        "warnings": list(sheet.capture.warnings),
    }  # fmt: skip
    row["dead_rows"] = sum(d.state == "missing" for rows in truth.dashes.values() for d in rows)
    if scored.registration is not None:
        rng = np.random.default_rng(seed)
        layout = scored.registration.layout
        points = rng.uniform([20, 30], [layout.width_mm - 20, layout.height_mm - 30], (400, 2))
        px = np.stack(capture.page_to_stored_px(points[:, 0], points[:, 1]), axis=1)
        error = scored.registration.to_px(points) - px
        scale = (scored.registration.px_per_mm_x * scored.registration.px_per_mm_y) ** 0.5
        row["registration_mm"] = float(np.sqrt((error**2).sum(axis=1).mean()) / scale)
        row["rms_mm"] = scored.registration.rms_mm
    for reading in sheet.lines:
        truths = {(d.row, d.repeat): d for d in truth.dashes[reading.ink]}
        counts: collections.Counter[str] = collections.Counter()
        read = []
        for dash in reading.dashes:
            true = truths[(dash.row, dash.repeat)]
            counts[f"{true.state}->{dash.state}"] += 1
            if dash.strength is not None and dash.strength_sd and dash.state != "unreadable":
                known = true.strength if true.strength is not None else float("nan")
                read.append((dash.strength, dash.strength_sd, known, true.volume))
        values = np.array(read) if read else np.zeros((0, 4))
        dead = values[values[:, 3] == 0]
        sound = values[values[:, 3] > 0.8]
        row["inks"][reading.ink] = {
            "counts": dict(counts), "missing": list(reading.missing), "intermittent": list(reading.intermittent),
            "advance": reading.advance_rows, "arrangement": reading.arrangement, "stride": reading.stride,
            "absent": reading.absent, "true_first": list(truth.missing(reading.ink, 0))[:30],
            "dead_strength": dead[:, 0].tolist()[:20], "sound_sd": float(sound[:, 0].std()) if len(sound) else None,
            "median_sd": float(np.median(values[:, 1])) if len(values) else None,
            "min_sound": float(sound[:, 0].min()) if len(sound) else None,
            "strengths": np.round(values[:, :3], 5).tolist() if kind == "photo" else [],
        }  # fmt: skip
    return row


def standardised(rows: list[dict[str, Any]]) -> list[str]:
    """A line an ink: how the dashes' errors compare with the standard deviations stated for them.

    Over all dashes read, (strength - true strength) / strength_sd ought to have a standard deviation of 1.
    "robust" is 1.4826 times its median absolute value; "dead" and "sound" are the plain one over rows that did not
    print, or did.
    """
    import numpy as np

    by_ink: dict[str, list[list[float]]] = collections.defaultdict(list)
    for row in rows:
        for ink, found in row["inks"].items():
            by_ink[ink] += found["strengths"]
            by_ink["all"] += found["strengths"]
    out = []
    for ink, found in sorted(by_ink.items()):
        values = np.array(found).reshape(-1, 3)
        values = values[np.isfinite(values).all(axis=1)]
        if not len(values):
            continue
        error = (values[:, 0] - values[:, 2]) / values[:, 1]
        parts = {
            "plain": np.sqrt(np.mean(error**2)),
            "robust": 1.4826 * np.median(np.abs(error)),
            "bias": error.mean(),
            "dead": np.sqrt(np.mean(error[values[:, 2] < 0.1] ** 2)) if (values[:, 2] < 0.1).any() else np.nan,
            "sound": np.sqrt(np.mean(error[values[:, 2] > 0.8] ** 2)),
        }
        told = " ".join(f"{name} {value:.2f}" for name, value in parts.items())
        spread, usual = np.sqrt(np.mean((values[:, 0] - values[:, 2]) ** 2)), np.median(values[:, 1])
        out.append(f"{ink:4} strength error / sd: {told}; error {spread:.4f}, median sd {usual:.4f}")
    return out


def summary(rows: list[dict[str, Any]]) -> str:
    """The rates, a line an ink and one for the sheets."""
    total: dict[str, collections.Counter[str]] = collections.defaultdict(collections.Counter)
    for row in rows:
        for ink, found in row["inks"].items():
            total[ink].update(found["counts"])
            total["all"].update(found["counts"])
    out = []
    for ink, counts in sorted(total.items()):
        dead = sum(n for k, n in counts.items() if k.startswith("missing->"))
        dead_read = dead - counts["missing->unreadable"]
        hit = counts["missing->missing"]
        called = sum(n for k, n in counts.items() if k.endswith("->missing"))
        unread = sum(n for k, n in counts.items() if k.endswith("->unreadable"))
        weak = sum(n for k, n in counts.items() if k.startswith("weak->"))
        weak_called = sum(n for k, n in counts.items() if k.endswith("->weak"))
        every = sum(counts.values())
        out.append(
            f"{ink:4} dashes {every:7} dead {dead:6} recall {hit / max(dead_read, 1):.4f} "
            f"precision {hit / max(called, 1):.4f} unreadable {unread / max(every, 1):.4f}   "
            f"weak {weak} recall {counts['weak->weak'] / max(weak, 1):.3f} "
            f"precision {counts['weak->weak'] / max(weak_called, 1):.3f}"
        )
    out += standardised(rows)
    clean = [r for r in rows if r["clean"]]
    good = [r for r in clean if r["action"] == "top-off"]
    none = [r for r in clean if not any(i["missing"] or i["intermittent"] for i in r["inks"].values())]
    wrong = [r["seed"] for r in rows if r["dead_rows"] and r["action"] == "top-off"]
    out.append(f"clean {len(clean)}: top-off {len(good)}, no row listed {len(none)}; dead but top-off: {wrong}")
    out.append(f"actions {dict(collections.Counter(r['action'] for r in rows))}")
    errors = sorted(r["registration_mm"] for r in rows if "registration_mm" in r)
    if errors:
        out.append(f"registration mm: median {errors[len(errors) // 2]:.4f} worst {errors[-1]:.4f}")
    return "\n".join(out)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kind", choices=["scan", "photo"])
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--dpi", type=int)
    parser.add_argument("--megapixels", type=float, help="of photos; 12 by default")
    parser.add_argument("--head")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--set", action="append", default=[], metavar="NAME=JSON", help="further simulator options")
    args = parser.parse_args()
    options: dict[str, Any] = {"split": args.split}
    if args.dpi:
        options["dots_per_inch"] = args.dpi
    if args.megapixels:
        options["megapixels"] = args.megapixels
    if args.head:
        options["head"] = args.head
    for item in args.set:
        name, value = item.split("=", 1)
        options[name] = json.loads(value)
    jobs = [(args.kind, seed, options) for seed in range(args.start, args.start + args.count)]
    rows = []
    with ProcessPoolExecutor(args.workers) as pool:
        for row in pool.map(score_one, jobs):
            rows.append(row)
            print(f"\r{len(rows)}/{len(jobs)}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    if args.out:
        args.out.write_text("\n".join(json.dumps(row) for row in rows))
    print(summary(rows))


if __name__ == "__main__":
    main()
