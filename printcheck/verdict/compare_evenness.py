"""Fade, air and bands before and after: less or more of each where the two 95 % intervals have nothing in common."""

from __future__ import annotations

from collections.abc import Set
from typing import TypeVar

from printcheck.limits import LIMITS
from printcheck.measure.evenness_result import BandingReading, Evenness, FadeReading
from printcheck.pattern.inks import INKS

__all__ = ["evenness_changes"]

_LEAST_DL = LIMITS["fade_least"].value
_ONE_PERIOD = LIMITS["compare_spacing"].value
_Reading = TypeVar("_Reading", FadeReading, BandingReading)


def evenness_changes(
    before: Evenness | None,
    after: Evenness | None,
    lacking: Set[str] = frozenset(),
    toned: Set[str] = frozenset(),
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What became less, and what more, in words; what can't be told is in neither.

    Only what one of the sheets shows as a fault counts: a fade, a stretch bared by air, or bands that can be seen and
    fit no movement of the printer. Two captures of one even strip differ by what their light and noise do, and
    intervals alone would tell of that; bands that rows make are the rows', which are compared by themselves. So those
    of inks `lacking` rows are not compared: missing rows come back at every advance of the paper, which bands the
    areas at its fractions, and how much of each shows depends on where in the swath an area begins. Nor are fade and
    bands of inks `toned` otherwise in one picture than in the other.
    """
    if before is None or after is None:
        return (), ()
    less: list[str] = []
    more: list[str] = []
    for first, second in _pairs(before.fade, after.fade):
        _air(first, second, less, more)
        if first.ink not in toned:
            _fade(first, second, less, more)
    for wave, now in _pairs(before.banding, after.banding):
        if wave.ink not in lacking | toned:
            _bands(wave, now, less, more)
    return tuple(less), tuple(more)


def _pairs(
    before: tuple[_Reading | None, ...], after: tuple[_Reading | None, ...]
) -> list[tuple[_Reading, _Reading]]:
    """Readings of the same ink, where both sheets could be read."""
    then = {reading.ink: reading for reading in after if reading is not None}
    return [(was, then[was.ink]) for was in before if was is not None and was.ink in then]


def _air(before: FadeReading, after: FadeReading, less: list[str], more: list[str]) -> None:
    if bool(before.blanks_mm) != bool(after.blanks_mm):  # bare paper in a strip is no matter of degree
        (more if after.blanks_mm else less).append(f"air in {INKS[before.ink].word}")


def _fade(before: FadeReading, after: FadeReading, less: list[str], more: list[str]) -> None:
    word = INKS[before.ink].word
    if (before.kind, after.kind) != ("none", "none"):
        # healthy ink drifts over a sheet: what would not be named on one sheet is no change between two
        if after.ci95[1] + _LEAST_DL < before.ci95[0]:
            less.append(f"fade of {word}")
        elif before.ci95[1] + _LEAST_DL < after.ci95[0]:
            more.append(f"fade of {word}")


def _bands(before: BandingReading, after: BandingReading, less: list[str], more: list[str]) -> None:
    word = f"bands in {INKS[before.ink].word}"
    for one, other, where in ((before, after, less), (after, before, more)):
        own = [band for band in one.bands if band.visible and band.cause == "unmatched"]
        if any(_of_period(band.period_mm, other)[1] < band.ci95[0] for band in own):
            where.append(word)


def _of_period(period_mm: float, reading: BandingReading) -> tuple[float, float]:
    """Interval of the amplitude that a reading shows at a period; where it shows none, up to what it would have."""
    near = [band for band in reading.bands if abs(band.period_mm - period_mm) < _ONE_PERIOD * period_mm]
    return max((band.ci95 for band in near), default=(0.0, reading.limit_dL), key=lambda ends: ends[1])
