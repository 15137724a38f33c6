from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printcheck.pattern.elements import Ladder
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.report.callouts import callouts_of, spread


def ladder() -> Ladder:
    return build_layout(load_head("mono-416"), page_named("A4")).ladders_of("K")[0]


@given(st.lists(st.floats(0, 100), min_size=1, max_size=20).map(sorted))
def test_lines_keep_their_distance_and_order(wanted: list[float]) -> None:
    got = spread(wanted, 3.0, 0.0, 100.0)
    assert all(b - a >= 3.0 - 1e-9 for a, b in itertools.pairwise(got))
    assert min(got) >= 0
    assert max(got) <= 100 + 1e-9


def test_lines_with_room_stay_where_they_are() -> None:
    assert spread([10, 20, 30], 3.0, 0.0, 100.0) == pytest.approx([10, 20, 30])


def test_two_lines_on_one_place_part_evenly() -> None:
    # least squares by hand: 50 -/+ half of 3
    assert spread([50, 50], 3.0, 0.0, 100.0) == pytest.approx([48.5, 51.5])


def test_a_run_is_one_number() -> None:
    frame = ladder()
    (callout,) = callouts_of(frame, tuple(range(120, 160)), frame.box.y0, frame.box.y1, 3.0, left=True)
    assert callout.text == "120\u2013159"
    assert callout.targets[0][0] == pytest.approx(min(frame.dash(r).x0 for r in range(120, 160)))


def test_many_numbers_are_thinned_and_the_rest_counted() -> None:
    frame = ladder()
    rows = tuple(range(0, 416, 2))
    got = callouts_of(frame, rows, frame.box.y0 - 7, frame.box.y1 + 7, 3.0, left=True)
    shown = [int(n) for c in got[:-1] for n in c.text.split(", ")]
    more = re.fullmatch(r"and (\d+) more", got[-1].text)
    assert more is not None
    assert len(shown) <= 40
    assert len(shown) + int(more[1]) == len(rows)
    assert set(shown) <= set(rows)
    assert len(got) * 3.0 <= frame.box.height + 14
