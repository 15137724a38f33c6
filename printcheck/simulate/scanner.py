"""A flatbed scanner looking at a printed page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from printcheck.simulate.dust import Speck, draw_specks
from printcheck.simulate.inks import Floats
from printcheck.simulate.mapping import ScanMapping
from printcheck.simulate.page import SeenPage
from printcheck.simulate.spectra import sensor
from printcheck.simulate.stream import blurred
from printcheck.simulate.texture import Texture
from printcheck.simulate.tone import encode_table, encoded, sensor_to_srgb

__all__ = ["ScannerSettings", "scan_page", "seen_page"]

_BAND = 128  # output rows done at once


@dataclass(frozen=True, slots=True)
class ScannerSettings:
    """One scanner and how it is set.

    Attributes
    ----------
    dots_per_inch : int
    sensor : str
        Name in ``spectra.SENSORS``.
    curve : float or str
        Tone curve: ``"srgb"`` or an exponent.
    matrix_share : float
        How far the maker's correction to sRGB is applied: 0 raw channels, 1 fully.
    blur_px : float
        Standard deviation of the point spread, in scan pixels, aperture included.
    white_level : float
        Linear value that a perfect white gets.
    flare : float
        Stray light added, as a share of white.
    read_noise, shot_noise : float
        Standard deviations at black, and additional at white, linear.
    row_noise : float
        Noise common to a scan line, at white.
    column_gain_sd : float
        Sensor elements' calibration error.
    banding, banding_period_mm : float
        The scanner's own: relative amplitude along its travel.
    gradient : float
        Fall-off of the lamp from the middle to the ends, relative.
    sharpen : float
        Unsharp mask: share of the difference from a 1 px blur that is added.
    lid : (float, float, float)
        Linear R, G, B beside the paper.
    """

    dots_per_inch: int = 300
    sensor: str = "scanner-lamp-a"
    curve: float | str = "srgb"
    matrix_share: float = 1.0
    blur_px: float = 0.55
    white_level: float = 0.98
    flare: float = 0.005
    read_noise: float = 0.002
    shot_noise: float = 0.008
    row_noise: float = 0.0
    column_gain_sd: float = 0.001
    banding: float = 0.0
    banding_period_mm: float = 5.0
    gradient: float = 0.02
    sharpen: float = 0.0
    lid: tuple[float, float, float] = (0.8, 0.8, 0.8)


def scan_page(
    page: SeenPage,
    settings: ScannerSettings,
    mapping: ScanMapping,
    texture: Texture,
    specks: tuple[Speck, ...],
    rng: np.random.Generator,
) -> NDArray[np.uint8]:
    """Scan a page.

    Parameters
    ----------
    texture : Texture
        Of the paper's reflectance, mean 1, on the page's fine raster.
    specks : tuple of Speck
        On the glass, in image pixels before quarter turns.

    Returns
    -------
    (H, W, 3) uint8
        BGR.
    """
    weights = sensor(settings.sensor)
    source, per_mm = seen_page(page, weights, settings, mapping.px_per_mm_x, mapping.px_per_mm_y, texture)
    rgb_mix = (1 - settings.matrix_share) * np.eye(3) + settings.matrix_share * sensor_to_srgb(weights)
    mix = settings.white_level * (1.0 - settings.flare) * rgb_mix[::-1]  # to BGR
    noise = Texture(((1.0, 0.0),), rng, mean=0.0)
    table = encode_table(settings.curve)
    lid = settings.lid
    width, height = mapping.width_px, mapping.height_px
    columns = np.arange(width, dtype=float)
    lamp = 1.0 - settings.gradient * ((columns - width / 2) / (width / 2)) ** 2
    lamp = lamp * (1.0 + settings.column_gain_sd * rng.standard_normal(width))
    y_mm = np.arange(height) / mapping.px_per_mm_y
    rows = 1.0 + settings.banding * np.sin(2 * np.pi * y_mm / settings.banding_period_mm + rng.uniform(0, 6.28))
    rows = rows * (1.0 + settings.row_noise * rng.standard_normal(height))
    gains = np.repeat(lamp, 3).astype(np.float32)  # flat rows: numpy is slow along a last axis of 3
    places = rng.integers(0, 10_000, (-(-height // _BAND), 2))
    image = np.empty((height, width, 3), np.uint8)
    for number, top in enumerate(range(0, height, _BAND)):
        bottom = min(height, top + _BAND)
        x_mm, p_mm = mapping.px_to_print(columns, np.arange(top, bottom, dtype=float))
        map_x = (x_mm * per_mm - 0.5).astype(np.float32)
        map_y = (p_mm * per_mm - 0.5).astype(np.float32)
        first = max(0, int(map_y.min()) - 3)
        last = min(source.shape[0], int(map_y.max()) + 4)
        if first >= last:
            light = np.broadcast_to(np.array(lid, np.float32), (*map_x.shape, 3)).copy()
        else:
            light = np.asarray(
                cv2.remap(
                    source[first:last], map_x, map_y - first, cv2.INTER_CUBIC,
                    borderMode=cv2.BORDER_CONSTANT, borderValue=lid,
                )
            )  # fmt: skip
        np.maximum(light, 0.0, out=light)
        flat = light.reshape(bottom - top, -1)
        flat *= gains
        flat *= rows[top:bottom, None].astype(np.float32)
        sd = np.sqrt(flat * np.float32(settings.shot_noise**2) + np.float32(settings.read_noise**2))
        sd *= noise.window(int(places[number, 0]), int(places[number, 1]), *flat.shape)
        flat += sd
        image[top:bottom] = encoded(np.asarray(cv2.transform(light, mix.astype(np.float32))), settings.flare, table)
    draw_specks(image, specks, settings.blur_px)
    if settings.sharpen > 0:
        soft = cv2.GaussianBlur(image, (0, 0), 1.0)
        image = np.asarray(cv2.addWeighted(image, 1 + settings.sharpen, soft, -settings.sharpen, 0), np.uint8)
    return np.ascontiguousarray(np.rot90(image, mapping.quarter_turns))


def seen_page(
    page: SeenPage,
    weights: Floats,
    settings: ScannerSettings,
    px_per_mm_x: float,
    px_per_mm_y: float,
    texture: Texture,
) -> tuple[NDArray[np.float32], float]:
    """See the page as blurred by the optics, thinned where the capture is much coarser than the print.

    Returns
    -------
    (h, w, 3) float32
        Linear reflectance in the observer's channels.
    float
        Its pixels per mm.
    """
    per_mm = page.head.raster / 25.4
    step = 2 if per_mm / px_per_mm_x > 1.9 else 1  # the blur has taken out what thinning could fold
    sigma_x = settings.blur_px * per_mm / px_per_mm_x
    sigma_y = settings.blur_px * per_mm / px_per_mm_y
    source = np.empty((page.height // step, page.width // step, 3), np.float32)
    row = 0

    def on_paper() -> Iterator[NDArray[np.float32]]:
        y = 0
        for slab in page.reflectance(weights):
            grey = texture.window(y, 0, slab.shape[0], slab.shape[1])
            y += slab.shape[0]
            yield np.asarray(cv2.multiply(slab, cv2.merge([grey, grey, grey])), np.float32)

    left: NDArray[np.float32] | None = None
    for slab in blurred(on_paper(), sigma_y, sigma_x):
        block = slab if left is None else np.concatenate([left, slab])
        whole = block.shape[0] // step * step
        left = block[whole:]
        if step == 2:
            size = (page.width // 2, whole // 2)
            thin = np.asarray(cv2.resize(block[:whole, : size[0] * 2], size, interpolation=cv2.INTER_AREA))
        else:
            thin = block[:whole]
        thin = thin[: source.shape[0] - row]
        source[row : row + thin.shape[0]] = thin
        row += thin.shape[0]
    return source, per_mm / step
