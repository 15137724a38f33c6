"""Register one picture: find the sheet, read what it says of itself, and map the page onto the pixels."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from printcheck.errors import RescanError
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.pattern.code import LAYOUT_VERSION, Announcement
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.marks import SHEET_MARKS_EACH
from printcheck.pattern.pages import page_named
from printcheck.register.alignment import align_marks
from printcheck.register.codes import code_texts, decoded, texts_of
from printcheck.register.combs import refine_by_combs
from printcheck.register.field import fit_registration
from printcheck.register.fit import PageFit, fit_pages
from printcheck.register.locate import (
    Reduction,
    Sighting,
    marks_as_they_are,
    reductions,
    see,
    see_as_it_is,
    see_halved,
)
from printcheck.register.refusal import no_sheet, refuse_sliver, unfit_picture
from printcheck.register.result import DOUBLE, Registration, apply_homography

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Glimpse", "look_early", "register_early", "register_sheet"]

_FINE_ENOUGH_PX_PER_MM = 4.7  # 120 dots/inch: a page so fine is registered as well as any, measured on photos
_WORTH_HALVING_PX = 800  # half of it shows a page's modules as 3 pixels, which the marks' detector needs


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
    """What a smaller copy of a picture shows, in pixels of the whole; see `look_early` and `register_early`."""

    seen: _Seen
    registration: Registration | None


def look_early(reduced: NDArray[Any], factor: int) -> Glimpse | None:
    """Find the sheet on a picture `reduced` by `factor`; none unless all its marks and a code are seen."""
    reduction = Reduction(factor, reduced)
    seen = _all_of(see_as_it_is(reduction), reduction)
    return None if seen is None else Glimpse(seen, None)


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
        What a smaller copy of `pixels` has shown already.

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
    aligned = align_marks(pixels, layout, fit)
    marks, weak = aligned.corners, aligned.weak
    if len(marks) < LIMITS["marks_needed"].value:
        raise unfit_picture(seen.reduction.darkest, fit) or RescanError(
            f"only {len(marks)} of {len(layout.marks)} corner squares can be read; put the whole sheet in the "
            "picture, uncovered and sharp",
            measure="marks", value=len(marks), limit=LIMITS["marks_needed"].value,
        )  # fmt: skip
    some = "1 corner square was" if weak == 1 else f"{weak} corner squares were"
    warnings = (f"{some} left out: damaged or covered",) if weak else ()
    registration, left = fit_registration(layout, announcement.ticket, marks, pixels.shape[:2], warnings)
    if aligned.bend is not None:
        through = fit_registration(layout, announcement.ticket, marks, pixels.shape[:2], warnings, aligned.bend)
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
        ours = any(decoded(code.text) is not None for code in best.sighting.codes)
        raise no_sheet(best.reduction.darkest, best.sighting, ours, max(pixels.shape[:2]))
    return best


def _quick_look(reduction: Reduction) -> _Seen | None:
    """What half of an already reduced image shows, in a third of the time; none unless that is everything.

    A mark that is only overlooked would be sought where the plane of the others says, which bent paper leaves.
    """
    if min(reduction.coloured.shape[:2]) < _WORTH_HALVING_PX:
        return None
    return _all_of(see_halved(reduction), reduction)


def _all_of(sighting: Sighting, reduction: Reduction) -> _Seen | None:
    """The sheet that a hasty `sighting` shows; none unless that is all its marks and a code."""
    fits = fit_pages(sighting.marks)
    if not fits or len(fits[0].marks) < SHEET_MARKS_EACH or not any(decoded(code.text) for code in sighting.codes):
        return None
    return _Seen(fits, sighting, reduction)


def _is_mirrored(reduced: NDArray[np.uint8]) -> bool:
    fits = fit_pages(marks_as_they_are(np.ascontiguousarray(reduced[:, ::-1])))
    return bool(fits) and len(fits[0].marks) >= 3


def _refuse_newer(text: str) -> None:
    found = decoded(text)
    if found is not None and found.version > LAYOUT_VERSION:
        raise RescanError(
            f"the sheet has layout {found.version}, this program knows up to {LAYOUT_VERSION}; "
            "update printcheck, or print a fresh sheet with `printcheck pattern`",
            measure="layout", value=found.version, limit=LAYOUT_VERSION,
        )  # fmt: skip


def _refuse_two_sheets(pixels: NDArray[Any], seen: _Seen) -> None:
    """Two sheets in one picture are named and refused: which one to judge is not ours to guess."""
    texts = sorted({code.text for code in seen.sighting.codes if decoded(code.text) is not None})
    second = [fit for fit in seen.fits[1:] if len(fit.marks) >= 3]
    if len(texts) < 2 and not second:
        return
    if len(texts) < 2 and len(second):
        texts = sorted({*texts, *texts_of(pixels, second[0])})
    names = []
    for text in texts:
        found = decoded(text)
        if found is not None:
            head = found.head.name if found.head else f"layout {found.version}"
            names.append(f"{head} {found.page}" + (f" ticket {found.ticket}" if found.ticket else ""))
    if len(names) < 2:
        names.append("another sheet like it" if names else "two sheets without readable codes")
    raise RescanError(
        f"two sheets in one picture: {' and '.join(names)}; picture one sheet at a time", measure="sheets",
        value=2, limit=1,
    )  # fmt: skip


def _announcement(pixels: NDArray[Any], seen: _Seen, fit: PageFit) -> Announcement:
    """What the sheet's code says: from the reduced image, else from each code's place at full resolution."""
    for text in code_texts(pixels, (code.text for code in seen.sighting.codes), fit):
        found = decoded(text)
        if found is not None:
            _refuse_newer(text)
            return found
    poor = unfit_picture(seen.reduction.darkest, fit)
    if poor is not None:
        raise poor
    raise RescanError(
        "neither of the sheet's two codes can be read; put the whole sheet in the picture, both codes sharp, "
        "uncovered and free of reflections (if the head left them out on the paper, clean it and print again)",
        measure="code",
    )


def _layout(announcement: Announcement, fit: PageFit) -> Layout:
    if announcement.head is None or announcement.page.upper() != fit.page.name.upper():
        raise RescanError(
            f"the code says {announcement.page}, the corner squares are those of {fit.page.name}; "
            "picture one whole sheet, printed at 100 %",
            measure="sheets",
        )
    return build_layout(announcement.head, page_named(announcement.page), announcement.version)
