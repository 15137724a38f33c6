"""A month in an invented shop: do the ledger's statistics give back the rates that were put in?

    python benchmarks/month.py --pictures 60 --cache month-cache      # renders and scores once, then reads the cache
    python benchmarks/month.py --cache month-cache --months 200       # how often the intervals hold the truth

300 tickets come in. Each cartridge is sound or has one defect, and goes through rounds: print, scan, score, do the
step that the verdict puts first, print again, until it passes, is rejected, or nothing is left to try. Whether a step
cures is drawn with a true rate by step and defect; first-pass yield is drawn by ink lot. Both are then to be found in
``printcheck stats``, inside its 95 % intervals (of twenty intervals one may miss).

What is real and what is short: every picture is a rendered print and scan by the simulator, scored by the pipeline
as any other. But 300 tickets would need some 700 of them, so a pool is rendered, several for each defect, each with a
printer, paper, scanner and fault of its own, and each ticket draws one from its defect's pool. The drawn picture's
reading then goes through the bench with the ticket's own number and a digest of its own: judged by that ticket's
history, and noted, by the same call that ``printcheck log`` makes.
"""

from __future__ import annotations

import argparse
import collections
import hashlib
import os
import pickle
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np

from printcheck.bench import Benched, BenchSettings, bench_scored
from printcheck.ledger.entry import Notes
from printcheck.ledger.stats import Statistics, statistics
from printcheck.ledger.store import Ledger, open_ledger
from printcheck.pattern.heads import load_head
from printcheck.pipeline import Scored, score_image
from printcheck.report.ledger_text import statistics_text
from printcheck.simulate.faults import InkState, NozzleFaults, random_dead
from printcheck.simulate.scenario import random_scan
from printcheck.verdict.result import Action
from printcheck.verdict.steps import load_steps

HEAD, DOTS_PER_INCH = "tri-100", 300
SHARE = {"scattered": 0.55, "run": 0.30, "absent": 0.09, "electrical": 0.06}
"""Of the faulty cartridges."""
FIRST_PASS = {"lot-114": 0.55, "lot-117": 0.38}
"""By ink lot."""
CURE = {
    ("blot", "scattered"): 0.60,
    ("ultrasonic", "scattered"): 0.45,
    ("steam", "scattered"): 0.25,
    ("draw", "run"): 0.70,
    ("blot", "run"): 0.30,
    ("ultrasonic", "run"): 0.35,
    ("steam", "run"): 0.20,
    ("prime", "absent"): 0.50,
    ("draw", "absent"): 0.30,
    ("steam", "absent"): 0.10,
}
"""True rates by step and defect."""
_MODES = "single", "two-pass-rows"  # a dead nozzle leaves a missing row
_FIRST_DAY = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)


def rendered(pictures: int, split: str, start: int, folder: Path) -> dict[str, list[Scored]]:
    """Render and score the pool, by defect; a third of it sound. Scores are kept in `folder`."""
    counts = {"sound": pictures // 3, "scattered": pictures // 4, "run": pictures // 5}
    counts |= {"absent": max(2, pictures // 10), "electrical": max(2, pictures // 10)}
    pool: dict[str, list[Scored]] = collections.defaultdict(list)
    seed = start
    for state, count in counts.items():
        for _ in range(count):
            pool[state].append(_picture(state, seed, split, folder))
            seed += 1
            print(f"\rrendered and scored {seed - start}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    return pool


def _picture(state: str, seed: int, split: str, folder: Path) -> Scored:
    kept = folder / f"{state}-{split}-{seed}.pickle"
    if kept.exists():
        return Scored(pickle.loads(kept.read_bytes()), None, None)  # type: ignore[arg-type]
    rng = np.random.default_rng([seed, 55])
    head = load_head(HEAD)
    ink = head.inks[int(rng.integers(len(head.inks)))]
    faults = {
        "sound": NozzleFaults(),
        "scattered": NozzleFaults(frozenset(rng.choice(np.arange(2, 98, 4), int(rng.integers(1, 7)), replace=False))),
        "run": random_dead(ink.nozzles, "run", rng),
        "absent": NozzleFaults(absent=True),
        "electrical": NozzleFaults(frozenset(range(int(rng.integers(0, 8)), ink.nozzles, 8)), stride=8),
    }[state]
    for turn in range(20):  # a printer whose passes share a row dot by dot makes weak lines of dead nozzles
        capture = random_scan(
            seed + 100_000 * turn, split=split, head=HEAD, page="A4", dots_per_inch=DOTS_PER_INCH, encoding="jpeg",
            inks={ink.ink: InkState(faults)},
        )  # fmt: skip
        if capture.truth.print_mode in _MODES:
            break
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / f"{state}-{seed}.jpg"
        path.write_bytes(capture.encoded())
        scored = score_image(path)
    kept.write_bytes(pickle.dumps(scored.sheet))
    return Scored(scored.sheet, None, None)  # type: ignore[arg-type]


class Shop:
    """One month: tickets through their rounds, into a ledger."""

    def __init__(self, pool: dict[str, list[Scored]], ledger: Ledger, rng: np.random.Generator) -> None:
        self.pool, self.ledger, self.rng = pool, ledger, rng
        self.now = _FIRST_DAY
        steps = load_steps()
        self.by_text = {steps.texts([name], {})[0]: name for name in steps.steps}

    def run(self, tickets: int) -> None:
        """Take in so many cartridges, spread over the month."""
        for number in range(tickets):
            lot = list(FIRST_PASS)[int(self.rng.integers(len(FIRST_PASS)))]
            state = "sound"
            if self.rng.random() > FIRST_PASS[lot]:
                state = str(self.rng.choice(list(SHARE), p=list(SHARE.values())))
            self.ticket(f"N-{number:04d}", lot, state)

    def ticket(self, ticket: str, lot: str, state: str) -> None:
        """Print, scan, score, clean, until there is nothing more to be done."""
        cleaning: str | None = None
        faulty = self.drawn(state)  # a cartridge that was not cured misses the same rows again
        while True:
            done = self.sheet(ticket, lot, faulty if state != "sound" else self.drawn(state), cleaning)
            assessment = done.scored.sheet.assessment
            if assessment.action is not Action.PURGE:
                return
            cleaning = self.by_text[assessment.next_steps[0]]
            if cleaning == "ask":
                return
            # the rate of a step no row of the table names is nil: it was no step for this defect
            if self.rng.random() < CURE.get((cleaning, state), 0.0):
                state = "sound"

    def drawn(self, state: str) -> Scored:
        """One picture out of a defect's pool."""
        return self.pool[state][int(self.rng.integers(len(self.pool[state])))]

    def sheet(self, ticket: str, lot: str, drawn: Scored, cleaning: str | None) -> Benched:
        """One sheet of a ticket through the bench."""
        self.now += timedelta(minutes=float(self.rng.uniform(5, 25)))
        digest = hashlib.sha256(f"{ticket} {self.now}".encode()).hexdigest()
        image = replace(drawn.sheet.image, sha256=digest, path=f"{ticket}-{self.now:%d%H%M}.jpg")
        scored = replace(drawn, sheet=replace(drawn.sheet, ticket=ticket, image=image))
        settings = BenchSettings(notes=Notes("colour-small", lot, "bench-1", "ab", cleaning))
        return bench_scored(scored, settings, self.ledger, scored_at=self.now)


def month(pool: dict[str, list[Scored]], place: Path, tickets: int, seed: int) -> Statistics:
    """Run one month into a new ledger at `place`; returns what its statistics say."""
    with open_ledger(str(place)) as ledger:
        Shop(pool, ledger, np.random.default_rng([seed, 5])).run(tickets)
        if ledger.faults():
            raise SystemExit("the ledger is not sound")
        return statistics(ledger.rows())


def held(found: Statistics) -> tuple[list[tuple[str, bool]], list[str]]:
    """Whether each interval holds its true rate, and a line on each."""
    out, lines = [], []
    rates = [(f"{c.step}, {c.defect}", CURE.get((c.step, c.defect)), c.rate) for c in found.cures]
    rates += [(f"first pass of {g.name}", FIRST_PASS[g.name], g.first_pass) for g in found.groups["ink-lot"]]
    for name, true, rate in rates:
        if true is None or rate.low is None or rate.high is None:
            lines.append(f"{name:24} {rate.successes:4} of {rate.trials:<4} not planted: a defect misread")
            continue
        inside = rate.low <= true <= rate.high
        out.append((name, inside))
        told = f"true {100 * true:5.1f} %, found {100 * rate.low:5.1f} to {100 * rate.high:5.1f} %"
        lines.append(f"{name:24} {rate.successes:4} of {rate.trials:<4} {told}  {'holds' if inside else 'MISSES'}")
    return out, lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tickets", type=int, default=300)
    parser.add_argument("--pictures", type=int, default=60)
    parser.add_argument("--split", default="tune", choices=["tune", "report"])
    parser.add_argument("--start", type=int, default=0, help="seed of the first picture")
    parser.add_argument("--seed", type=int, default=1, help="of the month")
    parser.add_argument("--months", type=int, default=1, help="further months from the same pool")
    parser.add_argument("--cache", type=Path, help="folder to keep scored pictures in")
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as scratch:
        cache = asked.cache or Path(scratch)
        cache.mkdir(parents=True, exist_ok=True)
        pool = rendered(asked.pictures, asked.split, asked.start, cache)
        wrong = misread(pool)
        print(f"pool of {sum(map(len, pool.values()))} rendered scans, {len(wrong)} of them misread {wrong}")
        found = month(pool, Path(scratch) / "month.sqlite3", asked.tickets, asked.seed)
        print(statistics_text(found, ("ink-lot",)))
        print("\n".join(held(found)[1]))
        every: collections.Counter[bool] = collections.Counter()
        for number in range(asked.months):
            place = Path(scratch) / f"{number}.sqlite3"
            every.update(ok for _, ok in held(month(pool, place, asked.tickets, asked.seed + number))[0])
            place.unlink()
        share = 100 * every[True] / max(1, every.total())
        print(f"{asked.months} months: {every[True]} of {every.total()} intervals hold the true rate, {share:.1f} %")


def misread(pool: dict[str, Sequence[Scored]]) -> list[str]:
    """Pictures of the pool whose verdict is not that of their defect."""
    ought = {"sound": Action.TOP_OFF, "electrical": Action.REJECT}
    return [
        f"{state} {number}: {scored.sheet.assessment.action.value}"
        for state, members in pool.items()
        for number, scored in enumerate(members)
        if scored.sheet.assessment.action is not ought.get(state, Action.PURGE)
    ]


if __name__ == "__main__":
    main()
