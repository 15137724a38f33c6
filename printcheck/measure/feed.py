"""Whose doing it is that rows side by side lie off their places together: the paper's, or the head's.

The paper lies elsewhere in each pass, and rows of one pass move with it; so they do with what a curled sheet and the
capture leave of themselves in the map. A part of a head that throws its ink askew (an orifice plate that has lifted,
a wet patch) moves rows together as well. Two things tell them apart. What the paper does differs from printing to
printing, a nozzle prints its row in each: so the head's is no more than what both printings have in common. And the
paper moves all rows of a pass, hundreds side by side, so that the head's is what a part of them lies off the others.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.robust import MAD_SD, column_medians, middle_of, running_middle

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Places", "off_most_rows", "rows_about", "thrown_together"]

_NEEDED = 6  # sound rows of one pass needed to tell its position
_NEAR = 13  # rows of one pass whose common shift is taken for the paper's
_SLOPES_MM = np.linspace(-0.1, 0.1, 21)  # tried over a ladder's height: a map fitted to rows thrown leans by less
_KEEP = LIMITS["thrown_keep"].value
_KEEP_SD = 0.524  # standard deviations within which so many normal values lie
_OF_LINE = 60  # rows, about, that a line is sought through: medians of so many neighbours are much alike
_TALL_MM = 12.0  # height of a ladder over which the map, whose knots stand 10 mm apart, leaves a bend and its change
_TALL_TERMS, _ROUNDS = 4, 5  # of a polynomial, and of reweighting it by how far rows lie off
_FAR_SD = 4.685  # robust sd from which they have no say (Tukey's biweight)
_FLAT_MM = LIMITS["thrown_flat"].value
_TOLD = LIMITS["thrown_told"].value
_GAP = 3  # rows of one turn, from one thrown to the next: nozzles thrown by turns need not print rows by turns
_AGREED = LIMITS["thrown_agreed"].value
_BESIDE, _SEARCHED = 3, 7  # rows of one turn on either side of an edge, and so far about it that it is looked for
_ALIKE = 0.8  # of how far one part of a turn is thrown, that another is which the same nozzles print
_FITS, _BETTER = 0.5, 0.1  # of the rows thrown in either printing, that a shift lays on one another; than none does
_SHARP = LIMITS["thrown_sharp"].value
_STEP_ROWS = 7  # of one turn to either side of a step
_STEP_MM, _STEP_SD = LIMITS["thrown_step"].value, LIMITS["thrown_step_sure"].value
_RUN = int(LIMITS["thrown_run"].value)


def rows_about(
    offset: NDArray[np.float64], sound: NDArray[np.bool_], passes: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Where the rows nearest to each row lie that the same pass printed, (rows,) mm, and how many they are, (rows,).

    Passes take turns row by row, so that every second row (or every ``passes``-th) is of one pass; a median tells
    their common place. Where too few can be read it is 0, of no rows.

    Parameters
    ----------
    offset : (rows,) float64
        Below where the rows ought to be, mm.
    sound : (rows,) bool
        Which of them can be read.
    passes : int
        In which the printer prints the head's rows by turns.
    """
    turn = max(2, passes)
    near, count = np.zeros(len(offset)), np.zeros(len(offset), np.int64)
    for first in range(turn):
        values = offset[first::turn]
        good = sound[first::turn]
        if good.sum() < _NEEDED:
            continue
        # rows that are not there take the place of the others' middle, so that they sway no window
        near[first::turn] = running_middle(np.where(good, values, middle_of(values[good])), _NEAR)
        count[first::turn] = min(_NEAR, 2 * ((len(values) - 1) // 2) + 1)
    return near, count


@dataclass(frozen=True, slots=True)
class Places:
    """Where the rows of one printing lie.

    Attributes
    ----------
    offset : (rows,) float64
        Of each row, mm below where it ought to be.
    sound : (rows,) bool
        Which of them can be read.
    near : (rows,) float64
        Of the rows about each that the same pass printed, mm.
    about : (rows,) float64
        How far those lie off the line that most rows of their turn keep, mm.
    columns : int
        In which the rows are printed by turns.
    """

    offset: NDArray[np.float64]
    sound: NDArray[np.bool_]
    near: NDArray[np.float64]
    about: NDArray[np.float64]
    columns: int

    def own(self) -> NDArray[np.float64]:
        """How far each row lies off that line, freed of what its column shares; if unread, as the rows about it."""
        beside = np.full(-(-len(self.offset) // self.columns) * self.columns, np.nan)
        beside[: len(self.offset)] = np.where(self.sound, self.offset - self.near, np.nan)
        of_column = np.resize(column_medians(beside.reshape(-1, self.columns)), len(self.offset))
        return np.where(self.sound, self.offset - of_column - self.near + self.about, self.about)


def off_most_rows(
    offset: NDArray[np.float64], sound: NDArray[np.bool_], passes: int, columns: int, height_mm: float
) -> Places:
    """Where the rows of one printing lie, against the line that most of them keep.

    Parameters
    ----------
    offset : (rows,) float64
    sound : (rows,) bool
    passes : int
        As for `rows_about`.
    columns : int
        In which the rows are printed by turns.
    height_mm : float
        Of the ladder.
    """
    turn = max(2, passes)
    offset = offset - _of_columns(offset, sound, turn, columns)
    near, count = rows_about(offset, sound, passes)
    about = np.zeros(len(offset))
    for first in range(turn):
        turns = slice(first, None, turn)
        if count[first] and np.ptp(near[turns]) > _TOLD * LIMITS["dash_displaced"].value:
            about[turns] = near[turns] - _line_of_most(near[turns], height_mm > _TALL_MM)
    return Places(offset, sound, near, about, columns)


def _of_columns(
    offset: NDArray[np.float64], sound: NDArray[np.bool_], turn: int, columns: int
) -> NDArray[np.float64]:
    """How far the rows of each one's column lie off the columns beside, (rows,) mm; 0 in ladders too short to tell.

    They lie all over the head, so that it is the page's place there, or the pixels' where these repeat with the rows.
    Rows are held against the mean of their own turn over two periods of the columns, in which each counts alike, as
    seasons are told from a trend (W. Cleveland and G. Tiao, J. Am. Stat. Assoc. 71, 1976).
    """
    left = np.full(-(-len(offset) // columns) * columns, np.nan)
    half = columns // 2
    period = np.ones(2 * half + 1)
    period[[0, -1]] -= 0.5 * (1 - columns % 2)  # as many rows as there are columns
    for first in range(turn):
        good = sound[first::turn]
        if len(good) <= columns:
            return np.zeros(len(offset))
        values = np.where(good, offset[first::turn], 0.0)
        count = np.convolve(good, period, "valid")
        mean = np.convolve(values, period, "valid") / np.maximum(count, 1.0)
        inner = slice(half, half + len(mean))
        left[first : len(offset) : turn][inner] = np.where(good[inner], values[inner] - mean, np.nan)
    return np.resize(column_medians(left.reshape(-1, columns)), len(offset))


def _line_of_most(values: NDArray[np.float64], tall: bool) -> NDArray[np.float64]:
    """The line that runs closest to most of `values` (N,), mm, wherever the others lie, (N,); `tall` ones may bend.

    Least median of squares (P. Rousseeuw, J. Am. Stat. Assoc. 79, 1984), slope by slope, and from there least
    squares, reweighted. Where no part of them keeps a line to within what a displaced row is off, the paper or the
    scanner's carriage wavers: there is nothing to hold rows against but themselves. A part that throws every second
    row may be half of the rows of a pass, and which half is askew nobody can tell: both are off one another.
    """
    at = np.linspace(-0.5, 0.5, len(values))
    every = max(1, len(values) // _OF_LINE)
    ordered = np.sort(values[::every] - _SLOPES_MM[:, None] * at[::every], axis=1)
    half = int(_KEEP * ordered.shape[1]) + 1
    widths = ordered[:, half - 1 :] - ordered[:, : ordered.shape[1] - half + 1]
    slope, first = np.unravel_index(int(np.argmin(widths)), widths.shape)
    low, high = ordered[slope, first], ordered[slope, first + half - 1]
    if high - low > LIMITS["dash_displaced"].value:
        return values
    line = _SLOPES_MM[slope] * at + (low + high) / 2
    if np.abs(values - line).max() <= _TOLD * LIMITS["dash_displaced"].value:
        return np.asarray(line)  # none is thrown, and no better line is needed
    terms = np.stack([at**k for k in range(_TALL_TERMS if tall else 2)])
    scale = max((high - low) / (2.0 * _KEEP_SD), _FLAT_MM)  # of all rows' distances it would be the thrown ones' too
    for _ in range(_ROUNDS):
        weighed = terms * np.maximum(1.0 - ((values - line) / (_FAR_SD * scale)) ** 2, 0.0) ** 2
        line = np.linalg.solve(weighed @ terms.T, weighed @ values) @ terms
    return np.asarray(line)


def thrown_together(first: Places, second: Places, passes: int, height_mm: float) -> NDArray[np.float64]:
    """What of the places of rows side by side is the head's, (2, rows) mm: in each printing.

    Both printings show it alike: of the same sign, it is the smaller of the two. Where the paper advanced by other
    than the head's height the rows of the second printing are others, by a shift that the rows thrown tell.

    Parameters
    ----------
    first, second : Places
        Of the printings.
    passes : int
    height_mm : float
        Of the head.
    """
    limit, rows, turn = LIMITS["dash_displaced"].value, len(first.offset), max(2, passes)
    if min((np.abs(one.about) > _TOLD * limit).sum() for one in (first, second)) < _RUN:
        return _between_steps(first, second, turn)
    shift = _shift_between(*(np.sign(one.about) * (np.abs(one.about) > limit) for one in (first, second)))
    # laid over one another, rows that a printing lacks without a number
    own, about = (np.full((2, rows + abs(shift)), np.nan) for _ in range(2))
    spans = [slice(start, start + rows) for start in (max(0, shift), max(0, -shift))]
    for number, (places, span) in enumerate(zip((first, second), spans, strict=True)):
        own[number, span], about[number, span] = places.own(), places.about
    for start in range(turn):  # where as many rows are thrown as are not, the printings may be held against others
        turns = slice(start, None, turn)
        both = np.isfinite(about[:, turns]).all(axis=0)
        apart = float(middle_of((about[0, turns] - about[1, turns])[both])) if both.any() else 0.0
        if abs(apart) > limit:
            own[1, turns] += apart
            about[1, turns] += apart
    least = np.nan_to_num(np.abs(about).min(axis=0))
    alike = np.nan_to_num(about.prod(axis=0)) > 0
    thrown = np.where(alike & (least > _TOLD * limit), np.sign(about[0]) * least, 0.0)
    paper = max(LIMITS["feed_error"].value * height_mm, LIMITS["feed_scatter"].value)
    # printings that lie apart show the paper's steps apart as well, but of rows by turns no more than it errs
    by_turns = np.zeros_like(thrown)
    by_turns[1:-1] = np.nan_to_num(np.abs(about[:, 1:-1] - 0.5 * (about[:, :-2] + about[:, 2:])).min(axis=0))
    for start in range(turn):
        turns = slice(start, None, turn)
        more = by_turns[turns] > paper if shift else np.abs(thrown[turns]) > paper
        thrown[turns] = _heads(thrown[turns], about[:, turns], own[:, turns], more)
    found = np.stack([thrown[span] for span in spans])
    return found if found.any() else _between_steps(first, second, turn)


def _between_steps(first: Places, second: Places, turn: int) -> NDArray[np.float64]:
    """Rows between two steps, one way and back, that both printings show, (2, rows) mm; whatever lies beside them.

    A map that the ladder itself was fitted by follows a part that is thrown, and swings over beside it, so that few
    rows keep a line. It can't step, and where swaths meet within a ladder of one swath the paper does so once.
    """
    out = np.zeros((2, len(first.offset)))
    # where medians of rows side by side hardly differ there is no part of the head to look for
    if any(max(float(np.ptp(one.near[k::turn])) for k in range(turn)) < _STEP_MM / 2 for one in (first, second)):
        return out
    runs = [
        [(start, *run) for start in range(turn) for run in _runs(one.own()[start::turn])] for one in (first, second)
    ]
    for one, two in itertools.product(*runs):
        alike = min(abs(one[3]), abs(two[3])) >= _AGREED * max(abs(one[3]), abs(two[3])) and one[3] * two[3] > 0
        if alike and abs((one[2] - one[1]) - (two[2] - two[1])) <= _BESIDE:
            for number, (start, top, foot, size) in enumerate((one, two)):
                out[number, start::turn][top:foot] = size
    return out if out.any(axis=1).all() else np.zeros_like(out)


def _runs(values: NDArray[np.float64]) -> list[tuple[int, int, float]]:
    """From, to and how far off, mm, of the parts of `values` (N,) between a step and one as high the other way."""
    if len(values) < 4 * _STEP_ROWS:
        return []
    middles = [middle_of(np.lib.stride_tricks.sliding_window_view(values, rows), 1) for rows in (_STEP_ROWS, _BESIDE)]
    step = middles[0][_STEP_ROWS:] - middles[0][:-_STEP_ROWS]  # the k-th at row k + _STEP_ROWS
    shift = _STEP_ROWS - _BESIDE
    sharp = (middles[1][_BESIDE:] - middles[1][:-_BESIDE])[shift : shift + len(step)]
    least = max(_STEP_MM, _STEP_SD * MAD_SD * float(middle_of(np.abs(step))))
    edges: list[tuple[int, float]] = []
    left = np.where(np.sign(step) * sharp >= _SHARP * np.abs(step), np.abs(step), 0.0)
    while left.size and left.max() > least:
        at = int(left.argmax())
        edges.append((at + _STEP_ROWS, float(step[at])))
        left[max(0, at - _STEP_ROWS) : at + _STEP_ROWS + 1] = 0.0
    edges.sort()
    return [
        (top, foot, (up - down) / 2)
        for (top, up), (foot, down) in itertools.pairwise(edges)
        if up * down < 0 and min(abs(up), abs(down)) >= _AGREED * max(abs(up), abs(down))
    ]


def _shift_between(first: NDArray[np.float64], second: NDArray[np.float64]) -> int:
    """Rows by which `second` (rows,), -1 or 1 where thrown, lies lower than `first`; 0 unless another fits better.

    What fits is weighed against all that is thrown where both printings look, and against what either shows at all.
    """
    together = np.correlate(second, first, "full")
    everywhere = np.ones(len(first))
    looked = np.correlate(everywhere, np.abs(first), "full") + np.correlate(np.abs(second), everywhere, "full")
    most = max(float(np.abs(first).sum()), float(np.abs(second).sum()))
    fits = together / np.maximum(looked - together, max(_RUN, most))
    still = len(first) - 1
    best = int(np.argmax(fits))
    return best - still if fits[best] > max(_FITS, fits[still] + _BETTER) else 0


def _heads(
    thrown: NDArray[np.float64], about: NDArray[np.float64], own: NDArray[np.float64], more: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Those of the rows `thrown` (N,) of one turn that the head throws, the others 0.

    Both printings show them about as far off. They begin and end from one row to the next, where paper and map bend.
    At a swath's end, which may lie within the ladder, the paper steps too, but no `more`, and not so that both ends
    of the ladder lie off one way, as they do where a head begins within it: in both printings, or in one where the
    other has moved on past its rows.

    Parameters
    ----------
    thrown : (N,) float64
    about, own : (2, N) float64
        Where the rows about each lie in either printing, and it itself, mm.
    more : (N,) bool
        Farther off than the paper errs.
    """
    at, both = np.flatnonzero(thrown), np.flatnonzero(np.isfinite(about).all(axis=0))
    groups = [group for group in np.split(at, np.flatnonzero(np.diff(at) > _GAP) + 1) if len(group) >= _RUN]
    outer = [float(middle_of(thrown[group])) for group in groups if group[0] == both[0] or group[-1] == both[-1]]
    wraps = len(outer) == 2 and outer[0] * outer[1] > 0
    around = [_around(*one) for one in zip(about, own, strict=True)]
    out, left = np.zeros(len(thrown)), []
    for group in groups:
        off = thrown[group]
        far = middle_of(np.abs(about[:, group]), 1)
        if far.min() < _AGREED * far.max():
            continue
        size = float(middle_of(np.abs(off)))
        ends = [int(edge) for edge in (group[0], group[-1] + 1)]
        edges = [[_edge(one, end, _SHARP * size) for end in ends] for one in own]
        # where one printing ends the group does, and the other need not step
        last = [min(end - both[0], both[-1] + 1 - end) < _BESIDE for end in ends]
        edges = [[edge or (None if cut else edge) for edge, cut in zip(one, last, strict=True)] for one in edges]
        seen = [edge for one in edges for edge in one if edge is not None]
        if not seen or not all(seen):
            continue
        alone = any(end * float(middle_of(off)) > 0 for end in around)
        if [True, True] in edges or wraps or alone or 2 * more[group].sum() > len(group):
            out[group] = off
        else:
            left.append(group)
    # nozzles that share each row with others print twice in a ladder; no paper steps by as much as they throw
    if out.any():
        told = float(middle_of(out[out != 0.0]))
        for group in left:
            size = float(middle_of(thrown[group]))
            if size * told > 0 and min(abs(size), abs(told)) >= _ALIKE * max(abs(size), abs(told)):
                out[group] = thrown[group]
    return out


def _around(about: NDArray[np.float64], own: NDArray[np.float64]) -> float:
    """How far both ends of one printing's ladder lie off alike, each beyond a step, mm; 0 where they don't."""
    seen = np.flatnonzero(np.isfinite(about))
    off = about[seen]
    ends = []
    for values in (off, off[::-1]):
        apart = np.sign(values) * (np.abs(values) > _TOLD * LIMITS["dash_displaced"].value)
        ends.append(int(np.argmax(np.append(apart != apart[0], True))) if apart[0] else 0)
    if min(ends) < _RUN or sum(ends) >= len(off):
        return 0.0
    top, foot = float(middle_of(off[: ends[0]])), float(middle_of(off[-ends[1] :]))
    size = min(abs(top), abs(foot))
    alike = top * foot > 0 and size >= _ALIKE * max(abs(top), abs(foot))
    edges = (seen[0] + ends[0], seen[-1] + 1 - ends[1])
    return top if alike and all(_edge(own, int(edge), _SHARP * size) for edge in edges) else 0.0


def _edge(own: NDArray[np.float64], edge: int, least: float) -> bool | None:
    """Whether `own` (N,) steps by `least` mm near `edge`; none where it doesn't, but ends there.

    From the median of three rows to that of the next three, wherever that is largest.
    """
    rows = np.flatnonzero(np.isfinite(own))
    near = own[max(rows[0], edge - _SEARCHED) : min(rows[-1] + 1, edge + _SEARCHED)]
    if len(near) >= 2 * _BESIDE:
        middles = middle_of(np.lib.stride_tricks.sliding_window_view(near, _BESIDE), 1)
        if float(np.abs(middles[_BESIDE:] - middles[:-_BESIDE]).max()) >= least:
            return True
    return None if min(edge - rows[0], rows[-1] + 1 - edge) < _BESIDE else False
