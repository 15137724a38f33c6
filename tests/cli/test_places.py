"""No command writes over what it reads, or writes one file twice: refused before anything is opened."""

from __future__ import annotations

import ast
import hashlib
import os
import shlex
import shutil
from pathlib import Path

import pytest
from bench_scans import bench_scans
from entries import entry

from printcheck.bench import BenchSettings
from printcheck.errors import PrintcheckError
from printcheck.ledger.store import open_ledger
from printcheck.places import keep_apart
from printcheck.watch import watch_folder

COMMANDS = Path(__file__).parents[2] / "printcheck" / "cli"


@pytest.fixture
def folder(call, tmp_path: Path) -> Path:
    """A folder with one of everything that is read; the program runs in it."""
    here = tmp_path / "cwd"
    scans = bench_scans().paths
    shutil.copy(scans["cured"], here / "g.png")
    shutil.copy(scans["before"], here / "f.png")
    (here / "link.png").symlink_to("g.png")
    os.link(here / "g.png", here / "hard.png")
    (here / "nowhere.png").symlink_to("new.png")
    for name in ("policy.toml", "steps.toml", "strip.toml", "parts.toml", "weights.toml", "values.txt"):
        (here / name).write_text(f"# {name}\n")
    (here / "head.toml").write_text(
        'name = "own"\ninks = [{ink="K", nozzles=100, nozzles_per_inch=600, rows_per_inch=600}]\n'
    )
    (here / "head.pdf").symlink_to("head.toml")
    (here / "scans").mkdir()
    shutil.copy(scans["cured"], here / "scans" / "a.png")
    (here / "scans" / "dot.png").write_bytes(b"\x89PNG, cut off")  # no line end in it
    kept = tmp_path / "kept"
    (kept / "calibrations").mkdir(parents=True)
    (kept / "house.json").write_text("{}\n")
    (kept / "calibrations" / "office.json").write_text("{}\n")
    (kept / "own.json").symlink_to(here / "g.png")
    (kept / "calibrations" / "own.json").symlink_to(here / "values.txt")
    for name in ("l.db", "l.csv", "l.json"):
        with open_ledger(str(here / name)) as book:
            book.add(entry(ticket="B-102", number=0))
    return tmp_path


CASES = [
    "score g.png --marked g.png",
    "score g.png --json g.png",
    "score g.png --page-report g.png",
    "score g.png --marked ./scans/../g.png",
    "score g.png --marked link.png",
    "score link.png --marked g.png",
    "score g.png --marked hard.png",
    "score g.png --marked m.png --page-report m.png",
    "score g.png --marked m.png --json ./m.png",
    "score g.png --marked new.png --page-report nowhere.png",
    "score g.png --marked m.png --page-report M.PNG",
    "score g.png --strip strip.toml --json strip.toml",
    "score g.png --policy policy.toml --json policy.toml",
    "score g.png --steps steps.toml --json steps.toml",
    "score g.png --components parts.toml --json parts.toml",
    "score g.png --weights weights.toml --json weights.toml",
    "score g.png --reference house --json ../kept/house.json",
    "score g.png --calibration office --json ../kept/calibrations/office.json",
    "score g.png --ledger l.json --json l.json",
    "score g.png --ledger l.json --no-ledger --json l.json",
    "score g.png --ledger l.db --json l.db-wal",
    "score g.png --ledger g.png",
    "compare f.png g.png --json f.png",
    "compare f.png g.png --marked g.png",
    "compare f.png g.png --page-report g.png",
    "compare f.png g.png --marked m.png --page-report m.png",
    "compare f.png g.png --policy policy.toml --json policy.toml",
    "pattern head.toml --out head.pdf",
    "calibrate g.png --values values.txt --name own",
    "strip read g.png --calibration office --out g.png",
    "strip read g.png --calibration office --out ../kept/calibrations/office.json",
    "limits --policy policy.toml --json policy.toml",
    "limits --steps steps.toml --json steps.toml",
    "history B-102 --ledger l.db --csv l.db",
    "history B-102 --ledger l.db --json l.db",
    "history B-102 --ledger l.db --json h --csv h",
    "stats --ledger l.db --json l.db",
    "stats --ledger l.db --csv l.db",
    "stats --ledger l.db --plot l.db",
    "stats --ledger l.db --csv s --plot s",
    "ledger export l.csv --ledger l.csv",
    "ledger backup l.db --ledger l.db",
    "ledger backup l.db-wal --ledger l.db",
    "reference add g.png --name own",
    "log g.png --ledger g.png",
    "log g.png --ledger l.db --policy l.db",
    "batch scans --out scans/dot.png",
    "batch scans --ledger scans/dot.png",
    "batch scans --out l.db --ledger l.db",
    "batch scans --policy policy.toml --out policy.toml",
    "watch scans --once --ledger scans/dot.png",
    "watch scans --once --ledger policy.toml --policy policy.toml",
    "demo linked",
]


def files(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.mark.parametrize("words", CASES)
def test_what_is_read_is_not_written_to(words: str, call, folder: Path) -> None:
    if words == "demo linked":
        (folder / "cwd" / "linked").mkdir()
        (folder / "cwd" / "linked" / "marked.png").symlink_to("scan.jpg")
    before = files(folder)
    done = call(*shlex.split(words))
    assert files(folder) == before
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert "are one file" in done.stderr
    assert "; name another file for " in done.stderr


def test_the_line_names_both_and_what_to_change(call, folder: Path) -> None:
    done = call("score", "g.png", "--marked", "link.png")
    assert done.stderr == (
        "printcheck: --marked link.png and the picture g.png are one file, which would be overwritten; "
        "name another file for --marked\n"
    )


def test_what_is_only_read_may_be_read_twice(call, folder: Path) -> None:
    assert call("compare", "g.png", "g.png", "--json", "-").returncode == 0
    assert call("score", "g.png", "--marked", "m.png", "--page-report", "m.html", "--json", "m.json").returncode == 0
    assert call("score", "g.png", "--marked", "m.png").returncode == 0  # an older result is replaced


def test_the_ledger_in_use_need_not_be_named(call, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTCHECK_LEDGER", str(folder / "cwd" / "l.db"))
    before = files(folder)
    for words in ("stats --csv l.db", "score g.png --json l.db", "ledger export l.csv --ledger l.csv"):
        done = call(*words.split())
        assert (done.returncode, files(folder)) == (2, before)


def test_a_result_beside_its_picture_can_be_no_picture(folder: Path) -> None:
    scans = folder / "cwd" / "scans"
    (scans / "a.png.printcheck.json").symlink_to("a.png")
    before = files(folder)
    with pytest.raises(PrintcheckError, match="are one file") as told:
        list(watch_folder(scans, BenchSettings(), poll_s=0.02, settle_s=0.0, once=True))
    assert told.value.exit_code == 2
    after = files(folder)
    assert {name: after[name] for name in before} == before


def test_paths_that_lead_nowhere_are_left_to_who_opens_them(tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to("loop")
    keep_apart({"a": tmp_path / "loop", "b": tmp_path / "x\0y", "c": Path("none/deeper"), "d": None}, {"e": None})


WRITES = {"write_aside", "emit_json", "emit_csv", "emit_lines", "write_sheet", "bench_picture", "score_many",
          "watch_folder", "backup"}  # fmt: skip


@pytest.mark.parametrize("path", sorted(COMMANDS.glob("*.py")), ids=lambda path: path.stem)
def test_every_command_that_writes_asks_first(path: Path) -> None:
    """In each function; one file and nothing read (`components`) can't be in its own way."""
    wrong = []
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if not isinstance(node, ast.FunctionDef) or node.name.startswith(("_", "emit_")) or node.name == "components":
            continue
        called = [
            getattr(call.func, "id", getattr(call.func, "attr", ""))
            for call in ast.walk(node)
            if isinstance(call, ast.Call)
        ]
        writes = [name for name in called if name in WRITES or name.startswith("save_")]
        if writes and "keep_apart" not in called:
            wrong.append(f"{node.name}: {writes}")
    assert wrong == []
