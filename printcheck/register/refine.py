"""Marks to sub-pixel accuracy at the capture's own resolution.

Each mark is aligned with its ideal drawing by iterated least squares over an affine map, a gain and an offset
(B. Lucas and T. Kanade, IJCAI 1981; the inverse-compositional form of S. Baker and I. Matthews, Int. J. Comput.
Vis. 56(3), 2004). All edges of the mark vote, so single missing rows and dot gain, which acts alike on opposite
edges, hardly move it; rows in which no ink was laid down take no part.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.limits import LIMITS
from printcheck.pattern.marks import MARK_MODULES, dark_modules
from printcheck.register.locate import darkest_channel
from printcheck.register.result import apply_homography

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["refine_mark"]

_MODULE_PX = 8  # template pixels a module: 0.15 mm each; the fit resolves a hundredth of one
_AROUND = 0.45  # of a mark's side, kept on each side of it: its quiet zone, and what the first guess may be off by
_BORDER = 1.0  # modules of quiet zone kept around the mark
_ITERATIONS = 8  # at most, until `_CONVERGED_PX`
_INKED = 0.3  # template value below which a pixel lies well inside ink
_BESIDE = 2  # template pixels left out on both sides of a gap
_BARE = 0.3  # mean lightness a row's ink may have too much before the row counts as not printed
_LEAST_PRINTED = LIMITS["mark_printed"].value
_CONVERGED_PX = 0.03  # template pixels, 5 um: a step so small leaves a tenth of itself


@dataclass(frozen=True, slots=True)
class _Ink:
    """Where a mark has ink: (size, size) 1 or 0; pixels a row (at least 1) and their mean lightness, (size,)."""

    where: NDArray[np.float32]
    count: NDArray[np.float32]
    lightness: NDArray[np.float32]


@lru_cache(maxsize=64)
def _template(number: int) -> tuple[NDArray[np.float32], _Ink, NDArray[np.float64], NDArray[np.float32]]:
    """Ideal mark (0 dark, 1 light, softened), its ink, the change of its pixels with the 8 unknowns, the inverse."""
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
    solver = np.linalg.solve(descent.T @ descent, descent.T).astype(np.float32)
    where = (soft < _INKED).astype(np.float32)
    count = np.maximum(where.sum(axis=1), 1)
    ink = _Ink(where, count, np.asarray((where * soft).sum(axis=1) / count, np.float32))
    return soft, ink, descent, solver


def refine_mark(
    pixels: NDArray[Any], number: int, corners: NDArray[np.float64], *, rigid: bool = False
) -> tuple[NDArray[np.float64], float] | None:
    """Corners of a mark at sub-pixel accuracy.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
    number : int
    corners : (4, 2) float64
        First estimate, pixels.
    rigid : bool
        Move the mark only, with the shape `corners` give it: a mark cut short by dead rows is then seen to lack
        ink, where a free fit would squeeze it.

    Returns
    -------
    corners : (4, 2) float64
    correlation : float
        With the ideal mark, 1 for a perfect one.

    None where the mark is cut off by the picture's edge or doesn't converge.
    """
    cut = _cut_out(pixels, corners)
    if cut is None:
        return None
    image, (x0, y0), factor = cut
    soft, ink, descent, solver = _template(number)
    size = soft.shape[0]
    module = _MODULE_PX * MARK_MODULES / 2
    square = np.array([[-module, -module], [module, -module], [module, module], [-module, module]])
    local = (corners - (x0, y0) + 0.5) / factor - 0.5
    warp = cv2.getPerspectiveTransform(square.astype(np.float32), local.astype(np.float32))
    update = np.eye(3)
    printed = np.ones(size, bool)
    free = [0, 1, 6, 7] if rigid else list(range(8))
    if rigid:
        descent = descent[:, free]
        solver = _inverse(descent)
    for _ in range(_ITERATIONS):
        seen = _seen(image, warp @ update, size)
        bare = _bare_rows(seen, ink)
        if bare.any() or not printed.all():  # of most marks no row is
            if np.count_nonzero(bare) > (1.0 - _LEAST_PRINTED) * size:
                return None
            if not np.array_equal(~bare, printed):
                printed = ~bare
                solver = _inverse(descent * np.repeat(printed, size)[:, None])
        steps = np.zeros(8)
        steps[free] = solver @ seen.ravel()
        gain = steps[6]
        if gain <= 0:
            return None
        t = (-steps[:6] / gain).tolist()  # seen(x) = ideal(x - t) is ideal - t * gradient to first order
        xx, xy, yx, yy = (v / (size / 2) for v in t[2:])
        if max(abs(t[0]), abs(t[1])) > size / 4 or abs((1 + xx) * (1 + yy) - xy * yx) < 0.25:
            return None
        # the picture shows the template moved by t: follow it
        update = update @ np.array([[1 + xx, xy, t[0]], [yx, 1 + yy, t[1]], [0, 0, 1]])
        if max(map(abs, t)) < _CONVERGED_PX:
            break
    correlation = _correlation(_seen(image, warp @ update, size)[printed], soft[printed])
    refined = apply_homography(warp @ update, square)
    return (refined + 0.5) * factor - 0.5 + (x0, y0), correlation


def _cut_out(
    pixels: NDArray[Any], corners: NDArray[np.float64]
) -> tuple[NDArray[np.float32], tuple[int, int], int] | None:
    """A mark and the paper about it, reduced to about the template's size; none where little of it is in the picture.

    Returns its darkest channel (H, W), where the first pixel of that lies in the picture (x, y), and the reduction.
    """
    side = float(np.hypot(*(corners[1] - corners[0])) + np.hypot(*(corners[2] - corners[1]))) / 2
    factor = max(1, int(side / (MARK_MODULES * _MODULE_PX)))
    if factor == 3:  # OpenCV averages by halves several times as fast, and the template is soft
        factor = 2
    reach = side * _AROUND
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
    return darkest_channel(crop).astype(np.float32), (x0, y0), factor


def _inverse(descent: NDArray[np.float64]) -> NDArray[np.float32]:
    """Pseudo-inverse of a well-conditioned design."""
    # eight terms and thousands of pixels: a small inverse costs a fifth of what solving for each pixel does
    gram = descent.T @ descent + 1e-9 * np.eye(descent.shape[1])
    return np.asarray(np.linalg.inv(gram) @ descent.T, np.float32)


def _seen(image: NDArray[np.float32], warp: NDArray[np.float64], size: int) -> NDArray[np.float32]:
    """Look through `warp` (template pixels from the mark's middle, to `image`), (size, size)."""
    middle = (size - 1) / 2
    centred = np.array([[1.0, 0.0, -middle], [0.0, 1.0, -middle], [0.0, 0.0, 1.0]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    seen = cv2.warpPerspective(image, warp @ centred, (size, size), flags=how, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen, np.float32)


def _bare_rows(seen: NDArray[np.float32], ink: _Ink) -> NDArray[np.bool_]:
    """Rows of the template in which the ink that should be there is not: dead rows leave theirs bare."""
    ordered = np.sort(seen[::2, ::2], axis=None)
    ends = len(ordered) // 20
    low, high = float(ordered[ends]), float(ordered[-1 - ends])
    lightness = (np.einsum("ij,ij->i", seen, ink.where) / ink.count - low) / max(high - low, 1.0)
    bare = (lightness - ink.lightness > _BARE) & (ink.count >= _MODULE_PX)
    # rows beside a gap are half bare through blur
    return np.convolve(bare, np.ones(2 * _BESIDE + 1), mode="same").astype(bool) if bare.any() else bare


def _correlation(a: NDArray[np.float32], b: NDArray[np.float32]) -> float:
    a, b = (a - a.mean()).ravel(), (b - b.mean()).ravel()
    return float(a @ b / np.sqrt((a @ a) * (b @ b) + 1e-12))
