"""The sheet's two codes: read in the whole picture, else at the places where the page has them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.errors import PatternError
from printcheck.geometry import Box
from printcheck.pattern.code import Announcement, decode_announcement
from printcheck.pattern.heads import Head, HeadInk
from printcheck.pattern.layout import build_layout
from printcheck.register.fit import PageFit
from printcheck.register.locate import darkest_channel, find_codes
from printcheck.register.result import apply_homography

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["code_texts", "decoded", "texts_of"]

_CODE_VIEW_PX_PER_MM = 12.0  # a code's module of 0.5 mm as 6 pixels
_LEAST_PX = 40  # of the code's place in the picture: of less no module is left
_CODE_SEARCH_MM = 6.0  # room around a code's place, for what the first homography gets wrong


def decoded(text: str) -> Announcement | None:
    """What a code's text announces; none where it is no code of ours."""
    try:
        return decode_announcement(text)
    except PatternError:
        return None


def texts_of(pixels: NDArray[Any], fit: PageFit) -> list[str]:
    """What the codes of one of several sheets say, read at full resolution."""
    views = (_code_view(pixels, fit.homography, box) for box in _code_boxes(fit))
    codes = [code for view in views if view is not None for code in find_codes(view)]
    return [code.text for code in codes if decoded(code.text) is not None]


def code_texts(pixels: NDArray[Any], seen: Iterable[str], fit: PageFit) -> Iterator[str]:
    """Texts of the codes in the picture, those that cost least to read first.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
    seen : iterable of str
        What was read already.
    fit : PageFit
        Where the page lies.
    """
    yield from seen
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
    probe = build_layout(Head("probe", "", (HeadInk("K", 100, 600, 600),), ("K",)), fit.page)
    return [(c.box.x0, c.box.y0, c.box.x1, c.box.y1) for c in probe.codes]


def _code_view(
    pixels: NDArray[Any], homography: NDArray[np.float64], box: tuple[float, float, float, float]
) -> NDArray[np.uint8] | None:
    """The code's place, upright, at `_CODE_VIEW_PX_PER_MM`; none where it is outside the picture."""
    x0, _, x1, _ = box
    grow = _CODE_SEARCH_MM
    quad_mm = np.array(Box(*box).inset(-grow).corners)
    quad = apply_homography(homography, quad_mm)
    low, high = np.floor(quad.min(axis=0)).astype(int), np.ceil(quad.max(axis=0)).astype(int) + 1
    low = np.maximum(low, 0)
    high = np.minimum(high, (pixels.shape[1], pixels.shape[0]))
    if (high - low).min() < _LEAST_PX:
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
