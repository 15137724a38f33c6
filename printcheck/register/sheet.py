"""Register one picture: find the sheet, read what it says of itself, and map the page onto the pixels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.errors import PatternError, RescanError
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.pattern.code import LAYOUT_VERSION, Announcement, decode_announcement
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.marks import SHEET_MARKS_EACH
from printcheck.pattern.pages import page_named
from printcheck.register.bend import Bend, find_bend
from printcheck.register.combs import refine_by_combs
from printcheck.register.field import fit_registration
from printcheck.register.fit import PageFit, fit_pages
from printcheck.register.locate import (
    Reduction,
    Sighting,
    find_codes,
    marks_as_they_are,
    reductions,
    see,
    see_halved,
)
from printcheck.register.refine import refine_mark
from printcheck.register.refusal import no_sheet, refuse_sliver, unfit_picture
from printcheck.register.result import DOUBLE, Registration, apply_homography

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Glimpse", "register_early", "register_sheet"]

_CODE_VIEW_PX_PER_MM = 12.0  # a code's module of 0.5 mm as 6 pixels
_CODE_SEARCH_MM = 6.0  # room around a code's place, for what the first homography gets wrong
_SAME_SHAPE = 0.035  # relative difference of a side: a cut of 0.3 mm makes more
_NEIGHBOURS = 3  # marks that a bend of the paper changes like the one between them
_FINE_ENOUGH_PX_PER_MM = 4.7  # 120 dots/inch: a page so fine is registered as well as any, measured on photos
_WORTH_HALVING_PX = 800  # half of it shows a page's modules as 3 pixels, which the marks' detector needs
_BEND_NEEDS = 8  # marks: a distortion and a plane are nine unknowns
_BEND_FROM_MM = 0.5  # off a plane, root mean square: less is left to the field
_BEND_EXPLAINS = 0.5  # of that, at most, may be left
_GOOD_MARK = 0.85  # correlation below which a mark is covered, smeared or another thing altogether


@dataclass(frozen=True, slots=True)
class _Seen:
    fits: list[PageFit]
    sighting: Sighting
    reduction: Reduction

    def doubled(self) -> _Seen:
        """The same in pixels of a picture twice the size."""
        marks = tuple(replace(mark, corners=_doubled(mark.corners)) for mark in self.sighting.marks)
        codes = tuple(replace(code, corners=_doubled(code.corners)) for code in self.sighting.codes)
        fits = [
            PageFit(
                fit.page,
                DOUBLE @ fit.homography,
                {number: _doubled(corners) for number, corners in fit.marks.items()},
            )
            for fit in self.fits
        ]
        return _Seen(fits, Sighting(2 * self.sighting.factor, marks, codes), self.reduction)


def _doubled(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    return apply_homography(DOUBLE, corners)


@dataclass(frozen=True, slots=True)
class Glimpse:
    """What a picture of half the size shows, in pixels of the whole; see `register_early`."""

    seen: _Seen
    registration: Registration | None


def register_early(half: NDArray[Any]) -> Glimpse | None:
    """Find the sheet on a picture of half the size, and register it there where that is fine enough.

    None where it shows no sheet or something is amiss: the whole picture is then to be looked at.
    """
    try:
        seen = _look(half)
        registration = _registered(half, seen) if _is_fine(seen.fits) else None
    except RescanError:
        return None
    return Glimpse(seen.doubled(), None if registration is None else registration.doubled())


def _is_fine(fits: list[PageFit]) -> bool:
    """True where the sheet itself is large enough in the picture, along its shortest side."""
    if not fits:
        return False
    page = fits[0].page
    corners = apply_homography(fits[0].homography, np.array(Box(0.0, 0.0, page.width_mm, page.height_mm).corners))
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    mm = np.array([page.width_mm, page.height_mm, page.width_mm, page.height_mm])
    return bool((sides / mm).min() >= _FINE_ENOUGH_PX_PER_MM)


def register_sheet(pixels: NDArray[Any], glimpse: Glimpse | None = None) -> Registration:
    """Find the sheet in `pixels` and register it.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
        Grey or BGR, in any orientation.
    glimpse : Glimpse, optional
        What a half-size copy of `pixels` has shown already.

    Raises
    ------
    RescanError
        No sheet, too few marks, no readable code, a mirrored picture, two sheets, a newer layout.
    """
    early = None if glimpse is None else glimpse.registration
    # half the size leaves pale dashes of a curled sheet untold, which the whole may show
    if early is not None and early.doubt_mm <= LIMITS["sheet_flat"].value:
        return early
    return _registered(pixels, glimpse.seen if glimpse is not None and glimpse.seen.fits else _look(pixels))


def _registered(pixels: NDArray[Any], seen: _Seen) -> Registration:
    _refuse_two_sheets(pixels, seen)
    fit = seen.fits[0]
    announcement = _announcement(pixels, seen, fit)
    layout = _layout(announcement, fit)
    marks, weak, bend = _refined(pixels, layout, fit)
    if len(marks) < LIMITS["marks_needed"].value:
        raise unfit_picture(seen.reduction.darkest, fit) or RescanError(
            f"only {len(marks)} of {len(layout.marks)} corner squares can be read; put the whole sheet in the "
            "picture, uncovered and sharp",
            measure="marks", value=len(marks), limit=LIMITS["marks_needed"].value,
        )  # fmt: skip
    some = "1 corner square was" if weak == 1 else f"{weak} corner squares were"
    warnings = (f"{some} left out: damaged or covered",) if weak else ()
    registration, left = fit_registration(layout, announcement.ticket, marks, pixels.shape[:2], warnings)
    if bend is not None:
        through = fit_registration(layout, announcement.ticket, marks, pixels.shape[:2], warnings, bend)
        if through[0].doubt_mm < registration.doubt_mm:
            registration, left = through
    return refine_by_combs(pixels, registration, left)


def _look(pixels: NDArray[Any]) -> _Seen:
    """The coarsest reduction that shows a sheet with a readable code; else the best there was."""
    refuse_sliver(pixels.shape[1], pixels.shape[0])
    best: _Seen | None = None
    for reduction in reductions(pixels):
        if best is None and (quick := _quick_look(reduction)) is not None:
            return quick
        sighting = see(reduction)
        fits = fit_pages(sighting.marks)
        if best is None or (fits and (not best.fits or len(fits[0].marks) > len(best.fits[0].marks))):
            best = _Seen(fits, sighting, reduction)
        if fits and len(fits[0].marks) >= LIMITS["marks_needed"].value:
            return _Seen(fits, sighting, reduction)
        for code in sighting.codes:
            _refuse_newer(code.text)
        if not fits and _is_mirrored(reduction.darkest):
            raise RescanError(
                "the picture is mirrored; scan the printed side, and turn off any mirror or transparency setting",
                measure="mirrored",
            )
    assert best is not None  # `reductions` yields at least once
    if not best.fits:
        ours = any(_decoded(code.text) is not None for code in best.sighting.codes)
        raise no_sheet(best.reduction.darkest, best.sighting, ours, max(pixels.shape[:2]))
    return best


def _quick_look(reduction: Reduction) -> _Seen | None:
    """What half of an already reduced image shows, in a third of the time; none unless that is everything.

    A mark that is only overlooked would be sought where the plane of the others says, which bent paper leaves.
    """
    if min(reduction.coloured.shape[:2]) < _WORTH_HALVING_PX:
        return None
    sighting = see_halved(reduction)
    fits = fit_pages(sighting.marks)
    if not fits or len(fits[0].marks) < SHEET_MARKS_EACH or not any(_decoded(code.text) for code in sighting.codes):
        return None
    return _Seen(fits, sighting, reduction)


def _is_mirrored(reduced: NDArray[np.uint8]) -> bool:
    fits = fit_pages(marks_as_they_are(np.ascontiguousarray(reduced[:, ::-1])))
    return bool(fits) and len(fits[0].marks) >= 3


def _refuse_newer(text: str) -> None:
    found = _decoded(text)
    if found is not None and found.version > LAYOUT_VERSION:
        raise RescanError(
            f"the sheet has layout {found.version}, this program knows up to {LAYOUT_VERSION}; "
            "update printcheck, or print a fresh sheet with `printcheck pattern`",
            measure="layout", value=found.version, limit=LAYOUT_VERSION,
        )  # fmt: skip


def _decoded(text: str) -> Announcement | None:
    try:
        return decode_announcement(text)
    except PatternError:
        return None


def _refuse_two_sheets(pixels: NDArray[Any], seen: _Seen) -> None:
    """Two sheets in one picture are named and refused: which one to judge is not ours to guess."""
    texts = sorted({code.text for code in seen.sighting.codes if _decoded(code.text) is not None})
    second = [fit for fit in seen.fits[1:] if len(fit.marks) >= 3]
    if len(texts) < 2 and not second:
        return
    if len(texts) < 2 and len(second):
        texts = sorted({*texts, *_texts_of(pixels, second[0])})
    names = []
    for text in texts:
        found = _decoded(text)
        if found is not None:
            head = found.head.name if found.head else f"layout {found.version}"
            names.append(f"{head} {found.page}" + (f" ticket {found.ticket}" if found.ticket else ""))
    if len(names) < 2:
        names.append("another sheet like it" if names else "two sheets without readable codes")
    raise RescanError(
        f"two sheets in one picture: {' and '.join(names)}; picture one sheet at a time", measure="sheets",
        value=2, limit=1,
    )  # fmt: skip


def _texts_of(pixels: NDArray[Any], fit: PageFit) -> list[str]:
    """What the codes of one of several sheets say, read at full resolution."""
    views = (_code_view(pixels, fit.homography, box) for box in _code_boxes(fit))
    codes = [code for view in views if view is not None for code in find_codes(view)]
    return [code.text for code in codes if _decoded(code.text) is not None]


def _announcement(pixels: NDArray[Any], seen: _Seen, fit: PageFit) -> Announcement:
    """What the sheet's code says: from the reduced image, else from each code's place at full resolution."""
    for text in _code_texts(pixels, seen, fit):
        found = _decoded(text)
        if found is not None:
            _refuse_newer(text)
            return found
    poor = unfit_picture(seen.reduction.darkest, fit)
    if poor is not None:
        raise poor
    raise RescanError(
        "neither of the sheet's two codes can be read; keep both codes in the picture, uncovered and sharp",
        measure="code",
    )


def _code_texts(pixels: NDArray[Any], seen: _Seen, fit: PageFit) -> Iterator[str]:
    """Texts of the codes in the picture, those that cost least to read first."""
    yield from (code.text for code in seen.sighting.codes)
    views = []
    for box in _code_boxes(fit):
        view = _code_view(pixels, fit.homography, box)
        if view is None:
            continue
        views.append(view)
        # a code cut by dead rows is often closed again by darkening it along the feed
        for image in (view, cv2.erode(view, np.ones((5, 1), np.uint8)), cv2.GaussianBlur(view, (0, 0), 2.0)):
            yield from (code.text for code in find_codes(np.asarray(image, np.uint8)))
    if len(views) == 2:  # what dead rows took from one copy stands in the other
        yield from (code.text for code in find_codes(_overlaid(views[0], views[1])))


def _code_boxes(fit: PageFit) -> list[tuple[float, float, float, float]]:
    """Where the codes lie: the same for every head on a page, so any head's layout tells."""
    from printcheck.pattern.heads import Head, HeadInk

    probe = build_layout(Head("probe", "", (HeadInk("K", 100, 600, 600),), ("K",)), fit.page)
    return [(c.box.x0, c.box.y0, c.box.x1, c.box.y1) for c in probe.codes]


def _code_view(
    pixels: NDArray[Any], homography: NDArray[np.float64], box: tuple[float, float, float, float]
) -> NDArray[np.uint8] | None:
    """The code's place, upright, at `_CODE_VIEW_PX_PER_MM`; none where it is outside the picture."""
    from printcheck.register.locate import darkest_channel

    x0, _, x1, _ = box
    grow = _CODE_SEARCH_MM
    quad_mm = np.array(Box(*box).inset(-grow).corners)
    quad = apply_homography(homography, quad_mm)
    low, high = np.floor(quad.min(axis=0)).astype(int), np.ceil(quad.max(axis=0)).astype(int) + 1
    low = np.maximum(low, 0)
    high = np.minimum(high, (pixels.shape[1], pixels.shape[0]))
    if (high - low).min() < 40:
        return None
    crop = darkest_channel(pixels[low[1] : high[1], low[0] : high[0]])
    side = round((x1 - x0 + 2 * grow) * _CODE_VIEW_PX_PER_MM)
    corners = np.array([[0, 0], [side, 0], [side, side], [0, side]], np.float32) - 0.5
    warp = cv2.getPerspectiveTransform((quad - low).astype(np.float32), corners)
    return np.asarray(cv2.warpPerspective(crop, warp, (side, side), flags=cv2.INTER_LINEAR, borderValue=255))


def _overlaid(a: NDArray[np.uint8], b: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The darker of two views of the same code, after `b` is shifted onto `a`."""
    window = cv2.createHanningWindow((a.shape[1], a.shape[0]), cv2.CV_32F)
    (dx, dy), _ = cv2.phaseCorrelate(a.astype(np.float32), b.astype(np.float32), window)
    shift = np.array([[1, 0, -dx], [0, 1, -dy]])
    moved = cv2.warpAffine(b, shift, (a.shape[1], a.shape[0]), borderValue=255)
    return np.asarray(cv2.min(a, moved))


def _layout(announcement: Announcement, fit: PageFit) -> Layout:
    if announcement.head is None or announcement.page.upper() != fit.page.name.upper():
        raise RescanError(
            f"the code says {announcement.page}, the corner squares are those of {fit.page.name}; "
            "picture one whole sheet, printed at 100 %",
            measure="sheets",
        )
    return build_layout(announcement.head, page_named(announcement.page), announcement.version)


def _refined(
    pixels: NDArray[Any], layout: Layout, fit: PageFit
) -> tuple[dict[int, NDArray[np.float64]], int, Bend | None]:
    """Every mark of the layout at full resolution, those the detector overlooked included; how many are weak.

    With them the distortion of a lens so wide that marks lie far off their plane for it.
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
    return out, weak, bend


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
    moved = away @ np.linalg.solve(turned @ away, turned @ target) + target.mean(axis=1, keepdims=True)
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
