"""Running the program in this process, through its own entry."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest


@pytest.fixture
def call(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> Callable[..., CompletedProcess[str]]:
    """Run it in a folder of its own, so that an exception that gets away is seen as one.

    What native libraries write to the file descriptors is caught too; references and calibrations lie apart from the
    user's.
    """
    monkeypatch.delenv("PRINTCHECK_LEDGER", raising=False)
    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(tmp_path / "kept"))
    folder = tmp_path / "cwd"
    folder.mkdir(exist_ok=True)
    monkeypatch.chdir(folder)

    def run(*words: object) -> CompletedProcess[str]:
        from printcheck.__main__ import main

        monkeypatch.setattr(sys, "argv", ["printcheck", *(str(word) for word in words)])
        capfd.readouterr()
        code = 0
        try:
            main()
        except SystemExit as end:
            code = int(end.code or 0)
        told = capfd.readouterr()
        return CompletedProcess(sys.argv, code, told.out, told.err)

    return run
