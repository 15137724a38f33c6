"""Score simulated captures whose truth is known, and print the rates.

    python benchmarks/survey.py scan --count 200 --split report --start 1000
    python benchmarks/survey.py photo --count 60 --split tune

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

        capture = photo_scenario.random_photo(seed, **options)
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
        px = np.stack(truth.page_to_px(points[:, 0], points[:, 1]), axis=1)
        error = scored.registration.to_px(points) - px
        scale = (scored.registration.px_per_mm_x * scored.registration.px_per_mm_y) ** 0.5
        row["registration_mm"] = float(np.sqrt((error**2).sum(axis=1).mean()) / scale)
        row["rms_mm"] = scored.registration.rms_mm
    for reading in sheet.lines:
        truths = {(d.row, d.repeat): d for d in truth.dashes[reading.ink]}
        counts = collections.Counter()
        z = []
        for dash in reading.dashes:
            true = truths[(dash.row, dash.repeat)]
            counts[f"{true.state}->{dash.state}"] += 1
            if dash.strength is not None and dash.strength_sd and true.state != "missing":
                z.append((true.volume, dash.strength, dash.strength_sd))
            elif dash.strength is not None and dash.strength_sd:
                z.append((0.0, dash.strength, dash.strength_sd))
        values = np.array(z) if z else np.zeros((0, 3))
        dead = values[values[:, 0] == 0]
        sound = values[values[:, 0] > 0.8]
        row["inks"][reading.ink] = {
            "counts": dict(counts), "missing": list(reading.missing), "intermittent": list(reading.intermittent),
            "advance": reading.advance_rows, "arrangement": reading.arrangement, "stride": reading.stride,
            "absent": reading.absent, "true_first": list(truth.missing(reading.ink, 0))[:30],
            "dead_strength": dead[:, 1].tolist()[:20], "sound_sd": float(sound[:, 1].std()) if len(sound) else None,
            "median_sd": float(np.median(values[:, 2])) if len(values) else None,
            "min_sound": float(sound[:, 1].min()) if len(sound) else None,
        }  # fmt: skip
    return row


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
    parser.add_argument("--head")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--set", action="append", default=[], metavar="NAME=JSON", help="further simulator options")
    args = parser.parse_args()
    options: dict[str, Any] = {"split": args.split}
    if args.dpi:
        options["dots_per_inch"] = args.dpi
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
