"""Many pictures: one line each, whatever the pictures are, and no work done twice."""

from __future__ import annotations

import json
import os
import shutil
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest
from bench_scans import bench_scans
from typer.testing import CliRunner

from printcheck.batch import pictures_in, results_on_cluster, results_so_far, score_file, score_many
from printcheck.bench import BenchSettings
from printcheck.cli.app import app
from printcheck.cli.batch import _lines_to
from printcheck.errors import InputError, OutputError, PrintcheckError
from printcheck.ledger.rounds import rounds_of
from printcheck.ledger.store import open_ledger


def run(*arguments):
    return CliRunner().invoke(app, ["batch", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "scans"
    made.mkdir()
    for name in ("before", "cured"):
        shutil.copy(bench_scans().paths[name], made / f"{name}.png")
    (made / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 cut off")
    (made / "notes.txt").write_text("no picture, and not named like one")
    (made / ".hidden.png").write_bytes(b"")
    return made


def test_one_line_a_picture_and_a_bad_one_is_a_line(folder):
    done = run(folder, "--workers", "2")
    assert done.exit_code == 0, done.output
    lines = {line["path"].rsplit("/", 1)[1]: line for line in map(json.loads, done.stdout.splitlines())}
    assert lines.keys() == {"before.png", "cured.png", "broken.jpg"}
    assert {name: line["exit_code"] for name, line in lines.items()} == {
        "before.png": 10, "cured.png": 0, "broken.jpg": 2,
    }  # fmt: skip
    assert lines["before.png"]["report"]["schema"] == "printcheck-report/1"
    assert lines["broken.jpg"]["report"] is None
    assert "broken.jpg" in lines["broken.jpg"]["error"]
    assert "3 pictures: 1 not read, 1 purge, 1 top-off" in done.stderr


def test_a_run_that_was_stopped_goes_on_where_it_was(folder, tmp_path):
    out = tmp_path / "out.jsonl"
    assert run(folder, "--out", out, "--workers", "1").exit_code == 0
    whole = out.read_text().splitlines()
    assert len(whole) == 3
    kept = "\n".join(whole[:2]) + "\n"
    out.write_text(kept + whole[2][: len(whole[2]) // 2])  # killed in the middle of a line
    again = run(folder, "--out", out, "--workers", "1")
    assert "1 picture: " in again.stderr
    assert "2 were done before" in again.stderr
    assert out.read_text().startswith(kept)
    assert [json.loads(line)["path"] for line in out.read_text().splitlines()] == [
        json.loads(line)["path"] for line in whole
    ]
    assert "nothing to do" in run(folder, "--out", out).stderr


def test_a_picture_that_changed_is_scored_again(folder, tmp_path):
    out = tmp_path / "out.jsonl"
    run(folder, "--out", out, "--workers", "1")
    shutil.copy(bench_scans().paths["after"], folder / "cured.png")
    run(folder, "--out", out, "--workers", "1")
    assert results_so_far(out)[str(folder / "cured.png")]["action"] == "purge"


def lenient(tmp_path):
    """A policy by which the sheet with two missing rows is sound: what it was, it must not stay."""
    own = tmp_path / "policy.toml"
    own.write_text("[missing_lines]\ntop_off = 5\n")
    return own


def test_other_limits_are_another_verdict_in_a_batch_that_goes_on(folder, tmp_path):
    shutil.copy(bench_scans().paths["after"], folder / "cured.png")
    out, own = tmp_path / "out.jsonl", lenient(tmp_path)
    run(folder, "--out", out, "--workers", "1", "--policy", own)
    assert results_so_far(out)[str(folder / "cured.png")]["action"] == "top-off"
    assert "nothing to do" in run(folder, "--out", out, "--policy", own).stderr
    run(folder, "--out", out, "--workers", "1")
    assert results_so_far(out)[str(folder / "cured.png")]["action"] == "purge"
    assert "nothing to do" in run(folder, "--out", out).stderr


def test_a_batch_goes_on_only_by_what_it_began_with(tmp_path, monkeypatch):
    """A file that is no picture is as good as one: whether it is looked at again is the question."""
    (tmp_path / "scans").mkdir()
    (tmp_path / "scans" / "bad.png").write_bytes(b"no picture")
    out, steps, parts = tmp_path / "out.jsonl", tmp_path / "steps.toml", tmp_path / "parts.toml"
    assert CliRunner().invoke(app, ["components", "--out", str(parts)]).exit_code == 0
    steps.write_text('general = "Mind the cat."\n')
    for more in ((), ("--steps", steps), ("--components", parts), ("--max-megapixels", "99")):
        assert "1 picture: 1 not read" in run(tmp_path / "scans", "--out", out, "--workers", "1", *more).stderr
        assert "nothing to do" in run(tmp_path / "scans", "--out", out, "--workers", "1", *more).stderr
    parts.write_text(parts.read_text().replace("30.0", "31.0"))
    assert "1 picture" in run(tmp_path / "scans", "--out", out, "--workers", "1", "--components", parts).stderr
    old = [json.loads(line) for line in out.read_text().splitlines()][-1]
    del old["settings"]  # as earlier versions wrote it
    out.write_text(json.dumps(old) + "\n")
    assert "1 picture" in run(tmp_path / "scans", "--out", out, "--workers", "1", "--components", parts).stderr


def test_a_batch_can_go_into_the_ledger(folder, tmp_path):
    place = tmp_path / "shop.sqlite3"
    assert run(folder, "--ledger", place, "--ink-lot", "lot-9", "--workers", "1").exit_code == 0
    with open_ledger(str(place)) as book:
        rows = book.rows()
    assert sorted(row.action for row in rows) == ["purge", "top-off"]
    assert {row.notes.ink_lot for row in rows} == {"lot-9"}


def test_the_rounds_of_a_ticket_are_noted_in_the_order_of_their_files(tmp_path):
    """By name "cured" would come first: told of a cleaning's result before its cause, a verdict knows nothing."""
    for number, (name, kept_as) in enumerate([("before", "z.png"), ("cured", "a.png")]):
        shutil.copy(bench_scans().paths[name], tmp_path / kept_as)
        os.utime(tmp_path / kept_as, (1_800_000_000 + number, 1_800_000_000 + number))
    place = tmp_path / "shop.sqlite3"
    assert run(tmp_path, "--ledger", place, "--workers", "1").exit_code == 0
    with open_ledger(str(place)) as book:
        assert [Path(row.image_path).name for row in rounds_of(book.rows())] == ["z.png", "a.png"]


def test_a_killed_worker_costs_only_the_picture_it_died_of():
    from deadly import DeadlyPath

    good = bench_scans().paths["cured"]
    paths = [good, DeadlyPath("/deadly.png"), good, good]
    results = list(score_many(paths, BenchSettings(), workers=2))
    assert sorted(result["exit_code"] for result in results) == [0, 0, 0, 1]
    assert ["was killed" in result["error"] for result in results if result["error"]] == [True]


class FailingPool:
    """A pool of processes that takes so many jobs, and is broken from then on."""

    def __init__(self, jobs):
        self.jobs = jobs

    def submit(self, job, *arguments):
        if self.jobs == 0:
            raise BrokenProcessPool
        self.jobs -= 1
        future = Future()
        future.set_result(job(*arguments))
        return future

    def shutdown(self, **options):
        pass

    def __enter__(self):
        return self

    def __exit__(self, *error):
        pass


@pytest.mark.parametrize("jobs", [0, 3, 5])
def test_a_picture_that_a_broken_pool_does_not_take_is_not_lost(tmp_path, monkeypatch, jobs):
    """A worker may die between two jobs: the pool then refuses the next, whichever that is."""
    paths = [tmp_path / f"{number}.png" for number in range(9)]
    pools = iter([FailingPool(jobs)])
    monkeypatch.setattr("printcheck.batch._pool", lambda workers: next(pools, None) or FailingPool(100))
    results = list(score_many(paths, BenchSettings(), workers=2))
    assert sorted(result["path"] for result in results) == sorted(map(str, paths))


def test_a_deadly_picture_costs_a_cluster_nothing_else():
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    from deadly import DeadlyPath

    paths = [Path("/none/1.png"), DeadlyPath("/deadly.png"), *(Path(f"/none/{n}.png") for n in range(2, 6))]
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None, worker_dashboard_address=None
    ) as cluster:
        results = list(results_on_cluster(paths, BenchSettings(), cluster.scheduler_address))
    assert sorted(result["path"] for result in results) == sorted(map(str, paths))
    assert {result["path"] for result in results if "was killed" in result["error"]} == {"/deadly.png"}


def lost_on_the_way(path, settings, ledger):
    if path.name == "2.png":
        raise ConnectionError("the result did not get here")
    return score_file(path, settings, ledger)


def test_a_fault_on_the_cluster_is_the_result_of_its_picture(monkeypatch):
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    monkeypatch.setattr("printcheck.batch.score_file", lost_on_the_way)
    paths = [Path(f"/none/{number}.png") for number in range(1, 6)]
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, worker_dashboard_address=None
    ) as cluster:
        results = list(results_on_cluster(paths, BenchSettings(), cluster.scheduler_address))
    told = {result["path"]: result for result in results}
    assert [told[str(path)]["exit_code"] for path in paths] == [2, 1, 2, 2, 2]
    assert "ConnectionError on the cluster: the result did not get here" in told["/none/2.png"]["error"]


def test_a_cluster_gives_the_same_results(folder):
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    paths = pictures_in(folder)
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None, worker_dashboard_address=None
    ) as cluster:
        found = {r["path"]: r for r in results_on_cluster(paths, BenchSettings(), cluster.scheduler_address)}
    alone = {r["path"]: r for r in score_many(paths, BenchSettings(), workers=1)}
    assert found == alone


def test_a_batch_on_a_cluster_goes_on_where_it_was(folder, tmp_path, monkeypatch):
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    monkeypatch.chdir(tmp_path)
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None, worker_dashboard_address=None
    ) as cluster:
        for said in ("3 pictures", "3 were done before"):
            done = run(folder.name, "--out", "out.jsonl", "--scheduler", cluster.scheduler_address)
            assert said in done.stderr


def test_a_name_that_is_no_text_is_a_line_as_well(folder, tmp_path):
    odd = Path(os.fsdecode(os.fsencode(folder) + b"/\xff.png"))
    try:
        shutil.copy(bench_scans().paths["cured"], odd)
    except OSError:
        pytest.skip("the file system takes no such name")
    out = tmp_path / "out.jsonl"
    for said in ("4 pictures", "nothing to do"):
        assert said in run(folder, "--out", out, "--workers", "1").stderr
    assert results_so_far(out)[str(odd)]["action"] == "top-off"


def test_a_cluster_that_is_not_there_is_one_clear_line(folder):
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    with pytest.raises(PrintcheckError, match=r"no scheduler answers at 'tcp://127\.0\.0\.1:1'"):
        results_on_cluster([], BenchSettings(), "tcp://127.0.0.1:1")


@pytest.mark.parametrize("address", ["foo", "foo://host:1", "tls://127.0.0.1:1", ""])
def test_what_is_no_address_is_one_line_to_the_very_end(folder, address, run_printcheck):
    """In a process of its own: what the library had half made is put away only as the program ends."""
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    done = run_printcheck("batch", folder, "--scheduler", address)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (f"printcheck: no scheduler answers at '{address}'; check the address (tcp://host:8786)\n")


def test_wrong_use_is_one_clear_line(tmp_path, folder):
    assert "is no folder" in str(run(tmp_path / "none").exception)
    notes = tmp_path / "notes.jsonl"
    notes.write_text("not results\n")
    with pytest.raises(InputError, match="no file of results"):
        results_so_far(notes)
    own = tmp_path / "policy.toml"
    own.write_text("[moon]\ntop_off = 1\n")
    assert "is no measure" in str(run(folder, "--policy", own).exception)
    assert run(folder, "--out", tmp_path / "none" / "x.jsonl").exception.exit_code == 3
    full = Path("/dev/full")  # random(4), full(4): whatever is written finds no space
    told = run(folder, "--out", tmp_path).exception
    assert isinstance(told, OutputError)
    assert str(told) == f"{tmp_path} is a folder; name a file to write"
    assert "is a device; name a file" in str(run(folder, "--out", "/dev/full").exception)
    with pytest.raises(OutputError, match="/dev/full can't be written: No space left"), _lines_to(full) as add:
        add("a line")


@pytest.mark.parametrize("text", ["one line without an end", '{"path": "x"}\nand more', "\n\x00", '["path"]'])
def test_a_file_that_is_no_file_of_results_is_not_cut(folder, tmp_path, text):
    other = tmp_path / "notes"
    other.write_text(text)
    with pytest.raises(InputError, match="no file of results"):
        results_so_far(other)
    assert other.read_text() == text


@pytest.mark.parametrize("rest", ["{", '{"path', '{"path": "/a.png", "si'])
def test_a_line_cut_anywhere_is_taken_off(tmp_path, rest):
    out = tmp_path / "out.jsonl"
    out.write_text('{"path": "a"}\n' + rest)
    assert list(results_so_far(out)) == ["a"]
    assert out.read_text() == '{"path": "a"}\n'


@pytest.mark.parametrize(
    ("option", "named"),
    [("--reference", "nobody"), ("--calibration", "nobody"), ("--strip", "none.toml"), ("--components", "none.toml")],
)
@pytest.mark.parametrize("command", ["batch", "watch", "log"])
def test_what_all_pictures_are_judged_by_is_looked_up_before_the_first(command, option, named, tmp_path, folder):
    what = folder / "before.png" if command == "log" else folder
    more = () if command == "log" else ("--out", tmp_path / "out.jsonl") if command == "batch" else ("--once",)
    ledger = tmp_path / "bench.db"
    words = (command, what, *more, option, named, "--ledger", ledger)
    done = CliRunner().invoke(app, [*map(str, words)])
    assert done.exit_code != 0
    assert named in str(done.exception)
    assert not (tmp_path / "out.jsonl").exists()
    assert not list(folder.glob("*.printcheck.json"))


def test_a_house_reference_judges_every_sheet_of_a_batch(folder, tmp_path, monkeypatch):
    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(tmp_path / "references"))
    kept = CliRunner().invoke(app, ["reference", "add", str(folder / "cured.png"), "--name", "original"])
    assert kept.exit_code == 0, kept.output
    done = run(folder, "--workers", "1", "--reference", "original")
    told = {line["path"].rsplit("/", 1)[1]: line["report"] for line in map(json.loads, done.stdout.splitlines())}
    for name in ("before.png", "cured.png"):
        assert {ink["solid"]["reference"] for ink in told[name]["inks"]} == {"house original"}
