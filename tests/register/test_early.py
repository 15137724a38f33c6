"""A sheet found on a half-size copy: the map is that of the whole, and whatever is amiss is left to the whole."""

from __future__ import annotations

import os
import warnings
from pathlib import Path

import cv2
import numpy as np
import pytest
from drawn_pages import drawn_page, map_points, page_grid, placed, rms_mm, similarity
from PIL import Image

from printcheck.capture.glance import factor_of, reduced_size, whole_size
from printcheck.pipeline import score_image
from printcheck.register.sheet import look_early, register_early, register_sheet

HALF_MM = 0.02  # as at 300 dots/inch, which is what half of 600 is


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    drawn = drawn_page(600, "mono-416")
    to_px, size = similarity(600, -3.0, drawn.layout)
    path = tmp_path_factory.mktemp("early") / "large.jpg"
    cv2.imwrite(str(path), placed(drawn, to_px, size), [cv2.IMWRITE_JPEG_QUALITY, 90])
    return path


def half_of(path: Path, max_megapixels: float = 200) -> np.ndarray | None:
    size = whole_size(path, max_megapixels)
    return None if size is None else reduced_size(path, size, 2)


def test_half_a_large_jpeg_is_the_mean_of_two_by_two(large: Path) -> None:
    half = half_of(large)
    whole = cv2.imread(str(large))
    assert half is not None
    mean = cv2.resize(whole, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    height, width = (min(a, b) for a, b in zip(half.shape[:2], mean.shape[:2], strict=True))
    difference = half[:height, :width].astype(int) - mean[:height, :width]
    assert abs(difference.mean()) < 0.5
    assert difference.std() < 6  # rounding of JPEG's coefficients


def test_the_map_of_half_a_picture_doubled_is_that_of_the_whole(large: Path) -> None:
    drawn = drawn_page(600, "mono-416")
    to_px, _ = similarity(600, -3.0, drawn.layout)
    half = half_of(large)
    assert half is not None
    glimpse = register_early(half)
    assert glimpse is not None
    whole = np.full((10, 10, 3), 255, np.uint8)  # never looked at
    found = register_sheet(whole, glimpse)
    grid = page_grid(drawn.layout)
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), 600 / 25.4) < HALF_MM
    assert found.px_per_mm_x == pytest.approx(600 / 25.4, rel=5e-4)


def test_where_half_is_too_coarse_it_only_says_where_to_look() -> None:
    drawn = drawn_page(200)
    to_px, size = similarity(200, 2.0, drawn.layout)
    picture = placed(drawn, to_px, size)
    half = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    glimpse = register_early(half)
    assert glimpse is not None
    assert glimpse.registration is None
    grid = page_grid(drawn.layout)
    found = register_sheet(picture, glimpse)
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), 200 / 25.4) < 1.5 * HALF_MM


def test_no_sheet_no_glimpse() -> None:
    assert register_early(np.full((2000, 1500, 3), 230, np.uint8)) is None


def test_other_files_are_left_to_the_reading_proper(large: Path, tmp_path: Path) -> None:
    image = Image.open(large)
    image.save(tmp_path / "page.png")
    image.resize((900, 1200)).save(tmp_path / "small.jpg")
    image.convert("L").save(tmp_path / "grey.jpg")
    exif = Image.Exif()
    exif[0x0112] = 2  # EXIF 2.3 (CIPA DC-008): mirrored left to right
    image.save(tmp_path / "mirrored.jpg", exif=exif)
    (tmp_path / "cut.jpg").write_bytes(large.read_bytes()[:90_000])
    (tmp_path / "folder.jpg").mkdir()
    os.mkfifo(tmp_path / "pipe.jpg")
    names = ("page.png", "small.jpg", "grey.jpg", "mirrored.jpg", "cut.jpg", "folder.jpg", "pipe.jpg", "none.jpg")
    assert [name for name in names if half_of(tmp_path / name) is not None] == []
    assert half_of(large, 20) is None


def test_a_second_core_changes_no_verdict(large: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = []
    for count in (1, 2):
        monkeypatch.setattr("printcheck.machine.cores", lambda count=count: count)
        sheet = score_image(large).sheet
        answers.append((sheet.assessment.action, sheet.layout, [lines.missing for lines in sheet.lines]))
    assert answers[0] == answers[1]


def test_a_damaged_header_says_nothing_on_standard_error(
    large: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, recwarn: pytest.WarningsRecorder
) -> None:
    """An EXIF block that ends within its first entry (EXIF 2.3, 4.6.2): the library warns at each look."""
    cut = tmp_path / "cut.jpg"
    block = b"Exif\0\0MM\0*\0\0\0\x08\xff\xff\x01\x12\0\3\0\0\0\x01"
    Image.open(large).save(cut, exif=block, quality=90, dpi=(600, 600))
    monkeypatch.setattr("printcheck.machine.cores", lambda: 2)
    looked = []

    def register(half: np.ndarray) -> object:
        looked.append(half)
        return register_early(half)

    monkeypatch.setattr("printcheck.pipeline.register_early", register)
    warnings.simplefilter("always")  # as errors they would end the thread, and nobody would hear of it
    assert score_image(cut).sheet.layout is not None
    assert [str(warning.message) for warning in recwarn] == []
    assert len(looked) == 1  # it is still looked at early


def quarter_of(path: Path) -> np.ndarray:
    size = whole_size(path, 200)
    assert size is not None
    assert factor_of(size) == 4
    quarter = reduced_size(path, size, 4)
    assert quarter is not None
    return quarter


def test_a_quarter_of_a_photo_shows_where_its_sheet_lies(tmp_path: Path) -> None:
    """As large as a photo of 12 megapixels; odd sides, of which a quarter is rounded up (ISO/IEC 10918-1, A.1.1)."""
    drawn = drawn_page(300, "mono-416")
    to_px, size = similarity(300, 91.0, drawn.layout)
    picture = placed(drawn, to_px, size)[:-3, :-2]
    path = tmp_path / "photo.jpg"
    cv2.imwrite(str(path), picture, [cv2.IMWRITE_JPEG_QUALITY, 90])
    glimpse = look_early(quarter_of(path), 4)
    assert glimpse is not None
    found = register_sheet(picture, glimpse)
    grid = page_grid(drawn.layout)
    assert rms_mm(found.to_px(grid), map_points(to_px, grid), 300 / 25.4) < HALF_MM


def test_a_quarter_that_shows_no_whole_sheet_says_nothing(tmp_path: Path) -> None:
    drawn = drawn_page(300, "mono-416")
    to_px, size = similarity(300, 0.0, drawn.layout)
    picture = placed(drawn, to_px, size)
    corners = np.asarray(map_points(to_px, np.array(drawn.layout.marks[0].box.corners))).astype(int)
    cv2.rectangle(picture, corners.min(axis=0).tolist(), corners.max(axis=0).tolist(), (250, 250, 250), -1)
    path = tmp_path / "covered.jpg"
    cv2.imwrite(str(path), picture, [cv2.IMWRITE_JPEG_QUALITY, 90])
    assert look_early(quarter_of(path), 4) is None


@pytest.mark.parametrize(
    ("size", "factor"),
    [((3000, 4000), 4), ((4000, 3000), 4), ((7016, 4960), 2), ((1500, 4000), 2), ((4000, 6000), 2)],
)
def test_what_takes_long_to_decode_is_registered_meanwhile(size: tuple[int, int], factor: int) -> None:
    assert factor_of(size) == factor
