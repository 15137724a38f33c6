"""Foreign ink to reasons: what is clearing is printed out, what stays is a mixed chamber."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil

from printcheck.measure.result import ContaminationReading, ForeignInk
from printcheck.pattern.inks import INKS
from printcheck.verdict.policy import Policy
from printcheck.verdict.result import Reason
from printcheck.verdict.rules import decide

__all__ = ["colour_reasons", "purge_pages"]

_PAGE_MM = 250.0  # of solid a purge page gives


def colour_reasons(readings: Iterable[ContaminationReading], policy: Policy) -> list[Reason]:
    """Reasons of all inks.

    A purge page costs little: ink that is certainly there is judged by the best estimate of its share. A reject is
    final: it needs the lower end of the share's 95 % interval beyond the limit.
    """
    out: list[Reason] = []
    for reading in readings:
        word = INKS[reading.ink].word
        if reading.wrong_ink is not None:
            other = INKS[reading.wrong_ink].word
            out += decide("wrong_ink", reading.ink, 1.0, policy, f"the {word} chamber holds {other} ink")
            continue
        for foreign in reading.foreign or ():
            out += _foreign(reading, foreign, policy)
    return out


def _foreign(reading: ContaminationReading, foreign: ForeignInk, policy: Policy) -> list[Reason]:
    word, other = INKS[reading.ink].word, INKS[foreign.ink].word
    sure, best = 100.0 * foreign.ci95[0], 100.0 * foreign.fraction
    what = f"{word} holds {best:.0f} % {other} ink (at least {sure:.0f} %)"
    if reading.trend == "clearing" and foreign is (reading.foreign or ())[0]:
        if reading.clears_after_mm == 0.0:
            return []  # the sheet itself has purged it
        left = 100.0 * foreign.last
        text = f"{word} held {best:.0f} % {other} ink and is clearing: {left:.0f} % left"
        return decide("foreign_ink", reading.ink, left, policy, text)
    if reading.trend == "steady":
        found = decide("mixed_chamber", reading.ink, sure, policy, f"{what}, and it does not clear")
        if found:
            return found
    if sure <= 0.0:
        return []
    growing = ", and it is growing: the chambers leak into each other" if reading.trend == "growing" else ""
    return decide("foreign_ink", reading.ink, best, policy, what + growing)


def purge_pages(readings: Iterable[ContaminationReading]) -> int | None:
    """Pages of solid to print until every clearing ink is clear; none where none is."""
    lengths = [r.clears_after_mm for r in readings if r.trend == "clearing" and r.clears_after_mm]
    return max(1, ceil(max(lengths) / _PAGE_MM)) if lengths else None
