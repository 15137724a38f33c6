"""``printcheck score`` as a script calls it: exit codes, one JSON document, files written whole."""

from __future__ import annotations

import hashlib
import json

import cv2
import pytest
from PIL import Image

VERDICT_CODES = {"top-off": 0, "purge": 10, "reject": 20, "rescan": 30}  # the published contract
SAMPLE_OF = {0: "black-good", 10: "black-clogged", 20: "tricolour-step", 30: "black-half"}
HEADLINE = {0: "TOP OFF", 10: "PURGE", 20: "REJECT", 30: "RESCAN"}


@pytest.mark.parametrize(("code", "name"), SAMPLE_OF.items())
def test_the_exit_code_is_the_verdict(code: int, name: str, scored_samples) -> None:
    done = scored_samples[name]
    assert done.code == code
    assert done.report["verdict"]["action"] == {v: k for k, v in VERDICT_CODES.items()}[code]


def test_no_sample_ends_in_any_other_way(scored_samples) -> None:
    for done in scored_samples.values():
        assert done.code == VERDICT_CODES[done.report["verdict"]["action"]]


@pytest.mark.parametrize(("code", "name"), SAMPLE_OF.items())
def test_json_to_standard_output_is_one_document_and_nothing_else(code: int, name: str, scored_samples) -> None:
    done = scored_samples[name]
    report, end = json.JSONDecoder().raw_decode(done.stdout)
    assert done.stdout[end:] == "\n"
    assert report["schema"] == "printcheck-report/1"
    assert done.stderr.startswith(HEADLINE[code])  # a person's text is there, and leads with the verdict
    assert "NaN" not in done.stdout
    assert "Traceback" not in done.stderr


def test_the_report_names_the_file_it_read(scored_samples, samples) -> None:
    for name, done in scored_samples.items():
        path = samples / f"{name}.jpg"
        image = done.report["image"]
        assert image["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
        with Image.open(path) as stored:  # as stored in the file, orientation tag or not
            assert (image["width_px"], image["height_px"]) == stored.size


def test_everything_asked_for_is_written_and_the_text_is_on_stdout(tmp_path, samples, run_printcheck) -> None:
    words = ("--json", "r.json", "--marked", "m.png", "--page-report", "p.html", "--all-dashes")
    picture = samples / "tricolour-step.jpg"
    before = picture.read_bytes(), picture.stat().st_mtime_ns
    done = run_printcheck("score", picture, *words, cwd=tmp_path)
    assert done.returncode == 20
    assert done.stderr == ""
    assert done.stdout.startswith("REJECT")
    assert {p.name for p in tmp_path.iterdir()} == {"r.json", "m.png", "p.html"}
    report = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))
    rows = {ink["ink"]: ink["lines"]["rows"] for ink in report["inks"]}
    for ink in report["inks"]:
        assert len(ink["lines"]["dashes"]) == 2 * rows[ink["ink"]]  # each row, both printings
    assert cv2.imread(str(tmp_path / "m.png")) is not None
    assert "</html>" in (tmp_path / "p.html").read_text(encoding="utf-8")
    assert (picture.read_bytes(), picture.stat().st_mtime_ns) == before


def test_spray_is_told_of_scans_alone(scored_samples) -> None:
    """Simulated photos of clean edges show up to 12 % beside them: files of cameras are sharpened and denoised."""
    photo, scan = scored_samples["four-ink-phone"].report, scored_samples["black-good"].report
    assert {ink["spray"] is None for ink in photo["inks"]} == {True}
    assert sum("spray" in warning for warning in photo["capture"]["warnings"]) == 1
    assert [ink["spray"]["seen"] for ink in scan["inks"]] == [False]


def test_without_all_dashes_only_faulty_ones_are_listed(scored_samples) -> None:
    report = scored_samples["black-clogged"].report
    (ink,) = report["inks"]
    listed = {d["row"] for d in ink["lines"]["dashes"]}
    assert set(ink["lines"]["missing"]) <= listed
    assert {d["state"] for d in ink["lines"]["dashes"]} <= {"weak", "missing", "displaced", "unreadable"}


def test_a_rescan_has_nulls_for_what_was_not_measured(scored_samples, samples, tmp_path, run_printcheck) -> None:
    report = scored_samples["black-half"].report
    assert report["verdict"]["reasons"][0]["action"] == "rescan"
    assert (report["sheet"], report["inks"], report["toner"]) == (None, [], None)  # no sheet could be named
    assert {name: value for name, value in report["capture"].items() if value is not None} == {
        "warnings": [report["verdict"]["reasons"][0]["text"]]
    }
    assert set(report["background"].values()) == {None}
    # a sheet that is known, in a picture without colour
    cv2.imwrite(str(tmp_path / "grey.jpg"), cv2.imread(str(samples / "tricolour-good.jpg"), cv2.IMREAD_GRAYSCALE))
    done = run_printcheck("score", tmp_path / "grey.jpg", "--json", "-")
    assert done.returncode == 30
    grey = json.loads(done.stdout)
    assert [ink["ink"] for ink in grey["inks"]] == ["C", "M", "Y"]
    for ink in grey["inks"]:
        measured = {name: value for name, value in ink["solid"].items() if name != "reference"}
        assert set(measured.values()) == {None}
        assert ink["contamination"] is None
    assert any("grey" in warning for warning in grey["capture"]["warnings"])
