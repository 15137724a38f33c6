"""Specks on bare paper: discs of known size drawn by Pillow at sixteen times the capture's resolution."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw

from printcheck.capture.header import open_image, read_header
from printcheck.colour.linear import srgb_to_linear as srgb2light
from printcheck.measure.background import (
    LEAST_SPECK_MM,
    Dirt,
    Speck,
    bare_areas,
    block_contrast,
    hides_specks,
    read_dirt,
)
from printcheck.pattern.heads import builtin_heads, load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import PAGES

_FINE = 16


def with_disc(light: np.ndarray, per_mm: float, x_mm: float, y_mm: float, diameter_mm: float, dark: float) -> None:
    """Lay a disc of reflectance `dark` on `light`, each pixel the mean of its area (in place)."""
    reach = int(diameter_mm * per_mm / 2) + 3
    x, y = int(x_mm * per_mm), int(y_mm * per_mm)
    tile = Image.new("L", (2 * reach * _FINE, 2 * reach * _FINE), 0)
    cx, cy = ((v * per_mm - o + reach) * _FINE for v, o in ((x_mm, x), (y_mm, y)))
    r = diameter_mm * per_mm / 2 * _FINE
    ImageDraw.Draw(tile).ellipse([cx - r, cy - r, cx + r - 1, cy + r - 1], fill=255)
    cover = np.asarray(tile, float).reshape(2 * reach, _FINE, 2 * reach, _FINE).mean(axis=(1, 3)) / 255
    part = light[y - reach : y + reach, x - reach : x + reach]
    part[:] = part * (1 - cover) + dark * cover


def seen(sheet, per_mm: float, **options) -> np.ndarray:
    sheet.light = cv2.GaussianBlur(sheet.light, (0, 0), 0.65)  # a scanner's optics
    return sheet.pixels(**options)


@pytest.mark.parametrize("dots_per_inch", [300, 600])
def test_specks_are_counted_and_sized(drawn, dots_per_inch) -> None:
    sheet = drawn("mono-416", dots_per_inch)
    box = max(bare_areas(sheet.layout), key=lambda b: b.width * b.height)
    sizes = [0.15, 0.2, 0.3, 0.5, 0.8, 1.2]
    for k, size in enumerate(sizes):
        with_disc(sheet.light, dots_per_inch / 25.4, box.x0 + 10 + 17.3 * k, box.y0 + 9.7 + 2.1 * k, size, 0.05)
    dirt = read_dirt(seen(sheet, dots_per_inch / 25.4), sheet.registration)
    assert dirt is not None
    assert len(dirt.specks) == len(sizes)
    for speck, size in zip(sorted(dirt.specks, key=lambda s: s.diameter_mm), sizes, strict=True):
        assert speck.diameter_mm == pytest.approx(size, abs=0.03 + 0.03 * size)
    assert dirt.largest_mm == pytest.approx(1.2, abs=0.06)
    assert dirt.per_dm2 == pytest.approx(len(sizes) / dirt.area_dm2, rel=0.15)


def test_specks_that_an_areas_edge_cuts_are_made_up_for(drawn) -> None:
    """Middles spread evenly over a strip of paper 1.7 mm wide and beyond: those on it count, cut or not."""
    sheet = drawn("quad-416-192")
    box = min(bare_areas(sheet.layout), key=lambda b: min(b.width, b.height))
    assert box.height < 2.0
    at = [(box.x0 + 3 + 1.8 * k, box.y0 - 0.5 + (0.381966 * k) % 1.0 * (box.height + 1.0)) for k in range(60)]
    for x, y in at:
        with_disc(sheet.light, 300 / 25.4, x, y, 0.7, 0.05)
    dirt = read_dirt(seen(sheet, 300 / 25.4), sheet.registration)
    assert dirt is not None
    middles = sum(box.y0 < y < box.y1 for _, y in at)
    assert len(dirt.specks) < 0.75 * middles
    assert dirt.per_dm2 * dirt.area_dm2 == pytest.approx(middles, rel=0.15)


@pytest.mark.parametrize("noise", [0.002, 0.012])
def test_noisy_paper_in_uneven_light_holds_no_specks(drawn, noise) -> None:
    sheet = drawn()
    dirt = read_dirt(sheet.pixels(noise, lambda y: 1 - 0.3 * y / 297), sheet.registration)
    assert dirt is not None
    assert dirt.specks == ()
    assert dirt.smears == ()
    assert dirt.largest_mm == 0.0


def test_what_is_smaller_than_a_tenth_of_a_millimetre_does_not_count(drawn) -> None:
    sheet = drawn("mono-416", 600)
    box = max(bare_areas(sheet.layout), key=lambda b: b.width * b.height)
    with_disc(sheet.light, 600 / 25.4, box.x0 + 20, box.y0 + 20, 0.06, 0.05)
    dirt = read_dirt(seen(sheet, 600 / 25.4), sheet.registration)
    assert dirt is not None
    assert dirt.specks == ()
    assert LEAST_SPECK_MM == 0.1


def test_a_picture_too_coarse_for_specks_gives_none(drawn) -> None:
    sheet = drawn("mono-416", 200)
    assert read_dirt(sheet.pixels(), sheet.registration) is None


@pytest.mark.parametrize("page", sorted(PAGES))
@pytest.mark.parametrize("head", sorted(builtin_heads()))
def test_bare_areas_hold_nothing_printed(head: str, page: str) -> None:
    layout = build_layout(load_head(head), PAGES[page])
    areas = bare_areas(layout)
    printed = [
        e.box
        for group in (layout.marks, layout.codes, layout.ladders, layout.patches, layout.hairlines)
        for e in group
    ]
    assert sum(a.width * a.height for a in areas) > 3000.0
    assert not [(a, b) for a in areas for b in printed if a.overlaps(b)]
    assert not [(a, b) for k, a in enumerate(areas) for b in areas[:k] if a.overlaps(b)]
    assert all(a.x0 > 0 and a.x1 < layout.width_mm and a.y0 > 0 and a.y1 < layout.height_mm for a in areas)


@pytest.mark.parametrize("page", sorted(PAGES))
@pytest.mark.parametrize("ticket", ["T-1", ""])
def test_the_ready_made_sheet_itself_reads_as_clean(page: str, ticket: str) -> None:
    """The drawn sheet, texts and all: no letter or label is taken for dirt."""
    from printcheck.pattern.render.raster import compose_rgb
    from printcheck.pattern.sheet import make_sheet
    from printcheck.register.result import Registration

    for head in builtin_heads(None):
        layout = build_layout(load_head(head), PAGES[page])
        drawn = np.asarray(compose_rgb(make_sheet(layout, ticket)))
        per_mm = layout.raster / 25.4
        to_px = np.array([[per_mm, 0, -0.5], [0, per_mm, -0.5], [0, 0, 1.0]])
        registration = Registration(layout, "", to_px, None, 14, 0.0, None, per_mm, per_mm, 0.0, 0.0, ())
        dirt = read_dirt(np.ascontiguousarray(drawn[..., ::-1]), registration)
        assert dirt is not None
        assert dirt.specks == (), head
        assert dirt.smears == (), head


def test_a_faint_smear_is_found_where_it_lies_and_a_fibre_is_none(drawn) -> None:
    sheet = drawn()
    per_mm = 300 / 25.4
    box = max(bare_areas(sheet.layout), key=lambda b: b.width * b.height)
    x, y = box.x0 + 30.0, box.y0 + 10.0
    rows = slice(round(y * per_mm), round((y + 4) * per_mm))
    columns = slice(round(x * per_mm), round((x + 12) * per_mm))
    sheet.light[rows, columns] *= 0.93
    fibre = round((box.y0 + 20.0) * per_mm)
    sheet.light[fibre, round((box.x0 + 10) * per_mm) : round((box.x0 + 14) * per_mm)] = 0.2
    dirt = read_dirt(seen(sheet, per_mm, shade=lambda v: 1 - 0.3 * v / 297), sheet.registration)
    assert dirt is not None
    (smear,) = dirt.smears
    assert (smear.x0_mm, smear.y0_mm, smear.x1_mm, smear.y1_mm) == pytest.approx((x, y, x + 12, y + 4), abs=0.6)
    assert smear.area_mm2 == pytest.approx(48.0, rel=0.15)
    assert smear.contrast == pytest.approx(0.07, abs=0.01)


def held_down(sheet, per_mm: float, box, at_mm: tuple[float, float]) -> None:
    """Lay something dark and soft-edged over one end of `box` (in place): a hand that holds the sheet."""
    cover = np.zeros(sheet.light.shape, np.float32)
    centre = (round((box.x0 + at_mm[0]) * per_mm), round((box.y0 + at_mm[1]) * per_mm))
    cv2.ellipse(cover, centre, (round(9 * per_mm), round(14 * per_mm)), 40, 0, 360, 1.0, -1)
    cover = cv2.GaussianBlur(cover, (0, 0), 0.4 * per_mm)
    sheet.light[:] = sheet.light * (1 - cover) + 0.35 * cover


@pytest.mark.parametrize("noise", [0.004, 0.012, 0.02])
@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_the_edge_of_a_hand_over_the_paper_holds_no_specks(drawn, noise, share) -> None:
    sheet, per_mm = drawn(), 300 / 25.4
    for box in bare_areas(sheet.layout):
        held_down(sheet, per_mm, box, (0.0, share * box.height))
    dirt = read_dirt(seen(sheet, per_mm, noise=noise), sheet.registration)
    assert dirt is not None
    assert dirt.specks == ()


def test_specks_beside_a_hand_count_still_and_so_do_blots_of_ink(drawn) -> None:
    sheet, per_mm = drawn(), 300 / 25.4
    boxes = bare_areas(sheet.layout)
    box = max(boxes, key=lambda b: b.width * b.height)
    held_down(sheet, per_mm, box, (0.0, 0.0))
    with_disc(sheet.light, per_mm, box.x1 - 10, box.y1 - 6, 0.6, 0.05)
    with_disc(sheet.light, per_mm, box.x1 - 30, box.y1 - 7, 2.4, 0.05)
    dirt = read_dirt(seen(sheet, per_mm), sheet.registration)
    assert dirt is not None
    assert [(s.x_mm, s.y_mm) for s in dirt.specks] == [
        pytest.approx((box.x1 - 30, box.y1 - 7), abs=0.3),
        pytest.approx((box.x1 - 10, box.y1 - 6), abs=0.1),
    ]
    assert dirt.area_dm2 < 0.9999 * sum(b.width * b.height for b in boxes) / 1e4


def as_jpeg(pixels: np.ndarray, quality: int) -> tuple[np.ndarray, float]:
    """The picture after Pillow's JPEG of a quality, and the step of its blocks' mean as the file says."""
    file = io.BytesIO()
    Image.fromarray(pixels[..., ::-1]).save(file, "JPEG", quality=quality)
    with open_image("sheet.jpg", file.getvalue()) as image:
        return np.ascontiguousarray(np.asarray(image)[..., ::-1]), read_header(image).block_step


@pytest.mark.parametrize(("quality", "hidden"), [(10, True), (18, True), (20, False), (50, False)])
def test_blocks_that_look_like_specks_are_known_by_the_file(drawn, quality, hidden) -> None:
    """The first luminance quantiser is 16 (ISO/IEC 10918-1, table K.1), scaled by libjpeg's 50 / quality."""
    sheet = drawn()
    even = sheet.pixels(0.02, lambda y: 1 - 0.6 * y / 297)
    pixels, step = as_jpeg(even, quality)
    assert step == pytest.approx(16 * 50 / quality / 8, abs=0.1)
    found = block_contrast(pixels, sheet.registration, step)
    low, high = (
        1 - float(srgb2light((level - step) / 255) / srgb2light(level / 255))
        for level in (np.median(even[:200]), np.median(even[-200:]))
    )
    assert low < found < high
    assert hides_specks(found) == hidden
    dirt = read_dirt(pixels, sheet.registration)
    assert dirt is not None
    assert bool([s for s in dirt.specks if s.diameter_mm >= 0.5]) == hidden


def test_a_picture_that_is_no_jpeg_has_no_blocks(drawn) -> None:
    file = io.BytesIO()
    Image.new("RGB", (64, 64), "white").save(file, "PNG")
    with open_image("sheet.png", file.getvalue()) as image:
        assert read_header(image).block_step == 0.0
    sheet = drawn()
    assert block_contrast(sheet.pixels(), sheet.registration, 0.0) == 0.0


def test_a_step_is_held_against_the_channel_that_specks_are_looked_for_in(drawn) -> None:
    """Yellowish paper: 5 levels are more of its blue's light."""
    sheet = drawn()
    pixels = sheet.pixels()
    yellowish = pixels.copy()
    yellowish[..., 0] = (0.8 * pixels[..., 0]).astype(np.uint8)
    blue = np.repeat(yellowish[..., :1], 3, axis=2)
    expected = block_contrast(blue, sheet.registration, 5.0)
    assert block_contrast(yellowish, sheet.registration, 5.0) == pytest.approx(expected)
    assert expected > 1.2 * block_contrast(pixels, sheet.registration, 5.0)


@pytest.mark.parametrize("mean", [0.5, 1.0, 2.0, 4.0, 8.0, 16.0])
def test_the_interval_of_specks_holds_their_true_number_as_poissons_law_has_it(mean: float) -> None:
    """Against the exact law in scipy.stats: the score interval holds 95 % on average, and never under 90 %."""
    from scipy.stats import poisson

    area = 0.5
    counts = np.arange(0, 80)
    dirt = [Dirt(tuple([Speck(50.0, 50.0, 0.6, 0.5)] * count), area) for count in counts]
    holds = np.array([low <= mean / area <= high for low, high in (one.per_dm2_ci95 for one in dirt)])
    assert 0.90 < float((holds * poisson.pmf(counts, mean)).sum()) <= 1.0
    assert dirt[0].per_dm2_ci95[0] == 0.0
    assert dirt[0].per_dm2_ci95[1] > 3.0 / area  # nothing found is no proof that there is nothing
