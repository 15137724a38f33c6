"""Files of strip values: written, read back, and refused where they are something else."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from printcheck.calibrate import calibration_file
from printcheck.colour.control_strip import PatchValue, StripValues, load_strip_values, save_strip_values
from printcheck.colour.house import reference_file
from printcheck.errors import InputError, PrintcheckError

VALUES = StripValues(
    'bench "two"', 0.7,
    {'S\\1"/A': {"C 100": PatchValue((54.0, -36.5, -49.25), (0.3, 0.4, 0.5))}, "S1/B": {}},
)  # fmt: skip


@pytest.mark.parametrize("text", ["Büro, größer", "事務所", "a\nb\t\x7f", "\U0001f5a8", '"""', "\\u0041"])
def test_names_of_any_script_are_written_as_toml(tmp_path: Path, text: str) -> None:
    values = StripValues(text, 0.7, {f"{text}/A": {text: PatchValue((54.0, -36.5, -49.25), (0.3, 0.4, 0.5))}})
    save_strip_values(values, tmp_path / "strips.toml")
    assert load_strip_values(tmp_path / "strips.toml") == values
    assert tomllib.loads((tmp_path / "strips.toml").read_text(encoding="utf-8"))["calibration"] == text


@pytest.mark.parametrize("file", [reference_file, calibration_file])
def test_references_and_calibrations_are_called_by_one_rule(file: Callable[[str], Path]) -> None:
    for name in ("front plain", "Büro 2", "a" * 60, "事務所_1.b-c"):
        assert file(name).stem == name
    for name in ("", " a", ".a", "-a", "a/b", "..", "a\nb", "a:b", "a" * 61, 'a"b', "a\\b"):
        with pytest.raises(PrintcheckError, match="can't name a"):
            file(name)


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    save_strip_values(VALUES, tmp_path / "strips.toml")
    assert load_strip_values(tmp_path / "strips.toml") == VALUES


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (None, "can't be read"),
        ("schema = ", "holds no strip values"),
        ('schema = "other"', "holds no strip values"),
        ('schema = "printcheck-control-strip/1"', "damaged"),
        ('schema = "printcheck-control-strip/1"\ncalibration = "a"\ndelta_e00 = 1\nstrips = 3', "damaged"),
        (
            'schema = "printcheck-control-strip/1"\ncalibration = "a"\ndelta_e00 = 1\n'
            '[strips."S1/A"]\n"C 100" = { lab = [1, 2], sd = [1, 1, 1] }',
            "damaged",
        ),
        *(
            (
                f'schema = "printcheck-control-strip/1"\ncalibration = "a"\ndelta_e00 = {error}\n'
                f'[strips."S1/A"]\n"C 100" = {{ lab = [{lab}], sd = [{sd}] }}',
                "damaged",
            )
            for error, lab, sd in (
                ("nan", "1, 2, 3", "1, 1, 1"),
                ("1", "nan, 2, 3", "1, 1, 1"),
                ("1", "1, 2, inf", "1, 1, 1"),
                ("1", "50, 900, 0", "1, 1, 1"),
                ("1", "1, 2, 3", "1, nan, 1"),
                ("1", "1, 2, 3", "-1, 1, 1"),
                ("1", "1, 2, 3", "inf, 1, 1"),
            )
        ),
        ('schema = "printcheck-control-strip/1"\ncalibration = "a"\ndelta_e00 = 1\nstrips = {}', "no strip is in it"),
    ],
)
def test_anything_else_is_refused_in_one_line(tmp_path: Path, text: str | None, says: str) -> None:
    path = tmp_path / "strips.toml"
    if text is not None:
        path.write_text(text)
    with pytest.raises(InputError, match=says) as caught:
        load_strip_values(path)
    assert "\n" not in str(caught.value)
    assert "printcheck strip read" in str(caught.value)


def test_a_pipe_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "strips.toml")
    with pytest.raises(InputError, match="no regular file"):
        load_strip_values(tmp_path / "strips.toml")
