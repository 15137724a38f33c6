"""Marks to sub-pixel accuracy at the capture's own resolution.

Each mark is aligned with its ideal drawing by iterated least squares over an affine map, a gain and an offset
(B. Lucas and T. Kanade, IJCAI 1981; the inverse-compositional form of S. Baker and I. Matthews, Int. J. Comput.
Vis. 56(3), 2004). All edges of the mark vote, so missing rows and dot gain, which acts alike on opposite edges,
hardly move it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.pattern.marks import MARK_MODULES, dark_modules
from printcheck.register.locate import darkest_channel
from printcheck.register.result import apply_homography

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["refine_mark"]

_MODULE_PX = 8  # template pixels a module: 0.15 mm each; the fit resolves a hundredth of one
_BORDER = 1.0  # modules of quiet zone kept around the mark
_ITERATIONS = 8
_CONVERGED_PX = 0.01  # template pixels


@lru_cache(maxsize=64)
def _template(number: int) -> tuple[NDArray[np.float32], NDArray[np.float64], NDArray[np.float64]]:
    """Ideal mark (0 dark, 1 light, softened), its pixel coordinates, and what turns a picture into the 8 unknowns."""
    side = round((MARK_MODULES + 2 * _BORDER) * _MODULE_PX)
    pad = round(_BORDER * _MODULE_PX)
    ideal = np.ones((side, side), np.float32)
    dark = np.kron(np.array(dark_modules(number)), np.ones((_MODULE_PX, _MODULE_PX), bool))
    ideal[pad : side - pad, pad : side - pad][dark] = 0.0
    soft = np.asarray(cv2.GaussianBlur(ideal, (0, 0), 2.0), np.float32)
    gy, gx = np.gradient(soft)
    v, u = np.mgrid[0:side, 0:side].astype(np.float64)
    u, v = u - (side - 1) / 2, v - (side - 1) / 2
    half = side / 2
    columns = [gx, gy, gx * u / half, gx * v / half, gy * u / half, gy * v / half, soft, np.ones_like(soft)]
    descent = np.stack([np.asarray(c, np.float64).ravel() for c in columns], axis=1)
    solver = np.linalg.solve(descent.T @ descent, descent.T)
    grid = np.stack([u.ravel(), v.ravel()], axis=1)
    return soft, grid, np.asarray(solver, np.float64)


def refine_mark(
    pixels: NDArray[Any], number: int, corners: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float] | None:
    """Corners of a mark at sub-pixel accuracy.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
    number : int
    corners : (4, 2) float64
        First estimate, pixels.

    Returns
    -------
    corners : (4, 2) float64
    correlation : float
        With the ideal mark, 1 for a perfect one.

    None where the mark is cut off by the picture's edge or doesn't converge.
    """
    side = float(np.hypot(*(corners[1] - corners[0])) + np.hypot(*(corners[2] - corners[1]))) / 2
    factor = max(1, int(side / (MARK_MODULES * _MODULE_PX)))
    reach = side * 0.45
    x0, y0 = np.floor(corners.min(axis=0) - reach).astype(int)
    x1, y1 = np.ceil(corners.max(axis=0) + reach).astype(int)
    x0, y0 = max(0, x0), max(0, y0)
    x1, y1 = min(pixels.shape[1], x1), min(pixels.shape[0], y1)
    width, height = (x1 - x0) // factor, (y1 - y0) // factor
    if min(width, height) < 2 * MARK_MODULES:
        return None
    crop = pixels[y0 : y0 + height * factor, x0 : x0 + width * factor]
    if factor > 1:
        crop = cv2.resize(crop, (width, height), interpolation=cv2.INTER_AREA)
    image = darkest_channel(crop).astype(np.float32)

    soft, grid, solver = _template(number)
    size = soft.shape[0]
    module = _MODULE_PX * MARK_MODULES / 2
    square = np.array([[-module, -module], [module, -module], [module, module], [-module, module]])
    local = (corners - (x0, y0) + 0.5) / factor - 0.5
    warp = cv2.getPerspectiveTransform(square.astype(np.float32), local.astype(np.float32))
    update = np.eye(3)
    correlation = 0.0
    for _ in range(_ITERATIONS):
        where = apply_homography(warp @ update, grid).astype(np.float32).reshape(size, size, 2)
        seen = cv2.remap(image, where[..., 0], where[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        steps = solver @ seen.ravel().astype(np.float64)
        gain = steps[6]
        if gain <= 0:
            return None
        t = -steps[:6] / gain  # seen(x) = ideal(x - t) is ideal - t * gradient to first order
        half = size / 2
        step = np.array([[1 + t[2] / half, t[3] / half, t[0]], [t[4] / half, 1 + t[5] / half, t[1]], [0, 0, 1]])
        if np.abs(t[:2]).max() > size / 4 or abs(np.linalg.det(step)) < 0.25:
            return None
        # the picture shows the template moved by t: follow it
        update = update @ step
        correlation = _correlation(np.asarray(seen, np.float32), soft)
        if np.abs(t).max() < _CONVERGED_PX:
            break
    refined = apply_homography(warp @ update, square)
    return (refined + 0.5) * factor - 0.5 + (x0, y0), correlation


def _correlation(a: NDArray[np.float32], b: NDArray[np.float32]) -> float:
    a, b = a - a.mean(), b - b.mean()
    return float(np.sum(a * b) / np.sqrt(np.sum(a * a) * np.sum(b * b) + 1e-12))
