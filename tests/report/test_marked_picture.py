from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from printcheck.geometry import Box
from printcheck.measure.result import LinesReading
from printcheck.pipeline import Scored
from printcheck.report.annotate import marked_page, marked_picture, marked_png, page_frame
from printcheck.report.canvas import Canvas
from printcheck.report.findings import findings_of
from printcheck.report.palette import STATE
from printcheck.report.shapes import draw_state

WITHIN_MM = 0.5


def rings(picture: NDArray[np.uint8], scored: Scored) -> list[Box]:
    """Boxes, in mm on the page, of everything drawn on the page in the colour of missing."""
    frame = page_frame(scored)
    assert frame is not None
    exact = (picture == np.array(STATE["missing"])).all(axis=2).astype(np.uint8)
    joined = cv2.dilate(exact, np.ones((5, 5), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(joined)
    out = []
    for x, y, width, height, _ in stats[1:count]:
        x0, y0 = (x - frame.x) / frame.scale + frame.box.x0, (y - frame.y) / frame.scale + frame.box.y0
        box = Box(x0, y0, x0 + width / frame.scale, y0 + height / frame.scale)
        if frame.box.x0 < box.x0 and box.x1 < frame.box.x1 and box.y0 > frame.box.y0:
            out.append(box)
    return out


def test_every_missing_dash_is_ringed_in_its_place_and_nothing_else(
    faulty: Scored, dead: dict[str, tuple[int, ...]]
) -> None:
    layout = faulty.sheet.layout
    assert layout is not None
    dashes = [ladder.dash(row) for ink, rows in dead.items() for ladder in layout.ladders_of(ink) for row in rows]
    found = rings(marked_picture(faulty), faulty)
    assert len(found) == len(dashes)
    for dash in dashes:
        near = min(np.hypot(r.centre[0] - dash.centre[0], r.centre[1] - dash.centre[1]) for r in found)
        assert near < WITHIN_MM


def test_the_page_under_the_marks_lies_true(faulty: Scored) -> None:
    # the registration marks' black squares must lie where the layout has them, though the scan was turned
    layout, frame = faulty.sheet.layout, page_frame(faulty)
    assert layout is not None
    assert frame is not None
    picture = marked_picture(faulty).astype(float)
    for mark in layout.marks:
        area = frame.box_px(mark.box.inset(-1.5))
        x0, y0 = round(area.x0), round(area.y0)
        dark = 255 - picture[y0 : round(area.y1), x0 : round(area.x1)].mean(axis=2)
        ys, xs = np.nonzero(dark > 0.5 * dark.max())
        middle = ((xs.min() + xs.max() + 1) / 2 + x0, (ys.min() + ys.max() + 1) / 2 + y0)
        assert middle == pytest.approx(frame.to_px(*mark.box.centre), abs=WITHIN_MM * frame.scale / 2)


def test_a_clean_sheet_has_no_rings(clean: Scored) -> None:
    assert rings(marked_picture(clean), clean) == []


def test_png_has_the_page_at_its_scale(faulty: Scored) -> None:
    data = marked_png(faulty)
    assert data.startswith(b"\x89PNG\r\n\x1a\n")  # PNG specification (ISO/IEC 15948), section 5.2
    assert len(data) < 3_000_000
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    frame, layout = page_frame(faulty), faulty.sheet.layout
    assert frame is not None
    assert layout is not None
    assert frame.scale == pytest.approx(200 / 25.4, rel=1e-6)
    assert picture.shape[1] > frame.x + frame.box.width * frame.scale
    assert picture.shape[0] > frame.y + frame.box.height * frame.scale
    assert marked_page(faulty).shape[0] == round(frame.box.height * frame.scale)


def test_without_a_sheet_the_capture_itself_is_shown(refused: Scored) -> None:
    picture = marked_picture(refused)
    assert page_frame(refused) is None
    height, width = picture.shape[:2]
    assert_allclose(picture[height - 200, width // 2].astype(float), 190, atol=4)


def test_grey_16_bit_and_turned_captures_can_be_shown(faulty: Scored, refused: Scored) -> None:
    grey = replace(faulty.capture, pixels=faulty.capture.pixels[..., 1].astype(np.uint16) * 257)
    assert len(rings(marked_picture(replace(faulty, capture=grey)), faulty)) == 10
    turned = replace(refused, capture=replace(refused.capture, orientation=6))
    assert marked_page(turned).shape == (500, 700, 3)


@pytest.mark.parametrize("state", sorted(STATE))
@pytest.mark.parametrize("room_mm", [0.5, 5.0])
def test_marks_do_not_hide_the_dash(state: str, room_mm: float) -> None:
    canvas = Canvas(160, 80, (255, 255, 255))
    scale = 200 / 25.4
    dash = Box(30, 39.8, 130, 40.2)
    draw_state(canvas, state, dash, scale, offset_mm=0.05, room_mm=room_mm)
    drawn = (canvas.pixels != 255).any(axis=2)
    assert drawn.any()
    assert drawn[40, 32:128].mean() < (0.15 if state == "displaced" else 0.001)


def test_shapes_differ_without_colour() -> None:
    def shape(state: str) -> bytes:
        canvas = Canvas(160, 80, (255, 255, 255))
        draw_state(canvas, state, Box(30, 39.8, 130, 40.2), 7.9, offset_mm=0.05)
        return bytes((canvas.pixels != 255).any(axis=2))

    assert len({shape(state) for state in STATE}) == len(STATE)


def test_dashes_share_a_mark_only_with_no_sound_dash_between(clean: Scored) -> None:
    layout, reading = clean.sheet.layout, clean.sheet.lines[0]
    assert layout is not None
    columns = len(layout.ladders_of("C")[0].order)
    rows = (3, 3 + columns, 3 + 3 * columns)

    def kill(reading: LinesReading) -> LinesReading:
        dashes = tuple(d._replace(state="missing") if d.row in rows and d.repeat == 0 else d for d in reading.dashes)
        return replace(reading, dashes=dashes)

    found = findings_of(layout, kill(reading))
    assert [f.rows for f in found] == [rows[:2], rows[2:]]
    assert found[0].room_mm == pytest.approx(found[1].box.y0 - found[0].box.y1)


def test_an_absent_ink_is_hatched_and_not_ringed_row_by_row(clean: Scored) -> None:
    layout, lines = clean.sheet.layout, clean.sheet.lines
    assert layout is not None
    gone = replace(lines[1], absent=True, dashes=tuple(d._replace(state="missing") for d in lines[1].dashes))
    scored = replace(clean, sheet=replace(clean.sheet, lines=(lines[0], gone, lines[2])))
    assert findings_of(layout, gone) == ()
    centres = {tuple(round(v) for v in ladder.box.centre) for ladder in layout.ladders_of("M")}
    big = [r for r in rings(marked_picture(scored), scored) if r.width > 50]
    assert {tuple(round(v) for v in r.centre) for r in big} == centres
