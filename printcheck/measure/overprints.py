"""Overprints: how much of each ink is there, and the grey that the colours make together.

Dyes over one another add their densities (Beer-Lambert), so the density of an overprint is the sum of its inks'
own solids, each taken as often as it is there: about once on a sound sheet, less where the second drop finds the
paper full (trapping), hardly at all where an ink does not come where it ought to.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.lab import as_lab
from printcheck.limits import LIMITS
from printcheck.measure.areas import Area, InkAreas
from printcheck.measure.colour import CaptureColour
from printcheck.measure.result import GreyBalance, InkPresence, OverprintReading
from printcheck.measure.unmix import density

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["read_grey", "read_overprints"]

_CAP = 1.5  # density beyond which channels no longer add: flare and clipping
_READ_SD, _MODEL = 0.03, 0.1  # of a density: reading, and what adding leaves out (relative)
_NO_INK = 0.1  # density of a solid below which its ink is not there to compare with
_GREY = ("C", "M", "Y")


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
        amounts = _amounts(seen, vectors, 1.0 / (_READ_SD + _MODEL * seen))
        inks = tuple(
            InkPresence(ink, float(amount), _state(amount)) for ink, amount in zip(area.inks, amounts, strict=True)
        )
        out.append(OverprintReading(as_lab(look.lab(area)), inks))
    return tuple(out)


def _state(amount: float) -> str:
    """State of an ink that is there `amount` times its own solid."""
    if amount < LIMITS["overprint_missing"].value:
        return "missing"
    return "weak" if amount < LIMITS["overprint_weak"].value else "present"


def _amounts(
    seen: NDArray[np.float64], vectors: NDArray[np.float64], weight: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Non-negative least squares of two or three unknowns: the best set of inks whose amounts are."""
    count = vectors.shape[1]
    best, least = np.zeros(count), float(np.square(seen * weight).sum())
    for some in itertools.chain.from_iterable(itertools.combinations(range(count), n) for n in range(1, count + 1)):
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
