"""A phone photographing a display that shows a scan of a sheet: no print at all.

A display is a lattice of light sources with dark between them: each channel's light is its picture times a periodic
function, a Fourier series over the pixel pitch. A camera integrates that over its own pixels and its lens's blur,
which weakens every harmonic by what both transmit at its frequency in the picture, and samples it: a harmonic above
half the sampling frequency returns at another one (moire). The colour mosaic samples red and blue at half the rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from printcheck.simulate.phone import PhoneSettings, processed
from printcheck.simulate.texture import Texture
from printcheck.simulate.tone import encode_table, encoded
from printcheck.simulate.view import PhoneMapping, every_pixel

__all__ = ["Display", "photograph_display"]

_ORDERS = 2  # harmonics of the pitch along each axis
_LEAST = 2e-3  # of the mean light: weaker ones drown in noise
_COARSE = 16  # px; what optics pass changes slowly over the picture
_FLARE = 0.004  # light of the room in the display's glass


@dataclass(frozen=True, slots=True)
class Display:
    """One display.

    Attributes
    ----------
    rows : int
        Pixels over which the page's height is shown.
    columns_of_colour : bool
        Each pixel is a red, a green and a blue column, as in nearly all liquid-crystal displays; else green stands in
        every pixel and red and blue in every second, like the squares of a chessboard.
    open_x, open_y : float
        Share of the pixel's width that one colour's source takes, and of its height.
    """

    rows: int
    columns_of_colour: bool = True
    open_x: float = 0.28
    open_y: float = 0.8

    def terms(self) -> list[tuple[float, float, NDArray[np.complex128]]]:
        """Fourier terms of the light: cycles a pixel along x and y, and the amplitudes (3,) in blue, green and red.

        One of each pair of opposite frequencies, with twice its amplitude; the mean, 1, is left out.
        """
        step = 1.0 if self.columns_of_colour else 0.5
        orders = np.arange(-_ORDERS, _ORDERS + step, step)
        out = []
        for m, n in ((float(m), float(n)) for m in orders for n in orders if (m, n) > (0, 0)):
            size = 2 * np.sinc(m * self.open_x) * np.sinc(n * self.open_y)
            if self.columns_of_colour:
                turns, has = m * np.array([5 / 6, 1 / 2, 1 / 6]), np.ones(3)
            else:
                turns = np.array([m, (m + n) / 2, 0.0])  # blue one pixel beside red, green between them
                whole, both = m % 1 == 0 and n % 1 == 0, (m + n) % 1 == 0
                has = np.array([both, whole, both])
            out.append((m, n, size * has * np.exp(-2j * np.pi * turns)))
        return out


def photograph_display(
    shown: NDArray[np.uint8],
    display: Display,
    settings: PhoneSettings,
    mapping: PhoneMapping,
    rng: np.random.Generator,
) -> NDArray[np.uint8]:
    """Photograph a display that shows the picture `shown` (H, W, 3) BGR of a page; returns BGR as `mapping` has it.

    `mapping` takes mm of the page to pixels; the page's height is shown over `display.rows` pixels.
    """
    pitch = mapping.feed.height_mm / display.rows
    width = round(mapping.feed.width_mm / pitch)
    table = ((np.arange(256) / 255.0) ** 2.2).astype(np.float32)
    content = cv2.LUT(cv2.resize(shown, (width, display.rows), interpolation=cv2.INTER_AREA), table)
    x_mm, y_mm = every_pixel(mapping)
    u, v = x_mm / np.float32(pitch), y_mm / np.float32(pitch)
    seen = cv2.remap(content, u - 0.5, v - 0.5, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    light = cv2.multiply(seen, _grid(u, v, display, settings.defocus_px)) + np.float32(_FLARE)
    seen = light * np.float32(settings.exposure)
    seen = _mosaicked(np.asarray(seen, np.float32), settings, rng)
    image = np.asarray(encoded(seen, 0.004, encode_table(settings.curve)), np.uint8)
    return processed(image, settings)


def _grid(u: NDArray[np.float32], v: NDArray[np.float32], display: Display, defocus_px: float) -> NDArray[np.float32]:
    """How the display's pixels modulate the light, (H, W, 3), as the camera's pixels integrate it.

    `u` and `v` (H, W) are the places on the display that the pixels look at, in its own pixels.
    """
    coarse = [part[::_COARSE, ::_COARSE] for part in (u, v)]
    slopes = [np.gradient(part, axis=axis) / _COARSE for part in coarse for axis in (1, 0)]
    out = np.ones((*u.shape, 3), np.float32)
    for m, n, amplitudes in display.terms():
        across, down = m * slopes[0] + n * slopes[2], m * slopes[1] + n * slopes[3]  # cycles a pixel of the camera
        blur = np.exp(-2 * (np.pi * defocus_px) ** 2 * (across**2 + down**2))
        passed = (np.sinc(across) * np.sinc(down) * blur).astype(np.float32)
        if np.abs(passed).max() * np.abs(amplitudes).max() < _LEAST:
            continue
        passed = cv2.resize(passed, (u.shape[1], u.shape[0]), interpolation=cv2.INTER_LINEAR)
        phase = np.float32(2 * np.pi) * (np.float32(m) * u + np.float32(n) * v)
        even, odd = np.cos(phase) * passed, np.sin(phase) * passed
        for channel, amplitude in enumerate(amplitudes):
            out[..., channel] += np.float32(amplitude.real) * even - np.float32(amplitude.imag) * odd
    return np.maximum(out, 0, out=out)


def _mosaicked(light: NDArray[np.float32], s: PhoneSettings, rng: np.random.Generator) -> NDArray[np.float32]:
    """`light` (H, W, 3) with noise, once each pixel has seen one channel and the other two were guessed."""
    raw = light[..., 1].copy()
    raw[::2, ::2], raw[1::2, 1::2] = light[::2, ::2, 2], light[1::2, 1::2, 0]
    noise = Texture(((1.0, 0.0),), rng, mean=0.0)
    sd = np.sqrt(np.maximum(raw, 0) * np.float32(s.shot_noise**2) + np.float32(s.read_noise**2))
    raw += sd * noise.window(0, 0, *raw.shape)
    wide = np.asarray(np.clip(raw, 0, 1) * 65535, np.uint16)
    # OpenCV names a mosaic by its second row's second and third pixel
    return np.asarray(cv2.demosaicing(wide, cv2.COLOR_BayerBG2BGR_EA), np.float32) / np.float32(65535)
