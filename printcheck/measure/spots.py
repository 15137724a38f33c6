"""Single marks on page-long tints and bare paper, dark or light, whatever halftone lies under them.

A Gaussian takes the screen out (its lattice is finer than 0.25 mm); what is left is levelled by its surroundings and
searched at three sizes for what stands out of its scatter. A mark found at a fine size is not counted again at a
coarser one.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.fields import Field
from printcheck.measure.repeats import PageMark
from printcheck.robust import MAD_SD

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

__all__ = ["Spot", "find_spots"]

_SIZES_MM = (0.16, 0.35, 0.75)  # standard deviations of the Gaussians
_CELL_MM = 1.5  # surroundings are levelled by the median of 5 x 5 such cells
_RIM = 2.0  # Gaussians' standard deviations kept from an area's edge
_SURE = LIMITS["mark_sure"].value
_LEAST_CONTRAST = {True: 0.020, False: 0.012}  # of the light, on paper and on tints, at the finest size
_LEAST_MM = 0.1  # diameter; a pixel at 250 dots/inch, under which it can't be told
_THIN_PX = 3  # of the samples that tell the scatter: neighbours are alike, and a page has millions
_TOLD_BY = 50_000  # of those: they tell a scatter to half a per cent
# of discs softened by a Gaussian, drawn with 24 samples a standard deviation, for there is no closed form: their
# width at half height, and their diameter, in standard deviations; large ones keep their width
_WIDTHS = (
    2.361, 2.368, 2.379, 2.398, 2.429, 2.465, 2.504, 2.557, 2.608, 2.663, 2.740, 2.818, 2.911, 3.008, 3.118, 3.232,
    3.367, 3.500, 3.641, 3.798, 5.672, 10.0, 20.0,
)  # fmt: skip
_DISCS = (*(0.2 * k for k in range(1, 21)), 6.0, 10.0, 20.0)
_STREAK_MM = 60.0  # of the page, over which a streak is taken as even
_MOST = int(LIMITS["marks_of_field"].value)


@dataclass(frozen=True, slots=True)
class Spot:
    """A mark: where and how large, and how much darker (above 0) or lighter than its surroundings."""

    mark: PageMark
    contrast: float


def find_spots(field: Field) -> tuple[Spot, ...]:
    """Find the marks of one area, the largest first."""
    per_mm = float(np.sqrt(field.per_mm_x * field.per_mm_y))
    taken = np.zeros(field.light.shape, np.uint8)
    light = _without_streaks(field)
    out: list[Spot] = []
    for sigma_mm in _SIZES_MM:
        sigma = sigma_mm * per_mm
        soft = np.asarray(cv2.GaussianBlur(light, (0, 0), sigma, borderType=cv2.BORDER_REFLECT), np.float32)
        level = _level(soft, per_mm)
        contrast = 1.0 - soft / level
        every = max(_THIN_PX, int(sigma), int((contrast.size / _TOLD_BY) ** 0.5))
        thin = contrast[::every, ::every]
        spread = MAD_SD * float(np.median(np.abs(thin - np.median(thin))))
        threshold = max(_SURE * spread, _LEAST_CONTRAST[field.tone == 0.0])
        for sign in (1.0, -1.0):
            out += _components(field, contrast * np.float32(sign), threshold, sigma, taken, sign)
        # a mark beside an area's edge would show beyond a coarser Gaussian's rim once more
        np.copyto(light, level, where=taken.view(bool))
    return tuple(sorted(out, key=lambda s: -s.mark.diameter_mm)[:_MOST])


def _disc_of(across: float) -> float:
    """Diameter of the disc that a Gaussian makes `across` wide at half its height, both in standard deviations."""
    return float(np.interp(across, _WIDTHS, _DISCS))


def _without_streaks(field: Field) -> NDArray[np.float32]:
    """The light of `field` with what its columns share taken off: pieces of a streak are no marks."""
    piece = max(1, round(field.per_mm_y))
    rows = field.light.shape[0] // piece
    means = field.light[: rows * piece].reshape(rows, piece, -1).mean(axis=1)
    share = max(2, round(field.box.height / _STREAK_MM))
    middles = np.array([np.median(part, axis=0) for part in np.array_split(means, share)])
    columns = cv2.resize(middles.astype(np.float32), field.light.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(field.light / np.maximum(columns, 1e-4), np.float32)


def _level(soft: NDArray[np.float32], per_mm: float) -> NDArray[np.float32]:
    height, width = soft.shape
    cells = max(2, round(width / per_mm / _CELL_MM)), max(2, round(height / per_mm / _CELL_MM))
    coarse = cv2.medianBlur(cv2.resize(soft, cells, interpolation=cv2.INTER_AREA), 5)
    return np.asarray(cv2.resize(np.maximum(coarse, 1e-4), (width, height), interpolation=cv2.INTER_LINEAR))


def _components(
    field: Field,
    contrast: NDArray[np.float32],
    threshold: float,
    sigma: float,
    taken: NDArray[np.uint8],
    sign: float,
) -> list[Spot]:
    per_mm = float(np.sqrt(field.per_mm_x * field.per_mm_y))
    mask = (contrast > threshold).astype(np.uint8)
    rim = int(_RIM * sigma) + 1  # where the lattice is cut off, a Gaussian doesn't take it out
    mask[:rim] = mask[-rim:] = 0
    mask[:, :rim] = mask[:, -rim:] = 0
    out = []
    for (x, y, w, h), here in itertools.islice(_shapes(mask), _MOST):
        window = slice(y, y + h), slice(x, x + w)
        if taken[window][here].any():
            continue
        part = np.where(here, contrast[window], 0.0)
        peak = float(part.max())
        weight = float(part.sum())
        cx = float((part.sum(axis=0) * np.arange(w)).sum()) / weight
        cy = float((part.sum(axis=1) * np.arange(h)).sum()) / weight
        # the disc that, softened by the Gaussian, covers as much within half its height
        across = float(np.sqrt(4.0 * float((part > peak / 2).sum()) / np.pi))
        diameter = max(_disc_of(across / sigma) * sigma / per_mm, _LEAST_MM)
        place = field.box.x0 + (x + cx + 0.5) / field.per_mm_x, field.box.y0 + (y + cy + 0.5) / field.per_mm_y
        height, width = mask.shape
        cut = x <= rim or y <= rim or x + w >= width - rim or y + h >= height - rim
        out.append(Spot(PageMark(*place, diameter, cut), sign * peak))
        grow = int(2 * sigma) + 1
        taken[max(0, y - grow) : y + h + grow, max(0, x - grow) : x + w + grow] = 1
    return out


def _shapes(mask: NDArray[np.uint8]) -> Iterator[tuple[tuple[int, int, int, int], NDArray[np.bool_]]]:
    """Connected parts of `mask` from the top: the box (x, y, w, h) of each, and its pixels (h, w) there.

    Labelled from empty row to empty row, for most rows of a page-long area are empty.
    """
    rows = np.flatnonzero(mask.any(axis=1))
    if not len(rows):
        return
    for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
        top = int(run[0])
        count, labels, stats, _ = cv2.connectedComponentsWithStats(mask[top : int(run[-1]) + 1], connectivity=8)
        for k in range(1, count):
            x, y, w, h = (int(v) for v in stats[k, :4])
            yield (x, top + y, w, h), labels[y : y + h, x : x + w] == k
