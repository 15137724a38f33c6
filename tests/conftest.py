"""What several test folders share, made once a session."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from subprocess import CompletedProcess, run
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).parents[1]

# how long a machine takes is no behaviour of the program
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")


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


class ScoredSamples(Mapping[str, ScoredSample]):
    """The sample scans by name, each scored when it is first asked for, and once for all processes of a run."""

    def __init__(self, samples: Path, kept: Path, run_printcheck: Callable[..., CompletedProcess[str]]) -> None:
        self._samples, self._kept, self._run = samples, kept, run_printcheck

    def __getitem__(self, name: str) -> ScoredSample:
        path = self._kept / f"{name}.json"
        if not path.exists():
            done = self._run("score", self._samples / f"{name}.jpg", "--json", "-")
            beside = path.with_suffix(f".{os.getpid()}")
            beside.write_text(json.dumps([done.returncode, done.stdout, done.stderr]), encoding="utf-8")
            beside.replace(path)
        return ScoredSample(*json.loads(path.read_text(encoding="utf-8")))

    def __iter__(self) -> Iterator[str]:
        return iter(sorted(note.stem for note in self._samples.glob("*.toml")))

    def __len__(self) -> int:
        return sum(1 for _ in self)


@pytest.fixture(scope="session")
def scored_samples(
    samples: Path,
    run_printcheck: Callable[..., CompletedProcess[str]],
    tmp_path_factory: pytest.TempPathFactory,
    worker_id: str,
) -> ScoredSamples:
    """Every sample scan, scored once, by name."""
    own = tmp_path_factory.getbasetemp()
    kept = (own if worker_id == "master" else own.parent) / "scored-samples"  # the parent is the whole run's
    kept.mkdir(exist_ok=True)
    return ScoredSamples(samples, kept, run_printcheck)
