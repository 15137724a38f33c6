"""Foreign ink before and after: less or more of it where the two 95 % intervals have nothing in common.

Where one scanner saw both sheets, each is held against the other's colours as well: what published colours leave in
doubt both have in common.
"""

from __future__ import annotations

from collections.abc import Sequence

from printcheck.limits import LIMITS
from printcheck.measure.result import ContaminationReading, ForeignInk

__all__ = ["Mutual", "foreign_changes", "foreign_now", "largest_share"]

Mutual = tuple[Sequence[ContaminationReading], Sequence[ContaminationReading]]
"""Foreign ink of the first sheet by the second's colours, and of the second by the first's."""

_LEAST = LIMITS["pair_foreign"].value


def foreign_changes(
    before: Sequence[ContaminationReading],
    after: Sequence[ContaminationReading],
    mutual: Mutual | None = None,
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
    if mutual is not None:
        had, has = ({reading.ink for reading in of_one if _is_sure(reading)} for of_one in mutual)
        less += sorted(had - has - {*less, *more})
        more += sorted(has - had - {*less, *more})
    return tuple(less), tuple(more)


def foreign_now(mutual: Mutual | None) -> tuple[tuple[str, ForeignInk], ...]:
    """Inks of the second sheet that hold another which the first did not show, and how much of it."""
    if mutual is None:
        return ()
    had = {reading.ink for reading in mutual[0] if _is_sure(reading)}
    now = ((one.ink, largest_share(one)) for one in mutual[1] if one.ink not in had and _is_sure(one))
    return tuple((ink, found) for ink, found in now if found is not None)


def _is_sure(reading: ContaminationReading) -> bool:
    found = largest_share(reading)
    return found is not None and found.ci95[0] > _LEAST


def largest_share(reading: ContaminationReading | None) -> ForeignInk | None:
    """The foreign ink there is most of; none where there is none or it could not be measured."""
    return reading.foreign[0] if reading is not None and reading.foreign else None


def _interval(reading: ContaminationReading) -> tuple[float, float]:
    """Of the largest share; from nothing to what could have hidden, where none was found."""
    found = largest_share(reading)
    if found is None:
        return 0.0, reading.could_hide or 0.0
    return found.ci95
