"""What the sheet of a toner cartridge gives: frozen records, no image."""

from __future__ import annotations

import math
from dataclasses import dataclass

from printcheck.measure.evenness_result import LineQuality

__all__ = [
    "FadeDown",
    "FogReading",
    "PartMatch",
    "RepeatReading",
    "SolidDensity",
    "StreakReading",
    "Tone",
    "TonerBand",
    "TonerReading",
]


@dataclass(frozen=True, slots=True)
class FogReading:
    """Toner on paper that should be bare.

    Attributes
    ----------
    dL : float
        L* of bare paper inside the printed area less that of the sheet's outermost millimetres: below 0 for fog.
        Fog that lies over the margin as well does not show; where it does at two opposite edges, the others tell.
    ci95 : (float, float)
    sides : int
        Edges of the sheet where the two could be compared.
    """

    dL: float  # noqa: N815 the contract's spelling
    ci95: tuple[float, float]
    sides: int


@dataclass(frozen=True, slots=True)
class SolidDensity:
    """One solid: middle on the page in mm, visual density over paper, its standard deviation, and L* over paper."""

    x_mm: float
    y_mm: float
    density: float
    density_sd: float
    lightness: float


@dataclass(frozen=True, slots=True)
class Tone:
    """One even area: what was asked for, and the effective coverage after Murray (1936) and Davies, 0 to 1."""

    kind: str
    nominal: float
    coverage: float


@dataclass(frozen=True, slots=True)
class FadeDown:
    """Change of one tint from the head of the page to its foot in L*, positive where it gets lighter."""

    nominal: float
    lightness: float
    dL: float  # noqa: N815
    ci95: tuple[float, float]


@dataclass(frozen=True, slots=True)
class StreakReading:
    """A line along the feed.

    Attributes
    ----------
    x_mm, width_mm : float
        Middle, and width at half its height.
    dL : float
        Against what lies beside it, on the tint: below 0 for a dark streak.
    ci95 : (float, float)
    snr : float
        Its height over what chance gives.
    top_mm, bottom_mm : float
        Where it is seen.
    on : str
        ``"tint 30 %"``, ``"paper"`` ...
    """

    x_mm: float
    width_mm: float
    dL: float  # noqa: N815
    ci95: tuple[float, float]
    snr: float
    top_mm: float
    bottom_mm: float
    on: str


@dataclass(frozen=True, slots=True)
class PartMatch:
    """A part of the shop's table whose circumference agrees; see `repeats.Component`."""

    name: str
    diameter_mm: float
    tolerance_mm: float
    of: str
    then: str
    what: str


@dataclass(frozen=True, slots=True)
class RepeatReading:
    """A mark that comes back at even distances down the page.

    Attributes
    ----------
    dark : bool
        Toner too much; too little where it is false.
    across : bool
        A line across the page, which has no place of its own along it.
    x_mm : float
    y_mm : tuple of float
        Where it was seen, mm on the ideal page.
    spacing_mm : float
        On the paper, which is the page's own where the print scale isn't known.
    ci95 : (float, float)
        Of the spacing.
    hidden : int
        Places where it should stand and was not seen.
    by_chance : float
        Finds like it expected on a page of as many marks strewn at random.
    parts : tuple of PartMatch
        The nearest first; empty without a table, or where none agrees.
    """

    dark: bool
    across: bool
    x_mm: float
    y_mm: tuple[float, ...]
    spacing_mm: float
    ci95: tuple[float, float]
    hidden: int
    by_chance: float
    parts: tuple[PartMatch, ...]

    @property
    def diameter_mm(self) -> float:
        """Of the part, if its surface runs as fast as the paper: spacing / pi."""
        return self.spacing_mm / math.pi


@dataclass(frozen=True, slots=True)
class TonerBand:
    """A wave of darker and lighter toner down the page.

    Attributes
    ----------
    period_mm : float
        On the paper, which is the page's own where the print scale isn't known.
    period_ci95 : (float, float)
    amplitude_dL : float
        Half of what lies between crest and trough.
    ci95 : (float, float)
        Of the amplitude.
    on : str
        The tint that shows it most surely: ``"tint 30 %"``.
    x_mm : float
        Middle of that tint on the page.
    darkest_mm : tuple of float
        Page y where it is darkest, from its upper end.
    parts : tuple of PartMatch
        Of that circumference, the nearest first; empty without a table, or where none agrees.
    """

    period_mm: float
    period_ci95: tuple[float, float]
    amplitude_dL: float  # noqa: N815
    ci95: tuple[float, float]
    on: str
    x_mm: float
    darkest_mm: tuple[float, ...]
    parts: tuple[PartMatch, ...] = ()

    @property
    def diameter_mm(self) -> float:
        """Of the part, if its surface runs as fast as the paper: period / pi."""
        return self.period_mm / math.pi


@dataclass(frozen=True, slots=True)
class TonerReading:
    """All that a toner sheet gives; none for what could not be measured.

    Attributes
    ----------
    fog : FogReading or None
    solids : tuple of SolidDensity
    density, density_ci95 : float or None, (float, float) or None
        Mean of the solids.
    uneven : float or None
        Largest less smallest density of the solids, over their mean.
    tones : tuple of Tone
    fade : tuple of FadeDown
        An entry a tint.
    streaks : tuple of StreakReading or None
        The strongest first.
    repeats : tuple of RepeatReading or None
    marks : int or None
        Single marks seen on tints and bare columns, those that repeat included.
    hairlines : tuple of LineQuality
    hiding : int
        Single marks of about one size, among which three that repeat would go untold; 0 where none would.
    fog_unsure : float
        L* by which paper is darker than the margin at one side, where the sides disagree and fog is none; else by
        which it is at least, had many sides been seen: few tell little of how far they differ.
    bands : tuple of TonerBand or None
        The strongest first.
    """

    fog: FogReading | None
    solids: tuple[SolidDensity, ...]
    density: float | None
    density_ci95: tuple[float, float] | None
    uneven: float | None
    tones: tuple[Tone, ...]
    fade: tuple[FadeDown, ...]
    streaks: tuple[StreakReading, ...] | None
    repeats: tuple[RepeatReading, ...] | None
    marks: int | None
    hairlines: tuple[LineQuality, ...] = ()
    hiding: int = 0
    fog_unsure: float = 0.0
    bands: tuple[TonerBand, ...] | None = None

    @property
    def lightness(self) -> float | None:
        """Mean L* of the solids over paper."""
        return sum(s.lightness for s in self.solids) / len(self.solids) if self.solids else None

    @property
    def worst_fade(self) -> FadeDown | None:
        """The tint that fades most surely."""
        return max(self.fade, key=lambda f: f.ci95[0], default=None)
