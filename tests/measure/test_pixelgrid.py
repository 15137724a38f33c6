"""The grid of a display's pixels, told from paper, noise, JPEG's blocks and the dots of tinted paper.

Pictures are painted as light over the page, seen through a plane's perspective; no simulator takes part. Frequencies
are put in in cycles a mm of the page, and come back as the pitch.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.errors import RescanError
from printcheck.measure.pixelgrid import display_pitch, refuse_display
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.register.result import Registration, apply_homography

LAYOUT = build_layout(load_head("tri-100"), page_named("A4"))
PER_MM = 9.0  # a photo of 6 megapixels
Light = Callable[[NDArray[np.float32], NDArray[np.float32]], NDArray[np.float32]]


@lru_cache(maxsize=1)
def grain(height: int, width: int) -> NDArray[np.float32]:
    return np.random.default_rng(0).standard_normal((height, width), np.float32)


def seen(
    light: Light, *, tilt: float = 0.1, roll: float = 2.0, noise: float = 1.5, quality: int | None = 92
) -> tuple[NDArray[np.uint8], Registration]:
    """A picture (H, W, 3) of a page of `light` at page x and y in mm, and where the page lies in it.

    `tilt` is the relative change of scale down the page.
    """
    c, s = np.cos(np.deg2rad(roll)), np.sin(np.deg2rad(roll))
    lean = tilt / LAYOUT.height_mm
    to_px = np.array([[PER_MM * c, -PER_MM * s, 240.0], [PER_MM * s, PER_MM * c, 60.0], [lean / 4, lean, 1.0]])
    width, height = 2250, 2800
    back = np.linalg.inv(to_px).astype(np.float32)
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    w = back[2, 0] * x + back[2, 1] * y + back[2, 2]
    page_x, page_y = ((back[k, 0] * x + back[k, 1] * y + back[k, 2]) / w for k in (0, 1))
    value = 215 * light(page_x, page_y) + noise * grain(height, width)
    image = cv2.cvtColor(np.clip(np.rint(value), 0, 255).astype(np.uint8), cv2.COLOR_GRAY2BGR)
    if quality is not None:
        _, data = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
        image = cv2.imdecode(data, cv2.IMREAD_COLOR)
    step = apply_homography(to_px, np.array([[105.0, 148.0], [106.0, 148.0], [105.0, 149.0]]))
    scale = np.hypot(*(step[1:] - step[0]).T)
    return image, Registration(LAYOUT, "", to_px, None, 14, 0.0, None, *scale, roll, tilt, ())


def grid(per_mm: float, depth: float = 0.03, along: str = "xy") -> Light:
    """Pixels of a display, `per_mm` to a mm of the page: the lowest harmonic of their pitch along each axis."""

    def light(x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
        out = np.ones_like(x)
        for name, place in (("x", x), ("y", y)):
            if name in along:
                out += depth * np.cos(2 * np.pi * per_mm * place)
        return out

    return light


def dots(per_inch: float, degrees: float, depth: float = 0.1) -> Light:
    """A tint of paper: a square lattice of soft dots."""

    def light(x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
        across = 2 * np.pi * per_inch / 25.4
        turn = [float(across * part(np.deg2rad(degrees))) for part in (np.cos, np.sin)]
        return 0.9 + depth / 2 * (np.cos(turn[0] * x + turn[1] * y) + np.cos(-turn[1] * x + turn[0] * y))

    return light


def plain(x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.ones_like(x)


@pytest.mark.parametrize("per_mm", [1080 / 297, 1600 / 297, 2160 / 297], ids=["1080 rows", "1600 rows", "2160 rows"])
@pytest.mark.parametrize(("tilt", "roll"), [(0.02, 0.5), (0.25, 4.0), (0.15, 92.0)])
def test_a_displays_pitch_is_found_below_and_above_the_sampling_limit(
    per_mm: float, tilt: float, roll: float
) -> None:
    """2160 rows are 0.81 cycles a pixel of this picture: they show as a moire of 0.19."""
    picture, registration = seen(grid(per_mm), tilt=tilt, roll=roll if roll < 45 else 0.0)
    if roll > 45:  # a quarter turn: the picture's x runs along the page's y
        picture = np.ascontiguousarray(cv2.rotate(picture, cv2.ROTATE_90_CLOCKWISE))
        turn = np.array([[0.0, -1.0, picture.shape[1] - 1.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
        registration = Registration(
            LAYOUT, "", turn @ registration.homography, None, 14, 0.0, None, registration.px_per_mm_x,
            registration.px_per_mm_y, 90.0, tilt, (),
        )  # fmt: skip
    assert display_pitch(picture, registration) == pytest.approx(1 / per_mm, rel=0.01)


@pytest.mark.parametrize("along", ["x", "y"])
def test_lines_along_one_axis_are_enough(along: str) -> None:
    """Between the rows of many displays there is hardly a gap."""
    assert display_pitch(*seen(grid(5.4, along=along))) == pytest.approx(1 / 5.4, rel=0.01)


def test_the_reason_names_the_screen_and_what_to_do() -> None:
    with pytest.raises(RescanError, match="picture of a screen; photograph the printed sheet itself") as refusal:
        refuse_display(*seen(grid(5.4)))
    assert refusal.value.measure == "display"
    refuse_display(*seen(plain))


@pytest.mark.parametrize(("noise", "quality"), [(0.0, None), (0.0, 90), (0.7, 75), (4.0, None), (4.0, 50)])
def test_paper_noise_and_the_blocks_of_jpeg_are_no_display(noise: float, quality: int | None) -> None:
    def uneven(x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
        return 0.8 + 0.001 * x - 0.0005 * y  # light from one side, which blocks cut into steps

    assert display_pitch(*seen(uneven, noise=noise, quality=quality)) is None


def test_edges_of_blocks_along_the_pages_own_axes_are_no_display() -> None:
    """A light line at every eighth pixel, the picture square to the page: JPEG at its worst."""

    def edges(x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
        first = [np.floor(place * np.float32(PER_MM) + np.float32(0.5)) % 8 == 0 for place in (x, y)]
        return 1 - 0.04 * (first[0] | first[1]).astype(np.float32)

    assert display_pitch(*seen(edges, tilt=0.0, roll=0.0, quality=None)) is None


@pytest.mark.parametrize("degrees", [15.0, 22.5, 37.0, 45.0, 75.0])
@pytest.mark.parametrize(("per_inch", "tilt", "roll"), [(106.0, 0.2, 3.0), (141.0, 0.0, 0.0), (150.0, 0.1, 1.0)])
def test_the_dots_of_tinted_paper_are_no_display(per_inch: float, degrees: float, tilt: float, roll: float) -> None:
    """Screens of 106 to 150 lines/inch at the angles that offset and laser printers use."""
    assert display_pitch(*seen(dots(per_inch, degrees), tilt=tilt, roll=roll)) is None


@pytest.mark.parametrize("apart", [1.0, 5.0])
def test_ruled_paper_is_no_display(apart: float) -> None:
    """Squared paper has its lines every 1 or 5 mm: far coarser than any display that shows a readable sheet."""

    def ruled(x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
        off = np.minimum(np.abs(x % apart - apart / 2), np.abs(y % apart - apart / 2))
        return 1 - 0.3 * np.exp(-0.5 * (off / 0.1) ** 2)

    assert display_pitch(*seen(ruled)) is None


def test_a_burnt_out_picture_tells_nothing() -> None:
    assert display_pitch(*seen(lambda x, y: 1.3 * grid(5.4)(x, y), noise=0.0)) is None


def test_grey_and_16_bit_pictures_are_read_alike() -> None:
    picture, registration = seen(grid(5.4))
    expected = display_pitch(picture, registration)
    assert expected is not None
    grey = np.ascontiguousarray(picture[..., 1])
    assert display_pitch(grey, registration) == pytest.approx(expected)
    assert display_pitch(grey.astype(np.uint16) * 257, registration) == pytest.approx(expected)


def test_where_the_sheet_barely_peeps_in_nothing_is_claimed() -> None:
    picture, registration = seen(grid(5.4))
    assert display_pitch(picture[:400], registration) is None
