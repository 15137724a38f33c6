"""Read simulated scans of toner sheets whose truth is known, and print the rates.

    python benchmarks/survey_toner.py --count 100 --split report --start 40200

Even seeds carry a fault on a turning part that prints three times or more (one of them hidden where there are more
than three), among up to 25 random specks; odd seeds carry random specks alone, 3 to 60. Fog, fade and density are
compared on all of them. Seeds of the ``report`` split are for reporting only: nothing may be tuned on them.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from printcheck.capture.result import Capture
    from printcheck.simulate.toner_scenario import TonerCapture

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_TINTS_MM = {"A4": ((61.3, 99.0), (111.0, 148.7)), "Letter": ((61.3, 102.0), (113.9, 154.6))}


def read_one(seed: int, split: str, dpi: int | None) -> dict[str, Any]:
    """Simulate, read and compare one sheet."""
    import numpy as np

    from printcheck.measure.components import Component
    from printcheck.measure.fields import field_boxes
    from printcheck.measure.toner import measure_toner
    from printcheck.register.kind import print_scale
    from printcheck.register.sheet import register_sheet
    from printcheck.simulate.toner_faults import PARTS
    from printcheck.simulate.toner_scenario import random_toner_scan

    table = [Component(name, diameter) for name, diameter in PARTS.items()]
    rng = np.random.default_rng(seed)
    part = list(PARTS)[seed // 2 % len(PARTS)] if seed % 2 == 0 else None
    # three turns of a 30 mm drum need the length of A4
    page = "A4" if part == "drum" else None
    capture = random_toner_scan(
        seed, split=split, part=part, page=page, dots_per_inch=dpi, specks=None if part else int(rng.integers(3, 61)),
        streaks=int(rng.integers(0, 2)),
    )  # fmt: skip
    picture = _as_read(capture)
    begun = time.process_time()
    registration = register_sheet(picture.pixels)
    reading, warnings = measure_toner(
        picture.pixels, registration, components=table, print_scale=print_scale(picture, registration)
    )
    truth = capture.truth
    fields = [box for _, _, box in field_boxes(registration.layout)]
    on_fields = sum(
        any(box.x0 < s.x_mm < box.x1 and box.y0 < s.y_mm < box.y1 for box in fields)
        for s in (truth.state.repeats[0].spots if part else ())
    )
    named = [[p.name for p in r.parts] for r in reading.repeats or ()]
    return {
        "seed": seed, "part": part, "dpi": capture.encoding.dots_per_inch, "page": truth.page,
        "named": named, "spacings": [r.spacing_mm for r in reading.repeats or ()],
        "true_spacing": truth.state.repeats[0].spacing_mm if part else None,
        "spots": on_fields, "marks": reading.marks,
        "contrast": truth.state.repeats[0].spots[0].toner if part else None,
        "size": truth.state.repeats[0].spots[0].diameter_mm if part else None,
        "fog": None if reading.fog is None else [reading.fog.dL, *reading.fog.ci95],
        "true_fog": truth.fog_dL * (1 - truth.state.fog_margin),
        "fade": [[f.dL, *f.ci95] for f in reading.fade], "true_fade": [b - a for a, b in truth.tint_lightness],
        "density": reading.density, "true_density": truth.solid_density,
        "streaks": [[s.x_mm, s.dL] for s in reading.streaks or ()],
        "true_streaks": [[s.x_mm, s.toner] for s in truth.state.streaks],
        "cpu_s": round(time.process_time() - begun, 2), "warnings": list(warnings),
    }  # fmt: skip


def _as_read(capture: TonerCapture) -> Capture:
    """Give what a reader gets from the capture's file; a PNG gives back what went in, and takes most of the time."""
    from printcheck.capture.decode import read_captures
    from printcheck.capture.resolution import Resolution
    from printcheck.capture.result import Capture

    how = capture.encoding
    if how.kind == "png":
        height, width = capture.image.shape[:2]
        stated = None if how.dots_per_inch is None else Resolution.of(how.dots_per_inch, how.dots_per_inch)
        return Capture("", "", "PNG", 0, width, height, capture.image, 1, stated, None, "sRGB assumed", False, ())
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.jpeg"
        path.write_bytes(capture.encoded())
        return next(iter(read_captures(path, max_megapixels=200)))


def summary(rows: list[dict[str, Any]]) -> str:
    """The rates as text."""
    import numpy as np

    ours = [r for r in rows if r["part"] and r["spots"] >= 3]
    bare = [r for r in rows if not r["part"]]
    right = [r for r in ours if r["named"] and r["named"][0][:1] == [r["part"]]]
    alone = [r for r in right if len(r["named"]) == 1]
    false = [r["seed"] for r in bare if r["named"]]
    rest = [r for r in ours if r not in right]
    missed = [(r["seed"], r["part"], r["named"], round(r["size"], 2), round(r["contrast"], 2)) for r in rest]
    out = [
        f"left out, fewer than three marks on tints and columns: {sum(bool(r['part']) for r in rows) - len(ours)}",
        f"right part named first: {len(right)} of {len(ours)}, and nothing else: {len(alone)}",
        f"  missed: {missed}",
        f"random specks only: none named on {len(bare) - len(false)} of {len(bare)}; named on {false}",
    ]
    errors = [abs(r["spacings"][0] / r["true_spacing"] - 1) for r in right]
    if errors:
        out.append(f"spacing off by {100 * np.median(errors):.2f} % (median), {100 * max(errors):.2f} % at most")
    fogs = [(r["fog"], r["true_fog"]) for r in rows if r["fog"]]
    held = [low <= true <= high for (_, low, high), true in fogs]
    off = [abs(value - true) for (value, _, _), true in fogs]
    out.append(f"fog: read on {len(fogs)} of {len(rows)}, interval holds {sum(held)}, off by {np.median(off):.2f} L*")
    fades = [(f, t) for r in rows for f, t in zip(r["fade"], r["true_fade"], strict=False)]
    held = [low <= true <= high for (_, low, high), true in fades]
    out.append(f"fade: interval holds {sum(held)} of {len(fades)}")
    dens = [r["density"] - r["true_density"] for r in rows if r["density"] is not None]
    out.append(f"density: {np.median(dens):+.3f} off (median), {np.percentile(np.abs(dens), 90):.3f} (9 in 10)")
    found = false_streaks = planted = bare = 0
    for r in rows:
        for x, toner in r["true_streaks"]:
            if toner < 0 and not any(a <= x <= b for a, b in _TINTS_MM[r["page"]]):
                bare += 1  # what lacks toner where there is none can't be seen
                continue
            planted += 1
            found += any(abs(x - at) < 1.0 and (dl < 0) == (toner > 0) for at, dl in r["streaks"])
        false_streaks += sum(all(abs(at - x) > 1.5 for x, _ in r["true_streaks"]) for at, _ in r["streaks"])
    out.append(f"streaks: {found} of {planted} planted found, {false_streaks} others on {len(rows)} sheets")
    out.append(f"  left out, lacking toner on bare paper: {bare}")
    out.append(f"reading: {np.median([r['cpu_s'] for r in rows]):.2f} s of CPU a sheet (median)")
    return "\n".join(out)


def main() -> None:
    import cv2

    cv2.setNumThreads(1)
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--dpi", type=int, help="300 or 600 by default, as drawn")
    parser.add_argument("--out", type=Path, help="add a line of JSON a sheet; --summary reads them")
    parser.add_argument("--summary", type=Path, help="sum up such a file and do nothing else")
    args = parser.parse_args()
    if args.summary:
        print(summary([json.loads(line) for line in args.summary.read_text().splitlines()]))
        return
    rows = []
    for seed in range(args.start, args.start + args.count):
        rows.append(read_one(seed, args.split, args.dpi))
        print(f"\r{len(rows)}/{args.count}", end="", file=sys.stderr, flush=True)
        if args.out:
            with args.out.open("a", encoding="utf-8") as file:
                file.write(json.dumps(rows[-1]) + "\n")
    print(file=sys.stderr)
    print(summary(rows))


if __name__ == "__main__":
    main()
