"""Strength and place of every dash of one printed ladder.

Each column of dashes is averaged along the dashes in a few segments, giving profiles of linear light along the
feed. In each profile light = paper - sum of dashes: the paper a low polynomial, each dash a line blurred by
printing and capture, with an amplitude (ink laid down, in mm of full absorption: blur spreads it, but does not
change it) and a small shift. Amplitudes and shifts come from one linear least-squares fit a column, so
overlapping blurs don't leak from a dash to its neighbours. The segments of a dash are independent repeats of
the same reading: their middle gives the value and their scatter its standard deviation, whatever the noise was.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.polynomial import legendre

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.pattern.elements import Ladder

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.register.view import View

__all__ = ["LADDER_MARGIN_MM", "LadderSignal", "ladder_box", "mix_channels", "read_ladder"]

LADDER_MARGIN_MM = 0.45  # paper kept above and below a ladder: the bands' labels begin at 0.8 mm
_SEGMENTS = 8  # a dash of 12 mm in pieces of 1.4 mm: longer than any grain, shorter than a hair across it
_TRIM_MM = 0.45  # cut off at a dash's ends: registration error along x, and the round end of a line
_WIDTHS_MM = tuple(np.geomspace(0.018, 0.17, 9))  # trial widths (sigma) of a blurred line
_WIDTH_DASHES = 12  # dashes of a column that tell the width
_PAPER_ORDER = 3
_SHADOW = 0.25  # paper darker than this share of the ladder's middle is in shadow too deep to read
_SHIFT_RIDGE = 0.15  # prior on a dash's shift, in widths: a missing dash has none


@dataclass(frozen=True, slots=True)
class LadderSignal:
    """What one printed ladder shows, before it is judged.

    Attributes
    ----------
    parts : (rows, S) float64
        Line weight, mm of full absorption, in each of S segments along each dash.
    moved : (rows, S) float64
        The same times the landing error in mm.
    amplitude, sd : (rows,) float64
        Middle of the segments' line weights, and its standard deviation.
    offset_mm, offset_sd_mm : (rows,) float64
        Landing below the place its neighbours predict; meaningless where the amplitude is near 0.
    readable : (rows,) bool
        False where the dash lies outside the picture, or on deeply shadowed paper.
    paper : (rows,) float64
        Linear light of the paper beside each dash, 0 to 1.
    width_mm : float
        Sigma of a blurred line.
    shift_mm : float
        Mean shift of the ladder from where the registration put it.
    """

    parts: NDArray[np.float64]
    moved: NDArray[np.float64]
    amplitude: NDArray[np.float64]
    sd: NDArray[np.float64]
    offset_mm: NDArray[np.float64]
    offset_sd_mm: NDArray[np.float64]
    readable: NDArray[np.bool_]
    paper: NDArray[np.float64]
    width_mm: float
    shift_mm: float

    @property
    def unevenness(self) -> float:
        """Robust spread of the dashes' line weights over their level: 0.03 for a healthy head well captured."""
        values = self.amplitude[self.readable]
        if not values.size:
            return np.inf
        upper = values[values > 0.5 * np.quantile(values, 0.9)]
        level = float(np.median(upper)) if upper.size else 0.0
        if level <= 0:
            return np.inf
        return 1.4826 * float(np.median(np.abs(upper / level - 1)))


def read_ladder(view: View, ladder: Ladder) -> LadderSignal:
    """Read one ladder.

    Parameters
    ----------
    view : View
        One channel, covering the ladder and `LADDER_MARGIN_MM` above and below.
    ladder : Ladder
    """
    profiles = _profiles(view, ladder)  # (columns, H, segments)
    y = view.y_mm
    step = 1.0 / view.px_per_mm_y
    shift = _comb_shift(profiles, ladder, y)
    width = _line_width(profiles, ladder, y, step, shift)
    parts, moved, paper = (np.full((ladder.rows, _SEGMENTS), np.nan) for _ in range(3))
    for column in range(len(ladder.columns)):
        members = np.array(ladder.rows_in(column))
        centre = ladder.box.y0 + (members + 0.5) * ladder.pitch_mm + shift[column](members / ladder.rows)
        parts[members], moved[members], paper[members] = _fit_column(profiles[column], y, step, centre, width)
    return _signal(parts, moved, np.median(paper, axis=1), width, float(np.mean([poly(0.5) for poly in shift])))


def mix_channels(channels: list[list[LadderSignal]]) -> list[LadderSignal]:
    """The mix of channels that tells ink from bare paper best, for each printing of one ink's ladder.

    The linear discriminant of R. Fisher (Ann. Eugenics 7, 1936) between no ink and a sound dash: weights are the
    inverse of the dashes' covariance between channels times their mean. Rows that are missing scatter along the mean
    itself, which leaves the direction as it is; what varies in one channel alone (chroma that JPEG or a
    phone's denoising took away) is weighted down.

    Parameters
    ----------
    channels : list of list of LadderSignal
        By printing, then by channel.
    """
    stacked = np.concatenate([np.stack([s.amplitude for s in printing], axis=1) for printing in channels])
    stacked = stacked[np.isfinite(stacked).all(axis=1)]
    middle = np.median(stacked, axis=0)
    spread = 1.4826 * np.median(np.abs(stacked - middle), axis=0) + 1e-9
    clipped = middle + np.clip(stacked - middle, -3 * spread, 3 * spread)
    mean = clipped.mean(axis=0)
    covariance = np.cov(clipped, rowvar=False) + np.diag((0.02 * np.abs(mean) + 1e-6) ** 2)
    weights = np.linalg.solve(covariance, mean)
    weights = np.maximum(weights, 0.0)  # a channel only ever adds ink's absorption
    if weights @ mean <= 0:
        return [printing[0] for printing in channels]
    weights = weights * np.abs(mean).max() / (weights @ mean)
    best = int(np.argmax(weights * mean))
    return [
        _signal(
            np.tensordot(weights, np.stack([s.parts for s in printing]), 1),
            np.tensordot(weights, np.stack([s.moved for s in printing]), 1),
            printing[best].paper,
            printing[best].width_mm,
            printing[best].shift_mm,
        )
        for printing in channels
    ]


def _signal(
    parts: NDArray[np.float64],
    moved: NDArray[np.float64],
    paper: NDArray[np.float64],
    width_mm: float,
    shift_mm: float,
) -> LadderSignal:
    amplitude = _middle(parts)
    safe = np.where(np.abs(amplitude) > 1e-9, amplitude, np.nan)
    readable = np.isfinite(amplitude) & (paper > _SHADOW * np.nanmedian(paper))
    return LadderSignal(
        parts,
        moved,
        amplitude,
        _scatter(parts),
        _middle(moved) / safe,
        _scatter(moved) / np.abs(safe),
        readable,
        paper,
        width_mm,
        shift_mm,
    )


def _profiles(view: View, ladder: Ladder) -> NDArray[np.float64]:
    """Linear light averaged along the dashes: (columns, H, segments)."""
    light = linear_light(view.values)
    out = np.empty((len(ladder.columns), light.shape[0], _SEGMENTS))
    for number, (x0, x1) in enumerate(ladder.columns):
        left = round((x0 + _TRIM_MM - view.box.x0) * view.px_per_mm_x)
        right = round((x1 - _TRIM_MM - view.box.x0) * view.px_per_mm_x)
        strip = light[:, max(0, left) : right]
        out[number] = cv2.resize(strip, (_SEGMENTS, light.shape[0]), interpolation=cv2.INTER_AREA)
    return out


def _comb_shift(
    profiles: NDArray[np.float64], ladder: Ladder, y: NDArray[np.float64]
) -> list[np.polynomial.Polynomial]:
    """Shift of the dashes along the feed, for each column a polynomial over 0 (top) to 1 (bottom).

    The phase of the profile at the dashes' own spatial frequency; good to half their spacing either way, and
    blind to which dashes are missing. A plane over the ladder, weighted by the strength of the comb.
    """
    count = len(ladder.columns)
    spacing = count * ladder.pitch_mm
    pieces = 4 if ladder.rows // count >= 16 else 2 if ladder.rows // count >= 8 else 1
    x_mid = np.array([(a + b) / 2 for a, b in ladder.columns])
    means = profiles.mean(axis=2)
    x_unit = (x_mid - x_mid.mean()) / max(np.ptp(x_mid) / 2, 1e-9)
    places, phases, weights = [], [], []
    for column in range(count):
        dark = np.median(means[column]) - means[column]
        first = ladder.box.y0 + (ladder.order.index(column) + 0.5) * ladder.pitch_mm
        wave = dark * np.exp(-2j * np.pi * (y - first) / spacing)
        for chunk in np.array_split(np.arange(len(y)), pieces):
            # whole spacings only, or the mean leaks into the phase
            z = wave[chunk].mean()
            places.append((x_unit[column], (y[chunk].mean() - ladder.box.y0) / ladder.box.height - 0.5))
            phases.append(z)
            weights.append(abs(z))
    z, place = np.array(phases), np.array(places)
    mean = z.sum() / max(np.abs(z).sum(), 1e-12)
    if abs(mean) < 0.2:  # no comb: nothing printed, or nothing in focus
        return [np.polynomial.Polynomial([0.0])] * count
    around = np.angle(z * np.conj(mean) / max(abs(mean), 1e-12))
    design = np.column_stack([np.ones(len(place)), place[:, 0], place[:, 1]])
    weight = np.array(weights)
    keep = np.ones(len(z), bool)
    solution = np.zeros(3)
    for _ in range(3):
        w = np.sqrt(weight * keep)
        solution = np.linalg.lstsq(design * w[:, None], around * w, rcond=None)[0]
        error = np.abs(around - design @ solution)
        keep = error < max(3 * float(np.median(error[keep])), 0.05)
    # dark = cos(2 pi (y - first - shift) / spacing), so its phase is -2 pi shift / spacing
    scale = -spacing / (2 * np.pi)
    base = np.angle(mean) + solution[0]
    return [
        np.polynomial.Polynomial([(base + solution[1] * x - 0.5 * solution[2]) * scale, solution[2] * scale])
        for x in x_unit
    ]


def _line(distance: NDArray[np.float64], step: float, width: float) -> NDArray[np.float64]:
    """A Gaussian line of unit area (1/mm), averaged over samples `step` mm long."""
    root = np.sqrt(2.0) * width
    return np.asarray((_erf((distance + step / 2) / root) - _erf((distance - step / 2) / root)) / (2 * step))


def _line_slope(distance: NDArray[np.float64], step: float, width: float) -> NDArray[np.float64]:
    """Derivative of `_line` by its argument (1/mm^2), exact: the difference of two Gaussians."""

    def bell(at: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.exp(-0.5 * (at / width) ** 2) / (np.sqrt(2 * np.pi) * width))

    return np.asarray((bell(distance + step / 2) - bell(distance - step / 2)) / step)


def _comb(
    y: NDArray[np.float64], centre: NDArray[np.float64], step: float, width: float, slopes: bool = False
) -> NDArray[np.float64]:
    """Light taken away by a line of unit area at each of `centre`: (H, N), zero beyond 5 widths.

    With `slopes`, its change with the line's place, times `width`.
    """
    reach = int(np.ceil(5 * width / step)) + 1
    nearest = np.round((centre - y[0]) / step).astype(int)
    at = nearest[:, None] + np.arange(-reach, reach + 1)[None, :]
    distance = y[0] + at * step - centre[:, None]
    values = width * _line_slope(distance, step, width) if slopes else -_line(distance, step, width)
    out = np.zeros((len(y), len(centre)))
    inside = (at >= 0) & (at < len(y))
    column = np.broadcast_to(np.arange(len(centre))[:, None], at.shape)
    out[at[inside], column[inside]] = values[inside]
    return out


def _erf(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Error function to 1.5e-7 (M. Abramowitz and I. Stegun, Handbook, 7.1.26)."""
    t = 1.0 / (1.0 + 0.3275911 * np.abs(x))
    poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    return np.asarray(np.sign(x) * (1.0 - poly * np.exp(-x * x)))


def _paper_terms(y: NDArray[np.float64]) -> NDArray[np.float64]:
    unit = 2 * (y - y[0]) / (y[-1] - y[0]) - 1
    return np.asarray(legendre.legvander(unit, _PAPER_ORDER))


def _line_width(
    profiles: NDArray[np.float64],
    ladder: Ladder,
    y: NDArray[np.float64],
    step: float,
    shift: list[np.polynomial.Polynomial],
) -> float:
    """Sigma of a blurred line: the trial width that leaves least unexplained in a few columns."""
    count = len(ladder.columns)
    half = count * ladder.pitch_mm / 2
    chosen = np.unique(np.linspace(0, count - 1, min(count, 3)).round().astype(int))
    cost = np.zeros(len(_WIDTHS_MM))
    for column in chosen:
        members = np.array(ladder.rows_in(int(column)))
        spare = max(0, len(members) - _WIDTH_DASHES) // 2
        members = members[spare : len(members) - spare]
        centre = ladder.box.y0 + (members + 0.5) * ladder.pitch_mm + shift[column](members / ladder.rows)
        near = slice(*np.searchsorted(y, [centre[0] - half, centre[-1] + half]))
        profile, part = profiles[column, near].mean(axis=1), y[near]
        paper = _paper_terms(part)
        for k, width in enumerate(_WIDTHS_MM):
            design = np.hstack([_comb(part, centre, step, width), paper])
            solution = np.linalg.solve(design.T @ design + 1e-9 * np.eye(design.shape[1]), design.T @ profile)
            cost[k] += float(np.sum((profile - design @ solution) ** 2))
    best = int(np.argmin(cost))
    if 0 < best < len(cost) - 1:  # parabola through the three lowest, on the log scale the trials are even on
        a, b, c = cost[best - 1 : best + 2]
        move = 0.5 * (a - c) / (a - 2 * b + c)
        return float(_WIDTHS_MM[best] * (_WIDTHS_MM[1] / _WIDTHS_MM[0]) ** move)
    return float(_WIDTHS_MM[best])


def _fit_column(
    profile: NDArray[np.float64],
    y: NDArray[np.float64],
    step: float,
    centre: NDArray[np.float64],
    width: float,
) -> tuple[NDArray[np.float64], ...]:
    """Line weight, line weight times landing error, and paper level of each dash of one column, (N, S) each.

    Parameters
    ----------
    profile : (H, S) float64
        Linear light in S segments along the dashes.
    y : (H,) float64
    centre : (N,) float64
        Where the dashes should be, mm.
    """
    count = len(centre)
    paper = _paper_terms(y)
    design = np.hstack([_comb(y, centre, step, width), _comb(y, centre, step, width, slopes=True), paper])
    ridge = np.zeros(design.shape[1])
    gram = design.T @ design
    ridge[count : 2 * count] = _SHIFT_RIDGE**2 * gram.diagonal()[:count].mean()
    solution = np.linalg.solve(gram + np.diag(ridge), design.T @ profile)  # (unknowns, S)
    level_fit = paper @ solution[2 * count :]  # (H, S)
    at = np.clip(np.searchsorted(y, centre), 0, len(y) - 1)
    level = np.maximum(level_fit[at], 1e-4)  # (N, S)
    return solution[:count] / level, solution[count : 2 * count] * width / level, level


def _middle(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over segments without the lowest and the highest, (N,)."""
    ordered = np.sort(values, axis=1)
    return np.asarray(ordered[:, 1:-1].mean(axis=1))


def _scatter(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard deviation of `_middle`, (N,): each dash's own scatter, steadied by the ladder's.

    The winsorised form for a trimmed mean (J. Tukey and D. McLaughlin, Sankhya A 25, 1963). Seven degrees of
    freedom say little of one dash, so its variance is averaged with the ladder's median variance.
    """
    ordered = np.sort(values, axis=1)
    ordered[:, 0], ordered[:, -1] = ordered[:, 1], ordered[:, -2]
    n = values.shape[1]
    kept = n - 2
    variance = ordered.var(axis=1, ddof=1) * (n - 1) / (kept * (kept - 1))
    pooled = np.nanmedian(variance) * 1.1  # the median of a chi-square of few degrees lies below its mean
    return np.asarray(np.sqrt(0.5 * (variance + pooled)))


def ladder_box(ladder: Ladder) -> Box:
    """What a view of `ladder` must cover."""
    return Box(
        ladder.box.x0,
        ladder.box.y0 - LADDER_MARGIN_MM,
        ladder.box.x1,
        ladder.box.y1 + LADDER_MARGIN_MM,
    )
