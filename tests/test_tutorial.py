"""The README's month in small, command by command, as a newcomer runs it."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from printcheck.cli.app import app

ROOT = Path(__file__).parents[1]


def month_in_small() -> tuple[list[str], list[str]]:
    """The section's commands, and the blocks of output it shows."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text.split("\n## A month in small\n", 1)[1].split("\n## ", 1)[0]
    blocks = re.findall(r"```(\w*)\n(.*?)```", section, re.DOTALL)
    commands = [line for kind, block in blocks if kind == "sh" for line in block.splitlines()]
    return commands, [block for kind, block in blocks if kind == ""]


def test_a_month_in_small_does_what_the_readme_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PRINTCHECK_LEDGER", raising=False)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sample_scans").symlink_to(ROOT / "sample_scans", target_is_directory=True)
    commands, shown = month_in_small()
    assert len(commands) >= 9
    said = ""
    for command in commands:
        words = shlex.split(command)
        assert words.pop(0) == "printcheck"
        done = CliRunner().invoke(app, words)
        assert done.exit_code == 0, f"{command}: {done.output} {done.exception}"
        said += done.stdout
    times = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d")
    said = times.sub("WHEN", said)
    assert len(shown) == 2
    for line in "".join(shown).splitlines():
        assert times.sub("WHEN", line) in said, line
    for name in ("month.db", "month.png", "change.png", "month-2026-11.db", "month.csv"):
        assert (tmp_path / name).stat().st_size > 0
