"""From a simulated print to the reading, through files: a handful of sheets whose every dash is known.

The seeds belong to no survey: nothing was tuned on them and no figure is reported from them. The full surveys are in
benchmarks/; these few show at once when a change breaks the reading.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest

from printcheck.pipeline import Scored, score_image
from printcheck.simulate.scenario import random_scan
from printcheck.simulate.truth import Truth

RESIDUAL_MM = 0.05  # rms over the page, at 300 dots/inch

SHEETS = {  # seed: what is asked of the simulator; the rest is drawn
    9100: {"head": "tri-100", "page": "A4", "clean": True, "encoding": "jpeg"},
    9101: {"head": "tri-192", "page": "Letter", "clean": True, "encoding": "png"},
    9102: {"head": "tri-100", "page": "A4", "clean": True, "encoding": "tiff", "quarter_turns": 3},
    9103: {"head": "tri-100", "page": "A4", "arrangement": "scattered", "encoding": "jpeg", "quarter_turns": 1},
    9104: {"head": "tri-192", "page": "A4", "arrangement": "run", "encoding": "jpeg"},
    9105: {"head": "tri-192", "page": "A4", "arrangement": "stride", "encoding": "webp", "quarter_turns": 2},
    9106: {"head": "tri-100", "page": "A4", "arrangement": "scattered", "encoding": "jpeg", "print_scale": 0.995},
}


@dataclass(frozen=True)
class Trial:
    clean: bool  # a healthy cartridge: spread of volume and aim, but no fault
    truth: Truth
    scored: Scored


@pytest.fixture(scope="module")
def trials(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Trial]:
    """Every sheet printed, scanned, written to a file and scored, once."""
    cv2.setNumThreads(1)
    folder: Path = tmp_path_factory.mktemp("accuracy")
    out = {}
    for seed, asked in SHEETS.items():
        faulty = {} if asked.get("clean") else {"clean": False}
        capture = random_scan(seed, split="tune", dots_per_inch=300, **asked, **faulty)
        path = folder / f"{seed}.{asked['encoding']}"
        path.write_bytes(capture.encoded())
        out[seed] = Trial(bool(asked.get("clean")), capture.truth, score_image(path))
    return out


@pytest.fixture(params=list(SHEETS), ids=[f"{s}-{a.get('arrangement', 'clean')}" for s, a in SHEETS.items()])
def trial(request: pytest.FixtureRequest, trials: dict[int, Trial]) -> Trial:
    return trials[request.param]


def test_the_sheet_is_told(trial: Trial) -> None:
    layout = trial.scored.sheet.layout
    assert layout is not None
    assert (layout.head.name, layout.page.name) == (trial.truth.head, trial.truth.page)
    assert trial.scored.sheet.ticket == trial.truth.ticket
    assert [lines.ink for lines in trial.scored.sheet.lines] == list(trial.truth.dashes)


def test_missing_dashes_are_exactly_those_not_printed(trial: Trial) -> None:
    for lines in trial.scored.sheet.lines:
        for repeat in (0, 1):
            found = tuple(d.row for d in lines.dashes if d.repeat == repeat and d.state == "missing")
            assert found == trial.truth.missing(lines.ink, repeat), f"{lines.ink}, printing {repeat}"


def test_every_missing_row_of_the_first_printing_is_listed(trial: Trial) -> None:
    for lines in trial.scored.sheet.lines:
        assert set(trial.truth.missing(lines.ink)) <= set(lines.missing) | set(lines.intermittent)
        if trial.clean:
            assert lines.missing == lines.intermittent == ()


def test_clean_sheets_are_topped_off_and_faulty_ones_never(trial: Trial) -> None:
    action = trial.scored.sheet.assessment.action
    if trial.clean:
        assert action == "top-off"
    if any(trial.truth.missing(ink, repeat) for ink in trial.truth.dashes for repeat in (0, 1)):
        assert action != "top-off"


def test_the_page_lies_where_the_scanner_saw_it(trial: Trial) -> None:
    registration = trial.scored.registration
    assert registration is not None
    layout = registration.layout
    x, y = np.meshgrid(np.linspace(14, layout.width_mm - 14, 15), np.linspace(14, layout.height_mm - 14, 21))
    u, v = trial.truth.page_to_px(x.ravel(), y.ravel())
    off = registration.to_px(np.stack([x.ravel(), y.ravel()], axis=1)) - np.stack([u, v], axis=1)
    assert np.sqrt(np.mean(np.sum(off**2, axis=1))) / (300 / 25.4) < RESIDUAL_MM


def test_the_trials_hold_what_they_are_for(trials: dict[int, Trial]) -> None:
    assert sum(trial.clean for trial in trials.values()) == 3
    faulty = [trial.truth for trial in trials.values() if not trial.clean]
    assert all(any(truth.missing(ink) for ink in truth.dashes) for truth in faulty)
    assert sum(len(truth.missing(ink)) for truth in faulty for ink in truth.dashes) >= 20
