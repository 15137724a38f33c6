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
    """Reasons of all inks; each share is judged by the lower end of its 95 % interval, so doubt never condemns."""
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
    sure = 100.0 * foreign.ci95[0]
    what = f"{word} holds {100 * foreign.fraction:.0f} % {other} ink (at least {sure:.0f} %)"
    if reading.trend == "clearing" and foreign is (reading.foreign or ())[0]:
        if reading.clears_after_mm == 0.0:
            return []  # the sheet itself has purged it
        left = max(0.0, 100.0 * (foreign.last - (foreign.fraction - foreign.ci95[0])))
        held, rest = 100 * foreign.fraction, 100 * foreign.last
        text = f"{word} held {held:.0f} % {other} ink and is clearing: {rest:.0f} % left"
        return decide("foreign_ink", reading.ink, left, policy, text)
    if reading.trend == "steady":
        found = decide("mixed_chamber", reading.ink, sure, policy, f"{what}, and it does not clear")
        if found:
            return found
    growing = ", and it is growing: the chambers leak into each other" if reading.trend == "growing" else ""
    return decide("foreign_ink", reading.ink, sure, policy, what + growing)


def purge_pages(readings: Iterable[ContaminationReading]) -> int | None:
    """Pages of solid to print until every clearing ink is clear; none where none is."""
    lengths = [r.clears_after_mm for r in readings if r.trend == "clearing" and r.clears_after_mm]
    return max(1, ceil(max(lengths) / _PAGE_MM)) if lengths else None
