"""Dust, fibres and specks lying on the glass or the paper of one capture."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Speck", "draw_specks", "random_specks"]


@dataclass(frozen=True, slots=True)
class Speck:
    """One grain (length 0) or fibre.

    Attributes
    ----------
    x_px, y_px : float
    diameter_px : float
        Of a grain, or thickness of a fibre.
    length_px, angle_deg, bend : float
        Of a fibre; `bend` is its sagitta over its length.
    grey : int
        8-bit value it is seen with.
    """

    x_px: float
    y_px: float
    diameter_px: float
    length_px: float
    angle_deg: float
    bend: float
    grey: int


def random_specks(
    count: int, width: int, height: int, px_per_mm: float, rng: np.random.Generator
) -> tuple[Speck, ...]:
    """Grains of 0.05 to 0.4 mm, mostly small, and one fibre of 0.5 to 3 mm for every four of them."""
    specks = []
    for _ in range(count):
        fibre = bool(rng.random() < 0.2)
        size = float(min(0.4, 0.05 * rng.pareto(2.5) + 0.05))
        specks.append(
            Speck(
                float(rng.uniform(0, width)),
                float(rng.uniform(0, height)),
                px_per_mm * (float(rng.uniform(0.015, 0.04)) if fibre else size),
                px_per_mm * float(rng.uniform(0.5, 3.0)) if fibre else 0.0,
                float(rng.uniform(0, 180)),
                float(rng.uniform(-0.25, 0.25)),
                int(rng.integers(30, 170)) if rng.random() < 0.85 else 252,
            )
        )
    return tuple(specks)


def draw_specks(image: NDArray[np.uint8], specks: tuple[Speck, ...], sigma_px: float) -> None:
    """Draw `specks` into `image` (H, W, 3), as soft as everything else in it."""
    for speck in specks:
        half = int(np.ceil(speck.length_px / 2 + speck.diameter_px + 4 * sigma_px + 2))
        x0, y0 = int(speck.x_px) - half, int(speck.y_px) - half
        fine = 4
        tile = np.zeros((2 * half * fine, 2 * half * fine), np.float32)
        centre = np.array([speck.x_px - x0, speck.y_px - y0]) * fine
        if speck.length_px:
            t = np.linspace(-0.5, 0.5, 25)
            angle = np.deg2rad(speck.angle_deg)
            along, across = t * speck.length_px, speck.bend * speck.length_px * (1 - 4 * t**2)
            x = centre[0] + fine * (along * np.cos(angle) - across * np.sin(angle))
            y = centre[1] + fine * (along * np.sin(angle) + across * np.cos(angle))
            points = np.stack([x, y], axis=1).round().astype(np.int32)
            cv2.polylines(tile, [points], False, 1.0, max(1, round(speck.diameter_px * fine)))
        else:
            cv2.circle(
                tile, (round(centre[0]), round(centre[1])), max(1, round(speck.diameter_px * fine / 2)), 1.0, -1
            )
        alpha = cv2.resize(tile, (2 * half, 2 * half), interpolation=cv2.INTER_AREA)
        alpha = np.asarray(cv2.GaussianBlur(alpha, (0, 0), max(0.3, sigma_px)))
        ya, yb = max(0, y0), min(image.shape[0], y0 + 2 * half)
        xa, xb = max(0, x0), min(image.shape[1], x0 + 2 * half)
        if ya >= yb or xa >= xb:
            continue
        a = alpha[ya - y0 : yb - y0, xa - x0 : xb - x0, None]
        part = image[ya:yb, xa:xb]
        part[:] = np.rint(part * (1 - a) + speck.grey * a).astype(np.uint8)
