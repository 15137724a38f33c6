"""``printcheck compare`` on simulated scans of one cartridge."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest
from bench_scans import bench_scans
from PIL import Image
from typer.testing import CliRunner

from printcheck.cli.app import app


@pytest.fixture(scope="module")
def run():
    def call(*arguments):
        return CliRunner().invoke(app, ["compare", *map(str, arguments)])

    return call


def test_the_json_has_every_field_of_the_contract(run):
    scans = bench_scans()
    done = run(scans.paths["before"], scans.paths["after"], "--json", "-")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["schema"] == "printcheck-comparison/1"
    assert told["outcome"] == "better"
    assert {"image", "verdict"} <= told["before"].keys() & told["after"].keys()
    assert [ink["ink"] for ink in told["inks"]] == ["C", "M", "Y"]
    counts = [[len(ink[k]) for k in ("recovered", "still_missing", "newly_missing")] for ink in told["inks"]]
    assert counts == [[2, 2, 0], [1, 0, 0], [0, 0, 0]]
    for name in ("delta_e00", "contamination", "banding"):
        assert {f"{name}_before", f"{name}_after"} <= told["inks"][0].keys()
    assert told["verdict"]["action"] == "purge"
    assert "BETTER" in done.stderr


def test_a_cure_is_called_one_and_drawn(run, tmp_path):
    scans = bench_scans()
    picture, page = tmp_path / "change.png", tmp_path / "change.html"
    done = run(scans.paths["before"], scans.paths["cured"], "--marked", picture, "--page-report", page)
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("CURED")
    drawn = np.asarray(Image.open(io.BytesIO(picture.read_bytes())))
    assert drawn.shape[1] > drawn.shape[0]  # side by side
    blue = np.all(drawn == (0, 114, 178), axis=2).sum()
    vermilion = np.all(drawn[200:] == (213, 94, 0), axis=2).sum()
    assert blue > 200
    assert vermilion == 0  # nothing is still missing; the legend above the pages shows the ring
    text = page.read_text(encoding="utf-8")
    assert "CURED" in text
    assert "http" not in text.replace("http://www.w3.org", "")


def test_a_blank_picture_gives_nulls_and_unchanged(run, tmp_path):
    blank = tmp_path / "blank.png"
    Image.new("RGB", (900, 1200), "white").save(blank)
    done = run(blank, bench_scans().paths["after"], "--json", "-", "--marked", tmp_path / "m.png")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["outcome"] == "unchanged"
    assert told["told"] is False
    assert done.stderr.startswith("NOT COMPARED")
    assert told["before"]["verdict"]["action"] == "rescan"
    assert [ink["recovered"] for ink in told["inks"]] == [None, None, None]
    assert "judged" in told["reasons"][0]


def test_no_picture_is_one_line_and_exit_2(run, tmp_path):
    from printcheck.errors import ExitCode, InputError

    broken = tmp_path / "notes.txt"
    broken.write_text("no picture")
    done = run(broken, bench_scans().paths["after"])
    assert isinstance(done.exception, InputError)
    assert done.exception.exit_code is ExitCode.USAGE
    assert "\n" not in str(done.exception)


def test_a_house_reference_judges_both_sheets(run, tmp_path, monkeypatch):
    """DIN 33871-1 has the original as the reference: before and after are measured against the same."""
    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(tmp_path / "references"))
    scans = bench_scans()
    kept = CliRunner().invoke(app, ["reference", "add", str(scans.paths["cured"]), "--name", "original"])
    assert kept.exit_code == 0, kept.output
    done = run(scans.paths["before"], scans.paths["cured"], "--reference", "original", "--json", "-")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    for ink in told["inks"]:
        assert ink["delta_e00_after"] == pytest.approx(0.0, abs=0.05)  # against itself
        assert ink["contamination_before"]["basis"] == "house original"
    assert "deltaE00 from house original before" in done.stderr
    unknown = run(scans.paths["before"], scans.paths["cured"], "--calibration", "office")
    assert unknown.exception.exit_code == 2
    assert "office" in str(unknown.exception)


def test_the_shops_own_steps_are_what_is_advised(run, tmp_path):
    own = tmp_path / "steps.toml"
    own.write_text(
        '[ladders]\nscattered = ["soak"]\nrun = ["soak"]\n[steps.soak]\ntitle = "soak"\n'
        'text = "Leave it on the wet felt for an hour."\ncautions = ["waste"]\n'
    )
    scans = bench_scans()
    done = run(scans.paths["before"], scans.paths["after"], "--steps", own, "--json", "-")
    assert done.exit_code == 0, done.output
    assert "wet felt" in json.loads(done.stdout)["verdict"]["next_steps"][0]
