"""All measurements of a toner sheet: density and tones, fade, fog, streaks, and the marks that repeat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.components import Component
from printcheck.measure.crosslines import find_crosslines
from printcheck.measure.fields import SCALE_SD, Field, read_fields
from printcheck.measure.fog import read_fog
from printcheck.measure.light import LUMINANCE, lightness_of
from printcheck.measure.linequality import LineQuality, read_hairline
from printcheck.measure.patches import read_patch
from printcheck.measure.repeats import Repeat, believed, find_repeats, match_component
from printcheck.measure.spots import Spot, find_spots
from printcheck.measure.streaks import find_streaks
from printcheck.measure.toner_bands import makes_lines, paper_beside, read_bands
from printcheck.measure.toner_result import (
    FadeDown,
    PartMatch,
    RepeatReading,
    SolidDensity,
    StreakReading,
    Tone,
    TonerBand,
    TonerReading,
)
from printcheck.pattern.elements import Hairline
from printcheck.register.result import Registration
from printcheck.student import t95
from printcheck.units import MM_PER_INCH

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["LEAST_PX_PER_MM", "measure_toner", "murray_davies", "single_marks"]

LEAST_PX_PER_MM = LIMITS["toner_sampling"].value

_BLOCK_MM = 8.0  # of a tint down the page, for its fade
_CORRELATED = 1.6  # neighbouring blocks share the paper's and the capture's clouds
_STREAK_REACH_MM = 0.6  # half width about a streak, at least, in which a mark is the streak's
_LINE_REACH_MM = 0.5  # the same about a cross line
_PIECE_OF_LINE = LIMITS["mark_on_line"].value
_STREAK_CONTRAST = LIMITS["mark_on_streak"].value
_CROWDED = (
    "{} not measured: {} marks of about one size, texture or specks, among which three that repeat can't be told "
    "from chance"
)
_COMPRESSED = (
    "streaks and repeating marks not measured: the JPEG is so strongly compressed that blocks of it look like marks; "
    "save or send the picture in full quality"
)
_TOO_COARSE = (
    "streaks and repeating marks not measured: they need the tints whole in the picture at "
    f"{MM_PER_INCH * LEAST_PX_PER_MM:.0f} dots/inch; scan at 300"
)
_FOG_UNSURE = (
    "background fog not measured: the sheet's edges disagree about it, as in uneven light, or where fog "
    "reaches the margin at some of them; scan the whole sheet flat"
)
_FOG_UNSEEN = (
    "background fog not measured: the outermost 5 mm of the sheet must lie in the picture on at least two "
    "sides, evenly lit; scan the whole sheet"
)
_SOLID_SD = LIMITS["toner_solid_sd"].value
_TILT_SD = LIMITS["toner_light_sd"].value


def measure_toner(
    pixels: Pixels,
    registration: Registration,
    *,
    components: Sequence[Component] = (),
    print_scale: tuple[float, float] | None = None,
    block_step: float = 0.0,
    photo: bool = False,
) -> tuple[TonerReading, tuple[str, ...]]:
    """Measure everything a toner sheet can give.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
        Grey or BGR.
    registration : Registration
    components : sequence of Component
        The shop's table.
    print_scale : (float, float), optional
        Printed over true size along x and y, where it is known.
    block_step : float
        As of `Capture`.
    photo : bool
        A phone's tone mapping lifts paper beside a dark table.

    Returns
    -------
    TonerReading
    tuple of str
        Why something could not be measured, or how far to trust it.
    """
    warnings: list[str] = []
    solids = _solids(pixels, registration)
    if not solids:
        warnings.append("density not measured: no solid can be seen; show the whole sheet")
    fog, fog_unsure = read_fog(pixels, registration, photo=photo)
    if fog is None:
        warnings.append(_FOG_UNSURE if fog_unsure else _FOG_UNSEEN)
    fields = read_fields(pixels, registration)
    tints = [field for field in fields if field.tone > 0]
    fade = tuple(f for f in (_fade(tint, fields) for tint in tints) if f is not None)
    if not fade:
        warnings.append("fade down the page not measured: no tint lies in the picture whole; scan the whole sheet")
    fine = min(registration.px_per_mm_x, registration.px_per_mm_y) >= LEAST_PX_PER_MM
    if block_step > LIMITS["toner_block_step"].value:
        found = _Marks(None, None, None, 0, (_COMPRESSED,), None)
    elif fine and tints:
        found = _found_marks(fields, components, None if print_scale is None else print_scale[1])
    else:
        found = _Marks(None, None, None, 0, (_TOO_COARSE,), None)
    warnings += found.warnings
    density, ci95, uneven = _density(solids)
    reading = TonerReading(
        fog,
        solids,
        density,
        ci95,
        uneven,
        _tones(pixels, registration, fields, solids),
        fade,
        found.streaks,
        found.repeats,
        found.count,
        _hairlines(pixels, registration),
        found.hiding,
        fog_unsure,
        found.bands,
    )
    return reading, tuple(warnings)


@dataclass(frozen=True, slots=True)
class _Marks:
    """Streaks and marks of a sheet, none where it is too coarse for them; `count` and `hiding` as in the reading."""

    streaks: tuple[StreakReading, ...] | None
    repeats: tuple[RepeatReading, ...] | None
    count: int | None
    hiding: int
    warnings: tuple[str, ...]
    bands: tuple[TonerBand, ...] | None


def _found_marks(fields: Sequence[Field], components: Sequence[Component], scale_y: float | None) -> _Marks:
    """Find streaks, and what repeats down the page; `scale_y` is printed over true height, where it is known."""
    warnings = []
    streaks = _streaks(fields)
    lines = find_crosslines(fields)
    spots = single_marks(fields, streaks, lines)
    scale = 1.0 if scale_y is None else scale_y
    single, hiding = _repeats(spots, fields, components, scale)
    bands = read_bands(fields)
    lined, _ = _repeats(lines, [f for f in fields if f.tone > 0], components, scale, across=True)
    lined = [r for r in lined if not any(makes_lines(band, r.spacing_mm / scale) for band in bands or ())]
    repeats: tuple[RepeatReading, ...] | None = tuple(sorted([*single, *lined], key=lambda r: r.by_chance))
    if hiding:
        repeats = repeats or None
        warnings.append(_CROWDED.format("other repeating marks" if repeats else "repeating marks", hiding))
    if repeats and scale_y is None:
        warnings.append("spacing of marks is that of a sheet printed at 100 %: the print scale is not known")
    if repeats and not components:
        warnings.append("marks repeat, but no table of components says which part it is; give one (--components)")
    if bands is not None:
        bands = tuple(_turned(band, components, scale) for band in bands)
    return _Marks(streaks, repeats, len(spots), hiding, tuple(warnings), bands)


def murray_davies(tint: float, solid: float) -> float:
    """Effective coverage a = (1 - 10^-Dt) / (1 - 10^-Ds) of densities over paper (Murray 1936, Davies)."""
    return float((1.0 - 10.0**-tint) / (1.0 - 10.0**-solid))


def _solids(pixels: Pixels, registration: Registration) -> tuple[SolidDensity, ...]:
    out = []
    for patch in registration.layout.patches_of("solid"):
        seen = read_patch(pixels, registration, patch)
        if seen is None:
            continue
        white = max(float(seen.paper @ LUMINANCE), 1e-6)
        ratio = max(float(seen.light @ LUMINANCE) / white, 1e-4)
        sd = float(np.nan_to_num(seen.light_sd, nan=0.01) @ LUMINANCE) / white
        density = -float(np.log10(ratio))
        out.append(SolidDensity(*patch.box.centre, density, sd / (ratio * np.log(10.0)), float(lightness_of(ratio))))
    return tuple(out)


def _density(solids: Sequence[SolidDensity]) -> tuple[float | None, tuple[float, float] | None, float | None]:
    """Mean visual density, its interval, and how uneven the solids are.

    The scatter between solids holds their own errors too. One solid alone tells of none: it is taken to lie as far
    from the page's mean as those of sound pages do.
    """
    if not solids:
        return None, None, None
    values = np.array([s.density for s in solids])
    mean = float(values.mean())
    own = float(np.sqrt(np.mean([s.density_sd**2 for s in solids])))
    if len(values) > 1:
        sure = max(t95(len(values) - 1) * float(values.std(ddof=1)), 1.96 * own) / len(values) ** 0.5
    else:
        sure = 1.96 * max(own, _SOLID_SD)
    uneven = float(values.max() - values.min()) / mean if len(values) > 1 and mean > 0 else None
    return mean, (mean - sure, mean + sure), uneven


def _blocks_beside(field: Field, fields: Sequence[Field], y: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Light of bare paper at the field's middle, in blocks about `y`."""
    return paper_beside(field, fields, [np.interp(y, *f.down(_BLOCK_MM)) if f.tone == 0 else y for f in fields])


def _fade(tint: Field, fields: Sequence[Field]) -> FadeDown | None:
    y, light = tint.down(_BLOCK_MM)
    paper = _blocks_beside(tint, fields, y)
    if paper is None:
        return None
    lightness = lightness_of(light / np.maximum(paper, 1e-4))
    slope, middle = np.polyfit(y - y.mean(), lightness, 1)
    rest = lightness - middle - slope * (y - y.mean())
    span = tint.box.height
    sd = float(np.sqrt(rest @ rest / (len(y) - 2))) / float(np.sqrt(np.sum((y - y.mean()) ** 2))) * span
    change = float(slope) * span
    sure = 1.96 * float(np.sqrt((_CORRELATED * sd) ** 2 + _TILT_SD**2 + (SCALE_SD * change) ** 2))
    return FadeDown(tint.tone, float(middle), change, (change - sure, change + sure))


def _tones(
    pixels: Pixels, registration: Registration, fields: Sequence[Field], solids: Sequence[SolidDensity]
) -> tuple[Tone, ...]:
    """Effective coverage of tints and wedge."""
    if not solids:
        return ()
    solid = -float(np.log10(np.mean([10.0**-s.density for s in solids])))
    out = []
    for field in fields:
        if field.tone > 0:
            y, light = field.down(_BLOCK_MM)
            paper = _blocks_beside(field, fields, y)
            if paper is not None:
                density = -float(np.log10(max(float(np.mean(light / paper)), 1e-4)))
                out.append(Tone("tint", field.tone, murray_davies(density, solid)))
    for patch in registration.layout.patches_of("wedge"):
        seen = read_patch(pixels, registration, patch)
        if seen is not None:
            ratio = float(seen.light @ LUMINANCE) / max(float(seen.paper @ LUMINANCE), 1e-6)
            out.append(Tone("wedge", patch.tone, murray_davies(-float(np.log10(max(ratio, 1e-4))), solid)))
    return tuple(out)


def _streaks(fields: Sequence[Field]) -> tuple[StreakReading, ...]:
    columns = [f for f in fields if f.tone == 0]
    paper = float(np.mean([np.median(f.light) for f in columns])) if columns else 1.0
    return tuple(find_streaks(fields, paper))


def single_marks(
    fields: Sequence[Field], streaks: Sequence[StreakReading], lines: Sequence[Spot]
) -> tuple[Spot, ...]:
    """Marks of all areas that are no pieces of a streak or of a line across the page."""
    return tuple(
        spot
        for field in fields
        for spot in find_spots(field)
        if not _in_streak(spot, field, streaks) and not _in_line(spot, lines)
    )


def _in_streak(spot: Spot, field: Field, streaks: Sequence[StreakReading]) -> bool:
    """Whether a mark is but the streak's own unevenness: on its line, of its kind, and faint."""
    return any(
        streak.on == field.name
        and abs(spot.mark.x_mm - streak.x_mm) < max(streak.width_mm, _STREAK_REACH_MM)
        and (spot.contrast > 0) == (streak.dL < 0)
        and abs(spot.contrast) < _STREAK_CONTRAST
        for streak in streaks
    )


def _in_line(spot: Spot, lines: Sequence[Spot]) -> bool:
    """Whether a mark is but a piece of a line across the page: at its height, of its kind, and hardly stronger."""
    return any(
        abs(spot.mark.y_mm - line.mark.y_mm) < max(line.mark.diameter_mm, _LINE_REACH_MM)
        and (spot.contrast > 0) == (line.contrast > 0)
        and abs(spot.contrast) < _PIECE_OF_LINE * abs(line.contrast)
        for line in lines
    )


def _repeats(
    spots: Sequence[Spot],
    fields: Sequence[Field],
    components: Sequence[Component],
    scale: float,
    *,
    across: bool = False,
) -> tuple[list[RepeatReading], int]:
    """What repeats among `spots`, and how many alike hide what may repeat besides; see `repeats.believed`."""
    # lines across the page all lie in one place along it: chance has one dimension left
    width = 1.0 if across else sum(field.box.width for field in fields)
    top, bottom = min(f.box.y0 for f in fields), max(f.box.y1 for f in fields)

    def seen(x_mm: float, y_mm: float) -> bool:
        return across or any(field.holds(x_mm, y_mm) for field in fields)

    out: list[RepeatReading] = []
    hiding = 0
    for dark in (True, False):
        marks = [spot.mark for spot in spots if (spot.contrast > 0) == dark]
        repeats = find_repeats(marks, width, top, bottom, seen)
        if not across:  # three lines are never named, however few there are: no crowd need hide them
            repeats, alike = believed(repeats, marks, width, top, bottom)
            hiding = max(hiding, alike)
        out += [_named(found, components, scale, dark=dark, across=across) for found in repeats]
    return out, hiding


def _named(
    found: Repeat, components: Sequence[Component], scale: float, *, dark: bool, across: bool
) -> RepeatReading:
    """What repeats, with the parts of the shop's table that turn so often."""
    sure = found.spacing_sure_mm * scale
    # spacing on the paper, which is what turns on a roller
    real = replace(found, spacing_mm=found.spacing_mm * scale, spacing_sure_mm=sure)
    return RepeatReading(
        dark,
        across,
        found.x_mm,
        found.y_mm,
        real.spacing_mm,
        (real.spacing_mm - sure, real.spacing_mm + sure),
        found.hidden,
        found.by_chance,
        _parts(real, components),
    )


def _turned(band: TonerBand, components: Sequence[Component], scale: float) -> TonerBand:
    """A band as it is on the paper, with the parts that turn once in it."""
    low, high = (scale * end for end in band.period_ci95)
    turn = Repeat(0.0, (), scale * band.period_mm, (high - low) / 2, 0, 0.0)
    return replace(band, period_mm=turn.spacing_mm, period_ci95=(low, high), parts=_parts(turn, components))


def _parts(real: Repeat, components: Sequence[Component]) -> tuple[PartMatch, ...]:
    return tuple(
        PartMatch(c.name, c.diameter_mm, c.within_mm, c.of, c.then, c.what) for c in match_component(real, components)
    )


def _hairlines(pixels: Pixels, registration: Registration) -> tuple[LineQuality, ...]:
    """The widest hairline in each direction."""
    by_way: dict[str, list[Hairline]] = {}
    for line in registration.layout.hairlines:
        by_way.setdefault(line.along, []).append(line)
    widest = (max(lines, key=lambda h: min(h.box.width, h.box.height)) for lines in by_way.values())
    read = (read_hairline(pixels, registration, line) for line in widest)
    return tuple(line for line in read if line is not None)
