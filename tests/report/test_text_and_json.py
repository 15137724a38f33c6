from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from printcheck.pipeline import Scored
from printcheck.report.json import report_of
from printcheck.report.text import text_of
from printcheck.report.words import findings_in_words, row_list

# The published contract of the report, field by field
REPORT = {"schema", "image", "sheet", "capture", "verdict", "inks", "background"}
IMAGE = {"path", "sha256", "width_px", "height_px"}
SHEET = {"head", "page", "layout", "ticket", "inks"}
SHEET_INK = {"ink", "rows", "rows_per_inch"}
CAPTURE = {
    "kind", "dots_per_inch", "print_scale_x", "print_scale_y", "rotation_deg", "registration_rms_mm", "warnings",
}  # fmt: skip
VERDICT = {"action", "reasons", "next_steps", "cautions"}
REASON = {"measure", "ink", "value", "limit", "unit", "action", "text"}
INK = {"ink", "lines", "solid", "contamination", "banding", "fade"}
LINES = {
    "rows", "missing", "intermittent", "advance_rows", "weak", "displaced", "unreadable", "dashes", "arrangement",
    "stride",
}  # fmt: skip
DASH = {"row", "repeat", "x_mm", "y_mm", "strength", "strength_sd", "state"}
SOLID = {"lab", "lab_sd", "reference", "reference_lab", "delta_e00", "delta_e00_ci95"}
CONTAMINATION = {"foreign", "trend", "clears_after_mm"}
BANDING = {"amplitude_dL", "period_mm", "visible", "ci95"}
FADE = {"dL_first_to_last", "ci95"}
BACKGROUND = {"lab", "specks_per_dm2", "specks_per_dm2_ci95", "largest_speck_mm"}
STATES = {"present", "weak", "missing", "displaced", "unreadable"}


def strict(scored: Scored, **how: bool) -> dict[str, Any]:
    """The report as a strict JSON reader sees it."""

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    text = json.dumps(report_of(scored.sheet, **how), allow_nan=False)
    document: dict[str, Any] = json.loads(text, parse_constant=refuse)
    return document


@pytest.mark.parametrize("name", ["faulty", "clean", "refused"])
def test_report_has_every_field_of_the_contract(name: str, request: pytest.FixtureRequest) -> None:
    report = strict(request.getfixturevalue(name), all_dashes=True)
    assert report.keys() >= REPORT
    assert report["schema"] == "printcheck-report/1"
    assert report["image"].keys() >= IMAGE
    assert report["capture"].keys() >= CAPTURE
    assert report["verdict"].keys() >= VERDICT
    for reason in report["verdict"]["reasons"]:
        assert reason.keys() >= REASON
    assert report["background"].keys() >= BACKGROUND
    if name == "refused":
        assert report["sheet"] is None
        assert report["verdict"]["action"] == "rescan"
        return
    assert report["sheet"].keys() >= SHEET
    assert [i.keys() >= SHEET_INK for i in report["sheet"]["inks"]] == [True] * 3
    assert [i["ink"] for i in report["inks"]] == ["C", "M", "Y"]
    for ink in report["inks"]:
        assert ink.keys() >= INK
        assert ink["lines"].keys() >= LINES
        assert ink["solid"].keys() >= SOLID
        for part, fields in (("contamination", CONTAMINATION), ("banding", BANDING), ("fade", FADE)):
            assert ink[part] is None or ink[part].keys() >= fields
        assert len(ink["lines"]["dashes"]) == 200
        for dash in ink["lines"]["dashes"]:
            assert dash.keys() >= DASH
            assert dash["state"] in STATES


def test_what_was_not_counted_is_null_and_not_left_out(clean: Scored, refused: Scored) -> None:
    """The contract: null, never left out, so that a reader of one report can read them all."""
    told, untold = (strict(scored)["background"] for scored in (clean, refused))
    assert told.keys() == untold.keys()
    assert untold["specks"] is None


def test_report_names_the_rows_that_were_cut_out(faulty: Scored, dead: dict[str, tuple[int, ...]]) -> None:
    report = strict(faulty)
    assert {i["ink"]: tuple(i["lines"]["missing"]) for i in report["inks"]} == {"M": (), **dead}
    assert sum(len(i["lines"]["dashes"]) for i in report["inks"]) == 10
    assert report["verdict"]["action"] == "purge"


def test_a_number_that_is_none_is_null_and_not_nan(clean: Scored) -> None:
    lines = clean.sheet.lines
    spoilt = replace(
        lines[0],
        dashes=tuple(d._replace(strength=float("nan"), strength_sd=float("inf")) for d in lines[0].dashes),
    )
    report = strict(replace(clean, sheet=replace(clean.sheet, lines=(spoilt, *lines[1:]))), all_dashes=True)
    assert {d["strength"] for d in report["inks"][0]["lines"]["dashes"]} == {None}


def test_a_displaced_rows_offset_is_the_mean_of_all_printings_that_were_read(clean: Scored) -> None:
    """One that lies where it should is one of them: 0 is a number."""
    lines = clean.sheet.lines
    offsets = {0: 0.0, 1: 0.02}
    dashes = tuple(d._replace(offset_mm=offsets[d.repeat]) if d.row == 7 else d for d in lines[0].dashes)
    off = replace(lines[0], displaced=(7,), dashes=dashes)
    report = strict(replace(clean, sheet=replace(clean.sheet, lines=(off, *lines[1:]))))
    assert report["inks"][0]["lines"]["displaced"] == [{"row": 7, "offset_mm": 0.01}]


@pytest.mark.parametrize(("shift", "second"), [(5, 12), (-9, 98), (None, 7)])
def test_a_displaced_rows_offset_is_that_of_its_nozzle_in_both_printings(
    clean: Scored, shift: int | None, second: int
) -> None:
    """Where the paper moved by other than a head's height, the nozzle of row 7 prints another row of the second.

    What lies there at row 7 is another nozzle's; rows before the first are the last ones of a swath before.
    """
    lines = clean.sheet.lines
    assert lines[0].rows == 100
    off = {(7, 0): 0.05, (7, 1): -0.06, (second, 1): 0.03}
    dashes = tuple(
        d._replace(offset_mm=off[d.row, d.repeat], state="displaced") if (d.row, d.repeat) in off else d
        for d in lines[0].dashes
    )
    thrown = replace(lines[0], displaced=(7,), advance_rows=shift, dashes=dashes)
    report = strict(replace(clean, sheet=replace(clean.sheet, lines=(thrown, *lines[1:]))))
    assert report["inks"][0]["lines"]["displaced"] == [{"row": 7, "offset_mm": 0.04}]


@pytest.mark.parametrize(("name", "word"), [("faulty", "PURGE"), ("clean", "TOP OFF"), ("refused", "RESCAN")])
def test_text_begins_with_the_verdict_and_ends_its_line(name: str, word: str, request: pytest.FixtureRequest) -> None:
    scored: Scored = request.getfixturevalue(name)
    text = text_of(scored.sheet)
    assert text.startswith(word)
    assert text.endswith("\n")
    assert text.index(word) < text.index("Next:")
    assert max(map(len, text.splitlines())) <= 100
    for reading in scored.sheet.lines:
        assert sum(line.startswith(f"  {reading.ink} ") for line in text.splitlines()) == 1


def test_what_rows_are_found_to_is_no_better_than_marks_that_were_left_out_say(faulty: Scored) -> None:
    """A fit of many terms passes close to every mark it was made by, and tells little of what lies between them."""
    capture, registration = faulty.sheet.capture, faulty.registration
    assert registration is not None
    assert registration.leave_out_rms_mm is not None
    assert capture.registration_doubt_mm is not None
    assert capture.registration_rms_mm is not None
    assert capture.registration_doubt_mm >= 0.25 * registration.leave_out_rms_mm
    assert f"found to {capture.registration_doubt_mm:.3f} mm" in text_of(faulty.sheet)
    assert report_of(faulty.sheet)["capture"]["registration_doubt_mm"] == round(capture.registration_doubt_mm, 4)


def test_text_gives_cautions_after_the_steps_that_need_them(faulty: Scored) -> None:
    text = text_of(faulty.sheet)
    assert faulty.sheet.assessment.cautions
    assert text.index("Next:") < text.index("Take care:")


def test_row_lists_join_neighbours_and_count_the_rest() -> None:
    assert row_list((1, 2, 3, 7, 9, 10)) == "1\u20133, 7, 9\u201310"
    assert row_list((1, 3, 5, 7), most=2) == "1, 3 and 2 more"


def test_an_ink_without_faults_is_said_to_print(clean: Scored) -> None:
    assert findings_in_words(clean.sheet.lines[0]) == ["all 100 rows print"]
    assert findings_in_words(replace(clean.sheet.lines[0], absent=True)) == ["no ink at all"]
