"""Foreign ink in each ink of a sheet: which, how much, and whether it is clearing as the page is printed.

How sure a share is depends on what the pure ink is known by. A sheet of a known-good cartridge from the same printer
and capture device (a house reference) shows a few per cent. Without one only the published solids say what an ink
looks like, real inks differ from them, and only a large share can be told; a share that changes down the run-off
strip shows on its own, since the strip is its own reference.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.lab import lab_to_xyz
from printcheck.colour.published import published
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, InkAreas
from printcheck.measure.common_light import without_common_light, without_shadow
from printcheck.measure.drift import Drift, read_drift
from printcheck.measure.fading import cover_lost
from printcheck.measure.result import ContaminationReading, ForeignInk
from printcheck.measure.unmix import Mixture, OwnInk, density, model_error, unmix

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["DEEPEST", "Basis", "house_basis", "published_basis", "read_contamination", "solid_density"]

_LEAST_SHARE = 0.015  # shares below are not named: JPEG's chroma steps alone come to a third of it
_LEAST_IN_BLACK = 0.08  # black hides what is in it, and its own hue varies from batch to batch
_BLACK_SD = 0.03  # relative, of its densities against one another
_WRONG_INK = 0.6  # share from which the chamber holds the other ink
# part of the share that must have gone (or come) along the strip, with 95 % certainty, to call it clearing (growing):
# at a slower pace an ink takes a dozen pages of solid to clear
_CHANGE = 0.15
_CHANGE_SD = 0.25  # relative, of a change told by inks that are known by others only
_HUE_MARGIN = 0.10  # cosine by which a solid must be more like another ink's than its own to be taken for it
_Z95 = 1.96
_Z_PUBLISHED = 2.6  # a dozen pairs of inks a sheet are tried against uncertain aims
_FLOOR = np.array([0.008, 0.004, 0.008])  # relative error of a ratio: JPEG stores R and B by coarse chroma steps
_NO_INK = 0.05  # density of a solid below which nothing was printed
_FULL, _FULL_SD = 0.97, 0.03  # linear light from which a channel is full, and the density that this may hide
_LIGHT_SD = 0.04  # density: in a photo a solid may get a tenth more or less light than the paper near it
_DARK = 0.0007  # of a ratio, absolute: flare and rounding

# how far an ink's own densities may lie from the published solids', after allowing for a weaker or stronger load:
# scanners' channels differ, and desktop inks are not offset inks. No source; from simulated inks, doubled. Yellow in
# red is the exception that physics narrows: yellow dyes and pigments absorb below 530 nm or so, so that all of them
# pass red as paper does, and only a matrix to sRGB moves that, by a few hundredths
_PUBLISHED_SD = {
    "K": (0.08, 0.08, 0.08),
    "C": (0.45, 0.10, 0.09),
    "M": (0.07, 0.10, 0.11),
    "Y": (0.025, 0.05, 0.15),
}
DEEPEST = 1.3  # density that counts at most: aims lie outside sRGB, their red or blue light is negative there


@dataclass(frozen=True, slots=True)
class Basis:
    """What pure inks look like in this capture.

    Attributes
    ----------
    name : str
        As the report names it: ``"house NAME"``, ``"published FOGRA47L"``.
    own : mapping of str to OwnInk
    foreign : mapping of str to (3,) float64
        Densities of each ink as it would be added to another.
    exact : bool
        From a known-good cartridge seen by the same kind of capture.
    """

    name: str
    own: Mapping[str, OwnInk]
    foreign: Mapping[str, NDArray[np.float64]]
    exact: bool


def house_basis(name: str, ratios: Mapping[str, NDArray[np.float64]], *, same_capture: bool) -> Basis:
    """Basis of a house reference: the light ratios (3,) of its solids, by ink."""
    vectors = {ink: density(ratio) for ink, ratio in ratios.items()}
    sd = 0.001 if same_capture else 0.06
    relative = {ink: (_BLACK_SD if ink == "K" else 0.0) + (0.0 if same_capture else 0.08) for ink in vectors}
    own = {ink: OwnInk(v, sd + relative[ink] * np.abs(v)) for ink, v in vectors.items()}
    return Basis(f"house {name}", own, vectors, same_capture)


def published_basis(areas: Mapping[str, InkAreas], condition: str) -> Basis:
    """Basis without a reference: published solids; for foreign ink this sheet's own solids where they look right."""
    aims = published(condition).relative
    own, foreign = {}, {}
    for ink, reading in areas.items():
        if ink not in aims:
            continue
        aim = np.minimum(density(XYZ_TO_LINEAR @ lab_to_xyz(np.array(aims[ink]))), DEEPEST)
        own[ink] = OwnInk(aim, np.array(_PUBLISHED_SD[ink]), 0.35)
        seen = aim if reading.solid is None else density(reading.solid.ratio)
        alike = float(seen @ aim / max(float(np.linalg.norm(seen) * np.linalg.norm(aim)), 1e-9))
        foreign[ink] = seen if alike > 0.93 and seen.max() > 0.3 else aim
    return Basis(f"published {condition}", own, foreign, exact=False)


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
    mixture = unmix(seen, sd, own, foreign, light_sd=light_sd)
    if not foreign:
        return ContaminationReading(ink, basis.name, (), "none", None, None, None)
    drift = None
    if strip is not None:
        pure, start = own, mixture
        if not basis.exact:  # the sheet's own solid then says better along which line the ink fades
            pure = OwnInk(seen, own.sd, own.dilution_sd)
            start = Mixture(dict.fromkeys(foreign, 0.0), mixture.sd, 1.0, 1.0, 0.0)
        drift = read_drift(strip, solid.box.centre[1], pure, foreign, start, photo=photo, shadow=shadow)
    return _judged(ink, basis, mixture, drift, _looks_like(ink, seen, basis), grey=_grey(ink, seen, basis))


def _looks_like(ink: str, seen: NDArray[np.float64], basis: Basis) -> str | None:
    """Another ink that a solid is taken for by its hue alone: the direction of its densities."""
    vectors = {name: own.density for name, own in basis.own.items() if name != "K"}
    if ink == "K":
        return None  # a weak black has the hue of whatever was added to it

    best = max(vectors, key=lambda name: _alike(vectors[name], seen), default=ink)
    return best if best != ink and _alike(vectors[best], seen) - _alike(vectors[ink], seen) > _HUE_MARGIN else None


def _grey(ink: str, seen: NDArray[np.float64], basis: Basis) -> bool:
    """Tell whether a solid has the hue of black rather than its own: a shadow darkens it, but leaves its hue."""
    black = basis.foreign.get("K")
    return ink == "K" or black is None or _alike(black, seen) > _alike(basis.own[ink].density, seen)


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
    z = _Z95 if basis.exact else _Z_PUBLISHED
    found: list[ForeignInk] = []
    trend, clears = "none", None
    for name, share in mixture.share.items():
        sd = mixture.sd[name]
        here = drift if drift is not None and drift.ink == name else None
        first = last = share
        change_sd = 0.0
        # without an exact reference a strip says only what changes: if nothing surely does, the solid decides
        if here is not None and (basis.exact or here.certain):
            first, last, change_sd = here.first, here.last, here.change_sd
        top = max(first, last)
        rising = last > first
        alone = here is not None and here.certain and abs(first - last) > _LEAST_SHARE
        least = _LEAST_IN_BLACK if ink == "K" else _LEAST_SHARE
        if not (share - z * sd > 0.0 or alone) or top < least:
            continue
        shown = top if here is not None and here.certain else share
        of_strip = change_sd if here is not None and here.certain else 0.0  # else the share told is the solid's alone
        spread = float(np.hypot(sd * max(1.0, shown / share) if share > 0 else 0.2 * shown, of_strip))
        low, high = shown - _Z95 * spread, shown + _Z95 * spread
        if alone and not basis.exact:
            # the strip tells what changes; what stays all the way down, only the solid could, and it leaves this open
            low = min(low, shown - _Z95 * _CHANGE_SD * shown)
            high = max(high, shown + share + _Z95 * sd)
        ci = (max(0.0, low), min(1.0, high))
        found.append(ForeignInk(name, min(shown, 1.0), ci, max(0.0, min(first, 1.0)), max(0.0, min(last, 1.0))))
        if here is not None or trend == "none":
            trend = "steady"
            if here is not None and here.certain and abs(first - last) - _Z95 * change_sd > _CHANGE * top:
                trend = "growing" if rising else "clearing"
                clears = None if rising else here.clears_after_mm
    most = [f.ink for f in found if f.fraction > _WRONG_INK and f.ci95[0] > 0.4 and (grey or f.ink != "K")]
    wrong = most[0] if most else None
    if wrong is None and looks_like is not None:
        wrong = looks_like
        if all(f.ink != wrong for f in found):  # hue says so, whatever the aims leave open about the share
            found.append(ForeignInk(wrong, 0.9, (_WRONG_INK, 1.0), 0.9, 0.9))
            trend = "steady"
    # what may be there unseen: of every ink that was not named, the share from which it would have been
    named = {f.ink for f in found}
    hidden = max((v + z * mixture.sd[n] for n, v in mixture.share.items() if n not in named), default=0.0)
    found.sort(key=lambda f: -f.fraction)
    return ContaminationReading(ink, basis.name, tuple(found), trend, clears, wrong, float(min(hidden, 1.0)))
