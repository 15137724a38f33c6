"""Whatever the bytes are: a Capture, or one line that says what to do. Never another exception."""

from __future__ import annotations

import io
import os
import struct
import subprocess
import sys
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from captures import read_capture
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from printcheck.capture import opencv
from printcheck.capture.decode import read_captures
from printcheck.errors import ExitCode, InputError, PrintcheckError

Page = NDArray[np.uint8]

CONTAINERS: list[tuple[str, dict[str, Any]]] = [
    ("JPEG", {"quality": 90}),
    ("JPEG", {"quality": 90, "progressive": True}),
    ("PNG", {}),
    ("BMP", {}),
    ("WEBP", {}),
    ("TIFF", {}),
    ("TIFF", {"compression": "tiff_lzw"}),
    ("TIFF", {"compression": "tiff_adobe_deflate"}),
    ("TIFF", {"compression": "jpeg"}),
    ("PDF", {}),
]


def encoded(page: Page, kind: str, options: dict[str, Any]) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(page).save(buffer, kind, **options)
    return buffer.getvalue()


def refused(path: str | os.PathLike[str], **options: Any) -> str:
    """The refusal's text, checked to be one line for a person."""
    with pytest.raises(InputError) as caught:
        read_capture(path, **options)
    text = str(caught.value)
    assert caught.value.exit_code is ExitCode.USAGE
    assert text.isprintable()
    assert ":" in text
    return text


def survive(path: Path) -> bool:
    """True where at least one page was read; any exception but InputError fails the test."""
    try:
        for capture in read_captures(path, max_megapixels=2.0):
            assert capture.pixels.ndim in (2, 3)
            assert capture.pixels.dtype in (np.uint8, np.uint16)
    except InputError as error:
        text = str(error)
    else:
        return True
    assert text.isprintable()
    return False


def test_missing_directory_pipe_device_and_empty(tmp_path: Path) -> None:
    assert "no such file" in refused(tmp_path / "absent.png")
    assert "folder" in refused(tmp_path)
    os.mkfifo(tmp_path / "pipe.png")
    assert "pipe" in refused(tmp_path / "pipe.png")
    assert "device" in refused("/dev/zero")
    (tmp_path / "empty.jpg").touch()
    assert "empty" in refused(tmp_path / "empty.jpg")
    assert "name" in refused("nul\0character.png")
    assert "too long" in refused(tmp_path / ("x" * 300))
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    assert "link" in refused(tmp_path / "loop")
    (tmp_path / "file").touch()
    assert "no such file" in refused(tmp_path / "file" / "a.png")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_no_permission(tmp_path: Path, page: Page) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(encoded(page, "PNG", {}))
    path.chmod(0)
    assert "permission" in refused(path)


def test_no_permission_as_the_system_words_it(tmp_path: Path, page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same for root, whom no permission stops: the system's error is raised by hand."""

    def denied(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    path = tmp_path / "a.png"
    path.write_bytes(encoded(page, "PNG", {}))
    monkeypatch.setattr(Path, "read_bytes", denied)
    assert "permission" in refused(path)


@pytest.mark.parametrize(
    "name", ["line\nbreak.png", "tab\tand \x1b[31mcolour.png", "Größe 试 🖨.png", os.fsdecode(b"\xff\xfe.png")]
)
def test_odd_names_are_read_and_shown_on_one_line(tmp_path: Path, page: Page, name: str) -> None:
    (tmp_path / name).write_bytes(encoded(page, "PNG", {}))
    path = read_capture(tmp_path / name).path
    assert path.isprintable()
    path.encode("utf-8")
    (tmp_path / name).write_bytes(b"text")
    refused(tmp_path / name)


@pytest.mark.parametrize(
    "data", [b"just a text\n" * 50, b"\x00", b"GIF89a" + b"\0" * 50, b"<svg></svg>", b"PK\x03\x04" + b"\0" * 99]
)
def test_what_is_no_image_is_refused_with_the_formats_named(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "a.jpg").write_bytes(data)
    text = refused(tmp_path / "a.jpg")
    assert "no image" in text
    assert "JPEG" in text


@pytest.mark.parametrize(("kind", "options"), CONTAINERS)
def test_truncated_files_are_refused(tmp_path: Path, page: Page, kind: str, options: dict[str, Any]) -> None:
    """OpenCV and libjpeg would fill the rest with grey."""
    data = encoded(page, kind, options)
    rng = np.random.default_rng(11)
    path = tmp_path / "a"
    cuts = [*rng.integers(1, len(data) - 40, 25), int(len(data) * 0.9), int(len(data) * 0.5)]
    for cut in cuts:
        path.write_bytes(data[:cut])
        if kind == "PDF":  # readers rebuild a lost table: what comes back must then be whole
            survive(path)
        else:
            refused(path)


def test_truncated_jpeg_with_a_whole_thumbnail_is_refused(tmp_path: Path, page: Page) -> None:
    """The thumbnail in the header has an end marker of its own."""
    thumbnail = b"Exif\0\0" + encoded(page[:40, :60], "JPEG", {})
    data = encoded(page, "JPEG", {})
    tagged = data[:2] + b"\xff\xe1" + struct.pack(">H", len(thumbnail) + 2) + thumbnail + data[2:]
    (tmp_path / "whole.jpg").write_bytes(tagged)
    read_capture(tmp_path / "whole.jpg")
    (tmp_path / "cut.jpg").write_bytes(tagged[: len(tagged) * 3 // 4])
    assert "damaged" in refused(tmp_path / "cut.jpg")


def test_jpeg_with_a_hole_is_refused(tmp_path: Path, page: Page) -> None:
    """A block lost in the middle, the end intact: libjpeg only mutters on standard error."""
    noisy = page ^ np.random.default_rng(0).integers(0, 64, page.shape, dtype=np.uint8)
    data = encoded(noisy, "JPEG", {"quality": 95})
    middle = len(data) // 2
    (tmp_path / "a.jpg").write_bytes(data[:middle] + data[middle + len(data) // 4 :])
    assert "damaged" in refused(tmp_path / "a.jpg")


@pytest.mark.parametrize(("kind", "options"), CONTAINERS)
def test_flipped_bits_never_escape(tmp_path: Path, page: Page, kind: str, options: dict[str, Any]) -> None:
    data = encoded(page, kind, options)
    rng = np.random.default_rng(12)
    path = tmp_path / "a"
    for round_ in range(25):
        broken = bytearray(data)
        reach = len(broken) if round_ % 2 else min(len(broken), 400)  # every other time among the headers
        for at in rng.integers(0, reach, rng.integers(1, 6)):
            broken[at] ^= 1 << int(rng.integers(0, 8))
        path.write_bytes(broken)
        survive(path)


MAGIC = [
    b"\xff\xd8\xff\xe0",
    b"\x89PNG\r\n\x1a\n",
    b"II*\0\x08\0\0\0",
    b"MM\0*\0\0\0\x08",
    b"II+\0\x08\0\0\0",
    b"RIFF\xff\0\0\0WEBPVP8 ",
    b"BM",
    b"%PDF-1.4\n",
    b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    b"",
]


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(magic=st.sampled_from(MAGIC), body=st.binary(max_size=300))
def test_arbitrary_bytes_behind_a_magic_number(tmp_path: Path, magic: bytes, body: bytes) -> None:
    path = tmp_path / "a"
    path.write_bytes(magic + body)
    survive(path)


def png_of(width: int, height: int) -> bytes:
    """A PNG whose header claims a size that its few bytes don't hold."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(20000, 20000), (2**31 - 1, 2**31 - 1), (14143, 14143)])
def test_bombs_are_refused_before_decoding(tmp_path: Path, size: tuple[int, int]) -> None:
    (tmp_path / "a.png").write_bytes(png_of(*size))
    text = refused(tmp_path / "a.png")
    assert "200" in text
    assert "--max-megapixels" in text


def test_the_limit_is_the_callers(tmp_path: Path, page: Page) -> None:
    (tmp_path / "a.jpg").write_bytes(encoded(page, "JPEG", {}))  # 0.0988 megapixels
    assert "--max-megapixels" in refused(tmp_path / "a.jpg", max_megapixels=0.09)
    read_capture(tmp_path / "a.jpg", max_megapixels=0.099)


def test_pictures_above_the_other_librarys_own_limit_are_read(tmp_path: Path) -> None:
    """Pillow refuses 179 megapixels and warns at 89; ours is 200, and no limit of theirs is left changed."""
    before = Image.MAX_IMAGE_PIXELS
    image = Image.new("1", (14000, 13800))
    image.save(tmp_path / "a.tif", compression="group4")
    assert read_capture(tmp_path / "a.tif").width_px == 14000
    assert before == Image.MAX_IMAGE_PIXELS


@pytest.mark.parametrize("size", [(20, 20), (1, 1), (3000, 20)])
def test_tiny_pictures_are_refused(tmp_path: Path, size: tuple[int, int]) -> None:
    Image.new("RGB", size).save(tmp_path / "a.png")
    assert f"{size[0]} x {size[1]}" in refused(tmp_path / "a.png")


def test_pictures_without_pixels_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(png_of(0, 0))
    refused(tmp_path / "a.png")
    (tmp_path / "a.bmp").write_bytes(
        struct.pack("<2s12I", b"BM", 54, 0, 54, 40, 0, 0, 1 | 24 << 16, 0, 0, 0, 0, 0) + b"\0" * 4
    )
    refused(tmp_path / "a.bmp")


def test_decoders_say_nothing_on_standard_error(
    tmp_path: Path, page: Page, capfd: pytest.CaptureFixture[str]
) -> None:
    for kind, options in CONTAINERS:
        data = bytearray(encoded(page, kind, options))
        data[len(data) // 2] ^= 0x55
        for content in (bytes(data), bytes(data[: len(data) * 2 // 3])):
            (tmp_path / "a").write_bytes(content)
            survive(tmp_path / "a")
    assert capfd.readouterr() == ("", "")


def test_the_header_reader_logs_nothing_on_standard_error(tmp_path: Path) -> None:
    """Pillow logs a TIFF's impossible sample count, which Python would print for want of a handler."""
    entries = [(256, 3, 1, 300), (257, 3, 1, 300), (258, 3, 1, 8), (262, 3, 1, 2), (277, 3, 1, 42)]
    ifd = struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHII", *entry) for entry in entries) + b"\0" * 4
    (tmp_path / "a.tif").write_bytes(b"II*\0\x08\0\0\0" + ifd)
    code = (
        "import sys\nfrom printcheck.capture.decode import read_captures\nfrom printcheck.errors import InputError\n"
        "try:\n    next(iter(read_captures(sys.argv[1])))\nexcept InputError as error:\n    print(error)\n"
    )
    run = [sys.executable, "-c", code, str(tmp_path / "a.tif")]
    done = subprocess.run(run, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    assert "damaged" in done.stdout


def test_standard_error_works_again_afterwards(tmp_path: Path, page: Page, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.jpg").write_bytes(encoded(page, "JPEG", {}))
    read_capture(tmp_path / "a.jpg")
    os.write(2, b"heard")
    assert capfd.readouterr().err == "heard"


@pytest.mark.parametrize(
    ("reason", "remedy"),
    [
        ("libGL.so.1: cannot open shared object file: No such file or directory", "libgl1"),
        ("libgthread-2.0.so.0: cannot open shared object file", "opencv-python-headless"),
        ("No module named 'cv2'", "pip install opencv-python"),
    ],
)
def test_opencv_that_cannot_start_says_how_to_mend_it(tmp_path: Path, reason: str, remedy: str) -> None:
    (tmp_path / "cv2.py").write_text(f"raise ImportError({reason!r})\n")
    code = (
        "from printcheck.capture.opencv import cv\n"
        "from printcheck.errors import PrintcheckError\n"
        "try:\n    cv()\nexcept PrintcheckError as error:\n    print(error)\n"
    )
    search = os.pathsep.join([str(tmp_path), *filter(None, sys.path)])
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": search},
        capture_output=True,
        text=True,
        check=True,
    )
    assert remedy in done.stdout
    assert done.stdout.count("\n") == 1


def test_opencv_refusal_passes_the_decoder_unchanged(
    tmp_path: Path, page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It must not be taken for a damaged image."""
    from printcheck.capture import still

    def broken() -> None:
        raise PrintcheckError("OpenCV can't start")

    monkeypatch.setattr(still, "cv", broken)
    (tmp_path / "a.jpg").write_bytes(encoded(page, "JPEG", {}))
    with pytest.raises(PrintcheckError, match="OpenCV can't start"):
        read_capture(tmp_path / "a.jpg")
    assert opencv.cv().__name__ == "cv2"
