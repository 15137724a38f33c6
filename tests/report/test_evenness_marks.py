"""Marks of bands, fade, air, strokes and dirt: each of its own shape, in its place, with its words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.geometry import Box
from printcheck.measure.evenness_result import (
    Band,
    BandingReading,
    Dirt,
    Evenness,
    FadeReading,
    Smear,
    Speck,
    StrokeOffset,
)
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.report.canvas import Canvas
from printcheck.report.evenness_marks import UNEVEN_RGB, draw_evenness, notes_of, notes_width
from printcheck.report.palette import contrast

LAYOUT = build_layout(load_head("mono-416"), page_named("A4"))
SCALE = 6.0
NOTHING = Evenness((None,), (None,), None, (), (), (None,))


def bands(area: str, period: float) -> Evenness:
    band = Band(area, period, 0.01, 0.8, (0.6, 1.0), (), 3.0, "unmatched", 0.0)
    return replace(NOTHING, banding=(BandingReading("K", (band,), 0.1, 0.0, 0.1),))


def fade(kind: str, blanks: tuple[tuple[float, float], ...] = ()) -> Evenness:
    reading = FadeReading("K", kind, 2.4, (2.0, 2.8), 0.9, 2.4, 80.0, 200.0, blanks)
    return replace(NOTHING, fade=(reading,))


FINDINGS = {
    "K bands 2.00 mm, 0.8 L*": bands("strip", 2.0),
    "K fades, +2.4 L*": fade("fade"),
    "K starves, +2.4 L*": fade("starvation"),
    "K air, 11 mm blank": fade("air", ((120.0, 131.0),)),
    "strokes off by 0.034 mm": replace(NOTHING, strokes=(StrokeOffset(0.034, (0.03, 0.038), 17.6),)),
    "speck of 0.8 mm": replace(NOTHING, dirt=Dirt((Speck(60.0, 90.0, 0.8, 0.7),), 0.4)),
    "smear of 12 mm2": replace(NOTHING, dirt=Dirt((), 0.4, (Smear(50.0, 60.0, 56.0, 62.0, 12.0, 0.05),))),
}


def drawn(evenness: Evenness) -> NDArray[np.bool_]:
    """Where marks are, words and leaders left out, (H, W)."""
    canvas = Canvas(round(LAYOUT.width_mm * SCALE), round(LAYOUT.height_mm * SCALE), (255, 255, 255))
    draw_evenness(canvas, evenness, LAYOUT, (), lambda x, y: (x * SCALE, y * SCALE), SCALE, 1200.0)
    return np.asarray((canvas.pixels != 255).any(axis=2))


def bounds(mask: NDArray[np.bool_]) -> Box:
    y, x = np.nonzero(mask)
    return Box(x.min() / SCALE, y.min() / SCALE, (x.max() + 1) / SCALE, (y.max() + 1) / SCALE)


@pytest.mark.parametrize("words", sorted(FINDINGS))
def test_each_finding_has_its_words_and_a_mark(words: str) -> None:
    notes = notes_of(FINDINGS[words], LAYOUT)
    assert [note.text for note in notes] == [words]
    assert notes_width(notes, SCALE) > 0
    assert drawn(FINDINGS[words]).any()


def test_an_even_sheet_has_neither() -> None:
    assert notes_of(NOTHING, LAYOUT) == ()
    assert notes_of(None, LAYOUT) == ()
    assert notes_width((), SCALE) == 0
    assert not drawn(NOTHING).any()


def test_shapes_differ_without_colour() -> None:
    shapes = {bytes(drawn(evenness)) for evenness in FINDINGS.values()}
    assert len(shapes) == len(FINDINGS)


@pytest.mark.parametrize(("area", "period"), [("strip", 2.0), ("solid", 5.0), ("tint", 1.5)])
def test_the_teeth_of_a_comb_stand_a_period_apart_beside_what_shows_the_bands(area: str, period: float) -> None:
    mask = drawn(bands(area, period))
    box, patch = bounds(mask), LAYOUT.patches_of(area, "K")[0].box
    assert box.x0 > patch.x1 if area == "strip" else box.x1 < patch.x0
    assert box.y0 > patch.y0 - 1.0
    assert box.y1 < patch.y1 + 1.0
    tips = mask[:, round((box.x1 - 0.4) * SCALE)]
    teeth = np.flatnonzero(np.diff(tips.astype(int)) == 1) / SCALE
    assert len(teeth) >= 2
    assert np.diff(teeth) == pytest.approx(period, abs=1.5 / SCALE)


def test_a_wedge_runs_from_where_ink_gives_out_to_where_it_has() -> None:
    box = bounds(drawn(fade("fade")))
    assert (box.y0, box.y1) == pytest.approx((80.0, 200.0), abs=0.5)
    assert box.x0 > LAYOUT.patches_of("strip", "K")[0].box.x1


def test_specks_and_smears_are_marked_where_they_lie() -> None:
    ring = bounds(drawn(FINDINGS["speck of 0.8 mm"]))
    assert ring.centre == pytest.approx((60.0, 90.0), abs=0.2)
    dashes = bounds(drawn(FINDINGS["smear of 12 mm2"]))
    assert dashes.x0 < 50.0 < 56.0 < dashes.x1
    assert dashes.y0 < 60.0 < 62.0 < dashes.y1


def test_words_can_be_read_and_keep_apart() -> None:
    assert contrast(UNEVEN_RGB, (255, 255, 255)) > 4.5  # WCAG 2.1, success criterion 1.4.3
    many = replace(
        fade("fade"), strokes=FINDINGS["strokes off by 0.034 mm"].strokes, banding=bands("strip", 2.0).banding
    )
    heights = [note.y_mm for note in notes_of(many, LAYOUT)]
    assert heights == sorted(heights)
    assert len(heights) == 3
