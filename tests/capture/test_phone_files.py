"""From the files phones write to the verdict: Display P3 profiles, in JPEG and in HEIC.

A phone encodes in Display P3 (tagged so); whoever ignores the tag sees every colour a little grey. The conversion to
it is littleCMS's, through Pillow; rows and colours must be those of the same photo in sRGB.
"""

from __future__ import annotations

import io
import tomllib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from printcheck.document import ScoredSheet
from printcheck.pipeline import score_image

SAMPLES = Path(__file__).parents[2] / "sample_scans"


@pytest.fixture(scope="module")
def photo() -> Image.Image:
    return Image.open(SAMPLES / "four-ink-phone.jpg").convert("RGB")


@pytest.fixture(scope="module")
def in_p3(photo: Image.Image, display_p3: bytes) -> Image.Image:
    space = ImageCms.ImageCmsProfile(io.BytesIO(display_p3))
    intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
    out = ImageCms.profileToProfile(photo, ImageCms.createProfile("sRGB"), space, renderingIntent=intent)
    assert out is not None
    return out


@pytest.fixture(scope="module")
def as_srgb(photo: Image.Image, tmp_path_factory: pytest.TempPathFactory) -> ScoredSheet:
    path = tmp_path_factory.mktemp("srgb") / "photo.jpg"
    photo.save(path, quality=95, subsampling=0)
    return score_image(path).sheet


def written(picture: Image.Image, path: Path, icc: bytes | None) -> Path:
    tag = {} if icc is None else {"icc_profile": icc}
    if path.suffix == ".heic":
        heif = pytest.importorskip("pillow_heif", reason="the extra 'heic' is not installed")
        heif.from_pillow(picture).save(path, quality=90, chroma=444, enc_params={"preset": "ultrafast"}, **tag)
    else:
        picture.save(path, quality=95, subsampling=0, **tag)
    return path


def solids(sheet: ScoredSheet) -> np.ndarray:
    return np.array([solid.lab for solid in sheet.solids], float)


@pytest.mark.parametrize("name", ["photo.jpg", "photo.heic"])
def test_a_photo_in_display_p3_is_the_photo_in_srgb(
    name: str, in_p3: Image.Image, display_p3: bytes, as_srgb: ScoredSheet, tmp_path: Path
) -> None:
    sheet = score_image(written(in_p3, tmp_path / name, display_p3)).sheet
    assert sheet.assessment.action.value == "purge"
    expected = tomllib.loads((SAMPLES / "four-ink-phone.toml").read_text())["missing"]
    assert {lines.ink: sorted({*lines.missing, *lines.intermittent}) for lines in sheet.lines} == expected
    off = np.linalg.norm(solids(sheet) - solids(as_srgb), axis=1)
    assert off.max() < 1.0  # 8 bits twice, and another JPEG


def test_the_tag_is_what_makes_it_so(in_p3: Image.Image, as_srgb: ScoredSheet, tmp_path: Path) -> None:
    sheet = score_image(written(in_p3, tmp_path / "untagged.jpg", None)).sheet
    off = np.linalg.norm(solids(sheet) - solids(as_srgb), axis=1)
    assert off.max() > 4.0
