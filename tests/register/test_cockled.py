"""A sheet in waves under a camera: its dashes and strips tell where they lie better than marks around them do.

The waves are a closed form, seen from a point above the page's middle (similar triangles), and drawn by OpenCV.
"""

from __future__ import annotations

import numpy as np
import pytest
from drawn_pages import Drawn, bent, drawn_page, rms_mm

from printcheck.register.rails import strip_middles
from printcheck.register.result import Registration
from printcheck.register.sheet import register_sheet

PX_PER_MM = 300 / 25.4
CAMERA_MM = 330.0  # above the desk: a page fills a phone's picture from there
WAVE_MM = 1.2  # as ink-wet or rolled paper lies; from memory
REFUSED_MM = 0.2  # what the verdict's policy allows


@pytest.fixture(scope="module")
def drawn() -> Drawn:
    return drawn_page(300)


def _shift(points: np.ndarray, drawn: Drawn) -> np.ndarray:
    middle = np.array([drawn.layout.width_mm, drawn.layout.height_mm]) / 2
    x, y = (points / (2 * middle)).T
    up = WAVE_MM * np.sin(2 * np.pi * (1.3 * y + 0.4 * x))
    return (points - middle) * (up / (CAMERA_MM - up))[:, None]


def _pictured(drawn: Drawn) -> np.ndarray:
    def back(u, v):
        seen = np.stack([u.ravel() + 0.5, v.ravel() + 0.5], axis=1) / PX_PER_MM
        page = seen
        for _ in range(4):  # the inverse of a small displacement, by iteration
            page = seen - _shift(page, drawn)
        return page[:, 0].reshape(u.shape), page[:, 1].reshape(u.shape)

    return bent(drawn, back, (round(drawn.layout.width_mm * PX_PER_MM), round(drawn.layout.height_mm * PX_PER_MM)))


@pytest.fixture(scope="module")
def picture(drawn: Drawn) -> np.ndarray:
    return _pictured(drawn)


@pytest.fixture(scope="module")
def found(picture: np.ndarray) -> Registration:
    return register_sheet(picture)


def _true(points: np.ndarray, drawn: Drawn) -> np.ndarray:
    return (points + _shift(points, drawn)) * PX_PER_MM - 0.5


def test_a_sheet_in_waves_is_known_where_it_is_read(found: Registration, drawn: Drawn) -> None:
    """The marks alone would have refused it: between them a wave can be anything."""
    assert found.marks_doubt_mm > REFUSED_MM
    assert found.doubt_mm < REFUSED_MM
    ends = np.concatenate([np.array(ladder.box.corners) for ladder in drawn.layout.ladders])
    off = (found.to_px(ends) - _true(ends, drawn)) / PX_PER_MM
    assert np.abs(off[:, 1]).max() < 0.06


def test_strips_in_waves_lie_where_the_map_says(found: Registration, drawn: Drawn) -> None:
    down = [
        (strip.box.centre[0], y)
        for strip in drawn.layout.patches
        if strip.kind == "strip"
        for y in np.linspace(strip.box.y0, strip.box.y1, 25)
    ]
    points = np.array(down)
    sideways = (found.to_px(points) - _true(points, drawn))[:, :1]
    assert rms_mm(sideways, np.zeros_like(sideways), PX_PER_MM) < 0.05


def test_without_a_ladder_to_tell_the_marks_doubt_stays(picture: np.ndarray, found: Registration) -> None:
    """A dead ink's ladder shows nothing, and where its dashes would stand is then between marks."""
    box = found.layout.ladders[1].box.inset(-0.3)
    corners = found.to_px(np.array(box.corners))
    (left, top), (right, bottom) = corners.min(axis=0).astype(int), corners.max(axis=0).astype(int)
    bare = picture.copy()
    bare[top:bottom, left:right] = 232
    assert register_sheet(bare).doubt_mm > REFUSED_MM


def test_a_strip_tells_how_far_it_lies_to_the_side(drawn: Drawn) -> None:
    straight = register_sheet(drawn.pixels)
    moved = np.roll(drawn.pixels, 4, axis=1)  # 0.34 mm
    readings = strip_middles(moved, straight)
    assert len(readings) > 60
    assert readings[:, 2] == pytest.approx(4 / PX_PER_MM, abs=0.02)
