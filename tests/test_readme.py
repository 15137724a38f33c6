"""What the papers show is there, and what is there stands in the papers."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest
import typer

from printcheck.cli.app import app

ROOT = Path(__file__).parents[1]
PAPERS = [ROOT / "README.md", ROOT / "DEVELOPERS.md"]
GENERAL = {"-h", "--help", "--install-completion", "--show-completion"}


def commands() -> dict[str, click.Command]:
    """Every command by the words that call it ("ledger export"), the program itself as ""."""

    def walk(command: click.Command, words: str) -> dict[str, click.Command]:
        found = {words: command}
        for name, inner in getattr(command, "commands", {}).items():
            found |= walk(inner, f"{words} {name}".strip())
        return found

    return walk(typer.main.get_command(app), "")


COMMANDS = commands()
LEAVES = [words for words, command in COMMANDS.items() if words and not getattr(command, "commands", None)]


def options_of(command: click.Command) -> set[str]:
    return {
        word
        for parameter in command.params
        if parameter.param_type_name == "option" and not getattr(parameter, "hidden", False)
        for word in [*parameter.opts, *parameter.secondary_opts]
    }


def shown(text: str) -> list[list[str]]:
    """Words of every ``printcheck ...`` in a code span or block, up to the end of its line or shell command."""
    spans = re.findall(r"```[^\n]*\n(.*?)```", text, re.DOTALL)
    spans += re.findall(r"(?<!`)`([^`\n]+)`(?!`)", re.sub(r"```.*?```", "", text, flags=re.DOTALL))
    out = []
    for line in "\n".join(spans).splitlines():
        for piece in re.split(r"&&|;|\||>", line.split("  #")[0]):
            found = re.search(r"(?:^|[\s/])printcheck\s+(.*)", piece.strip())
            if found:
                out.append(shlex.split(found[1], comments=True))
    return out


def called(words: list[str]) -> tuple[str, list[str]]:
    """The command that `words` call, and the words left over."""
    name, rest = "", list(words)
    while rest and f"{name} {rest[0]}".strip() in COMMANDS:
        name = f"{name} {rest.pop(0)}".strip()
    return name, rest


@pytest.mark.parametrize("paper", PAPERS, ids=lambda path: path.name)
def test_every_command_and_option_shown_exists(paper: Path) -> None:
    wrong = []
    lines = shown(paper.read_text(encoding="utf-8"))
    assert lines
    for words in lines:
        name, rest = called(words)
        command = COMMANDS[name]
        if getattr(command, "commands", None) and rest and not rest[0].startswith("-"):
            wrong.append(f"no command {' '.join(words)!r}")
        known = options_of(command) | GENERAL
        used = [word for word in rest if re.match(r"--?[a-z]", word)]
        wrong += [f"no option {word} of {name!r}" for word in used if word not in known]
    assert wrong == []


@pytest.mark.parametrize("words", LEAVES)
def test_every_command_stands_in_the_readme(words: str) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert re.search(rf"printcheck {re.escape(words)}\b", text), f"printcheck {words} is not shown"


@pytest.mark.parametrize("words", LEAVES)
def test_every_option_stands_in_the_readme(words: str) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    options = sorted(options_of(COMMANDS[words]) - GENERAL)
    missing = [option for option in options if not re.search(rf"{re.escape(option)}(?![\w-])", text)]
    assert missing == []


@pytest.mark.parametrize("words", LEAVES)
def test_every_command_and_option_has_help(words: str) -> None:
    command = COMMANDS[words]
    assert command.help
    unsaid = [p.name for p in command.params if not getattr(p, "help", None)]
    assert unsaid == []


@pytest.mark.parametrize("paper", PAPERS, ids=lambda path: path.name)
def test_every_link_leads_somewhere(paper: Path) -> None:
    text = paper.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)]+)\)", text):
        if re.match(r"[a-z]+:", target):
            continue
        name, _, section = target.partition("#")
        file = paper.parent / name if name else paper
        assert file.exists(), f"{target} leads nowhere"
        if section:
            heads = re.findall(r"^#+ (.*)$", file.read_text(encoding="utf-8"), re.MULTILINE)
            assert section in {re.sub(r"[^a-z0-9 -]", "", h.lower()).replace(" ", "-") for h in heads}


def test_the_exit_codes_of_the_readme_are_those_of_the_program() -> None:
    from printcheck.errors import ExitCode

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    told = {int(n) for n in re.findall(r"^\| (\d+) \|", text, re.MULTILINE)}
    assert told == {int(code) for code in ExitCode}
