"""The bench's day on the command line: score into the ledger, look back, sum up, look after it."""

from __future__ import annotations

import csv
import io
import json
import shutil

import pytest
from bench_scans import bench_scans
from entries import entry
from PIL import Image
from readings import reading
from typer.testing import CliRunner

from printcheck.cli.app import app
from printcheck.ledger.entry import Notes
from printcheck.ledger.store import open_ledger
from printcheck.report.one_line import one_line
from printcheck.verdict.steps import load_steps


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("PRINTCHECK_LEDGER", raising=False)

    def call(*arguments):
        return CliRunner().invoke(app, list(map(str, arguments)))

    return call


@pytest.fixture
def kept(tmp_path):
    """A ledger of two tickets."""
    place = tmp_path / "shop.sqlite3"
    with open_ledger(str(place)) as book:
        first = Notes("black-small", "lot-1", "p1")
        book.add(entry(reading("C", missing={3, 50}), ticket="A", number=0, notes=first))
        book.add(entry(ticket="A", number=1, notes=Notes(cleaning="blot")))
        book.add(entry(ticket="B", number=2, notes=Notes("colour-small", "lot-2", "p1")))
    return place


def test_a_cleaning_that_is_no_step_begins_no_ledger(run, tmp_path):
    place = tmp_path / "shop.sqlite3"
    done = run("score", bench_scans().paths["after"], "--ledger", place, "--cleaning", "wash")
    assert "'wash' is no cleaning step" in str(done.exception)
    assert not place.exists()


def test_rounds_of_a_ticket_shape_its_verdict(run, tmp_path):
    scans, place = bench_scans(), tmp_path / "shop.sqlite3"
    first = run("score", scans.paths["before"], "--ledger", place, "--cartridge", "colour-small")
    assert first.exit_code == 10
    assert "Wipe the head" in first.stdout
    page = tmp_path / "page.html"
    second = run("score", scans.paths["after"], "--ledger", place, "--cleaning", "blot", "--page-report", page)
    assert second.exit_code == 10, second.output
    assert "Wipe the head" not in second.stdout  # tried already
    assert "ultrasonic" in second.stdout
    assert "This ticket before" in page.read_text(encoding="utf-8")
    third = run("log", scans.paths["cured"], "--ledger", place, "--cleaning", "ultrasonic", "--operator", "ab")
    assert third.exit_code == 0, third.output
    assert "TOP OFF (T40, entry 3)" in third.stdout
    told = run("history", "T40", "--ledger", place, "--json", "-")
    sheets = json.loads(told.stdout)["sheets"]
    assert [(s["action"], s["notes"]["cleaning"]) for s in sheets] == [
        ("purge", None), ("purge", "blot"), ("top-off", "ultrasonic"),
    ]  # fmt: skip
    again = run("score", scans.paths["after"], "--ledger", place)
    assert again.exit_code == 10
    with open_ledger(str(place)) as book:
        assert len(book.rows()) == 3


def test_log_tells_no_step_without_its_own_cautions(run, tmp_path):
    """The bath and steam burn and bite: each caution stands beside its step, and no other step's does."""
    before, place = bench_scans().paths["before"], tmp_path / "shop.sqlite3"
    cautions = load_steps().cautions
    for tried, step, own in [
        (["blot"], "ultrasonic bath", {"waste", "ultrasonic", "solvent"}),
        (["blot", "ultrasonic"], "low steam", {"waste", "steam"}),
    ]:
        words = [word for name in tried for word in ("--cleaning", name)]
        (line,) = run("log", before, "--ledger", place, *words).stdout.splitlines()
        assert step in line
        told = line.split("Take care: ", 1)[1]
        assert {name for name, text in cautions.items() if text in told} == own
        assert told.endswith(load_steps().general)
        place.unlink()


def test_what_is_blank_was_not_said(run, tmp_path, monkeypatch):
    """As a form's empty field: it neither notes anything nor erases what is noted."""
    scan, place = bench_scans().paths["after"], tmp_path / "shop.sqlite3"
    blanks = [word for option in ("cleaning", "printer", "operator", "ink-lot") for word in (f"--{option}", " ")]
    run("log", scan, "--ledger", place, "--cleaning", "blot", "--printer", "front")
    for cleaning in ("", "  "):
        assert run("log", scan, "--ledger", place, *blanks, "--cleaning", cleaning).exit_code == 0
    with open_ledger(str(place)) as book:
        (row,) = book.rows()
    assert (row.notes.cleaning, row.notes.printer) == ("blot", "front")
    monkeypatch.chdir(tmp_path)
    assert run("score", scan, *blanks, "--tried", "", "--ledger", " ").exit_code == 10
    assert {path.name for path in tmp_path.iterdir()} == {place.name}  # nothing was said, so nothing noted
    assert run("log", scan, "--ledger", place, "--cleaning", "", "--cleaning", " ultrasonic").exit_code == 0
    with open_ledger(str(place)) as book:
        assert book.rows()[0].notes.cleaning == "ultrasonic"


def test_score_notes_nothing_unless_asked(run, tmp_path):
    scan = bench_scans().paths["cured"]
    assert run("score", scan).exit_code == 0
    assert run("score", scan, "--cartridge", "x", "--no-ledger").exit_code == 0
    assert run("score", scan, "--operator", "ab", "--no-ledger").exit_code == 0
    assert not (tmp_path / "data").exists()
    assert run("score", scan, "--operator", "ab").exit_code == 0
    assert (tmp_path / "data" / "printcheck" / "ledger.sqlite3").exists()
    assert "T40" in run("log").stdout


def test_what_was_tried_can_be_said_without_a_ledger(run):
    done = run("score", bench_scans().paths["before"], "--tried", "blot", "--tried", "ultrasonic")
    assert "steam" in done.stdout
    assert "Wipe the head" not in done.stdout
    wrong = run("score", bench_scans().paths["before"], "--tried", "dance")
    assert "no cleaning step; known are" in str(wrong.exception)


def test_a_weight_tells_how_much_to_add(run, tmp_path):
    weights = tmp_path / "weights.toml"
    weights.write_text("[colour-small]\nempty_g = 30\nfull_g = 42\n")
    scan = bench_scans().paths["cured"]
    arguments = ("--weights", weights, "--cartridge", "colour-small")
    done = run("score", scan, "--weight", "37.5", *arguments, "--json", "-")
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    assert told["weight"]["add_g"] == 4.5
    assert "Add 4.5 g" in told["verdict"]["next_steps"][0]
    assert "can't be a colour-small" in str(run("score", scan, "--weight", "80", *arguments).exception)
    assert "--weight needs --weights" in str(run("score", scan, "--weight", "37.5").exception)


def test_a_picture_without_a_sheet_is_noted_as_a_rescan(run, tmp_path):
    blank, place = tmp_path / "blank.png", tmp_path / "shop.sqlite3"
    Image.new("RGB", (900, 1200), "white").save(blank)
    assert run("score", blank, "--ledger", place).exit_code == 30
    told = json.loads(run("stats", "--ledger", place, "--json", "-").stdout)
    assert (told["sheets"], told["rescans"], told["tickets"]) == (1, 1, 0)


def test_stats_as_text_json_csv_and_picture(run, kept, tmp_path):
    plot = tmp_path / "shop.png"
    done = run("stats", "--ledger", kept, "--by", "ink-lot", "--plot", plot)
    assert done.exit_code == 0, done.output
    assert "first-pass yield: 1 of 2, 50 %" in done.stdout
    assert "lot-2" in done.stdout
    told = json.loads(run("stats", "--ledger", kept, "--json", "-").stdout)
    assert told["schema"] == "printcheck-statistics/1"
    assert told["cures"][0]["step"] == "blot"
    table = list(csv.DictReader(io.StringIO(run("stats", "--ledger", kept, "--csv", "-").stdout)))
    assert {"table": "cure rate", "group": "blot", "name": "scattered", "count": "1", "of": "1", "rate": "1.0",
            "low": "0.2065", "high": "1.0"} in table  # fmt: skip
    with Image.open(plot) as picture:
        assert len(picture.convert("RGB").getcolors(1 << 24)) > 20


def test_stats_of_some_days_only(run, kept):
    assert json.loads(run("stats", "--ledger", kept, "--since", "2026-11-03", "--json", "-").stdout)["sheets"] == 0
    on_day = run("stats", "--ledger", kept, "--since", "2026-11-02", "--until", "2026-11-02", "--json", "-")
    assert json.loads(on_day.stdout)["sheets"] == 3


def test_history_as_csv(run, kept):
    table = list(csv.DictReader(io.StringIO(run("history", "A", "--ledger", kept, "--csv", "-").stdout)))
    assert [(row["action"], row["cleaning"], row["ink_lot"]) for row in table] == [
        ("purge", "", "lot-1"), ("top-off", "blot", ""),
    ]  # fmt: skip


def test_check_backup_and_export(run, kept, tmp_path):
    assert "sound" in run("ledger", "check", "--ledger", kept).stdout
    copy = tmp_path / "copy.sqlite3"
    assert "3 rows" in run("ledger", "backup", copy, "--ledger", kept).stdout
    assert "sound" in run("ledger", "check", "--ledger", copy).stdout
    out = tmp_path / "all.jsonl"
    assert run("ledger", "export", out, "--ledger", copy).exit_code == 0
    assert [json.loads(line)["ticket"] for line in out.read_text().splitlines()] == ["A", "A", "B"]
    assert run("ledger", "export", "--ledger", copy).stdout.splitlines()[0].startswith("id,scored_at,ticket")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("history", "nobody"), "not in the ledger"),
        (("stats", "--by", "moon"), "can't group by 'moon'"),
        (("stats", "--since", "yesterday"), "is no day"),
        (("stats", "--since", "2026-11-30", "--until", "2026-11-01"), "no day is left"),
        (("stats", "--json", "-", "--csv", "-"), "one document"),
        (("ledger", "export", "x.xls"), "name a .csv"),
    ],
)
def test_wrong_use_is_one_clear_line(run, kept, arguments, said):
    done = run(*arguments, "--ledger", kept)
    assert said in str(done.exception)
    assert "\n" not in str(done.exception)
    assert done.exception.exit_code == 2


def test_looking_into_a_ledger_that_is_not_there_does_not_make_one(run, tmp_path):
    for command in (("log",), ("history", "A"), ("stats",), ("ledger", "check")):
        done = run(*command, "--ledger", tmp_path / "none.sqlite3")
        assert "there is no ledger" in str(done.exception)
        assert done.exception.exit_code == 3
    assert not (tmp_path / "none.sqlite3").exists()


@pytest.mark.parametrize(
    "command",
    [("log",), ("history", "A"), ("stats",), ("ledger", "check"), ("ledger", "export"), ("ledger", "backup", "to")],
)
def test_looking_into_what_is_no_ledger_leaves_it_as_it_is(run, tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    for data in (b"", b"notes\n"):
        (tmp_path / "z0").write_bytes(data)
        done = run(*command, "--ledger", "z0")
        assert "z0 is no ledger" in str(done.exception)
        assert done.exception.exit_code == 2
        assert (tmp_path / "z0").read_bytes() == data
        assert [path.name for path in tmp_path.iterdir()] == ["z0"]


def test_a_copied_picture_is_the_same_sheet(run, tmp_path):
    place = tmp_path / "shop.sqlite3"
    shutil.copy(bench_scans().paths["cured"], tmp_path / "copy.png")
    run("log", bench_scans().paths["cured"], tmp_path / "copy.png", "--ledger", place)
    with open_ledger(str(place)) as book:
        assert len(book.rows()) == 1


def test_one_that_is_no_picture_does_not_keep_the_others_from_being_noted(run, tmp_path):
    place, scans = tmp_path / "shop.sqlite3", bench_scans().paths
    done = run("log", scans["before"], tmp_path / "missing.jpg", scans["cured"], "--ledger", place)
    assert "missing.jpg" in done.stderr
    assert "1 of 3 pictures could not be read" in str(done.exception)
    assert done.exception.exit_code == 2
    with open_ledger(str(place)) as book:
        assert len(book.rows()) == 2
    alone = run("log", tmp_path / "missing.jpg", "--ledger", place)
    assert "missing.jpg" in str(alone.exception)
    assert alone.stderr == ""


def test_control_characters_in_names_reach_no_terminal_and_break_no_table(run, tmp_path):
    place, scan = tmp_path / "shop.sqlite3", tmp_path / "a\x1b[31m\nb.png"
    shutil.copy(bench_scans().paths["before"], scan)
    done = run("log", scan, "--ledger", place, "--printer", "a\x1b[31m\nb", "--cartridge", "c\u2028\td")
    assert done.exit_code == 0, done.output
    with open_ledger(str(place)) as book:
        ticket = book.rows()[0].ticket
    shown = [
        done.stdout,
        *(run(*words, "--ledger", place).stdout for words in (("log",), ("history", ticket), ("stats",))),
    ]
    assert all(text.replace("\n", "").isprintable() for text in shown)
    assert [len(text.splitlines()) for text in shown[:3]] == [1, 2, 4]
    assert "a\\x1b[31m\\nb" in shown[3]


def test_a_name_that_is_no_utf_8_is_shown_all_the_same():
    assert one_line("a\udcffb\x1b\u2029\tc") == "a\\udcffb\\x1b\\u2029\\tc"
    assert one_line("Büro 1 \N{GREEK SMALL LETTER ALPHA}") == "Büro 1 \N{GREEK SMALL LETTER ALPHA}"
