"""Light along the feed: the mean over the width of a strip or solid, row of samples by row of samples.

Bands and fade lie across the print direction, so the mean over the width keeps them and takes out the grain. The
bare paper to the left of each run-off strip is read in the same view, at the same heights: what the light or the
scanner's carriage does along the page it does to both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.pattern.elements import Patch
from printcheck.register.result import Registration
from printcheck.register.view import look_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "Profile",
    "block_medians",
    "read_patch_profile",
    "read_strip_profile",
    "relative_lightness",
    "sound_samples",
]

SAMPLES_PER_MM = 12.0  # 300 dots/inch: six samples to the finest band looked for
_INSET_X_MM, _INSET_Y_MM = 0.35, 0.5  # clear of the edges' blur and of registration error
_PAPER_INSET_MM = 0.05  # the pattern keeps it 0.3 mm clear of the strip already
_MOST_WIDTH_MM = 40.0  # of a solid: as much as the mean needs
_PAPER_BLOCK_MM = 8.0  # light changes more slowly than this
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1: Y of linear R, G, B
_OUTLIER = 4.0  # robust standard deviations; the crest of a sinusoid lies at 1.35
_LINE = 0.12  # of the way from ink to paper; one missing row of 600/inch reaches twice this at 300 dots/inch
_EDGE_REACH_MM = 0.6  # of an edge's blur, at most
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
        The same of the bare paper beside it, or at the same heights beside a strip; none where neither was seen.
    edge_sd_mm : float or None
        Blur of the strip's own edge, as the standard deviation of a Gaussian; none where none was read.
    """

    y_mm: NDArray[np.float64]
    light: NDArray[np.float64]
    paper: NDArray[np.float64] | None
    edge_sd_mm: float | None = None

    @property
    def step_mm(self) -> float:
        return float(self.y_mm[1] - self.y_mm[0])

    def lightness(self) -> NDArray[np.float64]:
        """(N,) L* relative to the paper beside, whose own noise is smoothed over some mm; else to a perfect white."""
        return relative_lightness(self.light, np.ones(3) if self.paper is None else self.even_paper())

    def even_paper(self) -> NDArray[np.float64]:
        """(N, 3) light of the paper beside without its grain, specks and the scanner's own bands."""
        assert self.paper is not None
        at, middle = block_medians(self.y_mm, self.paper, max(1, round(_PAPER_BLOCK_MM / self.step_mm)))
        return np.stack([np.interp(self.y_mm, at, middle[:, k]) for k in range(3)], axis=1)


def relative_lightness(light: NDArray[np.float64], paper: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIE L* (...,) of linear R, G, B `light` (..., 3) on `paper` as white, by luminance (ISO/CIE 11664-4)."""
    y = (light @ _LUMINANCE) / np.maximum(paper @ _LUMINANCE, 1e-6)
    return np.asarray(np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, 24389 / 27 * y))


def block_medians(
    y_mm: NDArray[np.float64], values: NDArray[np.float64], block: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles (B,) and medians (B, ...) of successive blocks of about `block` samples; at least two blocks."""
    count = max(2, round(len(y_mm) / block))
    size = len(y_mm) // count
    skip = (len(y_mm) - count * size) // 2  # fewer samples than there are blocks: shared out over both ends
    used = slice(skip, skip + count * size)
    middle = np.median(values[used].reshape(count, size, *values.shape[1:]), axis=1)
    return y_mm[used].reshape(count, size).mean(axis=1), np.asarray(middle)


def sound_samples(lightness: NDArray[np.float64], trend: NDArray[np.float64], step_mm: float) -> NDArray[np.bool_]:
    """Mask (N,) that leaves out missing lines, specks and their blurred edges.

    They stand out from `trend` (N,) by more than a sinusoid of any amplitude would from its own spread, and by a good
    part of the way to bare paper: bands stay, the white gaps that open between rows where ink runs low among them,
    and a missing line is not counted a second time as a band.
    """
    rest = np.abs(lightness - trend)
    spread = 1.4826 * float(np.median(rest))
    bad = rest > max(_OUTLIER * spread, _LINE * (100.0 - float(np.median(lightness))))
    reach = max(1, round(_WING_MM / step_mm))
    wide = np.convolve(bad, np.ones(2 * reach + 1), "same") > 0.5
    return np.asarray(~wide)


def read_strip_profile(
    pixels: NDArray[Any], registration: Registration, strip: Patch, paper: Box
) -> Profile | None:
    """Read a strip down the page and the bare strip `paper` to its left; none where they can't be seen."""
    box = Box(paper.x0, strip.box.y0 + _INSET_Y_MM, strip.box.x1, strip.box.y1 - _INSET_Y_MM)
    read = _read(pixels, registration, box)
    if read is None:
        return None
    x, y, light = read
    on = (x > strip.box.x0 + _INSET_X_MM) & (x < strip.box.x1 - _INSET_X_MM)
    beside = (x > paper.x0 + _PAPER_INSET_MM) & (x < paper.x1 - _PAPER_INSET_MM)
    if on.sum() < 2 or beside.sum() < 1:
        return None
    edge = _edge_sd(x - strip.box.x0, light.mean(axis=(0, 2)))
    return Profile(y, light[:, on].mean(axis=1), light[:, beside].mean(axis=1), edge)


def read_patch_profile(
    pixels: NDArray[Any], registration: Registration, patch: Patch, beside: Profile | None = None
) -> Profile | None:
    """Read a solid or tint, at most 40 mm of its width; none where it can't be seen.

    `beside` is a strip that runs past it: its paper at the same heights stands for the paper beside the patch.
    """
    x, _ = patch.box.centre
    half = min(_MOST_WIDTH_MM, patch.box.width - 2 * _INSET_X_MM) / 2
    box = Box(x - half, patch.box.y0 + _INSET_Y_MM, x + half, patch.box.y1 - _INSET_Y_MM)
    read = _read(pixels, registration, box)
    if read is None:
        return None
    _, y, light = read
    paper = None
    if beside is not None and beside.paper is not None:
        level = beside.even_paper()
        paper = np.stack([np.interp(y, beside.y_mm, level[:, k]) for k in range(3)], axis=1)
    return Profile(y, light.mean(axis=1), paper)


def _edge_sd(x: NDArray[np.float64], light: NDArray[np.float64]) -> float | None:
    """Standard deviation of the edge at x = 0 between paper (left) and ink: half the way from 16 to 84 %."""
    paper = float(np.median(light[(x > -_EDGE_REACH_MM) & (x < -0.4 * _EDGE_REACH_MM)]))
    ink = float(np.median(light[(x > 0.4 * _EDGE_REACH_MM) & (x < _EDGE_REACH_MM)]))
    near = np.abs(x) < 0.6 * _EDGE_REACH_MM
    if paper - ink < _LEAST_STEP * paper or near.sum() < 4:
        return None
    share = np.maximum.accumulate((paper - light[near]) / (paper - ink))
    if share[0] > 0.1587 or share[-1] < 0.8413:
        return None
    at = [float(np.interp(level, share, x[near])) for level in (0.1587, 0.8413)]
    return (at[1] - at[0]) / 2


def _read(
    pixels: NDArray[Any], registration: Registration, box: Box
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]] | None:
    """Columns' x (W,), rows' y (H,) and linear R, G, B (H, W, 3) of `box`."""
    native = min(registration.px_per_mm_x, registration.px_per_mm_y)
    # a whole factor, so that what is averaged down is averaged evenly
    view = look_at(pixels, registration, box, scale=1.0 / max(1, round(native / SAMPLES_PER_MM)))
    if view.inside < 1.0:
        return None
    light = linear_light(np.ascontiguousarray(view.values))
    light = np.repeat(light[..., None], 3, axis=2) if light.ndim == 2 else light[..., ::-1]
    return view.x_mm, view.y_mm, light.astype(np.float64)
