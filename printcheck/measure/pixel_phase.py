"""What a coarse picture makes of a line according to where it falls among the rows of pixels.

Samples that stand as far apart as a line is wide, or farther, tell a line that falls on one of them from one that
falls between two: the one looks stronger, the other weaker, and both are drawn to where the samples are. Astronomers
know it as pixel-phase error (J. Anderson and I. R. King, Publ. Astron. Soc. Pacific 112, 2000, who also take it from
the images themselves). A sheet that lies straight on the glass shows it whole, for there a dash keeps to its place
among the pixels from end to end; in a photo each of its segments falls elsewhere. Where chroma is halved it goes on
up to twice the width, and where a picture was thinned out instead of averaged down, lines between samples are gone.

Rows that a head weakens or throws are few, or lie side by side. So segments that fall alike among the pixels, taken
from all over the ladder, tell how much of a line the picture shows there and how far it is drawn. A dash's weight is
then the least-squares fit of that pattern to its segments. Where the picture shows too little of a line to tell, it
can't be read, unless most inks' lines are plain at such places: then it is the head that lacks it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.dashes import SOUND_NEEDED, sound_level
from printcheck.measure.ladder import pixel_mm, with_parts
from printcheck.robust import MAD_SD, column_medians, middle_of, spread_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.ladder import LadderSignal
    from printcheck.pattern.elements import Ladder

__all__ = ["without_pixel_phase"]

_COARSE = LIMITS["pixel_phase_width"].value
_CROSSED_PX = 0.5  # rows of pixels that a segment crosses, from which all places among them are in it
_PERIOD_PX = 2.0  # halved chroma's; a pixel's own is half of it
_BINS = 32  # of that period
_LEAST = 9  # segments of a bin for a median
_FAR = 1e3  # beyond any strength, or place in mm
_EVEN_SD, _EVEN_MM = LIMITS["pixel_phase_even"].value, LIMITS["pixel_phase_even_place"].value
_LEFT = LIMITS["pixel_phase_left"].value
_MOST_PX = LIMITS["pixel_phase_most"].value
_HOPS = LIMITS["pixel_phase_hops"].value
_WINDOWS = 12  # of dashes that fall about alike, in which lines are seen to hop
_ASKEW_SD, _BY_CHANCE_SD = LIMITS["hops_askew"].value, LIMITS["hops_by_chance"].value
_LEAST_SAY, _MOST_SAY = 0.6, 0.85  # share of a window's dashes that tell its scatter
_CLIPPED = 2.5  # robust standard deviations from a dash's fit, beyond which a segment has no more say
_SHOWN = LIMITS["phase_shown"].value
_THERE = LIMITS["phase_there"].value
_PLAIN = LIMITS["phase_plain"].value
_VARIES = LIMITS["phase_varies"].value
_FEW = LIMITS["phase_few"].value


def without_pixel_phase(
    ladders: Sequence[tuple[Ladder, ...]], signals: Sequence[tuple[LadderSignal, ...]], passes: Sequence[int]
) -> list[tuple[LadderSignal, ...]]:
    """`signals` without what the pixels made of strengths and places; lines that fell between them can't be read.

    Parameters
    ----------
    ladders, signals : sequence of tuple
        By ink, the printings of its ladder and what each shows.
    passes : sequence of int
        By ink, in how many the printer prints the head's rows by turns.
    """
    shown = [
        _shown(own, seen, max(2, turn)) if _may_need(own, seen) else None
        for own, seen, turn in zip(ladders, signals, passes, strict=True)
    ]
    # no head makes a pattern along its dashes; else what most inks don't lack is the head's doing
    losing = sum(one is not None and bool(one.lost.any()) for one in shown)
    everywhere = any(one is not None and one.varies for one in shown) or 2 * losing > len(shown)
    return [seen if one is None else _mended(seen, one, everywhere) for seen, one in zip(signals, shown, strict=True)]


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the pixels show of one ink's lines, all its printings one after the other.

    Attributes
    ----------
    gain : (N, S) float64
        Weight that a sound dash shows in each segment, over the usual one.
    drawn_mm : (N, S) float64
        How far it is drawn off its place there.
    doubt_mm : (N,) float64
        Scatter of places among dashes that fall alike, where lines hop from pixel to pixel.
    lost : (N,) bool
        Dashes of which too little would show.
    varies : bool
        Whether sound dashes show more of themselves in some segments than in others.
    """

    gain: NDArray[np.float64]
    drawn_mm: NDArray[np.float64]
    doubt_mm: NDArray[np.float64]
    lost: NDArray[np.bool_]
    varies: bool


def _may_need(ladders: tuple[Ladder, ...], signals: tuple[LadderSignal, ...]) -> bool:
    """True where lines are narrow for the picture's pixels, segments keep to a row of them, and readings scatter."""
    for ladder, signal in zip(ladders, signals, strict=True):
        if signal.row_px is None or signal.crossed_px > _CROSSED_PX * signal.row_px.shape[1]:
            return False
        if signal.width_mm > _COARSE * pixel_mm(ladder, signal.row_px):
            return False
    return any(_scatters(signal) for signal in signals)


def _scatters(signal: LadderSignal) -> bool:
    ok = signal.readable & (signal.amplitude > 0.5 * signal.level)
    if signal.level <= 0 or ok.sum() < SOUND_NEEDED:
        return False
    if ok.sum() < (1.0 - _FEW) * signal.readable.sum():
        return True
    within = float(middle_of(signal.sd[ok])) / signal.level
    between = _scatter(signal.amplitude[ok] / signal.level)
    return max(within, between) > _EVEN_SD or _scatter(signal.offset_mm[ok]) > _EVEN_MM


def _shown(ladders: tuple[Ladder, ...], signals: tuple[LadderSignal, ...], turn: int) -> _Shown | None:
    """How the pixels show this ink's lines; none where too few are there to tell."""
    pairs = list(zip(ladders, signals, strict=True))
    weight = np.concatenate([signal.parts / sound_level(ladder, signal)[:, None] for ladder, signal in pairs])
    strength = weight.mean(axis=1)
    readable = np.concatenate([signal.readable for signal in signals]) & np.isfinite(strength)
    there = readable & (strength > _THERE)
    if there.sum() < SOUND_NEEDED:
        return None
    place = np.concatenate([signal.row_px for signal in signals if signal.row_px is not None])
    relative = weight - _alike(strength - 1.0, there, ladders, (turn,))[:, None]
    gain = _by_place(relative, place, there, readable)
    gain *= 1.0 / max(float(gain[there].mean()), 1e-9)
    lost = readable & (np.sqrt(np.square(gain).mean(axis=1)) < _SHOWN)
    if not _tells(relative[there] / float(middle_of(relative[there].ravel())), gain[there]):
        gain = np.ones_like(gain)
    offset = np.concatenate([signal.moved / np.where(signal.parts > 0, signal.parts, np.nan) for signal in signals])
    offset[~((there & ~lost)[:, None] & (gain > _PLAIN))] = np.nan
    most = _MOST_PX * max(pixel_mm(ladder, signal.row_px) for ladder, signal in pairs if signal.row_px is not None)
    drawn, doubt = _drawn(offset, gain, place, ladders, turn, most)
    return _Shown(gain, drawn, doubt, lost, float(middle_of(np.ptp(gain, axis=1))) > _VARIES)


def _drawn(
    offset: NDArray[np.float64],
    gain: NDArray[np.float64],
    place: NDArray[np.float64],
    ladders: tuple[Ladder, ...],
    turn: int,
    most: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far lines are drawn off their places in each segment, (N, S) mm, and the doubt about each dash's, (N,) mm.

    `offset` (N, S) are the segments' places, NaN where nothing is to be read. Nothing is laid to the pixels where it
    would leave most of the scatter between dashes, or be more than `most`.
    """
    plain = np.isfinite(offset)
    read = np.asarray(plain.any(axis=1))
    if read.sum() < SOUND_NEEDED:  # all but lost in a lamp's reflection, or between the pixels
        return np.zeros_like(offset), np.zeros(len(offset))
    say = np.where(plain, np.square(gain), 0.0)
    dash = (say * np.where(plain, offset, 0.0)).sum(axis=1) / np.maximum(say.sum(axis=1), 1e-9)
    # the page lies elsewhere in each column, and so it does in each pass
    turns = (len(ladders[0].columns), turn)
    left = offset - _alike(dash, read, ladders, turns)[:, None]
    drawn = _by_place(left, place, read, read)
    before, after = np.nanmean(left[read], axis=1), np.nanmean((left - drawn)[read], axis=1)
    if _scatter(after) > _LEFT * _scatter(before) or np.abs(drawn).max() > most:
        drawn, after = np.zeros_like(drawn), before
    doubt = np.zeros(len(offset))
    doubt[read] = _hops(after, place.mean(axis=1)[read])
    return drawn, doubt


def _alike(
    values: NDArray[np.float64], there: NDArray[np.bool_], ladders: tuple[Ladder, ...], turns: tuple[int, ...]
) -> NDArray[np.float64]:
    """What every so many-th row has alike of `values` (N,), in each printing: banks and passes, or a column's dashes.

    Of rows that are `there`; 0 for the others.
    """
    out = []
    for one in np.split(np.where(there, values, np.nan), np.cumsum([ladder.rows for ladder in ladders])[:-1]):
        left = one
        for turn in turns:
            left = _less_every(left, turn)
        out.append(one - left)
    return np.asarray(np.nan_to_num(np.concatenate(out)))


def _less_every(values: NDArray[np.float64], turn: int) -> NDArray[np.float64]:
    """`values` (rows,) less the middle of every `turn`-th."""
    padded = np.full(-(-len(values) // turn) * turn, np.nan)
    padded[: len(values)] = values
    return values - np.resize(column_medians(padded.reshape(-1, turn)), len(values))


def _tells(values: NDArray[np.float64], gain: NDArray[np.float64]) -> bool:
    """Whether `gain` (N, S) leaves less of the scatter of `values`, between segments or between dashes."""
    segments = _scatter((values - gain).ravel()) < _LEFT * _scatter(values.ravel())
    return segments or _scatter((values - gain).mean(axis=1)) < _LEFT * _scatter(values.mean(axis=1))


def _by_place(
    values: NDArray[np.float64],
    place: NDArray[np.float64],
    there: NDArray[np.bool_],
    readable: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Median of `values` (N, S) of the segments that fall where each does, linearly between the middles of bins.

    Of dashes that are `there`; where these are few for the `readable` ones that fall there, of all.
    """
    phase = place % _PERIOD_PX
    bins = (phase * (_BINS / _PERIOD_PX)).astype(np.int64) % _BINS
    finite = np.isfinite(values)
    chosen = finite & there[:, None]
    every = np.bincount(bins[finite & readable[:, None]], minlength=_BINS)
    bare = np.bincount(bins[chosen], minlength=_BINS) < _FEW * every
    if bare.any():
        chosen |= finite & readable[:, None] & bare[bins]
    bins, seen = bins[chosen], values[chosen]
    order = np.argsort(bins * _FAR + np.clip(seen, -_FAR / 3, _FAR / 3))  # by bin, and by value within each
    count = np.bincount(bins, minlength=_BINS)
    first = np.cumsum(count) - count
    told = np.flatnonzero(count >= _LEAST)
    if not told.size:
        return np.zeros_like(values)
    middle = seen[order][first[told] + count[told] // 2]
    at = np.bincount(bins, phase[chosen], minlength=_BINS)[told] / count[told]
    return np.asarray(np.interp(phase, at, middle, period=_PERIOD_PX))


def _hops(left: NDArray[np.float64], place: NDArray[np.float64]) -> NDArray[np.float64]:
    """Scatter of `left` (N,) among dashes that fall alike, where it is more than the usual.

    Where a line hops from pixel to pixel dashes that fall alike differ. Rows askew differ wherever they fall: as many
    as there are of those far off altogether, and by chance in the window, have no say.
    """
    window = 2 * (max(_LEAST, len(left) // _WINDOWS) // 2) + 1
    if len(left) < window:
        return np.zeros(len(left))
    size = np.abs(left)
    far = float(np.mean(size > _ASKEW_SD * MAD_SD * float(middle_of(size))))
    say = 1.0 - min(max(far + _BY_CHANCE_SD * np.sqrt(far * (1.0 - far) / window), 1.0 - _MOST_SAY), 1.0 - _LEAST_SAY)
    order = np.argsort(place % _PERIOD_PX, kind="stable")
    half = window // 2
    around = size[np.concatenate([order[-half:], order, order[:half]])]
    near = np.sort(np.lib.stride_tricks.sliding_window_view(around, window), axis=1)
    variance = np.empty(len(left))
    variance[order] = np.square(near[:, round(say * (window - 1))] / NormalDist().inv_cdf((1.0 + say) / 2.0))
    return np.sqrt(np.maximum(variance - _HOPS * float(middle_of(variance)), 0.0))


def _mended(signals: tuple[LadderSignal, ...], shown: _Shown, everywhere: bool) -> tuple[LadderSignal, ...]:
    """Each dash's weight and place fitted to the pattern that a line leaves in its segments.

    Those lost can't be read if lines are lost `everywhere` that fall so, and stay as they read if not.
    """
    out, first = [], 0
    for signal in signals:
        rows = slice(first, first + len(signal.amplitude))
        first = rows.stop
        gain, drawn, lost = shown.gain[rows], shown.drawn_mm[rows], shown.lost[rows]
        parts = _fitted(signal.parts, gain)
        moved = _fitted(signal.moved - signal.parts * drawn, gain)
        parts[lost] = np.nan if everywhere else signal.parts[lost]
        moved[lost] = signal.moved[lost]
        mended = with_parts(signal, parts, moved)
        out.append(replace(mended, offset_sd_mm=np.hypot(mended.offset_sd_mm, shown.doubt_mm[rows])))
    return tuple(out)


def _fitted(values: NDArray[np.float64], gain: NDArray[np.float64]) -> NDArray[np.float64]:
    """Segments (N, S) about the factor of `gain` in `values`, both (N, S), that scatter as it is uncertain."""
    power = np.maximum(np.square(gain).sum(axis=1), 1e-9)
    factor = (gain * values).sum(axis=1) / power
    left = values - gain * factor[:, None]
    known = left[np.isfinite(left)]
    if known.size:
        most = _CLIPPED * spread_of(known)
        clipped = gain * factor[:, None] + np.clip(left, -most, most)
        factor = (gain * clipped).sum(axis=1) / power
        left = np.clip(values - gain * factor[:, None], -most, most)
    return np.asarray(factor[:, None] + left * np.sqrt(gain.shape[1] / power)[:, None])


def _scatter(values: NDArray[np.float64]) -> float:
    """Mean distance from the median: what a part of all is off by counts, and a few that are far off little."""
    return float(np.abs(values - middle_of(values)).mean())
