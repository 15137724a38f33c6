"""The control strip as data and as drawn: found by general-purpose readers, taken for no sheet."""

from __future__ import annotations

import itertools

import cv2
import numpy as np
import pytest
import zxingcpp

from printcheck.errors import PatternError
from printcheck.geometry import Box
from printcheck.pattern.code import decode_announcement
from printcheck.pattern.control_strip import (
    STRIP_MARKS,
    control_strip,
    control_strip_page,
    decode_strip,
    make_control_strips,
    strip_patch_name,
    strip_patches,
)
from printcheck.pattern.inks import paint_cmyk, paint_rgb
from printcheck.pattern.marks import place_marks
from printcheck.pattern.pages import EDGE_MM, PAGES
from printcheck.pattern.render.raster import compose_rgb


def test_no_sheet_carries_a_strips_marks() -> None:
    taken = {mark.number for page in PAGES.values() for mark in place_marks(page, 600)}
    mine = [number for numbers in STRIP_MARKS.values() for number in numbers]
    assert len(set(mine)) == len(mine)
    assert taken.isdisjoint(mine)


@pytest.mark.parametrize("page", PAGES.values(), ids=lambda page: page.name)
def test_all_is_printable_and_nothing_lies_on_anything_else(page) -> None:
    layout = control_strip_page(page)
    edge = Box(EDGE_MM - 0.05, EDGE_MM - 0.05, page.width_mm - EDGE_MM + 0.05, page.height_mm - EDGE_MM + 0.05)
    boxes = [e.box for e in (*layout.marks, *layout.codes, *layout.patches, *layout.papers)]
    for box in [*boxes, *(line.box for line in layout.hairlines)]:
        assert edge.x0 <= box.x0 < box.x1 <= edge.x1
        assert edge.y0 <= box.y0 < box.y1 <= edge.y1
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)


def test_general_purpose_readers_find_both_strips_marks_and_code() -> None:
    """OpenCV's fiducial detector and zxing-cpp on the page as rasterised."""
    rgb = compose_rgb(make_control_strips(control_strip_page(PAGES["A4"]), "Bench 7"))
    grey = cv2.resize(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    _, numbers, _ = detector.detectMarkers(grey)
    assert sorted(np.ravel(numbers)) == sorted(itertools.chain(*STRIP_MARKS.values()))
    texts = [code.text for code in zxingcpp.read_barcodes(grey)]
    assert len(texts) == 2
    assert {decode_strip(text) for text in texts} == {(1, "Bench 7")}
    assert [decode_announcement(text) for text in texts] == [None, None]


@pytest.mark.parametrize("name", ["S", "A:B", "x" * 24, "X" * 24])
def test_any_name_that_fits_a_ticket_is_read_back(name: str) -> None:
    rgb = compose_rgb(make_control_strips(control_strip("B"), name))
    (code,) = zxingcpp.read_barcodes(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY))
    assert decode_strip(code.text) == (1, name)


def test_a_strip_needs_a_name() -> None:
    with pytest.raises(PatternError, match="needs a name"):
        make_control_strips(control_strip("A"), "  ")


@pytest.mark.parametrize("text", ["PC:1:A4:HEAD:K1.1.1:K:T", "https://example.org", "PC:STRIPx:S", ""])
def test_other_codes_are_no_strips(text: str) -> None:
    assert decode_strip(text) is None


def test_every_patch_has_a_name_of_its_own() -> None:
    names = [strip_patch_name(patch) for patch in control_strip("A").patches]
    assert names == [patch.name for patch in strip_patches()]
    assert len(set(names)) == len(names) == 34
    assert {"C 100", "M 100", "Y 100", "K 100", "M 100 Y 100", "C 100 Y 100", "C 100 M 100"} <= set(names)


def test_mixtures_are_asked_for_ink_by_ink() -> None:
    """ISO 32000-1, 10.3.5: red is what cyan leaves, green what magenta, blue what yellow leaves."""
    assert paint_rgb(("C", "M", "Y"), (0.5, 0.4, 0.2)) == (128, 153, 204)
    assert paint_cmyk(("M", "C"), (0.25, 1.0)) == (1.0, 0.25, 0.0, 0.0)
    rgb = compose_rgb(make_control_strips(control_strip("A"), "S1"))
    (patch,) = (p for p in control_strip("A").patches if strip_patch_name(p) == "C 45 M 35 Y 35")
    x, y = (round(v * 600 / 25.4) for v in patch.box.centre)
    assert tuple(rgb[y, x]) == (140, 166, 166)
