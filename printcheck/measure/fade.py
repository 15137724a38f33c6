"""Fade, starvation and air: how an ink's run-off strip changes in print order, from the head of the page to its foot.

Fade is a lasting loss. Starvation is a loss with ink laid down that comes back after a pause. An air slug is a blank,
then ink again. All three are read relative to the bare paper beside the strip, so uneven light, which lies on both,
is none of them; lines that are missing are left out.

All rows of a swath are printed in one stroke, so that ink that can't follow shows from swath to swath: lighter, and
lighter still. A swath or two that stand apart from those about them, or the last one alone, may have been laid
otherwise by the printer.

The lightness is cut into blocks of some mm and fitted by least squares with shapes that stay level, then run down,
then either stay down or come back; the shape with the least residual is taken, and only kept over a straight line
where it explains much more (difference of the Bayesian information criterion, Schwarz 1978).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printcheck.least_squares import least_squares
from printcheck.limits import LIMITS
from printcheck.measure.evenness_result import DENSITY_PER_DL, FadeReading
from printcheck.measure.profile import Profile, block_medians, sound_samples
from printcheck.robust import MAD_SD, median_high, quantile_of, running_middle

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["FadeReading", "read_fade"]

_BLOCK_MM = 5.0  # of strip, averaged before a shape is fitted: a fifth of a swath
_ONE_EDGE_MM = 8.0  # between two steps of light: nearer ones are the two sides of one edge
_LEAST_BLOCKS = 8  # of inked strip, for a shape with four unknowns
_BLANK = 0.25  # share of the strip's usual density below which it counts as bare
_LEAST_SLUG_MM = LIMITS["blank_least"].value
_RUN_MARGIN = LIMITS["blank_no_run"].value
_PLAINLY_INK = 0.05  # of the paper's light, and darker: how much ink is there is no question of whether any is
_BLACK = LIMITS["density_black"].value
_BETTER = LIMITS["fade_evidence"].value
_LEAST_DL = LIMITS["fade_least"].value
_SURELY_DL = LIMITS["fade_surely"].value
_LEAST_DIP_DL = LIMITS["dip_least"].value
_LEAST_SWATHS = LIMITS["dip_swaths"].value
_LAST_SWATHS = LIMITS["fade_swaths"].value
_SWATH_DL = LIMITS["dip_of_swath"].value
_SURE = LIMITS["dip_sure"].value
_SCALE_SD = LIMITS["fade_scale_sd"].value
_SCALE_SD_YELLOW = LIMITS["fade_scale_sd_yellow"].value
_CURVE_SD = LIMITS["fade_curve_sd"].value
_UNEVEN_SD = LIMITS["fade_uneven_sd"].value
_FULLEST = 0.9  # quantile of a strip's densities that stands for its fullest
_BACK = 0.1  # of a dip's depth, above which the ink isn't back yet
_HARDLY = 0.1  # of a strip's fullest, the least that a loss is a share of
_THIN_BLOCKS = 5  # that must be as thin: a swath laid apart is no loss


def read_fade(ink: str, profile: Profile, longest_run_mm: float = 0.0, swath_mm: float = 0.0) -> FadeReading | None:
    """Judge one strip.

    Parameters
    ----------
    ink : str
    profile : Profile
        Of the strip, with the paper beside it.
    longest_run_mm : float
        Height of the ink's longest run of missing rows: blanks hardly longer than this are that run.
    swath_mm : float
        Height of the ink's head: the most that one stroke prints.

    Returns
    -------
    FadeReading or None
        None where too little of the strip holds ink.
    """
    assert profile.level is not None
    y, step = profile.y_mm, profile.step_mm
    lightness = profile.lightness()
    taken = _most_taken(profile)
    blanks = _blanks(-np.log10(np.maximum(taken, _PLAINLY_INK)), y, max(_LEAST_SLUG_MM, _RUN_MARGIN * longest_run_mm))
    inked = np.ones(len(y), bool)
    for a, b in blanks:
        inked &= (y < a - 1.0) | (y > b + 1.0)
    block = max(2, round(_BLOCK_MM / step))
    if inked.sum() < _LEAST_BLOCKS * block:
        return None
    y_on, light_on, taken_on = y[inked], lightness[inked], taken[inked]
    trend = np.interp(y_on, *block_medians(y_on, light_on, block))
    keep = sound_samples(light_on, trend, step)
    if keep.sum() < _LEAST_BLOCKS * block / 2:
        keep = np.ones(len(y_on), bool)
    at, level = _block_means(y_on[keep], light_on[keep], block)
    _, of_blocks = _block_means(y_on[keep], taken_on[keep], block)
    fit = _best_shape(at, level, swath_mm)
    paper_sd, fall = _paper(profile)
    middle = float(level.mean())
    of_paper = math.hypot(paper_sd, _CURVE_SD * _below_paper(middle) * fall) * (middle + 16.0) / 3.0
    scale_sd = _SCALE_SD_YELLOW if ink == "Y" else _SCALE_SD
    half = 1.96 * math.hypot(fit.sd, of_paper, scale_sd * fit.last)
    dense = _densities(of_blocks)
    # light that the paper beside does not tell may dip as deep and come back, or leave next to nothing of a loss
    doubtful = fit.worst < half if fit.kind == "starvation" else fit.last - half < _SURELY_DL
    dip = _dip(at, level, fit) if fit.kind == "starvation" and not doubtful else None
    kind = "air" if blanks else "none" if doubtful else fit.kind
    return FadeReading(
        ink,
        kind,
        fit.last,
        (fit.last - half, fit.last + half),
        None if dense is None else _density_ratio(at, dense),
        fit.worst,
        blanks[0][0] if blanks else fit.start_mm,
        blanks[-1][1] if blanks else fit.end_mm,
        blanks,
        _most_lost(level, dense, of_paper) if ink == "Y" else None,
        100.0 - (middle - fit.last / 2.0),
        dip,
    )


def _most_taken(profile: Profile) -> NDArray[np.float64]:
    """(N,) light relative to paper in the channel the ink absorbs most, however dark.

    Sample by sample a dark channel is mostly noise, but its mean over a block is not. Another channel won't do: where
    an ink takes a tenth of the light, the lamp's drift down the page is a good part of what it takes.
    """
    ratio = _relative(profile)
    return np.asarray(ratio[:, int(np.argmin(ratio.mean(axis=0)))])


def _relative(profile: Profile) -> NDArray[np.float64]:
    assert profile.level is not None
    return np.asarray(profile.light / np.maximum(profile.level, 1e-6))


def _paper(profile: Profile) -> tuple[float, float]:
    """Standard deviation of the change of the log of light down the bare paper beside, and that change.

    The first is what its own blocks scatter by about slow light and the steps of a shadow's edges: those lie on the
    ink too. The second is the largest of them, where there are any. dL* = (116 / 3) Y^(1/3) dY / Y, and
    116 Y^(1/3) = L* + 16.
    """
    if profile.paper is None:
        return 0.0, 0.0
    block = max(2, round(_BLOCK_MM / profile.step_mm))
    at, light = block_medians(profile.y_mm, np.log(np.maximum(profile.paper.mean(axis=1), 1e-4)), block)
    t = (at - at.mean()) / (at[-1] - at[0])
    slow = np.stack([np.ones(len(t)), t, t**2 - np.mean(t**2)])
    fitted = least_squares(slow.T, light) @ slow
    fall = float(fitted[-1] - fitted[0])
    edges = _light_edges(profile)
    if edges and len(t) > len(slow) + 3 * len(edges):
        ramps = np.stack([np.clip((at - a) / (b - a), 0.0, 1.0) - 0.5 for a, b in edges])
        clear = ~np.logical_or.reduce([(at > a) & (at < b) for a, b in edges])
        design = np.concatenate([slow, ramps])[:, clear]
        found = least_squares(design.T, light[clear])
        rest = light[clear] - found @ design
        return _sd(rest, 1.0 / float(t @ t)), max([fall, *found[len(slow) :]], key=abs)
    return _sd(light - fitted, 1.0 / float(t @ t)), fall


def _light_edges(profile: Profile) -> list[tuple[float, float]]:
    """Page y from and to where the light steps; what is told from slow light above and below an edge is one."""
    if profile.stepped is None or not profile.light_steps:
        return []
    y = profile.y_mm[profile.stepped]
    parts = np.split(y, np.flatnonzero(np.diff(y) > _ONE_EDGE_MM) + 1)
    return [(float(part[0]) - _BLOCK_MM / 2, float(part[-1]) + _BLOCK_MM / 2) for part in parts]


def _below_paper(lightness: float) -> float:
    """Natural log of the paper's light over that of an ink of this L* over it."""
    return 3.0 * math.log(116.0 / max(lightness + 16.0, 18.0))


def _blanks(density: NDArray[np.float64], y: NDArray[np.float64], least_mm: float) -> tuple[tuple[float, float], ...]:
    """Bare stretches of at least `least_mm`; what blurred dashes or specks put in between doesn't end one."""
    usual = float(np.partition(density, 3 * len(density) // 4)[3 * len(density) // 4])
    if usual < 0.01:  # no strip at all: an absent ink is another finding
        return ()
    bare = np.concatenate([[False], density < _BLANK * usual, [False]])
    edges = np.flatnonzero(np.diff(bare.astype(np.int8)))
    step = float(y[1] - y[0])
    out = [(float(y[a]), float(y[b - 1]) + step) for a, b in edges.reshape(-1, 2)]
    return tuple((a, b) for a, b in out if b - a >= least_mm)


def _block_means(
    y: NDArray[np.float64], values: NDArray[np.float64], block: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    count = max(_LEAST_BLOCKS, round(len(y) / block))
    edges = np.linspace(0, len(y), count + 1).round().astype(int)[:-1]
    size = np.diff([*edges, len(y)])
    return np.add.reduceat(y, edges) / size, np.add.reduceat(values, edges) / size


@dataclass(frozen=True, slots=True)
class _Fit:
    kind: str
    last: float
    sd: float
    worst: float
    start_mm: float | None
    end_mm: float | None


@lru_cache(maxsize=8)
def _shapes(
    count: int, back: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Shapes (S, count) level, then running from 0 to 1 between two blocks (S, 2), then level or back at 0.

    Also less the mean of each (S, count), and the sum of squares of that (S,); the blocks come last.
    """
    t = np.arange(count, dtype=float)
    last = count - 3 if back else count
    pairs = np.array([(a, b) for a in range(count - 2) for b in range(a + 2, last)], dtype=np.int64)
    ramp = (t - pairs[:, :1]) / (pairs[:, 1:] - pairs[:, :1])
    shapes = np.where(ramp > 1, 0.0 if back else 1.0, np.clip(ramp, 0, 1))
    centred = shapes - shapes.mean(axis=1, keepdims=True)
    for values in (shapes, centred):
        values.flags.writeable = False
    return shapes, centred, np.einsum("ij,ij->i", centred, centred), pairs


@dataclass(frozen=True, slots=True)
class _Closest:
    """The loss, of one kind, that follows an ink's blocks most closely.

    `sse` is what it leaves of their squares, L*^2; `depth` its size, L*; `blocks` (2,) where it begins and is at its
    worst; `shape` (N,) the loss itself at a depth of 1, and `centred` the same about its mean.
    """

    sse: float
    depth: float
    blocks: NDArray[np.int64]
    shape: NDArray[np.float64]
    centred: NDArray[np.float64]

    def sd(self, level: NDArray[np.float64]) -> float:
        """Standard deviation of the depth, from what it leaves of `level` (N,) about its mean."""
        return _sd(level - self.depth * self.centred, 1.0 / float(self.centred @ self.centred))


def _closest(level: NDArray[np.float64], total: float, *, back: bool) -> _Closest:
    """Fit each loss, or each that comes `back`, to `level` (N,) about its mean, whose squares sum to `total`."""
    shapes, centred, power, pairs = _shapes(len(level), back)
    project = centred @ level
    gain = project**2 / power
    k = int(np.argmax(gain))
    return _Closest(total - float(gain[k]), float(project[k] / power[k]), pairs[k], shapes[k], centred[k])


def _best_shape(at: NDArray[np.float64], level: NDArray[np.float64], swath_mm: float) -> _Fit:
    """Straight line, lasting loss or loss that comes back: the one the blocks speak for."""
    count = len(level)
    t = (at - at[0]) / (at[-1] - at[0])
    centred = level - level.mean()
    total = float(centred @ centred)
    t_c = t - t.mean()
    slope = float(t_c @ centred / (t_c @ t_c))
    rest = centred - slope * t_c
    line_sse = float(rest @ rest)
    lasting, passing = (_closest(centred, total, back=back) for back in (False, True))
    floor = max(1e-12, 1e-4 * count)  # 0.01 L*: finer than that no block is known

    def bic(sse: float, parameters: int) -> float:
        return count * math.log(max(sse, floor) / count) + parameters * math.log(count)

    line = bic(line_sse, 2)
    down, back_again = bic(lasting.sse, 4), bic(passing.sse, 4)
    dip_sd = passing.sd(centred)
    laid_apart = False
    if back_again < min(line, down) - _BETTER and passing.depth > max(_LEAST_DIP_DL, _SURE * dip_sd):
        depth, pair, shape = passing.depth, passing.blocks, passing.shape
        # the ink comes back within a block, so the block before it holds the worst
        start = level.mean() - depth * float(shape.mean())
        near = slice(max(pair[1] - 1, 0), pair[1] + 2)
        worst = max(depth, float(level[near].max() - start))
        first, last = float(at[pair[0]]), float((at[pair[1]] + at[pair[1] + 1]) / 2)
        laid_apart = last - first < _LEAST_SWATHS * swath_mm and worst < _SWATH_DL
        if not laid_apart:
            change = depth * float(shape[-1] - shape[0])
            return _Fit("starvation", change, float(np.hypot(dip_sd, _UNEVEN_SD)), worst, first, last)
    depth, pair, shape = lasting.depth, lasting.blocks, lasting.shape
    laid_apart |= float(at[-1] - at[pair[0]]) < _LAST_SWATHS * swath_mm and depth < _SWATH_DL
    if not laid_apart and down < line - _BETTER and abs(depth) > _LEAST_DL:
        sd = lasting.sd(centred)
        start, end = float(at[pair[0]]), float(at[min(pair[1], count - 1)])
        change = depth * float(shape[-1] - shape[0])
    else:
        change, start, end = slope, float(at[0]), float(at[-1])
        sd = _sd(rest, 1.0 / float(t_c @ t_c))
    sd = float(np.hypot(sd, _UNEVEN_SD))
    if change < _LEAST_DL or change < 1.96 * sd:
        return _Fit("none", change, sd, max(change, 0.0), None, None)
    return _Fit("fade", change, sd, change, start, end)


def _dip(at: NDArray[np.float64], level: NDArray[np.float64], fit: _Fit) -> tuple[float, float] | None:
    """Page y from and to where blocks at `at` (N,), of `level` (N,), are lighter than about it; none where most are.

    Ink often comes back over some mm, which no shape fitted holds.
    """
    assert fit.start_mm is not None
    assert fit.end_mm is not None
    inside = (at >= fit.start_mm) & (at <= fit.end_mm)
    usual = median_high(level[~inside]) if not inside.all() else float(level[0])
    worst = int(np.argmax(np.where(inside, level, -np.inf)))
    back = level <= usual + _BACK * (level[worst] - usual)
    above, below = np.flatnonzero(back[:worst]), np.flatnonzero(back[worst:])
    first = int(above[-1]) + 1 if len(above) else 0
    last = worst + int(below[0]) - 1 if len(below) else len(at) - 1
    if last - first + 2 >= len(at) // 2:  # what is left would be too little to look for bands in
        return None
    half = float(at[1] - at[0]) / 2
    return float(at[first]) - half, float(at[last]) + half


def _sd(rest: NDArray[np.float64], leverage: float) -> float:
    """Standard deviation of a slope from its residuals, widened for neighbouring blocks that go together."""
    n = len(rest)
    variance = float(rest @ rest) / max(n - 2, 1)
    neighbours = float(rest[1:] @ rest[:-1])
    together = neighbours / max(float(rest @ rest), 1e-12)
    together = min(max(together, 0.0), 0.8)
    return math.sqrt(variance * leverage * (1 + together) / (1 - together))


def _densities(taken: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Densities (N,) of blocks' light relative to paper; none where the strip's head, middle or foot is black."""
    third = len(taken) // 3
    if min(float(median_high(part)) for part in (taken[:third], taken[third:-third], taken[-third:])) < _BLACK:
        return None
    return np.asarray(-np.log10(np.maximum(taken, _BLACK / 2)))


def _density_ratio(at: NDArray[np.float64], dense: NDArray[np.float64]) -> float | None:
    """Density at the foot over that at the head, of the straight line through blocks' densities."""
    t = (at - at.mean()) / (at[-1] - at[0])
    slope, middle = float(t @ dense / (t @ t)), float(dense.mean())
    first = middle - slope / 2
    return float((middle + slope / 2) / first) if first > 0.01 else None


def _most_lost(
    level: NDArray[np.float64], dense: NDArray[np.float64] | None, paper_sd: float
) -> tuple[float, float] | None:
    """Largest share of an ink that is gone over some blocks, whatever the shape of its loss, and its sd.

    By its `dense` (N,) densities, or where these can't be read by how far it lies under the paper's L*, of which
    thinner ink loses a smaller share: bare paper between dots takes most of a dark channel's density (Murray 1936),
    and that channel itself holds little of luminance. L* also falls as another ink comes in, so of L* only what gets
    lighter down the page is a loss. `level` (N,) are the blocks' L*, and `paper_sd` what the light leaves in doubt of
    their change.
    """
    ink, doubt = (100.0 - level, paper_sd) if dense is None else (dense, paper_sd * DENSITY_PER_DL)
    fullest = quantile_of(ink, _FULLEST)
    if fullest <= 0.0:
        return None
    noise = MAD_SD * median_high(np.abs(np.diff(ink))) / math.sqrt(2.0)
    middle = running_middle(ink, _THIN_BLOCKS)
    before = np.full(len(middle), fullest)
    if dense is None:
        before = np.clip(np.maximum.accumulate(middle), _HARDLY * fullest, fullest)
    least = int(np.argmin(middle / before))
    return float(1.0 - middle[least] / before[least]), math.hypot(noise, doubt) / float(before[least])
