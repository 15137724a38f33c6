"""Finding a colour chart's patches in a scan, and their light.

Patches are even areas of like size that lie on a grid. They are found as such, a lattice is fitted through them, and
where on it the chart lies, and how it is turned, is told by the known colours: they must follow from the light by a
straight rule, and do so in one position only. Charts whose patches can't be told apart so are placed by the centres
of their corner patches.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.colour.chart import ChartLayout
from printcheck.colour.linear import linear_light
from printcheck.errors import PrintcheckError
from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["ChartReading", "read_chart"]

_WORK_PX = 1400  # long side of the copy in which patches are looked for
_EDGE = (4.0, 8.0, 16.0)  # grey levels a pixel, tried in turn: steps between patches are sharper than noise
_SQUARE = 0.72  # of its bounding rectangle that a patch fills at least
_LONGEST = 3.0  # sides of a patch, one over the other
_NEAR = 0.25  # of the pitch: how far a patch may lie from its place on the lattice
_LEAST_SEEN = LIMITS["chart_seen"].value
_PART = 0.25  # of the pitch, to either side of a patch's centre, that is read
_TILES = 5  # each way, of what is read of a patch: their scatter gives its uncertainty
_WORST = LIMITS["chart_worst"].value
_ADVANTAGE = LIMITS["chart_advantage"].value
_DIGITS = 6  # of a CIELAB rms that are more than rounding


@dataclass(frozen=True, slots=True)
class ChartReading:
    """Light of the patches of a chart, linear R, G, B (N, 3), in the order of `layout`."""

    layout: ChartLayout
    light: NDArray[np.float64]


def read_chart(
    pixels: Pixels, layouts: tuple[ChartLayout, ...], corners: NDArray[np.float64] | None = None
) -> ChartReading:
    """Find the chart and read its patches.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 or uint16
        B, G, R as decoded.
    layouts : tuple of ChartLayout
        Ways it may lie.
    corners : (4, 2) float64, optional
        Pixel (x, y) of the centres of the corner patches, going round; without them the chart is looked for.

    Raises
    ------
    PrintcheckError
        It can't be found, or fits in more than one way.
    """
    advice = "give the centres of its corner patches, in pixels: --corners 'x,y x,y x,y x,y'"
    lattices = [corners] if corners is not None else _lattices(pixels, layouts)
    if not lattices:
        raise PrintcheckError(f"no grid of patches is found in the picture; {advice}")
    ranked = sorted(
        ((rms, k, reading) for k, (rms, reading) in enumerate(_positions(pixels, layouts, lattices))),
        key=lambda found: found[:2],
    )
    if not ranked or ranked[0][0] > _WORST:
        raise PrintcheckError(f"the colours in the picture are not those of the file in any position; {advice}")
    best = ranked[0][2]
    others = [rms for rms, _, r in ranked[1:] if not np.allclose(r.light, best.light, atol=0.02)]
    if others and others[0] < _ADVANTAGE * ranked[0][0]:
        raise PrintcheckError(f"the chart's colours fit in more than one position; {advice}")
    return best


def _positions(
    pixels: Pixels, layouts: tuple[ChartLayout, ...], lattices: list[NDArray[np.float64]]
) -> Iterator[tuple[float, ChartReading]]:
    """How well the known colours follow from the light, for every layout, turned every way, in every position."""
    height, width = pixels.shape[:2]
    for layout, corners in itertools.product(layouts, lattices):
        for turn in range(4):
            quad = np.roll(corners, -turn, axis=0)
            ends = np.array(
                [[0, 0], [layout.columns - 1, 0], [layout.columns - 1, layout.rows - 1], [0, layout.rows - 1]], float
            )
            plane: NDArray[np.float64] = np.asarray(
                cv2.getPerspectiveTransform(ends.astype(np.float32), quad.astype(np.float32)), np.float64
            )
            if _skewed(plane, layout):
                continue  # rows taken for columns
            at = cv2.perspectiveTransform(layout.places[None, :, ::-1].astype(np.float64), plane)[0]
            steps = cv2.perspectiveTransform(layout.places[None, :, ::-1] + np.array([0.5, 0.5]), plane)[0] - at
            half = 2 * _PART * np.abs(steps).min(axis=1)
            if (at - half[:, None] < 0).any() or (at + half[:, None] > [width - 1, height - 1]).any():
                continue
            light = np.array([_light(pixels, p, h) for p, h in zip(at, half, strict=True)])
            yield _misfit(light, layout.lab), ChartReading(layout, light)


def _skewed(plane: NDArray[np.float64], layout: ChartLayout) -> bool:
    """Patches would be more than three times as long as wide."""
    middle = np.array([[layout.columns / 2, layout.rows / 2]])
    here, right, below = (
        cv2.perspectiveTransform((middle + d)[None], plane)[0, 0] for d in ([0.0, 0.0], [1.0, 0.0], [0.0, 1.0])
    )
    a, b = float(np.linalg.norm(right - here)), float(np.linalg.norm(below - here))
    return max(a, b) > _LONGEST * max(min(a, b), 1e-6)


def _light(pixels: Pixels, at: NDArray[np.float64], half: float) -> NDArray[np.float64]:
    """Linear R, G, B (3,) about `at`, clear of dust: the median of tiles' means."""
    reach = max(2.0, half)
    x0, y0 = (max(0, int(v - reach)) for v in at)
    x1, y1 = (int(v + reach) + 1 for v in at)
    light = linear_light(np.ascontiguousarray(pixels[y0:y1, x0:x1]))[..., ::-1]
    count = min(_TILES, *light.shape[:2])
    h, w = light.shape[0] // count, light.shape[1] // count
    tiles = light[: count * h, : count * w].reshape(count, h, count, w, 3).mean(axis=(1, 3), dtype=np.float64)
    return np.asarray(np.median(tiles.reshape(-1, 3), axis=0))


def _misfit(light: NDArray[np.float64], lab: NDArray[np.float64]) -> float:
    """CIELAB rms that a straight rule from cube-root light to colour leaves."""
    terms = np.column_stack([np.ones(len(light)), np.cbrt(np.maximum(light, 0.0))])
    rule, *_ = np.linalg.lstsq(terms, lab, rcond=None)
    free = max(1, len(lab) - terms.shape[1])
    # samples of one colour fit everywhere but for rounding, which differs between processors and must rank nothing
    return round(float(np.sqrt(np.square(terms @ rule - lab).sum() / free)), _DIGITS)


def _lattices(pixels: Pixels, layouts: tuple[ChartLayout, ...]) -> list[NDArray[np.float64]]:
    """Corner centres (4, 2) px, going round from the top left, of every place on the lattice the chart may have."""
    shrink = min(1.0, _WORK_PX / max(pixels.shape[:2]))
    small: NDArray[Any] = cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    if small.dtype != np.uint8:
        small = (small >> 8).astype(np.uint8)
    need = _LEAST_SEEN * min(len(layout.places) for layout in layouts)
    sizes = {(layout.rows, layout.columns) for layout in layouts} | {(lay.columns, lay.rows) for lay in layouts}
    out: list[NDArray[np.float64]] = []
    for edge in _EDGE:
        found = _patches(small, edge)
        fitted = _fit_lattice(found) if len(found) >= max(6.0, need) else None
        if fitted is None:
            continue
        plane, cells = fitted
        if len(cells) < need:
            continue
        low, high = cells.min(axis=0), cells.max(axis=0)
        for rows, columns in sizes:
            out += _windows(plane, cells, low, high, rows, columns, shrink)
    return out


def _windows(
    plane: NDArray[np.float64], cells: NDArray[np.int_], low: NDArray[np.int_], high: NDArray[np.int_], rows: int,
    columns: int, shrink: float,
) -> list[NDArray[np.float64]]:  # fmt: skip
    """Corners of every window of the lattice, of the chart's size, that holds nearly all patches found."""
    out = []
    for x, y in itertools.product(
        range(min(low[0], high[0] - columns + 1), max(low[0], high[0] - columns + 1) + 1),
        range(min(low[1], high[1] - rows + 1), max(low[1], high[1] - rows + 1) + 1),
    ):
        inside = ((cells >= [x, y]) & (cells < [x + columns, y + rows])).all(axis=1)
        if inside.mean() < 0.9 or inside.sum() < _LEAST_SEEN * rows * columns:
            continue
        ends = np.array([[x, y], [x + columns - 1, y], [x + columns - 1, y + rows - 1], [x, y + rows - 1]])
        out.append(((np.column_stack([np.ones(4), ends]) @ plane) + 0.5) / shrink - 0.5)
    return out


def _patches(small: NDArray[np.uint8], edge: float) -> NDArray[np.float64]:
    """Centres (N, 2) of even areas of the commonest size."""
    soft = cv2.medianBlur(small, 5)
    planes = soft if soft.ndim == 3 else soft[..., None]
    steep = np.zeros(small.shape[:2], np.float32)
    for k in range(planes.shape[2]):
        plane = np.ascontiguousarray(planes[..., k])
        dx, dy = (cv2.Sobel(plane, cv2.CV_32F, a, b, scale=1 / 8) for a, b in ((1, 0), (0, 1)))
        steep = np.maximum(steep, cv2.magnitude(dx, dy))
    count, _, stats, centres = cv2.connectedComponentsWithStats((steep < edge / 2).astype(np.uint8), connectivity=4)
    boxes = stats[1:count]
    wide, high, area = boxes[:, 2], boxes[:, 3], boxes[:, 4]
    good = (
        (area >= 30) & (area >= _SQUARE * wide * high * 0.85) & (np.maximum(wide, high) <= 3 * np.minimum(wide, high))
    )
    if good.sum() < 6:
        return np.zeros((0, 2))
    # the commonest size: most others within a third of it
    sizes = np.log(area[good].astype(float))
    alike = np.abs(sizes[:, None] - sizes) < 0.6
    best = int(alike.sum(axis=1).argmax())
    return np.asarray(centres[1:count][good][alike[best]])


def _fit_lattice(centres: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int_]] | None:
    """Lattice through most of `centres` (N, 2): (3, 2) from (1, column, row) to pixels, and (M, 2) cells found."""
    apart = centres[None] - centres[:, None]
    length = np.linalg.norm(apart, axis=2) + np.diag(np.full(len(centres), np.inf))
    nearest = apart[np.arange(len(centres)), length.argmin(axis=1)]
    angle = np.angle(np.mean(np.exp(4j * np.arctan2(nearest[:, 1], nearest[:, 0])))) / 4  # sides repeat each 90 deg
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    level = centres @ turn  # into the chart's own axes
    pitch = np.array([_pitch(level, axis) for axis in (0, 1)])
    if not np.isfinite(pitch).all():
        return None
    # start from the patch with most neighbours where they ought to be
    cells, best = np.zeros((0, 2), int), np.zeros(0, bool)
    for start in level[:: max(1, len(level) // 24)]:
        place = (level - start) / pitch
        near = (np.abs(place - np.round(place)) < _NEAR).all(axis=1)
        if near.sum() > best.sum():
            cells, best = np.round(place).astype(int), near
    for _ in range(3):
        if best.sum() < 6 or (np.ptp(cells[best], axis=0) < 1).any():
            return None
        terms = np.column_stack([np.ones(len(cells)), cells])
        plane, *_ = np.linalg.lstsq(terms[best], centres[best], rcond=None)
        place = (centres - plane[0]) @ np.linalg.inv(plane[1:])
        cells = np.round(place).astype(int)
        best = (np.abs(place - cells) < _NEAR).all(axis=1)
    return plane, cells[best]


def _pitch(level: NDArray[np.float64], axis: int) -> float:
    """Distance of neighbours along one axis."""
    apart = level[None] - level[:, None]
    along, across = np.abs(apart[..., axis]), np.abs(apart[..., 1 - axis])
    side = (across < 0.2 * along) & (along > 3)
    steps = np.where(side, along, np.inf).min(axis=1)
    steps = steps[np.isfinite(steps)]
    return float(np.median(steps)) if len(steps) >= 4 else float("nan")
