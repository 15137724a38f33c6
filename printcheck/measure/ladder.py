"""Strength and place of every dash of one printed ladder.

Each column of dashes is averaged along the dashes in a few segments, giving profiles of linear light along the
feed. In each profile light = paper - sum of dashes: the paper a low polynomial, each dash a line blurred by
printing and capture, with an amplitude (ink laid down, in mm of full absorption: blur spreads it, but does not
change it) and a small shift. Amplitudes and shifts come from one linear least-squares fit a column, so
overlapping blurs don't leak from a dash to its neighbours. The segments of a dash are independent repeats of
the same reading: their middle gives the value and their scatter its standard deviation, whatever the noise was.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.least_squares import least_squares
from printcheck.measure.comb import Comb, mean_of_segments
from printcheck.pattern.elements import Ladder
from printcheck.register.combs import comb_phases
from printcheck.register.rows import rows_of
from printcheck.robust import MAD_SD, middle_of, quantile_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.register.result import Registration
    from printcheck.register.view import View

__all__ = [
    "ALONG_PX_PER_MM",
    "LADDER_MARGIN_MM",
    "NARROWEST_MM",
    "WIDEST_MM",
    "LadderReader",
    "LadderSignal",
    "dashes_inside",
    "ladder_box",
    "make_signal",
    "pixel_mm",
    "with_parts",
]

LADDER_MARGIN_MM = 0.45  # paper kept above and below a ladder: the bands' labels begin at 0.8 mm
ALONG_PX_PER_MM = 8.0  # samples along the dashes: they are averaged anyway, finer ones cost time
_SEGMENTS = 8  # a dash of 12 mm in pieces of 1.4 mm: longer than any grain, shorter than a hair across it
_TRIM_MM = 0.45  # cut off at a dash's ends: registration error along x, and the round end of a line
_WIDTHS_MM = tuple(np.geomspace(0.018, 0.17, 9).tolist())  # trial widths (sigma) of a blurred line
NARROWEST_MM, WIDEST_MM = _WIDTHS_MM[0], _WIDTHS_MM[-1]
"""The narrowest and the widest blurred line that is looked for, as a standard deviation."""

_SEARCHES = 2  # for lines off their places: the second sees what the first has put where it belongs
_NARROW = 0.18  # sigma of lines over their spacing: wider ones are told by their slopes as far as they may be off
_OFF = 0.6  # of the lines' sigma: so far off its place a line may be farther off than it seems
_FULL_SHARE = 0.6  # of a sound dash's weight: with less at its place, it may stand elsewhere
_ROUGH_SHARE, _ROUGH_TIMES = 0.1, 2.0  # of a sound dash's depth, and times the median misfit: something stands beside
_ENDS = 2.0  # times the misfit of the other dashes: from here on the outermost ones stand out
_APART = 0.21  # sigma of lines over their spacing: their comb keeps 40 % of its contrast, and more where narrower
_PLANE_NEEDS = 6  # pieces of columns with a clear comb
_BEND_NEEDS = 10  # and to tell a bend across the page; twice as many for a twist
_SLOPE_SD = 5.0  # standard deviations that the halves of a short ladder must lie apart
_SLOPE_MM = 0.01  # and how far: less is a tenth of a line's blur
_SHADOW = 0.25  # paper darker than this share of the ladder's middle is in shadow too deep to read
_MISFIT = 0.25  # of a sound dash's depth: what is left there once lines and paper are taken away
_MISFITS = 4.0  # and so many times the median dash's
_BESIDE = 0.1  # of a sound dash's depth in the ink's own channel: less in another can't sway the mix of channels
_FOLDED = 0.12  # of the spacing of dashes: a piece of a column further off the ladder's surface lies on a fold
_EITHER = 0.33  # of the spacing: further off it, a piece's dashes may be taken for their neighbours
_SURE = 0.4  # of the spacing of dashes: further off its place, one can't be told from its neighbour


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
        False where the dash lies outside the picture or on deeply shadowed paper, or may be its neighbour.
    paper : (rows,) float64
        Linear light of the paper beside each dash, 0 to 1.
    width_mm : float
        Sigma of a blurred line.
    shift_mm : float
        Mean shift of the ladder from where the registration put it.
    crossed_px : float
        Rows of the picture's pixels that a dash crosses on its way; infinite where it isn't known.
    unmixed_level : float or None
        Where this is a mix of channels, in terms of a sound dash: `level` in the ink's own channel, mm.
    row_px : (rows, S) float64 or None
        Where each segment lies across the picture's rows of pixels, counted from an even one.
    folds : (rows,) int64 or None
        Number of the piece of a column, off the ladder's surface, that a dash was followed on; 0 where it lies on it.
    in_luma : bool
        Read in the picture's luma instead of the ink's own channel.
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
    crossed_px: float = np.inf
    unmixed_level: float | None = None
    row_px: NDArray[np.float64] | None = None
    folds: NDArray[np.int64] | None = None
    in_luma: bool = False

    @property
    def in_own_channel(self) -> bool:
        """Whether the ink's own channel alone shows this."""
        return self.unmixed_level is None and not self.in_luma

    @property
    def level(self) -> float:
        """Line weight of a sound dash: the middle of those above half of what the uppermost reach; 0 for none."""
        upper = self._upper
        return float(middle_of(upper)) if upper.size else 0.0

    @property
    def unevenness(self) -> float:
        """Robust spread of the dashes' line weights over their level: 0.03 for a healthy head well captured."""
        level = self.level
        if level <= 0:
            return np.inf
        return MAD_SD * float(middle_of(np.abs(self._upper / level - 1)))

    @property
    def _upper(self) -> NDArray[np.float64]:
        values = self.amplitude[self.readable]
        return values[values > 0.5 * quantile_of(values, 0.9)] if values.size else values


def dashes_inside(registration: Registration, ladder: Ladder, height: int, width: int) -> NDArray[np.bool_]:
    """Which dashes lie wholly inside a picture of `height` x `width` pixels, (rows,)."""
    px = registration.to_px(rows_of(ladder).ends_mm.reshape(-1, 2))
    inside = (px >= 0).all(axis=1) & (px[:, 0] < width) & (px[:, 1] < height)
    return np.asarray(inside.reshape(-1, 2).all(axis=1))


class LadderReader:
    """One printing of a ladder: its lines found in one channel, then read there and in others.

    Parameters
    ----------
    view : View
        One channel, covering the ladder and `LADDER_MARGIN_MM` above and below.
    ladder : Ladder
    inside : (rows,) bool, optional
        Dashes that lie inside the picture; all by default.
    near_mm : float, optional
        Width of blurred lines elsewhere in the picture: where the search for it here begins.

    Attributes
    ----------
    signal : LadderSignal
        What `view` shows.
    """

    def __init__(
        self,
        view: View,
        ladder: Ladder,
        inside: NDArray[np.bool_] | None = None,
        near_mm: float | None = None,
    ) -> None:
        profiles = _profiles(view, ladder)  # (columns, H, segments)
        mean, y = mean_of_segments(profiles), view.y_mm
        self._ladder = ladder
        self._shift, astray, self._folds = _comb_shift(mean, ladder, y)
        centre = rows_of(ladder).middle_mm[:, 1] + self._shift
        self._comb = Comb(y, 1.0 / view.px_per_mm_y, _by_column(ladder, centre), _softened(view, ladder, centre))
        self._width = _line_width(mean, self._comb, near_mm)
        self._unread = astray | (np.abs(self._shift) > _SURE * len(ladder.columns) * ladder.pitch_mm)
        if inside is not None:
            self._unread |= ~inside
        self._crossed = view.slant() * float(np.mean(np.diff(ladder.columns)))
        self._row_px = _rows_px(view, ladder, centre)
        self._off: NDArray[np.float64] | None = None
        self._depth = 0.0
        self.signal = self._signal(self._with_strays(profiles), self._width)
        self._depth = _depth(self.signal.parts, self._width)

    def read(self, view: View) -> LadderSignal:
        """What another channel of the same view shows of the same lines, as wide as they are there.

        In halved chroma lines are twice as wide as in the others. A channel that lies a little off shows all of them
        by the same factor too weak, which their level divides out.
        """
        profiles = _profiles(view, self._ladder)
        width = _line_width(mean_of_segments(profiles), self._comb, self._width)
        return self._signal(_fitted(profiles, self._comb, self._ladder, width), width)

    def _with_strays(self, profiles: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Read `profiles`, after moving the comb's lines to where those stand that lie far off their places."""
        ladder, width = self._ladder, self._width
        found = _fitted(profiles, self._comb, ladder, width)
        narrow = width < _NARROW * len(ladder.columns) * ladder.pitch_mm
        for _ in range(_SEARCHES if narrow else 0):
            parts, moved, _, misfit = found
            suspects = _suspects(parts, moved, misfit[:, 0], width)
            if not suspects.any():
                break
            step = self._comb.astray(profiles, width, _by_column(ladder, suspects.astype(np.float64)) == 1)
            if not step.any():
                break
            self._off = step if self._off is None else self._off + step
            self._comb = self._comb.moved_by(step)
            found = _fitted(profiles, self._comb, ladder, width)
        return found

    def _signal(self, found: tuple[NDArray[np.float64], ...], width: float) -> LadderSignal:
        parts, moved, paper, misfit = found
        if self._off is not None:
            moved = moved + parts * _by_row(self._ladder, self._off[..., None])
        parts[self._unread] = np.nan
        parts[_overlaid(parts, misfit[:, 0], width, _BESIDE * self._depth)] = np.nan
        shift = float(self._shift.mean())
        out = make_signal(parts, moved, middle_of(paper, 1), width, shift, self._crossed, row_px=self._row_px)
        return replace(out, folds=self._folds) if self._folds.any() else out


def _by_column(ladder: Ladder, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values (rows,) as (columns, dashes), from the top; NaN after the last dash of a shorter column."""
    count = len(ladder.columns)
    padded = np.full(-(-ladder.rows // count) * count, np.nan)
    padded[: ladder.rows] = values
    return padded.reshape(-1, count).T[np.argsort(ladder.order)]


def _by_row(ladder: Ladder, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values (columns, dashes, S) as (rows, S)."""
    return values[list(ladder.order)].transpose(1, 0, 2).reshape(-1, values.shape[2])[: ladder.rows].copy()


def _overlaid(
    parts: NDArray[np.float64], misfit: NDArray[np.float64], width: float, least: float
) -> NDArray[np.bool_]:
    """Dashes about which the profile is shaped by something else: the edge of a stain, a hair, a crease, (rows,).

    A misfit under `least` is none: in a channel that the ink leaves as light as the paper there is no depth to hold
    it against, and rounding, or a letter's skirt, is many times a median of nothing.
    """
    if not np.isfinite(parts).any():
        return np.zeros(len(misfit), bool)
    return np.asarray(misfit > max(_MISFIT * _depth(parts, width), _MISFITS * float(middle_of(misfit)), least))


def _depth(parts: NDArray[np.float64], width: float) -> float:
    """Share of the paper's light that a sound dash takes at its middle; 0 where none was read."""
    weight = parts.mean(axis=1)
    finite = weight[np.isfinite(weight)]
    return quantile_of(finite, 0.75) / (np.sqrt(2 * np.pi) * width) if finite.size else 0.0


def make_signal(
    parts: NDArray[np.float64],
    moved: NDArray[np.float64],
    paper: NDArray[np.float64],
    width_mm: float,
    shift_mm: float,
    crossed_px: float = np.inf,
    unmixed_level: float | None = None,
    row_px: NDArray[np.float64] | None = None,
) -> LadderSignal:
    """Sum up each dash's segments; `parts` and `moved` (rows, S) and `paper` (rows,) are as in `LadderSignal`."""
    amplitude, sd = _summed_up(parts)
    middle, middle_sd = _summed_up(moved)
    safe = np.where(np.abs(amplitude) > 1e-9, amplitude, np.nan)
    readable = np.isfinite(amplitude) & (paper > _SHADOW * _median(paper))
    return LadderSignal(
        parts,
        moved,
        amplitude,
        sd,
        middle / safe,
        middle_sd / np.abs(safe),
        readable,
        paper,
        width_mm,
        shift_mm,
        crossed_px,
        unmixed_level,
        row_px,
    )


def with_parts(signal: LadderSignal, parts: NDArray[np.float64], moved: NDArray[np.float64]) -> LadderSignal:
    """`signal` with other segments (rows, S) summed up; what it could not read can't be read in these either."""
    out = make_signal(
        parts,
        moved,
        signal.paper,
        signal.width_mm,
        signal.shift_mm,
        signal.crossed_px,
        signal.unmixed_level,
        signal.row_px,
    )
    return replace(out, readable=out.readable & signal.readable, folds=signal.folds, in_luma=signal.in_luma)


def _profiles(view: View, ladder: Ladder) -> NDArray[np.float64]:
    """Linear light averaged along the dashes: (columns, H, segments)."""
    light = linear_light(view.values)
    x = _segments(ladder)
    at = np.clip(np.round((x - view.box.x0) * view.px_per_mm_x).astype(np.int64), 0, light.shape[1] - 1)
    at = np.maximum.accumulate(at.ravel())
    sums = np.add.reduceat(light, at, axis=1).reshape(len(light), *x.shape)[:, :, :-1]
    lengths = np.maximum(np.diff(at.reshape(x.shape), axis=1), 1)
    return np.asarray((sums / lengths).transpose(1, 0, 2), np.float64)


def _segments(ladder: Ladder) -> NDArray[np.float64]:
    """Page x of the edges of each column's segments, (columns, segments + 1) mm."""
    ends = np.array(ladder.columns) + np.array([_TRIM_MM, -_TRIM_MM])
    return np.asarray(ends[:, :1] + np.diff(ends) * (np.arange(_SEGMENTS + 1) / _SEGMENTS))


def _softened(view: View, ladder: Ladder, centre: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Variance that interpolating gave each dash in its segments, (columns, dashes, segments) mm2, if known."""
    if view.nodes is None:
        return None
    x = _segments(ladder)
    row = np.fmax((_by_column(ladder, centre) - view.box.y0) * view.px_per_mm_y, 0.0)  # no dash, no number: any row
    at = np.minimum(row.astype(np.int64), len(view.values) - 1)
    return view.softened(at, x[:, :-1], x[:, 1:])


def _rows_px(view: View, ladder: Ladder, centre: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Where each dash's segments lie across the picture's rows of pixels, (rows, segments); none where not known."""
    ends = [view.rows_px(np.column_stack([x, centre])) for x in rows_of(ladder).ends_mm[:, :, 0].T]
    if ends[0] is None or ends[1] is None:
        return None
    trim = _TRIM_MM / (ladder.columns[0][1] - ladder.columns[0][0])
    part = trim + (1 - 2 * trim) * (np.arange(_SEGMENTS) + 0.5) / _SEGMENTS
    return np.asarray(ends[0][:, None] + (ends[1] - ends[0])[:, None] * part)


def pixel_mm(ladder: Ladder, row_px: NDArray[np.float64]) -> float:
    """Height of a pixel on the page, mm, where the picture shows a ladder, by its `row_px` (rows, S)."""
    return (len(row_px) - 1) * ladder.pitch_mm / max(abs(float(row_px[-1, 0] - row_px[0, 0])), 1e-9)


def _comb_shift(
    mean: NDArray[np.float64], ladder: Ladder, y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.int64]]:
    """Shift of each row's place along the feed, (rows,) mm, rows that lie where it is not known, and on which fold.

    `mean` (columns, H) are the columns' profiles, averaged along the dashes.
    A smooth surface through what pieces of the columns show, good to half the dashes' spacing either way and blind to
    which dashes are missing. A fold in the paper shifts the pieces on it alone: a piece with a clear comb beside the
    surface is followed, and where the comb lies nearer the next dashes' places, which is which can't be told.
    """
    seen = comb_phases(mean.T, y, ladder)
    if len(seen) < _PLANE_NEEDS:  # no comb: nothing printed, or nothing in focus
        return np.zeros(ladder.rows), np.zeros(ladder.rows, bool), np.zeros(ladder.rows, np.int64)
    spacing = seen[0, 3]
    # about the mean direction, so that no reading is cut apart where the phase wraps
    turn = 2 * np.pi / spacing
    middle = float(np.angle(np.exp(1j * turn * seen[:, 2]).mean())) / turn
    shift = middle + np.angle(np.exp(1j * turn * (seen[:, 2] - middle))) / turn
    centre = ladder.box.centre
    half = np.array([ladder.box.width, ladder.box.height]) / 2
    place = (seen[:, :2] - centre) / half
    design = _surface(place, len(place))
    keep = np.ones(len(shift), bool)
    for _ in range(3):
        solution = least_squares(design[keep], shift[keep])
        expected = design @ solution
        shift = shift + spacing * np.round((expected - shift) / spacing)  # known up to whole spacings
        error = np.abs(shift - expected)
        keep = error <= max(3 * float(middle_of(error)), 0.004)
    middle_mm = rows_of(ladder).middle_mm
    x, row_y = middle_mm.T
    out = np.asarray(_surface((middle_mm - centre) / half, len(place)) @ solution)
    heights = np.unique(seen[:, 1])
    if len(heights) == 1:  # so short that its columns show one height each
        out += _slope(mean, ladder, y) * (row_y - centre[1])
    astray, folds = np.zeros(ladder.rows, bool), np.zeros(ladder.rows, np.int64)
    beside = shift - design @ solution
    reach = float(np.diff(heights).min()) / 2 if len(heights) > 1 else ladder.box.height / 2
    for k in np.flatnonzero(np.abs(beside) > _FOLDED * spacing):
        here = (np.abs(x - seen[k, 0]) < 0.1) & (np.abs(row_y - seen[k, 1]) <= reach)
        out[here] += beside[k]
        folds[here] = k + 1
        astray |= here & (abs(beside[k]) > _EITHER * spacing)
    return out, astray, folds


def _slope(mean: NDArray[np.float64], ladder: Ladder, y: NDArray[np.float64]) -> float:
    """Displacement a mm along the feed, by the halves of each column; 0 where they don't show any beyond doubt.

    Where a scanner's colours lie a pixel or two apart the feed's curve is steep between two inks' ladders.
    """
    halves = comb_phases(mean.T, y, ladder, 2)
    below = halves[:, 1] > ladder.box.centre[1]
    upper, lower = halves[~below], halves[below]
    _, first, second = np.intersect1d(upper[:, 0], lower[:, 0], assume_unique=True, return_indices=True)
    if len(first) < _PLANE_NEEDS:
        return 0.0
    spacing = len(ladder.columns) * ladder.pitch_mm
    apart = lower[second, 2] - upper[first, 2]
    apart -= spacing * np.round(apart / spacing)
    middle = float(middle_of(apart))
    # a median of normal values errs 1.2533 times as much as their mean (M. Kendall and A. Stuart, 1977)
    error = 1.2533 * MAD_SD * float(middle_of(np.abs(apart - middle))) / np.sqrt(len(first))
    return middle / (ladder.box.height / 2) if abs(middle) > max(_SLOPE_SD * error, _SLOPE_MM) else 0.0


def _surface(place: NDArray[np.float64], readings: int) -> NDArray[np.float64]:
    """Terms of the surface at `place` (N, 2), -1 to 1, (N, T): as many as so many readings can bear.

    Along the feed a ladder is short, so that a straight line does; across it spans the page, and curled paper bends.
    """
    x, y = place.T
    terms = [np.ones(len(x)), x, y]
    if readings >= _BEND_NEEDS:
        terms += [x**2, x**3]
    if readings >= 2 * _BEND_NEEDS:
        terms += [x * y, x**4]
    return np.stack(terms, axis=1)


def _fitted(
    profiles: NDArray[np.float64], comb: Comb, ladder: Ladder, width: float
) -> tuple[NDArray[np.float64], ...]:
    """What `Comb.read` gives, by row.

    Where the outermost dashes fit worse than the others, the paper beyond them is not as it is between lines. It is
    then let step there, if the lines stand apart: of lines blurred into one another it alone tells the mean.
    """
    read = [_by_row(ladder, values) for values in comb.read(profiles, width)]
    count, misfit = len(ladder.columns), read[3][:, 0]
    ends = middle_of(np.concatenate([misfit[:count], misfit[-count:]]))
    apart = width < _APART * count * ladder.pitch_mm
    if apart and ends > _ENDS * middle_of(misfit):
        read = [_by_row(ladder, values) for values in comb.read(profiles, width, steps=True)]
    return tuple(read)


def _suspects(
    parts: NDArray[np.float64], moved: NDArray[np.float64], misfit: NDArray[np.float64], width: float
) -> NDArray[np.bool_]:
    """Dashes that may stand farther off their places than a line and its slope can tell, (rows,)."""
    weight, off = parts.mean(axis=1), moved.mean(axis=1)
    full = quantile_of(weight, 0.75)
    if full <= 0:
        return np.zeros(len(weight), bool)
    depth = full / (np.sqrt(2 * np.pi) * width)
    rough = misfit > max(_ROUGH_SHARE * depth, _ROUGH_TIMES * float(middle_of(misfit)))
    return np.asarray((np.abs(off) > _OFF * width * weight) | (weight < _FULL_SHARE * full) | rough)


def _line_width(mean: NDArray[np.float64], comb: Comb, near_mm: float | None) -> float:
    """Sigma of a blurred line: the trial width that leaves least unexplained in the outer columns of `mean`.

    The trials are searched downhill from the one next to `near_mm` or the middle one, and a parabola is laid through
    the lowest three.
    """
    ends = sorted({0, len(mean) - 1})
    left: dict[int, float] = {}
    best = len(_WIDTHS_MM) // 2
    if near_mm is not None:
        best = int(np.argmin(np.abs(np.log(np.array(_WIDTHS_MM) / near_mm))))
    while True:
        around = [k for k in (best - 1, best, best + 1) if 0 <= k < len(_WIDTHS_MM)]
        if new := [k for k in around if k not in left]:
            left.update(zip(new, comb.unexplained(mean, [_WIDTHS_MM[k] for k in new], ends).tolist(), strict=True))
        lowest = min(around, key=left.__getitem__)
        if lowest == best:
            break
        best = lowest
    if not 0 < best < len(_WIDTHS_MM) - 1:
        return float(_WIDTHS_MM[best])
    a, b, c = (left[k] for k in (best - 1, best, best + 1))
    move = 0.5 * (a - c) / max(a - 2 * b + c, 1e-30)
    return float(_WIDTHS_MM[best] * (_WIDTHS_MM[1] / _WIDTHS_MM[0]) ** move)


def _median(values: NDArray[np.float64]) -> float:
    """Median of the finite values; NaN where there are none."""
    finite = values[np.isfinite(values)]
    return float(middle_of(finite)) if finite.size else np.nan


def _summed_up(values: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean over segments without the lowest and the highest, (N,), and its standard deviation.

    That is each dash's own scatter in the winsorised form for a trimmed mean (J. Tukey and D. McLaughlin, Sankhya A
    25, 1963), steadied by the ladder's: seven degrees of freedom say little of one dash, so its variance is averaged
    with the ladder's median variance.
    """
    ordered = np.sort(values, axis=1)
    middle = ordered[:, 1:-1].mean(axis=1)
    ordered[:, 0], ordered[:, -1] = ordered[:, 1], ordered[:, -2]
    n = values.shape[1]
    kept = n - 2
    variance = np.square(ordered - ordered.mean(axis=1, keepdims=True)).sum(axis=1) / (kept * (kept - 1))
    pooled = _median(variance) * 1.1  # the median of a chi-square of few degrees lies below its mean
    return middle, np.sqrt(0.5 * (variance + pooled))


def ladder_box(ladder: Ladder) -> Box:
    """What a view of `ladder` must cover."""
    return Box(
        ladder.box.x0,
        ladder.box.y0 - LADDER_MARGIN_MM,
        ladder.box.x1,
        ladder.box.y1 + LADDER_MARGIN_MM,
    )
