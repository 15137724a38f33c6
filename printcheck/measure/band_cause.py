"""What a band's period says of its cause: the printer's feed, its passes or strokes, the head's rows, the driver.

A swath is the head's height; bands at a swath, half or two of it, are how the printer moves the paper, lines up its
passes or its strokes. Rows of the head, each a little stronger or weaker, repeat every swath, so what they make lies
on its multiples; a driver's screen repeats with its threshold array.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from printcheck.limits import LIMITS
from printcheck.units import MM_PER_INCH

__all__ = ["cause_of", "is_cell", "is_screen", "on_rows"]

_LONGER, _SHORTER = LIMITS["swath_longer"].value, LIMITS["swath_shorter"].value
_STRONG, _TRIMMED = LIMITS["band_of_rows"].value, LIMITS["swath_strong"].value
_STRETCH = LIMITS["rows_spacing_off"].value
_PAGE = 0.002  # relative: how far the printed page is stretched after registration, at most
_SCREEN_DOTS = int(LIMITS["screen_side"].value)
_SCREEN = LIMITS["screen_off"].value
_MOST_UNSURE = LIMITS["screen_unsure"].value
_SCREEN_SEEN = LIMITS["screen_seen"].value
_LEAST_TURNS = 1.5  # of the array over which a screen's wave repeats: arrays hold little of their lowest frequency
_BETWEEN = 0.3  # of a cycle over an area: how far a peak may be moved by others too near to be resolved
_ROWS_SEEN = LIMITS["screen_rows"].value
_COARSEST = MM_PER_INCH / LIMITS["cell_ruling"].value  # mm
_LEAST_ORDER = 2.5  # of the swath: twice and once in it are causes of their own
_MOST_ORDER = 52  # of the swath: finer ones are closer together than periods are known
_ROWS_WIDTH = 1.5  # cycles down the page about a multiple of the swath's frequency: lines of the rows' comb


def cause_of(
    period: float,
    period_sd: float,
    swaths_mm: Sequence[float],
    rows_mm: float | None,
    *,
    repeats: bool,
    weight: float = 0.0,
) -> str:
    """``"feed"``, ``"passes"``, ``"strokes"``, ``"rows"`` or ``"unmatched"``.

    Parameters
    ----------
    period, period_sd : float
        mm.
    swaths_mm : sequence of float
        Heights of the head's inks.
    rows_mm : float or None
        Spacing of missing rows where they lie evenly.
    repeats : bool
        The wave was seen over several swaths, in which rows repeat.
    weight : float
        Its amplitude over what can be seen. How much a printer trims off a swath isn't known, and of periods drawn at
        random one in seven lies within what may be trimmed: a strong band has to lie on the swath itself.
    """
    unsure = 3.0 * period_sd / period + _PAGE
    strong = unsure + _TRIMMED
    shorter, longer = (_SHORTER, _LONGER) if weight <= _STRONG else (min(_SHORTER, strong), min(_LONGER, strong))
    for swath in dict.fromkeys(swaths_mm):
        for cause, expected in (("feed", swath), ("passes", swath / 2), ("strokes", 2 * swath)):
            if (1 - shorter) * expected < period < (1 + longer) * expected:
                return cause
    for swath in dict.fromkeys(swaths_mm):
        order = swath / period
        if repeats and _LEAST_ORDER < order < _MOST_ORDER and abs(order / round(order) - 1) < unsure:
            return "rows"
    if rows_mm is not None and abs(rows_mm / period / max(1, round(rows_mm / period)) - 1) < unsure + _STRETCH:
        return "rows"
    return "unmatched"


def on_rows(frequency: float, swaths_mm: Sequence[float], length_mm: float) -> bool:
    """True where rows of the head may make a wave of `frequency`, cycles/mm, in an area of `length_mm`."""
    turns = [swath * frequency for swath in swaths_mm]
    return any(
        turn > 0.5 and abs(turn - round(turn)) < _ROWS_WIDTH * swath / length_mm
        for turn, swath in zip(turns, swaths_mm, strict=True)
    )


def is_screen(
    frequency: float, frequency_sd: float, weight: float, dot_mm: float, height_mm: float, step_mm: float
) -> bool:
    """True where a driver's screen may make a wave in a mid-tone: its threshold array repeats down the page.

    Arrays have sides of powers of two, rarely over 128 dots (Bayer 1973; Ulichney 1993 for blue noise), so what one
    does lies on the multiples of one frequency; the lowest of the largest is left out, for arrays are made to have
    little of it. Rows beside it move its peak by part of what the mid-tone's height resolves. A multiple finer than
    two samples of `step_mm` is folded about the sampling frequency, and seen at the difference of the two; where the
    step is infinite none is looked for. Screens are made not to be seen, so what is plainly seen, by its `weight`
    over what can be, is no screen's unless folded.
    """
    repeat = _SCREEN_DOTS * dot_mm
    turns = frequency * repeat
    moved = _BETWEEN * min(1.0, _ROWS_SEEN / max(weight, 1e-9))  # a strong wave's peak hardly
    unsure = 3.0 * frequency_sd * repeat + _SCREEN * turns + moved * repeat / height_mm
    own = abs(turns - round(turns)) if weight < _SCREEN_SEEN else math.inf
    beside = repeat / step_mm - turns
    off = own if math.isinf(step_mm) else min(own, abs(beside - round(beside)))
    return turns > _LEAST_TURNS and off < min(unsure, _MOST_UNSURE)


def is_cell(frequency: float, frequency_sd: float, weight: float, dot_mm: float, height_mm: float) -> bool:
    """True where a clustered screen's cells may make a wave in a mid-tone, however strong: each is some dots tall.

    Dots that grow from the middle of square cells, upright or turned by 45 degrees, lie in lines a whole number of
    dots apart, with bare paper between: no wave of a mid-tone can be stronger. They are no coarser than the rulings
    that are printed. What else is as fine and as regular comes from rows of the head, which the ladders tell.
    """
    dots = 1.0 / (frequency * dot_mm)
    moved = _BETWEEN * min(1.0, _ROWS_SEEN / max(weight, 1e-9))
    unsure = dots * (3.0 * frequency_sd / frequency + _SCREEN + moved / (frequency * height_mm))
    whole = abs(dots - round(dots)) < min(unsure, _MOST_UNSURE)
    return whole and round(dots) * dot_mm < _COARSEST * (1.0 + _SCREEN)
