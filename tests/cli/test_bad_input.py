"""Every bad input: one line that says what to do, the contract's exit code, nothing half-written, input untouched.

Run in this process through the program's own entry, so that an exception that gets away is seen as one; what native
libraries write to the file descriptors is caught too.
"""

from __future__ import annotations

import hashlib
import json
import os
import struct
import subprocess
import sys
import tempfile
import zlib
from pathlib import Path
from subprocess import CompletedProcess

import cv2
import numpy as np
import pytest
from drawn_pages import drawn_page, noisy
from PIL import Image

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_scans" / "black-good.jpg"
ADVICE = (
    "scan", "photograph", "give", "name", "choose", "use", "save", "export", "put", "picture", "convert", "allow",
    "raise", "check", "print", "make", "copy", "open", "update", "try", "add", "end",
)  # fmt: skip


def claims(width: int, height: int) -> bytes:
    """A PNG (ISO/IEC 15948) that states its size and holds next to nothing."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"\0" * 64)) + chunk(b"IEND", b"")


NO_PICTURES: dict[str, bytes | None] = {
    "notes.txt": b"nothing to see here\n" * 40,
    "renamed.jpg": b"PK\x03\x04" + bytes(range(256)) * 9,
    "cut-header.jpg": SAMPLE.read_bytes()[:300],
    "cut-half.jpg": SAMPLE.read_bytes()[: SAMPLE.stat().st_size // 2],
    "empty.png": b"",
    "huge.png": claims(30000, 30000),
    "cut.pdf": b"%PDF-1.7\n1 0 obj\n<</Type/Catalog",
    "damaged.png": claims(900, 1200),
    "a folder.jpg": None,
}


def refused(done: CompletedProcess[str], code: int) -> str:
    """The one line of a refusal."""
    assert done.returncode == code
    assert done.stdout == ""
    assert done.stderr.endswith("\n")
    assert done.stderr.count("\n") == 1, done.stderr
    assert done.stderr.startswith("printcheck: ")
    assert "Traceback" not in done.stderr
    assert any(word in done.stderr.lower() for word in ADVICE), f"no advice: {done.stderr}"
    return done.stderr


@pytest.mark.parametrize("name", NO_PICTURES)
def test_what_is_no_picture_is_exit_2_and_one_line(name: str, call, tmp_path: Path) -> None:
    path, data = tmp_path / name, NO_PICTURES[name]
    path.mkdir() if data is None else path.write_bytes(data)
    done = call("score", path, "--json", "r.json", "--marked", "m.png", "--page-report", "p.html")
    assert name in refused(done, 2)
    assert list((tmp_path / "cwd").iterdir()) == []
    if data is not None:
        assert path.read_bytes() == data


def test_a_file_that_is_not_there_is_exit_2(call, tmp_path: Path) -> None:
    assert "none.jpg" in refused(call("score", tmp_path / "none.jpg", "--json", "-"), 2)


def test_too_large_names_the_limit_and_how_to_raise_it(call, tmp_path: Path) -> None:
    (tmp_path / "huge.png").write_bytes(claims(30000, 30000))
    line = refused(call("score", tmp_path / "huge.png"), 2)
    assert "--max-megapixels" in line
    assert "200" in line
    line = refused(call("score", SAMPLE, "--max-megapixels", "2"), 2)
    assert "limit of 2:" in line
    assert "2496 x 3524" in line


def test_twenty_by_twenty_pixels_are_no_picture_of_a_sheet(call, tmp_path: Path) -> None:
    Image.fromarray(np.full((20, 20, 3), 200, np.uint8)).save(tmp_path / "dot.png")
    assert "20 x 20 pixels" in refused(call("score", tmp_path / "dot.png", "--json", "-"), 2)


def test_a_file_nobody_may_read_is_exit_2(tmp_path: Path) -> None:
    """As another user where the tests run as root, whom no permission stops."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        path = folder / "closed.jpg"
        path.write_bytes(SAMPLE.read_bytes())
        path.chmod(0)
        who = {"user": 65534} if os.geteuid() == 0 else {}
        command = [sys.executable, "-m", "printcheck", "score", str(path)]
        try:
            done = subprocess.run(command, capture_output=True, text=True, check=False, cwd="/", **who)
        except PermissionError:
            pytest.skip("the interpreter itself can't be run by another user here")
        if "No module named" in done.stderr:
            pytest.skip("the program itself can't be read by another user here")
        line = refused(done, 2)
        assert "closed.jpg" in line
        assert "permission" in line.lower()


def test_what_the_command_line_finds_closed_has_a_remedy_too(call, monkeypatch) -> None:
    """Where the system says so before the file is opened, of any file that a command takes."""
    monkeypatch.setattr("os.access", lambda path, mode, **_: mode != os.R_OK)
    for command in (("score", SAMPLE), ("compare", SAMPLE, SAMPLE), ("score", SAMPLE, "--policy", SAMPLE)):
        line = refused(call(*command), 2)
        assert "permission" in line
        assert "copy it" in line


def pictures() -> dict[str, np.ndarray]:
    """Pictures that open but can't be judged, RGB."""
    rng = np.random.default_rng(4)
    one = noisy(drawn_page(150, ticket="ONE-1").pixels, 1.0)
    two = noisy(drawn_page(150, "mono-416", ticket="TWO-2").pixels, 1.0)
    height = min(len(one), len(two))
    text = np.full((1700, 1200, 3), 246, np.uint8)
    for k in range(40):
        cv2.putText(text, "a page of another kind altogether", (80, 80 + 40 * k), 0, 1.2, (30, 30, 30), 2)
    return {
        "small": rng.integers(0, 256, (240, 320, 3), dtype=np.uint8),
        "other page": text,
        "mirrored": one[:, ::-1],
        "two sheets": np.hstack([one[:height], two[:height]]),
        "half": one[: len(one) // 2, : one.shape[1] // 2],
    }


PICTURES = pictures()


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("small", "too small"),
        ("other page", "no test sheet"),
        ("mirrored", "mirrored"),
        ("two sheets", "two sheets"),
        ("half", "in the picture"),
    ],
)
def test_what_cannot_be_judged_is_exit_30_with_what_to_change(name: str, says: str, call, tmp_path: Path) -> None:
    path = tmp_path / f"{name}.png"
    Image.fromarray(np.ascontiguousarray(PICTURES[name][..., ::-1])).save(path)
    before = hashlib.sha256(path.read_bytes()).digest()
    done = call("score", path, "--json", "-", "--marked", "m.png")
    assert done.returncode == 30
    report = json.loads(done.stdout)
    assert report["verdict"]["action"] == "rescan"
    assert says in report["verdict"]["reasons"][0]["text"]
    assert says in done.stderr
    if name == "two sheets":
        for word in ("ONE-1", "TWO-2", "tri-100", "mono-416"):
            assert word in done.stderr
    assert any(word in done.stderr.lower() for word in ADVICE)
    assert "Traceback" not in done.stderr
    assert report["image"]["sha256"] == before.hex()
    assert hashlib.sha256(path.read_bytes()).digest() == before
    assert {p.name for p in (tmp_path / "cwd").iterdir()} <= {"m.png"}


@pytest.mark.parametrize(
    ("option", "where"),
    [("--json", "nowhere/result"), ("--json", "a folder"), ("--json", "sealed"), ("--marked", "nowhere/result"),
     ("--page-report", "a folder")],
)  # fmt: skip
def test_a_result_that_cannot_be_written_is_exit_3(option: str, where: str, call, tmp_path: Path) -> None:
    """No such folder, a folder in its place, or a file in a folder's place (which stops root too)."""
    out = tmp_path / "cwd"
    out.mkdir(exist_ok=True)
    (out / "a folder").mkdir()
    (out / "sealed").write_text("kept")
    target = "sealed/result" if where == "sealed" else where
    before = hashlib.sha256(SAMPLE.read_bytes()).digest()
    done = call("score", SAMPLE, option, target)
    assert done.returncode == 3
    assert done.stderr.count("\n") == 1, done.stderr
    assert done.stderr.startswith("printcheck: ")
    assert target in done.stderr
    assert "Traceback" not in done.stderr
    assert {p.name for p in out.rglob("*")} == {"a folder", "sealed"}
    assert (out / "sealed").read_text() == "kept"
    assert hashlib.sha256(SAMPLE.read_bytes()).digest() == before


def test_an_old_result_survives_a_refusal(call, tmp_path: Path) -> None:
    out = tmp_path / "cwd"
    out.mkdir(exist_ok=True)
    for name in ("r.json", "m.png"):
        (out / name).write_text("of yesterday")
    (tmp_path / "empty.jpg").write_bytes(b"")
    refused(call("score", tmp_path / "empty.jpg", "--json", "r.json", "--marked", "m.png"), 2)
    assert {(p.name, p.read_text()) for p in out.iterdir()} == {("r.json", "of yesterday"), ("m.png", "of yesterday")}


def test_a_name_with_line_breaks_still_makes_one_line(call, tmp_path: Path) -> None:
    path = tmp_path / "a\nb\tc.jpg"
    path.write_bytes(b"no picture")
    refused(call("score", path), 2)


@pytest.mark.parametrize(
    ("words", "option"),
    [
        (("score", SAMPLE), "--marked"),
        (("compare", SAMPLE, SAMPLE), "--marked"),
        (("stats", "--ledger", "shop.db"), "--plot"),
    ],
)
def test_a_picture_to_write_is_not_called_what_it_is_not(words: tuple[object, ...], option: str, call) -> None:
    """A PNG under the name of a JPEG is sent on as one, and opened as none."""
    line = refused(call(*words, option, "mk.jpg"), 2)
    assert "mk.jpg" in line
    assert ".png" in line


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--weights", "none.toml"), "--weights is of no use alone"),
        (("--weights", "none.toml", "--cartridge", "black"), "--weights is of no use alone"),
        (("--cartridge", "black"), "add --weight GRAMS, or --ledger"),
    ],
)
def test_what_only_a_weight_has_a_use_for_is_not_passed_over(words: tuple[str, ...], says: str, call) -> None:
    assert says in refused(call("score", SAMPLE, *words), 2)


@pytest.mark.parametrize("word", ["before", "after"])
def test_compare_refuses_what_is_no_picture_alike(word: str, call, tmp_path: Path) -> None:
    (tmp_path / "empty.jpg").write_bytes(b"")
    pair = [tmp_path / "empty.jpg", SAMPLE]
    done = call("compare", *(pair if word == "before" else pair[::-1]), "--json", "r.json", "--marked", "m.png")
    assert "empty.jpg" in refused(done, 2)
    assert list((tmp_path / "cwd").iterdir()) == []


@pytest.mark.parametrize(
    "words",
    [
        ("calibrate", "g.png", "--values", "v.txt", "--name", "a\nb"),
        ("reference", "remove", "a\r\nb"),
        ("score", "a\nb.png"),
        ("stats", "--by", "a\u2028b"),
        ("history", "a\x1b[2Kb", "--ledger", "no\nne.db"),
    ],
)
def test_what_a_person_typed_does_not_break_the_line(words: tuple[str, ...], call) -> None:
    done = call(*words)
    assert done.returncode in (2, 3)
    assert done.stderr.startswith("printcheck: ")
    assert len(done.stderr.splitlines()) == 1
    assert done.stderr[:-1].isprintable()


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (("score",), "score --help"),
        (("nonsense",), "printcheck --help"),
        (("--nonsense",), "printcheck --help"),
        (("score", SAMPLE, "--nonsense"), "score --help"),
        (("score", SAMPLE, "--cleanings", "several"), "--cleanings"),
        (("score", SAMPLE, "two.jpg"), "two.jpg"),
        (("ledger", "nonsense"), "ledger --help"),
        (("reference", "add"), "reference add --help"),
    ],
)
def test_a_wrong_command_line_is_one_line_that_names_the_help(words: tuple[str, ...], names: str, call) -> None:
    done = call(*words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("printcheck: ")
    assert names in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("words", [(), ("ledger",)])
def test_no_command_shows_those_there_are(words: tuple[str, ...], call) -> None:
    done = call(*words)
    assert done.returncode == 2
    assert "Usage: printcheck" in done.stdout + done.stderr
    assert "Commands:" in done.stdout + done.stderr
