"""The colours of two sheets by one another: one cartridge, one scanner, and another ink that came in between.

Simulated scans stand for the shop; what is planted is the truth.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from printcheck.pair import foreign_by_one_another
from printcheck.pipeline import Scored, score_image
from printcheck.simulate.faults import Contamination, InkState, NozzleFaults
from printcheck.simulate.scenario import random_scan
from printcheck.verdict.compare import Outcome, compare_sheets


@pytest.fixture(scope="module")
def scans(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Scored]:
    folder = tmp_path_factory.mktemp("pair")
    mixed = InkState(contamination=(Contamination("M", 0.30, "steady"),))
    out = {}
    empty = InkState(NozzleFaults(absent=True))
    for name, inks in {"clean": {}, "mixed": {"C": mixed}, "empty": {"M": empty}}.items():
        capture = random_scan(7, head="tri-100", page="A4", dots_per_inch=200, encoding="png", inks=inks)
        path = Path(folder) / f"{name}.png"
        path.write_bytes(capture.encoded())
        out[name] = score_image(path)
    return out


def test_what_came_in_is_told_by_the_sheet_before(scans: dict[str, Scored]) -> None:
    mutual = foreign_by_one_another(scans["clean"], scans["mixed"])
    assert mutual is not None
    now = {reading.ink: reading.foreign for reading in mutual[1]}
    assert [found.ink for found in now["C"]] == ["M"]
    low, high = now["C"][0].ci95
    assert low < 0.30 < high
    assert low > 0.15
    assert not any(reading.foreign for reading in mutual[0])
    done = compare_sheets(scans["clean"].sheet, scans["mixed"].sheet, mutual=mutual)
    assert done.outcome is Outcome.WORSE


def test_one_sheet_holds_nothing_beside_itself(scans: dict[str, Scored]) -> None:
    mutual = foreign_by_one_another(scans["clean"], scans["clean"])
    assert mutual is not None
    assert not any(reading.foreign for both in mutual for reading in both)


def test_an_ink_that_is_back_is_no_other_ink(scans: dict[str, Scored]) -> None:
    """Against bare paper all of magenta would be taken for something that came in."""
    mutual = foreign_by_one_another(scans["empty"], scans["clean"])
    assert mutual is None
    assert compare_sheets(scans["empty"].sheet, scans["clean"].sheet, mutual=mutual).outcome is Outcome.CURED


@pytest.mark.parametrize("other", ["kind", "profile", "levels"])
def test_pictures_taken_otherwise_tell_nothing_of_one_another(scans: dict[str, Scored], other: str) -> None:
    clean = scans["clean"]
    capture, sheet = clean.capture, clean.sheet
    if other == "kind":
        sheet = replace(sheet, capture=replace(sheet.capture, kind="photo"))
    elif other == "profile":
        capture = replace(capture, profile="another scanner's")
    else:  # 7 % less light, as after automatic levels
        capture = replace(capture, pixels=(capture.pixels * 0.97).astype(capture.pixels.dtype))
    assert foreign_by_one_another(clean, Scored(sheet, capture, clean.registration)) is None
