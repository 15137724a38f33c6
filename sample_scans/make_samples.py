"""Make the sample scans: simulated prints of an invented refill bench, with what is on each written beside it.

    python sample_scans/make_samples.py

Nothing here is real: cartridges, faults, printers, scanners and tickets are made up, and the pictures computed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from printcheck.simulate.faults import InkState, NozzleFaults
from printcheck.simulate.photo_scenario import random_photo
from printcheck.simulate.printer import PrintMode
from printcheck.simulate.scenario import random_scan
from printcheck.simulate.toner_faults import TonerState, random_toner_state
from printcheck.simulate.toner_scenario import random_toner_scan

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Sample:
    """One picture: how it is made, what is on it, and what the program should say."""

    name: str
    seed: int
    head: str
    ticket: str
    story: str
    verdict: str
    inks: dict[str, InkState] = field(default_factory=dict)
    photo: bool = False
    cut: bool = False


def _dead(*nozzles: int) -> InkState:
    return InkState(NozzleFaults(frozenset(nozzles), arrangement="scattered"))


SAMPLES = (
    Sample("black-good", 11, "mono-416", "B-101", "A black cartridge after refilling, every nozzle firing.", "top-off"),
    Sample(
        "black-clogged", 12, "mono-416", "B-102",
        "A black cartridge that stood for months: a run of 24 dead nozzles and 5 single ones.", "purge",
        {"K": _dead(*range(150, 174), 12, 77, 301, 333, 402)},
    ),
    Sample(
        "black-cleaned", 12, "mono-416", "B-102",
        "The same cartridge after ink was drawn through the head: two single nozzles still dead.", "purge",
        {"K": _dead(77, 333)},
    ),
    Sample(
        "tricolour-step", 14, "tri-192", "T-207",
        "A tricolour cartridge whose magenta misses every 16th nozzle: an address line of the head has failed.",
        "reject", {"M": _dead(*range(5, 192, 16))},
    ),
    Sample("tricolour-good", 15, "tri-100", "T-208", "A tricolour cartridge, every nozzle firing.", "top-off"),
    Sample(
        "four-ink-few", 16, "quad-416-192", "Q-310",
        "Black and colour cartridge together; three black and two yellow nozzles dead, the kind the eye misses.",
        "purge", {"K": _dead(40, 41, 222), "Y": _dead(63, 150)},
    ),
    Sample(
        "black-half", 17, "mono-416", "B-103", "Half of the sheet lay outside the scanner's glass.", "rescan", cut=True
    ),
    Sample(
        "four-ink-phone", 18, "quad-416-192", "Q-311",
        "A phone photograph of a four-ink sheet with one cyan nozzle dead.", "purge", {"C": _dead(100)}, photo=True
    ),
)  # fmt: skip


def make(sample: Sample) -> None:
    """Write one picture and its note."""
    common: dict[str, Any] = {"head": sample.head, "page": "A4", "ticket": sample.ticket, "inks": sample.inks}
    common["modes"] = {ink: PrintMode("single", phase=37) for ink in "KCMY"}
    if sample.photo:
        capture = random_photo(sample.seed, max_tilt_deg=12, glare=False, shadow=False, orientation=6, **common)
    else:
        capture = random_scan(sample.seed, dots_per_inch=300, encoding="jpeg", quarter_turns=0, **common)
    data = capture.encoded()
    if sample.cut:
        image = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
        data = cv2.imencode(".jpg", image[: image.shape[0] * 5 // 12, : image.shape[1] // 2])[1].tobytes()
    (HERE / f"{sample.name}.jpg").write_bytes(data)
    truth = capture.truth
    lines = [
        "simulated = true",
        'made_by = "make_samples.py: a computed print and capture; nothing on it is real"',
        f'story = "{sample.story}"',
        f'head = "{sample.head}"',
        f'page = "A4"\nticket = "{sample.ticket}"',
        f'capture = "{"phone photo, 12 megapixels" if sample.photo else "flatbed scan, 300 dots/inch"}"',
        f"seed = {sample.seed}",
        f'verdict = "{sample.verdict}"',
        "",
        "# rows missing in the first printing of each ink's ladder",
        "[missing]",
        *(f"{ink} = {list(truth.missing(ink))}" for ink in truth.dashes),
    ]
    (HERE / f"{sample.name}.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def make_toner() -> None:
    """Write the toner sheet and its note: a drum of 30 mm with a nick, among random specks, a little fog and fade."""
    seed, name, ticket = 22, "toner-drum", "T-31"
    drawn = random_toner_state(np.random.default_rng(seed), 210.0, 297.0, part="drum", specks=8)
    state = TonerState(1.0, 0.01, 0.01, 0.002, 0.2, drawn.repeats, (), drawn.specks)
    capture = random_toner_scan(
        seed, page="A4", ticket=ticket, dots_per_inch=300, state=state, quarter_turns=0, encoding="jpeg"
    )
    (HERE / f"{name}.jpg").write_bytes(capture.encoded())
    repeat = state.repeats[0]
    lines = [
        "simulated = true",
        'made_by = "make_samples.py: a computed print and capture; nothing on it is real"',
        'story = "A toner cartridge whose drum has a nick: a mark comes back with every turn."',
        'head = "toner-mono"',
        f'page = "A4"\nticket = "{ticket}"',
        'capture = "flatbed scan, 300 dots/inch"',
        f"seed = {seed}",
        'verdict = "purge"',
        "",
        "# marks that repeat: what turns, and where it printed, mm from the left and from the top",
        "[repeats]",
        f"spacing_mm = {repeat.spacing_mm:.2f}",
        f"x_mm = {repeat.spots[0].x_mm:.1f}",
        f"y_mm = {[round(spot.y_mm, 1) for spot in repeat.spots]}",
    ]
    (HERE / f"{name}.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    for sample in SAMPLES:
        make(sample)
    make_toner()
