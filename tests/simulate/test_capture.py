"""Simulated captures against their own truth, measured with a general-purpose library and nothing of the reader."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from functools import lru_cache

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image, ImageOps

from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.simulate.capture import Capture
from printcheck.simulate.faults import Contamination, Flow, InkState, NozzleFaults
from printcheck.simulate.mapping import Feed, ScanMapping, turned
from printcheck.simulate.phone import PhoneSettings, processed
from printcheck.simulate.photo_scenario import random_photo
from printcheck.simulate.printer import PrintMode
from printcheck.simulate.scenario import random_scan
from printcheck.simulate.shop import CHOICES, generator
from printcheck.simulate.tone import encode_table
from printcheck.simulate.view import every_pixel

DEAD = frozenset({20, 21, 77})


@lru_cache(maxsize=1)
def scan() -> Capture:
    """A black sheet with three dead nozzles, a weak and a displaced one, printed from the first row on."""
    faults = NozzleFaults(DEAD, {40: 0.4}, {60: 35.0}, arrangement="mixed")
    return random_scan(
        3, head="mono-416", page="A4", dots_per_inch=300, inks={"K": InkState(faults)},
        modes={"K": PrintMode("single")}, quarter_turns=1, encoding="png",
    )  # fmt: skip


@lru_cache(maxsize=1)
def photo() -> Capture:
    return random_photo(5, head="tri-100", page="A4", megapixels=8, clean=True, orientation=6, max_tilt_deg=20)


def mark_errors_mm(capture: Capture) -> np.ndarray:
    """Distance of every mark corner found by OpenCV's ArUco detector from where truth has it, mm."""
    layout = build_layout(load_head(capture.truth.head), page_named(capture.truth.page))
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.cornerRefinementWinSize = 4
    settings.adaptiveThreshWinSizeMax = 83  # a module is 14 pixels at 300 dots/inch
    finder = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), settings)
    corners, numbers, _ = finder.detectMarkers(cv2.cvtColor(capture.image, cv2.COLOR_BGR2GRAY))
    boxes = {mark.number: mark.box for mark in layout.marks}
    assert numbers is not None
    assert len(numbers) >= 10
    errors = []
    for quad, number in zip(corners, numbers.ravel(), strict=True):
        x, y = np.array(boxes[int(number)].corners).T
        px, py = capture.truth.page_to_px(x, y)
        scale = np.hypot(px[1] - px[0], py[1] - py[0]) / (x[1] - x[0])
        errors.append((quad[0] - np.stack([px, py], axis=1)) / scale)
    return np.concatenate(errors)


def test_marks_of_a_scan_are_found_where_truth_has_them() -> None:
    errors = mark_errors_mm(scan())
    assert np.sqrt((errors**2).sum(axis=1).mean()) < 0.05
    assert_allclose(errors.mean(axis=0), 0.0, atol=0.02)  # no half-pixel error (0.042 mm)


def test_marks_of_a_photo_are_found_where_truth_has_them() -> None:
    errors = mark_errors_mm(photo())
    assert np.sqrt((errors**2).sum(axis=1).mean()) < 0.08  # 0.1 mm a pixel
    assert_allclose(errors.mean(axis=0), 0.0, atol=0.04)


def strengths(capture: Capture, repeat: int) -> np.ndarray:
    """Darkness of each dash along its middle, against paper half way to the next dash of its column."""
    layout = build_layout(load_head(capture.truth.head), page_named(capture.truth.page))
    ladder = layout.ladders_of("K")[repeat]
    grey = cv2.cvtColor(capture.image, cv2.COLOR_BGR2GRAY).astype(np.float32)
    values = []
    for row in range(ladder.rows):
        box = ladder.dash(row)
        x = np.linspace(box.x0 + 1, box.x1 - 1, 60)
        levels = []
        for dy in (0.0, len(ladder.order) / 2 * ladder.pitch_mm):
            px, py = capture.truth.page_to_px(x, np.full(60, box.centre[1] + dy))
            levels.append(cv2.remap(grey, np.float32(px)[None], np.float32(py)[None], cv2.INTER_LINEAR).mean())
        values.append(levels[1] - levels[0])
    return np.array(values)


def test_dead_nozzles_leave_their_dashes_bare_and_a_weak_one_is_lighter() -> None:
    capture = scan()
    seen = strengths(capture, 0) / np.median(strengths(capture, 0))
    missing = set(capture.truth.missing("K"))
    assert missing == DEAD or len(missing) == len(DEAD)  # the ladder may start in the middle of a swath
    for dash in capture.truth.dashes["K"][:416]:
        if dash.state == "missing":
            assert abs(seen[dash.row]) < 0.2
        elif dash.state == "present":
            assert 0.6 < seen[dash.row] < 1.4
        elif dash.state == "weak":
            assert 0.2 < seen[dash.row] < 0.9


def test_repeats_a_whole_swath_apart_share_their_missing_rows() -> None:
    truth = scan().truth
    assert truth.missing("K", 0) == truth.missing("K", 1)
    assert {d.state for d in truth.dashes["K"]} == {"present", "missing", "weak", "displaced"}
    assert not truth.clean


def test_one_dead_nozzle_of_two_that_share_a_row_makes_it_weak_not_missing() -> None:
    capture = random_scan(
        4, head="tri-192", page="A4", dots_per_inch=150,
        inks={"C": InkState(NozzleFaults(frozenset({30})))},
        modes={ink: PrintMode("two-pass-dots") for ink in "CMY"},
    )  # fmt: skip
    states = {d.state for d in capture.truth.dashes["C"]}
    assert states == {"present", "weak"}
    weak = [d for d in capture.truth.dashes["C"] if d.state == "weak"]
    assert all(30 in d.nozzles and len(d.nozzles) == 2 and d.volume == pytest.approx(0.5, abs=0.1) for d in weak)
    assert {d.state for d in capture.truth.dashes["M"]} == {"present"}


def test_colour_truth_shows_fade_and_foreign_ink() -> None:
    inks = {
        "C": InkState(flow=(Flow("fade", 40.0, 260.0, 0.6),)),
        "Y": InkState(contamination=(Contamination("M", 0.1),)),
    }
    options = {"head": "tri-192", "page": "A4", "dots_per_inch": 150, "paper": "office-white", "ink_set": "dye-a"}
    faulty = random_scan(6, inks=inks, colour_truth=True, **options).truth
    sound = random_scan(6, clean=True, colour_truth=True, **options).truth

    def solid(truth: object, ink: str) -> np.ndarray:
        (patch,) = [p for p in truth.patches if p.kind == "solid" and p.inks == (ink,)]  # type: ignore[attr-defined]
        return np.array(patch.lab_relative)

    # 10 % of a foreign ink moves a solid by several units: magenta in yellow reddens it and darkens it
    assert solid(faulty, "Y")[1] - solid(sound, "Y")[1] > 2
    assert solid(faulty, "Y")[0] < solid(sound, "Y")[0]
    assert solid(faulty, "C")[0] > solid(sound, "C")[0] + 1
    assert_allclose(solid(faulty, "M"), solid(sound, "M"), atol=1e-6)


def test_a_sheet_printed_too_small_is_small_by_that_much() -> None:
    capture = random_scan(7, head="tri-100", page="A4", dots_per_inch=150, clean=True, print_scale=0.97)
    errors = mark_errors_mm(capture)
    assert np.sqrt((errors**2).sum(axis=1).mean()) < 0.1
    assert capture.truth.settings["print"]["scale"] == 0.97


def test_same_seed_same_capture_and_splits_share_nothing() -> None:
    options = {"head": "tri-100", "page": "A4", "dots_per_inch": 100}
    first, again = (random_scan(8, **options) for _ in range(2))
    assert np.array_equal(first.image, again.image)
    assert first.truth.to_json() == again.truth.to_json()
    assert generator(8, "tune", 1).random() != generator(8, "report", 1).random()
    tune, report = CHOICES["tune"], CHOICES["report"]
    for name in ("halftones", "papers", "ink_sets", "scanners", "cameras"):
        assert not set(getattr(tune, name)) & set(getattr(report, name)), name


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_orientation_tag_turns_the_file_upright(orientation: int) -> None:
    capture = photo()
    small = Capture(
        np.ascontiguousarray(capture.image[::20, ::20]),
        type(capture.encoding)("jpeg", 100, "4:4:4", 72, orientation),
        capture.truth,
    )
    with Image.open(io.BytesIO(small.encoded())) as picture:
        upright = np.asarray(ImageOps.exif_transpose(picture).convert("RGB"))[..., ::-1]
    assert upright.shape == small.image.shape
    assert np.abs(upright.astype(int) - small.image).mean() < 3


@pytest.mark.parametrize("kind", ["jpeg", "png", "tiff", "webp"])
def test_files_carry_their_resolution(kind: str) -> None:
    capture = scan()
    part = Capture(capture.image[:80, :120], type(capture.encoding)(kind, 90, "4:2:0", 300), capture.truth)
    with Image.open(io.BytesIO(part.encoded())) as picture:
        assert picture.size == (120, 80)
        if kind != "webp":  # the format has no field of its own for it
            assert float(picture.info["dpi"][0]) == pytest.approx(300, rel=2e-3)


def test_the_truth_is_valid_json() -> None:
    record = json.loads(photo().truth.to_json())
    assert record["kind"] == "photo"
    assert record["mapping"]["kind"] == "photo"
    assert record["clean"] is True
    record = json.loads(scan().truth.to_json())
    assert [d["state"] for d in record["dashes"]["K"]].count("missing") == 2 * len(DEAD)


def test_scan_mapping_inverts_itself() -> None:
    feed = Feed(210.0, 297.0, 1.0, 1.001, 0.05, 40.0, 1.0)
    mapping = ScanMapping(feed, 1.7, (3.0, -2.0), 11.8, 11.83, 0.04, 60.0, 0.5, 2500, 3500)
    columns, rows = np.array([10.0, 1200.0, 2400.0]), np.array([30.0, 1800.0, 3400.0])
    x, y = mapping.px_to_print(columns, rows)
    px, py = mapping.page_to_px(x, y)
    assert_allclose(px, np.broadcast_to(columns, (3, 3)), atol=2e-2)
    assert_allclose(py, np.broadcast_to(rows[:, None], (3, 3)), atol=2e-2)


def test_photo_mapping_inverts_itself_between_its_grid_points() -> None:
    mapping = photo().truth.mapping
    x, y = every_pixel(mapping)  # type: ignore[arg-type]
    rows, columns = np.meshgrid(np.arange(307, 2900, 331), np.arange(211, 2200, 229), indexing="ij")
    px, py = mapping.print_to_px(x[rows, columns].astype(float), y[rows, columns].astype(float))  # type: ignore[attr-defined]
    assert_allclose(px, columns, atol=0.05)
    assert_allclose(py, rows, atol=0.05)


def test_turning_follows_numpy() -> None:
    image = np.arange(12).reshape(3, 4)
    for k in range(4):
        x, y = turned(np.array(3.0), np.array(1.0), 4, 3, k)
        assert np.rot90(image, k)[int(y), int(x)] == image[1, 3]


def test_the_srgb_curve_meets_published_values() -> None:
    table = encode_table("srgb")
    # IEC 61966-2-1: 18 % reflectance is 117.65 of 255, L* 50 (Y 0.184187) 118.91, and the ends are the ends
    assert table[round(0.18 * 4095)] == 118
    assert table[round(0.184187 * 4095)] == 119
    assert (table[0], table[4095]) == (0, 255)
    assert encode_table(2.2)[round(0.5 * 4095)] == round(255 * 0.5 ** (1 / 2.2))


def test_a_look_keeps_black_middle_and_white_and_steepens_between() -> None:
    plain, with_look = encode_table("srgb").astype(float), encode_table("srgb", 0.4).astype(float)
    for value in (0, 255):
        assert with_look[plain == value].mean() == pytest.approx(value, abs=1)
    middle = int(np.searchsorted(plain, 127.5))
    assert with_look[middle] == pytest.approx(127.5, abs=1.5)
    # the slope of v + 0.4 v (1 - v) (2 v - 1) at one half is 1.2
    rise = [np.ptp(np.interp([104.0, 151.0], plain, table)) for table in (plain, with_look)]
    assert rise[1] / rise[0] == pytest.approx(1.2, abs=0.03)


def test_vividness_multiplies_chroma_and_leaves_luma() -> None:
    colour = np.full((24, 24, 3), (90, 120, 150), np.uint8)
    calm = PhoneSettings(denoise=0.0, sharpen=0.0)
    plain, vivid = (
        cv2.cvtColor(processed(colour, replace(calm, vividness=v)), cv2.COLOR_BGR2YCrCb)[12, 12].astype(float)
        for v in (1.0, 1.5)
    )
    assert_allclose(vivid[1:] - 128, 1.5 * (plain[1:] - 128), atol=1.6)
    assert vivid[0] == pytest.approx(plain[0], abs=1.5)
