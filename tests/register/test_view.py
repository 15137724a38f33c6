"""Views against bilinear interpolation by the formula, on pictures whose place on the page is an affine map."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from printcheck.geometry import Box
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.register.result import Registration
from printcheck.register.view import LUMA, look_at

PER_MM = 6.0
BOX = Box(10.0, 12.0, 17.0, 20.0)


def placed(turned: bool) -> Registration:
    """A page slightly askew, and 1.3 % larger along y than the samples taken are far apart."""
    layout = build_layout(load_head("tri-100"), page_named("A4"))
    along, down = np.array([PER_MM, 0.05]), np.array([-0.05, PER_MM * 1.013])
    if turned:
        along, down = along[::-1], down[::-1]
    to_px = np.eye(3)
    to_px[:2, 0], to_px[:2, 1], to_px[:2, 2] = along, down, 3.3
    return Registration(layout, "", to_px, None, 14, 0.0, None, PER_MM, PER_MM * 1.013, 0.0, 0.0, ())


def shares(registration: Registration, x_mm: np.ndarray, y_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whole pixels and shares of the next ones at every pair of the places, (H, W, 2) each."""
    at = registration.to_px(np.stack(np.meshgrid(x_mm, y_mm), axis=-1).reshape(-1, 2))
    at = at.reshape(len(y_mm), len(x_mm), 2)
    return np.floor(at).astype(int), at - np.floor(at)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("box", [BOX, Box(10.0, 12.0, 61.0, 63.0)])  # large ones are mapped in bands
def test_light_is_interpolated_as_light(box: Box, turned: bool) -> None:
    pixels = np.random.default_rng(3).integers(0, 256, (400, 400)).astype(np.uint8)
    registration = placed(turned)
    view = look_at(pixels, registration, box, light=True)
    value = pixels / 255.0  # IEC 61966-2-1
    light = np.where(value > 0.04045, ((value + 0.055) / 1.055) ** 2.4, value / 12.92)
    whole, part = shares(registration, view.x_mm, view.y_mm)
    (i, j), (f, g) = np.moveaxis(whole, -1, 0), np.moveaxis(part, -1, 0)
    above = (1 - f) * light[j, i] + f * light[j, i + 1]
    below = (1 - f) * light[j + 1, i] + f * light[j + 1, i + 1]
    # OpenCV knows shares to a 32nd of a pixel
    assert view.values == pytest.approx((1 - g) * above + g * below, abs=0.04)


@pytest.mark.parametrize("turned", [False, True])
def test_what_interpolating_spread_is_the_variance_of_two_pixels_in_their_shares(turned: bool) -> None:
    registration = placed(turned)
    view = look_at(np.zeros((160, 160), np.uint8), registration, BOX)
    left = np.array([10.5, 13.0, 14.0, 10.5])
    right = left + np.array([0.0, 0.01, 2.0, 6.0])  # of these the last crosses a third of a pixel
    within = np.linspace(left, right, 101)
    share = shares(registration, within.ravel(), view.y_mm)[1][..., 0 if turned else 1].reshape(-1, *within.shape)
    assert np.ptp(share) > 0.9  # all there are
    expected = (share * (1 - share)).mean(axis=1) / view.px_per_mm_y**2
    every = np.arange(len(view.values))[None]
    assert view.softened(every, left[None], right[None])[0] == pytest.approx(expected, abs=0.03 / view.px_per_mm_y**2)


@pytest.mark.parametrize("turned", [False, True])
def test_a_slanting_page_crosses_rows_of_pixels(turned: bool) -> None:
    view = look_at(np.zeros((160, 160), np.uint8), placed(turned), BOX)
    assert view.slant() == pytest.approx(0.05)  # as it was put there


@pytest.mark.parametrize("turned", [False, True])
def test_points_lie_among_the_rows_of_pixels_where_the_map_puts_them(turned: bool) -> None:
    """From a row that isn't told, but a whole one: the share of a pixel is the map's own."""
    registration = placed(turned)
    view = look_at(np.zeros((160, 160), np.uint8), registration, BOX)
    points = np.random.default_rng(7).uniform((BOX.x0, BOX.y0), (BOX.x1, BOX.y1), (40, 2))
    rows = view.rows_px(points)
    assert rows is not None
    off = registration.to_px(points)[:, 0 if turned else 1] - rows
    assert off == pytest.approx(np.full(40, round(float(off[0]))), abs=1e-6)
    assert look_at(np.zeros((160, 160), np.uint8), registration, BOX, nearest=True).rows_px(points) is None


@pytest.mark.parametrize("turned", [False, True])
def test_coarse_steps_of_a_jpegs_chroma_leave_luma_alone(turned: bool) -> None:
    """A grey picture whose chroma is noise within a step, written and read by libjpeg through Pillow."""
    noise = np.random.default_rng(5).normal(128.0, 12.0, (160, 160, 3)).clip(0, 255).astype(np.uint8)
    noise[..., 0] = 128  # of Y, Cb, Cr
    file = io.BytesIO()
    Image.fromarray(noise, "YCbCr").save(file, "JPEG", quality=85, subsampling="4:2:0")
    pixels = np.ascontiguousarray(np.asarray(Image.open(file).convert("RGB"))[..., ::-1])
    scatter = [float(look_at(pixels, placed(turned), BOX, channel).values.std()) for channel in (LUMA, 1)]
    assert scatter[1] > 1.0  # the green channel shows it
    assert scatter[0] < 0.5 * scatter[1]
    assert scatter[0] < 0.6  # of a level: what rounding three channels leaves
