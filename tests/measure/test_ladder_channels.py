"""Yellow's lines in JPEGs whose chroma is halved, as Pillow writes them: no simulator takes part."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from captures import read_capture
from drawn_pages import drawn_page
from PIL import Image

from printcheck.geometry import Box
from printcheck.measure.ladder_channels import read_ladders
from printcheck.register.sheet import register_sheet

DRAWN = drawn_page(600)
WEAK = (13, 37, 58, 64, 81)
LEFT = 0.7  # of the light that the dashes of these rows take
BLUR_PX = 0.7  # of the optics


def part_of(light: np.ndarray, box: Box, more: int = 0) -> np.ndarray:
    left, top, right, foot = (round(v * 600 / 25.4) for v in (box.x0, box.y0, box.x1, box.y1))
    return light[top - 1 : foot + 1, left - more : right + more]


def picture(path: Path, dots_per_inch: float, **written: object) -> Path:
    """The drawn page with weak yellow rows, in linear light averaged to other pixels, blurred and encoded."""
    light = np.power(DRAWN.pixels / 255.0, 2.2).astype(np.float32)
    paper = light[5, 5].copy()
    for ladder in DRAWN.layout.ladders_of("Y"):
        for row in WEAK:
            part = part_of(light, ladder.dash(row), 3)
            part[:] = paper - LEFT * (paper - part)
    scale = dots_per_inch / 600.0
    size = round(light.shape[1] * scale), round(light.shape[0] * scale)
    small = cv2.GaussianBlur(cv2.resize(light, size, interpolation=cv2.INTER_AREA), (0, 0), BLUR_PX)
    noise = np.random.default_rng(4).normal(0.0, 1.0, small.shape)
    encoded = 255.0 * np.power(np.clip(small, 0.0, 1.0), 1 / 2.2) + noise
    rgb = np.clip(np.rint(encoded), 0, 255).astype(np.uint8)[..., ::-1]
    Image.fromarray(np.ascontiguousarray(rgb)).save(path, dpi=(dots_per_inch,) * 2, **written)
    return path


@pytest.mark.parametrize(
    ("dots_per_inch", "written"),
    [
        (217.0, {"quality": 92, "subsampling": "4:2:0"}),
        (300.0, {"quality": 82, "subsampling": "4:2:0"}),
        (300.0, {"quality": 92, "subsampling": "4:4:4"}),
    ],
)
def test_weak_yellow_lines_of_a_photo_read_as_strong_as_they_are(tmp_path, dots_per_inch, written) -> None:
    capture = replace(read_capture(picture(tmp_path / "photo.jpg", dots_per_inch, **written)), camera=True)
    signals = read_ladders(capture, register_sheet(capture.pixels), DRAWN.layout.ladders_of("Y"), "Y")
    halved = written["subsampling"] == "4:2:0"
    for signal in signals:
        assert signal.in_luma is halved
        strength = signal.amplitude / signal.level
        sound = np.delete(strength, WEAK)
        assert strength[list(WEAK)] == pytest.approx(LEFT, abs=0.08)
        assert np.mean(strength[list(WEAK)]) == pytest.approx(LEFT, abs=0.04)
        assert np.std(sound) < 0.05


def test_a_coarse_scan_is_read_in_luma_only_where_chroma_holds_no_lines(tmp_path) -> None:
    """Two values of halved chroma are as long as lines stand apart at 200 dots/inch (Nyquist's theorem)."""
    ladders = DRAWN.layout.ladders_of("Y")
    for dots_per_inch, quality, luma in ((200.0, 85, True), (300.0, 92, False)):
        scan = picture(tmp_path / "scan.jpg", dots_per_inch, quality=quality, subsampling="4:2:0")
        capture = read_capture(scan)
        first, second = read_ladders(capture, register_sheet(capture.pixels), ladders, "Y")
        assert first.in_luma is second.in_luma is luma
