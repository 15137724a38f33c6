"""The layout's promises: to the reader (places, order, spacing) and to the printer (edges, whole dots)."""

from __future__ import annotations

import itertools
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from numpy.testing import assert_allclose

from printcheck.errors import PatternError
from printcheck.geometry import Box
from printcheck.pattern.code import FIRST_INKJET_LAYOUT
from printcheck.pattern.compose import column_order
from printcheck.pattern.heads import Head, HeadInk, load_head
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.pages import PAGES, page_named
from printcheck.pattern.render.raster import font_path
from printcheck.pattern.sheet import make_sheet
from printcheck.units import mm_to_dots

from .conftest import made_layouts

ROUNDING_MM = 1e-9
QUICK = (Phase.explicit, Phase.generate)  # shrinking a whole head takes minutes and tells little


def printed(layout: Layout) -> list[tuple[str, Box]]:
    out = [(f"mark {mark.number}", mark.box) for mark in layout.marks]
    out += [(f"code {number}", code.box) for number, code in enumerate(layout.codes)]
    out += [(f"ladder {ladder.ink}{ladder.repeat}", ladder.box) for ladder in layout.ladders]
    out += [(f"{patch.kind} {patch.inks} {patch.tone}", patch.box) for patch in layout.patches]
    return out + [(f"hairline {line.inks}", line.box) for line in layout.hairlines]


def check_geometry(layout: Layout) -> None:
    """Everything that holds for each head, whether it ships or a user made it."""
    things = printed(layout)
    for name, box in things:
        # half an inch from the edges of the paper itself, not of the page in whole dots; a laser printer's tints
        # run out to a quarter of an inch above and below
        ends = 6.35 if layout.head.toner and name.startswith("tint") else 12.7
        assert box.x0 >= 12.7 - ROUNDING_MM, name
        assert box.y0 >= ends - ROUNDING_MM, name
        assert box.x1 <= layout.page.width_mm - 12.7 + ROUNDING_MM, name
        assert box.y1 <= layout.page.height_mm - ends + ROUNDING_MM, name
        for value in (box.x0, box.y0, box.x1, box.y1):
            mm_to_dots(value, layout.raster)  # raises where it is no whole number of dots
    for (name, box), (other, other_box) in itertools.combinations(things, 2):
        assert not box.overlaps(other_box), f"{name} lies over {other}"
    for paper in layout.papers:
        assert paper.box.width > 0, paper.near
        assert paper.box.height > 0, paper.near
        for name, box in things:
            assert not paper.box.overlaps(box), f"paper beside {paper.near} is covered by {name}"
    for ink in layout.head.inks:
        first, *others = layout.ladders_of(ink.ink)
        assert others, f"the ladder of {ink.ink} is there once"
        for other in others:
            swaths = (other.box.y0 - first.box.y0) / ink.swath_mm
            assert round(swaths) >= 1
            assert_allclose(swaths, round(swaths), atol=1e-9)
        for ladder in (first, *others):
            check_ladder(layout, ink, ladder.repeat)


def check_ladder(layout: Layout, ink: HeadInk, repeat: int) -> None:
    ladder = layout.ladders_of(ink.ink)[repeat]
    step = layout.raster // ink.rows_per_inch
    assert ladder.rows == ink.rows
    top = mm_to_dots(ladder.box.y0, layout.raster)
    spans: dict[int, list[int]] = {}
    for row in range(ladder.rows):
        dash = ladder.dash(row)
        y0, y1 = (mm_to_dots(v, layout.raster) for v in (dash.y0, dash.y1))
        assert (y0, y1) == (top + row * step, top + (row + 1) * step), "a dash is exactly its row"
        assert dash.width >= (12.0 if ink.ink == "Y" else 8.0)
        spans.setdefault(ladder.column_of(row), []).append(y0)
    # every row once: the columns' own lists share the rows out without rest
    listed = sorted(row for column in range(len(ladder.columns)) for row in ladder.rows_in(column))
    assert listed == list(range(ladder.rows))
    for tops in spans.values():
        paper_dots = np.diff(tops) - step
        # 2.8 pixels between the centres at 150 dots/inch leaves paper that a 150 dots/inch capture still shows
        assert np.all((paper_dots + step) * 150 / layout.raster >= 2.8)
    columns = len(ladder.columns)
    if columns >= 9:
        neighbours = np.diff([ladder.column_of(row) for row in range(ladder.rows)])
        assert np.abs(neighbours).min() >= 3
    for (_, end), (start, _) in itertools.pairwise(ladder.columns):
        assert start > end


def test_a_sheet_that_ships_keeps_the_geometry(layout: Layout) -> None:
    check_geometry(layout)


@settings(
    max_examples=60,
    phases=QUICK,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much],
)
@given(layout_=made_layouts())
def test_a_made_head_keeps_the_geometry(layout_: Layout) -> None:
    check_geometry(layout_)
    check_texts(layout_, "")


def test_every_ink_has_its_solid_tint_wedge_and_strip(layout: Layout) -> None:
    for ink in layout.head.inks:
        (solid,) = layout.patches_of("solid", ink.ink)
        assert solid.box.height >= ink.swath_mm - ROUNDING_MM
        assert [patch.tone for patch in layout.patches_of("tint", ink.ink)] == [0.5]
        wedge = layout.patches_of("wedge", ink.ink)
        tones = [patch.tone for patch in wedge]
        assert tones == sorted(tones)
        assert tones[-1] == 1.0
        assert [patch.box.x0 for patch in wedge[1:]] == [patch.box.x1 for patch in wedge[:-1]]
        (strip,) = layout.patches_of("strip", ink.ink)
        others = [p.box for p in layout.patches if p.kind != "strip"] + [ladder.box for ladder in layout.ladders]
        assert strip.box.y0 <= min(box.y0 for box in others) + ROUNDING_MM, "printed from the first swath"
        assert strip.box.y1 >= max(box.y1 for box in others) - ROUNDING_MM, "to the last"
        assert {line.along for line in layout.hairlines if line.inks == (ink.ink,)} == {"x", "y"}
    colours = [ink.ink for ink in layout.head.inks if ink.ink != "K"]
    pairs = {patch.inks for patch in layout.patches_of("overprint")}
    assert set(itertools.combinations(colours, 2)) <= pairs


def test_solids_and_mid_tones_are_two_swaths_tall_on_every_sheet_that_ships(layout: Layout) -> None:
    """Less, and the rows of the head, which repeat every swath, look like a band."""
    for ink in layout.head.inks:
        (tint,) = layout.patches_of("tint", ink.ink)
        (solid,) = layout.patches_of("solid", ink.ink)
        assert tint.box.height == solid.box.height >= 2 * ink.swath_mm
        assert tint.box.width > solid.box.width > 10.0


def test_the_first_layout_is_still_the_one_that_was_printed() -> None:
    """Places read off a sheet of that time, in mm: what has been printed can't be laid out anew."""
    layout = build_layout(load_head("quad-180"), PAGES["A4"], FIRST_INKJET_LAYOUT)
    assert layout.version == 1
    (tint,), (solid,), (strip,) = (layout.patches_of(kind, "M") for kind in ("tint", "solid", "strip"))
    shown = [
        (box.x0, box.y0, box.x1, box.y1)
        for box in (tint.box, solid.box, strip.box, layout.patches[-1].box, layout.ladders[-1].box)
    ]
    expected = [
        (65.969, 94.509, 85.796, 102.517),
        (22.296, 199.178, 96.767, 224.578),
        (181.681, 37.677, 184.079, 248.285),
        (185.279, 37.677, 187.678, 248.285),
        (84.596, 142.311, 173.249, 167.711),
    ]
    assert_allclose(shown, expected, atol=0.001)


@lru_cache
def face(bold: bool) -> Any:
    """The sheet's typeface, for the width of its letters."""
    from reportlab.pdfbase.ttfonts import TTFontFace

    return TTFontFace(str(font_path(bold)))


def check_texts(layout: Layout, ticket: str) -> None:
    """Heights are the typeface's ascent and descent for Latin letters."""
    marks = [mark.box.inset(-1.2) for mark in layout.marks]  # one module of clear paper, as the detector needs
    codes = [code.box.inset(-4 * code.box.width / 41) for code in layout.codes]  # ISO/IEC 18004: four modules
    measured = [ladder.box for ladder in layout.ladders] + [patch.box for patch in layout.patches]
    measured += [line.box for line in layout.hairlines] + [paper.box for paper in layout.papers]
    for text in make_sheet(layout, ticket).texts:
        letters = face(text.bold)
        em = sum(letters.charWidths.get(ord(ch), letters.defaultWidth) for ch in text.text) / 1000
        box = Box(text.x, text.y - 0.76 * text.size_mm, text.x + em * text.size_mm, text.y + 0.24 * text.size_mm)
        assert box.x1 <= layout.page.width_mm - 12.7, text.text
        assert not any(box.overlaps(thing) for thing in (*marks, *codes, *measured)), text.text


@pytest.mark.parametrize("ticket", ["", "R-20391", "W" * 24, "%" * 24, "0" * 24])
def test_texts_stay_clear_of_marks_codes_and_what_is_measured(layout: Layout, ticket: str) -> None:
    check_texts(layout, ticket)


def test_page_sizes_are_the_published_ones() -> None:
    """A4 from its definition in ISO 216: 2^-4 m² at 1:sqrt(2), to whole mm. Letter: 8.5 x 11 in (common practice)."""
    a4, letter = PAGES["A4"], PAGES["Letter"]
    assert (a4.width_mm, a4.height_mm) == (round(1000 * 2**-2.25), round(1000 * 2**-1.75))
    assert_allclose((letter.width_mm, letter.height_mm), (8.5 * 25.4, 11 * 25.4))
    assert page_named("letter") is letter


def test_the_page_is_the_nearest_whole_number_of_dots(layout: Layout) -> None:
    dot = 25.4 / layout.raster
    assert abs(layout.width_mm - layout.page.width_mm) <= dot / 2
    assert abs(layout.height_mm - layout.page.height_mm) <= dot / 2


@pytest.mark.parametrize("columns", range(1, 15))
def test_columns_are_each_used_once_and_climb_no_stairs(columns: int) -> None:
    order = column_order(columns)
    assert sorted(order) == list(range(columns))
    if columns >= 10:  # fewer can't keep neighbours apart without repeating a step
        steps = np.diff([*order, *order])
        assert not np.any(steps[1:] == steps[:-1]), "an even climb is the staircase we don't print"


def test_a_head_too_tall_for_the_page_is_refused_with_the_way_out() -> None:
    inks = tuple(HeadInk(name, 1200, 600, 600) for name in "KCMY")
    with pytest.raises(PatternError, match=r"does not fit A4: 4 inks.*split the inks"):
        build_layout(Head("tall", "Tall", inks, ("K",)), PAGES["A4"])


def test_the_same_head_and_page_give_the_same_layout() -> None:
    head = load_head("tri-100")
    first = build_layout(head, PAGES["A4"])
    build_layout.cache_clear()
    assert build_layout(head, PAGES["A4"]) == first
