"""Pictures that can't be judged: each is refused with what to change, never registered by guess."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
import segno
from drawn_pages import drawn_page, noisy, placed, similarity

from printcheck.errors import RescanError
from printcheck.pattern.code import INKJET_LAYOUT, LAYOUT_VERSION, encode_announcement
from printcheck.pattern.render.raster import compose_rgb
from printcheck.register.refusal import refuse_two_levels
from printcheck.register.sheet import register_sheet


def refused(pixels) -> RescanError:
    with pytest.raises(RescanError) as refusal:
        register_sheet(pixels)
    assert "\n" not in str(refusal.value)
    return refusal.value


def picture(dots_per_inch: int = 150, degrees: float = 0.5, **which: str):
    drawn = drawn_page(dots_per_inch, **which)
    to_px, size = similarity(dots_per_inch, degrees, drawn.layout)
    return placed(drawn, to_px, size)


@pytest.mark.parametrize("flip", [0, 1], ids=["upside down", "sideways"])
@pytest.mark.parametrize("degrees", [0.5, 91.0])
def test_a_mirrored_sheet_is_told_as_such(flip: int, degrees: float) -> None:
    error = refused(cv2.flip(picture(degrees=degrees), flip))
    assert error.measure == "mirrored"
    assert "mirrored" in str(error)


def test_two_sheets_side_by_side_are_both_named() -> None:
    a, b = picture(ticket="FIRST-1"), picture(head="mono-416", ticket="SECOND-2")
    height = min(len(a), len(b))
    error = refused(np.hstack([a[:height], b[:height]]))
    assert error.measure == "sheets"
    for name in ("tri-100", "FIRST-1", "mono-416", "SECOND-2"):
        assert name in str(error)


def test_two_copies_of_one_sheet_are_two_sheets() -> None:
    a = picture()
    error = refused(np.vstack([a, a]))
    assert error.measure == "sheets"
    assert "two sheets" in str(error)


def test_a_second_sheet_that_only_peeps_in_is_seen_too() -> None:
    """A corner with its code and five marks: enough to make which sheet is meant a guess."""
    a, b = picture(ticket="FIRST-1"), picture(ticket="SECOND-2")
    error = refused(np.vstack([a, b[: len(b) // 2]]))
    assert "FIRST-1" in str(error)
    assert "SECOND-2" in str(error)


def test_halves_of_two_sheets_make_no_whole_one() -> None:
    """Each mark shows once, as on one sheet that a wide lens bends, but not about where one sheet has it."""
    whole = picture(degrees=0.0)  # one ticket, so that the codes don't tell
    middle = whole.shape[1] // 2
    error = refused(np.hstack([whole[:, middle:], whole[:, :middle]]))
    assert error.measure == "sheets"
    assert "two sheets" in str(error)


@pytest.mark.parametrize("dots_per_inch", [150, 300])
def test_a_newer_layout_asks_for_a_newer_program(dots_per_inch: int) -> None:
    drawn = drawn_page(600)
    layout = drawn.layout
    text = encode_announcement(layout.head, layout.page.name, "N-1")
    newer = text.replace(f"PC:{INKJET_LAYOUT}:", f"PC:{LAYOUT_VERSION + 1}:")
    assert newer != text
    matrix = segno.make_qr(newer, error="q", boost_error=False).matrix
    code = tuple(tuple(bool(m) for m in row) for row in matrix)
    rgb = compose_rgb(replace(drawn.sheet, code=code))
    scale = dots_per_inch / 600
    page = cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    error = refused(noisy(page, 2.0))
    assert error.measure == "layout"
    assert f"layout {LAYOUT_VERSION + 1}" in str(error)
    assert "update" in str(error)


def no_sheets():
    rng = np.random.default_rng(8)
    yield "white", np.full((1700, 1200, 3), 250, np.uint8)
    yield "black", np.zeros((900, 1300, 3), np.uint8)
    yield "noise", rng.integers(0, 256, (1500, 1100, 3), dtype=np.uint8)
    yield "tiny", rng.integers(0, 256, (20, 31, 3), dtype=np.uint8)
    yield "one row", rng.integers(0, 256, (1, 400, 3), dtype=np.uint8)
    lines = np.full((1700, 1200, 3), 245, np.uint8)
    for k in range(60, 1650, 24):  # a page of writing
        for x in range(80, 1100, 9):
            if rng.random() < 0.8:
                lines[k : k + 10, x : x + 6] = 40
    yield "a page of text", lines
    stranger = np.full((1200, 1700), 240, np.uint8)
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for k, number in enumerate((40, 44, 47)):  # fiducials of the same family that no sheet of ours carries
        stranger[100:340, 100 + 400 * k : 340 + 400 * k] = cv2.aruco.generateImageMarker(family, number, 240)
    yield "other marks", cv2.cvtColor(stranger, cv2.COLOR_GRAY2BGR)


@pytest.mark.parametrize(("name", "pixels"), list(no_sheets()), ids=[name for name, _ in no_sheets()])
def test_no_sheet_is_told_as_such(name: str, pixels) -> None:
    error = refused(pixels)
    assert error.measure != "registration"  # named for what was seen, not by default
    assert ";" in str(error)  # what was seen; what to do


def test_another_programs_code_is_not_taken_for_ours() -> None:
    page = np.full((1200, 900, 3), 245, np.uint8)
    modules = np.array(segno.make_qr("https://example.org/a-page", version=6).matrix, bool)
    big = np.kron(modules, np.ones((6, 6), bool))
    page[200 : 200 + len(big), 200 : 200 + len(big)][big] = 20
    assert refused(page).measure == "marks"


def shaken(pixels, length: int, degrees: float):
    kernel = np.zeros((length + 2, length + 2), np.float32)
    t = np.linspace(-0.5, 0.5, 8 * length) * length
    at = np.rint((length + 1) / 2 + np.stack([t * np.sin(np.radians(degrees)), t * np.cos(np.radians(degrees))]))
    np.add.at(kernel, tuple(at.astype(int)), 1)
    return noisy(cv2.filter2D(pixels, -1, kernel / kernel.sum()), 2.0)


@pytest.mark.parametrize("degrees", [0, 45, 90, 130])
def test_a_shaken_picture_asks_for_a_steady_hand(degrees: float) -> None:
    """Blurred by 3 mm one way and sharp the other."""
    error = refused(shaken(picture(), 18, degrees))
    assert error.measure == "picture_slope"
    assert "steadier" in str(error)


def test_a_dark_picture_asks_for_light() -> None:
    error = refused(noisy((picture() * 0.09).astype(np.uint8), 4.0))
    assert error.measure == "picture_dark"
    assert "more light" in str(error)


def test_a_sheet_far_away_asks_to_go_closer() -> None:
    small = cv2.resize(picture(), None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA)  # 45 dots/inch
    wide = np.full((2400, 3200, 3), 90, np.uint8)
    wide[300 : 300 + len(small), 500 : 500 + small.shape[1]] = small
    error = refused(noisy(wide, 3.0))
    assert error.measure in ("picture_size", "sheet_dots_per_inch")
    assert "closer" in str(error)


@pytest.mark.parametrize("bench", [60, 150], ids=["a dark bench", "a light one"])
def test_a_sheet_too_far_away_to_be_seen_as_one_asks_to_go_closer(bench: int) -> None:
    """The sheet takes a hundredth of the picture: its corner squares are specks, and the paper is all that shows."""
    small = cv2.resize(picture(), None, fx=0.19, fy=0.19, interpolation=cv2.INTER_AREA)  # 28 dots/inch
    wide = np.full((2400, 3200, 3), bench, np.uint8)
    wide[300 : 300 + len(small), 500 : 500 + small.shape[1]] = 0.85 * small
    error = refused(noisy(wide, 3.0))
    assert error.measure == "picture_size"
    assert "closer" in str(error)


def test_a_sheet_far_away_on_a_soft_bench_is_not_called_unsharp() -> None:
    """The bench's own shades hold hardly an edge, and the sheet's edges are too few to count among its pixels."""
    rng = np.random.default_rng(4)
    small = cv2.resize(picture(degrees=7.0), None, fx=0.27, fy=0.27, interpolation=cv2.INTER_AREA)  # 40 dots/inch
    small = 40 + 0.8 * cv2.GaussianBlur(small, (0, 0), 1.2)  # as a phone's lens resolves it
    wood = cv2.GaussianBlur(rng.standard_normal((3000, 4000), dtype=np.float32), (0, 0), 9) * 60 + 60
    wide = np.repeat(np.clip(wood, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    wide[800 : 800 + len(small), 1500 : 1500 + small.shape[1]] = small
    error = refused(noisy(wide, 2.0))
    assert error.measure == "picture_size"
    assert "closer" in str(error)


@pytest.mark.parametrize("edge", [40, 0], ids=["the lid beside the page", "paper alone"])
def test_a_sheet_that_came_out_blank_is_said_to_be_blank(edge: int) -> None:
    """A clogged black cartridge prints nothing at all."""
    lid = np.full((1700, 1240, 3), 244, np.uint8)
    lid[edge : 1700 - edge, edge : 1240 - edge] = (217, 236, 240)  # yellowish paper
    lid[700:704, 300:304] = 40  # dust
    error = refused(noisy(lid, 2.0))
    assert error.measure == "marks"
    assert "nothing printed shows" in str(error)
    assert "came out blank" in str(error)
    if not edge:
        assert "closer" not in str(error)


def test_beside_a_light_bench_what_shows_nothing_may_be_far_away() -> None:
    small = cv2.resize(picture(), None, fx=0.19, fy=0.19, interpolation=cv2.INTER_AREA)
    wide = np.full((2400, 3200, 3), 170, np.uint8)
    wide[300 : 300 + len(small), 500 : 500 + small.shape[1]] = 190 + 0.05 * small
    error = refused(noisy(wide, 2.0))
    assert "closer" in str(error)


def test_line_art_is_asked_for_again_in_colour() -> None:
    scan = picture()
    refuse_two_levels(scan)
    grey = cv2.cvtColor(scan, cv2.COLOR_BGR2GRAY)
    refuse_two_levels(grey)
    art = 255 * (grey > 128).astype(np.uint8)
    for line_art in (art, cv2.cvtColor(art, cv2.COLOR_GRAY2BGR)):
        with pytest.raises(RescanError, match="scan in colour"):
            refuse_two_levels(line_art)
