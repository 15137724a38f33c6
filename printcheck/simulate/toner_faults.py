"""What can be wrong with a toner cartridge: what turns, what wipes, what is left of the toner. All as data."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

__all__ = ["PARTS", "RepeatFault", "Spot", "StreakFault", "TonerState", "random_toner_state"]

PARTS = {"drum": 30.0, "developer roller": 20.0, "charge roller": 12.0, "transfer roller": 16.0, "fuser roller": 24.0}
"""Invented cartridge: diameters in mm on round figures, so that circumferences are pi times them."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One round mark: place and diameter in mm, and how much toner is missing (-1 to 0) or added (0 to 1)."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    toner: float


@dataclass(frozen=True, slots=True)
class RepeatFault:
    """A fault on a turning part: `spots` are what it prints, one hidden where it was drawn so."""

    part: str
    diameter_mm: float
    spots: tuple[Spot, ...]

    @property
    def spacing_mm(self) -> float:
        return math.pi * self.diameter_mm


@dataclass(frozen=True, slots=True)
class StreakFault:
    """A line along the feed: middle and width (2 standard deviations) in mm, toner as of a `Spot`, from y to y."""

    x_mm: float
    width_mm: float
    toner: float
    top_mm: float
    bottom_mm: float


@dataclass(frozen=True, slots=True)
class TonerState:
    """One cartridge.

    Attributes
    ----------
    density : float
        Of toner in a solid, 1 full.
    fade : float
        Share of toner lost from the head of the page to its foot.
    lean : float
        Share by which the right edge gets more toner than the left.
    waves : tuple of (float, float, float)
        Of the toner down the page: period in mm, share of it, and phase at the head of the page in radians.
    fog : float
        Cover of paper that should stay bare.
    fog_margin : float
        Share of the fog that reaches the outermost 5 mm of the sheet too.
    repeats, streaks, specks : tuple
    """

    density: float = 1.0
    fade: float = 0.0
    lean: float = 0.0
    fog: float = 0.0
    fog_margin: float = 0.0
    repeats: tuple[RepeatFault, ...] = ()
    streaks: tuple[StreakFault, ...] = ()
    specks: tuple[Spot, ...] = ()
    waves: tuple[tuple[float, float, float], ...] = ()


def random_toner_state(
    rng: np.random.Generator,
    width_mm: float,
    height_mm: float,
    *,
    part: str | None = None,
    specks: int | None = None,
    streaks: int = 0,
    hide: bool = True,
    tints_mm: tuple[tuple[float, float], ...] = (),
) -> TonerState:
    """Draw a cartridge.

    Parameters
    ----------
    part : str, optional
        Of `PARTS`: a repeating mark of it, with jitter and one place hidden where more than three are on the page.
    specks : int, optional
        Random marks; 0 to 25 by default.
    streaks : int
    hide : bool
    tints_mm : tuple of (float, float)
        Left and right end of the sheet's tints: a mark that lacks toner shows on these alone.
    """
    low, high = 0.26 * width_mm, 0.74 * width_mm  # which the sheet's columns fill
    repeats: tuple[RepeatFault, ...] = ()
    if part is not None:
        repeats = (_repeat(rng, part, (low, high), tints_mm, height_mm, hide),)
    count = int(rng.integers(0, 26)) if specks is None else specks
    strewn = tuple(
        Spot(
            float(rng.uniform(8, width_mm - 8)),
            float(rng.uniform(8, height_mm - 8)),
            float(min(1.2, 0.12 + 0.15 * rng.pareto(2.5))),
            float(rng.uniform(0.3, 0.9) * (1 if rng.random() < 0.7 else -1)),
        )
        for _ in range(count)
    )
    lines = tuple(
        StreakFault(
            float(rng.uniform(low, high)),
            float(rng.uniform(0.3, 1.2)),
            float(rng.choice([-1.0, 1.0]) * rng.uniform(0.06, 0.2)),
            float(rng.uniform(0, 0.2) * height_mm),
            float(rng.uniform(0.8, 1.0) * height_mm),
        )
        for _ in range(streaks)
    )
    return TonerState(
        float(rng.uniform(0.92, 1.05)),
        float(rng.uniform(0.0, 0.02)),
        float(rng.normal(0, 0.02)),
        float(rng.uniform(0.0, 0.004)),
        float(rng.uniform(0.0, 0.5)),
        repeats,
        lines,
        strewn,
    )


def _repeat(
    rng: np.random.Generator,
    part: str,
    across_mm: tuple[float, float],
    tints_mm: tuple[tuple[float, float], ...],
    height_mm: float,
    hide: bool,
) -> RepeatFault:
    diameter = PARTS[part] * float(1 + rng.normal(0, 0.003))
    spacing, top, bottom = math.pi * diameter, 9.5, height_mm - 9.5
    # at least three turns lie on the page
    latest = min(spacing, max(0.0, bottom - top - 2.02 * spacing))
    start = top + float(rng.uniform(0, latest))
    places = np.arange(start, bottom, spacing)
    x = float(rng.uniform(*across_mm))
    size, toner = float(rng.uniform(0.35, 1.2)), float(rng.uniform(0.35, 0.9))
    if rng.random() < 0.4:
        toner = -toner
        if tints_mm:
            a, b = tints_mm[int(rng.integers(0, len(tints_mm)))]
            x = float(rng.uniform(a + 2.0, b - 2.0))
    hidden = int(rng.integers(1, len(places) - 1)) if hide and len(places) > 3 else -1
    spots = tuple(
        Spot(
            x + float(rng.normal(0, 0.1)),
            float(y + rng.normal(0, 0.2)),
            size * float(rng.uniform(0.85, 1.15)),
            toner * float(rng.uniform(0.85, 1.1)),
        )
        for k, y in enumerate(places)
        if k != hidden
    )
    return RepeatFault(part, diameter, spots)
