"""The light on the bare paper, anywhere on the page: what every area is measured against.

Lamps fall off towards the edges and rooms are lit from one side, so the nearest bare paper is not bright enough a
guide. The bare gaps of the sheet are cut into short pieces, and the light at any point is a plane fitted to the
pieces around it, the nearer the heavier (locally weighted regression, Cleveland 1979). What no plane follows, such as
the bands of a lamp that flickers, `uneven_light` adds.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.geometry import Box
from printcheck.measure.light import light_in
from printcheck.measure.uneven_light import LocalLight, local_light
from printcheck.pattern.layout import Layout
from printcheck.register.result import Registration
from printcheck.robust import MAD_SD, middle_of, quantile_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["PaperLight", "read_paper"]

_PIECE_MM = 8.0  # a band of 25 mm still shows four fifths of its height
_NARROWEST_MM = 1.5  # narrower gaps take colour from their neighbours: blur, and JPEG's halved chroma
_CLEAR_MM = 1.5  # of what is printed beside the margin
_LEAST_PIECES = 6  # of paper: planes through fewer follow whatever they show
_DUST = 4.5  # median deviations of its samples, three standard deviations, beyond which one is no paper
_NEIGHBOURS = 5  # pieces of paper that foretell one in their midst: a plane has three unknowns
_ASIDE = 0.05  # of the pieces at either end, which may be dirt or a fold
_ACROSS = 7  # places across and down an area over which its light is averaged
_TOLD = 0.4  # of the light beyond the planes, to which others may tell a piece where it changes from one to the next
_REACH_MM = 30.0  # standard deviation of the weights: follows a lamp and a soft shadow, averages over paper's clouds


@dataclass(frozen=True, slots=True)
class PaperLight:
    """Linear light of bare paper over the page.

    Attributes
    ----------
    centres : (N, 2) float64
        mm on the page.
    light : (N, 3) float64
        R, G, B, 0 to 1, at each.
    sd : (3,) float64
        Scatter about the fit: texture of the paper, and what light does between the gaps. Relative.
    local : LocalLight or None
        What the planes don't follow, where there is much of it.
    """

    centres: NDArray[np.float64]
    light: NDArray[np.float64]
    sd: NDArray[np.float64]
    local: LocalLight | None = None

    def at(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Light (M, 3) at `points` (M, 2)."""
        planes = _planes(np.asarray(points, np.float64), self.centres, self.light)
        return planes if self.local is None else planes * (1.0 + self.local.at(np.asarray(points, np.float64)))

    def over(self, boxes: Sequence[Box]) -> NDArray[np.float64]:
        """Mean light (N, 3) over each of `boxes`."""
        if self.local is None:  # of a plane it is the middle's
            return self.at(np.array([box.centre for box in boxes]))
        part = (np.arange(_ACROSS) + 0.5) / _ACROSS
        points = [(b.x0 + u * b.width, b.y0 + v * b.height) for b in boxes for u in part for v in part]
        return np.asarray(self.at(np.array(points)).reshape(len(boxes), -1, 3).mean(axis=1))

    @property
    def mean(self) -> NDArray[np.float64]:
        """Light (3,) in the middle of all pieces."""
        return middle_of(self.light)

    @property
    def unevenness(self) -> float:
        """Share by which the darkest parts of the paper have less light than the lightest, a twentieth set aside."""
        green = self.light[:, 1]
        return 1.0 - quantile_of(green, _ASIDE) / max(quantile_of(green, 1.0 - _ASIDE), 1e-6)


def _planes(
    points: NDArray[np.float64], centres: NDArray[np.float64], light: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Values (M, 3) at `points` (M, 2) of weighted planes through `light` (N, 3) at `centres` (N, 2)."""
    weight = np.zeros((len(points), len(centres)))
    for k in (0, 1):  # in place: memory of its own for each step costs a third more
        apart = centres[:, k] - points[:, k, None]
        apart /= _REACH_MM
        apart *= apart
        weight += apart
    weight *= -0.5
    np.exp(weight, out=weight)
    weight += 1e-6
    design, at = (np.column_stack([np.ones(len(place)), place / _REACH_MM]) for place in (centres, points))
    normal = (weight @ (design[:, :, None] * design[:, None]).reshape(-1, 9)).reshape(-1, 3, 3)
    # a little pull towards no slope, so that pieces all in one line do not tilt the plane across it
    normal += np.diag([0.0, 0.3, 0.3])
    right = (weight @ (design[:, :, None] * light[:, None]).reshape(-1, 9)).reshape(-1, 3, 3)
    return np.asarray(np.matmul(at[:, None], np.linalg.solve(normal, right))[:, 0])


def _neighbours(places: NDArray[np.float64]) -> NDArray[np.int64]:
    """Indices (N, `_NEIGHBOURS`) of the pieces nearest to each of `places` (N, 2), itself left out."""
    dx, dy = (places[:, k] - places[:, k, None] for k in (0, 1))
    apart = dx**2 + dy**2
    np.fill_diagonal(apart, np.inf)
    return np.asarray(np.argpartition(apart, _NEIGHBOURS, axis=1)[:, :_NEIGHBOURS], np.int64)


def _typical(samples: NDArray[np.float32]) -> NDArray[np.float64]:
    """Means (N, 3) of `samples` (N, M, 3) clear of dust; a median would come in steps of the picture's 8 bits."""
    grey = samples[..., 1]
    off = np.abs(grey - middle_of(grey, 1)[:, None])
    near = (off <= _DUST * middle_of(off, 1)[:, None] + 0.01).astype(np.float32)
    found = np.matmul(near[:, None], samples)[:, 0] / near.sum(axis=1)[:, None]
    return np.asarray(found, np.float64)


def _margin(layout: Layout) -> list[Box]:
    """Bare paper beyond the run-off strips, between the marks there: without it their light would be extrapolated."""
    strips = [patch.box for patch in layout.patches_of("strip")]
    if not strips:
        return []
    x0 = max(box.x1 for box in strips) + _CLEAR_MM
    beside = sorted((mark.box for mark in layout.marks if mark.box.x1 > x0), key=lambda box: box.y0)
    if not beside:
        return []
    x1 = max(box.x1 for box in beside)
    top, foot = min(box.y0 for box in strips), max(box.y1 for box in strips)
    ends = [top, *(y for box in beside for y in (box.y0 - _CLEAR_MM, box.y1 + _CLEAR_MM) if top < y < foot), foot]
    between = [Box(x0, a, x1, b) for a, b in itertools.pairwise(ends) if b - a > _CLEAR_MM]
    return [gap for gap in between if not any(m.y0 < gap.centre[1] < m.y1 for m in beside)]


def read_paper(pixels: Pixels, registration: Registration) -> PaperLight | None:
    """Read all bare gaps of the sheet; none where too few can be seen."""
    places, found = _pieces(pixels, registration)
    if len(places) < _LEAST_PIECES:
        return None
    keep: NDArray[np.bool_] = np.ones(len(found), bool)
    like: LocalLight | None = None
    for last in (False, False, True):
        planes = PaperLight(places[keep], found[keep], np.zeros(3))
        relative = found / np.maximum(planes.at(places), 1e-6) - 1.0
        local = local_light(planes.centres, relative[keep], registration, like)
        clean = keep if last else _clean(places, relative, keep, local)
        if np.array_equal(clean, keep):
            break
        keep, like = clean, local[0] if local else like
    left = relative[keep]
    if local is not None:
        left = (1.0 + left) / (1.0 + local[0].at(planes.centres)) - 1.0
    return replace(planes, sd=left.std(axis=0), local=local[0] if local else None)


def _pieces(pixels: Pixels, registration: Registration) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles (N, 2) of all pieces of bare gaps that can be seen, mm, and the light (N, 3) on them."""
    centres: list[tuple[float, float]] = []
    light = [np.zeros((0, 3))]
    gaps = [paper.box for paper in registration.layout.papers]
    for box in [gap for gap in gaps if min(gap.width, gap.height) >= _NARROWEST_MM] + _margin(registration.layout):
        values = light_in(pixels, registration, box)
        if values is None:
            continue
        lies = box.width >= box.height
        if not lies:  # cut along its length
            values = values.swapaxes(0, 1)
        length = box.width if lies else box.height
        count = max(1, round(length / _PIECE_MM))
        long = values.shape[1] // count
        if long < 2:
            continue
        pieces = values[:, : count * long].reshape(len(values), count, long, 3).swapaxes(0, 1)
        light.append(_typical(np.ascontiguousarray(pieces).reshape(count, -1, 3)))
        # pieces are whole samples long, so a little of the gap's end is left over
        steps = [(k + 0.5) * length * long / values.shape[1] for k in range(count)]
        centres += [(box.x0 + d, box.centre[1]) if lies else (box.centre[0], box.y0 + d) for d in steps]
    return np.array(centres).reshape(-1, 2), np.concatenate(light)


def _clean(
    places: NDArray[np.float64],
    relative: NDArray[np.float64],
    keep: NDArray[np.bool_],
    local: tuple[LocalLight, NDArray[np.float64]] | None,
) -> NDArray[np.bool_]:
    """Which pieces (N,) hold no dirt, by how they lie `relative` (N, 3) to the planes through those to `keep`."""
    if local is None:
        # dirt is alone; where neighbours deviate together it is light that no plane follows
        alone = relative - middle_of(relative[_neighbours(places)], 1)
        told = 1e-4
    else:  # and where it changes from one to the next, what all of them tell counts
        alone = relative - local[0].at(places)
        alone[keep] = local[1]
        told = _TOLD * float(relative[keep].std())
    spread = MAD_SD * middle_of(np.abs(alone[keep])) + told
    clean = np.asarray((np.abs(alone) <= 4 * spread).all(axis=1), bool)
    return clean if clean.sum() >= _LEAST_PIECES else np.ones(len(clean), bool)
