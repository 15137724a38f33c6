"""A toner sheet from the command line: score, report, picture, compare, history."""

from __future__ import annotations

import json
from pathlib import Path

import pytest


@pytest.fixture(scope="module")
def table(tmp_path_factory, run_printcheck) -> Path:
    path = tmp_path_factory.mktemp("table") / "parts.toml"
    assert run_printcheck("components", "--out", path).returncode == 0
    return path


@pytest.fixture(scope="module")
def scored(tmp_path_factory, samples: Path, table: Path, run_printcheck):
    folder = tmp_path_factory.mktemp("toner")
    done = run_printcheck(
        "score", samples / "toner-drum.jpg", "--components", table, "--json", folder / "report.json",
        "--marked", folder / "marked.png", "--page-report", folder / "page.html", "--ledger", folder / "book.db",
    )  # fmt: skip
    return done, json.loads((folder / "report.json").read_text()), folder


def test_the_drum_is_named_in_text_and_report(scored) -> None:
    done, report, _ = scored
    assert done.returncode == 10, done.stderr
    assert "by the table the drum" in done.stdout
    assert "not a densitometer" in done.stdout
    assert [part["name"] for part in report["toner"]["repeats"][0]["components"]] == ["drum"]
    assert report["sheet"]["layout"] == 2
    assert report["sheet"]["inks"] == [{"ink": "K", "rows": None, "rows_per_inch": None}]
    (ink,) = report["inks"]
    assert ink["lines"] is None
    assert any("no nozzles" in warning for warning in report["capture"]["warnings"])


def test_picture_and_page_are_written(scored) -> None:
    _, _, folder = scored
    assert (folder / "marked.png").read_bytes().startswith(b"\x89PNG")
    assert "by the table the drum" in (folder / "page.html").read_text(encoding="utf-8")


def test_the_ledger_keeps_it_and_its_history_is_shown(scored, run_printcheck) -> None:
    _, report, folder = scored
    done = run_printcheck("history", report["sheet"]["ticket"], "--ledger", folder / "book.db", "--json", "-")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["sheets"][0]["rows_missing"] is None
    assert told["density_trend"] is None


def test_a_sheet_compared_with_itself_is_unchanged(samples: Path, run_printcheck) -> None:
    sheet = samples / "toner-drum.jpg"
    done = run_printcheck("compare", sheet, sheet, "--json", "-")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["outcome"] == "unchanged"
    assert told["inks"] == []
    assert told["toner"]["before"] == told["toner"]["after"]


def test_ink_and_toner_are_not_compared(samples: Path, run_printcheck) -> None:
    done = run_printcheck("compare", samples / "toner-drum.jpg", samples / "black-good.jpg", "--ignore-ticket")
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1


def test_an_ink_sheet_has_no_toner(scored_samples) -> None:
    assert scored_samples["black-good"].report["toner"] is None


def test_a_bad_table_is_one_line(tmp_path: Path, samples: Path, run_printcheck) -> None:
    (tmp_path / "t.toml").write_text('[[components]]\nname = "drum"\n', encoding="utf-8")
    done = run_printcheck("score", samples / "toner-drum.jpg", "--components", tmp_path / "t.toml")
    assert done.returncode == 2
    assert "'drum' needs 'diameter_mm'" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_the_example_is_printed(run_printcheck) -> None:
    done = run_printcheck("components")
    assert done.returncode == 0
    assert "INVENTED FIGURES" in done.stdout


def test_a_toner_sheet_is_no_colour_reference(samples: Path, run_printcheck) -> None:
    done = run_printcheck("reference", "add", samples / "toner-drum.jpg", "--name", "x")
    assert done.returncode == 2
    assert "is a toner sheet" in done.stderr
