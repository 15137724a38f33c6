"""What the measurements of bands, fade, dirt and hairlines give: frozen records, no image."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "DENSITY_PER_DL",
    "Band",
    "BandingReading",
    "Dirt",
    "Evenness",
    "FadeReading",
    "LineQuality",
    "Smear",
    "Speck",
    "Spray",
    "StrokeOffset",
]

_Z95 = 1.959963984540054  # 97.5 % point of the normal distribution

DENSITY_PER_DL = 3.0 / (90.0 + 16.0) * 0.434 / 0.5
"""Share of a pale yellow's density in blue that a doubt of one L* about the light on it leaves in doubt.

d ln Y = 3 dL* / (L* + 16), at L* 90; as density, over the 0.5 that it still has in blue.
"""


@dataclass(frozen=True, slots=True)
class Speck:
    """One speck: where its middle lies on the page, and its equivalent diameter.

    It stands for those of its size (`stands_for`, from 1 up) that an area's edge cuts: no specks for certain.
    """

    x_mm: float
    y_mm: float
    diameter_mm: float
    contrast: float
    stands_for: float = 1.0


@dataclass(frozen=True, slots=True)
class Smear:
    """A mark wider than a speck, dark or faint: where it lies on the page, its area, and its mean contrast."""

    x0_mm: float
    y0_mm: float
    x1_mm: float
    y1_mm: float
    area_mm2: float
    contrast: float


@dataclass(frozen=True, slots=True)
class Dirt:
    """What lies on the bare paper.

    Attributes
    ----------
    specks : tuple of Speck
        Of 0.1 mm and more, the largest first.
    area_dm2 : float
        Bare paper looked at.
    smears : tuple of Smear
        Of 2 mm2 and more, the largest first.
    """

    specks: tuple[Speck, ...]
    area_dm2: float
    smears: tuple[Smear, ...] = ()

    @property
    def per_dm2(self) -> float:
        """Number of specks per square decimetre, those that the areas' edges cut among them."""
        return self.at_least(0.0)

    def at_least(self, diameter_mm: float) -> float:
        """Number of specks of this size and more per square decimetre."""
        return sum(speck.stands_for for speck in self.specks if speck.diameter_mm >= diameter_mm) / self.area_dm2

    @property
    def per_dm2_ci95(self) -> tuple[float, float]:
        """Interval of the number per square decimetre that so many specks on the paper looked at speak for.

        Specks fall where they will, so that their number is a Poisson one; the score interval keeps what it says of
        few as well (L. Barker, Am. Stat. 56, 2002).
        """
        count = self.per_dm2 * self.area_dm2
        middle, half = count + _Z95**2 / 2, _Z95 * (count + _Z95**2 / 4) ** 0.5
        return max(0.0, middle - half) / self.area_dm2, (middle + half) / self.area_dm2

    @property
    def largest_mm(self) -> float:
        """Diameter of the largest, 0 where there is none."""
        return self.specks[0].diameter_mm if self.specks else 0.0


@dataclass(frozen=True, slots=True)
class Band:
    """One periodic component and its harmonics.

    Attributes
    ----------
    area : str
        Where it shows most: ``"strip"``, ``"tint"`` or ``"solid"``.
    period_mm, period_sd_mm : float
    amplitude_dL : float
        Of the fundamental: half of crest to trough, media-relative L* on a strip.
    ci95 : (float, float)
    harmonics : tuple of (int, float)
        Order and amplitude of each.
    weight : float
        Amplitude over the visible amplitude at its frequency, the largest of fundamental and harmonics, less what
        noise may have added (95 %): visible from 1.
    cause : str
        ``"feed"`` (one swath), ``"passes"`` (half a swath), ``"strokes"`` (two swaths: forward and backward strokes
        differ), all of them the printer's; ``"head"`` (one swath or half of it, where the head's own lines get weaker
        and stronger with it); ``"rows"`` (a whole fraction of the swath: rows of the head, which the
        ladders measure one by one; or what shows in an area of less than two swaths alone, where rows look the same);
        or ``"unmatched"``.
    false_alarm : float
    told : bool
        It is told from rows of the head: by an area of two swaths and more, where rows would repeat, and which shows
        it at least faintly; in a mid-tone also by a period that rows don't have. What is not is never called visible.
    """

    area: str
    period_mm: float
    period_sd_mm: float
    amplitude_dL: float  # noqa: N815 the contract's spelling
    ci95: tuple[float, float]
    harmonics: tuple[tuple[int, float], ...]
    weight: float
    cause: str
    false_alarm: float
    told: bool = True

    @property
    def visible(self) -> bool:
        return self.told and self.weight >= 1.0


@dataclass(frozen=True, slots=True)
class BandingReading:
    """Bands of one ink, the most visible first.

    Attributes
    ----------
    ink : str
    bands : tuple of Band
    limit_dL : float
        Amplitude from which a band at half to one cycle/mm would have been found.
    scanner_dL : float
        Largest amplitude of the scanner's own bands on bare paper that were told from the ink's; 0 for none.
    streak_dL : float
        The most a line half a millimetre wide departs from its surroundings once bands are off: what is not periodic.
    limits_dL : tuple of (str, float)
        `limit_dL` of each area that was searched.
    """

    ink: str
    bands: tuple[Band, ...]
    limit_dL: float  # noqa: N815
    scanner_dL: float  # noqa: N815
    streak_dL: float  # noqa: N815
    limits_dL: tuple[tuple[str, float], ...] = ()  # noqa: N815

    @property
    def amplitude_dL(self) -> float:  # noqa: N802
        """Of the most visible band, 0 where none was found."""
        return self.bands[0].amplitude_dL if self.bands else 0.0

    @property
    def period_mm(self) -> float | None:
        return self.bands[0].period_mm if self.bands else None

    @property
    def visible(self) -> bool:
        return bool(self.bands) and self.bands[0].visible

    @property
    def ci95(self) -> tuple[float, float]:
        """Of the amplitude; from 0 to what would have been found where nothing was."""
        return self.bands[0].ci95 if self.bands else (0.0, self.limit_dL)


@dataclass(frozen=True, slots=True)
class FadeReading:
    """How one ink's strip changes down the page.

    Attributes
    ----------
    ink : str
    kind : str
        ``"none"``, ``"fade"``, ``"starvation"`` or ``"air"``.
    dL_first_to_last : float
        Change of media-relative L* from the strip's first to its last block, positive where it gets lighter. Blanks
        left by air are left out.
    ci95 : (float, float)
    density_ratio : float or None
        Optical density at the end over that at the start, in the channel the ink absorbs most: 1 for an even strip.
        Says more than L* of yellow. None where the picture shows that channel as black, at either end.
    worst_dL : float
        The most the strip is lighter than at its start.
    start_mm, end_mm : float or None
        Where on the page the loss begins and where it ends or the ink is back.
    blanks_mm : tuple of (float, float)
        Bare stretches, page y.
    most_lost : (float, float) or None
        Of yellow, the largest share of its density that is gone anywhere down the strip, and its standard deviation;
        of its lightness over paper where the picture shows its channel as black. None for other inks.
    depth_dL : float or None
        How much darker than the paper the strip is at its start, L*.
    dip_mm : (float, float) or None
        Of starvation, about air as well, page y from where the strip is lighter to where the ink is wholly back; none
        where that is half of the strip and more.
    """

    ink: str
    kind: str
    dL_first_to_last: float  # noqa: N815 the contract's spelling
    ci95: tuple[float, float]
    density_ratio: float | None
    worst_dL: float  # noqa: N815
    start_mm: float | None
    end_mm: float | None
    blanks_mm: tuple[tuple[float, float], ...]
    most_lost: tuple[float, float] | None = None
    depth_dL: float | None = None  # noqa: N815
    dip_mm: tuple[float, float] | None = None

    @property
    def odd_mm(self) -> tuple[tuple[float, float], ...]:
        """Stretches that are as they are by what this tells, page y: no wave begins or ends there."""
        return self.blanks_mm if self.dip_mm is None else (*self.blanks_mm, self.dip_mm)


@dataclass(frozen=True, slots=True)
class StrokeOffset:
    """How far backward strokes land from forward ones along the stroke, as vertical lines of one ink show it.

    Attributes
    ----------
    offset_mm : float
        Without a sign: which swaths were printed which way can't be seen. 0 where no step was found.
    ci95 : (float, float)
        From 0 to what would have been found, where nothing was.
    advance_mm : float or None
        Feed from swath to swath; none where no step was found.
    """

    offset_mm: float
    ci95: tuple[float, float]
    advance_mm: float | None


@dataclass(frozen=True, slots=True)
class Spray:
    """Ink that lies beside a strip's edges: satellites and mist, as a share of the strip's own absorption.

    Attributes
    ----------
    ink : str
    left, right : float
        Mean over 0.16 to 0.28 mm from each edge, less what the capture's blur puts there.
    limit : float
        What a clean edge may show: light that travels in the paper, and what is left of the blur.
    """

    ink: str
    left: float
    right: float
    limit: float

    @property
    def seen(self) -> bool:
        return max(self.left, self.right) > self.limit


@dataclass(frozen=True, slots=True)
class LineQuality:
    """One hairline, all in mm.

    Attributes
    ----------
    inks : tuple of str
    along : str
        ``"x"`` or ``"y"``: which way it runs.
    drawn_mm : float
        Width as drawn.
    width_mm, raggedness_mm : float
    blurriness_mm : float or None
        None where too few edges reach 90 %.
    broken : float
        Share of its length that holds no line.
    """

    inks: tuple[str, ...]
    along: str
    drawn_mm: float
    width_mm: float
    raggedness_mm: float
    blurriness_mm: float | None
    broken: float


@dataclass(frozen=True, slots=True)
class Evenness:
    """What is uneven about one sheet; an entry an ink, none where it can't be told, with the reason in `warnings`.

    Attributes
    ----------
    banding : tuple of BandingReading or None
    fade : tuple of FadeReading or None
    dirt : Dirt or None
    hairlines : tuple of LineQuality
        The widest of each ink in each direction; none below about 600 dots/inch.
    strokes : tuple of StrokeOffset or None
        An entry an ink.
    spray : tuple of Spray or None
        An entry an ink; none where the picture is too soft.
    blocks : float
        Share of the bare paper's light in one step of a JPEG's blocks.
    warnings : tuple of str
    """

    banding: tuple[BandingReading | None, ...]
    fade: tuple[FadeReading | None, ...]
    dirt: Dirt | None
    hairlines: tuple[LineQuality, ...]
    warnings: tuple[str, ...]
    strokes: tuple[StrokeOffset | None, ...] = ()
    spray: tuple[Spray | None, ...] = ()
    blocks: float = 0.0
