"""Files of strip values: written, read back, and refused where they are something else."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from printcheck.colour.control_strip import PatchValue, StripValues, load_strip_values, save_strip_values
from printcheck.errors import InputError

VALUES = StripValues(
    'bench "two"', 0.7,
    {'S\\1"/A': {"C 100": PatchValue((54.0, -36.5, -49.25), (0.3, 0.4, 0.5))}, "S1/B": {}},
)  # fmt: skip


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
