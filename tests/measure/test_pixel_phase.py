"""What pixels do to lines, by first principles: a picture of lines is averaged over pixels as files do it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from printcheck.measure.ladder import LadderSignal, make_signal
from printcheck.measure.pixel_phase import without_pixel_phase
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named

LADDERS = build_layout(load_head("quad-180"), page_named("A4")).ladders_of("C")
ROWS, PITCH_MM, PIXEL_MM = LADDERS[0].rows, LADDERS[0].pitch_mm, 25.4 / 300
FINE = 240  # samples a pixel
SEGMENTS = 8


def row_px(pitch_px: float = PITCH_MM / PIXEL_MM) -> np.ndarray:
    return 7.3 + pitch_px * np.arange(ROWS)


def read_off(px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Weight, and offset in mm of the centroid, of a line 0.83 pixels wide at each of `px`, chroma kept by pairs.

    Values are averaged over a pixel as sRGB encodes them (IEC 61966-2-1), and read as light. A pure magenta takes
    0.587 of its depth from luma, in its own pixel, and 0.413 from chroma (ITU-R BT.601), which is the pair's.
    """
    weight, off = np.empty(len(px)), np.empty(len(px))
    for k, place in enumerate(px):
        first = 2 * int(place // 2) - 4
        fine = first - 0.5 + (np.arange(10 * FINE) + 0.5) / FINE
        own = (np.abs(fine - place) < 0.415).reshape(10, FINE).mean(axis=1)
        pair = np.repeat(own.reshape(5, 2).mean(axis=1), 2)
        encoded = 1.0 - (0.587 * own + 0.413 * pair)
        light = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
        weight[k] = (1 - light).sum()
        off[k] = (((1 - light) * (first + np.arange(10))).sum() / weight[k] - place) * PIXEL_MM
    return weight / np.median(weight), off


def signal(strength: np.ndarray, offset: np.ndarray, px: np.ndarray | None, crossed_px: float = 0.1) -> LadderSignal:
    """Of dashes that show `strength` and `offset` (rows,) all along, or in each segment (rows, S)."""
    each = np.zeros((ROWS, SEGMENTS))
    if px is not None and px.ndim == 1:
        px = px[:, None] + each
    parts = 0.05 * (strength if strength.ndim == 2 else strength[:, None] + each)
    moved = parts * (offset if offset.ndim == 2 else offset[:, None])
    return make_signal(parts, moved, np.ones(ROWS), 0.04, 0.0, crossed_px, row_px=px)


def told(
    strength: np.ndarray, offset: np.ndarray, px: np.ndarray | None, crossed_px: float = 0.1
) -> tuple[LadderSignal, ...]:
    """Both printings alike, as where the ladders stand whole pairs of pixels apart."""
    both = tuple(signal(strength, offset, px, crossed_px) for _ in LADDERS)
    return without_pixel_phase([LADDERS], [both], [2])[0]


def head(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Strengths and places in mm of a healthy head's rows."""
    random = np.random.default_rng(seed)
    return 1.0 + 0.02 * random.standard_normal(ROWS), 0.003 * random.standard_normal(ROWS)


def test_what_pixels_do_to_a_line_is_taken_off() -> None:
    px = row_px()
    strength, place = head(0)
    weight, off = read_off(px)
    seen = told(strength * weight, place + off, px)[0]
    assert np.std(off) > 0.008
    assert np.std(weight) > 0.03
    assert np.std(seen.offset_mm - place) < 0.25 * np.std(off)
    assert np.std(seen.amplitude / 0.05 - strength) < 0.5 * np.std(weight)
    # what dashes are made of goes along
    assert seen.parts.mean(axis=1) == pytest.approx(seen.amplitude)
    assert (seen.moved / seen.parts).mean(axis=1) == pytest.approx(seen.offset_mm, abs=1e-9)


def test_rows_askew_and_weak_keep_what_is_theirs() -> None:
    px = row_px()
    strength, place = head(1)
    askew = [31, 121, 124, 243, 333]
    place[askew] += [0.05, -0.045, 0.06, 0.05, -0.08]
    strength[[60, 200]] = 0.6
    weight, off = read_off(px)
    found = told(strength * weight, place + off, px)[0]
    far = np.abs(found.offset_mm - np.median(found.offset_mm)) > np.maximum(0.025, 4 * found.offset_sd_mm)
    assert np.flatnonzero(far).tolist() == askew
    assert np.flatnonzero(found.amplitude < 0.75 * np.median(found.amplitude)).tolist() == [60, 200]


@pytest.mark.parametrize("pitch_px", [0.5, 1.0, 0.25], ids=["600 at 300", "300 at 300", "600 at 150"])
def test_banks_that_differ_are_the_heads_where_pixels_keep_its_step(pitch_px: float) -> None:
    px = row_px(pitch_px)
    strength, place = head(2)
    odd = np.arange(ROWS) % 2
    found = told(strength * np.where(odd, 0.8, 1.0), place + np.where(odd, 0.02, -0.02), px)[0]
    assert np.median(found.amplitude[odd == 1]) / np.median(found.amplitude[odd == 0]) == pytest.approx(0.8, abs=0.02)
    assert found.offset_mm == pytest.approx(place + np.where(odd, 0.02, -0.02), abs=0.005)


def test_what_is_no_matter_of_pixels_is_left_alone() -> None:
    px = row_px()
    strength, place = head(3)
    off = read_off(px)[1]
    even = told(strength, place, px)[0]
    assert even.offset_mm == pytest.approx(place, abs=1e-12)
    assert even.amplitude == pytest.approx(0.05 * strength, abs=1e-12)
    for where, crossed in ((px, 5.0), (None, 0.1)):
        assert told(strength, place + off, where, crossed)[0].offset_mm == pytest.approx(place + off, abs=1e-12)


def test_strengths_that_differ_anyhow_are_not_laid_to_the_pixels() -> None:
    """A head of uneven drops, whose places are drawn about all the same: chance medians tell nothing."""
    px = row_px(0.8713)
    uneven = 1.0 + 0.08 * np.random.default_rng(9).standard_normal(ROWS)
    place = head(9)[1] + 0.02 * np.sin(2 * np.pi * px)
    found = told(uneven, place, px)[0]
    assert found.amplitude == pytest.approx(0.05 * uneven, abs=1e-12)
    assert np.std(found.offset_mm - head(9)[1]) < 0.25 * np.std(place - head(9)[1])


def test_more_than_pixels_can_do_is_not_laid_to_them() -> None:
    px = row_px()
    strength, place = head(4)
    thrown = place + 0.09 * np.cos(2 * np.pi * px)
    assert told(strength, thrown, px)[0].offset_mm == pytest.approx(thrown, abs=1e-12)


def test_where_lines_hop_from_pixel_to_pixel_their_places_are_in_doubt() -> None:
    """Of the dashes that fall on one place some are drawn to one pixel and some to the next."""
    px = 10.0 + np.arange(ROWS) / 3  # 600 rows to the inch at 200 pixels
    strength, place = head(5)
    hop = (np.arange(ROWS) % 3 == 1) & (np.random.default_rng(5).random(ROWS) < 0.3)
    found = told(strength, place - 0.045 * hop, px)[0]
    assert np.mean(found.offset_sd_mm[hop] > 0.011) > 0.8
    assert np.median(found.offset_sd_mm[np.arange(ROWS) % 3 == 0]) < 0.001


@pytest.mark.parametrize("share", [0.12, 0.2])
def test_rows_askew_wherever_they_fall_are_no_hops(share: float) -> None:
    strength, place = head(6)
    random = np.random.default_rng(6)
    askew = (random.random(ROWS) < share) * np.sign(random.standard_normal(ROWS))
    place += 0.0016 * np.arange(ROWS) % 0.011  # of what pixels do, so that there is something to take off
    found = told(strength, place + 0.04 * askew, row_px())[0]
    assert np.mean(found.offset_sd_mm[askew != 0] < 0.005) > 0.9


def thinned_out(strength: np.ndarray, crossed_px: float, seed: int = 8) -> tuple[LadderSignal, ...]:
    """Lines of a picture that was brought to half its size by linear interpolation, each crossing rows of pixels.

    A sample then weights what lies d of the new pixels off with 2 - 4 |d|, up to half a pixel: the tent of two old
    pixels to either side. What falls between two samples shows nothing.
    """
    along = np.linspace(-0.5, 0.5, SEGMENTS) * crossed_px
    px = row_px(0.63)[:, None] + along
    weight = np.maximum(2.0 - 4.0 * np.abs(px - np.round(px)), 0.0)
    noise = 0.02 * np.random.default_rng(seed).standard_normal(weight.shape)
    return told(strength[:, None] * weight + noise, np.zeros(ROWS), px, crossed_px)


@pytest.mark.parametrize("crossed_px", [0.7, 1.0, 2.5])
def test_lines_that_show_in_places_are_told_from_missing_ones(crossed_px: float) -> None:
    strength, _ = head(7)
    strength[[40, 41, 200]] = 0.0
    strength[300] = 0.5
    found = thinned_out(strength, crossed_px)[0]
    seen = found.amplitude / np.median(found.amplitude)
    assert found.readable.mean() > 0.9
    assert np.flatnonzero(found.readable & (seen < 0.3)).tolist() == [40, 41, 200]
    assert np.std((seen - strength)[found.readable]) < 0.06
    assert np.median(found.sd) / np.median(found.amplitude) < 0.05


def test_a_pattern_along_the_dashes_is_proof_enough_of_lost_ones() -> None:
    """Two of three inks are too wide for the pixels to tell; the third's lines come and go as no head makes them."""
    crossed = 0.2
    along = np.linspace(-0.5, 0.5, SEGMENTS) * crossed
    px = row_px(0.63)[:, None] + along
    weight = np.maximum(2.0 - 4.0 * np.abs(px - np.round(px)), 0.0)
    noise = 0.02 * np.random.default_rng(10).standard_normal(weight.shape)
    coming = tuple(signal(weight + noise, np.zeros(ROWS), px, crossed) for _ in LADDERS)
    wide = tuple(replace(signal(*head(11), row_px()), width_mm=0.3) for _ in LADDERS)
    found = without_pixel_phase([LADDERS] * 3, [coming, wide, wide], [2] * 3)[0][0]
    between = np.abs(px.mean(axis=1) - np.round(px.mean(axis=1))) > 0.45
    assert between.any()
    assert not found.readable[between].any()
    assert (found.amplitude / np.median(found.amplitude[found.readable]))[found.readable].min() > 0.4


def lost(inks: int, of: int = 2) -> list[tuple[LadderSignal, ...]]:
    """Inks at 200 pixels an inch, of which the first so many show nothing where a row falls between pixels."""
    px = 10.0 + 2 / 3 * np.arange(ROWS)
    strength, place = head(6)
    between = np.where(np.arange(ROWS) % 3 == 0, 1.0, 0.0)
    shown = [
        tuple(signal(strength * (between if ink < inks else 1.0), place, px) for _ in LADDERS) for ink in range(of)
    ]
    return without_pixel_phase([LADDERS] * of, shown, [2] * of)


@pytest.mark.parametrize(("inks", "of"), [(1, 1), (2, 2), (2, 3)])
def test_lines_that_most_inks_lack_between_pixels_cannot_be_read(inks: int, of: int) -> None:
    for ink in lost(inks, of)[:inks]:
        assert np.array_equal(ink[0].readable, np.arange(ROWS) % 3 == 0)


def test_lines_that_one_ink_lacks_are_missing() -> None:
    first, second = lost(1)
    assert first[0].readable.all()
    assert np.flatnonzero(first[0].amplitude < 0.01).tolist() == np.flatnonzero(np.arange(ROWS) % 3).tolist()
    assert second[0].readable.all()


def test_a_ladder_that_is_all_but_lost_between_the_pixels_is_no_error() -> None:
    """Of each dash one segment shows all the weight that there is: the others tell nothing of its place."""
    parts = np.full((ROWS, SEGMENTS), 1e-9)
    parts[:, 0] = 1.0
    parts[::2] *= 1e-3
    ok, lost = (each.readable for each in told(parts, np.zeros(ROWS), row_px(2.0)))
    assert ok.shape == lost.shape == (ROWS,)


def test_lines_wide_for_the_pixels_are_left_alone() -> None:
    strength, place = head(7)
    px = row_px(PITCH_MM / 0.01)  # 2540 pixels an inch
    seen = told(strength, place + 0.02 * np.cos(np.pi * px), px)[0]
    assert seen.offset_mm == pytest.approx(place + 0.02 * np.cos(np.pi * px), abs=1e-12)
