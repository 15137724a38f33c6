"""Overprints: how much of each ink is there, and the grey that the colours make together.

Dyes over one another add their densities (Beer-Lambert), so the density of an overprint is the sum of its inks'
own solids, each taken as often as it is there: hardly at all where an ink does not come where it ought to. How often
that is on a sound sheet depends on ink, paper and channel: densities add less the nearer they come to what paper and
surface let be the darkest, and the second ink finds the paper full (trapping). Yellow over magenta amounts to 0.29 to
0.59 of its solid in the published characterisation data. So an amount is held against what those published printing
conditions show whose own solids are most like the sheet's.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.lab import as_lab, lab_to_xyz
from printcheck.colour.published import conditions, published
from printcheck.limits import LIMITS
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, InkAreas
from printcheck.measure.colour import CaptureColour
from printcheck.measure.result import GreyBalance, InkPresence, OverprintReading
from printcheck.measure.sound_inks import DEEPEST
from printcheck.measure.unmix import density

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["read_grey", "read_overprints"]

_CAP = LIMITS["overprint_density"].value
_READ_SD, _MODEL = LIMITS["overprint_read_sd"].value, LIMITS["overprint_model_sd"].value
_NO_INK = LIMITS["overprint_no_ink"].value
_GREY = ("C", "M", "Y")
_PUBLISHED_AS = {frozenset("MY"): "R", frozenset("CY"): "G", frozenset("CM"): "B", frozenset("CMY"): "CMY"}
# conditions most like a sheet, of which the least amount counts: a capture's tone curve can make one for another
_ALIKE = 3


def read_overprints(
    overprints: Iterable[Area], areas: Mapping[str, InkAreas], look: CaptureColour
) -> tuple[OverprintReading, ...]:
    """Judge every overprint whose inks have solids to compare with."""
    out = []
    for area in overprints:
        solids = [areas[ink].solid if ink in areas else None for ink in area.inks]
        own = [None if s is None else np.minimum(density(s.ratio), _CAP) for s in solids]
        if any(v is None or v.max() < _NO_INK for v in own):
            continue
        vectors = np.column_stack([v for v in own if v is not None])
        seen = np.clip(density(area.ratio), 0.0, _CAP)
        amounts, usual = _amounts(seen, vectors), _usual_amounts(area.inks, vectors)
        inks = tuple(
            InkPresence(ink, float(amount), _state(amount / least), float(least))
            for ink, amount, least in zip(area.inks, amounts, usual, strict=True)
        )
        out.append(OverprintReading(as_lab(look.lab(area)), inks))
    return tuple(out)


def _state(share: float) -> str:
    """State of an ink of which `share` of what is usual is there."""
    if share < LIMITS["overprint_missing"].value:
        return "missing"
    return "weak" if share < LIMITS["overprint_weak"].value else "present"


def _usual_amounts(inks: tuple[str, ...], vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """Least amounts (inks,) that published conditions show whose solids are most like the densities (3, inks)."""
    told = [(solids, name) for name in conditions() if (solids := _published_solids(name, inks)) is not None]
    if not told:
        return np.ones(len(inks))
    seen = np.minimum(vectors, DEEPEST)
    away = np.square(np.minimum([solids for solids, _ in told], DEEPEST) - seen).sum(axis=(1, 2))
    alike = [_published_amounts(told[k][1], inks) for k in np.argsort(away)[:_ALIKE]]
    return np.asarray(np.min(alike, axis=0))


@lru_cache(maxsize=128)
def _published_solids(condition: str, inks: tuple[str, ...]) -> NDArray[np.float64] | None:
    """Densities (3, inks) of the solids of a condition that has them, and what they print over one another."""
    aims = published(condition).relative
    if _PUBLISHED_AS.get(frozenset(inks)) not in aims or not aims.keys() >= set(inks):
        return None
    light = lab_to_xyz(np.array([aims[ink] for ink in inks])) @ XYZ_TO_LINEAR.T
    return np.minimum(density(light), _CAP).T


@lru_cache(maxsize=128)
def _published_amounts(condition: str, inks: tuple[str, ...]) -> NDArray[np.float64]:
    """Amount (inks,) of each ink in what a condition prints of them over one another."""
    both = published(condition).relative[_PUBLISHED_AS[frozenset(inks)]]
    seen = np.clip(density(XYZ_TO_LINEAR @ lab_to_xyz(np.array(both))), 0.0, _CAP)
    solids = _published_solids(condition, inks)
    assert solids is not None  # asked for conditions alone that have them
    return _amounts(seen, solids)


def _amounts(seen: NDArray[np.float64], vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """Non-negative least squares of two or three unknowns: the best set of inks whose amounts are."""
    count, weight = vectors.shape[1], 1.0 / (_READ_SD + _MODEL * seen)
    whole, *_ = np.linalg.lstsq(vectors * weight[:, None], seen * weight, rcond=None)
    if (whole >= 0).all():  # nothing fits better than the best of all
        return np.asarray(whole)
    best, least = np.zeros(count), float(np.square(seen * weight).sum())
    for some in itertools.chain.from_iterable(itertools.combinations(range(count), n) for n in range(1, count)):
        found, *_ = np.linalg.lstsq(vectors[:, some] * weight[:, None], seen * weight, rcond=None)
        left = float(np.square((vectors[:, some] @ found - seen) * weight).sum())
        if (found >= 0).all() and left < least - 1e-12:
            best, least = np.zeros(count), left
            best[list(some)] = found
    return best


def read_grey(areas: Mapping[str, InkAreas], look: CaptureColour) -> GreyBalance | None:
    """Grey that equal mid-tones of the three colours make together; none where one of them can't be seen.

    Dots of the three fall over one another by chance, so that their reflectances multiply (Demichel's shares with
    Neugebauer's sum come to the product where densities add).
    """
    tints = [next((t for t in areas[ink].tones if t.kind == "tint"), None) for ink in _GREY if ink in areas]
    if len(tints) < len(_GREY) or any(t is None for t in tints):
        return None
    seen = [t for t in tints if t is not None]
    first = seen[0]
    light = first.paper * np.prod([t.ratio for t in seen], axis=0)
    sd = np.sqrt(np.sum([np.square(t.ratio_sd / np.maximum(t.ratio, 1e-3)) for t in seen], axis=0))
    together = Area(
        "tint", _GREY, first.tone, first.box, light, first.paper, sd * np.prod([t.ratio for t in seen], axis=0)
    )
    lab, lab_sd = look.see(together)
    return GreyBalance(as_lab(lab), as_lab(lab_sd))
