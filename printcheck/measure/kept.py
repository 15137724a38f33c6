"""What a picture kept of its lines' weight.

Blur spreads a line and keeps its sum. What takes of the sum is denoising: it draws together what differs little, the
chroma above all, so that pale lines lose weight, and weak ones among them all of it. The area next door keeps its
depth. So the weight of an ink's sound lines over the depth of its solid, beside the same of the other inks, shows
how much was taken, and where much was, a line that isn't seen may well be on the paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import LUMA_OF_RGB

if TYPE_CHECKING:
    from printcheck.measure.ladder import LadderSignal
    from printcheck.measure.patches import PatchReading
    from printcheck.pattern.elements import Ladder

__all__ = ["depth_in_luma", "weight_kept"]


def weight_kept(
    ladders: Sequence[tuple[Ladder, ...]],
    signals: Sequence[tuple[LadderSignal, ...]],
    absorptances: Sequence[float | None],
) -> list[tuple[float, ...]]:
    """Share of the lines' weight that is left in each printing of each ink.

    Parameters
    ----------
    ladders, signals : sequence of tuple
        By ink, the printings of its ladder and what each shows.
    absorptances : sequence of float or None
        By ink, the light its solid takes away where its lines are read, as a share of the paper's.

    Returns
    -------
    list of tuple of float
        By ink and printing. 1 where nothing is laid to the picture: where an ink is read in its own channel alone,
        which is then even enough, or no other ink is, to compare it with.
    """
    weights = [
        [
            (signal.level if signal.unmixed_level is None else signal.unmixed_level) / (depth * ladder.pitch_mm)
            if depth
            else np.nan
            for ladder, signal in zip(own, shown, strict=True)
        ]
        for own, shown, depth in zip(ladders, signals, absorptances, strict=True)
    ]
    even = [w for ws, shown in zip(weights, signals, strict=True) if shown[0].in_own_channel for w in ws]
    known = [weight for weight in even if np.isfinite(weight) and weight > 0]
    usual = float(np.median(known)) if known else np.nan
    return [
        tuple(
            float(weight / usual) if not signal.in_own_channel and np.isfinite(weight / usual) else 1.0
            for weight, signal in zip(ws, shown, strict=True)
        )
        for ws, shown in zip(weights, signals, strict=True)
    ]


def depth_in_luma(solid: PatchReading | None, *, photo: bool) -> float | None:
    """Light that a photo's lines as deep as a solid take away in luma, as a share of the paper's; none of a scan's.

    Luma weighs encoded values; where a line covers little of a pixel they go as light does. A scanner leaves luma as
    it is, and what a file's steps take of it is told by them: that a thin line takes less green than a solid, whose
    drops lie over one another, is then all that its weight lacks.
    """
    return float(np.array(LUMA_OF_RGB) @ (1.0 - solid.ratio)) if solid is not None and photo else None
