"""Why no sheet was found in a picture, and the one thing to change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printcheck.errors import RescanError
from printcheck.limits import LIMITS
from printcheck.pattern.marks import SHEET_MARKS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.register.locate import Sighting

__all__ = ["dark_or_blurred", "no_sheet"]

_FLAT = 40.0  # grey levels; a picture with less contrast shows nothing that could be sharp
_LEAST_LONG_SIDE_PX = 1100  # an A4 page that fills such a picture shows at 94 dots/inch


def no_sheet(reduced: NDArray[np.uint8], sighting: Sighting, ours: bool, long_side_px: int) -> RescanError:
    """The refusal of a picture in which the sheet's marks don't make up a page.

    Parameters
    ----------
    reduced : (H, W) uint8
        Darkest channel.
    sighting : Sighting
        What was seen at the best reduction.
    ours : bool
        A code of one of our sheets was read.
    long_side_px : int
        Of the full-size picture.
    """
    need = LIMITS["marks_needed"].value
    count = sum(mark.number in SHEET_MARKS for mark in sighting.marks)
    if len(sighting.marks) - count >= LIMITS["marks_needed"].value and not (count or ours):
        return RescanError(
            "a control strip is in the picture, but no test sheet; lay the strip beside a sheet, or read its colours "
            "with `printcheck strip read`", measure="marks", value=0, limit=need,
        )  # fmt: skip
    if long_side_px < _LEAST_LONG_SIDE_PX:
        why = f"the picture is too small, {long_side_px} pixels along its long side"
        what = "scan at 300 dots/inch, or photograph the sheet so that it fills a picture of 8 megapixels or more"
        return RescanError(f"{why}; {what}", measure="picture_size", value=long_side_px, limit=_LEAST_LONG_SIDE_PX)
    if ours or count:
        why = f"only {count} of the sheet's corner squares can be read"
        what = "put the whole sheet in the picture, nothing lying on it, sharp and evenly lit"
        return RescanError(f"{why}; {what}", measure="marks", value=count, limit=need)
    poor = dark_or_blurred(reduced)
    if poor is not None:
        return poor
    text = (
        "no test sheet found in the picture; put the whole printed side of a sheet made by `printcheck pattern` "
        "in it, sharp and evenly lit"
    )
    return RescanError(text, measure="marks", value=0, limit=need)


def dark_or_blurred(reduced: NDArray[np.uint8]) -> RescanError | None:
    """The refusal of a picture too dark or too blurred to find anything in; none where it is neither."""
    low, middle, high = (float(v) for v in np.percentile(reduced[::4, ::4], (1, 50, 99)))
    if middle < LIMITS["picture_dark"].value:
        text = "the picture is too dark to read the sheet in; more light, evenly from both sides"
        return RescanError(text, measure="picture_dark", value=middle, limit=LIMITS["picture_dark"].value)
    slope = _steepest(reduced) / max(high - low, 1.0)
    if high - low > _FLAT and slope < LIMITS["picture_slope"].value:
        text = "nothing in the picture is sharp; hold steadier or rest the phone, tap to focus, wipe the lens"
        return RescanError(text, measure="picture_slope", value=slope, limit=LIMITS["picture_slope"].value)
    return None


def _steepest(image: NDArray[np.uint8]) -> float:
    """Steepest edges of the picture, grey levels a pixel: the 99.9th percentile of neighbours' differences."""
    down = np.abs(np.diff(image[::2].astype(np.int16), axis=1))
    across = np.abs(np.diff(image[:, ::2].astype(np.int16), axis=0))
    return float(max(np.percentile(down, 99.9), np.percentile(across, 99.9)))
