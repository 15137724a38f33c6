"""Verdicts of faulty sheets against the policy applied to the truth, over every fault kind and capture.

    python benchmarks/survey_faulty.py --sheets 500 --split report --start 30000
    python benchmarks/survey_faulty.py --sheets 26 --start 100          # a slice, for development

Each sheet carries one fault, far enough beyond its limit that the policy leaves no doubt what it is (foreign ink at
20 % and more is a mixed chamber, at 9 % and less it is not; healthy spread comes on top). Black is not fouled: 40 %
of a colour moves it by 2 to 3 deltaE00 (derived from published tables), so it neither shows nor harms. Scans of
sheets with foreign ink are judged by a house reference, a sound sheet of the same printer, paper and scanner, as the
README has the bench do; a photo is given no reference, and foreign ink only as much as shows without one. The fault
goes through the kinds in turn, the capture through scans at 200, 300 and 600 dots/inch and photos, so that every pair
comes up. What the verdict ought to be is worked out by the policy itself from what the simulator printed: the state
of each dash (weak against the ink's own flow at that height), L* relative to the paper down the strips as the CIE
observer sees it, the planted shares of ink. Colour and fade in a photo ought to ask for a scan, as the policy has it.

In a photo, which has no scale of its own, a step that shifts between the printings may be the driver's scaling, and
asks for purge as the reader has it. A step that lost rows to healthy spread may be named or not: neither is settled.

Where two nozzles share a row, dot by dot, its line lies half as far off as a nozzle that is askew throws: a sheet
whose verdict turns on lines within 8 um of the limit of 20 is counted as unsettled and left out. So is one that
would be judged otherwise were its fade, bands or foreign ink a fifth less, or that turns on lines of 69 to 80 % of a
drop's volume. The reader's limit is one of light, 85 %: drops apart reach it at 78 % (area grows as volume to the
2/3), drops that run together along a line at 72 % (its width as volume to the 1/2), simulated ones at 69 %.

Told apart: top-off (the costly error: a faulty cartridge goes out), reject where the truth is purge (a good shell in
the bin), and any other disagreement.
"""

from __future__ import annotations

import argparse
import collections
import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from printcheck.colour.lab import D50_WHITE, lab_to_xyz
from printcheck.geometry import Box
from printcheck.measure.csf import visible_amplitude
from printcheck.measure.result import DashReading, LinesReading
from printcheck.pattern.heads import Head, HeadInk, load_head
from printcheck.pattern.inks import INKS
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.simulate.faults import Band, Contamination, Flow, InkState, NozzleFaults, random_dead, random_thrown
from printcheck.simulate.truth import DISPLACED_UM, WEAK_VOLUME, DashTruth, PatchTruth, Truth
from printcheck.verdict import rules
from printcheck.verdict.photo import doubtful_in_a_photo, to_be_scanned
from printcheck.verdict.policy import Policy, load_policy
from printcheck.verdict.result import Action, Reason

HEADS = ("mono-416", "quad-180", "quad-416-192", "tri-100", "tri-192")
CAPTURES = ("scan 200", "scan 300", "scan 600", "photo")
_CLEAR_MM = 1.0  # of a strip's ends that edge blur may touch
_END_MM = 12.0  # of a strip that stands for its start or its end
_PEAK_MM = 3.0  # over which a strip is lightest: ink that can't follow comes back at once
_SURE_UM = 28.0  # landing errors between the limit and this don't settle a verdict
_SURE_VOLUME = 0.69  # of a sound drop, by which a line is weak however its drops lie
_NEARLY = 0.8  # of what was planted: a verdict that this would change isn't settled either
_LEAST_CHAIN = 6  # rows of a planted step: fewer are no pattern anybody could name


def _stride(ink: HeadInk, rng: np.random.Generator) -> InkState:
    step = int(rng.choice([s for s in (8, 13, 16, 22, 26) if ink.nozzles // s >= _LEAST_CHAIN]))
    dead = frozenset(range(int(rng.integers(0, step)), ink.nozzles, step))
    return InkState(NozzleFaults(dead, arrangement="stride", stride=step))


def _some(ink: HeadInk, share: float, rng: np.random.Generator) -> list[int]:
    return [int(n) for n in rng.choice(ink.nozzles, max(2, round(share * ink.nozzles)), replace=False)]


def _foreign(ink: HeadInk, head: Head, rng: np.random.Generator) -> str:
    return str(rng.choice([other.ink for other in head.inks if other.ink != ink.ink]))


def _steady(low: float, high: float) -> Callable[[HeadInk, Head, np.random.Generator], InkState]:
    def plant(ink: HeadInk, head: Head, rng: np.random.Generator) -> InkState:
        share = float(rng.uniform(low, high))
        return InkState(contamination=(Contamination(_foreign(ink, head, rng), share, "steady"),))

    return plant


def _clearing(ink: HeadInk, head: Head, rng: np.random.Generator) -> InkState:
    share = float(rng.uniform(0.15, 0.35))
    return InkState(contamination=(Contamination(_foreign(ink, head, rng), share, "clearing", 160.0),))


def _banded(ink: HeadInk, head: Head, rng: np.random.Generator) -> InkState:
    swath = ink.swath_mm
    while True:  # a period of the printer's own would be the printer's
        period = float(rng.uniform(1.2, 7.0))
        if min(abs(period * k / swath - 1) for k in (0.5, 1, 2)) > 0.12:
            break
    return InkState(bands=(Band(float(rng.uniform(0.15, 0.30)), period, float(rng.uniform(0, 6.28))),))


KINDS: dict[str, Callable[[HeadInk, Head, np.random.Generator], InkState]] = {
    "scattered": lambda ink, head, rng: InkState(random_dead(ink.nozzles, "scattered", rng)),
    "single": lambda ink, head, rng: InkState(NozzleFaults(frozenset({int(rng.integers(ink.nozzles))}))),
    "run": lambda ink, head, rng: InkState(random_dead(ink.nozzles, "run", rng)),
    "stride": lambda ink, head, rng: _stride(ink, rng),
    "weak": lambda ink, head, rng: InkState(
        NozzleFaults(weak={n: float(rng.uniform(0.25, 0.5)) for n in _some(ink, 0.05, rng)})
    ),
    "displaced": lambda ink, head, rng: InkState(
        NozzleFaults(displaced={n: float(rng.choice([-1, 1]) * rng.uniform(28, 45)) for n in _some(ink, 0.1, rng)})
    ),
    "absent": lambda ink, head, rng: InkState(NozzleFaults(absent=True)),
    "banding": _banded,
    "fade": lambda ink, head, rng: InkState(flow=(Flow("fade", 40.0, 250.0, float(rng.uniform(0.35, 0.65))),)),
    "starved": lambda ink, head, rng: InkState(
        flow=(
            Flow("starved", float(rng.uniform(50, 90)), float(rng.uniform(150, 210)), float(rng.uniform(0.6, 0.85))),
        )
    ),
    "air": lambda ink, head, rng: InkState(
        flow=(Flow("slug", at := float(rng.uniform(60, 200)), at + float(rng.uniform(5, 25)), 1.0),)
    ),
    "contaminated": _steady(0.06, 0.09),
    "mixed": _steady(0.20, 0.40),
    "clearing": _clearing,
    "thrown": lambda ink, head, rng: InkState(random_thrown(ink.nozzles, rng)),
}
_FOREIGN = ("contaminated", "mixed", "clearing")
_OF_SEVERAL = ("absent", *_FOREIGN)  # need another ink in the cartridge


def faulty_sheet(number: int, seed: int, split: str) -> tuple[str, str, Any, dict[str, Any]]:
    """Kind, capture, the simulated capture, and what was planted."""
    from printcheck.simulate.photo_scenario import random_photo
    from printcheck.simulate.scenario import random_scan

    rng = np.random.default_rng([seed, 91])
    kind = list(KINDS)[number % len(KINDS)]
    capture = CAPTURES[number // len(KINDS) % len(CAPTURES)]
    photo = capture == "photo"
    names = [name for name in HEADS if kind not in _OF_SEVERAL or len(load_head(name).inks) > 1]
    head = load_head(str(rng.choice(names)))
    hosts = [ink for ink in head.inks if kind not in _FOREIGN or ink.ink != "K"]
    ink = hosts[int(rng.integers(len(hosts)))]
    plant = KINDS["mixed" if photo and kind == "contaminated" else kind]
    inks = {ink.ink: plant(ink, head, rng)}
    known: dict[str, Any] = {"split": split, "head": head.name, "inks": inks, "colour_truth": True}
    if photo:
        return kind, capture, random_photo(seed, max_tilt_deg=15.0, **known), {"head": head.name, "ink": ink.ink}
    known["dots_per_inch"] = int(capture.split()[1])
    sound = None
    if kind in _FOREIGN:  # the same seed has the same printer, paper and scanner
        good = {"inks": {}, "colour_truth": False, "dots_per_inch": max(300, known["dots_per_inch"])}
        sound = random_scan(seed, **{**known, **good})
    return kind, capture, random_scan(seed, **known), {"head": head.name, "ink": ink.ink, "sound": sound}


def true_lines(
    truth: Truth, displaced_um: float, weak_volume: float, *, photo: bool, once: bool = False
) -> tuple[LinesReading, ...]:
    """The ladders as they were printed, in the form the verdict takes; displaced are lines this far off and more,
    weak ones of less than this volume. Those of either printing count, or, each `once`, those of the one that has
    more: where the paper advanced by other than the head's height two rows stand for one nozzle.

    Off their place among the rows that the same pass printed: where a pass lies as a whole is the printer's feed, and
    where most of them are thrown alike it is the others that stand out.
    """
    out = []
    for ink in load_head(truth.head).inks:
        own = _off_their_turn(truth.dashes[ink.ink])
        dashes = [
            replace(d, state="displaced" if abs(own[d.row, d.repeat]) >= displaced_um else "present")
            if d.state in ("present", "displaced")
            else d
            for d in _states(truth, ink, weak_volume)
        ]
        planted = truth.inks[ink.ink].nozzles
        rows = max(d.row for d in dashes) + 1
        states: dict[str, list[set[int]]] = collections.defaultdict(lambda: [set(), set()])
        for dash in dashes:
            states[dash.state][min(dash.repeat, 1)].add(dash.row)
        missing = tuple(sorted(set.intersection(*states["missing"])))
        flicker = tuple(sorted(set.union(*states["missing"]) - set(missing)))
        weak, displaced = (
            tuple(sorted(max(states[s], key=len) if once else set.union(*states[s]))) for s in ("weak", "displaced")
        )
        gone = bool(missing or flicker)
        kind = "none" if not gone else "stride" if _shows_step(dashes, planted.stride) else "scattered"
        if photo and kind == "stride" and flicker:
            kind = "scattered"  # in a photo a step that shifts between printings may be the driver's scaling
        read = tuple(DashReading(d.row, d.repeat, Box(0, 0, 1, 1), d.volume, 0.0, 0.0, 0.0, d.state) for d in dashes)
        out.append(
            LinesReading(
                ink.ink, rows, read, planted.absent, () if planted.absent else missing,
                () if planted.absent else flicker, weak, displaced, (), None, kind, planted.stride, 1,
            )
        )  # fmt: skip
    return tuple(out)


def _off_their_turn(dashes: tuple[DashTruth, ...]) -> dict[tuple[int, int], float]:
    """Landing error of each dash less the median of all rows of its turn in that printing, um."""
    sound = {(d.row, d.repeat): d.offset_um for d in dashes if d.state != "missing"}
    turns: dict[tuple[int, int], list[float]] = collections.defaultdict(list)
    for (row, repeat), off in sound.items():
        turns[row % 2, repeat].append(off)
    middle = {turn: statistics.median(values) for turn, values in turns.items()}
    return {(row, repeat): off - middle[row % 2, repeat] for (row, repeat), off in sound.items()}


def _states(truth: Truth, ink: HeadInk, weak_volume: float) -> list[DashTruth]:
    """The dashes, weak only where they are against what the ink's flow and bands give all lines there."""
    state = truth.inks[ink.ink]
    if not state.flow and not state.bands and weak_volume == WEAK_VOLUME:
        return list(truth.dashes[ink.ink])
    layout = build_layout(load_head(truth.head), page_named(truth.page))
    ladders = layout.ladders_of(ink.ink)
    out = []
    for dash in truth.dashes[ink.ink]:
        common = float(state.volume_factor(np.array([ladders[dash.repeat].dash(dash.row).centre[1]]))[0])
        sound = dash.state == "weak" and dash.volume >= weak_volume * common
        out.append(replace(dash, state="present") if sound else dash)
    return out


def _shows_step(dashes: list[DashTruth], step: int | None) -> bool:
    """Whether a printing shows enough rows of a planted step to be named; passes that share rows may double it."""
    if step is None:
        return False
    for repeat in {dash.repeat for dash in dashes}:
        gone = {dash.row for dash in dashes if dash.repeat == repeat and dash.state == "missing"}
        for apart in (step, 2 * step):
            for row in gone - {row + apart for row in gone}:
                chain = 0
                while row + chain * apart in gone:
                    chain += 1
                if chain >= _LEAST_CHAIN:
                    return True
    return False


def _area(truth: Truth, ink: str, kind: str) -> PatchTruth:
    """The ink's first patch of a kind, its lightness relative to the paper, as bands and fade are judged."""
    strip = next(p for p in truth.patches if p.kind == kind and p.inks == (ink,))
    absolute = np.maximum(strip.lightness.astype(float), 8.0)  # above the linear part of L*
    relative = 116.0 * (absolute + 16.0) / (truth.paper_lab[0] + 16.0) - 16.0  # L* is a cube root: the white divides
    return replace(strip, lightness=relative.astype(np.float32))


def true_extra(truth: Truth, share: float = 1.0, *, photo: bool = False) -> list[Reason]:
    """Reasons of all that is not lines, from `share` of what was planted and how light it made the strip."""
    policy, out = load_policy(), []

    def decide(measure: str, ink: str, value: float, policy: Policy, text: str) -> list[Reason]:
        return rules.decide(measure, ink, share * value, policy, text)

    for ink, state in truth.inks.items():
        if state.nozzles.absent:
            continue
        strip = _area(truth, ink, "strip")
        for band in state.bands:
            # dots run together in a solid and hide what a mid-tone shows: the worst area counts
            worst = max(_amplitude(_area(truth, ink, kind), band.period_mm) for kind in ("strip", "tint", "solid"))
            weight = worst / float(visible_amplitude(1 / band.period_mm))
            text = f"bands every {band.period_mm:.2f} mm, {weight:.1f} times visible"
            out += decide("banding", ink, weight, policy, text)
        for flow in state.flow:
            start, end, lightest = _course(strip)
            if flow.kind == "slug":
                out += decide("air", ink, flow.end_mm - flow.start_mm, policy, "air")
            elif flow.kind == "starved":
                found = decide("starvation", ink, lightest - start, policy, f"starved by {lightest - start:.1f} L*")
                if not found and ink == "Y":
                    lost = 100 * (1 - _blue_left(strip, start, lightest))
                    found = decide(
                        "pale_starvation", ink, lost, policy, f"loses {lost:.0f} % of its density mid-page"
                    )
                out += found
            else:
                found = decide("fade", ink, end - start, policy, f"fades by {end - start:.1f} L*")
                if not found and ink == "Y":  # takes away blue light, which L* hardly holds
                    lost = 100 * (1 - _blue_left(strip, start, end))
                    measure = "pale_fade_photo" if photo else "pale_fade"
                    found = decide(measure, ink, lost, policy, f"loses {lost:.0f} % of its density")
                out += found
        for foreign in state.contamination:
            at_end = 100 * foreign.share_at(strip.box.y1)
            if foreign.trend == "steady":
                found = decide("mixed_chamber", ink, at_end, policy, f"{at_end:.0f} % {foreign.ink}, steady")
                out += found or decide("foreign_ink", ink, at_end, policy, f"{at_end:.1f} % {foreign.ink}")
            else:
                out += decide("foreign_ink", ink, at_end, policy, f"{at_end:.1f} % {foreign.ink} left")
    return out


def _course(strip: PatchTruth) -> tuple[float, float, float]:
    """L* at a strip's start, at its end, and at its lightest, over some mm each."""
    clear, size, peak = (round(mm / strip.row_mm) for mm in (_CLEAR_MM, _END_MM, _PEAK_MM))
    light = strip.lightness[clear : len(strip.lightness) - clear]
    blocks = [float(np.median(light[k : k + peak])) for k in range(0, len(light) - peak + 1, peak)]
    return float(np.median(light[:size])), float(np.median(light[-size:])), max(blocks)


def _blue_left(strip: PatchTruth, first: float, then: float) -> float:
    """Density in blue (CIE Z, relative to paper) where a strip's L* is `then`, over that where it is `first`.

    Rows hold L* only; where drops cover less of the paper, all light that the ink takes away falls in proportion
    (Murray 1936), so the strip's mean colour says how much blue goes with how much luminance.
    """
    _, mean_y, mean_z = lab_to_xyz(strip.lab_relative) / D50_WHITE
    light = lab_to_xyz([(first, 0.0, 0.0), (then, 0.0, 0.0)])[:, 1]
    blue = 1.0 - (1.0 - light) * (1.0 - mean_z) / (1.0 - mean_y)
    before, after = -np.log10(np.maximum(blue, 1e-3))
    return float(after / before)


def _amplitude(strip: PatchTruth, period_mm: float) -> float:
    light = strip.lightness.astype(float)
    y = np.arange(len(light)) * strip.row_mm
    turn = 2 * np.pi * y / period_mm
    base = np.stack([np.cos(turn), np.sin(turn), np.ones_like(y), y], axis=1)
    fit = np.linalg.lstsq(base, light, rcond=None)[0]
    return float(np.hypot(fit[0], fit[1]))


def true_verdict(truth: Truth, photo: bool) -> tuple[Action, list[str], bool]:
    """The policy applied to the truth, and whether lines near the limit, or counted once, leave it settled."""
    policy = load_policy()
    verdicts = []
    near, sure = (DISPLACED_UM, WEAK_VOLUME, 1.0), (_SURE_UM, _SURE_VOLUME, _NEARLY)
    for (displaced_um, weak_volume, share), once in ((near, False), (near, True), (sure, False)):
        extra, only_scan = true_extra(truth, share, photo=photo), list[Reason]()
        if photo:
            extra, only_scan = doubtful_in_a_photo(extra)
        lines = true_lines(truth, displaced_um, weak_volume, photo=photo, once=once)
        told = rules.assess(lines, 0.0, policy, extra=extra)
        if only_scan and told.action is Action.TOP_OFF:
            told = rules.assess(lines, 0.0, policy, extra=[*extra, *to_be_scanned(only_scan)])
        verdicts.append(told)
    told = verdicts[0]
    settled = all(told.action is other.action for other in verdicts) and not _unnamed_step(truth, lines)
    return told.action, [reason.text for reason in told.reasons], settled


def _unnamed_step(truth: Truth, lines: tuple[LinesReading, ...]) -> bool:
    """Whether a planted step lost so many of its rows to healthy spread that either verdict is right."""
    steps = {name for name, state in truth.inks.items() if state.nozzles.stride}
    return any(reading.ink in steps and reading.arrangement == "scattered" and not reading.intermittent
               for reading in lines)  # fmt: skip


def score_one(job: tuple[int, int, str]) -> dict[str, Any]:
    """Simulate, score and judge one sheet."""
    import cv2

    from printcheck.errors import PrintcheckError
    from printcheck.house import reference_of
    from printcheck.measure.colouring import ColourSettings
    from printcheck.pipeline import score_image

    cv2.setNumThreads(1)
    number, seed, split = job
    kind, capture, made, planted = faulty_sheet(number, seed, split)
    sound, colour = planted.pop("sound", None), ColourSettings()
    with tempfile.TemporaryDirectory() as folder:
        if sound is not None:
            path = Path(folder) / f"sound.{sound.encoding.kind}"
            path.write_bytes(sound.encoded())
            try:
                colour = ColourSettings(reference_of(path, "own"))
            except PrintcheckError as error:
                planted["no_reference"] = str(error)
        keep = os.environ.get("SURVEY_KEEP")
        path = Path(keep or folder) / f"faulty-{seed}.{made.encoding.kind}"
        path.write_bytes(made.encoded())
        sheet = score_image(path, colour=colour).sheet
    ought, why, settled = true_verdict(made.truth, capture == "photo")
    return {
        "seed": seed, "kind": kind, "capture": capture, **planted, "mode": made.truth.print_mode,
        "ought": ought.value, "settled": settled, "why": why, "told": sheet.assessment.action.value,
        "reasons": [r.text for r in sheet.assessment.reasons], "warnings": list(sheet.capture.warnings),
    }  # fmt: skip


def summary(rows: list[dict[str, Any]]) -> str:
    """The counts that matter, then every disagreement."""
    unsettled = [row["seed"] for row in rows if not row["settled"]]
    rows = [row for row in rows if row["settled"]]
    out, faulty = [], [row for row in rows if row["ought"] != "top-off"]
    out.append(f"{len(rows)} sheets, {len(faulty)} of them faulty by the policy; unsettled besides: {unsettled}")
    wrong = [r["seed"] for r in faulty if r["told"] == "top-off"]
    binned = [r["seed"] for r in rows if r["told"] == "reject" and r["ought"] != "reject"]
    out.append(f"faulty and told top-off: {len(wrong)} {wrong}")
    out.append(f"told reject and ought not: {len(binned)} {binned}")
    for name, members in (
        ("scans", [r for r in rows if r["capture"] != "photo"]),
        ("photos", [r for r in rows if r["capture"] == "photo"]),
    ):
        same = sum(r["told"] == r["ought"] for r in members)
        share = 100 * same / max(len(members), 1)
        out.append(f"{name}: {same} of {len(members)} as the policy has it, {share:.1f} %")
    table: dict[tuple[str, str], list[bool]] = collections.defaultdict(list)
    for row in rows:
        table[row["kind"], row["capture"]].append(row["told"] == row["ought"])
    out.append(f"{'':14}" + "".join(f"{capture:>12}" for capture in CAPTURES))
    for kind in KINDS:
        cells = [table[kind, capture] for capture in CAPTURES]
        out.append(f"{kind:14}" + "".join(f"{f'{sum(c)}/{len(c)}':>12}" for c in cells))
    for r in rows:
        if r["told"] != r["ought"]:
            where = f"{r['seed']} {r['kind']} {r['capture']} {r['head']} {INKS[r['ink']].word} {r['mode']}"
            out.append(f"{where}: ought {r['ought']} {r['why']}, told {r['told']} {r['reasons']} {r['warnings']}")
    return "\n".join(out)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sheets", type=int, default=500)
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--first", type=int, default=0, help="number of the first sheet, for slices")
    parser.add_argument("--kind", choices=list(KINDS), help="only this kind")
    parser.add_argument("--capture", choices=CAPTURES, help="only this capture")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", type=Path, help="add a line a sheet to this file")
    asked = parser.parse_args()
    jobs = [(n, asked.start + n, asked.split) for n in range(asked.first, asked.first + asked.sheets)]
    kinds = list(KINDS)
    jobs = [
        job for job in jobs
        if asked.kind in (None, kinds[job[0] % len(kinds)])
        and asked.capture in (None, CAPTURES[job[0] // len(kinds) % len(CAPTURES)])
    ]  # fmt: skip
    rows, begun = [], time.perf_counter()
    with ProcessPoolExecutor(asked.workers) as pool:
        for row in pool.map(score_one, jobs):
            rows.append(row)
            print(f"\r{len(rows)}/{len(jobs)} {row['kind']} {row['told']}   ", end="", file=sys.stderr, flush=True)
            if asked.out:
                with asked.out.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(row) + "\n")
    print(f"\n{time.perf_counter() - begun:.0f} s", file=sys.stderr)
    print(summary(rows))


if __name__ == "__main__":
    main()
