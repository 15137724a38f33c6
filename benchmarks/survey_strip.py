"""How much a control strip beside the sheet helps the colour of a photo: with it and without, against the truth.

    python benchmarks/survey_strip.py --count 20 --split report --start 70000

Each shop has a scanner, calibrated by one measured sheet of its good printer (with --chart, by a chart in any of the
inks on any of the papers instead), and strips from that printer, read on that scanner; its photos show sheets of
refilled cartridges, in other inks and often on other paper, with a strip beside them. A third of the phones bend
mid-tones (another tone curve), as phones do.

Seeds of the ``report`` split are for reporting only: nothing may be tuned on them.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from colour_shops import HEADS, random_states
from drawn_chart import write_chart
from numpy.typing import NDArray
from PIL import Image

from printcheck.calibrate import calibrate_by, patch_name
from printcheck.capture.decode import read_captures
from printcheck.colour.control_strip import StripValues
from printcheck.colour.difference import delta_e00
from printcheck.colour.published import published
from printcheck.errors import PrintcheckError
from printcheck.measure.colouring import ColourSettings
from printcheck.measure.control_strip import read_strip_values
from printcheck.pattern.heads import load_head
from printcheck.pipeline import score_image
from printcheck.simulate.capture import Capture
from printcheck.simulate.control_strip import PrintedStrip, print_strip, scan_strip
from printcheck.simulate.photo_scenario import random_photo
from printcheck.simulate.scanner import ScannerSettings
from printcheck.simulate.scenario import random_scan
from printcheck.simulate.shop import CHOICES, generator

_PHOTOS_A_SHOP = 5
_KINDS = ("clean", "faded", "weak-dye", "steady")
_CURVES = (1.9, 2.6)  # exponents about the 2.2 of sRGB


def measured_values(sheet: Capture, path: Path) -> Path:
    """What an instrument would say of a simulated sheet, as CGATS.17 text: relative to its paper, to 0.1 unit."""
    rng = np.random.default_rng(sheet.truth.seed)
    rows = ["paper 100 0 0"]
    for patch in sheet.truth.patches:
        if patch.kind == "strip":
            continue
        name = patch_name(patch)  # type: ignore[arg-type]  # it has a kind, inks and a tone, which is all that counts
        lab = np.array(patch.lab_relative) + 0.15 * rng.standard_normal(3)
        rows.append(f'"{name}" ' + " ".join(f"{v:.2f}" for v in lab))
    head = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    path.write_text(head + "\n".join(rows) + "\nEND_DATA\n", encoding="utf-8")
    return path


def open_shop(seed: int, split: str, folder: Path, *, chart: bool = False) -> tuple[PrintedStrip, StripValues, str]:
    """A strip, its values as read on the shop's calibrated scanner, and the other ink set, of the refills."""
    rng = generator(seed, split, 8)
    choices = CHOICES[split]
    good = str(rng.choice(choices.ink_sets))
    refill = str(rng.choice([name for name in choices.ink_sets if name != good]))
    paper, halftone = str(rng.choice(choices.papers)), str(rng.choice(choices.halftones))
    sheet = random_scan(
        seed, split=split, head="quad-416-192", page="A4", dots_per_inch=300, inks={}, encoding="png",
        quarter_turns=0, ink_set=good, paper=paper, halftone=halftone, colour_truth=True,
    )  # fmt: skip
    scanner = ScannerSettings(**sheet.truth.settings["scanner"])
    if chart:
        by = generator(seed, split, 12)
        scan = write_chart(scanner, str(by.choice(choices.ink_sets)), str(by.choice(choices.papers)), by, folder)
        fit = calibrate_by(*scan)
    else:
        fit = calibrate_by(sheet.write(folder / "good.png"), measured_values(sheet, folder / "good.txt"))
    strip = print_strip(rng, ink_set=good, paper=paper, halftone=halftone)
    strip_scan = folder / "strip.png"
    seen = Image.fromarray(np.ascontiguousarray(scan_strip(strip, scanner, rng)[..., ::-1]))
    seen.save(strip_scan, dpi=(scanner.dots_per_inch, scanner.dots_per_inch))  # as the calibrated scanner writes it
    return strip, read_strip_values(next(iter(read_captures(strip_scan, max_megapixels=200.0))), fit, "shop"), refill


def survey(seeds: range, split: str, *, chart: bool = False) -> dict[str, Any]:
    """All rows: what was read of each solid, without and with the strip, beside what is true."""
    rows: list[dict[str, Any]] = []
    said: list[str] = []
    strips: list[float] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shop: tuple[PrintedStrip, StripValues, str] | None = None
        for number, seed in enumerate(seeds):
            if number % _PHOTOS_A_SHOP == 0:
                shop = open_shop(seed, split, folder, chart=chart)
                true = {"".join(p.inks) + str(k): p for k, p in enumerate(shop[0].patches)}
                strips += _strip_error(shop, list(true.values()))
            assert shop is not None
            strip, values, refill = shop
            rng = generator(seed, split, 10)
            head, kind = str(rng.choice(HEADS)), str(rng.choice(_KINDS))
            states = random_states(tuple(ink.ink for ink in load_head(head).inks), kind, rng)
            curve = float(rng.choice(_CURVES)) if rng.random() < 1 / 3 else "srgb"
            photo = random_photo(
                seed, split=split, head=head, inks=states, ink_set=refill, colour_truth=True, strip=strip,
                changes={"curve": curve},
            )  # fmt: skip
            path = folder / "photo.jpg"
            path.write_bytes(photo.encoded())
            truth = {p.inks[0]: np.array(p.lab_relative) for p in photo.truth.patches if p.kind == "solid"}
            plain = score_image(path).sheet
            try:
                helped = score_image(path, colour=replace(ColourSettings(), strip=values)).sheet
            except PrintcheckError as error:
                said.append(f"{seed}: {error}")
                continue
            told = [w for w in helped.capture.warnings if "control strip" in w]
            said += [f"{seed} {kind} {head} curve {curve}: {w}" for w in told]
            said += [] if told else [f"{seed}: {[reason.text for reason in helped.assessment.reasons[:1]]}"]
            for how, sheet in (("without", plain), ("with", helped)):
                used = how == "without" or any("is calibrated by control strip" in w for w in told)
                for solid in sheet.solids:
                    if solid.lab is None or solid.delta_e00 is None or solid.lab_sd is None:
                        continue
                    aim = published(ColourSettings().condition).relative[solid.ink]
                    low, high = solid.delta_e00_ci95 or (np.nan, np.nan)
                    is_true = float(delta_e00(truth[solid.ink], aim))
                    rows.append(
                        {
                            "how": how, "used": used, "ink": solid.ink, "curve": curve,
                            "lab_error": float(delta_e00(solid.lab, truth[solid.ink])),
                            "error": solid.delta_e00 - is_true, "covered": low <= is_true <= high,
                            "width": high - low,
                            "z": ((np.array(solid.lab) - truth[solid.ink]) / np.array(solid.lab_sd)).tolist(),
                        }
                    )  # fmt: skip
    return {"rows": rows, "said": said, "strips": strips}


def _strip_error(shop: tuple[PrintedStrip, StripValues, str], patches: list[Any]) -> list[float]:
    """CIEDE2000 of the strip's values as read from what its patches truly are."""
    from printcheck.pattern.control_strip import control_strip, strip_patch_name

    names = [strip_patch_name(p) for p in control_strip("A").patches]
    values = shop[1].strips["S1/A"]
    return [
        float(delta_e00(values[name].lab, patch.lab_relative))
        for name, patch in zip(names, patches, strict=True)
        if name in values
    ]


def _figures(rows: list[dict[str, Any]]) -> str:
    lab: NDArray[Any] = np.array([r["lab_error"] for r in rows])
    error = np.abs([r["error"] for r in rows])
    z = np.array([r["z"] for r in rows])
    cover = np.mean([r["covered"] for r in rows])
    return (
        f"{len(rows)} solids: colour off by median {np.median(lab):.2f}, 90th {np.percentile(lab, 90):.2f}; "
        f"delta_e00 off by median {np.median(error):.2f}, 90th {np.percentile(error, 90):.2f}; intervals of width "
        f"{np.median([r['width'] for r in rows]):.1f} (median) cover {100 * cover:.0f} %; "
        f"error / sd in L*, a*, b* {' '.join(f'{v:.2f}' for v in np.sqrt((z**2).mean(axis=0)))}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--chart", action="store_true", help="scanners are calibrated by a chart, not by a sheet")
    args = parser.parse_args()
    cv2.setNumThreads(1)
    os.nice(5)
    found = survey(range(args.start, args.start + args.count), args.split, chart=args.chart)
    print("\n".join(found["said"]))
    strips = found["strips"]
    ninth = np.percentile(strips, 90)
    print(f"strip values: {len(strips)} patches, off by median {np.median(strips):.2f}, 90th {ninth:.2f}")
    rows = found["rows"]
    for how in ("without", "with"):
        mine = [r for r in rows if r["how"] == how and r["used"]]
        for name, part in (
            ("all", mine), ("sRGB curve", [r for r in mine if r["curve"] == "srgb"]),
            ("other curve", [r for r in mine if r["curve"] != "srgb"]),
        ):  # fmt: skip
            if part:
                print(f"{how:8}{name:12}{_figures(part)}")
        for ink in "KCMY":
            part = [r for r in mine if r["ink"] == ink]
            if part:
                print(f"{how:8}{ink:12}{_figures(part)}")


if __name__ == "__main__":
    main()
