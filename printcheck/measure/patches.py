"""Even areas: their light relative to the bare paper beside them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.pattern.elements import Patch
from printcheck.register.result import Registration
from printcheck.register.view import look_at
from printcheck.robust import MAD_SD, middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["PatchReading", "read_box", "read_patch"]

_INSET_MM = 0.8  # clear of edges: blur, registration error and ink spread together stay within it
_TILE_MM = 1.27  # tiles whose scatter gives the uncertainty: as for the large-area attributes of ISO/IEC 24790
_MOST_WIDTH_MM = 40.0  # of a patch that is read: 30 tiles across tell its mean to a thousandth; more cost time
_ACROSS_PX_PER_MM = 8.0  # samples across a patch: ten to a tile are enough for its mean
_WHOLE = 0.95  # of a patch that must lie in the picture: a cut edge hardly moves its mean
_BESIDE_MM = 3.0  # bare paper within this of a patch is its own
_PAPER_REACH_MM = 30.0  # bare paper farther away than this may stand in other light


@dataclass(frozen=True, slots=True)
class PatchReading:
    """One even area.

    Attributes
    ----------
    light : (3,) float64
        Mean linear light in R, G, B, 0 to 1; grey captures repeat their one channel.
    light_sd : (3,) float64
        Standard deviation of that mean, from the scatter of tiles.
    paper : (3,) float64
        The same for the bare paper beside it.
    """

    light: NDArray[np.float64]
    light_sd: NDArray[np.float64]
    paper: NDArray[np.float64]

    @property
    def ratio(self) -> NDArray[np.float64]:
        """Reflectance relative to the paper, (3,)."""
        return self.light / np.maximum(self.paper, 1e-6)


def read_box(pixels: Pixels, registration: Registration, box: Box) -> tuple[NDArray[np.float64], ...] | None:
    """Robust mean light (3,) in R, G, B of `box`, and its sd (3,); none where it can't be seen."""
    # single pixels, not means of them: light adds up only after it is made linear
    view = look_at(pixels, registration, box, nearest=True, most_x=_ACROSS_PX_PER_MM)
    if view.inside < _WHOLE:
        return None
    light = linear_light(view.values)
    down = max(1, round(_TILE_MM * view.px_per_mm_y))
    across = max(1, round(_TILE_MM * view.px_per_mm_x))
    rows, columns = max(1, light.shape[0] // down), max(1, light.shape[1] // across)
    down, across = light.shape[0] // rows, light.shape[1] // columns
    whole = light[: rows * down, : columns * across]
    means = cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA).reshape(rows * columns, -1)
    tiles = np.broadcast_to(means[:, ::-1], (len(means), 3)).astype(np.float64)
    middle = middle_of(tiles)
    spread = MAD_SD * middle_of(np.abs(tiles - middle))
    keep = (np.abs(tiles - middle) <= 3 * spread + 1e-6).all(axis=1)
    kept = tiles[keep] if keep.sum() >= 3 else tiles
    sd = kept.std(axis=0, ddof=1) / np.sqrt(len(kept)) if len(kept) > 1 else np.full(3, np.nan)
    return kept.mean(axis=0), sd


def read_patch(pixels: Pixels, registration: Registration, patch: Patch) -> PatchReading | None:
    """Read `patch` and the bare paper nearest to it; none where either can't be seen."""
    inset_x = min(_INSET_MM, patch.box.width / 4)
    inset_y = min(_INSET_MM, patch.box.height / 4)
    inner = patch.box.inset(inset_x, inset_y)
    inner = inner.inset(max(0.0, (inner.width - _MOST_WIDTH_MM) / 2), 0.0)
    seen = read_box(pixels, registration, inner)
    if seen is None:
        return None

    def distance(box: Box) -> float:
        dx = max(box.x0 - patch.box.x1, patch.box.x0 - box.x1, 0.0)
        dy = max(box.y0 - patch.box.y1, patch.box.y0 - box.y1, 0.0)
        return dx + dy

    near = sorted(registration.layout.papers, key=lambda p: distance(p.box))
    # what runs along the patch lies in the same light, whatever shadow falls over both
    along = [p for p in near if distance(p.box) < _BESIDE_MM and _runs_along(p.box, patch.box)]
    near = (along or near)[:2]
    papers = []
    for paper in near:
        if distance(paper.box) > _PAPER_REACH_MM:
            continue
        # the part of the bare strip that lies beside the patch, so that the light is the same
        box = paper.box
        if box.width > patch.box.width and patch.box.x0 < box.x1 and box.x0 < patch.box.x1:
            left, right = max(box.x0, patch.box.x0), min(box.x1, patch.box.x1)
            if right - left > 4.0:
                box = Box(left, box.y0, right, box.y1)
        read = read_box(pixels, registration, box)
        if read is not None:
            papers.append(read[0])
    if not papers:
        return None
    return PatchReading(seen[0], seen[1], np.mean(papers, axis=0))


def _runs_along(paper: Box, patch: Box) -> bool:
    """True where `paper` lies beside most of one side of `patch`."""
    across = min(paper.x1, patch.x1) - max(paper.x0, patch.x0)
    down = min(paper.y1, patch.y1) - max(paper.y0, patch.y0)
    return across > 0.5 * patch.width or down > 0.5 * patch.height
