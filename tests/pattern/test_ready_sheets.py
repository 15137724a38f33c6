"""The ready-made sheets in patterns/ are those the program makes today."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from printcheck.pattern.render.pdf import pdf_bytes
from printcheck.pattern.render.ready import ready_sheets, write_ready_sheets

from .conftest import page_operators

PATTERNS = Path(__file__).parents[2] / "patterns"
RENEW = "run: python -m printcheck.pattern.render.ready patterns"


def drawing(pdf: bytes) -> list[str]:
    """The page's operators and its box. Not the file's bytes: another zlib packs the same sheet in others."""
    return [page_operators(pdf), *re.findall(r"/MediaBox \[.*?\]", pdf.decode("latin-1"))]


@pytest.mark.parametrize("name", ready_sheets())
def test_a_ready_made_sheet_is_up_to_date(name: str) -> None:
    path = PATTERNS / name
    assert path.is_file(), f"{name} is missing; {RENEW}"
    kept, made = drawing(path.read_bytes()), drawing(pdf_bytes(ready_sheets()[name]))
    assert len(made) == 2
    assert kept == made, f"{name} is stale; {RENEW}"


def test_no_sheet_lies_there_that_no_head_makes() -> None:
    assert {path.name for path in PATTERNS.glob("*.pdf")} == set(ready_sheets()), RENEW
    assert sum(path.stat().st_size for path in PATTERNS.iterdir() if path.is_file()) < 5_000_000


def test_the_sheets_are_written_anew(tmp_path: Path) -> None:
    written = write_ready_sheets(tmp_path)
    assert sorted(path.name for path in written) == sorted(ready_sheets())
    assert all(path.read_bytes().startswith(b"%PDF-") for path in written)
