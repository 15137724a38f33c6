"""Hairlines of known width, waviness and blur, drawn by area at sixteen times the capture's resolution."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from printcheck.measure.linequality import read_hairline

PER_MM = 600 / 25.4
FINE = 16


def draw(sheet, line, width_mm: float, wave_um: float = 0.0, blur_mm: float = 0.0) -> None:
    """Lay a line of `width_mm` along the middle of `line`'s box, edges waving together by an r.m.s. of `wave_um`."""
    box = line.box
    x0, x1 = round((box.x0 - 1.5) * PER_MM), round((box.x1 + 1.5) * PER_MM)
    y0, y1 = round((box.y0 - 1.5) * PER_MM), round((box.y1 + 1.5) * PER_MM)
    y = (np.arange((y1 - y0) * 2) + 0.5) / 2 / PER_MM + y0 / PER_MM
    x = (np.arange((x1 - x0) * FINE) + 0.5) / FINE / PER_MM + x0 / PER_MM
    rng = np.random.default_rng(3)
    knots = rng.standard_normal(len(y) // 8 + 2) * wave_um / 1000  # new every 4 pixels, 0.17 mm
    shift = np.repeat(knots, 8)[: len(y)]
    middle = (box.x0 + box.x1) / 2 + shift
    cover = (np.abs(x[None, :] - middle[:, None]) < width_mm / 2).astype(np.float32)
    cover = cover.reshape((y1 - y0), 2, (x1 - x0), FINE).mean(axis=(1, 3))
    cover[: round(1.5 * PER_MM)] = 0
    cover[-round(1.5 * PER_MM) :] = 0
    if blur_mm:
        cover = cv2.GaussianBlur(cover, (0, 0), blur_mm * PER_MM)
    sheet.light[y0:y1, x0:x1] = 1 - 0.95 * cover


def upright(sheet):
    return next(h for h in sheet.layout.hairlines if h.along == "y")


@pytest.mark.parametrize("width_mm", [0.25, 0.35])
def test_width_is_read_back(drawn, width_mm) -> None:
    sheet = drawn("mono-416", 600)
    line = upright(sheet)
    draw(sheet, line, width_mm)
    found = read_hairline(sheet.pixels(0.002), sheet.registration, line)
    assert found is not None
    # at 60 % the edge lies a tenth of a pixel inside the half-way contour: 0.2 px of the width
    assert found.width_mm == pytest.approx(width_mm, abs=0.012)
    assert found.raggedness_mm < 0.004
    assert found.broken == 0.0


def test_blurriness_is_the_ten_to_ninety_rise_of_a_gaussian_edge(drawn) -> None:
    sheet = drawn("mono-416", 600)
    line = upright(sheet)
    draw(sheet, line, 0.5, blur_mm=0.07)
    found = read_hairline(sheet.pixels(0.002), sheet.registration, line)
    assert found is not None
    # 10 to 90 % of a normal distribution: 2 x 1.2816 standard deviations; pixel and interpolation add step^2 / 4
    sd = math.hypot(0.07, 1 / PER_MM / 2)
    assert found.blurriness_mm == pytest.approx(2 * 1.2816 * sd, rel=0.06)


def test_raggedness_is_the_edges_scatter(drawn) -> None:
    sheet = drawn("mono-416", 600)
    line = upright(sheet)
    draw(sheet, line, 0.3, wave_um=25.0)
    found = read_hairline(sheet.pixels(0.002), sheet.registration, line)
    assert found is not None
    # waves of 0.17 mm read in steps of 0.1 mm: some are averaged
    assert 0.017 < found.raggedness_mm < 0.027
    assert found.width_mm == pytest.approx(0.3, abs=0.02)


def test_a_broken_line_tells_its_gaps(drawn) -> None:
    sheet = drawn("mono-416", 600)
    line = upright(sheet)
    draw(sheet, line, 0.3)
    y0 = line.box.y0 + 2.0
    sheet.light[round(y0 * PER_MM) : round((y0 + 1.6) * PER_MM)] = 1.0
    found = read_hairline(sheet.pixels(0.002), sheet.registration, line)
    assert found is not None
    assert found.broken == pytest.approx(1.6 / (line.box.height - 1.6), abs=0.03)


def test_nothing_is_read_at_300_dots_per_inch_or_without_a_line(drawn) -> None:
    coarse = drawn("mono-416", 300)
    assert read_hairline(coarse.pixels(), coarse.registration, upright(coarse)) is None
    bare = drawn("mono-416", 600)
    assert read_hairline(bare.pixels(), bare.registration, upright(bare)) is None
