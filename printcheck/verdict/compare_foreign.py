"""Foreign ink before and after: less or more of it where the two 95 % intervals have nothing in common."""

from __future__ import annotations

from collections.abc import Sequence

from printcheck.measure.result import ContaminationReading, ForeignInk

__all__ = ["foreign_changes", "largest_share"]


def foreign_changes(
    before: Sequence[ContaminationReading], after: Sequence[ContaminationReading]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Inks of which less, and inks of which more is foreign than before; those that can't be told are in neither.

    Intervals that do not overlap are a stricter test than one of the difference at the same level.
    """
    less, more = [], []
    then = {reading.ink: reading for reading in after}
    for was in before:
        now = then.get(was.ink)
        if was.foreign is None or now is None or now.foreign is None:
            continue
        low, high = _interval(was)
        new_low, new_high = _interval(now)
        if new_high < low:
            less.append(was.ink)
        elif new_low > high:
            more.append(was.ink)
    return tuple(less), tuple(more)


def largest_share(reading: ContaminationReading | None) -> ForeignInk | None:
    """The foreign ink there is most of; none where there is none or it could not be measured."""
    return reading.foreign[0] if reading is not None and reading.foreign else None


def _interval(reading: ContaminationReading) -> tuple[float, float]:
    """Of the largest share; from nothing to what could have hidden, where none was found."""
    found = largest_share(reading)
    if found is None:
        return 0.0, reading.could_hide or 0.0
    return found.ci95
