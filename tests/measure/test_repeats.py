"""Repeating marks strewn with known spacing, jitter and hidden places among random ones."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from printcheck.errors import PrintcheckError
from printcheck.measure.components import Component, load_components
from printcheck.measure.repeats import (
    PageMark,
    believed,
    find_repeats,
    match_component,
)

WIDTH, TOP, BOTTOM = 180.0, 15.0, 282.0
# circumference = pi x diameter on round figures: 30 mm turns once in 94.2 mm, 24 in 75.4, 20 in 62.8, 12 in 37.7
PARTS = [
    Component("drum", 30.0),
    Component("developer roller", 20.0),
    Component("charge roller", 12.0),
    Component("fuser roller", 24.0),
]


def strewn(rng, count: int) -> list[PageMark]:
    return [
        PageMark(float(rng.uniform(15, 195)), float(rng.uniform(TOP, BOTTOM)), float(rng.uniform(0.1, 0.6)))
        for _ in range(count)
    ]


def repeated(rng, part: Component, jitter_mm: float, hide: bool) -> list[PageMark]:
    spacing = part.spacing_mm
    start = TOP + float(rng.uniform(0, min(spacing, BOTTOM - TOP - 2.05 * spacing)))
    places = np.arange(start, BOTTOM, spacing)
    x = float(rng.uniform(20, 190))
    size = float(rng.uniform(0.2, 0.6))
    kept = np.ones(len(places), bool)
    if hide and len(places) > 3:
        kept[rng.integers(1, len(places) - 1)] = False
    return [
        PageMark(
            x + float(rng.normal(0, jitter_mm / 2)),
            float(y + rng.normal(0, jitter_mm)),
            size * float(rng.uniform(0.8, 1.2)),
        )
        for y in places[kept]
    ]


def test_spacing_is_pi_times_the_diameter() -> None:
    assert [round(c.spacing_mm, 1) for c in PARTS] == [94.2, 62.8, 37.7, 75.4]
    assert Component("r", 20.0, speed_ratio=1.25).spacing_mm == pytest.approx(math.pi * 16.0)


def exact(x_mm: float, spacing_mm: float, diameter_mm: float, count: int = 3) -> list[PageMark]:
    return [PageMark(x_mm, TOP + 20 + k * spacing_mm, diameter_mm) for k in range(count)]


@pytest.mark.parametrize(("count", "named"), [(25, True), (90, False)])
def test_a_crowd_begins_where_three_exact_marks_go_unnamed(count: int, named: bool) -> None:
    """The count is the search's own: with few others of their size three marks are named, with many they aren't."""
    for seed in range(12):
        rng = np.random.default_rng(seed)
        others = [PageMark(float(x), float(y), 0.4) for x, y in rng.uniform((15, TOP), (195, BOTTOM), (count, 2))]
        marks = others + exact(100.0, 94.2, 0.4)
        found = find_repeats(marks, WIDTH, TOP, BOTTOM)
        sure, hiding = believed(found, marks, WIDTH, TOP, BOTTOM)
        assert any(repeat.spacing_mm == pytest.approx(94.2, abs=0.5) for repeat in sure) == named
        assert (hiding == 0) == named


def test_large_marks_are_named_in_a_crowd_of_small_ones() -> None:
    """Chance has only marks of their size: a hundred specks of 0.2 mm hide no three of 1 mm, but three of 0.2 mm."""
    rng = np.random.default_rng(4)
    small = [PageMark(float(x), float(y), 0.2) for x, y in rng.uniform((15, TOP), (195, BOTTOM), (100, 2))]
    marks = small + exact(100.0, 94.2, 1.0)
    (repeat,), hiding = believed(find_repeats(marks, WIDTH, TOP, BOTTOM), marks, WIDTH, TOP, BOTTOM)
    assert repeat.spacing_mm == pytest.approx(94.2)
    assert hiding == 100


def test_what_comes_back_in_a_texture_is_not_believed() -> None:
    """A lattice of marks repeats in every one of its columns, far beyond chance, and no roller has made it."""
    rng = np.random.default_rng(4)
    lattice = [
        PageMark(20.0 + 2.0 * i, TOP + 1 + 26.1 * k + (1.7 * i) % 26.1, 0.1) for i in range(40) for k in range(9)
    ]
    crowd = [PageMark(float(x), float(y), 0.1) for x, y in rng.uniform((15, TOP), (195, BOTTOM), (80, 2))]
    marks = [mark for mark in lattice + crowd if mark.y_mm < BOTTOM]
    found = find_repeats(marks, WIDTH, TOP, BOTTOM)
    assert len(found) > 5
    sure, hiding = believed(found, marks, WIDTH, TOP, BOTTOM)
    assert sure == ()
    assert hiding > 33


def test_no_marks_hide_none() -> None:
    assert believed((), [], WIDTH, TOP, BOTTOM) == ((), 0)


def test_the_right_part_is_named_among_random_specks() -> None:
    right = 0
    for seed in range(200):
        rng = np.random.default_rng(seed)
        part = PARTS[seed % len(PARTS)]
        marks = strewn(rng, int(rng.integers(0, 25))) + repeated(rng, part, 0.2, hide=True)
        found = find_repeats(marks, WIDTH, TOP, BOTTOM)
        named = [match_component(r, PARTS) for r in found]
        right += len(found) == 1 and named[0][:1] == (part,)
    assert right >= 190


def test_random_specks_are_no_roller() -> None:
    named = 0
    for seed in range(300):
        rng = np.random.default_rng(10_000 + seed)
        named += bool(find_repeats(strewn(rng, int(rng.integers(3, 80))), WIDTH, TOP, BOTTOM))
    assert named <= 3


@pytest.mark.parametrize(("count", "spacing_mm"), [(3, 94.2), (5, 56.5)])
@pytest.mark.parametrize("jitter_mm", [0.15, 0.2, 0.3])
def test_the_spacing_comes_with_an_interval_that_holds_it(count: int, spacing_mm: float, jitter_mm: float) -> None:
    """A feed off by 0.2 % (standard deviation) from page to page, and marks that scatter: 95 in 100 are held.

    Over 300 pages a share of 95 % has a standard deviation of 1.3 %; marks that scatter less than is known of them at
    first are held more often.
    """
    rng = np.random.default_rng(count)
    tried, held, widths = 0, 0, []
    for _ in range(300):
        places = 20.0 + spacing_mm * (1 + rng.normal(0, 0.002)) * np.arange(count) + rng.normal(0, jitter_mm, count)
        found = find_repeats([PageMark(60.0, float(y), 0.5) for y in places], WIDTH, TOP, BOTTOM)
        whole = [repeat for repeat in found if len(repeat.y_mm) == count]
        tried += len(whole)
        held += sum(abs(repeat.spacing_mm - spacing_mm) <= repeat.spacing_sure_mm for repeat in whole)
        widths += [repeat.spacing_sure_mm for repeat in whole]
    assert tried > 285
    assert held / tried >= 0.925
    assert max(widths) < 1.5


def test_two_faulty_parts_are_both_found() -> None:
    rng = np.random.default_rng(4)
    marks = repeated(rng, PARTS[0], 0.1, hide=False) + repeated(rng, PARTS[2], 0.1, hide=False)
    found = find_repeats(marks, WIDTH, TOP, BOTTOM)
    assert {match_component(r, PARTS)[0].name for r in found} == {"drum", "charge roller"}


def test_two_marks_are_not_enough() -> None:
    marks = [PageMark(50.0, 60.0, 0.4), PageMark(50.0, 60.0 + 94.2, 0.4)]
    assert find_repeats(marks, WIDTH, TOP, BOTTOM) == ()


def test_a_mark_hidden_under_print_is_not_held_against_it() -> None:
    spacing = PARTS[2].spacing_mm
    marks = [PageMark(50.0, 20.0 + k * spacing, 0.4) for k in (0, 1, 5, 6)]
    assert find_repeats(marks, WIDTH, TOP, BOTTOM) == ()
    (found,) = find_repeats(marks, WIDTH, TOP, BOTTOM, lambda x, y: not 90 < y < 200)
    assert found.spacing_mm == pytest.approx(spacing, abs=1e-6)


def test_a_spacing_of_no_known_part_names_none() -> None:
    marks = [PageMark(50.0, 20.0 + k * 50.0, 0.4) for k in range(5)]
    (found,) = find_repeats(marks, WIDTH, TOP, BOTTOM)
    assert found.diameter_mm == pytest.approx(50.0 / math.pi)
    assert match_component(found, PARTS) == ()


def test_a_shops_table_is_read(tmp_path: Path) -> None:
    path = tmp_path / "parts.toml"
    path.write_text(
        '[[components]]\nname = "drum"\ndiameter_mm = 30\n'
        '[[components]]\nname = "dev"\ndiameter_mm = 16.0\nspeed_ratio = 1.3\n'
    )
    assert load_components(path) == (Component("drum", 30.0), Component("dev", 16.0, 1.3))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "at least one"),
        ("[[components]]\ndiameter_mm = 3\n", "'name'"),
        ('[[components]]\nname = "drum"\ndiameter_mm = -3\n', "'diameter_mm'"),
        ("[[components", "can't be read"),
    ],
)
def test_faults_of_a_table_are_named(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "parts.toml"
    path.write_text(text)
    with pytest.raises(PrintcheckError, match=said):
        load_components(path)


def test_part_of_a_mark_may_be_of_any_size() -> None:
    """What an area's edge cuts through shows less than a third of the others, and is one of them all the same."""
    sizes = (0.8, 0.2, 0.9, 0.8)
    marks = [PageMark(30.0, 20.0 + 50.0 * k, size, cut=size < 0.5) for k, size in enumerate(sizes)]
    (found,) = find_repeats(marks, 80.0, 0.0, 200.0)
    assert len(found.y_mm) == 4
    whole = [PageMark(m.x_mm, m.y_mm, m.diameter_mm) for m in marks]
    assert all(len(r.y_mm) < 4 for r in find_repeats(whole, 80.0, 0.0, 200.0))


def test_a_mark_too_small_to_tell_its_size_is_one_of_its_kind() -> None:
    marks = [PageMark(60.0, 30.0 + 75.4 * k, size) for k, size in enumerate((0.1, 0.42, 0.4))]
    (found,) = find_repeats(marks, 100.0, 8.0, 272.0)
    assert len(found.y_mm) == 3


def test_many_small_specks_do_not_hide_a_few_large_marks() -> None:
    """Chance is reckoned among marks of such a size: three of 0.9 mm amid 40 of 0.15 mm are no chance."""
    rng = np.random.default_rng(2)
    small = [PageMark(float(rng.uniform(50, 150)), float(rng.uniform(8, 280)), 0.15) for _ in range(40)]
    jitter = (0.2, -0.1, 0.1)
    marks = [PageMark(100.0 + off, 84.0 + 75.1 * k + off, 0.9) for k, off in enumerate(jitter)]
    (found,) = find_repeats([*small, *marks], 100.0, 8.0, 289.0)
    assert found.spacing_mm == pytest.approx(75.1, abs=0.2)
    alike = [PageMark(m.x_mm, m.y_mm, 0.9) for m in small]
    assert all(r.spacing_mm < 75 or r.spacing_mm > 75.3 for r in find_repeats([*alike, *marks], 100.0, 8.0, 289.0))


def test_a_place_at_the_edge_of_what_was_searched_is_not_missed_there() -> None:
    """With 0.2 mm of jitter a mark foretold 0.3 mm inside the edge may as well lie outside."""
    places = (45.0, 83.2, 120.7, 196.3, 233.5)  # of 37.7 mm: the fourth is hidden, 7.4 and 271.6 lie on the edges
    (found,) = find_repeats([PageMark(119.6, y, 0.5) for y in places], 100.0, 7.1, 272.0)
    assert found.spacing_mm == pytest.approx(37.7, abs=0.2)
    assert found.hidden == 1


@pytest.mark.parametrize("seed", range(3))
def test_a_dirty_stripe_down_the_page_is_no_roller(seed: int) -> None:
    """Marks strewn along three stripes 2 mm wide: crowded as they are, many line up by chance."""
    rng = np.random.default_rng(seed)
    marks = [
        PageMark(float(rng.choice([60.0, 90.0, 120.0]) + rng.uniform(-1, 1)), float(rng.uniform(10, 290)), 0.3)
        for _ in range(150)
    ]
    assert find_repeats(marks, 100.0, 10.0, 290.0) == ()
    turning = [PageMark(75.0, 30.0 + 50.0 * k, 0.4) for k in range(5)]
    (found,) = find_repeats([*marks, *turning], 100.0, 10.0, 290.0)
    assert found.spacing_mm == pytest.approx(50.0)


def test_a_roller_whose_marks_are_twice_hidden_is_not_taken_for_one_of_twice_its_size() -> None:
    """Seven places, the second and the sixth hidden: every other one is there, and so is one between."""
    rng = np.random.default_rng(3)
    marks = strewn(rng, 10)
    places = [k for k in range(7) if k not in (1, 5)]
    marks += [PageMark(80.0, TOP + 5.0 + 37.7 * k + float(rng.normal(0, 0.15)), 0.5) for k in places]
    (found,) = find_repeats(marks, 180.0, TOP, BOTTOM)
    assert found.spacing_mm == pytest.approx(37.7, rel=0.005)
    assert found.hidden == 2
