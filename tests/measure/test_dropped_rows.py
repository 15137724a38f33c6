"""Rows that a driver drops to make a page smaller, told from rows that a head misses.

Which rows a resampling to the nearest one drops OpenCV says, as a driver would.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from printcheck.measure.dropped_rows import scale_of_dropped_rows
from printcheck.measure.result import DashReading, LinesReading
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.pages import page_named

HEADS = ["mono-416", "tri-100", "quad-180", "quad-416-192"]


def layout_of(head: str) -> Layout:
    return build_layout(load_head(head), page_named("A4"))


def read(layout: Layout, missing) -> list[LinesReading]:
    """Readings in which the dashes for which `missing(ink, repeat, row, dot row of the page)` is true are missing."""
    out = []
    for ink in layout.head.inks:
        dashes = []
        for ladder in layout.ladders_of(ink.ink):
            for row in range(ladder.rows):
                box = ladder.dash(row)
                dot = int((box.y0 + box.y1) / 2 * layout.raster / 25.4)
                gone = missing(ink.ink, ladder.repeat, row, dot)
                state = "missing" if gone else "present"
                dashes.append(DashReading(row, ladder.repeat, box, 0.0 if gone else 1.0, 0.03, 0.0, 0.003, state))
        every = [{d.row for d in dashes if d.repeat == r and d.state == "missing"} for r in (0, 1)]
        rows = tuple(sorted(every[0] & every[1])), tuple(sorted(every[0] ^ every[1]))
        out.append(
            LinesReading(ink.ink, ink.rows, tuple(dashes), False, *rows, (), (), (), None, "scattered", None, 1)
        )
    return out


def dropped(layout: Layout, scale: float) -> set[int]:
    """Rows of dots that resampling the page to `scale` of its height leaves out."""
    rows = round(layout.height_mm * layout.raster / 25.4)
    kept = cv2.resize(
        np.arange(rows, dtype=np.float32)[:, None], (1, round(rows * scale)), interpolation=cv2.INTER_NEAREST
    )
    return set(range(rows)) - set(kept[:, 0].astype(int).tolist())


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("scale", [0.985, 0.97, 0.96, 0.9432, 0.905])
def test_a_page_made_smaller_is_told_by_the_rows_it_lacks(head: str, scale: float) -> None:
    layout = layout_of(head)
    rows = dropped(layout, scale)
    told = scale_of_dropped_rows(read(layout, lambda ink, repeat, row, dot: dot in rows), layout.raster)
    assert told is not None
    assert told == pytest.approx((scale, scale), abs=2e-3)


def test_a_few_dead_rows_beside_do_not_hide_it() -> None:
    layout = layout_of("quad-416-192")
    rows = dropped(layout, 0.97)
    found = read(layout, lambda ink, repeat, row, dot: dot in rows or (ink == "K" and row in (44, 203, 204)))
    told = scale_of_dropped_rows(found, layout.raster)
    assert told is not None
    assert told == pytest.approx((0.97, 0.97), abs=2e-3)


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("step", [8, 13, 16, 22, 26])
def test_a_failed_line_of_the_heads_wiring_is_not_the_driver(head: str, step: int) -> None:
    layout = layout_of(head)
    first = layout.head.inks[0].ink
    for inks in ({first}, {ink.ink for ink in layout.head.inks}):
        found = read(layout, lambda ink, repeat, row, dot, inks=inks: ink in inks and row % step == 3)
        assert scale_of_dropped_rows(found, layout.raster) is None


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("share", [0.01, 0.03, 0.1, 0.3])
@pytest.mark.parametrize("alike", [True, False], ids=["in both printings", "in each for itself"])
def test_scattered_rows_are_not_the_driver(head: str, share: float, alike: bool) -> None:
    layout = layout_of(head)
    for seed in range(10):
        rng = np.random.default_rng(seed)
        gone = {(ink.ink, 0): rng.random(ink.rows) < share for ink in layout.head.inks}
        gone |= {
            (ink.ink, 1): gone[ink.ink, 0] if alike else rng.random(ink.rows) < share for ink in layout.head.inks
        }
        found = read(layout, lambda ink, repeat, row, dot, gone=gone: gone[ink, repeat][row])
        assert scale_of_dropped_rows(found, layout.raster) is None


@pytest.mark.parametrize("short", ["K", "M"])
def test_one_ink_alone_is_not_the_driver_who_knows_no_inks(short: str) -> None:
    layout = layout_of("quad-416-192")
    rows = dropped(layout, 0.96)
    found = read(layout, lambda ink, repeat, row, dot: ink == short and dot in rows)
    assert scale_of_dropped_rows(found, layout.raster) is None


def test_nothing_missing_tells_nothing() -> None:
    layout = layout_of("tri-100")
    assert scale_of_dropped_rows(read(layout, lambda *_: False), layout.raster) is None
    assert scale_of_dropped_rows([], layout.raster) is None
