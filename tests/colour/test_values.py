"""Files of measured values: read in every common encoding, and refused where no print can have such colours."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from printcheck.colour.cgats import read_cgats
from printcheck.colour.chart import read_samples
from printcheck.errors import InputError

ROWS = ("A1 95 0 -2", "A2 50.5 20.25 -30", "A3 20 1 0")


def table(*rows: str, fields: str = "SAMPLE_ID LAB_L LAB_A LAB_B", head: str = "") -> str:
    body = "\n".join(rows)
    return f"CGATS.17\n{head}\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{body}\nEND_DATA\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16", "utf-16-le"])
def test_any_common_encoding_is_read(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "values.txt"
    text = table(*ROWS, head='ORIGINATOR "B\u00fcro"')
    path.write_bytes(b"\xff\xfe" * (encoding == "utf-16-le") + text.encode(encoding))
    assert read_samples(path)["A2"].tolist() == [50.5, 20.25, -30.0]


def test_a_sample_measured_twice_has_the_mean(tmp_path: Path) -> None:
    path = tmp_path / "values.txt"
    path.write_text(table(*ROWS, "A2 50.7 20.35 -30"))
    assert read_samples(path)["A2"].tolist() == pytest.approx([50.6, 20.3, -30.0])


XYZ = "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z"
RGB = "SAMPLE_ID RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (table(*ROWS, "A4 nan 0 0"), "'A4' holds no number"),
        (table(*ROWS, "A4 50 inf 0"), "'A4' holds no number"),
        (table(*ROWS, "A4 50 1e300 0"), "'A4' is no colour of a print"),
        (table(*ROWS, "A4 150 0 0"), "'A4' is no colour of a print"),
        (table(*ROWS, "A4 -20 0 0"), "'A4' is no colour of a print"),
        (table(*ROWS, "A4 red 0 0"), "'A4' holds no number"),
        (table("A1 80 85 60", "A2 -10 20 20", fields=XYZ), "'A2' has negative XYZ"),
        (table("A1 80 85 60", "A2 nan 20 20", fields=XYZ), "'A2' holds no number"),
        (table("A1 80 85 60", "A2 10 1e308 20", fields=XYZ), "'A2' is no colour of a print"),
        (table("A1 0.8 0.85 0.6", "A2 0.1 0.1 0.1", fields=XYZ), "their scale ends at 1"),
        (table(*ROWS, "A2 50.5 40 -30"), "'A2' twice with colours"),
        (table("A1 255 0 0 50 60 40", "B7 255 0 0 50 20 40", fields=RGB), "'A1' and 'B7', of the same RGB"),
        (table(*ROWS, head="NUMBER_OF_SETS 4"), r"announces 4 samples \(NUMBER_OF_SETS\) and holds 3"),
        (table(*ROWS, "A4 50,5 0 0"), "line 10: '50,5' has a decimal comma; write decimals with a point"),
        (table(*ROWS, "solid C 50 0 0"), r"line 10 holds 5 values for 4 fields.*quotation marks"),
        ("CGATS.17\0", "no text; .*UTF-8"),
    ],
)
def test_what_no_print_can_have_is_refused_by_name(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "values.txt"
    path.write_text(text)
    with pytest.raises(InputError, match=said) as refusal:
        read_samples(path)
    assert "\n" not in str(refusal.value)


def test_what_a_shell_pipes_in_is_read() -> None:
    """``--values <(...)``: the shell hands over a pipe that is open already."""
    from_end, to_end = os.pipe()
    os.write(to_end, table(*ROWS).encode())
    os.close(to_end)
    try:
        assert read_samples(Path(f"/dev/fd/{from_end}"))["A2"].tolist() == [50.5, 20.25, -30.0]
    finally:
        os.close(from_end)


def test_only_regular_files_are_read(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero")):
        with pytest.raises(InputError, match="no regular file"):
            read_samples(path)
    with pytest.raises(InputError, match="a folder"):
        read_samples(tmp_path)
    (tmp_path / "large").write_bytes(b" " * 20_000_001)
    with pytest.raises(InputError, match="too large"):
        read_samples(tmp_path / "large")


def test_a_hash_begins_a_comment_outside_quotation_marks_only(tmp_path: Path) -> None:
    """CGATS.17 (also ISO 28178): what follows a # is a comment; a quoted value holds any character but a quote."""
    path = tmp_path / "values.txt"
    path.write_text(
        'CGATS.17 # export 3\n# a comment with a " in it\nBEGIN_DATA_FORMAT # fields\nSAMPLE_ID LAB_L LAB_A LAB_B\n'
        'END_DATA_FORMAT\nBEGIN_DATA\n"solid #1" 50 1 2 # the "first" one\n"" 60 1 2#no more\nEND_DATA\n'
    )
    rows = read_cgats(path)
    assert [row["SAMPLE_ID"] for row in rows] == ["solid #1", ""]
    assert [row["LAB_B"] for row in rows] == ["2", "2"]
