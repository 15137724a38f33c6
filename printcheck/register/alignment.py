"""Every mark of the layout at full resolution, those that are cut short or covered put right by the others.

A mark that dead rows cut, or something covers, aligns as another shape. What shape it ought to have the plane of all
marks tells, or where the paper bends or the lens does, the marks next to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.limits import LIMITS
from printcheck.pattern.layout import Layout
from printcheck.register.bend import Bend, find_bend
from printcheck.register.fit import PageFit
from printcheck.register.refine import refine_mark
from printcheck.register.result import apply_homography

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Alignment", "align_marks"]

_SAME_SHAPE = 0.035  # relative difference of a side: a cut of 0.3 mm makes more
_NEIGHBOURS = 3  # marks that a bend of the paper changes like the one between them
_BEND_NEEDS = 8  # marks: a distortion and a plane are nine unknowns
_BEND_FROM_MM = 0.5  # off a plane, root mean square: less is left to the field
_BEND_EXPLAINS = 0.5  # of that, at most, may be left
_GOOD_MARK = LIMITS["mark_correlation"].value


@dataclass(frozen=True, slots=True)
class Alignment:
    """Where the marks lie.

    Attributes
    ----------
    corners : dict of int to (4, 2) float64
        Pixels, by the mark's number.
    weak : int
        Marks in the picture that were left out: damaged or covered.
    bend : Bend or None
        Distortion of a lens so wide that marks lie far off their plane for it.
    """

    corners: dict[int, NDArray[np.float64]]
    weak: int
    bend: Bend | None


def align_marks(pixels: NDArray[Any], layout: Layout, fit: PageFit) -> Alignment:
    """Align every mark of the layout, those the detector overlooked included.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
    layout : Layout
    fit : PageFit
        Where the marks are to a pixel or two.
    """
    size = np.array([pixels.shape[1], pixels.shape[0]])
    ideal = {mark.number: np.array(mark.box.corners) for mark in layout.marks}
    bend = _bend_of(ideal, fit.marks, pixels.shape[:2])
    first = _common_plane(ideal, fit.marks, fit.homography, bend) if bend else _Plane(fit.homography)
    starts = _moved_onto(_placed(first, ideal), fit.marks)
    found: dict[int, NDArray[np.float64]] = {}
    for number, start in starts.items():
        if (start < 0).any() or (start >= size).any():
            continue
        refined = refine_mark(pixels, number, start)
        if refined is not None and refined[1] > _GOOD_MARK:
            found[number] = refined[0]
    plane = _common_plane(ideal, found, fit.homography, bend)
    misshapen = _misshapen(ideal, found, plane)
    out: dict[int, NDArray[np.float64]] = {}
    weak = 0
    for number, expected in _placed(plane, ideal).items():
        mine = found.get(number)
        if mine is not None:  # paper that bends carries a mark off the plane, whatever its shape
            expected = expected + (mine.mean(axis=0) - expected.mean(axis=0))
        if (expected < 0).any() or (expected >= size).any():
            continue
        if mine is None or number in misshapen:
            # cut by dead rows or half covered: let it only move, with the shape the others give it
            again = refine_mark(pixels, number, expected, rigid=True)
            mine = again[0] if again is not None and again[1] > _GOOD_MARK else None
        if mine is None:
            weak += 1
        else:
            out[number] = mine
    return Alignment(out, weak, bend)


@dataclass(frozen=True, slots=True)
class _Plane:
    """The page as a plane before a lens."""

    homography: NDArray[np.float64]
    bend: Bend | None = None

    def at(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Pixels (N, 2) of page points (N, 2)."""
        px = apply_homography(self.homography, points_mm)
        return px if self.bend is None else self.bend.bent(px)


def _bend_of(
    ideal: dict[int, NDArray[np.float64]], marks: dict[int, NDArray[np.float64]], picture: tuple[int, ...]
) -> Bend | None:
    """The lens's distortion, where marks lie too far off a plane for the field and it explains most of that."""
    known = [number for number in marks if number in ideal]
    if len(known) < _BEND_NEEDS:
        return None
    source = np.concatenate([ideal[number] for number in known])
    target = np.concatenate([marks[number] for number in known])
    before = _off_plane(source, target)
    if before < _BEND_FROM_MM:
        return None
    bend = find_bend(source, target, (picture[0], picture[1]))
    return bend if _off_plane(source, bend.straightened(target)) < _BEND_EXPLAINS * before else None


def _off_plane(page_mm: NDArray[np.float64], px: NDArray[np.float64]) -> float:
    """Root mean square distance, mm, of points `px` (N, 2) from where the plane through them has `page_mm` (N, 2)."""
    back, _ = cv2.findHomography(px, page_mm, 0)
    if back is None:
        return 0.0
    off = apply_homography(np.asarray(back, np.float64), px) - page_mm
    return float(np.sqrt(np.square(off).sum(axis=1).mean()))


def _placed(plane: _Plane, ideal: dict[int, NDArray[np.float64]]) -> dict[int, NDArray[np.float64]]:
    """Pixels (4, 2) of the corners of each mark, where `plane` has them."""
    places = plane.at(np.concatenate(list(ideal.values())))
    return dict(zip(ideal, places.reshape(-1, 4, 2), strict=True))


def _moved_onto(
    quads: dict[int, NDArray[np.float64]], corners: dict[int, NDArray[np.float64]]
) -> dict[int, NDArray[np.float64]]:
    """Each of `quads` (4, 2) under the affine map that brings it nearest to `corners`, as found to a pixel or two.

    What is left is how the corners' errors would foreshorten the mark. Aligning it does not change that, so it must
    come from the plane of all marks.
    """
    known = [number for number in quads if number in corners]
    if not known:
        return quads
    target = np.stack([corners[number] for number in known])
    quad = np.stack([quads[number] for number in known])
    away = quad - quad.mean(axis=1, keepdims=True)
    turned = away.swapaxes(1, 2)
    moved = away @ np.linalg.pinv(turned @ away) @ (turned @ target) + target.mean(axis=1, keepdims=True)
    return {**quads, **dict(zip(known, moved, strict=True))}


def _common_plane(
    ideal: dict[int, NDArray[np.float64]],
    found: dict[int, NDArray[np.float64]],
    first: NDArray[np.float64],
    bend: Bend | None,
) -> _Plane:
    """Plane of the marks, least median of squares: marks that are cut short don't sway it."""
    known = [number for number in found if number in ideal]
    if len(known) < 3:
        return _Plane(first)
    source = np.concatenate([ideal[number] for number in known])
    target = np.concatenate([found[number] for number in known])
    matrix, _ = cv2.findHomography(source, target if bend is None else bend.straightened(target), cv2.LMEDS)
    return _Plane(first) if matrix is None else _Plane(np.asarray(matrix, np.float64), bend)


def _misshapen(
    ideal: dict[int, NDArray[np.float64]], found: dict[int, NDArray[np.float64]], plane: _Plane
) -> set[int]:
    """Marks whose sides have neither the length that the common plane gives them nor that of the marks next to them.

    Bent paper and a lens that bends change neighbouring marks alike, dead rows and what covers a mark one of them.
    """
    numbers = list(found)
    if not numbers:
        return set()
    corners = np.concatenate([ideal[n] for n in numbers])
    sides = _sides(np.stack([found[n] for n in numbers])) / _sides(plane.at(corners).reshape(-1, 4, 2))
    middles = corners.reshape(-1, 4, 2).mean(axis=1)
    out = set()
    for k, number in enumerate(numbers):
        if np.abs(sides[k] - 1).max() <= _SAME_SHAPE:
            continue
        near = np.argsort(np.linalg.norm(middles - middles[k], axis=1))[1 : 1 + _NEIGHBOURS]
        if len(near) < _NEIGHBOURS or np.abs(sides[k] - np.median(sides[near], axis=0)).max() > _SAME_SHAPE:
            out.add(number)
    return out


def _sides(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lengths (N, 4) of the sides of quadrilaterals (N, 4, 2)."""
    along = corners[:, [1, 2, 3, 0]] - corners
    return np.hypot(along[..., 0], along[..., 1])
