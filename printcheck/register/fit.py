"""From marks to a map: which page, one sheet or two, and the homography of the page.

The homography is fitted to all corners of all marks that agree (RANSAC, M. Fischler and R. Bolles, Commun. ACM
24(6), 1981; OpenCV), so four marks that are not in one line suffice in any arrangement.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.pattern.elements import Mark
from printcheck.pattern.marks import MARK_SIDE_MM, place_marks
from printcheck.pattern.pages import PAGES, Page
from printcheck.register.result import apply_homography

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.register.locate import FoundMark

__all__ = ["PageFit", "fit_pages"]

_AGREE_MM = 3.0  # first, coarse agreement of a mark with the page's homography: curl and lens bend shift marks so far
# of the distance to the nearest mark that agrees, by which a mark may lie off, and from how many such marks on
_REACH = ((0.03, 4), (0.12, 2), (0.35, 1))
_REFIT = 1.3  # growth of a set of marks after which its homography is fitted anew
_BENT_MM = 40.0  # a fifth of a page: a wide lens has moved marks by 20 mm, two sheets lie a page apart
_REFERENCE_RASTER = 600  # marks lie within a dot of the same place for every raster


@dataclass(frozen=True, slots=True)
class PageFit:
    """One sheet seen in the picture.

    Attributes
    ----------
    page : Page
    homography : (3, 3) float64
        Page mm to pixels.
    marks : dict of int to (4, 2) float64
        Corners in pixels of the marks that agree.
    """

    page: Page
    homography: NDArray[np.float64]
    marks: dict[int, NDArray[np.float64]]


def fit_pages(found: tuple[FoundMark, ...]) -> list[PageFit]:
    """The sheets that `found` marks make up, the one with most marks first.

    A mark number seen twice belongs to two sheets (or a false mark): after the first sheet's marks are taken
    away, the rest is tried again.
    """
    fits: list[PageFit] = []
    for page in PAGES.values():
        by_number = {mark.number: mark for mark in place_marks(page, _REFERENCE_RASTER)}
        left = [mark for mark in found if mark.number in by_number]
        while len(left) >= 2:
            fit = _fit_one(page, by_number, left)
            if fit is None or len(fit.marks) < 2:
                break
            fits.append(fit)
            used = {id(corners) for corners in fit.marks.values()}
            left = [mark for mark in left if id(mark.corners) not in used]
    return _bent_ones_whole(sorted(fits, key=lambda fit: -len(fit.marks)))


def _bent_ones_whole(fits: list[PageFit]) -> list[PageFit]:
    """The sheets, parts of one that a wide lens has bent beyond any plane put together.

    Two sheets show some number twice, or lie a page apart; parts of one show each number once, about where the
    others expect it.
    """
    out: list[PageFit] = []
    for part in fits:
        for k, whole in enumerate(out):
            if part.page == whole.page and part.marks.keys().isdisjoint(whole.marks) and _about_there(part, whole):
                joined = _joined(whole, part)
                if joined is not None:
                    out[k] = joined
                    break
        else:
            out.append(part)
    return out


def _about_there(part: PageFit, whole: PageFit) -> bool:
    """Every mark of `part` lies within `_BENT_MM` of where the map of `whole` has it."""
    places = {mark.number: np.array(mark.box.centre) for mark in place_marks(part.page, _REFERENCE_RASTER)}
    back = np.asarray(np.linalg.inv(whole.homography), np.float64)
    at = apply_homography(back, np.array([corners.mean(axis=0) for corners in part.marks.values()]))
    return bool(np.hypot(*(at - np.array([places[n] for n in part.marks])).T).max() < _BENT_MM)


def _joined(whole: PageFit, part: PageFit) -> PageFit | None:
    marks = whole.marks | part.marks
    ideal = {mark.number: np.array(mark.box.corners) for mark in place_marks(whole.page, _REFERENCE_RASTER)}
    matrix, _ = cv2.findHomography(np.concatenate([ideal[n] for n in marks]), np.concatenate(list(marks.values())), 0)
    return None if matrix is None else PageFit(whole.page, np.asarray(matrix, np.float64), marks)


def _fit_one(page: Page, by_number: dict[int, Mark], found: list[FoundMark]) -> PageFit | None:
    """Best homography over `found`: each mark alone proposes one, the proposals are judged by agreement."""
    ideal = {mark.number: np.array(by_number[mark.number].box.corners) for mark in found}
    best: list[FoundMark] = []
    middles = np.array([ideal[mark.number].mean(axis=0) for mark in found])
    apart = np.hypot(*(middles[:, None] - middles).transpose(2, 0, 1))
    for seed in range(len(found)):
        agreeing = _grow(seed, found, ideal, apart)
        if len(agreeing) > len(best):
            best = agreeing
        if 4 * len(best) >= 3 * len(found):  # the rest can't outvote it
            break
    if len(best) < 2:
        return None
    homography = _homography(best, ideal)
    if homography is None:
        return None
    return PageFit(page, homography, {mark.number: mark.corners for mark in best})


def _grow(
    seed: int, found: list[FoundMark], ideal: dict[int, NDArray[np.float64]], apart: NDArray[np.float64]
) -> list[FoundMark]:
    """Marks that agree with the `seed`-th of `found`, in order of their distance from it on the page.

    Parameters
    ----------
    ideal : dict of int to (4, 2) float64
        Corners on the page, mm.
    apart : (N, N) float64
        Distances of the N marks on the page, mm.
    """
    members, numbers = [seed], {found[seed].number}
    homography, fitted = None, 0
    for k in np.argsort(apart[seed], kind="stable").tolist():
        mark = found[k]
        if mark.number in numbers:
            continue
        if len(members) >= fitted * _REFIT:  # one more mark hardly changes what many say
            homography, fitted = _homography([found[m] for m in members], ideal), len(members)
        if homography is None:
            break
        at = apply_homography(homography, ideal[mark.number])
        side = float(np.hypot(*(mark.corners[0] - mark.corners[2]))) / (MARK_SIDE_MM * np.sqrt(2))
        # a homography grown from few marks is uncertain in proportion to the distance it must reach
        share = next(share for share, marks in _REACH if len(members) >= marks)
        reach = share * float(apart[k, members].min())
        if np.abs((at - mark.corners).sum(axis=0)).max() / 4 < (_AGREE_MM + reach) * side:
            members.append(k)
            numbers.add(mark.number)
    return [found[m] for m in members]


def _homography(marks: list[FoundMark], ideal: dict[int, NDArray[np.float64]]) -> NDArray[np.float64] | None:
    """Least-squares homography; from a single mark only its similarity, whose reach is farther."""
    source = np.concatenate([ideal[m.number] for m in marks])
    target = np.concatenate([m.corners for m in marks])
    if len(marks) < 3:
        affine, _ = cv2.estimateAffinePartial2D(source, target, method=cv2.LMEDS)
        return None if affine is None else np.vstack([affine, [0.0, 0.0, 1.0]])
    matrix, _ = cv2.findHomography(source, target, 0)
    return None if matrix is None else np.asarray(matrix, np.float64)
