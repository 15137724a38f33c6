"""A watched folder: half-written files are waited for, and nothing is scored twice."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time

import pytest
from bench_scans import bench_scans
from typer.testing import CliRunner

from printcheck.bench import BenchSettings
from printcheck.cli.app import app
from printcheck.errors import InputError
from printcheck.ledger.store import open_ledger
from printcheck.watch import RESULT_END, watch_folder

QUICK = {"poll_s": 0.02, "settle_s": 0.06, "once": True}


def watched(folder, **options):
    return list(watch_folder(folder, BenchSettings(), **{**QUICK, **options}))


@pytest.fixture
def inbox(tmp_path):
    made = tmp_path / "inbox"
    made.mkdir()
    return made


def test_a_half_written_file_is_waited_for(inbox):
    data = bench_scans().paths["cured"].read_bytes()
    path = inbox / "slow.png"
    path.write_bytes(b"")
    pieces = [data[k : k + len(data) // 5 + 1] for k in range(0, len(data), len(data) // 5 + 1)]

    def sleep(seconds: float) -> None:
        time.sleep(seconds)
        if pieces:  # the scanner goes on writing
            with path.open("ab") as file:
                file.write(pieces.pop(0))

    (result,) = watched(inbox, sleep=sleep)
    assert result["action"] == "top-off"
    assert result["size"] == len(data)


def test_a_file_is_scored_once_also_over_restarts(inbox):
    shutil.copy(bench_scans().paths["after"], inbox / "a.png")
    (result,) = watched(inbox)
    beside = json.loads((inbox / f"a.png{RESULT_END}").read_text())
    assert beside == result
    assert beside["report"]["verdict"]["action"] == "purge"
    assert watched(inbox) == []


def test_another_picture_under_the_same_name_is_scored(inbox):
    shutil.copy(bench_scans().paths["after"], inbox / "a.png")
    watched(inbox)
    shutil.copy(bench_scans().paths["cured"], inbox / "a.png")
    assert [result["action"] for result in watched(inbox)] == ["top-off"]


def test_a_file_that_is_no_picture_is_told_once(inbox):
    (inbox / "bad.jpg").write_bytes(b"no picture at all")
    (result,) = watched(inbox)
    assert result["exit_code"] == 2
    assert "bad.jpg" in result["error"]
    assert watched(inbox) == []


def test_the_ledger_alone_remembers_by_content(inbox, tmp_path):
    place = str(tmp_path / "shop.sqlite3")
    shutil.copy(bench_scans().paths["cured"], inbox / "a.png")
    assert len(watched(inbox, ledger=place, beside=False)) == 1
    assert not list(inbox.glob(f"*{RESULT_END}"))
    (inbox / "a.png").rename(inbox / "b.png")
    (told,) = watched(inbox, ledger=place, beside=False)
    assert told["report"]["image"]["path"].endswith("a.png")  # as it was scored then, not again
    with open_ledger(place) as book:
        assert len(book.rows()) == 1


def test_a_killed_watch_goes_on_without_loss_or_double_work(inbox, tmp_path):
    place = tmp_path / "shop.sqlite3"
    for name, path in bench_scans().paths.items():
        shutil.copy(path, inbox / f"{name}.png")
    command = [sys.executable, "-m", "printcheck", "watch", str(inbox), "--ledger", str(place), "--settle", "0.1"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, env={**os.environ, "PYTHONUNBUFFERED": "1"}) as first:
        assert first.stdout is not None
        first.stdout.readline()
        first.send_signal(signal.SIGKILL)
    results = sorted(inbox.glob(f"*{RESULT_END}"))
    assert results
    before = {path: path.stat().st_mtime_ns for path in results}
    done = CliRunner().invoke(app, ["watch", str(inbox), "--ledger", str(place), "--settle", "0.1", "--once"])
    assert done.exit_code == 0, done.output
    assert len(done.stdout.splitlines()) == 3 - len(before)
    assert len(list(inbox.glob(f"*{RESULT_END}"))) == 3
    assert all(path.stat().st_mtime_ns == when for path, when in before.items())
    with open_ledger(str(place)) as book:
        assert len(book.rows()) == 3
        assert book.faults() == []


def test_a_stopped_watch_ends_quietly(inbox):
    command = [sys.executable, "-m", "printcheck", "watch", str(inbox), "--poll", "0.05"]
    (inbox / "bad.png").write_bytes(b"no picture")
    with subprocess.Popen([*command, "--settle", "0"], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          env={**os.environ, "PYTHONUNBUFFERED": "1"}) as running:  # fmt: skip
        assert running.stdout is not None
        assert running.stderr is not None
        assert b"NOT READ" in running.stdout.readline()  # it is under way
        running.send_signal(signal.SIGTERM)
        assert running.wait(timeout=30) == 0
        assert running.stderr.read() == b"stopped\n"


def test_wrong_use_is_one_clear_line(inbox, tmp_path):
    with pytest.raises(InputError, match="is no folder"):
        watched(tmp_path / "none")
    done = CliRunner().invoke(app, ["watch", str(inbox), "--no-beside"], env={"PRINTCHECK_LEDGER": ""})
    assert "--no-beside needs a ledger" in str(done.exception)
