"""What a coarse picture makes of a line according to where it falls among the lines of pixels.

Samples that stand as far apart as a line is wide, or farther, tell a line that falls on one of them from one that
falls between two: the one looks stronger, the other drawn to where the samples are. Astronomers know the second as
pixel-phase error (J. Anderson and I. R. King, Publ. Astron. Soc. Pacific 112, 2000, who also take it from the images
themselves). A sheet that lies straight on the glass shows it whole, for there a dash keeps to its place among the
pixels from end to end; and where chroma is halved, or light averaged as encoded values, it goes on up to twice the
width. Rows that a head weakens or throws are few, or lie side by side. So dashes that fall alike among the pixels,
taken from all over the ladder, tell what the picture does to such a dash, and the rest is the head's.

Where a picture was thinned out instead of averaged down, lines between its samples are gone altogether. They can't be
read then, if the other inks' lines are gone at such places as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.dashes import SOUND_NEEDED, sound_level
from printcheck.robust import MAD_SD, column_medians, middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.ladder import LadderSignal
    from printcheck.pattern.elements import Ladder

__all__ = ["without_pixel_phase"]

_COARSE = LIMITS["pixel_phase_width"].value
_STRAIGHT_PX = 1.0  # rows of pixels that a dash crosses, from which all places among them are in it
_PERIOD_PX = 2.0  # halved chroma's; a pixel's own is half of it
_ALIKE = 24  # groups of dashes that fall alike, which is how many are taken together
_LEAST_ALIKE = 9  # and so many dashes at the least
_TOLD = LIMITS["pixel_phase_left"].value
_MOST_PX = LIMITS["pixel_phase_most"].value
_HOPS = LIMITS["pixel_phase_hops"].value
_ALL_BUT, _ALL_BUT_SD = 0.85, 1.44  # share of normal values that lie within so many standard deviations
_SOUND = LIMITS["phase_whole"].value
_SOUND_SHARE = 0.2  # of the dashes, at least, that fall where they show whole
_GONE = LIMITS["phase_gone"].value


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
    coarse = [_is_coarse(own, seen) for own, seen in zip(ladders, signals, strict=True)]
    lost = [_lost(own, seen) if able else [] for own, seen, able in zip(ladders, signals, coarse, strict=True)]
    # what one ink alone lacks is its head's doing, however it falls among the pixels
    everywhere = all(any(gone.any() for gone in one) for one in lost)
    return [
        tuple(_unread(signal, gone) for signal, gone in zip(seen, one, strict=True))
        if everywhere
        else _corrected(own, seen, max(2, turn))
        if able
        else seen
        for own, seen, able, one, turn in zip(ladders, signals, coarse, lost, passes, strict=True)
    ]


def _is_coarse(ladders: tuple[Ladder, ...], signals: tuple[LadderSignal, ...]) -> bool:
    """True where lines are narrow for the picture's pixels, and keep to their places among them."""
    return all(
        signal.row_px is not None
        and signal.crossed_px < _STRAIGHT_PX
        and signal.width_mm < _COARSE * _pixel_mm(ladder, signal.row_px)
        for ladder, signal in zip(ladders, signals, strict=True)
    )


def _pixel_mm(ladder: Ladder, row_px: NDArray[np.float64]) -> float:
    return (len(row_px) - 1) * ladder.pitch_mm / max(abs(float(row_px[-1] - row_px[0])), 1e-9)


def _lost(ladders: tuple[Ladder, ...], signals: tuple[LadderSignal, ...]) -> list[NDArray[np.bool_]]:
    """Dashes of each printing that fall where this picture shows no whole line, though it does elsewhere, (rows,)."""
    strength = [
        signal.amplitude / sound_level(ladder, signal) for ladder, signal in zip(ladders, signals, strict=True)
    ]
    usual, _ = _near(strength, [signal.row_px for signal in signals], _PERIOD_PX / 2)
    known = usual[np.isfinite(usual)]
    told = known.size and (known > _SOUND).mean() >= _SOUND_SHARE
    gone = usual < _GONE if told else np.zeros(len(usual), bool)
    return np.split(gone, np.cumsum([len(one) for one in strength])[:-1])


def _unread(signal: LadderSignal, gone: NDArray[np.bool_]) -> LadderSignal:
    return replace(
        signal,
        amplitude=np.where(gone, np.nan, signal.amplitude),
        parts=np.where(gone[:, None], np.nan, signal.parts),
        readable=signal.readable & ~gone,
    )


def _corrected(ladders: tuple[Ladder, ...], signals: tuple[LadderSignal, ...], turn: int) -> tuple[LadderSignal, ...]:
    """Strengths and places against those of dashes that fall alike among the pixels, where these tell."""
    pairs = list(zip(ladders, signals, strict=True))
    strength = [signal.amplitude / sound_level(ladder, signal) for ladder, signal in pairs]
    sound = [signal.readable & (one > 0.5) for signal, one in zip(signals, strength, strict=True)]
    if sum(int(one.sum()) for one in sound) < SOUND_NEEDED:
        return signals
    places = [signal.row_px for signal in signals]
    most = _MOST_PX * max(_pixel_mm(ladder, signal.row_px) for ladder, signal in pairs if signal.row_px is not None)
    weaker, _ = _alike(
        [_by_turn(np.where(ok, one, np.nan), turn) for one, ok in zip(strength, sound, strict=True)], places
    )
    moved, apart = _alike(
        [
            _by_turn(_by_turn(np.where(ok, signal.offset_mm, np.nan), len(ladder.columns)), turn)
            for (ladder, signal), ok in zip(pairs, sound, strict=True)
        ],
        places,
        most,
    )
    return tuple(
        replace(
            signal,
            amplitude=signal.amplitude / (1.0 + less),
            sd=signal.sd / (1.0 + less),
            parts=signal.parts / (1.0 + less)[:, None],
            moved=(signal.moved - signal.parts * off[:, None]) / (1.0 + less)[:, None],
            offset_mm=signal.offset_mm - off,
            offset_sd_mm=np.hypot(signal.offset_sd_mm, doubt),
        )
        for signal, less, off, doubt in zip(signals, weaker, moved, apart, strict=True)
    )


def _by_turn(values: NDArray[np.float64], turn: int) -> NDArray[np.float64]:
    """`values` (rows,) less the middle of every `turn`-th: what banks, passes or columns have alike."""
    padded = np.full(-(-len(values) // turn) * turn, np.nan)
    padded[: len(values)] = values
    middles = column_medians(padded.reshape(-1, turn))
    return values - np.resize(middles, len(values))


def _alike(
    values: list[NDArray[np.float64]], places: list[NDArray[np.float64] | None], most: float = np.inf
) -> tuple[list[NDArray[np.float64]], list[NDArray[np.float64]]]:
    """What dashes that fall alike among the pixels have in common of `values`, and how far lines hop there.

    Both by printing, (rows,), and 0 where there is nothing to tell: where most of the scatter is left, which the
    pixels then don't make, or more would be laid to them than `most`.
    """
    usual, apart = _near(values, places, _PERIOD_PX)
    before = np.concatenate(values)
    left = before - usual
    known = np.isfinite(left)
    hops = np.square(apart) - _HOPS * float(middle_of(np.square(apart[known]))) if known.any() else apart
    if (
        known.sum() < SOUND_NEEDED
        or _spread(left[known]) > _TOLD * _spread(before[known])
        or np.abs(usual[known]).max() > most
    ):
        usual = np.zeros(len(before))
    ends = np.cumsum([len(one) for one in values])[:-1]
    return np.split(np.nan_to_num(usual), ends), np.split(np.sqrt(np.maximum(np.nan_to_num(hops), 0.0)), ends)


def _near(
    values: list[NDArray[np.float64]], places: list[NDArray[np.float64] | None], period: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Of the dashes that fall most nearly where each does, to whole periods: their median, and the others' scatter.

    `values` are (rows,) by printing, what is returned is of all of them, one after the other; NaN for those that are
    NaN themselves. Where a line hops from pixel to pixel dashes that fall alike may differ: that is what the scatter,
    a standard deviation that one in seven has no say in, is for: so many rows may well be askew.
    """
    every = np.concatenate(values)
    place = np.concatenate([one for one in places if one is not None]) % period
    known = np.flatnonzero(np.isfinite(every))
    window = 2 * (max(_LEAST_ALIKE, len(known) // _ALIKE) // 2) + 1
    usual, apart = np.full(len(every), np.nan), np.full(len(every), np.nan)
    if len(known) < window:
        return usual, apart
    known = known[np.argsort(place[known], kind="stable")]
    half = window // 2
    around = np.concatenate([known[-half:], known, known[:half]])
    usual[known] = middle_of(np.lib.stride_tricks.sliding_window_view(every[around], window), 1)
    left = np.sort(np.lib.stride_tricks.sliding_window_view(np.abs(every - usual)[around], window), axis=1)
    apart[known] = left[:, round(_ALL_BUT * (window - 1))] / _ALL_BUT_SD
    return usual, apart


def _spread(values: NDArray[np.float64]) -> float:
    return MAD_SD * float(middle_of(np.abs(values - middle_of(values))))
