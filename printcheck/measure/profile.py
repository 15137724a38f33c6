"""Light along the feed: the mean over the width of a strip or solid, row of samples by row of samples.

Bands and fade lie across the print direction, so the mean over the width keeps them and takes out the grain. The
bare paper to the left of each run-off strip is read in the same view, at the same heights: what the light or the
scanner's carriage does along the page it does to both.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.measure.light import LUMINANCE, lightness_of, means_along
from printcheck.pattern.elements import Patch
from printcheck.register.result import Registration
from printcheck.register.view import look_at
from printcheck.robust import MAD_SD, median_high, middle_of, running_middle

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = [
    "BEYOND_MM",
    "Profile",
    "block_medians",
    "read_patch_profiles",
    "read_strip_profiles",
    "relative_lightness",
    "sound_samples",
]

SAMPLES_PER_MM = 12.0  # 300 dots/inch: six samples to the finest band looked for
_INSET_X_MM, _INSET_Y_MM = 0.35, 0.5  # clear of the edges' blur and of registration error
_PAPER_INSET_MM = 0.05  # the pattern keeps it 0.3 mm clear of the strip already
_ACROSS_PER_MM = 6.0  # samples across a solid or tint: 200 and more to the mean
_MOST_WIDTH_MM = 40.0  # of a solid: as much as the mean needs
_PAPER_X_MM = 0.25  # the same beside a solid or tint, which is read coarsely across
_PAPER_BLOCK_MM = 8.0  # light changes more slowly than this
_PAPER_SHORT_MM = 1.5  # light that changes within so little steps: a shadow's edge
_STEP_LIGHT, _STEP_SD = (
    0.015,
    5.0,
)  # of the light, and robust standard deviations, that are a step: 0.3 L* on a mid-tone
_BESIDE_MM = 1.0  # between a patch and the bare paper that is its own
_OUTLIER = 4.0  # robust standard deviations; the crest of a sinusoid lies at 1.35
_LINE = 0.12  # of the way from ink to paper; one missing row of 600/inch reaches twice this at 300 dots/inch
_EDGE_REACH_MM = 0.6  # of an edge's blur, at most
BEYOND_MM = (0.16, 0.28)
"""From an edge: where satellites and mist are looked for. Blur has faded, and the next element is still off."""

_EDGE_WINDOW_MM = 0.3  # to either side of an edge: holds its blur and the sway, and no other element
_LEAST_STEP = 0.1  # of the paper's light; less and there is no edge to speak of
_WING_MM = 0.17  # a line's blur reaches this far beyond what stands out


@dataclass(frozen=True, slots=True)
class Profile:
    """Light down one even area.

    Attributes
    ----------
    y_mm : (N,) float64
        Page positions, evenly spaced.
    light : (N, 3) float64
        Mean linear R, G, B over the width.
    paper : (N, 3) float64 or None
        The same of the bare paper beside it; none where it wasn't seen.
    level : (N, 3) float64 or None
        Light of the paper beside, or beside a strip at the same heights, without its grain, specks and the scanner's
        own bands; none where neither was seen.
    edge_sd_mm : float or None
        Blur of the strip's own edge, as the standard deviation of a Gaussian; none where none was read.
    sway_mm : (N,) float64 or None
        How far the strip's two edges lie to the right of where they lie on the whole.
    beyond : (float, float) or None
        Absorption 0.16 to 0.28 mm beyond the left and right edge, as a share of the strip's own.
    stepped : (N,) bool or None
        Where the light on the paper beside steps, as at a shadow's edge; none where it wasn't seen.
    """

    y_mm: NDArray[np.float64]
    light: NDArray[np.float64]
    paper: NDArray[np.float64] | None
    level: NDArray[np.float64] | None
    edge_sd_mm: float | None = None
    sway_mm: NDArray[np.float64] | None = None
    beyond: tuple[float, float] | None = None
    stepped: NDArray[np.bool_] | None = None

    @property
    def step_mm(self) -> float:
        return float(self.y_mm[1] - self.y_mm[0])

    @property
    def light_steps(self) -> bool:
        return self.stepped is not None and bool(self.stepped.any())

    @property
    def height_mm(self) -> float:
        return len(self.y_mm) * self.step_mm

    def lightness(self) -> NDArray[np.float64]:
        """(N,) L* relative to the paper beside, whose own noise is smoothed over some mm; else to a perfect white."""
        return relative_lightness(self.light, np.ones(3) if self.level is None else self.level)


def relative_lightness(light: NDArray[np.float64], paper: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIE L* (...,) of linear R, G, B `light` (..., 3) on `paper` as white, by luminance (ISO/CIE 11664-4)."""
    return lightness_of((light @ LUMINANCE) / np.maximum(paper @ LUMINANCE, 1e-6))


def block_medians(
    y_mm: NDArray[np.float64], values: NDArray[np.float64], block: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles (B,) and medians (B, ...) of successive blocks of about `block` samples; at least two blocks."""
    count = max(2, round(len(y_mm) / block))
    size = len(y_mm) // count
    skip = (len(y_mm) - count * size) // 2  # fewer samples than there are blocks: shared out over both ends
    used = slice(skip, skip + count * size)
    middle = middle_of(values[used].reshape(count, size, *values.shape[1:]), 1)
    return y_mm[used].reshape(count, size).mean(axis=1), middle


def sound_samples(lightness: NDArray[np.float64], trend: NDArray[np.float64], step_mm: float) -> NDArray[np.bool_]:
    """Mask (N,) that leaves out missing lines, specks and their blurred edges.

    They stand out from `trend` (N,) by more than a sinusoid of any amplitude would from its own spread, and by a good
    part of the way to bare paper: bands stay, the white gaps that open between rows where ink runs low among them,
    and a missing line is not counted a second time as a band.
    """
    rest = np.abs(lightness - trend)
    spread = MAD_SD * median_high(rest)
    bad = rest > max(_OUTLIER * spread, _LINE * (100.0 - median_high(lightness)))
    reach = max(1, round(_WING_MM / step_mm))
    wide = cv2.dilate(bad.astype(np.uint8), np.ones((2 * reach + 1, 1), np.uint8))
    return np.asarray(wide.ravel() == 0)


def read_strip_profiles(
    pixels: Pixels, registration: Registration, strips: Sequence[tuple[Patch, Box]]
) -> list[Profile | None]:
    """Read strips that run side by side, each with the bare strip to its left; none for those that can't be seen."""
    if not strips:
        return []
    boxes = [Box(paper.x0, strip.box.y0, strip.box.x1 + _EDGE_WINDOW_MM, strip.box.y1) for strip, paper in strips]
    whole = _around(boxes)
    read = _read(pixels, registration, whole.inset(0.0, _INSET_Y_MM))
    if read is None:
        if len(strips) == 1:
            return [None]
        return [read_strip_profiles(pixels, registration, [one])[0] for one in strips]
    x, y, values = read
    spans = []
    for strip, paper in strips:
        box = strip.box
        spans += [
            (box.x0 + _INSET_X_MM, box.x1 - _INSET_X_MM),
            (paper.x0 + _PAPER_INSET_MM, paper.x1 - _PAPER_INSET_MM),
            (box.x0 - _EDGE_WINDOW_MM, box.x0 + _EDGE_WINDOW_MM),
            (box.x1 - _EDGE_WINDOW_MM, box.x1 + _EDGE_WINDOW_MM),
            (box.x0 - BEYOND_MM[1], box.x0 - BEYOND_MM[0]),
            (box.x1 + BEYOND_MM[0], box.x1 + BEYOND_MM[1]),
        ]
    means, count = _means(values, x, spans)
    across = cv2.reduce(_light(values), 0, cv2.REDUCE_AVG)[0].mean(axis=1, dtype=np.float64)
    out: list[Profile | None] = []
    levels, stepped = _levels(y, means[1::6])
    for k, (strip, _) in enumerate(strips):
        on, beside, left, right, *outside = means[6 * k : 6 * k + 6]
        counts = count[6 * k : 6 * k + 6]
        if counts[0] < 2 or counts[1] < 1:
            out.append(None)
            continue
        level = levels[k]
        window = counts[2] / len(x) * whole.width
        edge = _edge_sd(x - strip.box.x0, across)
        beyond = _beyond(on, level, outside) if min(counts[4:]) else None
        sway = _sway(on, level, left, right, window)
        out.append(Profile(y, on, beside, level, edge, sway, beyond, stepped[k]))
    return out


def read_patch_profiles(
    pixels: Pixels, registration: Registration, patches: Sequence[Patch], beside: Sequence[Profile | None]
) -> list[Profile | None]:
    """Read solids or tints that lie side by side, at most 40 mm of the width of each; none where they can't be seen.

    Each goes with the bare paper that runs down beside it, or where it has none, with that of a strip that runs past
    it, of which `beside` holds one for each.
    """
    if not patches:
        return []
    boxes, papers = [], []
    for patch in patches:
        middle, _ = patch.box.centre
        half = min(_MOST_WIDTH_MM, patch.box.width - 2 * _INSET_X_MM) / 2
        box = Box(middle - half, patch.box.y0 + _INSET_Y_MM, middle + half, patch.box.y1 - _INSET_Y_MM)
        boxes.append(box)
        papers.append([paper for paper in registration.layout.papers if _runs_beside(paper.box, patch.box, box)])
    bare = [Box(p.box.x0, boxes[0].y0, p.box.x1, boxes[0].y1) for of_patch in papers for p in of_patch]
    read = _read(pixels, registration, _around([*boxes, *bare]), _ACROSS_PER_MM)
    if read is None:
        if len(patches) == 1:
            return [None]
        pairs = zip(patches, beside, strict=True)
        return [read_patch_profiles(pixels, registration, [patch], [strip])[0] for patch, strip in pairs]
    x, y, values = read
    spans = [*((box.x0, box.x1) for box in boxes), *((box.x0 + _PAPER_X_MM, box.x1 - _PAPER_X_MM) for box in bare)]
    means, count = _means(values, x, spans)
    around = iter(zip(*_levels(y, means[len(boxes) :]), count[len(boxes) :], strict=True))
    out: list[Profile | None] = []
    for mean, of_patch, strip in zip(means[: len(boxes)], papers, beside, strict=True):
        level, stepped = None, None
        own = [(even, steps) for even, steps, seen in itertools.islice(around, len(of_patch)) if seen]
        if own:
            level = np.mean([even for even, _ in own], axis=0)
            stepped = np.any([steps for _, steps in own], axis=0)
        elif strip is not None and strip.level is not None:
            level = np.stack([np.interp(y, strip.y_mm, strip.level[:, k]) for k in range(3)], axis=1)
            if strip.stepped is not None:
                stepped = np.interp(y, strip.y_mm, strip.stepped) > 0
        out.append(Profile(y, mean, None, level, stepped=stepped))
    return out


def _runs_beside(paper: Box, patch: Box, read: Box) -> bool:
    """Tell whether bare `paper` lies right beside a `patch`, all the way down what is `read` of it."""
    gap = max(paper.x0 - patch.x1, patch.x0 - paper.x1)
    return 0.0 <= gap < _BESIDE_MM and paper.y0 <= read.y0 + _INSET_Y_MM and paper.y1 >= read.y1 - _INSET_Y_MM


def _around(boxes: Sequence[Box]) -> Box:
    return Box(min(b.x0 for b in boxes), min(b.y0 for b in boxes), max(b.x1 for b in boxes), max(b.y1 for b in boxes))


def _means(
    values: NDArray[Any], x_mm: NDArray[np.float64], spans: Sequence[tuple[float, float]]
) -> tuple[list[NDArray[np.float64]], list[int]]:
    """Mean light (H, 3) of B, G, R `values` (H, W, 3) at `x_mm` (W,) within each of `spans`; of how many columns."""
    first, last = np.array(spans).T
    starts, stops = np.searchsorted(x_mm, first, "right").tolist(), np.searchsorted(x_mm, last, "left").tolist()
    means, counts = [], []
    for start, stop in zip(starts, stops, strict=True):
        counts.append(max(0, stop - start))
        # made light here, for much of a view lies in no span
        part = values[:, start : start + counts[-1]]
        means.append(means_along(_light(part), 1)[:, 0] if counts[-1] else np.zeros((len(values), 3)))
    return means, counts


def _light(values: NDArray[Any]) -> NDArray[np.float32]:
    """Linear R, G, B of B, G, R `values` (H, W, 3)."""
    return linear_light(cv2.cvtColor(values, cv2.COLOR_BGR2RGB))


def _levels(
    y_mm: NDArray[np.float64], papers: Sequence[NDArray[np.float64]]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Level (P, N, 3) of the light on each of P bare `papers` (N, 3), and where it steps (P, N); of all at once."""
    if not papers:
        return np.zeros((0, len(y_mm), 3)), np.zeros((0, len(y_mm)), bool)
    light = np.stack(papers, axis=1)
    logs = np.log(np.maximum(light @ LUMINANCE, 1e-4))
    colours = 3 * len(papers)
    even = _even(y_mm, np.concatenate([light.reshape(len(y_mm), colours), logs], axis=1))
    levels = even[:, :colours].reshape(light.shape).swapaxes(0, 1)
    return np.ascontiguousarray(levels), _stepped(y_mm, logs, even[:, colours:])


def _even(y_mm: NDArray[np.float64], light: NDArray[np.float64]) -> NDArray[np.float64]:
    """`light` (N, K) of paper without its grain, specks and the scanner's own bands.

    Lines through the medians of long blocks, carried on to the ends as light runs there: an outermost block reaches
    half its length beyond its middle, where light goes on falling as it does within.
    """
    block = max(1, round(_PAPER_BLOCK_MM / float(y_mm[1] - y_mm[0])))
    at, middle = block_medians(y_mm, light, block)
    out = _lines_through(at, middle, y_mm)
    first, last = np.searchsorted(y_mm, at[[0, -1]]).tolist()
    for end, rest, one in ((slice(0, block), slice(0, first), 0), (slice(-block, None), slice(last, None), -1)):
        y, medians = _short_blocks(y_mm[end], light[end])
        away = y - y.mean()
        slope = away @ medians / max(float(away @ away), 1e-9)
        out[rest] = middle[one] + np.outer(y_mm[rest] - at[one], slope)
    return np.asarray(out)


def _lines_through(
    at: NDArray[np.float64], values: NDArray[np.float64], places: NDArray[np.float64]
) -> NDArray[np.float64]:
    """`numpy.interp` of each column of `values` (B, K) at `at` (B,), ascending, at `places` (N,): (N, K)."""
    after = np.searchsorted(at, places).clip(1, len(at) - 1)
    low, high = at[after - 1], at[after]
    share = ((places - low) / (high - low)).clip(0.0, 1.0)[:, None]
    before = values[after - 1]
    return np.asarray(before + share * (values[after] - before))


def _short_blocks(
    y_mm: NDArray[np.float64], light: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return block_medians(y_mm, light, max(1, round(_PAPER_SHORT_MM / float(y_mm[1] - y_mm[0]))))


def _stepped(y_mm: NDArray[np.float64], logs: NDArray[np.float64], even: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(P, N) where light, of which `logs` (N, P) are logarithms and `even` (N, P) their level, changes faster."""
    at, medians = _short_blocks(y_mm, logs)
    # dust, a fibre or a JPEG's block lies on one alone, where a step of light stays
    above = running_middle((medians - _lines_through(y_mm, even, at)).T, 3)
    off = np.abs(_lines_through(at, above.T, y_mm)).T
    # between two medians the line through them scatters by two thirds of their variance
    upper = len(y_mm) // 2
    usual = np.partition(off, upper, axis=1)[:, upper, None]
    return np.asarray(off > np.maximum(_STEP_LIGHT, _STEP_SD * MAD_SD * 1.5**0.5 * usual))


def _sway(
    on: NDArray[np.float64],
    level: NDArray[np.float64],
    left: NDArray[np.float64],
    right: NDArray[np.float64],
    window_mm: float,
) -> NDArray[np.float64] | None:
    """(N,) mm both edges lie to the right: what the window over the left one gains and that over the right one loses.

    A strip that gets wider or darker changes both alike, which cancels.
    """
    depth = (level - on).mean(axis=0)
    best = int(np.argmax(depth))
    if depth[best] < _LEAST_STEP * float(level[:, best].mean()):
        return None
    gain = (left[:, best] - right[:, best]) / (2.0 * np.maximum(level[:, best] - on[:, best], 0.3 * depth[best]))
    return np.asarray(window_mm * (gain - median_high(gain)))


def _beyond(
    on: NDArray[np.float64], level: NDArray[np.float64], outside: Sequence[NDArray[np.float64]]
) -> tuple[float, float] | None:
    depth = (level - on).mean(axis=0)
    best = int(np.argmax(depth))
    if depth[best] < _LEAST_STEP * float(level[:, best].mean()):
        return None
    left, right = (float((level - light)[:, best].mean() / depth[best]) for light in outside)
    return left, right


def _edge_sd(x: NDArray[np.float64], light: NDArray[np.float64]) -> float | None:
    """Standard deviation of the edge at x = 0 between paper (left) and ink: half the way from 16 to 84 %."""
    paper = median_high(light[(x > -_EDGE_REACH_MM) & (x < -0.4 * _EDGE_REACH_MM)])
    ink = median_high(light[(x > 0.4 * _EDGE_REACH_MM) & (x < _EDGE_REACH_MM)])
    near = np.abs(x) < 0.6 * _EDGE_REACH_MM
    if paper - ink < _LEAST_STEP * paper or near.sum() < 4:
        return None
    share = np.maximum.accumulate((paper - light[near]) / (paper - ink))
    if share[0] > 0.1587 or share[-1] < 0.8413:
        return None
    at = [float(np.interp(level, share, x[near])) for level in (0.1587, 0.8413)]
    return (at[1] - at[0]) / 2


def _read(
    pixels: Pixels, registration: Registration, box: Box, most_x: float = np.inf
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[Any]] | None:
    """Columns' x (W,), rows' y (H,) and captured B, G, R (H, W, 3) of `box`."""
    native = min(registration.px_per_mm_x, registration.px_per_mm_y)
    # a whole factor, so that what is averaged down is averaged evenly
    view = look_at(pixels, registration, box, scale=1.0 / max(1, round(native / SAMPLES_PER_MM)), most_x=most_x)
    if view.inside < 1.0:
        return None
    values = cv2.cvtColor(view.values, cv2.COLOR_GRAY2BGR) if view.values.ndim == 2 else view.values
    return view.x_mm, view.y_mm, values
