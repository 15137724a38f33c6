"""Why no sheet was found in a picture, and the one thing to change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.errors import RescanError
from printcheck.limits import LIMITS
from printcheck.pattern.marks import SHEET_MARKS
from printcheck.register.result import apply_homography
from printcheck.robust import MAD_SD

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels
    from printcheck.register.fit import PageFit
    from printcheck.register.locate import Sighting
    from printcheck.register.result import Registration

__all__ = ["no_sheet", "refuse_layers", "refuse_sliver", "refuse_too_coarse", "refuse_two_levels", "unfit_picture"]

_FLAT = LIMITS["picture_contrast"].value
_LARGER = "scan at 300 dots/inch, or photograph the sheet so that it fills a picture of 8 megapixels or more"
_APART = LIMITS["paper_apart"].value
_LOOK_PX = 240  # long side of the image in which paper is sought
_STEPS = ((0, 1), (1, 0), (1, 1), (1, -1))  # neighbours down and across: along, down, and both diagonals
_BLANK_PERCENT = LIMITS["picture_blank"].value
_SAMPLED_PX = 23  # pixels from sample to sample
_STRAY = int(LIMITS["marks_stray"].value)


def refuse_two_levels(pixels: Pixels) -> None:
    """Raise `RescanError` for line art: of a line thinner than a pixel chance decides whether it is kept.

    Samples a prime number of pixels apart are enough: any grey or colour in the picture has many levels among them.
    """
    sample = pixels[::_SAMPLED_PX, ::_SAMPLED_PX]
    if not ((sample > sample.min()) & (sample < sample.max())).any():
        raise RescanError(
            "the picture holds two levels alone, as line art and fax do, which drops thin lines; scan in colour at "
            "300 dots/inch", measure="levels", value=2, limit=3,
        )  # fmt: skip


def refuse_layers(*, layered: bool) -> None:
    """Raise `RescanError` for a page in layers: text is kept as two levels, pale lines as a coarse background."""
    if layered:
        raise RescanError(
            "the PDF keeps this page in layers (a compact or highly compressed PDF), which tears thin lines apart; "
            "scan it again as JPEG, PNG or plain PDF", measure="layers", value=2, limit=1,
        )  # fmt: skip


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
    least = LIMITS["picture_long_side"].value
    if long_side_px < least:
        why = f"the picture is too small, {long_side_px} pixels along its long side"
        return RescanError(f"{why}; {_LARGER}", measure="picture_size", value=long_side_px, limit=least)
    share, filled = _paper_share(reduced), LIMITS["picture_paper"].value
    far = share is not None and share < filled
    # of a sheet far away too few pixels lie on edges to tell whether they are sharp
    poor = _too_dark(reduced) if far else unfit_picture(reduced)
    if poor is not None:
        return poor
    if ours or count >= _STRAY:
        why = f"only {count} of the sheet's corner squares can be read"
        what = "put the whole sheet in the picture, nothing lying on it, sharp and evenly lit"
        return RescanError(f"{why}; {what}", measure="marks", value=count, limit=need)
    darkest, lightest = (float(v) for v in np.percentile(reduced[::4, ::4], (_BLANK_PERCENT, 99)))
    if lightest - darkest < _FLAT:  # beside a light bench a sheet far away looks like that too
        text = (
            f"nothing printed shows in the picture; {'go closer, so that the sheet fills it, ' if far else ''}"
            "scan the printed side, or where the sheet came out blank, see that the cartridge is seated and its tape "
            "is off, clean it and print again"
        )
        return RescanError(text, measure="marks", value=0, limit=need)
    if share is not None and far:
        fills = max(1, round(100 * share))
        text = (
            f"no test sheet found in the picture, and the largest light area fills only {fills} % of it; "
            "go closer, so that the sheet fills the picture, or scan it at 300 dots/inch"
        )
        return RescanError(text, measure="picture_size", value=share, limit=filled)
    text = (
        "no test sheet found in the picture; put the whole printed side of a sheet made by `printcheck pattern` "
        "in it, sharp and evenly lit"
    )
    return RescanError(text, measure="marks", value=0, limit=need)


def refuse_sliver(width_px: int, height_px: int) -> None:
    """Refuse a picture so narrow, or so long for its width, that nothing can be sought in it.

    Raises
    ------
    RescanError
        A sliver.
    """
    short, long = sorted((width_px, height_px))
    least = max(LIMITS["picture_short_side"].value, long / LIMITS["picture_aspect"].value)
    if short < least:
        why = f"the picture is a sliver of {width_px} by {height_px} pixels"
        raise RescanError(f"{why}; {_LARGER}", measure="picture_size", value=short, limit=least)


def unfit_picture(reduced: NDArray[np.uint8], fit: PageFit | None = None) -> RescanError | None:
    """The refusal of a picture too dark, too blurred or too coarse to read a sheet in; none where it is neither.

    Parameters
    ----------
    reduced : (H, W) uint8
        Darkest channel.
    fit : PageFit, optional
        Where the sheet's marks were found, but not all that is needed.
    """
    dark = _too_dark(reduced)
    if dark is not None:
        return dark
    if fit is not None:
        least = LIMITS["sheet_dots_per_inch"].value
        seen = _dots_per_inch(fit)
        if seen < least:
            text = f"the sheet shows at only {seen:.0f} dots/inch; go closer, so that it fills the picture"
            return RescanError(text, measure="sheet_dots_per_inch", value=seen, limit=least)
    low, high = (float(v) for v in np.percentile(reduced[::4, ::4], (1, 99)))
    slope = _bluntest(reduced) / max(high - low, 1.0)
    if high - low > _FLAT and slope < LIMITS["picture_slope"].value:
        text = "nothing in the picture is sharp; hold steadier or rest the phone, tap to focus, wipe the lens"
        return RescanError(text, measure="picture_slope", value=slope, limit=LIMITS["picture_slope"].value)
    return None


def _too_dark(reduced: NDArray[np.uint8]) -> RescanError | None:
    middle, least = float(np.median(reduced[::4, ::4])), LIMITS["picture_dark"].value
    if middle >= least:
        return None
    text = "the picture is too dark to read the sheet in; more light, evenly from both sides"
    return RescanError(text, measure="picture_dark", value=middle, limit=least)


def refuse_too_coarse(registration: Registration) -> None:
    """Refuse a sheet shown so small that its dashes fall between the pixels: whatever was read would be made up.

    Raises
    ------
    RescanError
        Fewer dots/inch than dashes need at the very least.
    """
    seen = 25.4 * min(registration.px_per_mm_x, registration.px_per_mm_y)
    least = LIMITS["sampled_dots_per_inch"].value
    if seen < least:
        text = f"the sheet shows at only {seen:.0f} dots/inch; go closer, so that it fills the picture"
        raise RescanError(text, measure="sheet_dots_per_inch", value=seen, limit=least)


def _dots_per_inch(fit: PageFit) -> float:
    """Of a sheet's middle: the square root of how much area 1 cm2 of it covers."""
    x, y = fit.page.width_mm / 2, fit.page.height_mm / 2
    square = np.array([[x - 5, y - 5], [x + 5, y - 5], [x + 5, y + 5], [x - 5, y + 5]])
    area = float(cv2.contourArea(apply_homography(fit.homography, square).astype(np.float32)))
    return float(2.54 * area**0.5)


def _bluntest(image: NDArray[np.uint8]) -> float:
    """Steepest edges across the direction in which the picture is blurred most, grey levels a pixel.

    The 99.9th percentile of neighbours' differences along four directions, and the least of them: a shaken picture is
    sharp across the shake and blurred along it.
    """
    wide = image.astype(np.int16)
    out = []
    for down, across in _STEPS:
        first = wide[: wide.shape[0] - down, max(0, -across) : wide.shape[1] - max(0, across)]
        second = wide[down:, max(0, across) : wide.shape[1] + min(0, across)]
        every_other = np.s_[:, ::2] if down else np.s_[::2]  # along the edges, so that none falls between
        apart = np.abs(second[every_other] - first[every_other])
        out.append(float(np.percentile(apart, 99.9) / np.hypot(down, across)))
    return float(min(out))


def _paper_share(image: NDArray[np.uint8]) -> float | None:
    """Share of the picture that its largest light area takes; none where light and dark don't part.

    Light is told from dark by N. Otsu's threshold (IEEE Trans. Syst. Man Cybern. 9(1), 1979). Where it parts nothing
    (a sheet so small that the bench's own shades outweigh it), light is what is nearer the lightest than the middle.
    """
    scale = _LOOK_PX / max(image.shape)
    small = cv2.GaussianBlur(cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), (0, 0), 1.5)
    _, light = cv2.threshold(small, 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    if not 0 < light.mean() < 1 or small[light > 0].mean() - small[light == 0].mean() < _FLAT:
        middle, lightest = float(np.median(small)), float(small.max())
        shades = MAD_SD * float(np.median(np.abs(small - np.float32(middle))))
        if lightest - middle < max(_FLAT / 2, _APART * shades):
            return None
        _, light = cv2.threshold(small, (middle + lightest) / 2, 1, cv2.THRESH_BINARY)
    _, _, stats, _ = cv2.connectedComponentsWithStats(light)
    return float(stats[1:, cv2.CC_STAT_AREA].max()) / light.size
