"""Looking at one element: its box on the page, upright, at the capture's own scale, in one channel.

A view's sample (i, j) is the picture at page position ``(x0 + (j + 0.5) / sx, y0 + (i + 0.5) / sy)`` mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.register.result import Registration

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["LUMA", "View", "look_at"]

LUMA = (
    -1
)  # in place of a channel: .299 R + .587 G + .114 B of encoded values, which is what a JPEG holds (ITU-T T.871)
_SLANT_PX = 0.25  # how far the page's x axis may cross the picture's lines between two samples that are kept
_NODE_MM = 4.0  # spacing of the map's nodes: a photo's perspective and the feed's wobble are then met to 0.07 px
_BAND = 4  # gaps between nodes that are interpolated at once: of all others a sample's weight is none
_LARGE = 30_000  # samples from which on that saves more than its calls cost


@dataclass(frozen=True, slots=True)
class View:
    """One element of the sheet, resampled.

    Attributes
    ----------
    values : (H, W) or (H, W, 3) uint8, uint16 or float32
        As captured (encoded values), or linear light where that was asked for.
    box : Box
        What it covers on the page, mm.
    px_per_mm_x, px_per_mm_y : float
    inside : float
        Share of the box that lies inside the picture.
    nodes : (R, C, 2) float64, optional
        Where evenly spaced points of the box, its corners included, lie in what was interpolated, pixels.
    """

    values: NDArray[Any]
    box: Box
    px_per_mm_x: float
    px_per_mm_y: float
    inside: float
    nodes: NDArray[np.float64] | None = None

    @property
    def x_mm(self) -> NDArray[np.float64]:
        """Page x of each column's centre, (W,) mm."""
        return np.asarray(self.box.x0 + (np.arange(self.values.shape[1]) + 0.5) / self.px_per_mm_x, np.float64)

    @property
    def y_mm(self) -> NDArray[np.float64]:
        """Page y of each row's centre, (H,) mm."""
        return np.asarray(self.box.y0 + (np.arange(self.values.shape[0]) + 0.5) / self.px_per_mm_y, np.float64)

    def softened(
        self, rows: NDArray[np.int64], left_mm: NDArray[np.float64], right_mm: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Variance along y of what interpolating spread samples over, (C, N, S) mm2.

        Those of `rows` (C, N), on the mean from page x `left_mm` (C, S) to `right_mm` (C, S). Two pixels in shares
        1 - f and f stand f (1 - f) pixels squared about their mean: none where a sample falls on a pixel, a quarter
        between two, a sixth on the mean of all f. Of the wave about that mean a stretch that crosses t pixels leaves
        sin(pi t) / (pi t).
        """
        if self.nodes is None:
            return np.zeros((*rows.shape, left_mm.shape[1]))
        down = _between(self.nodes.shape[0], self.values.shape[0])[rows]
        place = (np.concatenate([left_mm, right_mm], axis=1) - self.box.x0) / self.box.width
        columns = self.nodes.shape[1]
        across = np.maximum(1.0 - np.abs(place[..., None] * (columns - 1) - np.arange(columns)), 0.0)
        at = down @ (across @ self.nodes[..., self._down()].T).swapaxes(1, 2)
        left, right = at[..., : left_mm.shape[1]], at[..., left_mm.shape[1] :]
        part = (left + right) / 2
        part -= np.floor(part)
        spread = 1 / 6 + (part * (1.0 - part) - 1 / 6) * np.sinc(right - left)
        return np.asarray(spread / self.px_per_mm_y**2, np.float64)

    def slant(self) -> float:
        """Rows of pixels that a mm along the page's x crosses, on the mean; infinite where it isn't known."""
        if self.nodes is None:
            return np.inf
        crossed = self.nodes[:, -1, self._down()] - self.nodes[:, 0, self._down()]
        return float(np.abs(crossed).sum()) / len(crossed) / self.box.width

    def rows_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """Where points (N, 2) of the page lie across the picture's rows of pixels, (N,); none where it isn't known.

        Rows are those that the page's x runs along, counted from an even one of the picture's: halved chroma lies on
        those.
        """
        if self.nodes is None:
            return None
        lines, columns = self.nodes.shape[:2]
        down = (points_mm[:, 1:] - self.box.y0) * ((lines - 1) / self.box.height) - np.arange(lines)
        across = (points_mm[:, :1] - self.box.x0) * ((columns - 1) / self.box.width) - np.arange(columns)
        down, across = (np.maximum(1.0 - np.abs(part), 0.0) for part in (down, across))
        return np.asarray(((down @ self.nodes[..., self._down()]) * across).sum(axis=1), np.float64)

    def _down(self) -> int:
        """Axis of the picture that the page's y runs along: 0 for its x."""
        assert self.nodes is not None
        return int(np.argmax(np.abs(self.nodes[-1] - self.nodes[0]).sum(axis=0)))


def look_at(
    pixels: NDArray[Any],
    registration: Registration,
    box: Box,
    channel: int | None = None,
    scale: float = 1.0,
    most_x: float = np.inf,
    nearest: bool = False,
    light: bool = False,
) -> View:
    """Resample the part of `pixels` that shows `box`.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
        Grey or BGR.
    registration : Registration
    box : Box
        mm on the page.
    channel : int or None
        One channel of a colour picture, or `LUMA`; none for all. Ignored for grey.
    most_x : float
        Samples a mm along x at the most; where the picture has more, some are passed over, not averaged.
    nearest : bool
        Take the nearest pixel instead of interpolating: for means of light over large areas, which encoded values
        don't give. A page that lies askew has a row left out or taken twice every pixel / sin(skew).
    light : bool
        Give linear light, float32 0 to 1, averaged and interpolated as such: the middle of two encoded values is
        darker than the middle of their lights, the more so the more they differ.
    scale : float
        Samples a pixel; below 1 the picture is first averaged down by the nearest whole factor.
    """
    columns, rows = (max(2, 1 + round(side / _NODE_MM)) for side in (box.width, box.height))
    at = registration.to_px(_grid(box, columns, rows))
    (left, top), (right, foot) = at.min(axis=0).tolist(), at.max(axis=0).tolist()
    limit = pixels.shape[1], pixels.shape[0]
    inside = 1.0
    if min(left, top, limit[0] - 1 - right, limit[1] - 1 - foot) < -0.5:
        inside = float(((at >= -0.5) & (at <= np.array(limit) - 0.5)).all(axis=1).mean())
    at = at.reshape(rows, columns, 2)
    across, down = at[:, -1] - at[:, 0], at[-1] - at[0]
    native_x, native_y = _mean_length(across) / box.width, _mean_length(down) / box.height
    width = max(2, round(box.width * min(native_x * scale, most_x)))
    height = max(2, round(box.height * native_y * scale))
    # from an even pixel on, see `View.rows_px`
    low = [min(max(int(np.floor(least)) - 2, 0), most) & ~1 for least, most in zip((left, top), limit, strict=True)]
    high = [min(max(int(np.ceil(last)) + 3, 0), most) for last, most in zip((right, foot), limit, strict=True)]
    if min(high[0] - low[0], high[1] - low[1]) < 2:
        shape = (height, width) if pixels.ndim == 2 or channel is not None else (height, width, 3)
        return View(np.zeros(shape, pixels.dtype), box, width / box.width, height / box.height, 0.0)
    factor = max(1, int(1 / scale + 1e-9))
    at -= low
    axis, step = _passed_over(across, native_x * scale / most_x)
    whole = -(-(high[axis] - low[axis]) // step) * step
    high[axis] = low[axis] + (whole if low[axis] + whole <= limit[axis] else max(step, whole - step))
    crop = pixels[low[1] : high[1], low[0] : high[0]]
    at[..., axis] /= step
    crop = _every(crop, step, axis) if crop.ndim == 2 or channel is None else _of_channel(crop, channel, step, axis)
    if light:
        crop = linear_light(crop)
    if factor > 1:
        lines, samples = crop.shape[0] // factor, crop.shape[1] // factor
        crop = cv2.resize(crop[: lines * factor, : samples * factor], (samples, lines), interpolation=cv2.INTER_AREA)
        at = (at + 0.5) / factor - 0.5
    values = _resample(crop, at, width, height, cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR)
    values.flags.writeable = False
    return View(values, box, width / box.width, height / box.height, inside, None if nearest else at)


def _grid(box: Box, columns: int, rows: int) -> NDArray[np.float64]:
    """(rows * columns, 2) points spread evenly over `box`, its corners included, row by row."""
    out = np.empty((rows, columns, 2))
    out[..., 0] = box.x0 + np.arange(columns) * (box.width / (columns - 1))
    out[..., 1] = (box.y0 + np.arange(rows) * (box.height / (rows - 1)))[:, None]
    return out.reshape(-1, 2)


def _mean_length(lines: NDArray[np.float64]) -> float:
    """Mean length of `lines` (N, 2)."""
    return float(np.hypot(lines[:, 0], lines[:, 1]).sum()) / len(lines)


def _passed_over(across: NDArray[np.float64], wanted: float) -> tuple[int, int]:
    """Axis of the picture that the page's x runs along (0: x, 1: y), and of how many samples along it to keep one.

    `across` (N, 2) are lines along the page's x, px. At most about `wanted`, and fewer where the page lies askew:
    what is left out would then carry lines across.
    """
    along = (np.abs(across).sum(axis=0) / len(across)).tolist()
    axis = int(along[1] > along[0])
    slant = along[1 - axis] / max(along[axis], 1e-9)
    step = min(wanted + 0.25, _SLANT_PX / max(slant, 1e-9))
    return axis, max(1, int(step))


def _of_channel(crop: NDArray[Any], channel: int, step: int, axis: int) -> NDArray[Any]:
    """One channel, or the luma, of every `step`-th pixel of `crop` (H, W, 3), as `_every`."""
    if channel == LUMA:
        return np.asarray(cv2.cvtColor(_every(crop, step, axis), cv2.COLOR_BGR2GRAY))
    if step == 1:
        return np.asarray(cv2.extractChannel(crop, channel))
    # both in one pass: a quarter of the time that taking pixels and then their channel does
    one = crop[..., channel]
    return np.ascontiguousarray(one[::step] if axis == 1 else one[:, ::step])


def _every(crop: NDArray[Any], step: int, axis: int) -> NDArray[Any]:
    """Every `step`-th sample of `crop` along the picture's x (0) or y (1)."""
    if step == 1:
        return crop
    if axis == 1:
        return crop[::step]
    columns = crop.shape[1] // step
    if not columns or columns * step != crop.shape[1]:  # at the picture's edge
        return np.ascontiguousarray(crop[:, ::step])
    # the nearest pixel of a whole factor is the first of each; OpenCV copies pixels 5 times as fast as a slice is
    return np.asarray(cv2.resize(crop, (columns, crop.shape[0]), interpolation=cv2.INTER_NEAREST))


def _resample(crop: NDArray[Any], at: NDArray[np.float64], width: int, height: int, how: int) -> NDArray[Any]:
    """Sample `crop` on a (height, width) grid whose corners map to the corners of the node map `at`.

    Between nodes the map is interpolated linearly: error below curvature x node^2 / 8. As a product of matrices that
    costs a sixth of what OpenCV's resampling of the nodes does. Of a page that lies on its side the columns are
    sampled as rows, along the picture's own, and turned afterwards: pixels side by side lie so in memory.
    """
    if _on_its_side(at):
        return np.asarray(cv2.transpose(_sampled(crop, at.swapaxes(0, 1), height, width, how)))
    return _sampled(crop, at, width, height, how)


def _sampled(crop: NDArray[Any], at: NDArray[np.float64], width: int, height: int, how: int) -> NDArray[Any]:
    columns = at.shape[1]
    planes = np.ascontiguousarray(at.transpose(2, 0, 1), np.float32)
    x, y = _down(planes @ _between(columns, width).T, height)
    if crop.ndim == 2 or how == cv2.INTER_NEAREST:
        return np.asarray(cv2.remap(crop, x, y, how, borderMode=cv2.BORDER_REPLICATE))
    # OpenCV interpolates four channels in two thirds of the time that it takes for three
    filled = cv2.cvtColor(crop, cv2.COLOR_BGR2BGRA)
    seen = cv2.remap(filled, x, y, how, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.cvtColor(seen, cv2.COLOR_BGRA2BGR))


def _down(nodes: NDArray[np.float32], samples: int) -> NDArray[np.float32]:
    """`nodes` (2, R, W), evenly spaced down a box, interpolated at the middles of `samples` rows, (2, samples, W)."""
    count, width = nodes.shape[1:]
    if samples * width < _LARGE:
        return np.asarray(_between(count, samples) @ nodes)
    out = np.empty((2, samples, width), np.float32)
    for lines, near, weights in _bands(count, samples):
        np.matmul(weights, nodes[:, near], out=out[:, lines])
    return out


def _on_its_side(at: NDArray[np.float64]) -> bool:
    """Whether the page's y runs along the picture's rows, by the nodes `at` (R, C, 2)."""
    right, down = np.abs(at[-1] - at[0]).sum(axis=0).tolist()
    return bool(right > down)


@lru_cache(maxsize=256)
def _between(nodes: int, samples: int) -> NDArray[np.float32]:
    """Weights (samples, nodes) of evenly spaced nodes, the first and last at the ends, in the middles of samples."""
    at = (np.arange(samples) + 0.5) * ((nodes - 1) / samples)
    weights = np.asarray(np.maximum(1.0 - np.abs(at[:, None] - np.arange(nodes)), 0.0), np.float32)
    weights.flags.writeable = False
    return weights


@lru_cache(maxsize=256)
def _bands(nodes: int, samples: int) -> tuple[tuple[slice, slice, NDArray[np.float32]], ...]:
    """`_between` in bands: which samples, which nodes lie about them, and those nodes' weights."""
    weights = _between(nodes, samples)
    ends = [*range(0, nodes - 1, _BAND), nodes - 1]
    starts = np.searchsorted((np.arange(samples) + 0.5) * ((nodes - 1) / samples), ends).tolist()
    return tuple(
        (slice(start, stop), slice(first, last + 1), np.ascontiguousarray(weights[start:stop, first : last + 1]))
        for (first, last), (start, stop) in zip(pairwise(ends), pairwise(starts), strict=True)
    )
