"""Judging the dashes of a ladder's printings: strength against the ink's own sound ones, place, and state."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.least_squares import least_squares
from printcheck.limits import LIMITS
from printcheck.measure.feed import off_most_rows, rows_about, thrown_together
from printcheck.measure.ladder import pixel_mm
from printcheck.register.rows import rows_of
from printcheck.robust import MAD_SD, column_medians, middle_of, quantile_of, running_middle, spread_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.ladder import LadderSignal
    from printcheck.pattern.elements import Ladder

__all__ = [
    "DISPLACED_SD",
    "HEALTHY_AIM_MM",
    "LEAST_HEALTHY_SD",
    "SOUND_NEEDED",
    "Judged",
    "judge_dashes",
    "off_place",
    "sound_level",
]

DISPLACED_SD = LIMITS["dash_displaced_sure"].value
SOUND_NEEDED = int(LIMITS["dash_sound_needed"].value)
LEAST_HEALTHY_SD = LIMITS["healthy_strength_least"].value
HEALTHY_AIM_MM = LIMITS["healthy_aim"].value
DISPLACED_MM = LIMITS["dash_displaced"].value

_SEEN_SHARE = LIMITS["ink_seen"].value
_SMOOTH_FROM = 40  # sound dashes needed before their level is let vary over the ladder
_WEAK_SD, _WEAK_SD_HALVED = LIMITS["dash_weak_sure"].value, LIMITS["dash_weak_halved"].value
_LEAST_SD = LIMITS["dash_strength_sd"].value
_HEALTHY_SD = LIMITS["healthy_strength"].value
_ZERO_SD = LIMITS["dash_bare_sd"].value
_ZERO_NEEDS = 3  # missing dashes needed to tell where bare paper reads
_STRETCH, _STRETCH_SHARE = 9, 0.05  # rows side by side, more than fall alike among pixels; share of the head
_BETWEEN_SD = LIMITS["dash_half_inked_sd"].value
_LEVEL_DOUBT = LIMITS["dash_level_doubt"].value
_MIMIC_SD = LIMITS["both_printings_strength"].value
_MIMIC_WIDTH = LIMITS["both_printings_width"].value
_MIMIC_AIM = LIMITS["both_printings_place"].value
_LEAST_OFFSET_MM = LIMITS["dash_place_sd"].value
_COARSE_MM, _COARSE_PX = LIMITS["place_coarse"].value, LIMITS["place_coarse_doubt"].value
_COARSE_SPREAD = LIMITS["place_coarse_spread"].value
_COLUMN_NEEDS = 8  # sound dashes of a column needed to tell the line it keeps
_END_DASHES = 2  # of a column, at either end, about as many as lie in a block of halved chroma at 300 dots/inch
_STATE = "<U10"  # holds the longest name of a state


@dataclass(frozen=True, slots=True)
class Judged:
    """The dashes of one printing, each (rows,).

    Attributes
    ----------
    strength, sd : float64
        Ink relative to the ink's own sound dashes, and its standard deviation; NaN where it is not known.
    offset, offset_sd : float64
        How far a line lies below where the rows put it that the same pass printed, mm.
    state : str
        ``"present"``, ``"weak"``, ``"missing"``, ``"displaced"`` or ``"unreadable"``.
    displaced_mm : float64
        From which a line is off its place, as far as the picture shows places.
    taken : bool or None
        Unreadable ones that show bare paper in a picture that may have taken the line away; none where it keeps them.
    zero : float
        What bare paper was taken to read as, before strengths were counted from there.
    """

    strength: NDArray[np.float64]
    sd: NDArray[np.float64]
    offset: NDArray[np.float64]
    offset_sd: NDArray[np.float64]
    state: NDArray[np.str_]
    displaced_mm: NDArray[np.float64]
    taken: NDArray[np.bool_] | None = None
    zero: float = 0.0


@dataclass(frozen=True, slots=True)
class _Read:
    """Strengths and places of one printing's dashes, before their scatter is shared out; each (rows,)."""

    strength: NDArray[np.float64]  # in terms of a sound dash, bare paper as it reads
    sd: NDArray[np.float64]
    zero: float  # strength that bare paper reads as, and its standard deviation
    zero_sd: float
    level: NDArray[np.float64]
    ok: NDArray[np.bool_]
    there: NDArray[np.bool_]
    offset: NDArray[np.float64]  # mm
    offset_sd: NDArray[np.float64]
    crossed_px: float
    width_mm: float
    spacing_mm: float
    displaced_mm: NDArray[np.float64]
    coarse: bool  # its column keeps to a row of coarse pixels, and its level is by how the two lie
    folds: NDArray[np.int64] | None


def judge_dashes(
    ladders: tuple[Ladder, ...],
    signals: tuple[LadderSignal, ...],
    absent: bool,
    sure: float,
    passes: int,
    kept: tuple[float, ...],
    *,
    blocky: bool = False,
    halved: bool = False,
) -> list[Judged]:
    """Strengths and states of the dashes of every printing.

    Parameters
    ----------
    ladders, signals : tuple
        The printings, and what each shows.
    absent : bool
        The ink was not laid down at all.
    sure : float
        Share of the dashes that stand out of the noise beyond doubt.
    passes : int
        In which the printer prints the head's rows by turns.
    kept : tuple of float
        What is left of the lines' weight in each printing; see `weight_kept`.
    blocky : bool
        The lines are held in a JPEG's coarse steps: what of their scatter both printings share is the file's, for
        they lie alike among its blocks.
    halved : bool
        The ink is seen in a JPEG's halved chroma, or hardly at all.
    """
    pairs = tuple(zip(ladders, signals, strict=True))
    if absent or sure < _SEEN_SHARE:  # nothing to compare with
        return [_unjudged(ladder, signal, absent) for ladder, signal in pairs]
    levels = [sound_level(ladder, signal) for ladder, signal in pairs]
    stronger = _stronger_stretch([signal.amplitude / level for signal, level in zip(signals, levels, strict=True)])
    each = [_read(*pair, stronger * level) for pair, level in zip(pairs, levels, strict=True)]
    read = _placed(ladders, each, passes)
    unlike, off = _repeated(read)
    unlike, off = (0.0, 0.0) if blocky else (unlike, off)
    if halved:
        read = [_uneven_ends(one, len(ladder.columns)) for ladder, one in zip(ladders, read, strict=True)]
    sure_sd = _WEAK_SD_HALVED if halved else _WEAK_SD
    return [_judge(one, unlike, off, share, sure_sd) for one, share in zip(read, kept, strict=True)]


def _unjudged(ladder: Ladder, signal: LadderSignal, absent: bool) -> Judged:
    """One printing of an ink that is `absent`, or of which too little shows to compare dashes with."""
    ok = signal.readable & np.isfinite(signal.amplitude / sound_level(ladder, signal))
    state = np.where(ok & absent, "missing", "unreadable")
    nothing = np.full(len(ok), np.nan)
    strength = np.where(ok, 0.0, np.nan) if absent else nothing
    return Judged(strength, nothing, nothing, nothing, state, np.full(len(ok), DISPLACED_MM))


def _stronger_stretch(relative: list[NDArray[np.float64]]) -> float:
    """By how much sound dashes are stronger than most, of which `relative` (rows,) are the strengths a printing.

    A head lays down no more than it was made for: where rows side by side are so much stronger than most, in every
    printing, that most are weak beside them, those are the sound ones. A clog that takes one of the two nozzles that
    share each row leaves most of a ladder at half its ink.
    """
    tops = []
    for strengths in relative:
        about = running_middle(np.where(np.isfinite(strengths), strengths, 0.0), _STRETCH)
        tops.append(quantile_of(about, 1.0 - _STRETCH_SHARE))
    most = min(tops)
    return most if len(tops) > 1 and most * LIMITS["dash_weak"].value > 1.0 else 1.0


def _read(ladder: Ladder, signal: LadderSignal, level: NDArray[np.float64]) -> _Read:
    """Strength and place of each dash of one printing, against the `level` (rows,) of a sound one."""
    strength = signal.amplitude / level
    ok = signal.readable & np.isfinite(strength)
    spacing = ladder.pitch_mm * len(ladder.columns)
    zero, zero_sd = _zero(strength[ok & (strength < LIMITS["dash_missing"].value)], signal.width_mm / spacing)
    there = ok & ((strength - zero) / (1.0 - zero) > 0.5)
    displaced = _displaced_from(ladder, signal)
    return _Read(
        strength, signal.sd / level, zero, zero_sd, level, ok, there, signal.offset_mm, signal.offset_sd_mm,
        signal.crossed_px, signal.width_mm, spacing, np.full(len(ok), displaced), displaced > DISPLACED_MM,
        signal.folds,
    )  # fmt: skip


def _displaced_from(ladder: Ladder, signal: LadderSignal) -> float:
    """Least distance, mm, by which a line of this printing is told to be off its place.

    A dash of a sheet laid straight keeps to a row of pixels, and where these are coarse, half of one is what places
    are known to, whatever the segments agree on.
    """
    if signal.row_px is None or signal.crossed_px > 1.0:
        return DISPLACED_MM
    pixel = pixel_mm(ladder, signal.row_px)
    return max(DISPLACED_MM, _COARSE_PX * pixel) if pixel > _COARSE_MM else DISPLACED_MM


def _placed(ladders: tuple[Ladder, ...], read: list[_Read], passes: int) -> list[_Read]:
    """The same with offsets that are the head's own: without the page's place, the paper's feed and the map's error.

    Rows that the head throws together would sway the lines of their columns, so they are set apart before.
    """
    thrown = [np.zeros(len(one.offset)) for one in read]
    if len(read) > 1:
        columns, height = len(ladders[0].columns), ladders[0].box.height
        off = [off_most_rows(one.offset, one.there, passes, columns, height) for one in read[:2]]
        thrown[:2] = thrown_together(off[0], off[1], passes, height)
    out = []
    for ladder, one, together in zip(ladders, read, thrown, strict=True):
        columns = len(ladder.columns)
        own = one.offset - together
        own = own if one.folds is None else _unfolded(own, one.there, one.folds, columns)
        offset, sd = _within_column(own, one.offset_sd, one.there, columns)
        offset, sd = _own_offset(offset, sd, one.there, passes)
        # what a part of the head throws begins and ends from row to row in both printings, which no pixels do
        limit = np.where(together != 0.0, DISPLACED_MM, _narrowed(one, one.offset - together, columns))
        out.append(replace(one, offset=offset + together, offset_sd=sd, displaced_mm=limit))
    return out


def _narrowed(read: _Read, offset: NDArray[np.float64], columns: int) -> NDArray[np.float64]:
    """The distances (rows,), mm, from which lines are told to be off, by how far the picture draws `offset` (rows,).

    Pixels that draw a line off its place do so by where it falls among them, and a sheet's rows fall everywhere: a
    quarter lie about as far off as the farthest, before what lines share that fall alike is taken off. Where three of
    four agree, their pixels are fine enough.
    """
    if read.there.sum() < SOUND_NEEDED or (read.displaced_mm <= DISPLACED_MM).all():
        return read.displaced_mm
    drawn, _ = _within_column(offset, read.offset_sd, read.there, columns)
    most = _COARSE_SPREAD * quantile_of(np.abs(drawn[read.there]), 0.75)
    return np.minimum(read.displaced_mm, max(DISPLACED_MM, most))


def _repeated(read: list[_Read]) -> tuple[float, float]:
    """Scatter of strengths, and of places in mm, that two printings of the same rows share; 0 for none.

    What a capture does by chance differs from printing to printing, what a head does comes back: the variance of the
    two printings' mean is the head's and half the chance, that of half their difference is half the chance alone.
    Spreads are robust, so that single faulty rows don't tell; where the second printing is of other rows (an advance
    by other than a head's height), nothing is shared and all stays laid to the capture. So it does where lines meet:
    motion blurs both printings alike.
    """
    if len(read) < 2 or any(one.width_mm > _MIMIC_WIDTH * one.spacing_mm for one in read):
        return 0.0, 0.0
    first, second = read[:2]
    loud = first.ok & second.ok & (first.strength > 0.5) & (second.strength > 0.5)
    there = first.there & second.there
    return (
        _shared(first.strength[loud], second.strength[loud]),
        _shared(first.offset[there], second.offset[there]),
    )


def _shared(first: NDArray[np.float64], second: NDArray[np.float64]) -> float:
    """Standard deviation of what two series have in common; 0 for too few, or less than none."""
    if len(first) < SOUND_NEEDED:
        return 0.0
    return float(np.sqrt(max(0.0, spread_of(0.5 * (first + second)) ** 2 - spread_of(0.5 * (first - second)) ** 2)))


def _uneven_ends(read: _Read, columns: int) -> _Read:
    """The same where the first and last dashes of columns are known less well, by what they scatter beyond the rest.

    A block of a file's chroma that the end of a column cuts holds the wave of its lines worse than one full of them.
    """
    ends = np.zeros(len(read.ok), bool)
    ends[: _END_DASHES * columns] = ends[-_END_DASHES * columns :] = True
    loud = read.ok & (read.strength > 0.5)
    if min((loud & ends).sum(), (loud & ~ends).sum()) < SOUND_NEEDED:
        return read
    more = spread_of(read.strength[loud & ends]) ** 2 - spread_of(read.strength[loud & ~ends]) ** 2
    return replace(read, sd=np.where(ends, np.sqrt(read.sd**2 + max(more, 0.0)), read.sd))


def _judge(read: _Read, unlike: float, off: float, kept: float, weak_sd: float) -> Judged:
    """State of each dash of one printing; `unlike` and `off` (mm) are what both printings' dashes share.

    A dash is weak by `weak_sd` standard deviations at the least. Where too little was `kept` of the lines, a dash
    that isn't seen may be one that was taken out of the picture.
    """
    ok, there, zero, level = read.ok, read.there, read.zero, read.level
    loud = ok & (read.strength > 0.5)
    healthy = _healthy_sd(read.crossed_px)
    excess = _excess(read.strength[loud], read.sd[loud], healthy, unlike, _MIMIC_SD)
    sd = np.sqrt(read.sd**2 + excess**2 + _LEAST_SD**2)
    missing, weak = LIMITS["dash_missing"].value, LIMITS["dash_weak"].value
    strength = (read.strength - zero) / (1.0 - zero)
    # the missing limit allows for this, so that states go by the rest
    told = np.hypot(sd / (1.0 - zero), read.zero_sd * (1.0 - strength))
    told = np.hypot(told, _BETWEEN_SD * np.clip(strength * (1.0 - strength), 0.0, None))
    doubt = _LEVEL_DOUBT * (level / middle_of(level) - 1.0) * np.clip(strength, 0.0, None)
    told = np.hypot(told, doubt)
    mimic = _MIMIC_AIM * read.width_mm
    excess = _excess(read.offset[there], read.offset_sd[there], HEALTHY_AIM_MM, off, mimic)
    offset, offset_sd = read.offset, np.hypot(read.offset_sd, excess)
    far = off_place(np.abs(offset), offset_sd, DISPLACED_SD, read.displaced_mm)
    state = np.full(len(strength), "present", _STATE)
    # what is named later overrules what was before
    state[far] = "displaced"
    state[(strength < weak) & (1.0 - strength > weak_sd * np.hypot(sd, doubt if read.coarse else 0.0))] = "weak"
    bare = strength < missing
    state[bare] = "missing" if kept >= LIMITS["weight_kept"].value else "unreadable"
    blind = ~ok | ((sd > LIMITS["dash_sd"].value) & ~_clear(strength, sd)) | _either(strength, sd)
    taken = None if kept >= LIMITS["weight_kept"].value else bare & ~blind
    state[blind] = "unreadable"
    return Judged(strength, told, offset, offset_sd, state, read.displaced_mm, taken, zero)


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
    middle = float(middle_of(missing))
    variance = spread_of(missing) ** 2 / len(missing) + _LEAST_SD**2
    weight = prior**2 / (prior**2 + variance)
    return weight * middle, float(np.sqrt(weight * variance))


def _healthy_sd(crossed_px: float) -> float:
    """Scatter of strengths that is laid to a head whose dashes cross so many rows of pixels each.

    On a sheet that lies straight a dash keeps to its row of pixels, and whatever depends on where it lies among them
    (coarse samples, sharpening, JPEG's blocks, chroma at every second pixel) is the same all along it: there no more
    is taken for the head's own than any head has.
    """
    return LEAST_HEALTHY_SD + (_HEALTHY_SD - LEAST_HEALTHY_SD) * min(crossed_px, 1.0)


def _excess(
    values: NDArray[np.float64], sd: NDArray[np.float64], healthy: float, shared: float, mimic: float
) -> float:
    """Scatter of the sound dashes beyond what their own noise `sd` and a `healthy` head explain.

    Noise that is the same all along a dash, as JPEG's blocks make it, does not show between a dash's segments; it
    shows between dashes that ought to be alike. Of the scatter that both printings `shared`, no more than a capture
    can `mimic` is laid to it: the rest is the head's own, which would else hide its weak and stray rows by having
    many of them.
    """
    if len(values) < SOUND_NEEDED:
        return 0.0
    extra = max(0.0, spread_of(values) ** 2 - float(middle_of(sd**2)) - healthy**2)
    own = min(shared**2, extra)
    return float(np.sqrt(extra - own + min(own, mimic**2)))


def _unfolded(
    offset: NDArray[np.float64], sound: NDArray[np.bool_], folds: NDArray[np.int64], columns: int
) -> NDArray[np.float64]:
    """`offset` (rows,) with the dashes of each piece of a column that was followed moved to where the others lie.

    A piece is followed on by the phase of its comb, which a mosaic's sparse colour shows some hundredths of a
    millimetre off. Its rows lie all over the head, so that what they share is the paper's or the picture's.
    """
    out, column = offset.copy(), np.arange(len(offset)) % columns
    for number in np.unique(folds[folds > 0]).tolist():
        here = folds == number
        beside = sound & (column == column[np.argmax(here)]) & (folds == 0)
        if (sound & here).any() and beside.any():
            out[here] += middle_of(offset[beside]) - middle_of(offset[sound & here])
    return out


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
    off = np.abs(values - column_medians(values))
    scatter = MAD_SD * column_medians(off)
    used = known & (off <= 3 * scatter + _LEAST_OFFSET_MM)
    weight = used.astype(np.float64)
    clear = np.where(used, values, 0.0)
    n = np.maximum(weight.sum(axis=0), 1.0)
    down = np.linspace(-0.5, 0.5, count)[:, None]
    place = down * weight
    at, level = place.sum(axis=0) / n, clear.sum(axis=0) / n
    wide = np.maximum((place**2).sum(axis=0) - n * at**2, 1e-9)
    slope = ((place * clear).sum(axis=0) - n * at * level) / wide
    from_middle = down - at
    enough = known.sum(axis=0) >= _COLUMN_NEEDS
    line = np.where(enough, level + slope * from_middle, 0.0).ravel()[: len(offset)]
    doubt = np.where(enough, scatter**2 * (1 / n + from_middle**2 / wide), 0.0).ravel()[: len(offset)]
    return offset - line, np.sqrt(sd**2 + doubt)


def _own_offset(
    offset: NDArray[np.float64], sd: NDArray[np.float64], sound: NDArray[np.bool_], passes: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Offset of each row from the rows about it that the same pass printed, and its standard deviation, (rows,) mm.

    The paper's position differs from pass to pass, and that is the printer's doing: rows of one pass move together.
    To the error of a row's own reading comes that of the median, from how well the rows about it are read: where they
    truly lie is what the offset is relative to.
    """
    near, count = rows_about(offset, sound, passes)
    error = np.hypot(sd, _LEAST_OFFSET_MM)
    turn = max(2, passes)
    for first in range(turn):
        if count[first]:
            noise = float(middle_of(error[first::turn][sound[first::turn]]))
            # a median of normal values errs 1.2533 times as much as their mean (M. Kendall and A. Stuart, 1977)
            error[first::turn] = np.hypot(error[first::turn], 1.2533 * noise / np.sqrt(count[first]))
    return offset - near, error


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


def sound_level(ladder: Ladder, signal: LadderSignal) -> NDArray[np.float64]:
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
    column = rows_of(ladder).column / max(len(ladder.columns) - 1, 1) - 0.5
    design = np.column_stack([np.ones(ladder.rows), column, np.arange(ladder.rows) / ladder.rows - 0.5])
    error = np.abs(amplitude - design @ least_squares(design[sound], amplitude[sound]))
    keep = sound & (error < 3 * middle_of(error[sound]))
    plane = design @ least_squares(design[keep], amplitude[keep])
    # least squares follow the mean; sound rows are skewed by weak ones, so the level is set by their median
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
    level = np.where(np.isfinite(values).sum(axis=0) >= _COLUMN_NEEDS, column_medians(values), 1.0)
    return np.asarray(np.tile(level, len(values))[: len(relative)])


def off_place(
    offset: NDArray[np.float64],
    sd: NDArray[np.float64],
    needed: NDArray[np.float64] | float,
    limit: NDArray[np.float64] | float,
) -> NDArray[np.bool_]:
    """Whether lines lie beyond `limit` and `needed` sd off where a healthy head's would, read to within `sd`.

    `offset`, the distance without its sign, and `sd` are (N,) mm; `needed`, in standard deviations, and `limit`, mm,
    are one or (N,).
    """
    doubt = np.hypot(sd, HEALTHY_AIM_MM)
    return np.asarray((offset > limit) & (offset > needed * doubt), bool)
