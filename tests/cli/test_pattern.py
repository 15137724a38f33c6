"""The ``pattern`` command, run as a person runs it."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest


def run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "printcheck", "pattern", *words], cwd=cwd, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize(("out", "begins"), [("sheet.pdf", b"%PDF-"), ("sheet.png", b"\x89PNG")])
def test_a_sheet_is_written(tmp_path: Path, out: str, begins: bytes) -> None:
    done = run("tri-100", "--page", "letter", "--ticket", "R-1", "--out", out, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""
    assert (tmp_path / out).read_bytes().startswith(begins)


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["tri-100"], 2, "--out tri-100-A4.pdf"),
        (["strip"], 2, "--out strip.pdf"),
        (["strip", "--page", "A5", "--out", "a.pdf"], 2, "'A5' is not known"),
        (["tri-101", "--out", "a.pdf"], 2, "'tri-101' is not known"),
        (["tri-100", "--page", "A5", "--out", "a.pdf"], 2, "'A5' is not known"),
        (["tri-100", "--out", "a.jpg"], 2, ".pdf or .png"),
        (["tri-100", "--colour", "cmyk", "--out", "a.png"], 2, "a PNG holds RGB only"),
        (["tri-100", "--ticket", "x" * 25, "--out", "a.pdf"], 2, "at most 24"),
        (["own.toml", "--out", "a.pdf"], 2, "own.toml can't be read"),
        (["tri-100", "--out", "none/a.pdf"], 3, "there is no folder none"),
    ],
)
def test_a_refusal_is_one_line_and_leaves_nothing(tmp_path: Path, words: list[str], code: int, says: str) -> None:
    done = run(*words, cwd=tmp_path)
    assert done.returncode == code
    assert says in done.stderr
    assert done.stderr.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_a_page_of_control_strips_is_named_anew_each_time(tmp_path: Path) -> None:
    names = set()
    for number in range(2):
        done = run("strip", "--page", "Letter", "--out", f"s{number}.pdf", cwd=tmp_path)
        assert done.returncode == 0, done.stderr
        found = re.search(r"control strips (\w{6})/A and \1/B, Letter", done.stderr)
        assert found is not None
        names.add(found[1])
    assert len(names) == 2
    told = run("strip", "--ticket", "bench 7", "--out", "s.png", cwd=tmp_path)
    assert "control strips bench 7/A" in told.stderr
    assert (tmp_path / "s.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("ticket", "named"),
    [("A/B", "A-B.toml"), ("bench 7", "bench-7.toml"), ("../..", "strips.toml"), ("S-3", "S-3.toml")],
)
def test_the_values_file_that_is_proposed_lies_here(tmp_path: Path, ticket: str, named: str) -> None:
    told = run("strip", "--ticket", ticket, "--out", "s.pdf", cwd=tmp_path)
    assert told.returncode == 0, told.stderr
    assert told.stderr.endswith(f"--calibration NAME --out {named}\n")
