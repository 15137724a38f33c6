"""What several test folders share, made once a session."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from subprocess import CompletedProcess, run
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="session")
def root() -> Path:
    """Folder of the project."""
    return ROOT


@pytest.fixture(scope="session")
def samples() -> Path:
    return ROOT / "sample_scans"


@pytest.fixture(scope="session")
def run_printcheck() -> Callable[..., CompletedProcess[str]]:
    """Run the program in a process of its own, as a person does."""

    def call(*words: object, cwd: Path | None = None, timeout: float = 120) -> CompletedProcess[str]:
        command = [sys.executable, "-m", "printcheck", *(str(word) for word in words)]
        own = {k: v for k, v in os.environ.items() if not k.startswith("PRINTCHECK_")}
        return run(command, cwd=cwd, env=own, capture_output=True, text=True, check=False, timeout=timeout)

    return call


@dataclass(frozen=True)
class ScoredSample:
    """What ``printcheck score SAMPLE --json -`` did."""

    code: int
    stdout: str
    stderr: str

    @property
    def report(self) -> dict[str, Any]:
        return json.loads(self.stdout)


@pytest.fixture(scope="session")
def scored_samples(samples: Path, run_printcheck: Callable[..., CompletedProcess[str]]) -> dict[str, ScoredSample]:
    """Every sample scan, scored once, by name."""
    out = {}
    for note in sorted(samples.glob("*.toml")):
        done = run_printcheck("score", note.with_suffix(".jpg"), "--json", "-")
        out[note.stem] = ScoredSample(done.returncode, done.stdout, done.stderr)
    return out
