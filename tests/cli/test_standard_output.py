"""A standard output that takes no more, on a real full device and a real closed pipe: exit code 3, and no traceback.

In a process of its own each, whose standard output is then of no more use.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from entries import entry

from printcheck.ledger.store import open_ledger

SAMPLE = Path(__file__).parents[2] / "sample_scans" / "black-good.jpg"
FULL = Path("/dev/full")
COMMANDS = [
    ("--help",),
    ("score", "--help"),
    ("limits",),
    ("limits", "--json", "-"),
    ("log", "--ledger", "shop.db"),
    ("ledger", "export", "--ledger", "shop.db"),
    ("score", str(SAMPLE), "--json", "-"),
]


def ended(words: tuple[str, ...], cwd: Path, stdout: int) -> subprocess.CompletedProcess[str]:
    with open_ledger(str(cwd / "shop.db")) as book:
        book.add(entry())
    return subprocess.run(
        [sys.executable, "-m", "printcheck", *words],
        stdout=stdout, stderr=subprocess.PIPE, text=True, check=False, cwd=cwd, timeout=120,
    )  # fmt: skip


@pytest.mark.skipif(not FULL.exists(), reason="no /dev/full on this system")
@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_a_full_disk_behind_it_is_one_line(words: tuple[str, ...], tmp_path: Path) -> None:
    with FULL.open("w") as full:
        done = ended(words, tmp_path, full.fileno())
    assert done.returncode == 3
    last = done.stderr.splitlines()[-1]
    assert last.startswith("printcheck: standard output can't be written: ")
    assert "another place" in last
    assert "Traceback" not in done.stderr
    assert "fault of the program" not in done.stderr


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_a_reader_that_has_gone_ends_it_quietly(words: tuple[str, ...], tmp_path: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = ended(words, tmp_path, writer)
    finally:
        os.close(writer)
    assert done.returncode == 3
    assert "printcheck:" not in done.stderr
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
