"""Judging the ladder of one ink: its dashes, its rows over all printings, and how those missing are arranged."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.measure.arrangement import Arrangement, arrange
from printcheck.measure.dashes import Judged, judge_dashes
from printcheck.measure.head_swings import head_swings
from printcheck.measure.ladder import NARROWEST_MM, WIDEST_MM
from printcheck.measure.printings import (
    advance,
    advance_of_places,
    coarsely_off,
    crowds,
    lay_over,
    missing_rows,
    one_way_off,
    rows_off_place,
    rows_weak,
    told_together,
    without_doubtful_gaps,
    without_lone_gaps,
    without_lost_columns,
)
from printcheck.measure.result import DashReading, LinesReading
from printcheck.measure.taken import missing_in_both
from printcheck.robust import middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.measure.ladder import LadderSignal
    from printcheck.pattern.elements import Ladder
    from printcheck.pattern.heads import HeadInk

__all__ = ["judge_lines"]

_SEEN = LIMITS["dash_seen"].value
_ROUNDED_SD = LIMITS["chroma_rounded_sd"].value
_STRAY_SHARE = LIMITS["ink_stray"].value
_READABLE_SHARE = LIMITS["ink_readable"].value


def judge_lines(
    ink: HeadInk,
    ladders: tuple[Ladder, ...],
    signals: tuple[LadderSignal, ...],
    solid_absorptance: float | None,
    *,
    photo: bool = False,
    kept: tuple[float, ...] | None = None,
    blocky: bool = False,
    halved: bool = False,
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
    kept : tuple of float, optional
        What is left of the lines' weight in each printing; see `weight_kept`. All of it by default.
    blocky : bool
        The picture's JPEG holds this ink in steps too coarse for its lines: rows that are weak or off their places
        together only ask for another picture.
    halved : bool
        The ink is seen in a JPEG's halved chroma, or hardly at all. In a scan its lines lie alike among the blocks
        all over the ladder: what they scatter by is rounding, and much of it is as good as `blocky`. In a photo it
        is noise.
    """
    sure = max(_sure_share(signal) for signal in signals)
    absent = _is_absent(signals, sure, solid_absorptance)
    shares = kept or (1.0,) * len(ladders)
    judged = judge_dashes(
        ladders, signals, absent, sure, ink.passes, shares, blocky=blocky, halved=halved and not photo
    )
    if absent:
        return LinesReading(
            ink.ink, ink.rows, _all_dashes(ladders, judged), True, (), (), (), (), (), None, "none", None, 0,
            ("no ink of this colour was laid down at all",),
        )  # fmt: skip
    if photo and not blocky:  # a straight scan's pixels and blocks lie alike in both printings
        judged = missing_in_both(ladders, judged, shares, ink.rows)
    scatter = _usual_sd(judged)
    blocky = blocky or (halved and not photo and scatter > _ROUNDED_SD)
    judged = without_lost_columns(ladders, without_lone_gaps(ladders, judged), ink.rows)
    rows = without_doubtful_gaps(judged, ink.rows)
    found = _judge_rows(ink, ladders, rows, photo=photo, blocky=blocky, rounded=halved and not photo)
    return replace(found, swings=head_swings(signals), rounded=blocky, rounded_sd=scatter if blocky else 0.0)


def _is_absent(signals: tuple[LadderSignal, ...], sure: float, solid_absorptance: float | None) -> bool:
    """Whether the ink was not laid down at all: its solid is bare, and so is all that can be read of its ladders.

    `sure` is the share of dashes that surely stand there.
    """
    bare = solid_absorptance is not None and solid_absorptance < LIMITS["ink_present"].value
    readable = float(np.mean([signal.readable.mean() for signal in signals]))
    # lines as wide as are looked for at all are no lines: their mean can't be told from the paper's light; nor are
    # those as narrow in a picture whose pixels are wider
    shapeless = all(signal.width_mm >= WIDEST_MM or signal.width_mm <= NARROWEST_MM for signal in signals)
    return (sure < _STRAY_SHARE or shapeless) and bare and readable > _READABLE_SHARE


def _judge_rows(
    ink: HeadInk,
    ladders: tuple[Ladder, ...],
    judged: list[Judged],
    *,
    photo: bool,
    blocky: bool,
    rounded: bool,
) -> LinesReading:
    """What the dashes, each `judged` in its printing, say of the head's rows."""
    states = np.stack([j.state for j in judged])
    shift = advance(states, ink.rows) or advance_of_places(judged, ink.rows)
    aligned = lay_over(states, shift or 0, ink.rows, ink.passes)
    every, some = missing_rows(aligned)
    all_missing = every | some
    arrangement = _arranged(every, some, ink, len(ladders[0].columns), _bare_rms(judged))
    losses, offsets = crowds(aligned, judged, shift or 0, photo=photo, rounded=rounded)
    faint, crowd = (np.zeros_like(one.rows) if blocky else one.rows for one in (losses[0], offsets[0]))
    weak = rows_weak(aligned, faint, all_missing)
    displaced, together = rows_off_place(aligned, judged, shift or 0, all_missing | set(weak), crowd)
    return LinesReading(
        ink.ink,
        ink.rows,
        _all_dashes(ladders, told_together(judged, faint, together, shift or 0)),
        False,
        tuple(sorted(every)),
        tuple(sorted(some)),
        weak,
        displaced,
        _unread(judged, states, shift or 0),
        shift,
        arrangement.kind,
        arrangement.stride,
        arrangement.longest_run,
        weak_about=losses[1].count,
        displaced_about=max(offsets[1].count, coarsely_off(judged), one_way_off(judged)),
    )


def _unread(judged: list[Judged], states: NDArray[np.str_], shift: int) -> tuple[int, ...]:
    """Rows that no printing shows, and those of which one shows bare paper where it may have lost a line.

    A nozzle that fails in one printing fails the bench, so that the other printing is no excuse for not knowing. It
    goes by its number in the first, from which the second's are `shift` off.
    """
    unread = (states == "unreadable").all(axis=0)
    for repeat, one in enumerate(judged):
        if one.taken is not None:
            unread |= np.roll(one.taken, -shift if repeat else 0)
    return tuple(np.flatnonzero(unread).tolist())


def _arranged(every: set[int], some: set[int], ink: HeadInk, columns: int, bare_rms: float) -> Arrangement:
    """How the rows missing in `every` printing and in `some` lie in the head.

    A line of the head's wiring that failed is gone from all printings: what only some show at a regular step is
    something on the paper, for the rows of a ladder's column stand at one. So does what a picture loses of a column
    in both printings, which lie alike among a file's blocks: at the step of the columns bare paper must read as bare.
    """
    found = arrange(every | some, ink.rows, ink.passes)
    step = found.stride or 0
    lost = bare_rms > LIMITS["column_bare_rms"].value and step > 0 and (step % columns == 0 or columns % step == 0)
    if step == 0 or (not lost and arrange(every, ink.rows, ink.passes).kind == "stride"):
        return found
    return arrange(every | some, ink.rows, ink.passes, steps=False)


def _bare_rms(judged: list[Judged]) -> float:
    """Root mean square of the strengths that missing dashes read, of all printings; 0 for none."""
    bare = np.concatenate([one.strength[one.state == "missing"] for one in judged])
    return float(np.sqrt(np.mean(bare**2))) if bare.size else 0.0


def _usual_sd(judged: list[Judged]) -> float:
    """Standard deviation to which most dashes' strengths are known; 0 where none is."""
    sd = np.concatenate([one.sd for one in judged])
    known = sd[np.isfinite(sd)]
    return float(middle_of(known)) if known.size else 0.0


def _sure_share(signal: LadderSignal) -> float:
    """Share of the readable dashes that stand out of the noise beyond doubt."""
    seen = signal.amplitude[signal.readable] > _SEEN * signal.sd[signal.readable]
    return float(seen.mean()) if seen.size else 0.0


def _all_dashes(ladders: tuple[Ladder, ...], judged: list[Judged]) -> tuple[DashReading, ...]:
    return tuple(dash for ladder, one in zip(ladders, judged, strict=True) for dash in _dashes(ladder, one))


def _dashes(ladder: Ladder, judged: Judged) -> list[DashReading]:
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
