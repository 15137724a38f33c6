"""The printings of a ladder laid over one another: what holds of a row in every, in most or in some of them.

A printer that moves the paper by other than the head's height prints a row of the first printing with the nozzle of
another row of the second. The shift between them is told by the rows that are missing (or weak, or off their place).
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.dashes import (
    DISPLACED_MM,
    DISPLACED_SD,
    HEALTHY_AIM_MM,
    LEAST_HEALTHY_SD,
    SOUND_NEEDED,
    Judged,
    off_place,
)
from printcheck.measure.together import WIDE_WINDOW, WINDOW, Crowd, beyond_noise, from_rows_about
from printcheck.robust import MAD_SD, middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.pattern.elements import Ladder

__all__ = [
    "Aligned",
    "advance",
    "advance_of_missing",
    "advance_of_places",
    "coarsely_off",
    "crowds",
    "lay_over",
    "missing_rows",
    "one_way_off",
    "rows_off_place",
    "rows_weak",
    "told_together",
    "without_doubtful_gaps",
    "without_lone_gaps",
    "without_lost_columns",
]

_SHIFTS_TRIED = 12  # shifts, those that most pairs of rows missing in the two printings share
_SHIFT_TELLERS = (("missing", 2), ("displaced", 5), ("weak", 5))  # states, and how many rows of one tell a shift
_SHIFT_MATCH = LIMITS["shift_agreed"].value
_PLACES_AGREE, _PLACES_SD = LIMITS["shift_places"].value, LIMITS["shift_places_sure"].value
_ALONE_SD = LIMITS["row_alone_sure"].value
_FAR_MM = LIMITS["row_far_off"].value * DISPLACED_MM
_LEAST_ROUND = LIMITS["rows_come_round"].value
_LOST_SHARE = LIMITS["column_lost"].value
_COVERED = int(LIMITS["column_covered"].value)
_TOLD_DOUBT = LIMITS["together_told"].value
_ASKED_DOUBT = LIMITS["together_asked"].value
_MOST_ALIKE = 0.9  # of what printings have in common: from there on their difference is too little to be made more of
_LONE_SHARE = LIMITS["gap_among_unread"].value
_SURELY_SD = LIMITS["gap_surely"].value
_BARE_RMS = LIMITS["column_bare_rms"].value


def without_lone_gaps(ladders: tuple[Ladder, ...], judged: list[Judged]) -> list[Judged]:
    """Call a missing dash unreadable where hardly a dash beside it in its column can be read.

    Where lines lie off the places they are looked for, on a curl or under a reflection, some of those places show
    bare paper.
    """
    return [_blanked(one, _lone(one.state, len(ladder.columns))) for ladder, one in zip(ladders, judged, strict=True)]


def without_doubtful_gaps(judged: list[Judged], rows: int) -> list[Judged]:
    """Call a dash unreadable that only just counts as missing, where the other printing shows its row.

    A nozzle that fails in one printing alone is rare, and leaves bare paper there.
    """
    states = np.stack([j.state for j in judged])
    if len(states) < 2 or advance_of_missing(states, rows) is not None:
        return judged
    shows = ((states != "missing") & (states != "unreadable")).any(axis=0)
    limit = LIMITS["dash_missing"].value
    return [
        _blanked(one, (one.state == "missing") & shows & (one.strength + _SURELY_SD * one.sd > limit))
        for one in judged
    ]  # fmt: skip


def _lone(state: NDArray[np.str_], columns: int) -> NDArray[np.bool_]:
    """Missing dashes (rows,) of whose nearest ones in the column, two to either side, most are unreadable."""
    missing = np.asarray(state == "missing")
    if not missing.any():
        return missing
    padded = np.pad(state, 2 * columns, constant_values="")
    beside = np.stack([padded[(2 + k) * columns :][: len(state)] for k in (-2, -1, 1, 2)])
    unread = (beside == "unreadable").sum(axis=0)
    return np.asarray(missing & (unread >= _LONE_SHARE * (beside != "").sum(axis=0)))


def _blanked(one: Judged, hit: NDArray[np.bool_]) -> Judged:
    """The same with the dashes of `hit` (rows,) unreadable."""
    if not hit.any():
        return one
    blank = np.where(hit, np.nan, 0.0)
    return replace(
        one, strength=one.strength + blank, sd=one.sd + blank, offset=one.offset + blank,
        offset_sd=one.offset_sd + blank, state=np.where(hit, "unreadable", one.state),
    )  # fmt: skip


def without_lost_columns(ladders: tuple[Ladder, ...], judged: list[Judged], rows: int) -> list[Judged]:
    """Call a column unreadable that one printing alone shows largely gone, and a stretch of one that shows covered.

    The rows of a column lie all over the head: what they share is their place on the paper. Nozzles that fail there
    and nowhere else, and print again in the other printing, are a place that was misread. Where printings moved
    against one another would explain it too, bare paper must read as nothing, which what lies between dashes doesn't.
    """
    states = np.stack([j.state for j in judged])
    if len(states) < 2:
        return judged
    moved = advance_of_missing(states, rows) is not None
    gone = states == "missing"
    there = ~gone & (states != "unreadable")
    out = []
    for number, (ladder, one) in enumerate(zip(ladders, judged, strict=True)):
        column = np.arange(rows) % len(ladder.columns)
        alone = gone[number] & there.any(axis=0)
        share = np.bincount(column, weights=alone) / np.bincount(column)
        lost = [
            c for c in np.flatnonzero(share > _LOST_SHARE).tolist()
            if not moved or np.sqrt(np.mean(one.strength[alone & (column == c)] ** 2)) >= _BARE_RMS
        ]  # fmt: skip
        hit = np.isin(column, lost)
        if 2 * len(lost) > len(ladder.columns) or alone[~hit].mean() > _LOST_SHARE / 4:
            hit = np.zeros(rows, bool)
        if not moved:
            hit |= _covered(alone, gone[number], len(ladder.columns))
        out.append(_blanked(one, hit))
    return out


def _covered(alone: NDArray[np.bool_], gone: NDArray[np.bool_], columns: int) -> NDArray[np.bool_]:
    """Dashes `alone` (rows,) missing from this printing that stand side by side in one column, (rows,).

    On the head they lie a column's step apart, with rows between them that print: something lies on the paper there.
    """
    out = np.zeros(len(alone), bool)
    for start in np.flatnonzero(alone).tolist():
        if start >= columns and alone[start - columns]:
            continue
        count = 1
        while start + count * columns < len(alone) and alone[start + count * columns]:
            count += 1
        between = gone[start : start + (count - 1) * columns + 1].sum() - count
        if count >= _COVERED and between <= _LOST_SHARE / 4 * (count - 1) * (columns - 1):
            out[start : start + count * columns : columns] = True
    return out


def advance(states: NDArray[np.str_], rows: int, tellers: tuple[tuple[str, int], ...] = _SHIFT_TELLERS) -> int | None:
    """Shift in rows from the first printing to the next that makes their missing rows agree; none for 0.

    `states` are (printings, rows); `tellers` the states that tell it, and how many rows of each are
    needed. Where too few are missing, rows off their place or weak tell it as well.
    """
    if len(states) < 2:
        return None
    for name, needed in tellers:
        first, second = (frozenset(np.flatnonzero(printing == name).tolist()) for printing in states[:2])
        if len(first) >= needed and len(second) >= needed:
            return _shift_between(first, second, rows)
    return None


def advance_of_missing(states: NDArray[np.str_], rows: int) -> int | None:
    """`advance`, as missing rows alone tell it."""
    return advance(states, rows, _SHIFT_TELLERS[:1])


def advance_of_places(judged: list[Judged], rows: int) -> int | None:
    """`advance`, as rows off their places tell it that noise hides one by one; none for 0.

    Rows off at random fall on one another by chance, with like and unlike signs; a shift is believed that stands far
    out of that, and out of all others, which a pattern that comes back does not. None is asked for where the rows
    missing in both printings already lie on one another, and a line that isn't there has no place.
    """
    if len(judged) < 2 or _missing_alike(judged):
        return None
    first, second = (np.where(np.abs(off) > one.displaced_mm, np.sign(off), 0.0) for one, off in _offsets(judged[:2]))
    agreed = np.correlate(second, first, "full")  # at rows - 1 they lie as they are
    best = int(np.argmax(agreed))
    others = np.concatenate([agreed[: max(0, best - 1)], agreed[best + 2 :]])
    by_chance = float(np.sqrt(np.abs(first).sum() * np.abs(second).sum() / rows))
    enough = max(_PLACES_AGREE, _PLACES_SD * by_chance, 2.0 * float(others.max(initial=0.0)))
    return best - (rows - 1) or None if agreed[best] >= enough else None


def _missing_alike(judged: list[Judged]) -> bool:
    """Whether two printings and more lack rows, and mostly the same ones."""
    gone = [one.state == "missing" for one in judged[:2]]
    both, either = gone[0] & gone[1], gone[0] | gone[1]
    enough = min(int(one.sum()) for one in gone) >= _SHIFT_TELLERS[0][1]
    return enough and bool(both.sum() >= _SHIFT_MATCH * either.sum())


def _offsets(judged: list[Judged]) -> list[tuple[Judged, NDArray[np.float64]]]:
    """Each printing with the offsets (rows,) of its lines, mm; 0 where there is none to be read."""
    return [
        (one, np.where(np.isin(one.state, ("missing", "unreadable")), 0.0, np.nan_to_num(one.offset)))
        for one in judged
    ]  # fmt: skip


@lru_cache(maxsize=16)  # an ink's missing rows mostly stay the same while doubtful ones among them are sifted out
def _shift_between(first: frozenset[int], second: frozenset[int], rows: int) -> int | None:
    """Shift that lays most of the rows `first` on `second`; none where none does, or they lie there already."""

    def matched(shift: int) -> float:
        moved = {r + shift for r in first if 0 <= r + shift < rows}
        back = {r for r in second if 0 <= r - shift < rows}
        either = len(moved | back)
        return len(moved & back) / either if either >= 2 else 0.0

    still = matched(0)
    common = Counter(b - a for a in first for b in second).most_common(_SHIFTS_TRIED)
    best = max((shift for shift, _ in common), key=lambda s: (matched(s) * _overlap(s, rows), -abs(s)))
    if best and matched(best) >= _SHIFT_MATCH and matched(best) > 2 * still:
        return best
    return None


def _overlap(shift: int, rows: int) -> float:
    """Share of the rows that both printings can be compared on."""
    return 1.0 - abs(shift) / rows


@dataclass(frozen=True, slots=True)
class Aligned:
    """States of the printings laid over one another.

    Attributes
    ----------
    states : (P, N) str
        ``"unreadable"`` where a printing has no such row.
    row : (N,) int64
        Its number in the first printing; of a row that only the second shows, that of its nozzle's row there.
    """

    states: NDArray[np.str_]
    row: NDArray[np.int64]


def lay_over(states: NDArray[np.str_], shift: int, rows: int, passes: int = 1) -> Aligned:
    """Lay the second printing of `states` (printings, rows) over the first, `shift` rows up.

    Rows beyond the first printing come round after a head's height, or after what the missing ones show of a printer
    that interlaces the rows in `passes`.
    """
    moved = np.full((len(states), rows + 2 * abs(shift)), "unreadable", dtype=states.dtype)
    _lay(states, shift, moved)
    row = np.arange(-abs(shift), rows + abs(shift))
    period = _comes_round(moved, row, rows, passes)
    return Aligned(moved, np.where(row < 0, row + period, np.where(row >= rows, row - period, row)) % rows)


def _comes_round(states: NDArray[np.str_], row: NDArray[np.int64], rows: int, passes: int) -> int:
    """Rows after which the nozzles print in the same order again: `rows`, or fewer where these can't be it.

    Passes that interlace move on by the same number of rows each, which may be less than their share of the head. A
    step is believed at which all rows missing beyond the first printing (`states` and `row` are as in `Aligned`) meet
    one that is missing in it, and no row that is missing meets one that prints.
    """
    gone = states == "missing"
    prints = ((states != "unreadable") & ~gone).any(axis=0)
    lost = gone.any(axis=0) & ~prints
    beyond = np.flatnonzero(lost & ((row < 0) | (row >= rows)))
    if passes == 1 or not beyond.size:
        return rows
    for period in range(rows, int(_LEAST_ROUND * rows), -passes):
        meets = np.where(row[beyond] < 0, beyond + period, beyond - period)
        apart = (lost[period:] & prints[:-period]) | (lost[:-period] & prints[period:])
        if not apart.any() and lost[meets].all():
            return period
    return rows


def _lay(printings: NDArray[Any], shift: int, over: NDArray[Any]) -> None:
    """Write the printings (P, N) into `over` (P, N + 2 |shift|), the second one `shift` rows up."""
    for repeat, printing in enumerate(printings):
        start = _start(shift, repeat)
        over[repeat, start : start + len(printing)] = printing


def _start(shift: int, repeat: int) -> int:
    """Where a printing's first row stands among those laid over one another."""
    return abs(shift) - (shift if repeat else 0)


def missing_rows(aligned: Aligned) -> tuple[set[int], set[int]]:
    """Rows missing in every printing that could be read, and in some.

    A row beyond the first printing's end mostly goes by the number it would have were passes a head's height apart;
    where they are less, the first printing may show that number printing, which is then not missing in each.
    """
    seen, gone = aligned.states != "unreadable", aligned.states == "missing"
    some = gone.any(axis=0)
    own = np.zeros(len(some), bool)  # rows that the first printing has
    beyond = (len(some) - aligned.row.max() - 1) // 2
    own[beyond : len(own) - beyond] = True
    prints = set(aligned.row[own & (seen & ~gone).any(axis=0)].tolist())
    in_some = set(aligned.row[some].tolist())
    return in_some - prints, in_some & prints


def _rows_in(aligned: Aligned, name: str, without: set[int]) -> tuple[int, ...]:
    """Rows that read `name` in most printings that could be read."""
    most = 2 * (aligned.states == name).sum(axis=0) > (aligned.states != "unreadable").sum(axis=0)
    return tuple(sorted(set(aligned.row[most].tolist()) - without))


def _alike(offset: NDArray[np.float64]) -> float:
    """Correlation, 0 to 1, of rows' offsets (printings, rows) in the first two printings, displaced ones left out.

    A nozzle's own aim goes together too, but it is small against the limit, and so is its error then.
    """
    if len(offset) < 2:
        return 0.0
    both = offset[:2, np.isfinite(offset[:2]).all(axis=0)]
    if both.shape[1] < SOUND_NEEDED:
        return 0.0
    scatter = MAD_SD * middle_of(np.abs(both), 1)[:, None]
    x, y = both[:, (np.abs(both) < 3 * scatter).all(axis=0)]
    if len(x) < SOUND_NEEDED:
        return 0.0
    return min(max(float(x @ y) / math.sqrt(max(float((x @ x) * (y @ y)), 1e-30)), 0.0), 1.0)


def told_together(
    judged: list[Judged], faint: NDArray[np.bool_], off_place: NDArray[np.bool_], shift: int
) -> list[Judged]:
    """Call weak or displaced what lies beyond the limit in a printing too noisy to say so, where all together do.

    `faint` and `off_place` are of the rows laid over one another, (rows + 2 |shift|,), as in `Aligned`.
    """
    out = []
    for repeat, one in enumerate(judged):
        start = _start(shift, repeat)
        rows = slice(start, start + len(one.state))
        here = one.state == "present"
        weak = faint[rows] & here & (one.strength < LIMITS["dash_weak"].value)
        beyond = off_place[rows] & here & (np.abs(one.offset) > one.displaced_mm)
        state = one.state.copy()
        state[beyond], state[weak] = "displaced", "weak"
        out.append(replace(one, state=state))
    return out


def crowds(
    aligned: Aligned, judged: list[Judged], shift: int, *, photo: bool, rounded: bool = False
) -> tuple[tuple[Crowd, Crowd], tuple[Crowd, Crowd]]:
    """Rows that the ink as a whole shows to be weak, and off their place: those told, and those asked about.

    Where a file has `rounded` the lines alike in both printings, half the difference of these shows less than the
    noise of places that their mean has.
    """
    shape = aligned.states.shape
    loss, offset = (np.full(shape, np.nan) for _ in range(2))
    _lay(1.0 - np.stack([j.strength for j in judged]), shift, loss)
    _lay(np.stack([j.offset for j in judged]), shift, offset)
    gone = (aligned.states == "unreadable") | (aligned.states == "missing")
    loss[gone] = offset[gone] = np.nan
    offset = _as_if_apart(offset) if rounded else offset
    weak, off = 1.0 - LIMITS["dash_weak"].value, LIMITS["dash_displaced"].value
    nearer = [1.0 - row.value if photo else 1.0 for row in (LIMITS["photo_weak"], LIMITS["photo_displaced"])]
    return (
        (_crowd(loss, weak, _TOLD_DOUBT, True), _asked(loss, nearer[0] * weak)),
        (_crowd(offset, off, _TOLD_DOUBT, False), _crowd(offset, nearer[1] * off, _ASKED_DOUBT, False)),
    )


def _as_if_apart(offset: NDArray[np.float64]) -> NDArray[np.float64]:
    """Offsets (printings, rows) of the same means whose first two printings differ by as much as those err.

    Of readings that go together by r, half the sum errs by (1 + r) / 2 of either one's variance, half the difference
    by (1 - r) / 2.
    """
    r = min(_alike(offset), _MOST_ALIKE)
    if not r:
        return offset
    out = offset.copy()
    apart = (offset[0] - offset[1]) / 2 * (math.sqrt((1 + r) / (1 - r)) - 1)
    out[0] += apart
    out[1] -= apart
    return out


def coarsely_off(judged: list[Judged]) -> int:
    """Lines off their places by less than coarse pixels may draw them: how many, in the printing with fewest.

    0 where pixels are finer. None is named for it. They count well beyond the limit, and far beyond how dashes
    scatter that fall alike.
    """
    if all((one.displaced_mm <= DISPLACED_MM).all() for one in judged):
        return 0
    return min(
        int(off_place(np.abs(off), one.offset_sd, _ALONE_SD, _FAR_MM).sum())
        for one, off in _offsets(judged)
    )  # fmt: skip


def one_way_off(judged: list[Judged]) -> int:
    """Lines well beyond the limit on one side, in the printing with fewest, where hardly any are on the other; or 0.

    Noise puts as many on either side, however much of it there is, and a part of a head throws its lines one way,
    in both printings. Where those print a row with two nozzles, no row need be off in both.
    """
    beyond = [(int((off < -_FAR_MM).sum()), int((off > _FAR_MM).sum())) for _, off in _offsets(judged[:2])]
    counts = [min(side) for side in zip(*beyond, strict=True)]
    side = counts.index(max(counts))
    told = all(1 + one[1 - side] <= _ASKED_DOUBT * one[side] for one in beyond)
    return counts[side] if len(beyond) > 1 and told else 0


def _asked(loss: NDArray[np.float64], limit: float) -> Crowd:
    """Rows that may be weak together: few side by side, or many, as a clog leaves that spares half their dots."""
    found = (_crowd(loss, limit, _ASKED_DOUBT, True, window) for window in (WINDOW, WIDE_WINDOW))
    return max(found, key=lambda crowd: crowd.count)


def _crowd(readings: NDArray[np.float64], limit: float, doubt: float, one_sided: bool, window: int = WINDOW) -> Crowd:
    """Rows beyond `limit`, of which noise explains no more than `doubt`; none of a single printing.

    What is one-sided is held against the `window` of rows about.
    """
    seen = readings[:2].mean(axis=0)
    beyond = seen > limit if one_sided else np.abs(seen) > limit
    if len(readings) < 2 or beyond.sum() * doubt < 1.0:  # too few for any doubt
        return Crowd(np.zeros(readings.shape[1], bool), 0.0)
    if not one_sided:
        return beyond_noise(readings[:2], limit, doubt, one_sided=False, least=HEALTHY_AIM_MM)
    found = beyond_noise(from_rows_about(readings[:2], window), limit, doubt, one_sided=True, least=LEAST_HEALTHY_SD)
    return Crowd(found.rows & beyond, found.count)


def rows_weak(aligned: Aligned, together: NDArray[np.bool_], without: set[int]) -> tuple[int, ...]:
    """Rows that most of their printings show weak, each by itself or all `together` (rows as in `Aligned`)."""
    alone = _rows_in(aligned, "weak", without)
    return tuple(sorted({*alone, *aligned.row[together].tolist()} - without))


def rows_off_place(
    aligned: Aligned, judged: list[Judged], shift: int, without: set[int], crowd: NDArray[np.bool_]
) -> tuple[tuple[int, ...], NDArray[np.bool_]]:
    """Rows whose printings lie off their place, together or most of them each; and which do so together, (N,).

    A nozzle that is askew throws every printing of its row alike, and the mean of two is known better than either; a
    row that one printing shows weak as well is off its place all the same. What JPEG's blocks do to a row they may do
    to all its printings alike, for the layout repeats by whole swaths: as far as the sound rows' offsets go together
    from printing to printing, two say no more than one. Those of `crowd` the ink as a whole tells.
    """
    offset, sd, limits = (np.full(aligned.states.shape, np.nan) for _ in range(3))
    _lay(np.stack([j.offset for j in judged]), shift, offset)
    _lay(np.stack([j.offset_sd for j in judged]), shift, sd)
    _lay(np.stack([j.displaced_mm for j in judged]), shift, limits)
    limit = np.nanmax(limits, axis=0, initial=0.0)
    known = np.isfinite(offset) & np.isfinite(sd) & (aligned.states != "unreadable") & (aligned.states != "missing")
    count = np.maximum(known.sum(axis=0), 1)
    mean = np.abs(np.where(known, offset, 0.0).sum(axis=0)) / count
    alike = _alike(np.where(known, offset, np.nan))
    apart = np.where(known, sd**2, 0.0).sum(axis=0)
    mean_sd = np.sqrt((1.0 - alike) * apart + alike * np.where(known, sd, 0.0).sum(axis=0) ** 2) / count
    both = DISPLACED_SD + alike * (_ALONE_SD - DISPLACED_SD)
    needed = np.where(known.sum(axis=0) > 1, both, _ALONE_SD)
    together = off_place(mean, mean_sd, needed, limit) | (crowd & (mean > limit))
    far = aligned.states == "displaced"
    needed = np.where(far.sum(axis=0) > 1, both, _ALONE_SD)
    doubtful = ~(far & off_place(np.abs(offset), sd, needed, limit)).any(axis=0)
    each = set(_rows_in(aligned, "displaced", without)) - set(aligned.row[doubtful].tolist())
    return tuple(sorted({*each, *aligned.row[together].tolist()} - without)), together
