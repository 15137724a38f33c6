"""What lies behind a photographed sheet."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["BENCHES", "background"]

BENCHES = ("wood", "cloth", "plain", "dark", "cluttered")
_TINTS = {
    "wood": (0.36, 0.22, 0.12),
    "cloth": (0.16, 0.20, 0.30),
    "plain": (0.55, 0.55, 0.53),
    "dark": (0.05, 0.05, 0.06),
    "cluttered": (0.30, 0.28, 0.26),
}


def background(kind: str, height: int, width: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """(height, width, 3) float32 linear R, G, B of a bench top; `kind` is one of `BENCHES`."""
    small = 6  # made coarse and enlarged: it is out of focus anyway
    h, w = height // small + 1, width // small + 1
    noise = rng.standard_normal((h, w), dtype=np.float32)
    if kind == "wood":
        grain = np.asarray(cv2.GaussianBlur(noise, (0, 0), 40, sigmaY=1.2))
        wave = np.asarray(cv2.GaussianBlur(rng.standard_normal((h, w), dtype=np.float32), (0, 0), 30))
        rows = np.arange(h, dtype=np.float32)[:, None] / 9.0
        field = 1.0 + 0.18 * grain / grain.std() + 0.12 * np.sin(rows + 2.5 * wave / wave.std())
    elif kind == "cloth":
        weave = np.indices((h, w)).sum(axis=0) % 4 < 2
        field = 1.0 + 0.12 * weave + 0.1 * noise
    else:
        cloud = np.asarray(cv2.GaussianBlur(noise, (0, 0), 12))
        field = 1.0 + 0.06 * cloud / cloud.std() + 0.02 * noise
    light = np.maximum(field, 0.05)[..., None] * np.array(_TINTS[kind], np.float32)
    light = np.ascontiguousarray(light, np.float32)
    if kind == "cluttered":  # tools, cables and other paper beside the sheet
        for _ in range(14):
            x, y = (int(v) for v in rng.uniform(0, 1, 2) * (w, h))
            tint = tuple(float(v) for v in rng.uniform(0.02, 0.8, 3))
            size = (int(rng.uniform(8, w / 6)), int(rng.uniform(4, h / 10)))
            if rng.random() < 0.5:
                cv2.ellipse(light, (x, y), size, float(rng.uniform(0, 180)), 0, 360, tint, -1)
            else:
                box = cv2.boxPoints(((x, y), size, float(rng.uniform(0, 180))))
                cv2.fillPoly(light, [box.astype(np.int32)], tint)
    big = cv2.resize(light, (w * small, h * small), interpolation=cv2.INTER_LINEAR)
    return np.ascontiguousarray(big[:height, :width])
