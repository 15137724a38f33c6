"""A few simulated scans, made once a session: one cartridge before a cleaning, after it, and cured."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2

from printcheck.pattern.heads import load_head
from printcheck.simulate.faults import InkState, NozzleFaults
from printcheck.simulate.printer import PrintMode
from printcheck.simulate.scenario import random_scan

_HEAD = "tri-100"
_FOLDER = tempfile.TemporaryDirectory(prefix="bench-scans-")  # goes when the tests end
_DEAD: dict[str, dict[str, frozenset[int]]] = {
    "before": {"C": frozenset({3, 20, 61, 88}), "M": frozenset({7})},
    "after": {"C": frozenset({20, 61})},
    "cured": {},
}


@dataclass(frozen=True)
class BenchScans:
    """Paths by name, and the nozzles planted dead in each."""

    paths: dict[str, Path]
    dead: dict[str, dict[str, frozenset[int]]]


@lru_cache(maxsize=1)
def bench_scans() -> BenchScans:
    cv2.setNumThreads(1)
    folder = Path(_FOLDER.name)
    # one printer for all three: swaths fall alike, so row r is the same nozzle on each sheet
    modes = {ink.ink: PrintMode("single", ink.nozzles, 0, 0.0, 0.0) for ink in load_head(_HEAD).inks}
    paths = {}
    for seed, (name, dead) in enumerate(_DEAD.items(), 40):
        capture = random_scan(
            seed, head=_HEAD, page="A4", dots_per_inch=200, ticket="T40", modes=modes,
            encoding="png", quarter_turns=0,
            inks={ink: InkState(NozzleFaults(nozzles)) for ink, nozzles in dead.items()},
        )  # fmt: skip
        paths[name] = folder / f"{name}.png"
        paths[name].write_bytes(capture.encoded())
    return BenchScans(paths, _DEAD)
