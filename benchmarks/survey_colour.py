"""Colour and foreign ink on simulated shops whose truth is known: rates and errors, a line each.

    python benchmarks/survey_colour.py --split report --start 60000 --shops 10 --keep /some/folder
    python benchmarks/survey_colour.py --split report --start 60500 --shops 5 --photo --keep /some/folder

Drawing and reading the sheets takes nearly all of the time, so what was read from them is kept in the folder of
``--keep`` and judged again at no cost. Seeds of the ``report`` split are for reporting only.
"""

from __future__ import annotations

import argparse
import os
import pickle
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from colour_shops import KINDS, shop

from printcheck.calibrate import patch_name
from printcheck.colour.calibration import Calibration, fit_calibration
from printcheck.colour.difference import delta_e00
from printcheck.colour.house import HouseInk, HouseReference
from printcheck.colour.lab import as_lab
from printcheck.colour.published import DEFAULT_CONDITION, published
from printcheck.measure.areas import Area, InkAreas
from printcheck.measure.colour import CaptureColour, area_lab, solid_colour
from printcheck.measure.colouring import read_colour_areas
from printcheck.measure.contamination import house_basis, published_basis, read_contamination
from printcheck.measure.paper import read_paper
from printcheck.measure.result import ContaminationReading, SolidReading
from printcheck.measure.tint import tint_density_sd
from printcheck.pipeline import score_image
from printcheck.simulate.faults import Contamination

CLEAN_KINDS = ("clean", "faded", "weak-dye")


@dataclass(frozen=True, slots=True)
class Read:
    """What was read from one capture, and what is true of it.

    `foreign` holds what was planted, by ink; `lab` the true media-relative CIELAB of every patch by name.
    """

    seed: int
    kind: str
    capture: str
    head: str
    page: str
    profile: str
    areas: dict[str, InkAreas]
    overprints: tuple[Area, ...]
    foreign: dict[str, tuple[Contamination, ...]]
    lab: dict[str, tuple[float, float, float]]
    paper: str


def read(seed: int, kind: str, capture: Any, folder: Path) -> Read | None:
    """Write, score and read one capture; none where it could not be read."""
    path = capture.write(folder / f"{seed}-{kind}.{capture.encoding.kind}")
    scored = score_image(path)
    path.unlink()
    record = scored.sheet.capture
    if scored.registration is None or record.kind is None:
        return None
    found = read_colour_areas(
        scored.capture, scored.registration, read_paper(scored.capture.pixels, scored.registration), wedge=True
    )
    if found is None:
        return None
    truth = capture.truth
    lab = {}
    for patch in truth.patches:
        name = f"{patch.kind} {''.join(patch.inks)}"
        lab[f"{name} {round(100 * patch.tone)}" if patch.kind == "wedge" else name] = patch.lab_relative
    return Read(
        seed, kind, record.kind, truth.head, truth.page, scored.capture.profile, found.inks, found.overprints,
        {name: state.contamination for name, state in truth.inks.items()}, lab, truth.settings["print"]["paper"],
    )  # fmt: skip


def shops(args: argparse.Namespace) -> Iterator[list[Read]]:
    """Read all captures of each shop, the reference first; from the folder where they were read before."""
    args.keep.mkdir(parents=True, exist_ok=True)
    for seed in range(args.start, args.start + args.shops):
        kept = args.keep / f"{args.split}-{seed}-{'photo' if args.photo else 'scan'}.pickle"
        if not kept.exists():
            with tempfile.TemporaryDirectory() as folder:
                drawn = shop(seed, args.split, KINDS, photo=args.photo, dpi=args.dpi)
                found = [read(seed, kind, capture, Path(folder)) for kind, capture in drawn]
            kept.write_bytes(pickle.dumps(found))
        found = pickle.loads(kept.read_bytes())  # written by this script
        if found[0] is None:
            print(f"shop {seed}: the reference could not be read")
            continue
        yield [f for f in found if f is not None]


def reference_of(first: Read) -> HouseReference:
    inks = {
        name: HouseInk(as_lab(a.solid.ratio), as_lab(a.solid.ratio_sd), as_lab(area_lab(a.solid)))
        for name, a in first.areas.items()
        if a.solid is not None
    }
    return HouseReference(
        "survey", first.head, first.page, first.capture, first.profile, "0" * 64, inks, paper=as_lab(_paper(first))
    )


def _paper(sheet: Read) -> np.ndarray:
    """Light (3,) of its bare paper."""
    return np.asarray(np.mean([a.solid.paper for a in sheet.areas.values() if a.solid is not None], axis=0))


def calibration_of(first: Read) -> Calibration:
    """The scanner calibrated by the reference sheet, its true colours standing in for a spectrophotometer's."""
    areas = [a for ink in first.areas.values() for a in (ink.solid, *ink.tones) if a is not None]
    used = [a for a in (*areas, *first.overprints) if patch_name(a) in first.lab]
    ratio = np.array([a.ratio for a in used] + [np.ones(3)])
    lab = np.array([first.lab[patch_name(a)] for a in used] + [(100.0, 0.0, 0.0)])
    return fit_calibration(ratio, lab, first.capture, first.profile, paper=as_lab(_paper(first)))


@dataclass
class Difference:
    """Errors of `delta_e00` under one way of knowing colour."""

    rows: list[tuple[float, float | None, float, float, str]]

    def line(self, name: str) -> str:
        told = [(true, value, low, high) for true, value, low, high, _ in self.rows if value is not None]
        if not told:
            return f"{name:34} {len(self.rows)} solids: none told"
        table = np.array(told)
        error = np.abs(table[:, 1] - table[:, 0])
        covered = (table[:, 2] <= table[:, 0]) & (table[:, 0] <= table[:, 3])
        width = np.median(table[:, 3] - table[:, 2])
        return (
            f"{name:34} {len(self.rows)} solids, {len(told)} told: error of deltaE00 median {np.median(error):.2f}, "
            f"95 % {np.quantile(error, 0.95):.2f}; interval covers {100 * covered.mean():.1f} %, median width "
            f"{width:.1f}; too low {100 * (table[:, 0] > table[:, 3]).mean():.1f} %, "
            f"too high {100 * (table[:, 0] < table[:, 2]).mean():.1f} %"
        )


def differences(sheets: list[Read], into: dict[str, Difference]) -> None:
    first, rest = sheets[0], sheets[1:]
    house, calibration = reference_of(first), calibration_of(first)
    ways: dict[str, tuple[Calibration | None, HouseReference | str]] = {
        "house": (None, house),
        "house, calibrated": (calibration, house),
        "published": (None, DEFAULT_CONDITION),
        "published, calibrated": (calibration, DEFAULT_CONDITION),
    }
    for sheet in rest:
        for ink, areas in sheet.areas.items():
            if areas.solid is None:
                continue
            true = np.array(sheet.lab[f"solid {ink}"])
            for way, (by, reference) in ways.items():
                usable = None if by is None or by.refusal(sheet.capture, sheet.profile) else by
                if by is not None and usable is None:
                    continue
                look = CaptureColour(sheet.capture, None, usable, sheet.profile)
                got = solid_colour(SolidReading(ink, None, None, None), areas.solid, look, reference)
                aim = first.lab[f"solid {ink}"] if isinstance(reference, HouseReference) else None
                aim = aim or published(DEFAULT_CONDITION).relative[ink]
                low, high = got.delta_e00_ci95 or (0.0, np.inf)
                row = (float(delta_e00(true, aim)), got.delta_e00, low, high, f"{sheet.seed} {sheet.kind} {ink}")
                into.setdefault(way, Difference([])).rows.append(row)


def foreign_ink(sheets: list[Read], count: Counter[str], shares: list[float], told: list[str]) -> None:
    """Count what was found of what was planted, with the shop's house reference."""
    first, rest = sheets[0], sheets[1:]
    vectors = {n: np.array(i.ratio) for n, i in reference_of(first).inks.items()}
    for sheet in rest:
        same = first.capture == sheet.capture == "scan" and first.profile == sheet.profile
        ways = {
            "house": house_basis(
                "survey",
                vectors,
                same_capture=same,
                paper_sd=tint_density_sd(_paper(sheet), _paper(first)),
                areas=sheet.areas,
                photo=sheet.capture == "photo",
            ),
            "published": published_basis(sheet.areas, DEFAULT_CONDITION, photo=sheet.capture == "photo"),
        }
        for way, basis in ways.items():
            photo = sheet.capture == "photo"
            readings = read_contamination(sheet.areas, basis, photo=photo)
            _count(sheet, readings, way, count, shares, told)


def _count(
    sheet: Read, readings: tuple[ContaminationReading, ...], way: str, count: Counter[str], shares: list[float],
    told: list[str],
) -> None:  # fmt: skip
    here = f"{way}: {sheet.seed} {sheet.kind} {sheet.paper}"
    if sheet.kind in CLEAN_KINDS:
        named = [(r.ink, r.foreign) for r in readings if r.foreign]
        count[f"{way} clean sheets"] += 1
        count[f"{way} clean sheets with none named"] += not named
        if named:
            told.append(f"{here} NAMED {[(i, f[0].ink, round(f[0].fraction, 3), f[0].ci95) for i, f in named]}")
        return
    for reading in readings:
        planted = sheet.foreign.get(reading.ink, ())
        if sheet.kind == "swapped":
            if planted:
                count[f"{way} swapped"] += 1
                count[f"{way} swapped named"] += reading.wrong_ink == planted[0].ink
            continue
        if not planted:
            count[f"{way} untouched inks"] += 1
            count[f"{way} untouched inks with none named"] += not reading.foreign
            if reading.foreign:
                told.append(f"{here} {reading.ink} NAMED {[(f.ink, round(f.fraction, 3)) for f in reading.foreign]}")
            continue
        part = planted[0]
        y = np.linspace(30.0, 250.0, 111)
        along = np.array([part.share_at(v) for v in y])
        share = float(along.max())
        at_solid = float(part.share_at(reading_y(sheet, reading.ink)))
        found = (reading.foreign or (None,))[0]
        right = found is not None and found.ink == part.ink
        count[f"{way} planted"] += 1
        count[f"{way} planted, found and rightly named"] += right
        pair = f"{part.ink} in {reading.ink}"
        count[f"{way} {pair}"] += 1
        count[f"{way} {pair} found"] += right
        hit = f"share {share:.3f} at solid {at_solid:.3f}"
        if found is None or not right:
            hidden = reading.could_hide or 0.0
            count[f"{way} not found, but admitted as hidden"] += hidden >= min(at_solid, share)
            told.append(f"{here} {pair} {hit} {part.trend}: MISSED {found} hides {hidden:.3f}")
            continue
        if way == "house":
            shares.append(found.fraction - share)
        count[f"{way} interval holds the share"] += found.ci95[0] <= share <= found.ci95[1]
        lost = 1.0 - along[-1] / along[0]
        if part.trend == "steady" or lost >= 0.5 or lost <= -0.5:
            count[f"{way} trends"] += 1
            count[f"{way} trends right"] += reading.trend == part.trend
            if reading.trend != part.trend:
                told.append(f"{here} {pair} {hit} {part.trend}: TREND {reading.trend} {found}")


def reading_y(sheet: Read, ink: str) -> float:
    solid = sheet.areas[ink].solid
    return 0.0 if solid is None else float(solid.box.centre[1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--split", default="tune")
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--shops", type=int, default=4)
    parser.add_argument("--dpi", type=int, default=300)
    parser.add_argument("--photo", action="store_true")
    parser.add_argument("--keep", type=Path, required=True)
    parser.add_argument("--tell", action="store_true", help="list every miss")
    args = parser.parse_args()
    cv2.setNumThreads(1)
    ways: dict[str, Difference] = {}
    count: Counter[str] = Counter()
    shares: list[float] = []
    told: list[str] = []
    for sheets in shops(args):
        differences(sheets, ways)
        foreign_ink(sheets, count, shares, told)
    for name, difference in ways.items():
        print(difference.line(name))
    for name in sorted(count):
        print(f"{name:50} {count[name]}")
    if shares:
        error = np.abs(shares)
        print(f"share found, house: error median {100 * np.median(error):.2f} points, worst {100 * error.max():.1f}")
    if args.tell:
        print(*told, sep="\n")


if __name__ == "__main__":
    main()
