"""Foreign ink in each ink of a sheet: which, how much, and whether it is clearing as the page is printed.

How sure a share is depends on what the pure ink is known by. A sheet of a known-good cartridge from the same printer
and capture device (a house reference) shows a few per cent. Without one only the published solids say what an ink
looks like, as this capture shows them by the sheet's other inks (`sound_inks`); real inks differ from them, and only
a larger share can be told, unless all other inks are just as published (`as_published`). A share that changes down
the run-off strip shows on its own, since the strip is its own reference.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.lab import Lab, lab_to_xyz
from printcheck.colour.published import published
from printcheck.limits import LIMITS
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, InkAreas
from printcheck.measure.as_published import inks_as_published
from printcheck.measure.common_light import without_common_light, without_shadow
from printcheck.measure.drift import Drift, read_drift
from printcheck.measure.fading import cover_lost
from printcheck.measure.result import ContaminationReading, ForeignInk
from printcheck.measure.sound_inks import DEEPEST, MAKERS_SD, PUBLISHED_MIXING, Aim, expected_inks
from printcheck.measure.unmix import DARKEST, Mixture, OwnInk, density, model_error, unmix

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "Basis",
    "house_basis",
    "published_basis",
    "read_contamination",
    "solid_density",
]

_LEAST_SHARE, _LEAST_IN_BLACK = LIMITS["foreign_share"].value, LIMITS["foreign_share_black"].value
# standard deviation of a density of a house reference, and relative to it, beyond what any picture stores it to
# (`_FLOOR`): next to none for the same scanner; of another channels overlap and curves differ as those of two
# scanners of the tune split do
_SAME_CAPTURE, _OTHER_CAPTURE = (0.001, 0.0), (0.06, 0.08)
# the same of two captures, beyond what channels that overlap and a tone curve explain: what a matrix leaves of dyes'
# spectra is some hundredths of their density on simulated cameras and scanners of the tune split
_METAMERISM = (0.02, 0.05)
_BLACK_SD = LIMITS["foreign_black_sd"].value
_ILL = LIMITS["foreign_ill"].value
_WRONG_INK, _SURELY_WRONG = LIMITS["foreign_wrong"].value, LIMITS["foreign_surely_wrong"].value
_BY_HUE = LIMITS["foreign_by_hue"].value
_SCALE_SD = LIMITS["foreign_scale_sd"].value
_CHANGE = LIMITS["foreign_change"].value
_CHANGE_SD = LIMITS["foreign_change_sd"].value
_HUE_MARGIN = LIMITS["foreign_hue_margin"].value
_Z95 = 1.96  # standard deviations of a 95 % interval
_Z_PUBLISHED = LIMITS["foreign_sure_published"].value
# relative error of a ratio: JPEG rounds chroma to whole steps, and a flat area's once more, by its quantum. What
# libjpeg does to flat solids and paper at qualities of 78 to 95
_FLOOR = np.array([0.008, 0.007, 0.011])
_NO_INK = LIMITS["foreign_no_ink"].value
_FULL, _FULL_SD = LIMITS["channel_full"].value, LIMITS["channel_full_sd"].value
_LIGHT_SD = LIMITS["foreign_light_sd"].value
_DARK = LIMITS["channel_dark_sd"].value

# how far an ink's own densities may lie from the published solids', after allowing for a weaker or stronger load,
# where the sheet itself does not tell: scanners' channels differ, and desktop inks are not offset inks. No source;
# from simulated inks, doubled. Yellow in red is the exception that physics narrows: yellow dyes and pigments absorb
# below 530 nm or so, so that all of them pass red as paper does, and only a matrix to sRGB moves that, by a few
# hundredths
_PUBLISHED_SD = {
    "K": (0.08, 0.08, 0.08),
    "C": (0.45, 0.10, 0.09),
    "M": (0.07, 0.10, 0.11),
    "Y": (0.025, 0.05, 0.15),
}
_PUBLISHED_LOAD_SD = LIMITS["load_sd_published"].value
_BESIDE_LOAD_SD = LIMITS["load_sd_beside"].value
_LOOKS_RIGHT = (
    0.93  # cosine to its aim from which this sheet's own solid shows what its ink adds elsewhere; no source
)
_LEAST_DEPTH = LIMITS["solid_depth"].value


@dataclass(frozen=True, slots=True)
class Basis:
    """What pure inks look like in this capture.

    Attributes
    ----------
    name : str
        As the report names it: ``"house NAME"``, ``"published FOGRA47L"``.
    own : mapping of str to OwnInk
    aims : mapping of str to OwnInk
        The same by the reference or the published condition alone, before anything is read off the sheet.
    foreign : mapping of str to (3,) float64
        Densities of each ink as it would be added to another.
    exact : bool
        From a known-good cartridge seen by the same kind of capture.
    as_published : mapping of str to mapping of str to (3,) float64
        By ink all of whose others on the sheet are just as published (`inks_as_published`), those as they are seen.
    """

    name: str
    own: Mapping[str, OwnInk]
    aims: Mapping[str, OwnInk]
    foreign: Mapping[str, NDArray[np.float64]]
    exact: bool
    as_published: Mapping[str, Mapping[str, NDArray[np.float64]]] = field(default_factory=dict)


def house_basis(
    name: str,
    ratios: Mapping[str, NDArray[np.float64]],
    *,
    same_capture: bool,
    paper_sd: float = 0.0,
    areas: Mapping[str, InkAreas] | None = None,
    photo: bool = False,
) -> Basis:
    """Basis of a house reference: the light ratios (3,) of its solids, by ink.

    Where another capture saw them, `areas` of the sheet tell what this one makes of such inks. `paper_sd` is the
    standard deviation of a density that the sheet's own paper adds, where it is another (`tint.tint_density_sd`).
    """
    vectors = {ink: density(ratio) for ink, ratio in ratios.items()}
    sd, scale = _SAME_CAPTURE if same_capture else _OTHER_CAPTURE
    relative = {ink: (_BLACK_SD if ink == "K" else 0.0) + scale for ink in vectors}
    alone = {
        ink: OwnInk(v, np.diag(np.square(sd + relative[ink] * np.abs(v)) + np.square(0.434 * _FLOOR) + paper_sd**2))
        for ink, v in vectors.items()
    }
    if same_capture or areas is None:
        return Basis(f"house {name}", alone, alone, vectors, same_capture)
    aims = {
        ink: Aim(ratio, np.hypot(_METAMERISM[0] + _METAMERISM[1] * np.abs(vectors[ink]), paper_sd))
        for ink, ratio in ratios.items()
    }
    own, foreign = _seen_here(areas, alone, aims, mixing=0.0, photo=photo)
    return Basis(f"house {name}", own, alone, foreign, same_capture)


def _published_inks(condition: str) -> dict[str, OwnInk]:
    aims = published(condition).relative
    return {
        ink: OwnInk(
            np.minimum(density(_aim_light(aims[ink])), DEEPEST),
            np.diag(np.square(sd)),
            _PUBLISHED_LOAD_SD,
            stronger_sd=_PUBLISHED_LOAD_SD,
        )
        for ink, sd in _PUBLISHED_SD.items()
        if ink in aims
    }


def _aim_light(aim: Lab) -> NDArray[np.float64]:
    """Linear sRGB (3,), relative to paper, of a media-relative CIELAB."""
    return np.asarray(XYZ_TO_LINEAR @ lab_to_xyz(np.array(aim)))


def published_basis(areas: Mapping[str, InkAreas], condition: str, *, photo: bool = False) -> Basis:
    """Basis without a reference: published solids as this capture shows them, by the sheet's other inks."""
    aims = published(condition).relative
    alone = {ink: one for ink, one in _published_inks(condition).items() if ink in areas}
    pure = {ink: Aim(_aim_light(aims[ink]), np.array(MAKERS_SD[ink])) for ink in alone}
    own, foreign = _seen_here(areas, alone, pure, mixing=PUBLISHED_MIXING, photo=photo)
    seen = _seen(areas, alone, photo=photo)
    held = inks_as_published(seen, condition, light_sd=_LIGHT_SD if photo else 0.0)
    own |= {ink: OwnInk(here.density, here.covariance, _BESIDE_LOAD_SD) for ink, here in held.items()}
    others = {ink: {name: vector for name, (vector, _) in seen.items() if name != ink} for ink in held}
    return Basis(f"published {condition}", own, alone, foreign, exact=False, as_published=others)


def _seen_here(
    areas: Mapping[str, InkAreas], alone: Mapping[str, OwnInk], aims: Mapping[str, Aim], *, mixing: float, photo: bool
) -> tuple[dict[str, OwnInk], dict[str, NDArray[np.float64]]]:
    """Pure inks, and inks as they would be added to another, as this capture shows them.

    Foreign ink looks as this sheet's own solids do where they look right.
    """
    seen = _seen(areas, alone, photo=photo)
    expected = expected_inks(
        {ink: read for ink, read in seen.items() if _looks_like(ink, read[0], alone) is None},
        aims,
        mixing=mixing,
        photo=photo,
        light_sd=_LIGHT_SD if photo else 0.0,
    )
    own, foreign = dict(alone), {}
    for ink, here in expected.items():
        own[ink] = OwnInk(here.density, here.covariance, _BESIDE_LOAD_SD, stronger_sd=_BESIDE_LOAD_SD)
    for ink, sound in own.items():
        vector = sound.density if ink not in seen else seen[ink][0]
        # what an ink is expected to look like may be misled by what another chamber holds; its aim is not
        alike = max(_alike(sound.density, vector), _alike(alone[ink].density, vector)) > _LOOKS_RIGHT
        foreign[ink] = vector if alike and vector.max() > _LEAST_DEPTH else sound.density
    return own, foreign


def _seen(
    areas: Mapping[str, InkAreas], alone: Mapping[str, OwnInk], *, photo: bool
) -> dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Densities (3,) of the solids, and the standard deviations they are read to."""
    return {
        ink: solid_density(solid, replace(one, density=density(solid.ratio)), photo=photo)
        for ink, one in alone.items()
        if ink in areas and (solid := areas[ink].solid) is not None
    }


def read_contamination(
    areas: Mapping[str, InkAreas], basis: Basis, *, photo: bool
) -> tuple[ContaminationReading, ...]:
    """Judge every ink of a sheet, in the order of `areas`.

    Parameters
    ----------
    areas : mapping of str to InkAreas
    basis : Basis
    photo : bool
        A photo's light and chroma are less even than a scan's.
    """
    areas, depth = without_shadow(areas)
    if photo:
        areas = without_common_light(areas)
    # a shadow that lies over all strips may lie over a solid too, or over the paper that it is held against
    light_sd = float(np.hypot(_LIGHT_SD if photo else 0.0, depth))
    return _without_shaded(tuple(_read(reading, basis, photo, light_sd, depth) for reading in areas.values()))


def _without_shaded(readings: tuple[ContaminationReading, ...]) -> tuple[ContaminationReading, ...]:
    """Black in every colour at once is a shadow, not ink: it is named in none, but might be hidden in each."""
    colours = [r for r in readings if r.ink != "K" and r.foreign is not None]
    if len(colours) < 2 or not all(any(f.ink == "K" for f in r.foreign or ()) for r in colours):
        return readings
    out = []
    for reading in readings:
        black = next((f for f in reading.foreign or () if f.ink == "K"), None)
        if black is None or reading.wrong_ink == "K":
            out.append(reading)
            continue
        rest = tuple(f for f in reading.foreign or () if f is not black)
        leading = (reading.foreign or ())[0] is black  # the trend told is the largest share's
        hidden = max(reading.could_hide or 0.0, black.ci95[1])
        out.append(
            replace(
                reading,
                foreign=rest,
                trend="none" if not rest else "steady" if leading else reading.trend,
                clears_after_mm=None if leading else reading.clears_after_mm,
                could_hide=float(min(hidden, 1.0)),
            )
        )
    return tuple(out)


def _read(reading: InkAreas, basis: Basis, photo: bool, light_sd: float, shadow: float) -> ContaminationReading:
    ink, solid = reading.ink, reading.solid
    own = basis.own.get(ink)
    if own is None or solid is None:
        return ContaminationReading(ink, basis.name, None, None, None, None, None)
    seen, sd = solid_density(solid, own, photo=photo)
    if seen.max() < _NO_INK:  # the lines say so
        return ContaminationReading(ink, basis.name, None, None, None, None, None)
    foreign = {name: vector for name, vector in basis.foreign.items() if name != ink}
    strip = reading.strip
    if strip is not None:
        bare = cover_lost(strip.y_mm, density(strip.ratio), solid.box.centre[1])
        own = replace(own, cover_sd=float(np.hypot(own.cover_sd, bare)))
    # an aim's density ends at `DEEPEST`: one that is seen to go further would pass for a heavier load. So would a
    # black, whose channels are all alike, and a load beyond what any ink has passes for another ink in it
    counts_on = (own.density < DEEPEST) & (ink != "K")
    counting = seen if basis.exact else np.where(counts_on, seen, np.minimum(seen, DEEPEST))
    if ink in basis.as_published:
        mixture = _unmixed_whole(counting, sd, own, basis.as_published[ink], light_sd)
    else:
        mixture = unmix(counting, sd, own, foreign, light_sd=light_sd)
    if not foreign:  # none to look for
        return ContaminationReading(ink, basis.name, None, None, None, None, None)
    drift = None
    if strip is not None:
        pure, start = own, mixture
        if not basis.exact:  # the sheet's own solid then says better along which line the ink fades
            pure = OwnInk(seen, own.covariance, own.dilution_sd)
            none = dict.fromkeys(foreign, 0.0)
            start = Mixture(none, mixture.sd, mixture.below, 1.0, 1.0, 0.0, none)
        drift = read_drift(strip, solid.box.centre[1], pure, foreign, start, photo=photo, shadow=shadow)
    return _judged(ink, basis, mixture, drift, _looks_like(ink, seen, basis.aims), grey=_grey(ink, seen, basis))


def _unmixed_whole(
    seen: NDArray[np.float64], sd: NDArray[np.float64], own: OwnInk, foreign: Mapping[str, NDArray[np.float64]],
    light_sd: float,
) -> Mixture:  # fmt: skip
    """By a capture that shows other inks just as published, and so how dark they are as well.

    Mixed in the chamber all of that counts. Where it does not explain the solid, as for ink that lies in dots beside
    the own ink's, what is usually believed of a dark channel may.
    """
    whole = unmix(seen, sd, own, foreign, light_sd=light_sd, largest_added=DARKEST)
    if whole.chi2 < _ILL:
        return whole
    return min(whole, unmix(seen, sd, own, foreign, light_sd=light_sd), key=lambda one: one.chi2)


def _looks_like(ink: str, seen: NDArray[np.float64], aims: Mapping[str, OwnInk]) -> str | None:
    """Another ink that a solid is taken for by its hue alone: the direction of its densities."""
    vectors = {name: pure.density for name, pure in aims.items()}
    if ink == "K":
        return None  # a weak black has the hue of whatever was added to it

    best = max(vectors, key=lambda name: _alike(vectors[name], seen), default=ink)
    # what is greyer than any other ink has no hue to go by
    return (
        best
        if best not in (ink, "K") and _alike(vectors[best], seen) - _alike(vectors[ink], seen) > _HUE_MARGIN
        else None
    )


def _grey(ink: str, seen: NDArray[np.float64], basis: Basis) -> bool:
    """Tell whether a solid has the hue of black rather than its own: a shadow darkens it, but leaves its hue."""
    black = basis.foreign.get("K")
    return ink == "K" or black is None or _alike(black, seen) > _alike(basis.aims[ink].density, seen)


def _alike(vector: NDArray[np.float64], seen: NDArray[np.float64]) -> float:
    """Cosine between two densities (3,), neither beyond what a capture can show."""
    a, b = np.clip(vector, 0.0, DEEPEST), np.clip(seen, 0.0, DEEPEST)
    return float(a @ b) / max(float(np.linalg.norm(a) * np.linalg.norm(b)), 1e-9)


def solid_density(solid: Area, own: OwnInk, *, photo: bool) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Density (3,) of a solid and its standard deviation."""
    sd = density_sd(solid.ratio, solid.ratio_sd, own.density, photo=photo)
    # yellow sends back more red than its paper: where the capture is full, a little ink in it changes nothing there
    return density(solid.ratio), np.hypot(sd, np.where(solid.light > _FULL, _FULL_SD, 0.0))


def density_sd(
    ratio: NDArray[np.float64], ratio_sd: NDArray[np.float64], own: NDArray[np.float64], *, photo: bool
) -> NDArray[np.float64]:
    """Standard deviation (3,) of a solid's density: reading, capture, and what the mixing model leaves out."""
    scale = 3.0 if photo else 1.0
    light = np.maximum(ratio, 0.004)
    read = 0.434 * np.sqrt(ratio_sd**2 + (scale * _DARK) ** 2 + (scale * _FLOOR * light) ** 2) / light
    return np.asarray(np.hypot(read, model_error(own) * np.abs(density(ratio) - own)))


def _judged(
    ink: str, basis: Basis, mixture: Mixture, drift: Drift | None, looks_like: str | None, *, grey: bool
) -> ContaminationReading:
    # what is no number crosses no limit: it would pass for an ink with nothing in it
    if not np.isfinite(
        [mixture.chi2, *mixture.share.values(), *mixture.sd.values(), *mixture.leaning.values()]
    ).all():
        return ContaminationReading(ink, basis.name, None, None, None, None, None, no_number=True)
    found: list[ForeignInk] = []
    trend, clears = "none", None
    for name in mixture.share:
        here = drift if drift is not None and drift.ink == name else None
        one = _named(ink, name, basis, mixture, here)
        if one is None:
            continue
        found.append(one)
        if here is not None or trend == "none":
            trend, clears = _trend(here)
    wrong = _wrong(found, looks_like, grey=grey)
    if wrong is not None and all(f.ink != wrong for f in found):
        # hue says so, whatever the aims leave open about the share
        found = [ForeignInk(wrong, _BY_HUE, (_WRONG_INK, 1.0), _BY_HUE, _BY_HUE)]
        trend = "steady"
    # what may be there unseen: of every ink that was not named, the share from which it would have been, or the upper
    # end of what fits best
    named, z = {f.ink for f in found}, _z(basis)
    hidden = max(
        (
            max(share + z * mixture.sd[name], mixture.leaning[name] + _Z95 * mixture.sd[name])
            for name, share in mixture.share.items()
            if name not in named
        ),
        default=0.0,
    )
    found.sort(key=lambda f: -f.fraction)
    return ContaminationReading(ink, basis.name, tuple(found), trend, clears, wrong, float(min(hidden, 1.0)))


def _z(basis: Basis) -> float:
    return _Z95 if basis.exact else _Z_PUBLISHED


def _named(ink: str, name: str, basis: Basis, mixture: Mixture, drift: Drift | None) -> ForeignInk | None:
    """What solid and strip say of one foreign ink; none where it may well not be there. `drift` is its own."""
    share, sd = mixture.share[name], mixture.sd[name]
    # how much stronger than its aim a pure ink may be, only a reference knows
    below = mixture.below[name] if basis.exact else sd
    certain = drift is not None and drift.certain
    first = last = share
    # without an exact reference a strip says only what changes: if nothing surely does, the solid decides
    if drift is not None and (basis.exact or certain):
        first, last = drift.first, drift.last
    top = max(first, last)
    alone = certain and abs(first - last) > _LEAST_SHARE
    if not (share - _z(basis) * below > 0.0 or alone) or top < (_LEAST_IN_BLACK if ink == "K" else _LEAST_SHARE):
        return None
    shown = top if certain else share
    of_strip = drift.change_sd if drift is not None and certain else 0.0  # else the share is the solid's alone
    of_solid = (below, sd) if share > 0 else (_SCALE_SD * shown, _SCALE_SD * shown)
    scale = max(1.0, shown / share) if share > 0 else 1.0
    less, more = (_Z95 * float(np.hypot(scale * one, of_strip)) for one in of_solid)
    low, high = shown - less, shown + more
    if alone and not basis.exact:
        # the strip tells what changes; what stays all the way down, only the solid could, and it leaves this open
        low = min(low, shown - _Z95 * _CHANGE_SD * shown)
        high = max(high, shown + share + _Z95 * sd)
    rivals = mixture.rivals if share > 0.0 and not certain else {}  # what changes down the strip tells by itself
    # a rival is known as well as this one is: the interval holds whichever it is
    of_any = [1.0, *(other / share for other in rivals.values())]
    ci = (max(0.0, low) * min(of_any), min(1.0, high * max(of_any)))
    return ForeignInk(name, min(shown, 1.0), ci, max(0.0, min(first, 1.0)), max(0.0, min(last, 1.0)), tuple(rivals))


def _trend(drift: Drift | None) -> tuple[str, float | None]:
    """Whether an ink that is there clears, stays or grows, and the length of strip after which it is clear."""
    if drift is None or not drift.certain:
        return "steady", None
    change, top = drift.first - drift.last, max(drift.first, drift.last)
    if abs(change) - _Z95 * drift.change_sd <= _CHANGE * top:
        return "steady", None
    return ("clearing", drift.clears_after_mm) if change > 0.0 else ("growing", None)


def _wrong(found: list[ForeignInk], looks_like: str | None, *, grey: bool) -> str | None:
    """The ink that a chamber holds in place of its own; hue goes first: it takes no exact idea of the pure ink."""
    if looks_like is not None:
        return looks_like
    for one in found:
        # what comes or goes down the page is no chamber's whole content, however much the strip's end looks like
        throughout = min(one.first, one.last) > _SURELY_WRONG
        if throughout and one.fraction > _WRONG_INK and one.ci95[0] > _SURELY_WRONG and (grey or one.ink != "K"):
            return one.ink
    return None
