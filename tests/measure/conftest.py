"""A bare sheet under a camera that sees it exactly: what a test paints on it is all there is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.color import lab2xyz

from printcheck.geometry import Box
from printcheck.pattern.code import INKJET_LAYOUT
from printcheck.pattern.elements import Patch
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.pages import page_named
from printcheck.register.result import Registration

Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]


@dataclass
class Drawn:
    """A page painted in linear light, one channel for all three; lightness is turned to light by scikit-image."""

    registration: Registration
    light: NDArray[np.float32]

    @property
    def layout(self) -> Layout:
        return self.registration.layout

    def y_mm(self) -> NDArray[np.float64]:
        return (np.arange(self.light.shape[0]) + 0.5) / self.registration.px_per_mm_y

    def paint(self, box: Box, lightness: Curve | float) -> None:
        """Paint `box`, each row at the L* that `lightness` gives for its page y."""
        per_mm = self.registration.px_per_mm_y
        x0, x1, y0, y1 = (round(v * per_mm) for v in (box.x0, box.x1, box.y0, box.y1))
        rows = self.y_mm()[y0:y1]
        level = lightness(rows) if callable(lightness) else np.full(len(rows), lightness)
        lab = np.stack([level, 0 * level, 0 * level], axis=-1)
        self.light[y0:y1, x0:x1] = lab2xyz(lab[None])[0, :, 1][:, None]

    def paint_patch(self, patch: Patch, lightness: Curve | float) -> None:
        self.paint(patch.box, lightness)

    def pixels(self, noise: float = 0.004, shade: Curve | None = None, seed: int = 0) -> NDArray[np.uint8]:
        """The picture: paper of 0.85, uneven light `shade` (a factor by page y), noise, sRGB (IEC 61966-2-1)."""
        light = np.random.default_rng(seed).standard_normal(self.light.shape, np.float32)
        light *= np.float32(noise * 65535)
        even = np.full(len(light), 0.85 * 65535) if shade is None else 0.85 * 65535 * shade(self.y_mm())
        light += self.light * even.astype(np.float32)[:, None]
        steps = np.linspace(0, 1, 65536)
        table = np.where(steps <= 0.0031308, 12.92 * steps, 1.055 * steps ** (1 / 2.4) - 0.055)
        np.clip(light, 0, 65535, out=light)
        encoded = np.rint(255 * table).astype(np.uint8)[light.astype(np.uint16)]
        return cv2.merge([encoded, encoded, encoded])


def drawn_sheet(head: str = "mono-416", dots_per_inch: int = 300, version: int = INKJET_LAYOUT) -> Drawn:
    layout = build_layout(load_head(head), page_named("A4"), version)
    per_mm = dots_per_inch / 25.4
    to_px = np.array([[per_mm, 0, -0.5], [0, per_mm, -0.5], [0, 0, 1.0]])
    size = (round(layout.height_mm * per_mm), round(layout.width_mm * per_mm))
    registration = Registration(layout, "", to_px, None, 14, 0.0, None, per_mm, per_mm, 0.0, 0.0, ())
    return Drawn(registration, np.ones(size, np.float32))


@pytest.fixture
def drawn() -> Callable[..., Drawn]:
    """Make a bare sheet: ``drawn(head, dots_per_inch, version)``."""
    return drawn_sheet
