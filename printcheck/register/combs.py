"""The ladders as rulers: their dashes stand at known places, hundreds of times, and tell how the paper was fed.

Marks stand 50 mm apart; a feed roller out of round or a scanner's slow wobble repeats every few centimetres. Each
column of dashes gives, from the phase of its profile at the dashes' own spacing, its displacement along the feed
to a few um, blind to single missing dashes. A spline with a roughness penalty (P. Eilers and B. Marx, Stat. Sci.
11(2), 1996) is fitted through those and the marks, its stiffness chosen by generalised cross-validation (P.
Craven and G. Wahba, Numer. Math. 31, 1979).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.pattern.elements import Ladder
from printcheck.pattern.inks import INKS
from printcheck.pattern.layout import Layout
from printcheck.register.edges import area_middles
from printcheck.register.rails import STRIP_PIECE_MM, strip_middles
from printcheck.register.result import Field, Registration, feed_basis
from printcheck.register.rows import rows_of
from printcheck.register.slips import column_slips
from printcheck.register.view import look_at
from printcheck.robust import MAD_SD, middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["comb_phases", "refine_by_combs"]

_STEP_MM = 10.0  # knots: half the shortest period a feed roller of a desktop printer gives
_PIECE_MM = 5.0  # length of column that gives one reading: ten dashes
_ALONG_PX_PER_MM = 4.0  # samples along a dash: 48 of them average enough, more cost time
_END_MM = 0.6  # left off at the dashes' ends
_COHERENT = LIMITS["comb_coherent"].value
# trial weights of smoothness, by decades; the readings choose
_STIFFNESS: tuple[float, ...] = tuple((10.0 ** np.arange(-5, 3.0)).tolist())
_REJECT = 4.0  # robust sigmas beyond which a reading is left out
_ALWAYS_MM = 0.01  # but never one as near as this
_ROUNDS = 3  # of choosing the stiffness and leaving readings out
_ACROSS = (1.0, 3.0, 10.0, 30.0)  # stiffness by degree across the page: the feed differs less there
_ENOUGH = 0.4  # share of the page that ladders span on a four-ink sheet; on others even areas help out
_BEYOND_MM = 0.6  # bare paper above and below a ladder: the bands' labels begin at 0.8 mm
_WHOLE_MM = 1e3  # "spacing" of a reading that is not only known up to a spacing
_MARK_WEIGHT = 0.5  # a mark is read to about twice the error of a column
_FLAT_MM = 0.05  # marks' doubt of a sheet that lies flat: a tenth of the dashes' spacing, strips tell nothing more
_NEEDED = 20  # readings, or the marks alone tell the feed
_STRIP_NEEDS = 12  # readings
_SURE_SHARE = 0.5  # of a ladder's readings that must be known to their very row: columns beside them lie alike
_TRUST = 0.1  # error of a reading over the size of the wobble (5 um over 50 um): where nothing is read, none is added


def refine_by_combs(pixels: NDArray[Any], registration: Registration, marks: NDArray[np.float64]) -> Registration:
    """The registration with a feed spline, where the ladders support one.

    Of a sheet that doesn't lie flat it has a spline across the page too, from the strips, and knows how well it
    lies at both.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
    registration : Registration
    marks : (M, 4) float64
        Centre x, y of each mark on the page and its remaining displacement along x and y, mm.
    """
    registration = registration.gridded()
    layout = registration.layout
    found = []
    for ladder in layout.ladders:
        box = Box(ladder.box.x0, ladder.box.y0 - _BEYOND_MM, ladder.box.x1, ladder.box.y1 + _BEYOND_MM)
        channel = INKS[ladder.ink].bgr
        view = look_at(pixels, registration, box, channel, most_x=_ALONG_PX_PER_MM)
        if view.inside > 0.5:
            light = linear_light(np.ascontiguousarray(view.values))
            profiles = _profiles(light, view.x_mm, ladder)
            found.append(_unslipped(comb_phases(profiles, view.y_mm, ladder), profiles, view.y_mm, ladder))
    readings = np.concatenate(found) if found else np.zeros((0, 4))
    if len(readings) < _NEEDED:
        return registration
    along = marks[:, [0, 1, 3]]
    if np.ptp(readings[:, 1]) < _ENOUGH * layout.height_mm:
        along = np.concatenate([along, area_middles(pixels, registration, readings[:, 1])])
    feed, left = _fit(readings, along, layout)
    field = registration.field or Field(np.zeros((1, 2)), *_middle(layout), 0)
    field = replace(field, feed=feed, feed_step_mm=_STEP_MM)
    if registration.marks_doubt_mm < _FLAT_MM:
        return registration.fed(field)
    strips = strip_middles(pixels, registration.fed(field))
    if len(strips) < _STRIP_NEEDS:
        return registration.fed(field)
    across = np.column_stack([strips, np.full(len(strips), _WHOLE_MM)])
    cross, beside = _fit(across, marks[:, :3], layout)
    read = _worst([*_sure_parts(found, left), *_strips_apart(strips, beside, layout)])
    return replace(registration.fed(replace(field, cross=cross)), read_mm=read)


def _sure_parts(found: list[NDArray[np.float64]], left: NDArray[np.float64]) -> Iterator[NDArray[np.float64] | None]:
    """What is left of each ladder's dashes that are known to their very row; none where too few columns are."""
    start = 0
    for readings in found:
        sure = readings[:, 3] == _WHOLE_MM
        part = left[start : start + len(readings)]
        start += len(readings)
        yield part[sure] if sure.sum() > _SURE_SHARE * len(readings) else None


def _strips_apart(
    strips: NDArray[np.float64], left: NDArray[np.float64], layout: Layout
) -> Iterator[NDArray[np.float64] | None]:
    """What is left of each strip; none where half its length and more can't be seen."""
    for patch in layout.patches:
        if patch.kind == "strip":
            part = left[strips[:, 0] == patch.box.centre[0]]
            yield part if len(part) * 2 * STRIP_PIECE_MM > patch.box.height else None


def _worst(parts: Iterable[NDArray[np.float64] | None]) -> float | None:
    """Root mean square of the worst of `parts`; none where one of them is not known."""
    worst = 0.0
    for part in parts:
        if part is None:
            return None
        worst = max(worst, float(np.sqrt(np.mean(part**2))))
    return worst


def _middle(layout: Layout) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middle of the page, and half its size: what a field's coordinates are relative to."""
    centre = np.array([layout.width_mm / 2, layout.height_mm / 2])
    return centre, centre


def _profiles(light: NDArray[np.float32], x_mm: NDArray[np.float64], ladder: Ladder) -> NDArray[np.float64]:
    """Light averaged along the dashes of each column, (H, columns)."""
    ends = np.array(ladder.columns) + np.array([_END_MM, -_END_MM])
    at = np.searchsorted(x_mm, ends)
    at[:, 1] = np.maximum(at[:, 1], at[:, 0] + 1)
    sums = np.add.reduceat(np.pad(light, ((0, 0), (0, 1))), at.ravel(), axis=1)[:, ::2]
    return np.asarray(sums / (at[:, 1] - at[:, 0]), np.float64)


def _unslipped(
    readings: NDArray[np.float64], profiles: NDArray[np.float64], y_mm: NDArray[np.float64], ladder: Ladder
) -> NDArray[np.float64]:
    """`readings` of one ladder, whole spacings put right by what stands at the columns' ends where that is clear."""
    if not len(readings):
        return readings
    rows = rows_of(ladder)
    middles = rows.middle_mm[rows.first, 0]
    column = np.argmin(np.abs(readings[:, :1] - middles), axis=1)
    order = np.lexsort((readings[:, 1], column))
    out, column = readings[order], column[order]
    starts = np.flatnonzero(np.diff(column, prepend=-1))
    lengths = np.diff(starts, append=len(out))
    # from piece to piece a column moves by far less than half a spacing
    turns = np.round(np.diff(out[:, 2], prepend=0.0) / out[:, 3])
    turns[starts] = 0.0
    turns = np.cumsum(turns)
    out[:, 2] -= (turns - np.repeat(turns[starts], lengths)) * out[:, 3]
    ends = np.full((2, len(middles)), np.nan)
    ends[:, column[starts]] = out[starts, 2], out[starts + lengths - 1, 2]
    slips, sure = column_slips(profiles, y_mm, ladder, ends[0], ends[1])
    out[:, 2] += slips[column] * out[:, 3]
    out[sure[column], 3] = _WHOLE_MM
    return out


def comb_phases(
    profiles: NDArray[np.float64], y_mm: NDArray[np.float64], ladder: Ladder, pieces: int = 1
) -> NDArray[np.float64]:
    """Displacement along the feed of pieces of each column: rows of page x, page y, displacement, spacing, mm.

    Good to half the dashes' spacing either way. Pieces without a clear comb are left out.

    Parameters
    ----------
    profiles : (H, columns) float64
        Linear light averaged along the dashes.
    y_mm : (H,) float64
    ladder : Ladder
    pieces : int
        Of each column, at the least.
    """
    spacing = len(ladder.columns) * ladder.pitch_mm
    rows = rows_of(ladder)
    middle, first = rows.middle_mm[rows.first].T
    whole = max(1, round(_PIECE_MM / spacing)) * spacing
    edges = np.linspace(ladder.box.y0, ladder.box.y1, max(pieces, int(ladder.box.height / whole)) + 1)
    wave = np.exp(-2j * np.pi * y_mm / spacing)
    expected = np.exp(2j * np.pi * first / spacing)
    heights, shifts, clear = [], [], []
    for (top, bottom), (start, stop) in zip(
        pairwise(edges.tolist()), pairwise(np.searchsorted(y_mm, edges).tolist()), strict=True
    ):
        if stop - start < 8:
            continue
        part = profiles[start:stop] - profiles[start:stop].mean(axis=0)
        slope = y_mm[start:stop] - y_mm[start:stop].mean()
        part -= np.outer(slope, slope @ part / (slope @ slope))
        z = wave[start:stop] @ -part / len(part) * expected
        heights.append((top + bottom) / 2)
        shifts.append(-np.angle(z) * spacing / (2 * np.pi))
        clear.append(2 * np.abs(z) ** 2 > _COHERENT * np.mean(part**2, axis=0))
    if not heights:
        return np.zeros((0, 4))
    readings = np.empty((len(heights), len(middle), 4))
    readings[..., 0], readings[..., 1] = middle, np.array(heights)[:, None]
    readings[..., 2], readings[..., 3] = shifts, spacing
    return np.asarray(readings[np.array(clear)])


def _fit(
    readings: NDArray[np.float64], marks: NDArray[np.float64], layout: Layout
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The spline through `readings` (x, y, displacement, spacing) and `marks` (x, y, displacement).

    Its coefficients (knots, degrees across), and what it leaves of each reading, mm.
    """
    centre = np.array([layout.width_mm / 2, layout.height_mm / 2])
    count = int(np.ceil(layout.height_mm / _STEP_MM)) + 3
    number = len(readings)
    points = np.concatenate([readings[:, :2], marks[:, :2]])
    shown = np.concatenate([readings[:, 2], marks[:, 2]])
    weight = np.concatenate([np.ones(number), np.full(len(marks), _MARK_WEIGHT)])
    basis = feed_basis(points[:, 1], count, _STEP_MM)
    across = np.polynomial.legendre.legvander((points[:, 0] - centre[0]) / centre[0], len(_ACROSS) - 1)
    design = np.hstack([basis * across[:, k : k + 1] for k in range(len(_ACROSS))])
    rough = np.diff(np.eye(count), 2, axis=0)
    penalty = np.kron(np.diag(_ACROSS), rough.T @ rough)
    prior = np.asarray(_TRUST**2 * np.kron(np.diag(_ACROSS), np.eye(count)), np.float64)
    keep = np.ones(len(points), bool)
    trials = _STIFFNESS
    for _ in range(_ROUNDS):
        chosen, solution = _stiffest(design, shown, weight * keep, penalty / count, prior, trials)
        at = _STIFFNESS.index(chosen)
        trials = _STIFFNESS[max(0, at - 1) : at + 2]  # leaving out a few readings doesn't change it by much
        predicted = design @ solution
        # a reading is known up to whole spacings: take the one the others predict
        turns = np.round((predicted[:number] - shown[:number]) / readings[:, 3])
        shown[:number] += readings[:, 3] * turns
        error = np.abs(shown - predicted)
        before, keep = keep, error < max(_REJECT * MAD_SD * float(middle_of(error[keep])), _ALWAYS_MM)
        if not turns.any() and np.array_equal(before, keep):
            break
    left = np.asarray((shown - design @ solution)[:number])
    return solution.reshape(len(_ACROSS), count).T, left


def _stiffest(
    design: NDArray[np.float64],
    shown: NDArray[np.float64],
    weight: NDArray[np.float64],
    penalty: NDArray[np.float64],
    prior: NDArray[np.float64],
    trials: tuple[float, ...],
) -> tuple[float, NDArray[np.float64]]:
    """The stiffness among `trials` that generalised cross-validation prefers, and its coefficients."""
    gram, right = design.T @ (design * weight[:, None]), design.T @ (shown * weight)
    best, chosen = np.inf, (trials[0], np.zeros(design.shape[1]))
    for stiffness in trials:
        # symmetric and positive: by Cholesky's method in half the time that numpy.linalg.inv takes
        _, inverse = cv2.invert(gram + stiffness * len(shown) * penalty + prior, flags=cv2.DECOMP_CHOLESKY)
        trial = inverse @ right
        free = weight.sum() - float(np.sum(inverse * gram))
        score = float(np.sum(weight * (shown - design @ trial) ** 2)) / max(free, 1.0) ** 2
        if score < best:
            best, chosen = score, (stiffness, trial)
    return chosen
