"""The least-squares fit of paper and lines to the columns of one ladder.

Paper is a low polynomial along a column, and if asked for a step at either end of it: blur with wide skirts, and
channels mixed for their least noise, show the paper between lines otherwise than beyond the last one. The steps are
free of the lines, so that with lines blurred into one another they and the lines' mean can't be told apart.

A weak nozzle's line is narrower than the others, and one that lands off its place looks lower and broader where the
others should be: fitted by a line of the common width, the first reads too strong and the second too weak (to second
order, both change the line as its width does). Where lines stand clear of one another and are finely sampled, as in a
scan at 600 dots/inch, each has a width of its own. Where they have not, what is known to have moved or widened a line
is made good: its own slope tells how far it lies off, and the view how far interpolating spread it.

All columns are solved side by side. That a line reaches a few samples only is not made use of: products of whole
matrices cost less than picking windows out of them does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial import legendre

from printcheck.measure.lineshape import line_design, line_reach
from printcheck.robust import MAD_SD, quantile_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Comb", "mean_of_segments"]

_PAPER_ORDER = 3  # of the polynomial that the paper's light follows along a column
_SHAPE_RIDGE = 0.15  # prior on a dash's shift, in widths, and on the log of its width: a missing dash has neither
_MOST_FARTHER = 1.3  # a line a whole sigma off; what asks for more is no line
_SAMPLED = 1.2  # sigma of lines over the samples' spacing, below which samples don't tell how wide a line is
_CLEAR = 0.13  # sigma of lines over their spacing, below which each may have a width of its own
_EDGE = 1.0 / 3.0  # of the dashes' spacing, standard deviation of the step: skirts reach about so far
_EDGE_RIDGE = 1e-3  # of a sample: where a column's end is not in the picture there is nothing to tell its step by
_SOUND_SHARE = 0.5  # of a sound line's weight: with less, how far a line lies off says nothing
_LEAST_WEIGHT_MM = 1e-6  # of a line, mm of full light: in a column burnt out or bare there may be no sound one
_MOST_LOST = 0.5  # e-folds that a line off its place is given back: 1.4 sigma, beyond which it is not sound
_MOST_SOFTER = 0.3  # e-folds of sigma that interpolating may seem to have changed a line by; 0.1 at 300 dots/inch
_LEAST_KEPT = 0.15  # of a wave's power, between two pixels; less is left at 140 dots/inch alone
_LOOK_WIDTHS, _LOOK_MOST_MM = 0.25, 0.2  # steps, in sigmas, and reach of the search for a line off its place
_FAR = 0.6  # sigmas off its place: nearer, a line is well told by the line there and its slope
_LINE_SHARE = 0.4  # of a sound line's weight: less is no line
_LINE_SURE = 6.0  # standard deviations of the noise, over which a line must stand out of hundreds of trials
_MANY, _MANY_SHARE = 3, 0.25  # lines of a column, and share of it, that stray together only with the paper
_NOWHERE_MM = 1e3  # above the samples: a line there touches none


def mean_of_segments(values: NDArray[np.floating]) -> NDArray[np.float64]:
    """Mean of `values` (C, N, S) over the segments, (C, N): as a product in a fifth of the time NumPy's takes."""
    segments = values.shape[2]
    return np.asarray(values @ np.full(segments, 1.0 / segments))


def _farther(weight: NDArray[np.float64], spread: NDArray[np.float64]) -> NDArray[np.float64]:
    """By what the slope of a shifted line falls short of its weight times its shift, (C, N).

    A line of sigma s that lies d off projects on its slope as d exp(-d^2 / 4 s^2), and on the line at its place by
    that factor alone; what is left the spread has taken up, of which minus a half projects on the line.
    """
    at_place = weight - spread / 2
    safe = np.where(np.abs(at_place) > 1e-9, at_place, 1.0)
    return np.clip(np.where(np.abs(at_place) > 1e-9, weight / safe, 1.0), 1 / _MOST_FARTHER, _MOST_FARTHER)


@dataclass(frozen=True, slots=True)
class _System:
    """Normal equations of lines and paper: `kinds` of unknowns a line, then the paper's terms."""

    kinds: int
    paper: NDArray[np.float64]
    design: NDArray[np.float64]
    gram: NDArray[np.float64]
    slopes: NDArray[np.float64]
    ridge: NDArray[np.float64]


class Comb:
    """Lines at known places in C columns of samples.

    Parameters
    ----------
    y : (H,) float64
        Sample centres, mm.
    step : float
        Their spacing, mm.
    centre : (C, N) float64
        Where the dashes of each column should be, mm; NaN where a column has fewer.
    softened : (C, N, S) float64, optional
        Variance that interpolating gave each line in each segment, mm2.
    """

    def __init__(
        self,
        y: NDArray[np.float64],
        step: float,
        centre: NDArray[np.float64],
        softened: NDArray[np.float64] | None = None,
    ) -> None:
        self._softened = softened
        self._systems: dict[tuple[float, bool], _System] = {}
        self._y, self._step = y, step
        self._centre = np.where(np.isfinite(centre), centre, y[0] - _NOWHERE_MM)
        unit = 2 * (y - y[0]) / (y[-1] - y[0]) - 1
        smooth = np.asarray(legendre.legvander(unit, _PAPER_ORDER))
        self._smooth = np.broadcast_to(smooth, (len(centre), *smooth.shape))
        self._given = centre

    @cached_property
    def _spacing(self) -> float:
        """From dash to dash of a column, mm."""
        apart = np.diff(self._given, axis=1)
        apart = apart[np.isfinite(apart)]
        return quantile_of(apart, 0.5) if apart.size else 1.0

    def _stepped(self) -> NDArray[np.float64]:
        """What paper is made of with steps, (C, H, T): 0 between a column's first and last dash, 1 above or below."""
        centre = self._given
        spacing = self._spacing
        above = np.nanmin(centre, axis=1)[:, None] - spacing / 2 - self._y
        below = self._y - np.nanmax(centre, axis=1)[:, None] - spacing / 2
        # the logistic curve stands for the normal integral (within 0.01)
        steps = 0.5 + 0.5 * np.tanh(0.851 / (_EDGE * spacing) * np.stack([above, below], axis=2))
        return np.concatenate([self._smooth, steps], axis=2)

    def unexplained(
        self, profiles: NDArray[np.float64], widths: Sequence[float], columns: list[int]
    ) -> NDArray[np.float64]:
        """Sum of squares that lines of each sigma in `widths` (mm) and paper leave of `columns` of `profiles` (C, H).

        Returns
        -------
        (W,) float64
        """
        seen, centre = profiles[columns][..., None], self._centre[columns]
        designs = np.stack([self._design(centre, width, 1, self._smooth[columns]) for width in widths])
        right = designs @ seen
        solution = np.linalg.solve(self._gram(designs, centre.shape[1]), right)
        return np.asarray(np.sum(seen**2) - np.sum(solution * right, axis=(1, 2, 3)))

    def read(
        self, profiles: NDArray[np.float64], width: float, *, steps: bool = False
    ) -> tuple[NDArray[np.float64], ...]:
        """Line weight, line weight times landing error, paper level and misfit of each dash, (C, N, S) each.

        The misfit is what lines and paper leave of the mean profile about a dash, root mean square, over the paper's
        level: large where something lies on the sheet that is neither. It is the same for all segments.

        Parameters
        ----------
        profiles : (C, H, S) float64
            Linear light in S segments along the dashes.
        width : float
            Sigma of a blurred line, mm.
        steps : bool
            Let the paper's light step at a column's ends.
        """
        system = self._system(width, steps=steps)
        columns, dashes = self._centre.shape
        kinds, paper, design, ridge = system.kinds, system.paper, system.design, system.ridge
        solution = np.linalg.solve(system.gram, design @ profiles)
        at = np.clip(np.searchsorted(self._y, self._centre), 0, len(self._y) - 1)
        level = np.maximum(paper[np.arange(columns)[:, None], at] @ solution[:, kinds * dashes :], 1e-4)
        misfit = self._misfit(mean_of_segments(profiles), mean_of_segments(solution), design, width)
        misfit /= mean_of_segments(level)
        weight, moved = solution[:, :dashes], solution[:, dashes : 2 * dashes]
        # what the ridge keeps of a line's slope, whose neighbours' hardly overlap it, is given back
        moved = moved * (1.0 + ridge / np.maximum(system.slopes, 1e-12))[:, None, None]
        if kinds > 2:
            spread = mean_of_segments(solution[:, 2 * dashes : 3 * dashes])
            moved = moved * _farther(mean_of_segments(weight), spread)[..., None]
        else:
            lost = self._lost(weight, moved, width)
            weight, moved = weight * lost, moved * lost
        return (
            weight / level,
            moved * width / level,
            level,
            np.broadcast_to(misfit[..., None], level.shape),
        )

    def _system(self, width: float, *, steps: bool) -> _System:
        """The system that `read` solves: kept, since other channels show the same lines at the same places."""
        kept = self._systems.get((width, steps))
        if kept is not None:
            return kept
        paper = self._stepped() if steps else self._smooth
        dashes = self._centre.shape[1]
        kinds = 3 if _SAMPLED * self._step < width < _CLEAR * self._spacing else 2
        design = self._design(self._centre, width, kinds, paper, self._softer(width) if kinds == 2 else None)
        gram = self._gram(design, kinds * dashes)
        lines, others = np.arange(dashes), np.arange(dashes, kinds * dashes)
        slopes = gram[:, others[:dashes], others[:dashes]].mean(axis=1)
        ridge = _SHAPE_RIDGE**2 * gram[:, lines, lines].mean(axis=1)
        gram[:, others, others] += ridge[:, None]
        return self._systems.setdefault((width, steps), _System(kinds, paper, design, gram, slopes, ridge))

    def _softer(self, width: float) -> NDArray[np.float64] | None:
        """E-folds of sigma by which interpolating made each line wider than all are on the mean, (C, N), if known.

        A variance more by v makes a sigma s larger by v / 2 s^2 of itself.
        """
        if self._softened is None:
            return None
        more = mean_of_segments(self._softened)
        return np.asarray(np.clip((more - more.mean()) / (2 * width**2), -_MOST_SOFTER, _MOST_SOFTER))

    def _lost(self, weight: NDArray[np.floating], moved: NDArray[np.floating], width: float) -> NDArray[np.float64]:
        """By what lines of a common width fall short of their weight, (C, N, S).

        A line of sigma s that lies d off projects on the line at its place by exp(-d^2 / 4 s^2), and d is the ratio
        of its slope's part to that. Where a segment was interpolated otherwise than its dash is on the whole, as on a
        sheet that lies askew, it has lost otherwise: of a wave of k radians/mm, samples between pixels of p mm in
        shares f and 1 - f keep (1 - 4 f (1 - f) sin^2(k p / 2))^(1/2), and the wave of the lines' spacing tells them
        from the paper.
        """
        middle = mean_of_segments(weight)
        typical = quantile_of(middle[np.isfinite(self._given)], 0.75)
        sound = middle > max(_SOUND_SHARE * typical, _LEAST_WEIGHT_MM)
        off = np.where(sound, mean_of_segments(moved) / np.where(sound, middle, 1.0), 0.0)
        out = np.exp(np.minimum(off**2 / 4, _MOST_LOST))[..., None]
        if self._softened is None:
            return np.asarray(out)
        part = 4.0 * (np.sin(np.pi * self._step / self._spacing) / self._step) ** 2
        kept = np.maximum(1.0 - part * self._softened, _LEAST_KEPT)
        return np.asarray(out * np.sqrt(mean_of_segments(kept)[..., None] / kept))

    def astray(self, profiles: NDArray[np.float64], width: float, suspects: NDArray[np.bool_]) -> NDArray[np.float64]:
        """How far lines stand off their places where that is too far for `read`, (C, N) mm; 0 for the others.

        A line is sought in what the fit leaves of the mean profile once its own part is put back, up to 0.2 mm off or
        to half way to the next place, by matched filter (G. Turin, IRE Trans. Inf. Theory 6(3), 1960). Where none
        stands out none is moved: a missing dash stays at its place. Where much of a column would be moved none is
        either: its rows lie all over the head and share a place on the paper, so that it is the paper that is bent.

        Parameters
        ----------
        profiles : (C, H, S) float64
        width : float
            Sigma of a blurred line, mm.
        suspects : (C, N) bool
            Which are sought.
        """
        columns, dashes = self._centre.shape
        out = np.zeros((columns, dashes))
        mean = mean_of_segments(profiles)
        design = self._design(self._centre, width, 2, self._smooth)
        gram = self._gram(design, 2 * dashes)
        every = np.arange(dashes, 2 * dashes)
        weighing = gram[:, np.arange(dashes), np.arange(dashes)].mean(axis=1, keepdims=True)
        gram[:, every, every] += _SHAPE_RIDGE**2 * weighing
        solution = np.linalg.solve(gram, design @ mean[..., None])[..., 0]
        given = np.isfinite(self._given)
        full = float(np.quantile(solution[:, :dashes][given], 0.75))
        column, dash = np.nonzero(given & suspects)
        if not len(column) or full <= 0:
            return out
        own = solution[column, dash, None] * design[column, dash]
        own += solution[column, dashes + dash, None] * design[column, dashes + dash]
        rest = mean - (solution[:, None] @ design)[:, 0]
        left = rest[column] + own
        reach = min(_LOOK_MOST_MM, self._spacing / 2)
        steps = max(1, int(reach / (_LOOK_WIDTHS * width)))
        shifts = np.arange(-steps, steps + 1) * (_LOOK_WIDTHS * width)
        tried = line_design(self._y, self._centre[column, dash, None] + shifts, self._step, width, 1)
        power = np.maximum(np.sum(tried**2, axis=2), 1e-12)
        found = np.maximum((tried @ left[..., None])[..., 0], 0.0)
        best = np.argmax(found**2 / power, axis=1)
        each = np.arange(len(column))
        weight = found[each, best] / power[each, best]
        noise = MAD_SD * float(np.median(np.abs(rest))) / np.sqrt(power[each, best])
        is_line = weight > np.maximum(_LINE_SHARE * full, _LINE_SURE * noise)
        is_line &= (np.abs(shifts[best]) > _FAR * width) & (best > 0) & (best < len(shifts) - 1)  # a crest
        out[column[is_line], dash[is_line]] = shifts[best[is_line]]
        moved = (out != 0).sum(axis=1)
        out[(moved >= _MANY) & (moved > _MANY_SHARE * given.sum(axis=1))] = 0.0
        return out

    def moved_by(self, shifts: NDArray[np.float64]) -> Comb:
        """The same lines at places that lie `shifts` (C, N) mm lower."""
        return Comb(self._y, self._step, self._given + shifts, self._softened)

    def _design(
        self,
        centre: NDArray[np.float64],
        width: float,
        kinds: int,
        paper: NDArray[np.float64],
        wider: NDArray[np.float64] | None = None,
    ) -> NDArray[np.float64]:
        """What each unknown changes in the samples, (C, kinds N + terms, H); `paper` is (C, H, terms)."""
        design = line_design(self._y, centre, self._step, width, kinds, paper.shape[2], wider)
        design[:, kinds * centre.shape[1] :] = paper.transpose(0, 2, 1)
        return design

    def _gram(self, design: NDArray[np.float64], lines: int) -> NDArray[np.float64]:
        """Normal equations (..., T, T) of `design` (..., T, H); the first `lines` unknowns are lines."""
        gram = np.asarray(design @ design.swapaxes(-1, -2))
        every = np.arange(lines)
        gram[..., every, every] += np.where(gram[..., every, every] > 0, 1e-9, 1.0)  # a line that touches no sample
        ends = np.arange(lines + _PAPER_ORDER + 1, gram.shape[-1])
        gram[..., ends, ends] += _EDGE_RIDGE
        return gram

    def _misfit(
        self, profile: NDArray[np.float64], solution: NDArray[np.float64], design: NDArray[np.float64], width: float
    ) -> NDArray[np.float64]:
        """What the fit `solution` (C, T) leaves of `profile` (C, H) about each dash, root mean square, (C, N)."""
        left = profile - (solution[:, None] @ design)[:, 0]
        reach = line_reach(self._step, width)
        middle = np.floor((self._centre - self._y[0]) / self._step + 0.5).astype(np.int64)
        at = np.clip(middle[:, :, None] + np.arange(-reach, reach + 1), 0, len(self._y) - 1)
        return np.asarray(np.sqrt(np.mean(left[np.arange(len(left))[:, None, None], at] ** 2, axis=2)), np.float64)
