"""What is taken for a scan: limits of flatbeds and common resolutions, both from memory."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.capture.resolution import Resolution
from printcheck.capture.result import Capture
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.register.kind import capture_kind
from printcheck.register.result import Registration

LAYOUT = build_layout(load_head("mono-416"), page_named("A4"))


def kind(
    dpi: float,
    perspective: float,
    stated: Resolution | None = None,
    camera: bool = False,
    size_px: tuple[int, int] = (2480, 3508),
) -> str:
    per_mm = dpi / 25.4
    plane = np.diag([per_mm, per_mm, 1.0])
    registration = Registration(LAYOUT, "", plane, None, 14, 0.0, None, per_mm, per_mm, 0.0, perspective, ())
    pixels = np.zeros((2, 2), np.uint8)
    return capture_kind(
        Capture("a.jpg", "", "JPEG", 0, *size_px, pixels, 1, stated, None, "sRGB assumed", camera, ()), registration
    )


@pytest.mark.parametrize(
    ("dpi", "perspective", "stated", "camera", "said"),
    [
        (300, 0.0005, Resolution(300, 300), False, "scan"),
        (291, 0.003, Resolution(300, 300), False, "scan"),  # printed a little smaller
        (300, 0.0005, None, False, "scan"),  # a scan whose file lost its resolution
        (606, 0.0005, Resolution(72, 72), False, "scan"),
        (300, 0.0005, Resolution(300, 300), True, "photo"),
        (300, 0.02, Resolution(300, 300), False, "photo"),
        (271, 0.0005, None, False, "photo"),  # held quite level, but no scanner has such a resolution
        (271, 0.0005, Resolution(72, 72), False, "photo"),
        (295, 0.003, None, False, "photo"),  # at a scanner's by chance, but not flat enough
    ],
)
def test_a_scan_is_flat_and_at_a_scanners_resolution(dpi, perspective, stated, camera, said) -> None:
    assert kind(dpi, perspective, stated, camera) == said


@pytest.mark.parametrize(
    ("size_px", "stated", "said"),
    [
        ((2550, 3300), None, "scan"),  # Letter
        ((4200, 2550), None, "scan"),  # Legal, across
        ((4000, 3000), None, "photo"),  # 12 megapixels, held level: 345 x 258 mm lie on no such bed
        ((3507, 4960), Resolution(300, 300), "scan"),  # A3, and the file says so
    ],
)
def test_a_picture_of_more_than_lies_on_a_bed_is_a_photo_unless_it_tells_its_resolution(
    size_px, stated, said
) -> None:
    """ISO 216 and ANSI paper sizes; the beds are from memory."""
    assert kind(295, 0.0005, stated, size_px=size_px) == said
