"""What comes out of read_capture is what went into the file. Truth: the array that an outside library wrote."""

from __future__ import annotations

import dataclasses
import hashlib
import io
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from captures import read_capture
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray
from PIL import Image, ImageCms
from skimage.color import rgb2lab

from printcheck.capture.decode import read_captures
from printcheck.capture.resolution import Resolution
from printcheck.capture.result import Capture
from printcheck.capture.source import read_source
from printcheck.capture.still import read_pages
from printcheck.errors import InputError

Page = NDArray[np.uint8]


def save(path: Path, image: Image.Image, **options: Any) -> Path:
    image.save(path, **options)
    return path


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("a.png", {}),
        ("a.bmp", {}),
        ("a.webp", {"lossless": True}),
        ("a.tif", {}),
        ("a.tif", {"compression": "tiff_lzw"}),
        ("a.tif", {"compression": "tiff_adobe_deflate"}),
        ("a.tif", {"compression": "zstd"}),  # which OpenCV's wheels lack
    ],
)
@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_lossless_files_come_out_to_the_bit(
    tmp_path: Path, page: Page, name: str, options: dict[str, Any], mode: str
) -> None:
    image = Image.fromarray(page).convert(mode)
    capture = read_capture(save(tmp_path / name, image, **options))
    expected = np.asarray(image)
    if mode == "L" and name.endswith("webp"):  # WebP has no grey: it stores three equal channels
        expected = np.repeat(expected[:, :, None], 3, axis=2)
    assert_array_equal(capture.pixels, expected[:, :, ::-1] if expected.ndim == 3 else expected)
    assert (capture.width_px, capture.height_px) == (380, 260)
    assert capture.notes == ()


@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_jpeg_pixels_are_those_of_opencv(tmp_path: Path, page: Page, mode: str) -> None:
    path = save(tmp_path / "a.jpg", Image.fromarray(page).convert(mode), quality=92)
    capture = read_capture(path)
    assert_array_equal(capture.pixels, cv2.imread(str(path), cv2.IMREAD_UNCHANGED))
    assert capture.grey == (mode == "L")


def test_what_was_read_is_decoded_though_the_file_has_changed_since(tmp_path: Path, page: Page) -> None:
    path = save(tmp_path / "a.png", Image.fromarray(page))
    source = read_source(path)
    save(path, Image.fromarray(page[::-1]))
    (capture,) = read_pages(source, 200.0)
    assert isinstance(capture, Capture)
    assert_array_equal(capture.pixels, page[..., ::-1])
    assert capture.sha256 != hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.skipif(sys.platform != "linux", reason="names are text here")
def test_a_name_that_is_no_text_is_read_all_the_same(tmp_path: Path, page: Page) -> None:
    path = save(tmp_path / "a.png", Image.fromarray(page)).rename(tmp_path / os.fsdecode(b"\xff.png"))
    assert_array_equal(read_capture(path).pixels, page[..., ::-1])


@pytest.mark.parametrize("ending", ["png", "tif"])
@pytest.mark.parametrize("channels", [1, 3])
def test_sixteen_bits_stay_sixteen(tmp_path: Path, page: Page, ending: str, channels: int) -> None:
    rng = np.random.default_rng(3)
    wide = page.astype(np.uint16) * 257 + rng.integers(0, 50, page.shape, dtype=np.uint16)
    wide = wide if channels == 3 else wide[:, :, 0]
    cv2.imwrite(str(tmp_path / f"a.{ending}"), wide)
    capture = read_capture(tmp_path / f"a.{ending}")
    assert capture.pixels.dtype == np.uint16
    assert_array_equal(capture.pixels, wide)


def test_alpha_is_laid_on_white(tmp_path: Path, page: Page) -> None:
    cover = np.tile(np.linspace(0, 255, page.shape[1]).round().astype(np.uint8), (page.shape[0], 1))
    image = Image.fromarray(np.dstack([page, cover]))
    white = Image.new("RGBA", image.size, "white")
    expected = np.asarray(Image.alpha_composite(white, image).convert("RGB"))  # Pillow's own compositing
    for name in ("a.png", "a.tif"):
        capture = read_capture(save(tmp_path / name, image))
        assert_allclose(capture.pixels[:, :, ::-1].astype(int), expected, atol=1)  # rounding of one level


def test_opaque_alpha_changes_nothing_and_grey_stays_grey(tmp_path: Path, page: Page) -> None:
    assert_array_equal(
        read_capture(save(tmp_path / "a.png", Image.fromarray(page).convert("RGBA"))).pixels, page[:, :, ::-1]
    )
    grey = Image.fromarray(page).convert("LA")
    assert_array_equal(read_capture(save(tmp_path / "b.png", grey)).pixels, np.asarray(grey)[:, :, 0])


def test_padding_of_32_bit_bmp_is_not_taken_for_transparency(tmp_path: Path, page: Page) -> None:
    # BITMAPINFOHEADER, BI_RGB, 32 bit: the fourth byte is unused, and commonly zero
    import struct

    height, width = page.shape[:2]
    body = np.dstack([page[::-1, :, ::-1], np.zeros((height, width), np.uint8)]).tobytes()
    head = struct.pack("<2sIHHI", b"BM", 54 + len(body), 0, 0, 54)
    head += struct.pack("<IiiHHIIiiII", 40, width, height, 1, 32, 0, len(body), 11811, 11811, 0, 0)
    (tmp_path / "a.bmp").write_bytes(head + body)
    capture = read_capture(tmp_path / "a.bmp")
    assert_array_equal(capture.pixels, page[:, :, ::-1])
    assert capture.stated_dpi is not None
    assert capture.stated_dpi.agrees(Resolution(300, 300))


@pytest.mark.parametrize("name", ["a.png", "a.tif", "a.bmp"])
def test_palette_becomes_colours(tmp_path: Path, page: Page, name: str) -> None:
    image = Image.fromarray(page).quantize(40)
    expected = np.asarray(image.convert("RGB"))
    assert_array_equal(read_capture(save(tmp_path / name, image)).pixels[:, :, ::-1], expected)


@pytest.mark.parametrize(
    ("name", "options"), [("a.png", {}), ("a.bmp", {}), ("a.tif", {}), ("a.tif", {"compression": "group4"})]
)
def test_bilevel_becomes_black_and_white(tmp_path: Path, page: Page, name: str, options: dict[str, Any]) -> None:
    image = Image.fromarray(page).convert("1")
    expected = np.asarray(image).astype(np.uint8) * 255
    pixels = read_capture(save(tmp_path / name, image, **options)).pixels
    assert_array_equal(pixels if pixels.ndim == 2 else pixels[:, :, 1], expected)


@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_tiff_whose_zero_is_white_is_inverted(tmp_path: Path, page: Page, depth: type) -> None:
    tifffile = pytest.importorskip("tifffile")
    grey = page[:, :, 0].astype(depth) * (257 if depth is np.uint16 else 1)
    tifffile.imwrite(tmp_path / "a.tif", grey, photometric="miniswhite")
    assert_array_equal(read_capture(tmp_path / "a.tif").pixels, np.iinfo(depth).max - grey)


@pytest.mark.parametrize("layout", ["big-endian", "bigtiff", "planar", "tiled"])
def test_layouts_of_tiff(tmp_path: Path, page: Page, layout: str) -> None:
    tifffile = pytest.importorskip("tifffile")
    data = page[:256, :368]  # whole tiles
    options: dict[str, dict[str, Any]] = {
        "big-endian": {"byteorder": ">"},
        "bigtiff": {"bigtiff": True},
        "planar": {"planarconfig": "separate"},
        "tiled": {"tile": (16, 16)},
    }
    stored = np.ascontiguousarray(data.transpose(2, 0, 1)) if layout == "planar" else data
    tifffile.imwrite(tmp_path / "a.tif", stored, photometric="rgb", **options[layout])
    assert_array_equal(read_capture(tmp_path / "a.tif").pixels[:, :, ::-1], data)


def test_sixteen_bit_planes_are_read_right_or_refused(tmp_path: Path, page: Page) -> None:
    """OpenCV interleaves them wrongly, without a word."""
    tifffile = pytest.importorskip("tifffile")
    planes = np.ascontiguousarray(page.transpose(2, 0, 1)).astype(np.uint16) * 257
    tifffile.imwrite(tmp_path / "a.tif", planes, photometric="rgb", planarconfig="separate")
    try:
        pixels = read_capture(tmp_path / "a.tif").pixels
    except InputError:
        return
    assert_allclose(pixels[:, :, ::-1].astype(int) // (1 if pixels.dtype == np.uint8 else 257), page, atol=1)


@pytest.mark.parametrize("white", [1.0, 255.0])
def test_float_tiff_is_scaled_to_sixteen_bit(tmp_path: Path, page: Page, white: float) -> None:
    full = page[:, :, 0].astype(float)
    full[0, 0] = 255
    cv2.imwrite(str(tmp_path / "a.tif"), (full / 255 * white).astype(np.float32))
    capture = read_capture(tmp_path / "a.tif")
    assert capture.pixels.dtype == np.uint16
    assert_allclose(capture.pixels, full * 257, atol=1)  # float32 rounding
    assert any("16 bit" in note for note in capture.notes)


def test_twelve_bits_a_sample_are_read_to_their_own_white(tmp_path: Path, page: Page) -> None:
    """TIFF 6.0: samples are packed, two in three bytes; a scanner's 12 bits are not the darkest sixteenth of 16."""
    import struct

    height, width = page.shape[:2]
    wide = (page[:, :, 0].astype(np.uint32) * 4095 // 255).reshape(-1, 2)
    high, low = wide[:, 0], wide[:, 1]
    data = np.stack([high >> 4, (high & 15) << 4 | low >> 8, low & 255], -1).astype(np.uint8).tobytes()
    tags = {256: width, 257: height, 258: 12, 259: 1, 262: 1, 273: 8 + 2 + 9 * 12 + 4, 277: 1, 278: height}
    entries = b"".join(struct.pack("<HHII", tag, 4, 1, value) for tag, value in {**tags, 279: len(data)}.items())
    (tmp_path / "a.tif").write_bytes(b"II*\0" + struct.pack("<IH", 8, 9) + entries + bytes(4) + data)
    assert_allclose(read_capture(tmp_path / "a.tif").pixels, page[:, :, 0] * 257.0, atol=65535 / 4095)


@pytest.mark.parametrize("none", [np.nan, np.inf, -np.inf])
def test_samples_without_a_number_are_told_and_many_refused(tmp_path: Path, page: Page, none: float) -> None:
    """IEEE 754 has values that are no numbers; what a program left out so may have been a fault of the print."""
    full = (page[:, :, 0] / 255).astype(np.float32)
    full[0, 0], full[40, 40:45] = 1.0, none  # 5 of 98800
    cv2.imwrite(str(tmp_path / "few.tif"), full)
    capture = read_capture(tmp_path / "few.tif")
    assert (capture.pixels[40, 40:45] == 65535).all()
    assert "5 of 98800 samples hold no number, read as white" in capture.notes
    full[20:120, 31] = none
    cv2.imwrite(str(tmp_path / "stripe.tif"), full)
    with pytest.raises(InputError, match=r"stripe\.tif: 105 of 98800 samples hold no number"):
        read_capture(tmp_path / "stripe.tif")


@pytest.mark.parametrize("name", ["a.jpg", "a.tif"])
def test_cmyk_without_a_profile_is_read_by_the_plain_formula(tmp_path: Path, name: str) -> None:
    """R = (1 - C)(1 - K): common practice, no source. JPEG's inverted CMYK must not come out as a negative."""
    inks = {(0, 0, 0, 0): (255, 255, 255), (255, 0, 0, 0): (0, 255, 255), (0, 0, 255, 0): (255, 255, 0)}
    for cmyk, rgb in inks.items():
        options: dict[str, Any] = {"quality": 100} if name == "a.jpg" else {}
        capture = read_capture(save(tmp_path / name, Image.new("CMYK", (300, 300), cmyk), **options))
        assert_allclose(capture.pixels[150, 150, ::-1].astype(int), rgb, atol=3)
        assert any("CMYK" in note for note in capture.notes)
        assert capture.icc is None


def test_cielab_tiff_is_converted(tmp_path: Path, page: Page) -> None:
    image = Image.fromarray(page)
    srgb, lab = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
    converted = ImageCms.applyTransform(image, ImageCms.buildTransform(srgb, lab, "RGB", "LAB"))
    assert converted is not None
    capture = read_capture(save(tmp_path / "a.tif", converted))
    error = rgb2lab(capture.pixels[:, :, ::-1]) - rgb2lab(page)
    assert np.abs(error).mean() < 1.0  # a step of an 8-bit a*, b* is 1


def test_jpeg_compressed_tiff(tmp_path: Path, page: Page) -> None:
    path = save(tmp_path / "a.tif", Image.fromarray(page), compression="jpeg", quality=95)
    assert_allclose(read_capture(path).pixels[:, :, ::-1].astype(int), page, atol=40)
    assert np.abs(read_capture(path).pixels[:, :, ::-1].astype(int) - page).mean() < 3


def test_pages_of_a_tiff_come_one_at_a_time_and_in_order(tmp_path: Path, page: Page) -> None:
    pages = [Image.fromarray(page // (i + 1)) for i in range(3)]
    pages.insert(1, Image.fromarray(page[:, :, 0]))
    path = save(tmp_path / "a.tif", pages[0], save_all=True, append_images=pages[1:])
    captures = list(read_captures(path))
    assert [c.page for c in captures] == [0, 1, 2, 3]
    for capture, image in zip(captures, pages, strict=True):
        expected = np.asarray(image)
        assert_array_equal(capture.pixels, expected[:, :, ::-1] if expected.ndim == 3 else expected)


def test_a_page_that_cannot_be_read_is_passed_over(tmp_path: Path, page: Page) -> None:
    small = Image.new("RGB", (20, 20))
    path = save(tmp_path / "a.tif", small, save_all=True, append_images=[Image.fromarray(page), small])
    assert [c.page for c in read_captures(path)] == [1]


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("a.png", {"dpi": (600, 600)}),
        ("a.jpg", {"dpi": (600, 600)}),
        ("a.tif", {"dpi": (600, 600)}),
        ("a.bmp", {"dpi": (600, 600)}),
        ("a.tif", {"resolution": 236.22, "resolution_unit": "cm"}),
    ],
)
def test_stated_resolution_within_what_the_format_rounds(
    tmp_path: Path, page: Page, name: str, options: dict[str, Any]
) -> None:
    stated = read_capture(save(tmp_path / name, Image.fromarray(page), **options)).stated_dpi
    assert stated is not None
    assert stated.agrees(Resolution(600, 600))
    assert not stated.agrees(Resolution(602, 602))
    assert not stated.placeholder


def test_resolution_of_a_phone_is_a_placeholder_and_absence_is_none(tmp_path: Path, page: Page) -> None:
    image = Image.fromarray(page)
    phone = read_capture(save(tmp_path / "a.jpg", image, dpi=(72, 72))).stated_dpi
    assert phone is not None
    assert phone.placeholder
    assert read_capture(save(tmp_path / "b.png", image)).stated_dpi is None
    assert read_capture(save(tmp_path / "c.jpg", image)).stated_dpi is None


def test_camera_is_told_by_its_exposure_and_not_by_a_maker(tmp_path: Path, page: Page) -> None:
    image = Image.fromarray(page)
    scanner = Image.Exif()
    scanner[0x010F], scanner[0x0110] = "A scanner's maker", "Flatbed"  # make, model
    assert not read_capture(save(tmp_path / "a.jpg", image, exif=scanner)).camera
    phone = Image.Exif()
    phone[0x010F] = "Anyone"
    phone.get_ifd(0x8769)[0x829A] = 0.01  # exposure time
    for name in ("b.jpg", "b.png", "b.webp"):
        capture = read_capture(save(tmp_path / name, image, exif=phone))
        assert capture.camera
        assert "Anyone" not in repr(dataclasses.replace(capture, pixels=np.zeros((1, 1), np.uint8)))


def test_hash_is_of_the_file_and_the_file_is_untouched(tmp_path: Path, page: Page) -> None:
    path = save(tmp_path / "a.jpg", Image.fromarray(page))
    before, stat = path.read_bytes(), path.stat()
    capture = read_capture(path)
    assert capture.sha256 == hashlib.sha256(before).hexdigest()
    assert path.read_bytes() == before
    assert path.stat().st_mtime_ns == stat.st_mtime_ns
    assert capture.path == str(path)


def test_pixels_are_read_only(tmp_path: Path, page: Page) -> None:
    for name in ("a.jpg", "a.png", "a.tif"):
        with pytest.raises(ValueError, match="read-only"):
            read_capture(save(tmp_path / name, Image.fromarray(page))).pixels[0, 0] = 0


def test_the_ending_of_the_name_does_not_matter(tmp_path: Path, page: Page) -> None:
    assert read_capture(save(tmp_path / "scan.txt", Image.fromarray(page), format="JPEG")).format == "JPEG"


def test_bytes_after_the_end_of_a_jpeg_are_harmless(tmp_path: Path, page: Page) -> None:
    path = save(tmp_path / "a.jpg", Image.fromarray(page))
    clean = read_capture(path).pixels
    path.write_bytes(path.read_bytes() + b"\0" * 1000 + b"trailer")
    assert_array_equal(read_capture(path).pixels, clean)


def test_jpeg_with_a_second_picture_behind_it_gives_the_first(tmp_path: Path, page: Page) -> None:
    image = Image.fromarray(page)
    path = save(tmp_path / "a.jpg", image, format="MPO", save_all=True, append_images=[Image.new("RGB", (300, 300))])
    captures = list(read_captures(path))
    assert [(c.format, c.width_px) for c in captures] == [("JPEG", 380)]


def test_embedded_profile_is_kept_and_named(tmp_path: Path, page: Page, display_p3: bytes) -> None:
    for name in ("a.jpg", "a.png", "a.tif", "a.webp"):
        capture = read_capture(save(tmp_path / name, Image.fromarray(page), icc_profile=display_p3))
        assert capture.icc == display_p3
        assert capture.profile.startswith("Display P3")
    assert read_capture(save(tmp_path / "b.jpg", Image.fromarray(page))).profile == "sRGB assumed"


def test_damaged_profile_is_noted_and_srgb_assumed(tmp_path: Path, page: Page, display_p3: bytes) -> None:
    capture = read_capture(save(tmp_path / "a.jpg", Image.fromarray(page), icc_profile=display_p3[:300]))
    assert capture.icc is None
    assert capture.profile == "sRGB assumed"
    assert any("sRGB assumed" in note for note in capture.notes)


def _transposed(page: Page, orientation: int) -> Page:
    """The stored raster of an upright `page`, by EXIF 2.3 (CIPA DC-008), 4.6.4 A, figure of tag 274."""
    stored: dict[int, Callable[[Page], Page]] = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],  # 0th column is the right-hand side
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.transpose(1, 0, 2),  # 0th row is the left side, 0th column the top
        6: lambda a: np.rot90(a, 1),  # 0th row right side, 0th column top
        7: lambda a: a[::-1, ::-1].transpose(1, 0, 2),
        8: lambda a: np.rot90(a, -1),
    }
    return np.ascontiguousarray(stored[orientation](page))


@pytest.mark.parametrize("ending", ["jpg", "png", "webp", "tif"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_no_orientation_leaves_the_picture_mirrored(
    tmp_path: Path, page: Page, ending: str, orientation: int
) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    options: dict[str, Any] = {"quality": 100} if ending == "jpg" else {"lossless": True} if ending == "webp" else {}
    image = Image.fromarray(_transposed(page, orientation))
    if ending == "tif":
        path = save(tmp_path / "a.tif", image, tiffinfo={274: orientation})
    else:
        path = save(tmp_path / f"a.{ending}", image, exif=exif, **options)
    capture = read_capture(path)
    assert capture.orientation == orientation
    assert capture.mirrored_by_exif == (orientation in (2, 4, 5, 7))
    assert (capture.width_px, capture.height_px) == image.size
    # Some rotation, never a reflection, of the upright picture: the page has no symmetry
    picture = capture.pixels[:, :, ::-1].astype(int)
    errors = [
        np.abs(np.rot90(picture, k) - page).mean() for k in range(4) if np.rot90(picture, k).shape == page.shape
    ]
    assert min(errors) < 3.0
    # Pillow's own transposition agrees that the file is upright after it
    with Image.open(path) as check:
        from PIL import ImageOps

        upright = np.asarray(ImageOps.exif_transpose(check).convert("RGB")).astype(int)
    assert np.abs(upright - page).mean() < 3.0


def test_reading_costs_no_second_copy_of_a_jpeg(tmp_path: Path, page: Page) -> None:
    """The array is OpenCV's own, not a conversion of it."""
    capture = read_capture(save(tmp_path / "a.jpg", Image.fromarray(page)))
    assert capture.pixels.flags.c_contiguous
    assert capture.pixels.dtype == np.uint8


def test_a_cmyk_jpeg_in_memory_is_what_pillow_wrote(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    Image.new("CMYK", (300, 260), (0, 255, 255, 0)).save(buffer, "JPEG", quality=100)
    (tmp_path / "a.jpg").write_bytes(buffer.getvalue())
    assert_allclose(read_capture(tmp_path / "a.jpg").pixels[5, 5, ::-1].astype(int), (255, 0, 0), atol=3)


@pytest.mark.parametrize(
    ("ending", "how", "halved"),
    [
        ("jpg", {"subsampling": 0}, False),
        ("jpg", {"subsampling": 1}, True),  # 4:2:2
        ("jpg", {"subsampling": 2}, True),
        ("webp", {"quality": 80}, True),  # RFC 6386, 2: VP8's pictures are 4:2:0
        ("webp", {"quality": 80, "exif": b"Exif\0\0MM\0*\0\0\0\x08\0\0"}, True),  # RFC 9649, 2.7: an extended file
        ("webp", {"lossless": True}, False),
        ("png", {}, False),
    ],
)
def test_a_file_says_whether_it_keeps_chroma_at_half_the_resolution(
    tmp_path: Path, ending: str, how: dict[str, Any], halved: bool
) -> None:
    path = tmp_path / f"picture.{ending}"
    pixels = np.random.default_rng(2).integers(0, 255, (240, 256, 3), np.uint8)
    Image.fromarray(pixels).save(path, **how)
    assert next(read_captures(path)).chroma_halved == halved
