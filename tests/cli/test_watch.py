"""A watched folder: half-written files are waited for, and nothing is scored twice."""

from __future__ import annotations

import errno
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from contextlib import ExitStack

import pytest
from bench_scans import bench_scans
from typer.testing import CliRunner

from printcheck.bench import BenchSettings
from printcheck.claim import claimed
from printcheck.cli.app import app
from printcheck.errors import InputError, OutputError
from printcheck.ledger.store import open_ledger
from printcheck.verdict.steps import load_steps
from printcheck.watch import CLAIM_END, RESULT_END, watch_folder

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


def test_an_empty_file_keeps_nobody_waiting_for_ever(inbox):
    (inbox / "empty.png").write_bytes(b"")
    looks = []

    def sleep(seconds: float) -> None:
        looks.append(seconds)
        assert len(looks) < 200
        time.sleep(seconds)

    (result,) = watched(inbox, sleep=sleep)
    assert result["exit_code"] == 2
    assert "empty" in result["error"]


def test_a_name_that_is_no_text_has_its_result_too(inbox):
    odd = os.fsdecode(os.fsencode(inbox) + b"/\xff.png")
    try:
        shutil.copy(bench_scans().paths["cured"], odd)
    except OSError:
        pytest.skip("the file system takes no such name")
    assert [result["path"] for result in watched(inbox)] == [odd]
    assert watched(inbox) == []


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


@pytest.mark.parametrize("noted", [False, True])
def test_other_limits_are_another_verdict_after_a_restart(inbox, tmp_path, noted):
    shutil.copy(bench_scans().paths["after"], inbox / "a.png")
    own = tmp_path / "policy.toml"
    own.write_text("[missing_lines]\ntop_off = 5\n")
    place = str(tmp_path / "shop.sqlite3") if noted else None
    lenient = BenchSettings(policy=own)
    assert [r["action"] for r in watch_folder(inbox, lenient, ledger=place, **QUICK)] == ["top-off"]
    assert list(watch_folder(inbox, lenient, ledger=place, **QUICK)) == []
    assert [r["action"] for r in watched(inbox, ledger=place)] == ["purge"]
    assert json.loads((inbox / f"a.png{RESULT_END}").read_text())["action"] == "purge"
    assert watched(inbox, ledger=place) == []


def test_the_shops_new_words_are_told_also_of_what_the_ledger_has(inbox, tmp_path):
    shutil.copy(bench_scans().paths["cured"], inbox / "a.png")
    place, steps = str(tmp_path / "shop.sqlite3"), tmp_path / "steps.toml"
    steps.write_text('general = "Mind the cat."\n')
    watched(inbox, ledger=place)
    (told,) = watch_folder(inbox, BenchSettings(steps=steps), ledger=place, **QUICK)
    assert told["report"]["verdict"]["cautions"][-1] == "Mind the cat."


def test_a_watched_picture_that_cant_be_opened_is_told_of_and_read_as_soon_as_it_can(inbox, monkeypatch):
    """Another program's lock or a missing permission leaves size and time alone, when it comes and when it goes."""
    shut = inbox / "shut.png"
    shutil.copy(bench_scans().paths["cured"], shut)
    locked = [True]
    really = {"io.open": io.open, "os.open": os.open, "builtins.open": open}

    def refusing(way):
        def opened(name, *arguments, **options):
            if locked[0] and str(name) == str(shut):
                raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(name))
            return really[way](name, *arguments, **options)

        return opened

    for way in really:  # chmod would not keep out a root who runs the tests
        monkeypatch.setattr(way, refusing(way))
    looks = []

    def sleep(seconds: float) -> None:
        looks.append(seconds)
        assert len(looks) < 100
        time.sleep(seconds)

    (told,) = watched(inbox, sleep=sleep)
    assert told["exit_code"] == 2
    assert "shut.png" in told["error"]
    assert "permission" in told["error"]
    assert not list(inbox.glob(f"*{RESULT_END}"))  # it may be read next time

    watching = watch_folder(inbox, BenchSettings(), **{**QUICK, "once": False})
    assert next(watching)["error"]
    locked[0] = False
    assert next(watching)["action"] == "top-off"
    watching.close()
    assert watched(inbox) == []


def test_a_watched_picture_is_told_with_the_cautions_of_its_step(inbox):
    shutil.copy(bench_scans().paths["before"], inbox / "a.png")
    done = CliRunner().invoke(app, ["watch", str(inbox), "--settle", "0", "--once"])
    (line,) = done.stdout.splitlines()
    assert "Wipe the head" in line
    steps = load_steps()
    assert line.endswith(f"Take care: {steps.cautions['waste']} {steps.general}")


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


def test_two_watchers_share_a_folder_and_score_each_picture_once(inbox):
    for number in range(2):
        for name, path in bench_scans().paths.items():
            # what follows the end of a PNG is not read (ISO/IEC 15948), but makes it another file
            (inbox / f"{name}-{number}.png").write_bytes(path.read_bytes() + b"\0" * number)
    command = [sys.executable, "-m", "printcheck", "watch", str(inbox), "--settle", "0.1", "--poll", "0.1", "--once"]
    watchers = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    said = [line for watcher in watchers for line in watcher.communicate(timeout=300)[0].splitlines()]
    assert [watcher.returncode for watcher in watchers] == [0, 0]
    count = 2 * len(bench_scans().paths)
    assert len(said) == count
    assert len({line.split(": ")[0] for line in said}) == count
    assert len(list(inbox.glob(f"*{RESULT_END}"))) == count
    assert not list(inbox.glob(f".*{CLAIM_END}"))


def test_what_another_has_in_hand_is_left_to_it(inbox):
    path = inbox / "a.png"
    shutil.copy(bench_scans().paths["cured"], path)
    assert len(watched(inbox)) == 1
    beside = inbox / f"a.png{RESULT_END}"
    text = beside.read_text()
    beside.unlink()
    looks = []
    with ExitStack() as other:
        assert other.enter_context(claimed(inbox / f".a.png{CLAIM_END}"))

        def sleep(seconds: float) -> None:
            looks.append(list(inbox.iterdir()))
            time.sleep(seconds)
            if len(looks) == 12:  # the other is done
                beside.write_text(text)
                other.close()

        assert watched(inbox, sleep=sleep) == []
    assert len(looks) >= 12
    assert beside.read_text() == text


def test_a_claim_is_free_again_when_its_holder_is_killed(tmp_path):
    path = tmp_path / "work.lock"
    holder = (
        "import sys, time; from pathlib import Path; from printcheck.claim import claimed\n"
        "with claimed(Path(sys.argv[1])) as ours: print(ours, flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", holder, str(path)], stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "True\n"
        with claimed(path) as ours:
            assert not ours
        other.send_signal(signal.SIGKILL)
    with claimed(path) as ours:
        assert ours
    assert not path.exists()
    path.write_bytes(b"")
    with pytest.raises(OutputError, match="make its folder writable"), claimed(path / "y.lock"):
        pass


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
