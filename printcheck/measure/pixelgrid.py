"""A photo of a display that shows the sheet, told from a photo of paper by the display's grid of pixels.

A display's pixels are a lattice of light sources, so bare paper shown on it is crossed by a sinusoid that keeps its
frequency over tens of millimetres: a line in the spectrum, where paper and a camera's noise have a continuum and the
8 x 8 blocks of JPEG have lines only at multiples of an eighth of the sampling frequency. The camera may show it at
another frequency (moire: f and f - 1 a pixel look alike), but whichever it was, one frequency on the page explains
what is seen everywhere, however the perspective changes the picture's. It lies along the page's own axes, as a
displayed page stands upright on its display, and shows in green, as every display pixel emits it; the dots of a
tinted paper's screen lie at other angles (15, 45 and 75 degrees are usual), and yellow's, along the axes, leave green
alone.

A grid that the lens does not resolve (a display with much finer pixels than the camera's, or a picture out of focus)
leaves nothing to tell by.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.errors import RescanError
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.pattern.layout import Layout
from printcheck.register.result import Registration

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["display_pitch", "line_in", "refuse_display", "windows_of"]

_SIDE_PX = 64  # of a window: 5 mm in a photo of 12 megapixels
_WINDOWS = 24  # over the page, at most: more tell no more and cost time
_LEAST_WINDOWS = 8  # looked at before paper is believed to be paper
_TURNS = 4  # every fourth window is looked at first, so that the first few lie all over the page
_CLEAR_MM = 1.8  # of a mark
_INWARD_MM, _OUTWARD_MM = 1.6, 4.5  # bare paper beside the column of marks
_STEP_MM = 1.0  # over which the local map is measured
_LINE = LIMITS["display_line"].value
_AMPLITUDE = LIMITS["display_amplitude"].value
_LOWEST = 0.04  # cycles a pixel: slower than this, it is the light
_NEAR, _CORE = 6, 2  # bins about a line that are its surroundings, and that are the line's own (Hann's main lobe)
_BLOCK = _SIDE_PX // 8  # JPEG's blocks: lines at multiples of so many bins
_OF_BLOCKS = 0.3  # bins off such a multiple: a line so near it is the blocks'
_ASKEW = np.tan(np.deg2rad(3.5))  # a page stands no further askew on its display
_PER_MM = (2.6, 12.0)  # display pixels a mm of the page: 770 to 3560 over an A4 page's height
_ALIKE = 0.012  # relative difference, and angle in rad, within which two frequencies of the page are the same
_SHARE = LIMITS["display_share"].value
_BRIGHT = 252.0  # mean of a burnt-out window, which shows nothing
_ALIASES = np.array([(i / 2, j / 2) for i in range(-2, 3) for j in range(-2, 3) if (i + j) % 2 == 0])
"""What sampling may have taken from a frequency: whole cycles a pixel, and as green is sampled in two of each four
pixels of a colour mosaic, in the squares of one colour of a chessboard, half a cycle along both axes at once."""
_ELSEWHERE = np.deg2rad(10.0)  # off the page's axes, from which lines may be the dots of a printed screen


def refuse_display(pixels: Pixels, registration: Registration) -> None:
    """Refuse a photo of a display: its rows are those of whatever picture is shown, at the display's resolution.

    Raises
    ------
    RescanError
        There is a display in the picture, and no paper.
    """
    pitch = display_pitch(pixels, registration)
    if pitch is not None:
        text = "this is a picture of a screen; photograph the printed sheet itself"
        raise RescanError(text, measure="display", value=pitch, unit="mm")


def display_pitch(pixels: Pixels, registration: Registration) -> float | None:
    """Pitch, in mm of the page, of the pixels of a display that is in the picture; none where there is no display.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
        Grey or BGR.
    registration : Registration
    """
    found = []
    windows = 0
    for centre, (x, y) in windows_of(pixels, registration):
        part = pixels[y : y + _SIDE_PX, x : x + _SIDE_PX]
        green = np.asarray(part if part.ndim == 2 else part[..., 1], np.float32)
        if pixels.dtype == np.uint16:
            green = green / np.float32(257)
        mean = cv2.mean(green)[0]
        if mean > _BRIGHT:
            continue
        windows += 1
        line = line_in(green, mean)
        if line is not None:
            found.append((line, _local(registration, centre)))
        elif windows == _LEAST_WINDOWS and len(found) < 2:  # paper: that will do
            return None
    if windows < _LEAST_WINDOWS or len(found) < _SHARE * windows:
        return None
    return _common_pitch(found, windows)


def windows_of(pixels: Pixels, registration: Registration) -> list[tuple[NDArray[np.float64], tuple[int, int]]]:
    """Windows of bare paper between the marks: the middle on the page, (2,) mm, and the corner (x, y) in px.

    In an order in which the first few lie all over the page.
    """
    side_mm = _SIDE_PX / min(registration.px_per_mm_x, registration.px_per_mm_y)
    places = []
    for box in _margins(registration.layout):
        count = int(box.height // side_mm)
        if box.width < side_mm or not count:
            continue
        places += [(box.centre[0], box.y0 + (k + 0.5) * box.height / count) for k in range(count)]
    keep = sorted({round(k) for k in np.linspace(0, len(places) - 1, min(_WINDOWS, len(places)))})
    centres = np.array([places[k] for k in keep]).reshape(-1, 2)
    if not len(centres):
        return []
    corners = np.round(registration.to_px(centres) - _SIDE_PX / 2).astype(int)
    room = np.array([pixels.shape[1], pixels.shape[0]]) - _SIDE_PX
    inside = [
        (centre, (int(x), int(y)))
        for centre, (x, y) in zip(centres, corners, strict=True)
        if x >= 0 and y >= 0 and x <= room[0] and y <= room[1]
    ]
    return [window for first in range(_TURNS) for window in inside[first::_TURNS]]


def _margins(layout: Layout) -> list[Box]:
    """Bare paper between the marks down either side of the page."""
    out = []
    middle = layout.width_mm / 2
    for left in (True, False):
        marks = [mark.box for mark in layout.marks if abs(mark.box.centre[0] - middle) > middle / 2]
        marks = sorted((box for box in marks if (box.centre[0] < middle) == left), key=lambda box: box.y0)
        for above, below in itertools.pairwise(marks):
            inward, outward = (_INWARD_MM, _OUTWARD_MM) if left else (_OUTWARD_MM, _INWARD_MM)
            gap = Box(above.x0 - outward, above.y1 + _CLEAR_MM, above.x1 + inward, below.y0 - _CLEAR_MM)
            if gap.height > 0:
                out.append(gap)
    return out


def _weights() -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """A window's taper, and the weights with which lines are sought among its bins: at first, and beside blocks' own.

    Paper's clouds die away with frequency, in amplitude about as its inverse, so lines are sought in the power times
    the square of the frequency.
    """
    taper = np.hanning(_SIDE_PX + 1)[:-1].astype(np.float32)
    turn = np.minimum(np.arange(_SIDE_PX), _SIDE_PX - np.arange(_SIDE_PX))
    fy, fx = turn[:, None], turn[None, :]
    weight = (fx**2 + fy**2).astype(np.float32)
    weight[np.hypot(fx, fy) < _LOWEST * _SIDE_PX] = 0
    weight[:, _SIDE_PX // 2 + 1 :] = 0  # their opposites
    off_y, off_x = (np.minimum(f % _BLOCK, _BLOCK - f % _BLOCK) for f in (fy, fx))
    return np.outer(taper, taper), weight, np.where((off_y <= 1) & (off_x <= 1), np.float32(0), weight)


_TAPER, _ANYWHERE, _BESIDE_BLOCKS = _weights()
_TAPER_SUM = float(_TAPER.sum())
_AROUND = np.arange(-_NEAR, _NEAR + 1)  # bins about a line
_SURROUNDINGS = np.maximum(*np.abs(np.meshgrid(_AROUND, _AROUND))) > _CORE


def line_in(green: NDArray[np.float32], mean: float) -> NDArray[np.float64] | None:
    """Frequency (2,) (x, y), cycles a pixel, of the line that stands out of a window's spectrum; none if none does.

    Parameters
    ----------
    green : (64, 64) float32
    mean : float
        Of `green`.
    """
    spectrum = cv2.dft((green - np.float32(mean)) * _TAPER, flags=cv2.DFT_COMPLEX_OUTPUT)
    power = spectrum[..., 0] ** 2 + spectrum[..., 1] ** 2
    least = (_AMPLITUDE * mean * _TAPER_SUM / 2) ** 2
    line = _strongest(power, _ANYWHERE, least)
    if line is not None and np.abs(line - _BLOCK * np.round(line / _BLOCK)).max() < _OF_BLOCKS:
        line = _strongest(power, _BESIDE_BLOCKS, least)
    return None if line is None else line / _SIDE_PX


def _strongest(power: NDArray[np.float32], weight: NDArray[np.float32], least: float) -> NDArray[np.float64] | None:
    """Place (2,) (x, y), bins, of the strongest line where `weight` looks; none where it doesn't stand out."""
    y, x = divmod(int((power * weight).argmax()), _SIDE_PX)
    peak = float(power[y, x])
    if peak < least:
        return None
    block = power[(y + _AROUND[:, None]) % _SIDE_PX, (x + _AROUND) % _SIDE_PX]
    if peak < block[_NEAR - 1 : _NEAR + 2, _NEAR - 1 : _NEAR + 2].max():  # the flank of one where nothing is sought
        return None
    # power of noise is exponential, its median ln 2 of the mean; a line near half the sampling frequency has its
    # mirror image among the surroundings, which would sway a mean
    if peak < _LINE * float(np.median(block[_SURROUNDINGS])) / np.log(2):
        return None
    beside = slice(_NEAR - 1, _NEAR + 2)
    return np.array([x + _vertex(block[_NEAR, beside]), y + _vertex(block[beside, _NEAR])])


def _vertex(power: NDArray[np.float32]) -> float:
    """Where between bins a line lies: a parabola through the logarithms of three, which fits Hann's lobe closely."""
    a, b, c = (float(v) for v in np.log(power + 1e-9))
    curve = a - 2 * b + c
    return float(np.clip(0.5 * (a - c) / curve, -0.5, 0.5)) if curve < 0 else 0.0


def _local(registration: Registration, centre: NDArray[np.float64]) -> NDArray[np.float64]:
    """Picture px a mm of the page, (2, 2): columns for the page's x and y."""
    steps = _STEP_MM * np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    px = registration.to_px(centre + steps)
    return np.stack([px[0] - px[1], px[2] - px[3]], axis=1) / (2 * _STEP_MM)


def _common_pitch(found: list[tuple[NDArray[np.float64], NDArray[np.float64]]], windows: int) -> float | None:
    """The pitch of a grid along the page's axes that explains the lines of enough windows."""
    candidates = []
    for number, (line, local) in enumerate(found):
        on_page = np.abs((line + _ALIASES) @ local)  # cycles a mm of the page, for each frequency it may be
        along = np.hypot(*on_page.T)
        straight = on_page.min(axis=1) < _ASKEW * on_page.max(axis=1)
        right = straight & (along > _PER_MM[0]) & (along < _PER_MM[1])
        candidates += [(float(np.log(f)), number) for f in along[right]]
    candidates.sort()
    places = np.array([place for place, _ in candidates])
    best, share = 0.0, 0.0
    for start, place in enumerate(places):
        stop = int(np.searchsorted(places, place + _ALIKE))
        agreeing = len({number for _, number in candidates[start:stop]}) / windows
        if agreeing > share:
            best, share = float(np.median(places[start:stop])), agreeing
    if share < _SHARE or _printed_screen(found):
        return None
    return float(np.exp(-best))


def _printed_screen(found: list[tuple[NDArray[np.float64], NDArray[np.float64]]]) -> bool:
    """True where the lines as seen are one frequency of the page, well off its axes: a tinted paper's dots.

    A lattice of dots has two, a right angle apart, and either may stand out in a window.
    """
    on_page = np.array([(line - np.round(line)) @ local for line, local in found])
    angle = np.arctan2(on_page[:, 1], on_page[:, 0]) % (np.pi / 2)
    logarithm = np.log(np.hypot(*on_page.T))
    middle, usual = float(np.median(angle)), float(np.median(logarithm))
    near = (np.abs(angle - middle) < _ALIKE) & (np.abs(logarithm - usual) < _ALIKE)
    return bool(near.mean() > _SHARE and _ELSEWHERE < middle < np.pi / 2 - _ELSEWHERE)
