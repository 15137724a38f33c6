"""A toner sheet from the command line: score, report, picture, compare, history."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from printcheck.pipeline import score_image
from printcheck.verdict.result import Action


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


@pytest.mark.parametrize("command", ["batch", "watch", "log"])
def test_the_table_also_judges_a_folder(
    command: str, tmp_path: Path, samples: Path, table: Path, run_printcheck
) -> None:
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    shutil.copy(samples / "toner-drum.jpg", inbox)
    picture, book, out = inbox / "toner-drum.jpg", tmp_path / "book.db", tmp_path / "out.jsonl"
    words = {
        "batch": ("batch", inbox, "--out", out, "--workers", "1"),
        "watch": ("watch", inbox, "--once", "--settle", "0"),
        "log": ("log", picture, "--ledger", book),
    }
    done = run_printcheck(*words[command], "--components", table)
    assert done.returncode == 0, done.stderr
    if command == "log":
        assert "PURGE" in done.stdout
        assert "drum" in done.stdout
        return
    told = json.loads((out if command == "batch" else Path(f"{picture}.printcheck.json")).read_text(encoding="utf-8"))
    report = told.get("report", told)
    assert [part["name"] for part in report["toner"]["repeats"][0]["components"]] == ["drum"]


@pytest.mark.parametrize(
    ("dots_per_inch", "says", "says_not"),
    [(300, "print a fresh sheet", "600 dots/inch"), (220, "at 300 or 600 dots/inch: this scan", "fresh")],
)
def test_a_scan_with_more_specks_than_can_be_told_apart_is_not_told_what_was_done(
    dots_per_inch: int, says: str, says_not: str, tmp_path: Path, samples: Path
) -> None:
    sheet = Image.open(samples / "toner-drum.jpg")
    given = round(sheet.info["dpi"][0])
    size = (round(sheet.width * dots_per_inch / given), round(sheet.height * dots_per_inch / given))
    strewn = np.array(sheet.convert("RGB").resize(size, Image.Resampling.LANCZOS))
    per_mm = dots_per_inch / 25.4
    for x, y in np.random.default_rng(8).uniform((62, 15), (148, 280), (300, 2)):
        cv2.circle(strewn, (round(x * per_mm), round(y * per_mm)), round(0.35 * per_mm), (60, 60, 60), -1)
    path = tmp_path / "specks.png"
    Image.fromarray(strewn).save(path, dpi=(dots_per_inch, dots_per_inch))
    assessment = score_image(path).sheet.assessment
    assert assessment.action is Action.RESCAN
    assert says in assessment.next_steps[0]
    assert says_not not in assessment.next_steps[0]
    assert "flat" not in assessment.next_steps[0]


def photographed(sheet: Path, to: Path, height: int) -> Path:
    """A picture of `sheet` as a phone takes it: in perspective, lit from one side, no resolution stated."""
    scan = cv2.imread(str(sheet))
    width = round(height * 3 / 4)
    corners = np.float32([[0, 0], [scan.shape[1], 0], [scan.shape[1], scan.shape[0]], [0, scan.shape[0]]])
    seen = np.float32([[0.06, 0.05], [0.93, 0.03], [0.96, 0.96], [0.03, 0.93]]) * np.float32([width, height])
    turn = cv2.getPerspectiveTransform(corners, seen)
    picture = cv2.warpPerspective(scan, turn, (width, height), flags=cv2.INTER_AREA, borderValue=(60, 70, 80))
    light = np.linspace(1.0, 0.85, width)[None, :, None]  # of encoded values: light falls by 30 %
    picture = cv2.GaussianBlur((picture * light).astype(np.uint8), (0, 0), 0.6)
    cv2.imwrite(str(to), picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return to


def test_a_photo_names_the_part_and_a_small_one_says_why_it_cannot(
    tmp_path: Path, samples: Path, table: Path, run_printcheck
) -> None:
    photo = photographed(samples / "toner-drum.jpg", tmp_path / "photo.jpg", 4032)  # 12 megapixels
    done = run_printcheck("score", photo, "--components", table, "--json", tmp_path / "r.json")
    assert done.returncode == 10, done.stdout
    report = json.loads((tmp_path / "r.json").read_text())
    assert [part["name"] for part in report["toner"]["repeats"][0]["components"]] == ["drum"]
    assert report["toner"]["repeats"][0]["spacing_mm"] == pytest.approx(93.85, rel=0.005)  # toner-drum.toml
    small = photographed(samples / "toner-drum.jpg", tmp_path / "small.jpg", 2000)
    done = run_printcheck("score", small, "--components", table)
    assert done.returncode == 30, done.stdout
    assert "repeating marks can't be measured in this picture; scan the whole sheet" in done.stdout
