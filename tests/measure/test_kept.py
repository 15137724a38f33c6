"""What denoising took of the lines is told from other inks, and keeps a wiped line from being called missing."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from printcheck.capture.header import Header, open_image, read_header
from printcheck.measure.jpeg_steps import steps_take_lines
from printcheck.measure.kept import depth_in_luma, weight_kept
from printcheck.measure.ladder import LadderSignal
from printcheck.measure.lines import judge_lines
from printcheck.measure.patches import PatchReading
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named

HEAD = load_head("tri-100")
LAYOUT = build_layout(HEAD, page_named("A4"))
LADDERS = [LAYOUT.ladders_of(ink.ink) for ink in HEAD.inks]
ROWS = HEAD.ink("Y").rows
WEIGHT = 0.3  # mm of full absorption of a sound dash on a solid that takes all light
WEAK = (20, 41, 77)  # rows of half a sound dash's weight


def shown(weight: np.ndarray, mixed: bool = False) -> LadderSignal:
    """Dashes of `weight` (rows,) mm; where channels were mixed, in terms of the sound ones."""
    level = float(np.median(weight))
    scaled = weight / level if mixed else weight
    parts = np.repeat(scaled[:, None], 8, axis=1)
    full = np.ones(ROWS)
    out = LadderSignal(
        parts, parts * 0, scaled, full * 0.05 * np.median(scaled), full * 0.0, full * 0.003,
        np.ones(ROWS, bool), full * 0.8, 0.1, 0.0,
    )  # fmt: skip
    return replace(out, unmixed_level=level) if mixed else out


def healthy(seed: int) -> np.ndarray:
    return np.asarray(1 + 0.02 * np.random.default_rng(seed).standard_normal(ROWS))


def weak_yellow(threshold: float) -> np.ndarray:
    """Soft-thresholded line weights (D. Donoho, IEEE Trans. Inf. Theory 41(3), 1995), as denoising leaves them."""
    strength = healthy(3)
    strength[list(WEAK)] = 0.5
    return np.maximum(strength - threshold, 0.0)


def judged_yellow(threshold: float, depth: float = 0.8) -> list[str]:
    yellow = shown(WEIGHT * depth * weak_yellow(threshold), mixed=True)
    signals = [(shown(WEIGHT * 0.9 * healthy(k)),) * 2 for k in (1, 2)] + [(yellow, yellow)]
    kept = weight_kept(LADDERS, signals, [0.9, 0.9, depth])
    reading = judge_lines(HEAD.ink("Y"), LADDERS[2], signals[2], depth, photo=True, kept=kept[2])
    return [reading.dashes[row].state for row in WEAK]


def test_the_share_that_was_kept_is_that_of_other_inks_lines_over_their_solids() -> None:
    signals = [(shown(WEIGHT * healthy(k)),) * 2 for k in (1, 2)]
    signals.append((shown(0.7 * 0.5 * WEIGHT * healthy(3), mixed=True), shown(0.5 * WEIGHT * healthy(4), mixed=True)))
    kept = weight_kept(LADDERS, signals, [1.0, 1.0, 0.5])
    assert kept[:2] == [(1.0, 1.0)] * 2
    assert kept[2] == pytest.approx((0.7, 1.0), abs=0.02)


@pytest.mark.parametrize(("photo", "missing"), [(False, True), (True, False)])
def test_a_scans_luma_keeps_its_lines_though_they_are_paler_there_than_solids(photo: bool, missing: bool) -> None:
    """Thin lines take half of the green that solids take, whose drops lie over one another (Beer and Lambert)."""
    solid = PatchReading(np.array([1.0, 0.7, 0.15]), np.full(3, 0.01), 1.0)
    luma = 0.299 * 0.0 + 0.587 * 0.15 + 0.114 * 0.85  # ITU-T T.871
    weights = WEIGHT * luma * healthy(3)
    weights[list(WEAK)] = 0.0
    yellow = replace(shown(weights), in_luma=True)
    signals = [(shown(WEIGHT * healthy(k)),) * 2 for k in (1, 2)] + [(yellow, yellow)]
    kept = weight_kept(LADDERS, signals, [1.0, 1.0, depth_in_luma(solid, photo=photo)])
    found = judge_lines(HEAD.ink("Y"), LADDERS[2], signals[2], 0.8, kept=kept[2])
    assert (found.missing if missing else found.unreadable) == WEAK


@pytest.mark.parametrize("absorptances", [[None, None, 0.8], [0.9, 0.9, None], [0.9, 0.9, 0.0]])
def test_with_nothing_to_compare_with_nothing_is_laid_to_the_picture(absorptances: list[float | None]) -> None:
    signals = [(shown(WEIGHT * healthy(k)),) * 2 for k in (1, 2)]
    signals.append((shown(0.3 * WEIGHT * healthy(3), mixed=True),) * 2)
    assert weight_kept(LADDERS, signals, absorptances)[2] == (1.0, 1.0)


def test_lines_that_denoising_may_have_wiped_out_are_unreadable() -> None:
    assert judged_yellow(threshold=0.45) == ["unreadable"] * 3


@pytest.mark.parametrize("depth", [0.8, 0.4])
def test_where_lines_kept_their_weight_a_lost_one_is_missing_however_pale_the_ink(depth: float) -> None:
    signals = [(shown(WEIGHT * healthy(k)),) * 2 for k in (1, 2)]
    weights = WEIGHT * depth * healthy(3)
    weights[list(WEAK)] = 0.0
    signals.append((shown(weights, mixed=True),) * 2)
    kept = weight_kept(LADDERS, signals, [1.0, 1.0, depth])
    reading = judge_lines(HEAD.ink("Y"), LADDERS[2], signals[2], depth, photo=True, kept=kept[2])
    assert reading.missing == WEAK


def test_a_row_that_one_printing_seems_to_lack_is_not_passed_where_lines_were_taken() -> None:
    """The printer moved on by ten rows: each printing shows another row of the one dead nozzle."""
    ink = HEAD.ink("Y")
    first, second = healthy(1), healthy(2)
    first[50], second[40] = 0.0, 0.0
    printings = (shown(WEIGHT * first), shown(WEIGHT * second))
    taken = judge_lines(ink, LADDERS[2], printings, 0.8, photo=True, kept=(0.7, 0.7))
    assert taken.unreadable == (40, 50)
    assert not taken.missing
    kept = judge_lines(ink, LADDERS[2], printings, 0.8, photo=True, kept=(1.0, 1.0))
    assert not kept.unreadable
    assert set(kept.missing) | set(kept.intermittent) == {40, 50}


RUN = tuple(range(41, 50))
TAKEN = [(12, 33, 58, 71), (14, 35, 60, 90)]  # rows that noise and denoising left bare, others in either printing


def bare(seed: int, rows, reads: float = 0.0) -> LadderSignal:
    """A printing of which `rows` read `reads` of a sound dash."""
    weights = healthy(seed)
    weights[[row for row in rows if 0 <= row < ROWS]] = reads
    return shown(WEIGHT * weights)


def told(first, second, *, kept: float = 0.75, reads: float = 0.0, **settings):
    printings = (bare(1, first, reads), bare(2, second, reads))
    return judge_lines(HEAD.ink("Y"), LADDERS[2], printings, 0.8, kept=(kept, kept), **{"photo": True, **settings})


@pytest.mark.parametrize(("by", "advance"), [(0, None), (-6, -6)])
def test_rows_bare_in_both_printings_are_missing_though_lines_were_taken(by: int, advance: int | None) -> None:
    """Nine rows of a hundred alike by chance: one in 10^12, 10^9 at any shift (binomial coefficients)."""
    found = told(RUN, [row + by for row in RUN])
    assert (found.missing, found.intermittent, found.unreadable) == (RUN, (), ())
    assert found.advance_rows == advance
    assert found.arrangement == "run"


def test_rows_bare_in_one_printing_alone_stay_unread_beside_those_of_both() -> None:
    found = told((*RUN, 71), RUN)
    assert (found.missing, found.unreadable) == (RUN, (71,))


@pytest.mark.parametrize(
    ("first", "second", "settings"),
    [
        (*TAKEN, {}),
        ([41], [41], {}),  # one in a hundred by chance, and photos are many
        (range(0, 6), range(0, 6), {}),  # the first dash of every column: its place explains it as well
        (range(3, 99, 6), range(3, 99, 6), {}),  # a column, which may lie out of focus
        (RUN, RUN, {"kept": 0.55}),  # lines of two fifths would have gone as well
        (RUN, RUN, {"reads": 0.3}),  # what shows in part was more than that on paper
        (RUN, RUN, {"photo": False}),  # a scan's blocks lie alike in both printings
        (RUN, RUN, {"kept": 0.0, "blocky": True}),
    ],
    ids=["noise", "one", "ends", "column", "denoised", "in part", "scan", "coarse file"],
)
def test_what_a_picture_may_have_taken_of_both_printings_is_not_called_missing(first, second, settings) -> None:
    found = told(first, second, **settings)
    assert (found.missing, found.intermittent) == ((), ())
    assert set(found.unreadable) == set(first) | set(second)


def header_of(mode: str = "RGB", **settings) -> Header:
    """What Pillow's JPEG says of itself."""
    file = io.BytesIO()
    Image.new(mode, (64, 64), "white").save(file, "JPEG", **settings)
    with open_image("sheet.jpg", file.getvalue()) as image:
        return read_header(image)


@pytest.mark.parametrize(("quality", "taken"), [(60, True), (75, True), (90, False)])
def test_lines_that_a_jpegs_chroma_takes_are_known_by_its_steps(quality, taken) -> None:
    """Chroma's quantisers are those of ISO/IEC 10918-1, table K.2, scaled by libjpeg's 2 - quality / 50."""
    steps = header_of(quality=quality, subsampling=2).chroma_steps
    assert steps == pytest.approx([q * (2 - quality / 50) for q in (17, 18, 24, 47, 99, 99, 99, 99)], abs=0.6)
    yellow = shown(np.full(ROWS, 0.045))  # mm of the light's full absorption, on lines half a millimetre apart
    assert steps_take_lines(LADDERS[2], (yellow, yellow), steps, 300 / 25.4, 0.07) is taken
    assert not steps_take_lines(LADDERS[2], (yellow, yellow), (), 300 / 25.4, 0.07)


@pytest.mark.parametrize(("mode", "quality", "taken"), [("RGB", 40, True), ("RGB", 80, False), ("L", 40, True)])
def test_lines_that_a_jpegs_luma_takes_are_known_by_its_steps(mode, quality, taken) -> None:
    """Luma's quantisers are those of ISO/IEC 10918-1, table K.1, scaled by libjpeg: 50 / quality, or as chroma's."""
    steps = header_of(mode, quality=quality).luma_steps
    scale = 50 / quality if quality < 50 else 2 - quality / 50
    assert steps == pytest.approx([q * scale for q in (16, 12, 14, 16, 24, 40, 51, 72)], abs=0.6)
    pale = tuple(replace(shown(np.full(ROWS, 0.009)), in_luma=True) for _ in range(2))
    assert steps_take_lines(LADDERS[2], pale, steps, 300 / 25.4, 0.07) is taken
    assert not steps_take_lines(LADDERS[2], pale, (), 300 / 25.4, 0.07)


def test_chroma_that_is_not_halved_has_no_coarse_steps() -> None:
    assert header_of(quality=60, subsampling=0).chroma_steps == ()


@pytest.mark.parametrize(("dots_per_inch", "taken"), [(200, True), (240, False), (300, False)])
def test_halved_chroma_holds_no_wave_of_two_values(dots_per_inch: int, taken: bool) -> None:
    """At 200 dots/inch two values of chroma are as long as lines stand apart: by Nyquist's theorem too short."""
    yellow = shown(np.full(ROWS, 0.09))
    steps = header_of(quality=95, subsampling=2).chroma_steps
    assert steps_take_lines(LADDERS[2], (yellow, yellow), steps, dots_per_inch / 25.4, 0.07) is taken
