"""Finding the marks and the codes on a reduced image.

The marks are found with the fiducial detector of OpenCV (S. Garrido-Jurado et al., "Automatic generation and
detection of highly reliable fiducial markers under occlusion", Pattern Recognition 47(6), 2014), the codes with
zxing-cpp. Both read the darkest of the three channels, in which any ink is dark: a mark printed in several inks
stays whole while one of them lasts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from printcheck.pattern.marks import SHEET_MARKS

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "FoundCode",
    "FoundMark",
    "Reduction",
    "Sighting",
    "darkest_channel",
    "find_codes",
    "marks_as_they_are",
    "reductions",
    "see",
    "see_as_it_is",
    "see_halved",
]

_FIRST_LONG_SIDE_PX = 1800  # a page that fills the picture then shows a mark's module as 7 px
_LEAST_PERIMETER = 0.02  # of the picture's long side: a mark of a sheet that fills a quarter of it has 0.023
_NEARBY = np.ones((13, 13), np.uint8)  # in quarters of the reduced image: 9 mm, more than a mark is wide
_INK_RATIO = (0.70, 0.86)  # of the paper's value: solid ink and paper, encoded; a half-printed mark lies about 0.7
_FINEST_LONG_SIDE_PX = 6000  # beyond this a smaller sheet than A4 in the picture could not be measured anyway


@dataclass(frozen=True, slots=True)
class FoundMark:
    """A mark: its number, and its corners (4, 2) in full-size pixels from the mark's own top-left, clockwise."""

    number: int
    corners: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FoundCode:
    """A QR code: its text, its four corners (4, 2) in full-size pixels, and whether it reads mirrored."""

    text: str
    corners: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sighting:
    """What one reduced image shows."""

    factor: int
    marks: tuple[FoundMark, ...]
    codes: tuple[FoundCode, ...]


def darkest_channel(pixels: NDArray[Any]) -> NDArray[np.uint8]:
    """(H, W) uint8 of the darkest channel of 8- or 16-bit grey or BGR `pixels`."""
    if pixels.ndim == 3:  # in a quarter of the time that OpenCV takes to split the channels first
        pixels = np.minimum(np.minimum(pixels[..., 0], pixels[..., 1]), pixels[..., 2])
    if pixels.dtype == np.uint16:
        pixels = cv2.convertScaleAbs(pixels, alpha=1 / 257)
    return np.asarray(pixels)


@dataclass(frozen=True)
class Reduction:
    """A picture averaged down by a whole factor.

    Attributes
    ----------
    factor : int
    coloured : (H, W) or (H, W, 3) uint8 or uint16
        Grey or BGR.
    """

    factor: int
    coloured: NDArray[Any]

    @cached_property
    def darkest(self) -> NDArray[np.uint8]:
        """Its darkest channel, (H, W) uint8; what is halved first never asks for all of it."""
        return darkest_channel(self.coloured)


def reductions(pixels: NDArray[Any]) -> Iterator[Reduction]:
    """Reductions of `pixels`, coarse to fine."""
    long_side = max(pixels.shape[:2])
    factor = max(1, round(long_side / _FIRST_LONG_SIDE_PX))
    while True:
        yield Reduction(factor, pixels if factor == 1 else _averaged_down(pixels, factor))
        if factor == 1:
            return
        if long_side / factor >= _FINEST_LONG_SIDE_PX:
            return
        factor = max(1, factor // 2)


def _averaged_down(pixels: NDArray[Any], factor: int) -> NDArray[Any]:
    """Means of `factor` x `factor` pixels; by halves where it can be, which is three times as fast in OpenCV."""
    while factor > 1:
        step = 2 if factor % 2 == 0 else factor
        height, width = pixels.shape[0] // step, pixels.shape[1] // step
        pixels = cv2.resize(pixels[: height * step, : width * step], (width, height), interpolation=cv2.INTER_AREA)
        factor //= step
    return pixels


def see(reduction: Reduction, enough: int = 12, wanted: frozenset[int] = SHEET_MARKS) -> Sighting:
    """Marks and codes on one reduced image, in full-size pixel coordinates.

    The image is tried as it is and then treated in `_TREATMENTS`, until `enough` of the `wanted` marks are found.
    """
    factor = reduction.factor
    marks: dict[tuple[int, int, int], FoundMark] = {}
    for treat, windows_px in _TREATMENTS:
        for mark in _detect(treat(reduction.darkest), factor, windows_px):
            place = np.round(mark.corners.mean(axis=0) / (20.0 * factor)).astype(int)
            near = ((mark.number, place[0] + dx, place[1] + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1))
            if not any(key in marks for key in near):
                marks[mark.number, place[0], place[1]] = mark
        if sum(number in wanted for number, _, _ in marks) >= enough:
            break
    return Sighting(factor, tuple(marks.values()), find_codes(reduction.darkest, factor))


def see_halved(reduction: Reduction) -> Sighting:
    """Marks and codes on half of a reduced image to which nothing else is done, in full-size pixel coordinates."""
    return see_as_it_is(Reduction(2 * reduction.factor, _averaged_down(reduction.coloured, 2)))


def see_as_it_is(reduction: Reduction) -> Sighting:
    """Marks and codes on a reduced image to which nothing else is done, in full-size pixel coordinates."""
    image, factor = reduction.darkest, reduction.factor
    return Sighting(factor, tuple(_detect(image, factor, _ONE_WINDOW)), find_codes(image, factor))


def marks_as_they_are(reduced: NDArray[np.uint8]) -> tuple[FoundMark, ...]:
    """Marks on an image that nothing is done to, in its own pixels: quick, even where a page is full of writing."""
    return tuple(_detect(reduced, 1, _ONE_WINDOW))


def _opened(side: int) -> Callable[[NDArray[np.uint8]], NDArray[np.uint8]]:
    """Grey-scale opening (J. Serra, Image Analysis and Mathematical Morphology, 1982).

    A missing row cuts a mark in two with a thin light line; opening takes light lines thinner than its square away
    and leaves edges where they are.
    """

    def treat(image: NDArray[np.uint8]) -> NDArray[np.uint8]:
        return np.asarray(cv2.morphologyEx(image, cv2.MORPH_OPEN, np.ones((side, side), np.uint8)), np.uint8)

    return treat


def _against_paper(image: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Ink or paper, judged against the lightest nearby: a mark half printed at half strength becomes whole again."""
    if min(image.shape) < _NEARBY.shape[0]:
        return image
    paper = cv2.dilate(cv2.resize(image, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA), _NEARBY)
    paper = cv2.resize(cv2.blur(paper, _NEARBY.shape), (image.shape[1], image.shape[0]))
    ratio = image.astype(np.float32) / np.maximum(paper, 1)
    return np.asarray(np.clip((ratio - _INK_RATIO[0]) / (_INK_RATIO[1] - _INK_RATIO[0]), 0, 1) * 255, np.uint8)


def _detect(image: NDArray[np.uint8], factor: int, windows_px: tuple[int, int]) -> list[FoundMark]:
    """Marks on `image`, thresholded against its mean in windows from the first to the second size in steps of 10."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = windows_px
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.cornerRefinementWinSize = 3
    parameters.minMarkerPerimeterRate = _LEAST_PERIMETER
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), parameters)
    corners, numbers, _ = detector.detectMarkers(image)
    if numbers is None:
        return []
    return [
        FoundMark(int(number), _full_size(np.reshape(quad, (4, 2)), factor))
        for number, quad in zip(np.ravel(numbers), corners, strict=True)
    ]


def find_codes(image: NDArray[np.uint8], factor: int = 1) -> tuple[FoundCode, ...]:
    """QR codes on `image`; corners in pixels of an image `factor` times as large."""
    import zxingcpp

    out = []
    for code in zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.QRCode])):
        where = code.position
        quad = [(p.x, p.y) for p in (where.top_left, where.top_right, where.bottom_right, where.bottom_left)]
        out.append(FoundCode(code.text, _full_size(np.array(quad, np.float64), factor)))
    return tuple(out)


def _full_size(points: NDArray[Any], factor: int) -> NDArray[np.float64]:
    """Pixel centres of a reduced image in full-size pixels."""
    return (np.asarray(points, np.float64) + 0.5) * factor - 0.5


_ONE_WINDOW = (23, 23)  # px: half a mark of a full page; on a plain scan it finds what all three find, at a third
_ALL_WINDOWS = (3, 23)  # px, from the least to the largest that the detector tries
# squares of 3 and 5 px: a module is 7 px on a full page
_TREATMENTS: tuple[tuple[Callable[[NDArray[np.uint8]], NDArray[np.uint8]], tuple[int, int]], ...] = (
    (lambda image: image, _ONE_WINDOW),
    (lambda image: image, _ALL_WINDOWS),
    (_opened(3), _ALL_WINDOWS),
    (_opened(5), _ALL_WINDOWS),
    (_against_paper, _ALL_WINDOWS),
)
