"""Files that somebody else wrote: no pipe, device, depth or number in them stops the program or gets a traceback.

What TOML and JSON allow is as TOML 1.0 and RFC 8259 have it; both leave depth and size of numbers to the reader.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from printcheck.colour.house import list_house, load_house
from printcheck.errors import PrintcheckError
from printcheck.measure.components import load_components
from printcheck.parse import parse_json, parse_toml
from printcheck.pattern.heads import load_head
from printcheck.regular import regular_bytes
from printcheck.verdict.policy import load_policy
from printcheck.verdict.steps import load_steps
from printcheck.weights import load_weights

LOADERS: dict[str, Callable[[Path], object]] = {
    "policy": load_policy,
    "steps": load_steps,
    "weights": load_weights,
    "components": load_components,
    "head": lambda path: load_head(str(path)),
}
DEEP = "[" * 9000
NUMBER = "1" + "0" * 400


def said(load: Callable[[Path], object], path: Path) -> str:
    with pytest.raises(PrintcheckError) as told:
        load(path)
    line = str(told.value)
    assert str(path) in line
    assert "\n" not in line
    assert told.value.exit_code == 2
    return line


@pytest.mark.parametrize("name", LOADERS)
def test_a_pipe_or_device_is_refused_and_not_waited_for(name: str, tmp_path: Path) -> None:
    pipe, link, folder = (tmp_path / f"{kind}.toml" for kind in ("pipe", "link", "folder"))
    os.mkfifo(pipe)
    link.symlink_to("/dev/zero")
    folder.mkdir()
    for path, why in ((pipe, "no regular file"), (link, "no regular file"), (folder, "a folder")):
        assert why in said(LOADERS[name], path)


@pytest.mark.parametrize("name", LOADERS)
@pytest.mark.parametrize(
    ("text", "why"),
    [
        (f"a = {DEEP}", "nested too deeply"),
        (f"a = {'[' * 60}{']' * 60}", "nested too deeply"),
        (f"a = {NUMBER}", "a number in it is too large"),
        (f"a = {'9' * 5000}", "not valid TOML"),
        ("# " + "x" * 300_000, "too large"),
        ("a = \0", "not valid TOML"),
    ],
)  # fmt: skip
def test_extremes_are_refused_in_one_line(name: str, text: str, why: str, tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(text)
    assert why in said(LOADERS[name], path)


def test_a_damaged_reference_is_told_and_hides_no_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(tmp_path))
    for name, text in (("deep", DEEP), ("long", f"[{NUMBER}]"), ("longer", "9" * 5000), ("zero", "{}")):
        (tmp_path / f"{name}.json").write_text(text)
        with pytest.raises(PrintcheckError, match="add it again, or remove it"):
            load_house(name)
    os.mkfifo(tmp_path / "pipe.json")
    sound, faults = list_house()
    assert sound == ()
    assert len(faults) == 5


@pytest.mark.parametrize("text", ["NaN", "[Infinity]", '{"a": -Infinity}', "1e999", "[-1e400]"])
def test_json_holds_no_number_that_is_none(text: str) -> None:
    """RFC 8259, section 6: infinity and NaN are not permitted; a limit on the range of numbers is."""
    with pytest.raises(ValueError, match="not valid JSON"):
        parse_json(text.encode())


def test_plain_values_come_back(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_text('{"a": [1, 2.5, true, null, "b"]}')
    assert parse_json(regular_bytes(path)) == {"a": [1, 2.5, True, None, "b"]}
    assert parse_toml(b"a = [1, -9223372036854775807]") == {"a": [1, -9223372036854775807]}
