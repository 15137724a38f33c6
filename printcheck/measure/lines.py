"""Judging the ladder of one ink: strengths against its own sound dashes, states, rows and their arrangement."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.measure.arrangement import arrange
from printcheck.measure.ladder import WIDEST_MM
from printcheck.measure.light import middle_of
from printcheck.measure.result import DashReading, LinesReading
from printcheck.measure.together import Crowd, beyond_noise, from_rows_about

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.ladder import LadderSignal
    from printcheck.pattern.elements import Ladder
    from printcheck.pattern.heads import HeadInk

__all__ = ["judge_lines"]

_SEEN = 4.0  # sd above which a dash is surely there
_SEEN_SHARE = 0.02  # of the rows: fewer sure dashes than this, and the ink may be absent altogether
_STRAY_SHARE = 0.15  # the same where the ink's solid is bare too: what is seen then is dust, or another ink's ghost
_READABLE_SHARE = 0.5  # of the rows: where fewer can be read, no ink is called absent
_SMOOTH_FROM = 40  # sound dashes needed before their level is let vary over the ladder
_SHIFTS_TRIED = 12  # shifts between two printings that most pairs of missing rows share
_SHIFT_TELLERS = (("missing", 2), ("displaced", 5), ("weak", 5))  # states, and how many rows of one tell a shift
_SHIFT_MATCH = 0.6  # share of missing rows that a shift between printings must explain
_DISPLACED_SD = 4.0  # one in 16 000: a sheet has thousands
_ALONE_SD = 4.5  # the same where one printing alone tells of a row: as for weak dashes, noise has tails
_WEAK_SD = 4.0  # one in 30 000: a sheet has thousands, and JPEG may do to both printings of a row alike
_SOUND_NEEDED = 12  # sound dashes needed to speak of their scatter
_LEAST_SD = 0.005  # what the line's assumed shape leaves uncertain however clean the capture
_HEALTHY_SD = 0.017  # between lines of a healthy head: volume differs by 2 to 5 %, width grows as its root; and paper
_LEAST_HEALTHY_SD = 0.010  # at the least: by 2 %
_HEALTHY_AIM_MM = 0.003  # between lines of a healthy head, along the feed; common practice, no source
_ZERO_SD = 0.4  # sd of where bare paper reads, were all contrast of the comb lost; from simulated captures
_ZERO_NEEDS = 3  # missing dashes needed to tell where bare paper reads
_BETWEEN_SD = 0.2  # of s (1 - s): what light led about in the paper adds to half inked lines (Yule and Nielsen 1951)
_LEVEL_DOUBT = 0.5  # of what a sound dash's level differs over the ladder: the capture's doing, or the print's own
_LEAST_OFFSET_MM = 0.001  # what the line's assumed shape and the paper leave uncertain of its place
_LOST_SHARE = 0.4  # of a column's dashes: if one printing alone shows as many gone, it is the column that is misread
_BARE_RMS = 0.15  # strength of bare paper over a column, at most: a dash is called missing from 0.4 down
_COLUMN_NEEDS = 8  # sound dashes of a column needed to tell the line it keeps
_TOLD_DOUBT = 0.1  # share of the rows told together that may be noise: ten rows and more, for one counts as noise
_ASKED_DOUBT = 0.2  # the same where they only ask for another picture: five and more
_PASS_NEEDS = 6  # sound rows of one pass needed to tell its position
_PASS_WINDOW = 13  # rows of one pass whose common shift is taken for the paper's


@dataclass(frozen=True, slots=True)
class _Judged:
    strength: NDArray[np.float64]
    sd: NDArray[np.float64]
    offset: NDArray[np.float64]
    offset_sd: NDArray[np.float64]
    state: NDArray[np.str_]


def judge_lines(
    ink: HeadInk,
    ladders: tuple[Ladder, ...],
    signals: tuple[LadderSignal, ...],
    solid_absorptance: float | None,
    *,
    photo: bool = False,
) -> LinesReading:
    """States of all dashes of one ink.

    Parameters
    ----------
    ink : HeadInk
    ladders, signals : tuple
        The printings of its ladder, from the top, and what each shows.
    solid_absorptance : float or None
        Mean absorptance of the ink's solid: tells an absent ink from an unreadable one.
    photo : bool
        A camera's and its file's denoising draw in what a dash differs from its neighbours by.
    """
    sure = max(_sure_share(signal) for signal in signals)
    bare = solid_absorptance is not None and solid_absorptance < LIMITS["ink_present"].value
    readable = float(np.mean([signal.readable.mean() for signal in signals]))
    # lines as wide as are looked for at all are no lines: their mean can't be told from the paper's light
    shapeless = all(signal.width_mm >= WIDEST_MM for signal in signals)
    absent = (sure < _STRAY_SHARE or shapeless) and bare and readable > _READABLE_SHARE
    pairs = tuple(zip(ladders, signals, strict=True))
    judged = [_judge(ladder, signal, absent, sure, ink.passes) for ladder, signal in pairs]
    if not absent:
        judged = _without_lost_columns(ladders, judged, ink.rows)
    if absent:
        return LinesReading(
            ink.ink, ink.rows, _all_dashes(ladders, judged), True, (), (), (), (), (), None, "none", None, 0,
            ("no ink of this colour was laid down at all",),
        )  # fmt: skip
    states = np.stack([j.state for j in judged])
    shift = _advance(states, ink.rows)
    aligned = _aligned(states, shift or 0, ink.rows)
    every, some = _missing_rows(aligned)
    all_missing = every | some
    arrangement = arrange(all_missing, ink.rows, ink.passes)
    losses, offsets = _crowds(aligned, judged, shift or 0, photo=photo)
    weak = _rows_weak(aligned, losses[0].rows, all_missing)
    displaced, together = _rows_off_place(aligned, judged, shift or 0, all_missing | set(weak), offsets[0].rows)
    return LinesReading(
        ink.ink,
        ink.rows,
        _all_dashes(ladders, _told_together(judged, losses[0].rows, together, shift or 0)),
        False,
        tuple(sorted(every)),
        tuple(sorted(some)),
        weak,
        displaced,
        tuple(np.flatnonzero((states == "unreadable").all(axis=0)).tolist()),
        shift,
        arrangement.kind,
        arrangement.stride,
        arrangement.longest_run,
        weak_about=losses[1].count,
        displaced_about=offsets[1].count,
    )


def _sure_share(signal: LadderSignal) -> float:
    """Share of the readable dashes that stand out of the noise beyond doubt."""
    seen = signal.amplitude[signal.readable] > _SEEN * signal.sd[signal.readable]
    return float(seen.mean()) if seen.size else 0.0


def _all_dashes(ladders: tuple[Ladder, ...], judged: list[_Judged]) -> tuple[DashReading, ...]:
    return tuple(dash for ladder, one in zip(ladders, judged, strict=True) for dash in _dashes(ladder, one))


def _dashes(ladder: Ladder, judged: _Judged) -> list[DashReading]:
    """Records of one printing's dashes, by row."""
    readings = zip(
        range(ladder.rows),
        itertools.repeat(ladder.repeat),
        _places(ladder),
        _numbers(judged.strength),
        _numbers(judged.sd),
        _numbers(judged.offset),
        _numbers(judged.offset_sd),
        judged.state.tolist(),
    )
    return list(map(DashReading._make, readings))


@lru_cache(maxsize=64)
def _places(ladder: Ladder) -> tuple[Box, ...]:
    """Box of every dash of `ladder`, by row: the same for every sheet of a head, and thousands on a sheet."""
    return tuple(ladder.dash(row) for row in range(ladder.rows))


def _numbers(values: NDArray[np.float64]) -> list[float | None]:
    """Plain floats; none where there is no number."""
    return [value if value == value else None for value in values.tolist()]


def _judge(ladder: Ladder, signal: LadderSignal, absent: bool, sure: float, passes: int) -> _Judged:
    """Strength and state of each dash of one printing."""
    level = _sound_level(ladder, signal)
    strength = signal.amplitude / level
    sd = signal.sd / level
    ok = signal.readable & np.isfinite(strength)
    if absent or sure < _SEEN_SHARE:  # nothing to compare with: unreadable, or absent
        state = np.where(ok & absent, "missing", "unreadable")
        nothing = np.full(len(ok), np.nan)
        zeros = np.where(ok, 0.0, np.nan) if absent else nothing
        return _Judged(zeros, nothing, nothing, nothing, state)
    loud = ok & (strength > 0.5)
    sd = np.sqrt(sd**2 + _excess(strength[loud], sd[loud], _healthy_sd(signal.crossed_px)) ** 2 + _LEAST_SD**2)
    missing, weak = LIMITS["dash_missing"].value, LIMITS["dash_weak"].value
    spacing = ladder.pitch_mm * len(ladder.columns)
    zero, zero_sd = _zero(strength[ok & (strength < missing)], signal.width_mm / spacing)
    strength = (strength - zero) / (1.0 - zero)
    # the missing limit allows for this, so that states go by the rest
    told = np.hypot(sd / (1.0 - zero), zero_sd * (1.0 - strength))
    told = np.hypot(told, _BETWEEN_SD * np.clip(strength * (1.0 - strength), 0.0, None))
    told = np.hypot(told, _LEVEL_DOUBT * np.abs(level / middle_of(level) - 1.0) * np.clip(strength, 0.0, None))
    there = ok & (strength > 0.5)
    offset, offset_sd = _within_column(signal.offset_mm, signal.offset_sd_mm, there, len(ladder.columns))
    offset, offset_sd = _own_offset(offset, offset_sd, there, passes)
    offset_sd = np.hypot(offset_sd, _excess(offset[there], offset_sd[there], _HEALTHY_AIM_MM))
    far = _off_place(np.abs(offset), offset_sd, _DISPLACED_SD)
    state = np.select(
        [
            ~ok | ((sd > LIMITS["dash_sd"].value) & ~_clear(strength, sd)) | _either(strength, sd),
            strength < missing,
            (strength < weak) & (1.0 - strength > _WEAK_SD * sd),
            far,
        ],
        ["unreadable", "missing", "weak", "displaced"],
        "present",
    )
    return _Judged(strength, told, offset, offset_sd, state)


def _without_lost_columns(ladders: tuple[Ladder, ...], judged: list[_Judged], rows: int) -> list[_Judged]:
    """Call a column unreadable that one printing alone shows largely gone.

    The rows of a column lie all over the head: what they share is their place on the paper. Nozzles that fail there
    and nowhere else, and print again in the other printing, are a place that was misread. Where printings moved
    against one another would explain it too, bare paper must read as nothing, which what lies between dashes doesn't.
    """
    states = np.stack([j.state for j in judged])
    if len(states) < 2:
        return judged
    moved = _advance(states, rows, _SHIFT_TELLERS[:1]) is not None
    gone, there = states == "missing", ~np.isin(states, ("missing", "unreadable"))
    out = []
    for number, (ladder, one) in enumerate(zip(ladders, judged, strict=True)):
        column = np.arange(rows) % len(ladder.columns)
        elsewhere = np.delete(there, number, axis=0).any(axis=0)
        alone = gone[number] & elsewhere
        lost = [
            c for c in range(len(ladder.columns))
            if alone[column == c].mean() > _LOST_SHARE
            and not (moved and np.sqrt(np.mean(one.strength[alone & (column == c)] ** 2)) < _BARE_RMS)
        ]  # fmt: skip
        hit = np.isin(column, lost)
        if not lost or 2 * len(lost) > len(ladder.columns) or alone[~hit].mean() > _LOST_SHARE / 4:
            out.append(one)
            continue
        blank = np.where(hit, np.nan, 0.0)
        out.append(
            _Judged(
                one.strength + blank, one.sd + blank, one.offset + blank, one.offset_sd + blank,
                np.where(hit, "unreadable", one.state),
            )
        )  # fmt: skip
    return out


def _zero(missing: NDArray[np.float64], width: float) -> tuple[float, float]:
    """Strength that bare paper reads as, and its standard deviation; `width` is lines' sigma over their spacing.

    Sound dashes set the scale's 1 whatever the lines' shape. Its 0 rests on the paper level between them, and that on
    their skirts: sharpening lifts the paper beside a line, halved chroma and light in the paper darken it, and where
    blur makes lines meet the fit can't tell skirt from paper. So 0 is uncertain by the square of the contrast that
    blur took from the comb. Where rows are missing they show it, by as much as they outweigh that (the posterior mean
    of a normal prior).
    """
    lost = 1.0 - float(np.exp(-0.5 * (2 * np.pi * width) ** 2))
    prior = _ZERO_SD * lost**2
    if len(missing) < _ZERO_NEEDS:
        return 0.0, prior
    middle = float(np.median(missing))
    variance = (1.4826 * float(np.median(np.abs(missing - middle)))) ** 2 / len(missing) + _LEAST_SD**2
    weight = prior**2 / (prior**2 + variance)
    return weight * middle, float(np.sqrt(weight * variance))


def _healthy_sd(crossed_px: float) -> float:
    """Scatter of strengths that is laid to a head whose dashes cross so many rows of pixels each.

    On a sheet that lies straight a dash keeps to its row of pixels, and whatever depends on where it lies among them
    (coarse samples, sharpening, JPEG's blocks, chroma at every second pixel) is the same all along it: there no more
    is taken for the head's own than any head has.
    """
    return _LEAST_HEALTHY_SD + (_HEALTHY_SD - _LEAST_HEALTHY_SD) * min(crossed_px, 1.0)


def _excess(values: NDArray[np.float64], sd: NDArray[np.float64], healthy: float) -> float:
    """Scatter of the sound dashes beyond what their own noise `sd` and a `healthy` head explain.

    Noise that is the same all along a dash, as JPEG's blocks make it, does not show between a dash's segments; it
    shows between dashes that ought to be alike.
    """
    if len(values) < _SOUND_NEEDED:
        return 0.0
    scatter = 1.4826 * float(middle_of(np.abs(values - middle_of(values))))
    return float(np.sqrt(max(0.0, scatter**2 - float(middle_of(sd**2)) - healthy**2)))


def _within_column(
    offset: NDArray[np.float64], sd: NDArray[np.float64], sound: NDArray[np.bool_], columns: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Offset of each row from the straight line that its column keeps, and its standard deviation, (rows,) mm.

    Dashes of a column are printed by nozzles from all over the head; what they share is where the page lies there:
    curled paper under a camera and the lens leave each column a shift and a slope of its own. The line is fitted by
    least squares without what lies beyond three standard deviations, and its own error is added.
    """
    count = -(-len(offset) // columns)
    padded = np.full(count * columns, np.nan)
    padded[: len(offset)] = np.where(sound, offset, np.nan)
    values = padded.reshape(count, columns)
    known = np.isfinite(values)
    off = np.abs(values - _medians(values))
    scatter = 1.4826 * _medians(off)
    used = known & (off <= 3 * scatter + _LEAST_OFFSET_MM)
    weight = used.astype(np.float64)
    clear = np.where(used, values, 0.0)
    n = np.maximum(weight.sum(axis=0), 1.0)
    place = np.linspace(-0.5, 0.5, count)[:, None] * weight
    at, level = place.sum(axis=0) / n, clear.sum(axis=0) / n
    wide = np.maximum((place**2).sum(axis=0) - n * at**2, 1e-9)
    slope = ((place * clear).sum(axis=0) - n * at * level) / wide
    from_middle = np.linspace(-0.5, 0.5, count)[:, None] - at
    enough = known.sum(axis=0) >= _COLUMN_NEEDS
    line = np.where(enough, level + slope * from_middle, 0.0).ravel()[: len(offset)]
    doubt = np.where(enough, scatter**2 * (1 / n + from_middle**2 / wide), 0.0).ravel()[: len(offset)]
    return offset - line, np.sqrt(sd**2 + doubt)


def _medians(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median of the finite values of each column of `values`, (columns,); 0 where there are none."""
    ordered = np.sort(values, axis=0)  # NaN last
    known = np.isfinite(values).sum(axis=0)
    columns = np.arange(values.shape[1])
    low, high = np.maximum(known - 1, 0) // 2, known // 2
    high = np.minimum(high, np.maximum(known - 1, 0))
    middle = 0.5 * (ordered[low, columns] + ordered[high, columns])
    return np.where(known > 0, middle, 0.0)


def _own_offset(
    offset: NDArray[np.float64], sd: NDArray[np.float64], sound: NDArray[np.bool_], passes: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Offset of each row from the rows about it that the same pass printed, and its standard deviation, (rows,) mm.

    The paper's position differs from pass to pass, and that is the printer's doing: rows of one pass move together.
    Passes take turns row by row, so a running median over every second row (or every ``passes``-th) takes it out.
    To the error of a row's own reading comes that of the median, from how well the rows about it are read: where they
    truly lie is what the offset is relative to.
    """
    turn = max(2, passes)
    out, error = offset.copy(), np.hypot(sd, _LEAST_OFFSET_MM)
    for first in range(turn):
        rows = np.arange(first, len(offset), turn)
        half = min(_PASS_WINDOW // 2, (len(rows) - 1) // 2)
        good = sound[rows]
        if good.sum() < _PASS_NEEDS:
            continue
        # rows that are not there take the place of the others' middle, so that they sway no window
        values = np.where(good, offset[rows], middle_of(offset[rows][good]))
        padded = np.pad(values, half, mode="reflect")
        middle = middle_of(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), 1)
        out[rows] = offset[rows] - middle
        noise = float(middle_of(error[rows][good]))
        # a median of normal values errs 1.2533 times as much as their mean (M. Kendall and A. Stuart, 1977)
        error[rows] = np.hypot(error[rows], 1.2533 * noise / np.sqrt(2 * half + 1))
    return out, error


def _clear(strength: NDArray[np.float64], sd: NDArray[np.float64]) -> NDArray[np.bool_]:
    """A noisy dash that is all the same surely there, 3 sd above the missing limit.

    Below it none can be sure: so noisy a reading would have to lie under bare paper, which nothing is lighter than,
    and that shows the tails of the noise, not a missing dash.
    """
    far = strength - LIMITS["dash_missing"].value > 3 * sd
    return np.asarray(far & (sd < 2 * LIMITS["dash_sd"].value))


def _either(strength: NDArray[np.float64], sd: NDArray[np.float64]) -> NDArray[np.bool_]:
    """A noisy reading within its standard deviation of the missing limit: missing, or there, by chance.

    Where there is little noise, a dash at the limit is a half blocked nozzle's, and either name for it will do.
    """
    near = np.abs(strength - LIMITS["dash_missing"].value) < sd
    return np.asarray(near & (sd > LIMITS["dash_sd"].value / 2))


def _sound_level(ladder: Ladder, signal: LadderSignal) -> NDArray[np.float64]:
    """Amplitude of a sound dash at each row's place, (rows,): a plane over the ladder, and its column's own level.

    The upper few percent tell the size of a sound dash however many are missing; sound is then what reaches half
    of it, and their median (or a plane through them) the level.
    """
    amplitude = np.where(signal.readable, signal.amplitude, np.nan)
    finite = amplitude[np.isfinite(amplitude)]
    if not finite.size:
        return np.ones(ladder.rows)
    upper = np.sort(finite)[-min(finite.size, max(3, finite.size // 40))]
    sound = amplitude > 0.5 * upper
    level = max(float(middle_of(amplitude[sound])) if sound.any() else float(upper), 1e-9)
    sound = np.abs(amplitude / level - 1) < 0.35
    if sound.sum() < _SMOOTH_FROM:
        return np.full(ladder.rows, level)
    rows = np.arange(ladder.rows)
    column = np.array(ladder.order)[rows % len(ladder.order)] / max(len(ladder.columns) - 1, 1) - 0.5
    design = np.column_stack([np.ones(ladder.rows), column, rows / ladder.rows - 0.5])
    fit = np.linalg.lstsq(design[sound], amplitude[sound], rcond=None)[0]
    error = np.abs(amplitude - design @ fit)
    keep = sound & (error < 3 * middle_of(error[sound]))
    fit = np.linalg.lstsq(design[keep], amplitude[keep], rcond=None)[0]
    plane = design @ fit
    # lstsq follows the mean; sound rows are skewed by weak ones, so the level is set by their median
    plane *= middle_of(amplitude[sound] / plane[sound])
    return np.asarray(np.clip(plane * _of_columns(amplitude / plane, sound, ladder), 0.5 * level, 2.0 * level))


def _of_columns(relative: NDArray[np.float64], sound: NDArray[np.bool_], ladder: Ladder) -> NDArray[np.float64]:
    """What the sound dashes of each row's column read on the whole, (rows,), of `relative` (rows,) strengths.

    Rows of a column lie all over the head; they share their place on the paper, so on JPEG's blocks and under dust on
    a scanner's sensor.
    """
    count = len(ladder.columns)
    padded = np.full(-(-len(relative) // count) * count, np.nan)
    padded[: len(relative)] = np.where(sound, relative, np.nan)
    values = padded.reshape(-1, count)
    level = np.where(np.isfinite(values).sum(axis=0) >= _COLUMN_NEEDS, _medians(values), 1.0)
    return np.asarray(np.tile(level, len(values))[: len(relative)])


def _advance(
    states: NDArray[np.str_], rows: int, tellers: tuple[tuple[str, int], ...] = _SHIFT_TELLERS
) -> int | None:
    """Shift in rows from the first printing to the next that makes their missing rows agree; none for 0.

    Where too few are missing, rows off their place or weak tell it as well.
    """
    if len(states) < 2:
        return None
    for name, needed in tellers:
        first, second = (set(np.flatnonzero(printing == name).tolist()) for printing in states[:2])
        if len(first) >= needed and len(second) >= needed:
            return _shift_between(first, second, rows)
    return None


def _shift_between(first: set[int], second: set[int], rows: int) -> int | None:
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
class _Aligned:
    """States of the printings laid over one another.

    Attributes
    ----------
    states : (P, N) str
        ``"unreadable"`` where a printing has no such row.
    row : (N,) int64
        Its number in the first printing; of a row that only the second shows, the number it would have there.
    """

    states: NDArray[np.str_]
    row: NDArray[np.int64]


def _aligned(states: NDArray[np.str_], shift: int, rows: int) -> _Aligned:
    """Lay the second printing over the first, `shift` rows up."""
    moved = np.full((len(states), rows + 2 * abs(shift)), "unreadable", dtype=states.dtype)
    _lay(states, shift, moved)
    return _Aligned(moved, np.arange(-abs(shift), rows + abs(shift)) % rows)


def _lay(printings: NDArray[Any], shift: int, over: NDArray[Any]) -> None:
    """Write the printings (P, N) into `over` (P, N + 2 |shift|), the second one `shift` rows up."""
    for repeat, printing in enumerate(printings):
        start = _start(shift, repeat)
        over[repeat, start : start + len(printing)] = printing


def _start(shift: int, repeat: int) -> int:
    """Where a printing's first row stands among those laid over one another."""
    return abs(shift) - (shift if repeat else 0)


def _missing_rows(aligned: _Aligned) -> tuple[set[int], set[int]]:
    """Rows missing in every printing that could be read, and in some.

    A row beyond the first printing's end goes by the number it would have were passes a head's height apart; where
    they are less, that number may be one that the first printing shows printing, and is then not missing in each.
    """
    seen, gone = aligned.states != "unreadable", aligned.states == "missing"
    some = gone.any(axis=0)
    own = np.zeros(len(some), bool)  # rows that the first printing has
    beyond = (len(some) - aligned.row.max() - 1) // 2
    own[beyond : len(own) - beyond] = True
    prints = set(aligned.row[own & (seen & ~gone).any(axis=0)].tolist())
    in_some = set(aligned.row[some].tolist())
    return in_some - prints, in_some & prints


def _rows_in(aligned: _Aligned, name: str, without: set[int]) -> tuple[int, ...]:
    """Rows that read `name` in most printings that could be read."""
    most = 2 * (aligned.states == name).sum(axis=0) > (aligned.states != "unreadable").sum(axis=0)
    return tuple(sorted(set(aligned.row[most].tolist()) - without))


def _off_place(
    offset: NDArray[np.float64], sd: NDArray[np.float64], needed: NDArray[np.float64] | float
) -> NDArray[np.bool_]:
    """Whether lines lie beyond the limit, and `needed` sd off where a healthy head's would, read to within `sd`."""
    doubt = np.hypot(sd, _HEALTHY_AIM_MM)
    return np.asarray((offset > LIMITS["dash_displaced"].value) & (offset > needed * doubt), bool)


def _alike(offset: NDArray[np.float64]) -> float:
    """Correlation, 0 to 1, of rows' offsets (printings, rows) in the first two printings, displaced ones left out.

    A nozzle's own aim goes together too, but it is small against the limit, and so is its error then.
    """
    if len(offset) < 2:
        return 0.0
    both = offset[:2, np.isfinite(offset[:2]).all(axis=0)]
    scatter = 1.4826 * np.median(np.abs(both), axis=1, keepdims=True) if both.size else np.zeros((2, 1))
    x, y = both[:, (np.abs(both) < 3 * scatter).all(axis=0)]
    if len(x) < _SOUND_NEEDED:
        return 0.0
    return float(np.clip(x @ y / np.sqrt(max(float((x @ x) * (y @ y)), 1e-30)), 0.0, 1.0))


def _told_together(
    judged: list[_Judged], faint: NDArray[np.bool_], off_place: NDArray[np.bool_], shift: int
) -> list[_Judged]:
    """Call weak or displaced what lies beyond the limit in a printing too noisy to say so, where all together do."""
    out = []
    for repeat, one in enumerate(judged):
        start = _start(shift, repeat)
        rows = slice(start, start + len(one.state))
        here = one.state == "present"
        weak = faint[rows] & here & (one.strength < LIMITS["dash_weak"].value)
        beyond = off_place[rows] & here & (np.abs(one.offset) > LIMITS["dash_displaced"].value)
        out.append(replace(one, state=np.select([weak, beyond], ["weak", "displaced"], one.state)))
    return out


def _crowds(
    aligned: _Aligned, judged: list[_Judged], shift: int, *, photo: bool
) -> tuple[tuple[Crowd, Crowd], tuple[Crowd, Crowd]]:
    """Rows that the ink as a whole shows to be weak, and off their place: those told, and those asked about."""
    shape = aligned.states.shape
    loss, offset = (np.full(shape, np.nan) for _ in range(2))
    _lay(1.0 - np.stack([j.strength for j in judged]), shift, loss)
    _lay(np.stack([j.offset for j in judged]), shift, offset)
    gone = (aligned.states == "unreadable") | (aligned.states == "missing")
    loss[gone] = offset[gone] = np.nan
    weak, off = 1.0 - LIMITS["dash_weak"].value, LIMITS["dash_displaced"].value
    nearer = [1.0 - LIMITS[name].value if photo else 1.0 for name in ("photo_weak", "photo_displaced")]
    return (
        (_crowd(loss, weak, _TOLD_DOUBT, True), _crowd(loss, nearer[0] * weak, _ASKED_DOUBT, True)),
        (_crowd(offset, off, _TOLD_DOUBT, False), _crowd(offset, nearer[1] * off, _ASKED_DOUBT, False)),
    )


def _crowd(readings: NDArray[np.float64], limit: float, doubt: float, one_sided: bool) -> Crowd:
    """Rows beyond `limit`, of which noise explains no more than `doubt`; none of a single printing."""
    seen = readings[:2].mean(axis=0)
    beyond = seen > limit if one_sided else np.abs(seen) > limit
    if len(readings) < 2 or beyond.sum() * doubt < 1.0:  # too few for any doubt
        return Crowd(np.zeros(readings.shape[1], bool), 0.0)
    if not one_sided:
        return beyond_noise(readings[:2], limit, doubt, one_sided=False, least=_HEALTHY_AIM_MM)
    found = beyond_noise(from_rows_about(readings[:2]), limit, doubt, one_sided=True, least=_LEAST_HEALTHY_SD)
    return Crowd(found.rows & beyond, found.count)


def _rows_weak(aligned: _Aligned, together: NDArray[np.bool_], without: set[int]) -> tuple[int, ...]:
    """Rows that most of their printings show weak, each by itself or all together."""
    alone = _rows_in(aligned, "weak", without)
    return tuple(sorted({*alone, *aligned.row[together].tolist()} - without))


def _rows_off_place(
    aligned: _Aligned, judged: list[_Judged], shift: int, without: set[int], crowd: NDArray[np.bool_]
) -> tuple[tuple[int, ...], NDArray[np.bool_]]:
    """Rows whose printings lie off their place, together or most of them each; and which do so together, (N,).

    A nozzle that is askew throws every printing of its row alike, and the mean of two is known better than either; a
    row that one printing shows weak as well is off its place all the same. What JPEG's blocks do to a row they may do
    to all its printings alike, for the layout repeats by whole swaths: as far as the sound rows' offsets go together
    from printing to printing, two say no more than one. Those of `crowd` the ink as a whole tells.
    """
    offset, sd = (np.full(aligned.states.shape, np.nan) for _ in range(2))
    _lay(np.stack([j.offset for j in judged]), shift, offset)
    _lay(np.stack([j.offset_sd for j in judged]), shift, sd)
    known = np.isfinite(offset) & np.isfinite(sd) & ~np.isin(aligned.states, ("unreadable", "missing"))
    count = np.maximum(known.sum(axis=0), 1)
    mean = np.abs(np.where(known, offset, 0.0).sum(axis=0)) / count
    alike = _alike(np.where(known, offset, np.nan))
    apart = np.where(known, sd**2, 0.0).sum(axis=0)
    mean_sd = np.sqrt((1.0 - alike) * apart + alike * np.where(known, sd, 0.0).sum(axis=0) ** 2) / count
    both = _DISPLACED_SD + alike * (_ALONE_SD - _DISPLACED_SD)
    needed = np.where(known.sum(axis=0) > 1, both, _ALONE_SD)
    together = _off_place(mean, mean_sd, needed) | crowd
    far = aligned.states == "displaced"
    needed = np.where(far.sum(axis=0) > 1, both, _ALONE_SD)
    doubtful = ~(far & _off_place(np.abs(offset), sd, needed)).any(axis=0)
    each = set(_rows_in(aligned, "displaced", without)) - set(aligned.row[doubtful].tolist())
    return tuple(sorted({*each, *aligned.row[together].tolist()} - without)), together
