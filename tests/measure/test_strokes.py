"""Strips whose swaths step left and right by a known distance, drawn by area; and ink laid beside their edges."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from printcheck.measure.evenness import spray_of
from printcheck.measure.profile import Profile, read_strip_profiles
from printcheck.measure.strokes import read_strokes

FINE = 32


def draw(sheet, offset_mm: float, advance_mm: float, phase: float = 0.3, blur_px: float = 0.7) -> Profile:
    """Paint the strip of K, odd swaths moved by `offset_mm`, and read it."""
    layout, per_mm = sheet.layout, sheet.registration.px_per_mm_x
    strip = layout.patches_of("strip", "K")[0]
    box = strip.box
    x0, x1 = round((box.x0 - 1.5) * per_mm), round((box.x1 + 1.5) * per_mm)
    y0, y1 = round(box.y0 * per_mm), round(box.y1 * per_mm)
    x = (np.arange((x1 - x0) * FINE) + 0.5) / FINE / per_mm + x0 / per_mm
    covers = []
    for shift in (0.0, offset_mm):
        on = ((x > box.x0 + shift) & (x < box.x1 + shift)).astype(float)
        covers.append(on.reshape(-1, FINE).mean(axis=1))
    y = (np.arange(y1 - y0) + 0.5) / per_mm + y0 / per_mm
    odd = np.floor(y / advance_mm + phase) % 2 == 1
    cover = np.where(odd[:, None], covers[1], covers[0])
    sheet.light[y0:y1, x0:x1] = 1 - 0.9 * cover
    sheet.light = cv2.GaussianBlur(sheet.light, (0, 0), blur_px)
    paper = next(p.box for p in layout.papers if p.near == "strip-K")
    profile = read_strip_profiles(sheet.pixels(0.006), sheet.registration, [(strip, paper)])[0]
    assert profile is not None
    return profile


@pytest.mark.parametrize("dots_per_inch", [300, 600])
@pytest.mark.parametrize(("offset_um", "trimmed"), [(12, 0), (40, 0), (25, 9)])
def test_the_step_between_swaths_is_read_back(drawn, dots_per_inch, offset_um, trimmed) -> None:
    sheet = drawn("mono-416", dots_per_inch)
    swath, advance = 416 * 25.4 / 600, (416 - trimmed) * 25.4 / 600
    found = read_strokes(draw(sheet, offset_um / 1000, advance), [swath])
    assert found is not None
    assert found.offset_mm == pytest.approx(offset_um / 1000, rel=0.12, abs=0.001)
    assert found.ci95[0] <= offset_um / 1000 <= found.ci95[1]
    assert found.advance_mm == pytest.approx(advance, rel=0.01)


def test_a_paper_that_moves_by_another_inks_swath_is_seen_too(drawn) -> None:
    found = read_strokes(draw(drawn(), 0.02, 192 * 25.4 / 600), [416 * 25.4 / 600, 192 * 25.4 / 600])
    assert found is not None
    assert found.offset_mm == pytest.approx(0.02, rel=0.12)


def test_strokes_in_line_show_no_step(drawn) -> None:
    found = read_strokes(draw(drawn(), 0.0, 17.6), [17.6])
    assert found is not None
    assert found.offset_mm == 0.0
    assert found.ci95[0] == 0.0
    assert found.ci95[1] < 0.02
    assert found.advance_mm is None


def test_a_step_that_follows_no_swath_is_not_the_strokes(drawn) -> None:
    found = read_strokes(draw(drawn(), 0.03, 13.0), [17.6])
    assert found is None or found.offset_mm == 0.0


@pytest.mark.parametrize(("veil", "seen"), [(0.0, False), (0.25, True)])
def test_ink_beside_the_right_edge_is_spray(drawn, veil, seen) -> None:
    sheet = drawn("mono-416", 600)
    box = sheet.layout.patches_of("strip", "K")[0].box
    per_mm = 600 / 25.4
    sheet.paint(box, 20.0)
    columns = slice(round((box.x1 + 0.02) * per_mm), round((box.x1 + 0.5) * per_mm))
    sheet.light[round(box.y0 * per_mm) : round(box.y1 * per_mm), columns] *= 1 - veil
    sheet.light = cv2.GaussianBlur(sheet.light, (0, 0), 0.8)
    paper = next(p.box for p in sheet.layout.papers if p.near == "strip-K")
    pairs = [(sheet.layout.patches_of("strip", "K")[0], paper)]
    profile = read_strip_profiles(sheet.pixels(), sheet.registration, pairs)[0]
    assert profile is not None
    spray = spray_of("K", profile)
    assert spray is not None
    assert spray.seen is seen
    assert spray.right == pytest.approx(veil, abs=0.05)
    assert abs(spray.left) < 0.03


def test_spray_is_not_told_from_a_soft_picture(drawn) -> None:
    sheet = drawn()
    assert spray_of("K", draw(sheet, 0.0, 17.6, blur_px=3.0)) is None
