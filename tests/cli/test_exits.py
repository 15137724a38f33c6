"""How each command ends: 0 done, the verdict's code, 2 wrong use, 3 not written; and that each shows an example."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
import typer
from bench_scans import bench_scans
from entries import entry
from PIL import Image
from readings import reading

from printcheck.cli.app import app, run
from printcheck.ledger.entry import Notes
from printcheck.ledger.store import open_ledger

DEEP = "none/deeper"  # a folder that is not there


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with everything the commands below name."""
    folder = tmp_path_factory.mktemp("exits")
    scans = bench_scans().paths
    shutil.copy(scans["cured"], folder / "good.png")
    shutil.copy(scans["before"], folder / "faulty.png")
    Image.new("RGB", (900, 1200), "white").save(folder / "blank.png")
    (folder / "notes.txt").write_text("no picture, no ledger, no table\n")
    (folder / "empty").mkdir()
    with open_ledger(str(folder / "shop.db")) as book:
        book.add(entry(reading("C", missing={3, 50}), ticket="A", number=0))
        book.add(entry(ticket="A", number=1, notes=Notes(cleaning="blot")))
    return folder


CASES = [
    ("pattern tri-100 --out sheet.pdf", 0),
    ("pattern tri-101 --out sheet.pdf", 2),
    (f"pattern tri-100 --out {DEEP}/sheet.pdf", 3),
    ("score good.png", 0),
    ("score faulty.png", 10),
    ("score blank.png", 30),
    ("score notes.txt", 2),
    ("score good.png --tried dance", 2),
    (f"score good.png --marked {DEEP}/m.png", 3),
    ("compare faulty.png good.png", 0),
    ("compare faulty.png notes.txt", 2),
    (f"compare faulty.png good.png --page-report {DEEP}/p.html", 3),
    ("batch empty --workers 1", 0),
    ("batch nowhere", 2),
    (f"batch empty --out {DEEP}/o.jsonl", 3),
    ("watch empty --once", 0),
    ("watch nowhere --once", 2),
    ("watch empty --once --ledger notes.txt", 2),
    ("log --ledger shop.db", 0),
    ("log notes.txt --ledger new.db", 2),
    ("log --ledger nowhere.db", 3),
    ("history A --ledger shop.db", 0),
    ("history B --ledger shop.db", 2),
    ("history A --ledger nowhere.db", 3),
    (f"history A --ledger shop.db --csv {DEEP}/h.csv", 3),
    ("stats --ledger shop.db", 0),
    ("stats --ledger shop.db --by moon", 2),
    ("stats --ledger shop.db --since yesterday", 2),
    (f"stats --ledger shop.db --plot {DEEP}/p.png", 3),
    ("calibrate good.png --values notes.txt", 2),
    ("strip read good.png --calibration office --out s.toml", 2),
    ("components", 0),
    (f"components --out {DEEP}/c.toml", 3),
    ("limits", 0),
    ("limits --policy notes.txt", 2),
    (f"limits --json {DEEP}/l.json", 3),
    ("ledger check --ledger shop.db", 0),
    ("ledger check --ledger notes.txt", 2),
    ("ledger backup copy.db --ledger shop.db", 0),
    ("ledger backup notes.txt --ledger shop.db", 3),
    ("ledger export out.csv --ledger shop.db", 0),
    ("ledger export out.xls --ledger shop.db", 2),
    (f"ledger export {DEEP}/out.csv --ledger shop.db", 3),
    ("reference add good.png --name original", 0),
    ("reference add notes.txt --name original", 2),
    ("reference list", 0),
    ("reference remove nothing", 2),
    ("demo notes.txt", 3),
]


@pytest.mark.parametrize(("words", "code"), CASES, ids=[words for words, _ in CASES])
def test_a_command_ends_with_its_code(
    words: str, code: int, place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(place)
    monkeypatch.delenv("PRINTCHECK_LEDGER", raising=False)
    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(place / "references"))
    monkeypatch.setattr(sys, "argv", ["printcheck", *shlex.split(words)])
    with pytest.raises(SystemExit) as ended:
        run()
    said = capsys.readouterr()
    assert (ended.value.code or 0) == code, said.err
    if code in (2, 3):
        assert said.err.strip()
        assert "Traceback" not in said.err


def commands() -> dict[str, click.Command]:
    """Every command that does something, by the words that call it."""

    def walk(command: click.Command, words: str) -> dict[str, click.Command]:
        inner = getattr(command, "commands", None)
        if not inner:
            return {words: command}
        return {w: c for name, one in inner.items() for w, c in walk(one, f"{words} {name}".strip()).items()}

    return walk(typer.main.get_command(app), "")


def test_every_command_is_among_them() -> None:
    called = {words for words in commands() for case, _ in CASES if f"{case} ".startswith(f"{words} ")}
    assert called == set(commands())


@pytest.mark.parametrize("words", commands())
def test_the_help_has_an_example_that_the_command_understands(words: str) -> None:
    """Its options and the number of its arguments are checked by parsing it; nothing is run."""
    command = commands()[words]
    told = re.search(r"^Example: printcheck (.*)$", command.help or "", re.MULTILINE)
    assert told, "no example in its help"
    rest = shlex.split(told[1])
    assert rest[: len(words.split())] == words.split()
    context = command.make_context(words, rest[len(words.split()) :], resilient_parsing=True)
    assert command.help is not None
    assert context.params.keys() >= {p.name for p in command.params if p.name and p.required}
    unknown = [w for w in rest if w.startswith("--") and w not in {o for p in command.params for o in p.opts}]
    assert unknown == []


@pytest.mark.parametrize(
    ("typed", "offers"),
    [("printcheck sc", "score"), ("printcheck ledger ex", "export"), ("printcheck score a.jpg --mar", "--marked")],
)
def test_the_shell_completes_commands_and_options(typed: str, offers: str) -> None:
    """As bash asks a program for its completions (click's documented protocol of environment variables)."""
    asked = {
        **os.environ, "_PRINTCHECK_COMPLETE": "complete_bash", "COMP_WORDS": typed,
        "COMP_CWORD": str(len(typed.split()) - 1),
    }  # fmt: skip
    program = "import sys; sys.argv = ['printcheck']; from printcheck.__main__ import main; main()"
    done = subprocess.run([sys.executable, "-c", program], env=asked, capture_output=True, text=True, timeout=120)
    assert offers in done.stdout.split(), done.stderr
