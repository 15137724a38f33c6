"""A phone photographing a printed page that lies, a little curled, on a bench."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from printcheck.simulate.bench import background
from printcheck.simulate.control_strip import StripOnBench
from printcheck.simulate.page import PrintedPage
from printcheck.simulate.scanner import ScannerSettings, seen_page
from printcheck.simulate.spectra import sensor
from printcheck.simulate.texture import Texture
from printcheck.simulate.tone import encode_table, encoded, sensor_to_srgb
from printcheck.simulate.view import PhoneMapping, every_pixel

__all__ = ["PhoneSettings", "photograph", "processed"]

_BAND = 128


@dataclass(frozen=True, slots=True)
class PhoneSettings:
    """One phone, its light and its processing.

    Attributes
    ----------
    sensor : str
    curve : float or str
    contrast : float
        Of the S that its tone curve has on top (`tone.encode_table`).
    vividness : float
        Factor on all chroma: phones are made to please.
    matrix_share : float
        How far the colour correction goes.
    balance : (float, float, float)
        Error of white balance, factors on R, G, B.
    exposure : float
        Linear value of a perfect white in the middle.
    defocus_px : float
        Standard deviation of the point spread, px.
    motion_px, motion_deg : float
        Length and direction of camera shake.
    read_noise, shot_noise : float
        Linear, before denoising.
    chroma_blur_px : float
        What the colour mosaic costs in colour detail.
    denoise : float
        Share of luminance noise reduction, 0 to 1 (a bilateral filter mixed in).
    sharpen : float
    light_gradient, light_deg : float
        Relative fall of light across the picture's diagonal, and its direction.
    warm_gradient : float
        Change of light colour across the picture: mixed light.
    shadow, shadow_place, shadow_deg, shadow_soft_px : float
        Depth of a shadow edge (0 none), its place (-1 to 1), direction and softness.
    glare, glare_x, glare_y, glare_size : float
        Light added at a lamp's reflection, its place and size as shares of the picture.
    bench : str
        ``"wood"``, ``"cloth"``, ``"plain"`` or ``"dark"``.
    """

    sensor: str = "camera-a"
    curve: float | str = "srgb"
    matrix_share: float = 0.9
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 0.85
    defocus_px: float = 0.7
    motion_px: float = 0.0
    motion_deg: float = 0.0
    read_noise: float = 0.003
    shot_noise: float = 0.02
    chroma_blur_px: float = 1.2
    denoise: float = 0.3
    sharpen: float = 0.5
    light_gradient: float = 0.15
    light_deg: float = 0.0
    warm_gradient: float = 0.0
    shadow: float = 0.0
    shadow_place: float = 0.0
    shadow_deg: float = 0.0
    shadow_soft_px: float = 60.0
    glare: float = 0.0
    glare_x: float = 0.5
    glare_y: float = 0.5
    glare_size: float = 0.06
    bench: str = "wood"
    contrast: float = 0.0
    vividness: float = 1.0


def photograph(
    page: PrintedPage,
    settings: PhoneSettings,
    mapping: PhoneMapping,
    texture: Texture,
    rng: np.random.Generator,
    strip: StripOnBench | None = None,
) -> NDArray[np.uint8]:
    """Photograph a page, with a control strip beside it where one is given.

    Returns
    -------
    (H, W, 3) uint8
        BGR, upright as `mapping` has it.
    """
    weights = sensor(settings.sensor)
    width, height = mapping.width_px, mapping.height_px
    density = mapping.focal_px / mapping.distance_mm  # px/mm in the middle
    look = ScannerSettings(dots_per_inch=round(density * 25.4), sensor=settings.sensor, blur_px=0.42)
    sheet_seen = seen_page(page, weights, look, density, density, texture)
    light = background(settings.bench, height, width, rng)
    _lay(light, *sheet_seen, every_pixel(mapping), density)
    if strip is not None:
        piece = strip.strip
        strip_seen = seen_page(piece.page, weights, look, density, density, piece.texture)
        _lay(light, *strip_seen, strip.seen_by(mapping), density)
    _illuminate(light, settings)
    light = _blur(light, settings)
    noise = Texture(((1.0, 0.0),), rng, mean=0.0)
    matrix = (1 - settings.matrix_share) * np.eye(3) + settings.matrix_share * sensor_to_srgb(weights)
    table = encode_table(settings.curve, settings.contrast)
    y0, x0 = (int(v) for v in rng.integers(0, 9000, 2))
    image = np.empty((height, width, 3), np.uint8)
    for top in range(0, height, _BAND):
        part = light[top : top + _BAND]
        flat = np.maximum(part, 0.0).reshape(part.shape[0], -1)
        sd = np.sqrt(flat * np.float32(settings.shot_noise**2) + np.float32(settings.read_noise**2))
        flat += sd * noise.window(y0 + top, x0, *flat.shape)
        seen = np.asarray(cv2.transform(flat.reshape(part.shape), matrix[::-1].astype(np.float32)), np.float32)
        image[top : top + _BAND] = encoded(seen, 0.004, table)
    return processed(image, settings)


def _lay(
    light: NDArray[np.float32],
    source: NDArray[np.float32],
    per_mm: float,
    at_mm: tuple[NDArray[np.float32], NDArray[np.float32]],
    density: float,
) -> None:
    """Lay a print, its light `source` at `per_mm`, on the scene `light`, whose pixels look at `at_mm` on it."""
    map_x, map_y = (v * np.float32(per_mm) - np.float32(0.5) for v in at_mm)
    shade = _sheet_shadow(map_x, map_y, source.shape, density)
    height = len(light)
    for top in range(0, height, _BAND):
        rows = slice(top, min(height, top + _BAND))
        mx, my = map_x[rows], map_y[rows]
        first, last = max(0, int(my.min()) - 4), min(source.shape[0], int(my.max()) + 5)
        if last - first < 2:
            continue
        part = np.asarray(
            cv2.remap(source[first:last], mx, my - first, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        )
        inside = (
            np.clip(mx + 1.0, 0, 1) * np.clip(source.shape[1] - mx, 0, 1)
            * np.clip(my + 1.0, 0, 1) * np.clip(source.shape[0] - my, 0, 1)
        )[..., None]  # fmt: skip
        light[rows] = light[rows] * shade[rows, :, None] * (1 - inside) + part * inside


def _sheet_shadow(
    map_x: NDArray[np.float32], map_y: NDArray[np.float32], shape: tuple[int, ...], density: float
) -> NDArray[np.float32]:
    """Soft dark rim on the bench beside the sheet, 1 away from it."""
    out = np.maximum.reduce([-map_x, map_x - shape[1], -map_y, map_y - shape[0]])
    return np.asarray(1.0 - 0.35 * np.exp(-np.clip(out, 0, None) / (3.0 * density)), np.float32)


def _illuminate(light: NDArray[np.float32], s: PhoneSettings) -> None:
    """Multiply by the light that falls on the scene, add the lamp's reflection."""
    height, width = light.shape[:2]
    x = (np.arange(width, dtype=np.float32) / width - 0.5)[None, :] * 2
    y = (np.arange(height, dtype=np.float32) / height - 0.5)[:, None] * 2
    c, d = (np.float32(f(np.deg2rad(s.light_deg))) for f in (np.cos, np.sin))
    slope = (c * x + d * y) / 1.4
    field = s.exposure * (1.0 - 0.5 * s.light_gradient * (1.0 - slope)) * (1.0 - 0.08 * (x**2 + y**2))
    if s.shadow > 0:
        c, d = (np.float32(f(np.deg2rad(s.shadow_deg))) for f in (np.cos, np.sin))
        reach = (c * x + d * y - s.shadow_place) * max(width, height) / 2 / s.shadow_soft_px
        field = field * (1.0 - s.shadow / (1.0 + np.exp(-np.clip(4 * reach, -30, 30))))
    spot = np.float32(0.0)
    if s.glare > 0:
        away = ((x / 2 + 0.5 - s.glare_x) * width / height) ** 2 + (y / 2 + 0.5 - s.glare_y) ** 2
        spot = s.glare * np.exp(-0.5 * away / s.glare_size**2)
    for channel in range(3):
        warm = 1.0 + s.warm_gradient * slope * (1 - channel)
        light[..., channel] = light[..., channel] * (field * warm * np.float32(s.balance[channel])) + spot


def _blur(light: NDArray[np.float32], s: PhoneSettings) -> NDArray[np.float32]:
    """Defocus and shake."""
    if s.defocus_px > 0.2:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), s.defocus_px))
    if s.motion_px > 1:
        size = 2 * int(np.ceil(s.motion_px / 2)) + 1
        kernel = np.zeros((size, size), np.float32)
        middle = (size - 1) / 2
        for t in np.linspace(-0.5, 0.5, 8 * size):
            x = middle + t * s.motion_px * np.cos(np.deg2rad(s.motion_deg))
            y = middle + t * s.motion_px * np.sin(np.deg2rad(s.motion_deg))
            kernel[round(y), round(x)] += 1
        light = np.asarray(cv2.filter2D(light, -1, kernel / kernel.sum()))
    return light


def processed(image: NDArray[np.uint8], s: PhoneSettings) -> NDArray[np.uint8]:
    """Do what a phone does to 8-bit values: soft colour, denoising, sharpening."""
    ycc = cv2.cvtColor(image, cv2.COLOR_BGR2YCrCb)
    luma, red, blue = cv2.split(ycc)
    red, blue = (cv2.GaussianBlur(c, (0, 0), s.chroma_blur_px) for c in (red, blue))
    if s.vividness != 1.0:
        red, blue = (cv2.addWeighted(c, s.vividness, c, 0.0, 128.0 * (1.0 - s.vividness)) for c in (red, blue))
    if s.denoise > 0:
        calm = cv2.bilateralFilter(luma, 5, 18, 1.6)
        luma = cv2.addWeighted(luma, 1 - s.denoise, calm, s.denoise, 0)
    if s.sharpen > 0:
        soft = cv2.GaussianBlur(luma, (0, 0), 1.2)
        luma = cv2.addWeighted(luma, 1 + s.sharpen, soft, -s.sharpen, 0)
    return np.asarray(cv2.cvtColor(cv2.merge([luma, red, blue]), cv2.COLOR_YCrCb2BGR), np.uint8)
