"""HEIF through the optional package; the files are written by it too, so only the hand-over is tested here."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from captures import read_capture
from numpy.typing import NDArray
from PIL import Image

from printcheck.errors import InputError

Page = NDArray[np.uint8]


@pytest.fixture
def heic(tmp_path: Path, page: Page, display_p3: bytes) -> Path:
    pillow_heif = pytest.importorskip("pillow_heif")
    exif = Image.Exif()
    exif[0x0112] = 1
    exif.get_ifd(0x8769)[0x829A] = 0.01
    file = pillow_heif.from_pillow(Image.fromarray(page))
    file.save(tmp_path / "a.heic", quality=95, exif=exif.tobytes(), icc_profile=display_p3)
    return tmp_path / "a.heic"


def test_heic_gives_bgr_pixels_profile_and_camera(heic: Path, page: Page, display_p3: bytes) -> None:
    capture = read_capture(heic)
    assert capture.format == "HEIF"
    assert np.abs(capture.pixels[:, :, ::-1].astype(int) - page).mean() < 4
    assert capture.camera
    assert capture.icc == display_p3
    assert not capture.pixels.flags.writeable


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_never_mirrored_by_its_orientation(tmp_path: Path, page: Page, orientation: int) -> None:
    pillow_heif = pytest.importorskip("pillow_heif")
    from PIL import ImageOps

    undo = {1: 1, 2: 2, 3: 3, 4: 4, 5: 5, 6: 8, 7: 7, 8: 6}[orientation]
    stored = Image.fromarray(page)
    tag = Image.Exif()
    tag[0x0112] = undo
    stored.info["exif"] = tag.tobytes()
    raw = ImageOps.exif_transpose(stored)
    exif = Image.Exif()
    exif[0x0112] = orientation
    pillow_heif.from_pillow(raw).save(tmp_path / "a.heic", quality=95, exif=exif.tobytes())
    picture = read_capture(tmp_path / "a.heic").pixels[:, :, ::-1].astype(int)
    turns = [np.rot90(picture, k) for k in range(4)]
    assert min(np.abs(t - page).mean() for t in turns if t.shape == page.shape) < 4


def test_without_the_package_the_message_names_the_extra(heic: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    with pytest.raises(InputError, match=r"printcheck\[heic\]"):
        read_capture(heic)


def test_truncated_heic_is_refused(heic: Path, tmp_path: Path) -> None:
    data = heic.read_bytes()
    for share in (0.02, 0.3, 0.7, 0.97):
        (tmp_path / "b.heic").write_bytes(data[: int(len(data) * share)])
        with pytest.raises(InputError):
            read_capture(tmp_path / "b.heic")


def test_display_p3_stated_by_code_points_alone_is_not_taken_for_srgb(
    tmp_path: Path, page: Page, display_p3: bytes
) -> None:
    """Code points of Rec. ITU-T H.273: primaries 12, transfer 13; the profile with ICC must give the same colours."""
    pillow_heif = pytest.importorskip("pillow_heif")
    from printcheck.capture.profile import rgb_to_xyz_d50

    file = pillow_heif.from_pillow(Image.fromarray(page))
    path = tmp_path / "a.heic"
    file.save(path, quality=95, save_nclx_profile=True, color_primaries=12, transfer_characteristics=13)
    capture = read_capture(path)
    assert capture.profile == "Display P3"
    colours = np.random.default_rng(3).uniform(0, 1, (200, 3))
    assert np.abs(rgb_to_xyz_d50(colours, capture.icc) - rgb_to_xyz_d50(colours, display_p3)).max() < 3e-4
    file.save(path, quality=95, save_nclx_profile=True, color_primaries=1, transfer_characteristics=13)
    assert read_capture(path).icc is None
