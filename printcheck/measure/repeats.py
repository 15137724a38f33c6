"""Marks that come back at even distances down the page: which roller or drum carries the fault.

A fault on a turning part prints once a turn, at the same place across the page. Every pair of marks one above the
other proposes a spacing (and half of it, should the mark between be hidden); a spacing is kept where marks stand at
nearly all the places it foretells, and where so many hits by chance are improbable for as many proposals as were
tried: the expected number of such chance finds on the page is stated and limited. What is kept is fitted by least
squares.

The spacing is the circumference of the part, the diameter is spacing / pi (`components`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.components import Component
from printcheck.student import t95

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "Component",
    "PageMark",
    "Repeat",
    "believed",
    "find_repeats",
    "match_component",
]

_ACROSS_MM = 0.6  # half width of the window across the page: paper skew and jitter
_ALONG_MM = 0.9  # and along it, beyond the proposal's own uncertainty: jitter of the feed
_STRETCH = 0.004  # of the way from the first mark, by which the window grows: what a proposal's spacing may be off
_AROUND_MM = 1.2  # half width of what is looked at for how crowded the page is there
_CROWD = int(LIMITS["repeat_crowd"].value)
_LEAST_SPACING_MM = LIMITS["repeat_least"].value
_LEAST_MARKS = int(LIMITS["repeat_marks"].value)
_MOST_HIDDEN = LIMITS["repeat_hidden"].value
_SIZES = LIMITS["repeat_sizes"].value
_LEAST_SIZE_MM = 0.19  # half the width of the finest Gaussian that finds marks: smaller ones can't be told apart
_LEAST_SPREAD_MM = 0.1  # of marks about the line they repeat on: the feed and the finest mark leave no less
_SCATTER_MM = LIMITS["repeat_scatter"].value
_KNOWN_AS_OF = 3  # marks more that this scatter stands for: as many as a drum prints on a page
_TURN_SD = LIMITS["toner_band_turn_sd"].value
_WITHIN = 2.5  # standard deviations that the marks' own scatter gives the window of the chance test
_CHANCE = LIMITS["repeat_by_chance"].value
_MOST_MARKS = 400  # the largest count; more is no sheet to look for repeats on


@dataclass(frozen=True, slots=True)
class PageMark:
    """A mark on the page: place in mm, diameter in mm, and whether it runs on beyond what was searched."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    cut: bool = False


@dataclass(frozen=True, slots=True)
class Repeat:
    """A mark that comes back.

    Attributes
    ----------
    x_mm : float
    y_mm : tuple of float
        Where it was seen, from the top.
    spacing_mm : float
    spacing_sure_mm : float
        Half of its 95 % interval.
    hidden : int
        Places between and around where it should stand and does not.
    by_chance : float
        Number of finds like it expected on a page of as many marks of such a size strewn at random.
    """

    x_mm: float
    y_mm: tuple[float, ...]
    spacing_mm: float
    spacing_sure_mm: float
    hidden: int
    by_chance: float

    @property
    def diameter_mm(self) -> float:
        """Of the part that carries the fault, if its surface runs as fast as the paper."""
        return self.spacing_mm / math.pi


def find_repeats(
    marks: Sequence[PageMark],
    width_mm: float,
    top_mm: float,
    bottom_mm: float,
    seen: Callable[[float, float], bool] | None = None,
) -> tuple[Repeat, ...]:
    """Find the marks that repeat.

    Parameters
    ----------
    marks : sequence of PageMark
    width_mm : float
        Of the part of the page that was searched.
    top_mm, bottom_mm : float
        Page y between which marks were searched for.
    seen : callable, optional
        Whether a mark at (x, y) would have been seen; by default anywhere between top and bottom.

    Returns
    -------
    tuple of Repeat
        The surest first; no mark is part of two.
    """
    marks = sorted(marks, key=lambda m: -m.diameter_mm)[:_MOST_MARKS]
    x = np.array([m.x_mm for m in marks])
    y = np.array([m.y_mm for m in marks])
    like = _alike(marks)
    free = np.ones(len(marks), bool)
    visible = seen or (lambda _x, y: top_mm <= y <= bottom_mm)
    height = bottom_mm - top_mm
    found: list[Repeat] = []
    while free.sum() >= _LEAST_MARKS:
        proposals = _proposals(x, y, like, free, height / (_LEAST_MARKS - 1))
        best: tuple[Repeat, NDArray[np.int64]] | None = None
        for first, spacing in proposals:
            # chance has only the marks that could be of the same fault, by their size
            count = float((free & like[first]).sum())
            density = count / (width_mm * height)
            expected = _proposed_by_chance(count, width_mm)
            tried = _tried(first, spacing, x, y, like, free, (top_mm, bottom_mm), visible, density, expected)
            if tried is not None and (best is None or tried[0].by_chance < best[0].by_chance):
                best = tried
        if best is None or best[0].by_chance > _CHANCE:
            break
        found.append(best[0])
        free[best[1]] = False
    return tuple(found)


def believed(
    found: Sequence[Repeat], marks: Sequence[PageMark], width_mm: float, top_mm: float, bottom_mm: float
) -> tuple[tuple[Repeat, ...], int]:
    """Tell what a search can be believed where marks are many.

    Among very many marks some line up. Where three more of a size, at exactly even distances, would be expected by
    chance more often than a find may be, a real fault of that size goes unnamed; and so many marks are seldom strewn
    at random, as the search takes them to be, but are a screen's or a picture's texture, which comes back evenly.
    That many of one size are met well before the largest counts of this module and of `spots`, so that neither can
    cut a search short unsaid.

    Parameters
    ----------
    found : sequence of Repeat
        What `find_repeats` found among `marks`, with the same `width_mm`, `top_mm` and `bottom_mm`.

    Returns
    -------
    tuple of Repeat
        Those of marks that are not of such a size.
    int
        Marks of like size among which three would go unnamed, the repeating ones left out; 0 where they would not.
    """
    if not marks:
        return tuple(found), 0
    part = [np.array([m.y_mm in repeat.y_mm for m in marks], bool) for repeat in found]
    rest = ~np.logical_or.reduce(part) if part else np.ones(len(marks), bool)
    whole = np.array([not m.cut for m in marks])  # a cut one is like all, and tells of no size
    crowd = (_alike(marks) & rest).sum(axis=1) * whole
    most = _most_to_tell_three_among(width_mm, bottom_mm - top_mm)
    sure = tuple(repeat for repeat, own in zip(found, part, strict=True) if crowd[own].max(initial=0) <= most)
    hiding = int(crowd[rest].max(initial=0))
    return sure, hiding if hiding > most else 0


def _most_to_tell_three_among(width_mm: float, height_mm: float) -> float:
    """Most marks alike beside which three that repeat to the search's own precision are no find by chance.

    The expected number of such finds among n marks is that of `_tried`: proposals, as n^2, times the chance that the
    third place is met as closely, as n.
    """
    # three marks stand a third to a half of the height apart; the window is the narrowest at a third
    reach = _ALONG_MM + _STRETCH * height_mm / 3
    one = _proposed_by_chance(1.0, width_mm)
    one *= 2 * _ACROSS_MM * 2 * reach * _closely(_LEAST_SPREAD_MM, _LEAST_SPREAD_MM, reach) / (width_mm * height_mm)
    return float((_CHANCE / one) ** (1 / 3)) - _LEAST_MARKS


def _proposed_by_chance(count: float, width_mm: float) -> float:
    """How often `count` marks strewn at random propose: pairs one above the other, each at most twice."""
    return count**2 * min(1.0, 2 * _ACROSS_MM / width_mm)


def _closely(spread_mm: float, aside_mm: float, reach_mm: float) -> float:
    """Chance that a mark met within the window lies as near to its place as those that repeat do."""
    return min(1.0, _WITHIN * spread_mm / reach_mm) * min(1.0, _WITHIN * aside_mm / _ACROSS_MM)


def _alike(marks: Sequence[PageMark]) -> NDArray[np.bool_]:
    """Which marks may be of one fault, by their size."""
    sizes = np.maximum([m.diameter_mm for m in marks], _LEAST_SIZE_MM)
    cut = np.array([m.cut for m in marks], bool)
    # part of a mark may be of any size
    like = (sizes[:, None] < _SIZES * sizes) & (sizes < _SIZES * sizes[:, None]) | cut[:, None] | cut
    return np.asarray(like, bool)


def _proposals(
    x: NDArray[np.float64], y: NDArray[np.float64], like: NDArray[np.bool_], free: NDArray[np.bool_], most_mm: float
) -> list[tuple[int, float]]:
    """(mark, spacing) of every pair one above the other that may be of one fault, and half the spacing."""
    out = []
    for i in np.flatnonzero(free):
        below = free & like[i] & (np.abs(x - x[i]) < _ACROSS_MM) & (y > y[i] + _LEAST_SPACING_MM)
        for j in np.flatnonzero(below):
            gap = float(y[j] - y[i])
            out += [(int(i), g) for g in (gap, gap / 2) if _LEAST_SPACING_MM <= g <= most_mm]
    return out


@dataclass(frozen=True, slots=True)
class _Trail:
    """A proposal followed up and down the page.

    Attributes
    ----------
    members, orders : list of int
        Marks that were met, and at which multiple of the spacing from the first.
    places : int
        Places on the page where one should stand and would be seen.
    window_mm : float
        Height of all windows but the first one's, in which marks were sought.
    base_mm, step_mm : float
        Where the first mark lies, and the spacing, as fitted to all that were met.
    """

    members: list[int]
    orders: list[int]
    places: int
    window_mm: float
    base_mm: float
    step_mm: float


def _followed(
    first: int,
    spacing: float,
    near: NDArray[np.int64],
    x_mm: float,
    y: NDArray[np.float64],
    span: tuple[float, float],
    visible: Callable[[float, float], bool],
) -> _Trail:
    """Follow one proposal up and down the page among the marks `near`, correcting the spacing as marks are met."""
    orders, members = [0], [first]
    places, window = 1, 0.0
    base, step = float(y[first]), spacing
    for direction in (1, -1):
        order = direction
        while span[0] <= base + order * step <= span[1]:
            expected = base + order * step
            reach = _ALONG_MM + _STRETCH * abs(order) * step
            off = np.abs(y[near] - expected)
            hit = int(near[np.argmin(off)])
            if off.min() < reach:
                orders.append(order)
                members.append(hit)
                if len(orders) >= _LEAST_MARKS:  # two marks alone carry their jitter into the spacing
                    step, base = (float(v) for v in np.polyfit(orders, y[members], 1))
            # a mark that may as well have landed beyond the edge of what was searched is not missed there
            if off.min() < reach or all(visible(x_mm, expected + end) for end in (-reach, reach)):
                places += 1
                window += 2 * reach
            order += direction
    return _Trail(members, orders, places, window, base, step)


def _tried(
    first: int,
    spacing: float,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    like: NDArray[np.bool_],
    free: NDArray[np.bool_],
    span: tuple[float, float],
    visible: Callable[[float, float], bool],
    density: float,
    expected_proposals: float,
) -> tuple[Repeat, NDArray[np.int64]] | None:
    """Follow one proposal, and reckon how many like it chance would give; none where too few marks are met."""
    beside = free & like[first] & (np.abs(x - x[first]) < _AROUND_MM)
    near = np.flatnonzero(beside & (np.abs(x - x[first]) < _ACROSS_MM))
    trail = _followed(first, spacing, near, float(x[first]), y, span, visible)
    orders, members, places = trail.orders, trail.members, trail.places
    hits, hidden = len(orders), places - len(orders)
    if hits < _LEAST_MARKS or hidden > max(1, int(_MOST_HIDDEN * places)):
        return None
    # a dirty stripe down the page holds more marks than the rest of it, and more of them line up
    beside[members] = False
    crowd = int(beside.sum())
    if crowd >= _CROWD:
        density = max(density, crowd / (2 * _AROUND_MM * (span[1] - span[0])))
        expected_proposals = max(expected_proposals, float(crowd) ** 2 * _ACROSS_MM / _AROUND_MM)
    rest = y[members] - trail.base_mm - trail.step_mm * np.array(orders)
    spread = max(math.sqrt(float(rest @ rest) / (hits - 2)), _LEAST_SPREAD_MM)  # three marks can fit by luck
    aside = max(float(np.std(x[members], ddof=1)), _LEAST_SPREAD_MM)
    # chance that the places beyond the pair that proposed it are met as often and as closely: a binomial tail
    others = max(places - 2, 1)
    closely = _closely(spread, aside, trail.window_mm / (2 * (places - 1)))
    if crowd > hits:  # the fit follows whichever marks lie nearest, so that how closely they lie tells nothing
        closely = 1.0
    each = min(1.0, density * 2 * _ACROSS_MM * trail.window_mm / (places - 1) * closely)
    tail = sum(math.comb(others, k) * each**k * (1 - each) ** (others - k) for k in range(hits - 2, others + 1))
    sure = _spacing_sure(np.array(orders, float), rest, trail.step_mm)
    seen_at = tuple(sorted(float(v) for v in y[members]))
    repeat = Repeat(float(np.mean(x[members])), seen_at, trail.step_mm, sure, hidden, expected_proposals * tail)
    return repeat, np.array(members)


def _spacing_sure(orders: NDArray[np.float64], rest_mm: NDArray[np.float64], spacing_mm: float) -> float:
    """Half of the 95 % interval of a spacing fitted to marks at `orders` that lie `rest_mm` off their places.

    Three marks leave one degree of freedom to tell their scatter by, and Student's factor for it is 12.7: what any
    mark scatters counts as some more of them would. What the feed and the map stretch, all marks of a page share.
    """
    centred = orders - orders.mean()
    freedom = _KNOWN_AS_OF + len(orders) - 2
    spread = math.sqrt((_KNOWN_AS_OF * _SCATTER_MM**2 + float(rest_mm @ rest_mm)) / freedom)
    return math.hypot(t95(freedom) * spread / math.sqrt(float(centred @ centred)), 1.96 * _TURN_SD * spacing_mm)


def match_component(repeat: Repeat, components: Sequence[Component]) -> tuple[Component, ...]:
    """Parts whose spacing agrees with `repeat` within their tolerance and its 95 % interval, the nearest first."""

    def off(part: Component) -> float:
        return abs(repeat.spacing_mm - part.spacing_mm)

    def limit(part: Component) -> float:
        own = math.pi * part.within_mm / part.speed_ratio
        return max(own, repeat.spacing_sure_mm)

    agreeing = (c for c in components if off(c) <= limit(c))
    return tuple(sorted(agreeing, key=lambda c: off(c) / c.spacing_mm))
