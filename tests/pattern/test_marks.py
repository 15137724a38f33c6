"""The marks against the library whose dictionary they are taken from."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose

from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.marks import MARK_WORDS, dark_modules, place_marks
from printcheck.pattern.pages import PAGES
from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import make_sheet


def test_the_table_is_the_library_s_dictionary() -> None:
    """Source: OpenCV, ``cv2.aruco.DICT_4X4_50``."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    assert len(MARK_WORDS) == dictionary.bytesList.shape[0] == 50
    for number in range(50):
        picture = cv2.aruco.generateImageMarker(dictionary, number, 6, borderBits=1)  # 6 x 6 pixels: one a module
        assert (np.array(dark_modules(number)) == (picture == 0)).all(), number


@pytest.mark.parametrize(("head", "page"), [("mono-416", "A4"), ("tri-192", "Letter"), ("quad-180", "Letter")])
def test_every_mark_of_a_drawn_page_is_found_where_the_layout_says(head: str, page: str) -> None:
    sheet = make_sheet(build_layout(load_head(head), PAGES[page]))
    layout = sheet.layout
    grey = cv2.cvtColor(compose_rgb(sheet), cv2.COLOR_RGB2GRAY)
    shrink = layout.raster / 200  # a 200 dots/inch scan, the least the contract names
    small = cv2.resize(grey, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), settings)
    corners, numbers, _ = detector.detectMarkers(small)
    found = {int(n): c.reshape(4, 2) for n, c in zip(np.ravel(numbers), corners, strict=True)}
    for mark in layout.marks:
        assert mark.number in found, f"mark {mark.number} not found"
        expected = np.array(mark.box.corners) * 200 / 25.4 - 0.5
        assert_allclose(found.pop(mark.number), expected, atol=0.5)  # pixels
    assert not found, "marks seen where none were drawn"


def test_marks_are_spread_and_the_pages_share_none() -> None:
    for page in PAGES.values():
        marks = place_marks(page, 600)
        assert len(marks) >= 8
        centres = np.array([mark.box.centre for mark in marks])
        spread = np.ptp(centres, axis=0) / (page.width_mm, page.height_mm)
        assert (spread > 0.8).all()
    numbers = [mark.number for page in PAGES.values() for mark in place_marks(page, 600)]
    assert len(set(numbers)) == len(numbers)


def test_marks_lie_in_the_same_place_at_both_rasters() -> None:
    """The reader finds its place before it knows the head, so before it knows the raster."""
    for page in PAGES.values():
        for coarse, fine in zip(place_marks(page, 600), place_marks(page, 720), strict=True):
            assert_allclose(coarse.box.corners, fine.box.corners, atol=0.13)  # mm: three dots
