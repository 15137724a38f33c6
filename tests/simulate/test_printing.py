"""The simulator's physics against closed forms and published values."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose

from printcheck.pattern.heads import HeadInk
from printcheck.simulate.drops import SpotModel, cell_areas, deposit, row_loads
from printcheck.simulate.faults import Contamination, Flow, NozzleFaults, draw_health, random_dead, random_thrown
from printcheck.simulate.halftone import HALFTONES, bayer, blue_noise, halftone
from printcheck.simulate.inks import demichel, lab, mixed, primaries, xyz_weights
from printcheck.simulate.printer import PrintMode, assign_nozzles
from printcheck.simulate.separate import separate
from printcheck.simulate.spectra import CMF, D50, INK_SETS, PAPERS, absorbance, paper
from printcheck.simulate.stream import blurred


def cover_of(dots: np.ndarray, diameter_cells: float) -> np.ndarray:
    """Cover of a block of 600/inch dots of one size, three cells of margin around it."""
    zero = np.zeros(dots.shape[0])
    load = row_loads(zero + diameter_cells / 2, zero, zero, 1, 3)
    out = np.zeros((dots.shape[0] + 6, dots.shape[1] + 6), np.float32)
    deposit(dots, load, 1, out)
    return -np.expm1(-out)


@pytest.mark.parametrize(("y", "x"), [(0.0, 0.0), (0.3, -0.2), (-0.9, 0.45)])
def test_a_disc_shares_out_exactly_its_own_area(y: float, x: float) -> None:
    cells = np.arange(-4, 5)
    areas = cell_areas(np.array([0.71]), np.array([y]), np.array([x]), cells, cells)
    assert_allclose(areas.sum(), np.pi * 0.71**2, rtol=6e-3)  # area of a circle, by quadrature


def test_far_apart_drops_cover_their_own_area() -> None:
    dots = np.zeros((60, 70), np.uint8)
    dots[5::10, 5::10] = 1
    # 1.2 cells across: pi/4 * 1.2^2 = 1.131 cells, less the 1.5 % of the middle cell that fibres keep bare
    assert_allclose(cover_of(dots, 1.2).sum() / dots.sum(), np.pi / 4 * 1.2**2, rtol=0.02)


def test_drops_strewn_at_random_cover_as_a_boolean_model_does() -> None:
    # mean cover of independent discs of total area a per unit area: 1 - exp(-a) (Matheron's Boolean model)
    rng = np.random.default_rng(4)
    load = np.zeros((306, 406), np.float32)
    for _ in range(3):
        dots = (rng.random((300, 400)) < 0.1).astype(np.uint8)
        off = rng.uniform(-0.5, 0.5, (2, 300))
        deposit(dots, row_loads(np.full(300, 0.7), off[0], off[1], 1, 3), 1, load)
    asked = 3 * 0.1 * np.pi * 0.7**2
    cover = -np.expm1(-load[10:-10, 10:-10])
    assert_allclose(cover.mean(), 1 - np.exp(-asked), atol=0.035)


def test_a_solid_is_closed_and_a_dead_row_is_filled_in_part_by_its_neighbours() -> None:
    dots = np.ones((41, 50), np.uint8)
    dots[20] = 0
    cover = cover_of(dots, 1.5)[3:-3, 10:-10].mean(axis=1)
    assert cover[10] > 0.97
    # each neighbour reaches over by a segment of its circle: r^2 acos(d/r) - d sqrt(r^2 - d^2), d half a row
    r, d = 0.75, 0.5
    segment = r**2 * np.arccos(d / r) - d * np.sqrt(r**2 - d**2)
    assert_allclose(cover[20], 1 - (1 - segment) ** 2, atol=0.05)


def test_a_lone_dead_row_is_bare() -> None:
    zero = np.zeros(9)
    radius = np.full(9, 0.7)
    radius[4] = 0.0
    dots = np.zeros((9, 40), np.uint8)
    dots[4] = 1
    out = np.zeros((15, 46), np.float32)
    deposit(dots, row_loads(radius, zero, zero, 1, 3), 1, out)
    assert not out.any()


def test_dot_gain_grows_with_drop_volume() -> None:
    dots = np.zeros((40, 40), np.uint8)
    dots[::2, ::2] = 1
    spot = SpotModel(1.4, 0.42)
    gains = [cover_of(dots, 2 * float(spot.radius_um(np.array([v]))[0])).mean() for v in (0.6, 0.8, 1.0, 1.3)]
    assert all(b > a + 0.01 for a, b in pairwise(gains))
    assert spot.radius_um(np.array([0.0]))[0] == 0.0


def test_a_displaced_row_lands_where_it_was_sent() -> None:
    dots = np.ones((21, 30), np.uint8)
    dots[np.arange(21) != 10] = 0
    for shift in (-0.8, 0.35, 1.2):
        out = np.zeros((27, 36), np.float32)
        deposit(dots, row_loads(np.full(21, 0.7), np.full(21, shift), np.zeros(21), 1, 3), 1, out)
        cover = -np.expm1(-out[:, 10:-10]).mean(axis=1)
        assert_allclose(
            (cover * np.arange(27)).sum() / cover.sum(), 13 + shift, atol=0.07
        )  # 3 um: what cells of one row can hold


@pytest.mark.parametrize("method", HALFTONES)
@pytest.mark.parametrize("tone", [26, 77, 128, 204])
def test_a_halftone_holds_the_tone_that_was_asked_for(method: str, tone: int) -> None:
    plane = np.zeros((230, 420), np.uint8)
    plane[20:212, 40:360] = tone
    plane[:10, :10] = 255
    dots = halftone(plane, method, shift=(5, 11))
    assert_allclose(dots[20:212, 40:360].mean(), tone / 255, atol=0.012)
    assert dots[:10, :10].all()
    assert dots.sum() == dots[20:212, 40:360].sum() + 100  # and nothing where no tone was asked for


def test_threshold_matrices_hold_every_threshold_once() -> None:
    for matrix in (bayer(), blue_noise()):
        assert_allclose(np.sort(matrix.ravel()), (np.arange(matrix.size) + 0.5) / matrix.size, atol=1e-6)
    assert bayer(1).tolist() == [[0.125, 0.625], [0.875, 0.375]]  # Bayer's 2 x 2 index matrix 0 2 / 3 1


def test_blue_noise_has_little_power_at_low_frequency() -> None:
    # the property it is named for (Ulichney 1993): white noise would have the same power everywhere
    power = np.abs(np.fft.fft2((blue_noise() < 0.5) - 0.5)) ** 2
    away = np.hypot(*np.meshgrid(*[np.fft.fftfreq(64)] * 2))
    assert power[(away > 0) & (away < 0.15)].mean() < 0.05 * power[away > 0].mean()


def test_single_pass_uses_the_same_nozzle_one_swath_further_down() -> None:
    firing = assign_nozzles(HeadInk("K", 416, 600, 600), PrintMode("single", phase=37), 3000)
    assert firing.nozzle[0, 37] == 0
    assert (firing.nozzle[0, 416:] == firing.nozzle[0, :-416]).all()
    assert set(firing.nozzle[0]) == set(range(416))


def test_a_shorter_advance_leaves_nozzles_unused_and_shifts_the_repeats() -> None:
    firing = assign_nozzles(HeadInk("K", 416, 600, 600), PrintMode("single", advance=192), 3000)
    assert firing.nozzle.max() == 191
    assert (firing.nozzle[0, 416:] != firing.nozzle[0, :-416]).any()


def test_two_passes_share_the_dots_of_a_row_between_two_nozzles_half_a_head_apart() -> None:
    firing = assign_nozzles(HeadInk("C", 192, 600, 600), PrintMode("two-pass-dots", phase=11), 2000)
    assert firing.by_dot
    assert firing.nozzle.shape == (2, 2000)
    assert (firing.nozzle[1] - firing.nozzle[0] == 96).all()
    assert (firing.swath[0] - firing.swath[1] == 1).all()


@pytest.mark.parametrize(("kind", "advance"), [("interlaced", 179), ("paired", 360)])
def test_interlacing_prints_every_row_once_with_nozzles_two_rows_apart(kind: str, advance: int) -> None:
    ink = HeadInk("K", 180, 180, 360)
    firing = assign_nozzles(ink, PrintMode(kind, phase=5), 4000)
    assert firing.advance == advance
    assert firing.nozzle.min() >= 0
    assert firing.nozzle.max() < 180
    row = np.arange(4000)
    for swath in np.unique(firing.swath[0]):  # within a swath the head is rigid: row = 2 nozzle + constant
        here = firing.swath[0] == swath
        assert np.ptp(row[here] - 2 * firing.nozzle[0, here]) == 0


def test_one_dead_nozzle_of_an_interlaced_head_comes_back_at_every_advance() -> None:
    firing = assign_nozzles(HeadInk("K", 180, 180, 360), PrintMode("interlaced"), 4000)
    assert set(np.diff(np.flatnonzero(firing.nozzle[0] == 60))) == {179}


def test_a_driver_prints_grey_in_black_alone_where_there_is_black() -> None:
    rgb = np.array([[[0, 0, 0], [128, 128, 128], [0, 255, 255], [255, 0, 0], [255, 255, 128]]], np.uint8)
    four, three = separate(rgb, "KCMY"), separate(rgb, "CMY")
    assert four["K"].tolist() == [[255, 127, 0, 0, 0]]
    assert four["C"].tolist() == [[0, 0, 255, 0, 0]]
    assert three["C"].tolist() == [[255, 127, 255, 0, 0]]
    assert four["Y"].tolist() == [[0, 0, 0, 255, 127]]
    assert three["Y"].tolist() == [[255, 127, 0, 255, 127]]
    assert separate(rgb, "K").keys() == {"K"}


def test_demichel_weights_sum_to_one_and_halves_give_quarters() -> None:
    rng = np.random.default_rng(1)
    assert_allclose(demichel(rng.random((4, 50))).sum(axis=0), 1.0, atol=1e-12)
    assert_allclose(demichel(np.array([0.5, 0.5])), [0.25] * 4)  # Neugebauer: paper, C, M, CM a quarter each


def test_densities_of_mixed_inks_add_by_share() -> None:
    # Beer-Lambert: 10 % of an ink of density 1.5 adds 0.15, a factor 10**-0.15 = 0.708
    flat = {"Y": np.zeros(31), "C": np.full(31, 1.5)}
    assert_allclose(10 ** -mixed("Y", {"C": 0.1}, flat), 0.708, atol=5e-4)
    assert_allclose(mixed("Y", {"C": 1.0}, flat), flat["C"])  # a swapped chamber


def test_white_point_and_grey_agree_with_published_d50_values() -> None:
    white = xyz_weights().sum(axis=1)
    # ASTM E308 white of D50: 0.9642 1 0.8251; the bands outside 400 to 700 nm are missing here
    assert_allclose(white, [0.96422, 1.0, 0.82521], atol=2e-3)
    # 18 % reflectance is L* 49.496 (CIELAB, ISO/CIE 11664-4)
    assert_allclose(lab(0.18 * white, white), [49.496, 0.0, 0.0], atol=1e-3)


def test_observer_and_illuminant_tables_agree_with_the_reference_library() -> None:
    colour = pytest.importorskip("colour.colorimetry", exc_type=ImportError)
    shape = colour.SpectralShape(400, 700, 10)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    assert_allclose(CMF, cmfs.values.T, atol=1e-5)
    assert_allclose(D50, colour.SDS_ILLUMINANTS["D50"].copy().align(shape).values, atol=1e-3)


@pytest.mark.parametrize("ink_set", INK_SETS)
def test_solids_on_white_paper_lie_near_published_uncoated_aims(ink_set: str) -> None:
    # FOGRA47L (uncoated white), CIELAB D50: K 31 1 1, C 60 -26 -44, M 56 61 -1, Y 89 -4 78. A guide: inks differ.
    aims = {"K": (31, 1, 1), "C": (60, -26, -44), "M": (56, 61, -1), "Y": (89, -4, 78)}
    white = xyz_weights().sum(axis=1)
    for ink, aim in aims.items():
        xyz = primaries([absorbance(ink_set, ink)], paper("office-white"), xyz_weights())
        assert np.linalg.norm(lab(xyz[1], white) - aim) < 20, ink


def test_papers_are_as_light_as_paper() -> None:
    # ISO 12647-2 type 4 uncoated: L* 95; recycled and cream office papers are darker (common practice, no source)
    white = xyz_weights().sum(axis=1)
    lightness = {name: lab(paper(name) @ xyz_weights().T, white)[0] for name in PAPERS}
    assert all(83 < value < 98 for value in lightness.values()), lightness


def test_healthy_spread_is_never_a_fault_and_planted_faults_are() -> None:
    rng = np.random.default_rng(2)
    faults = NozzleFaults(frozenset({3}), {5: 0.5}, {7: -30.0})
    health = draw_health(416, faults, rng, volume_sd=0.045, aim_sd_um=4.0)
    assert health.volume[3] == 0.0
    assert health.volume[5] == 0.5
    assert health.aim_y_um[7] == -30.0
    rest = np.setdiff1d(np.arange(416), [3, 5, 7])
    assert health.volume[rest].min() > 0.85
    assert np.abs(health.aim_y_um[rest]).max() <= 10.0


@pytest.mark.parametrize("seed", range(5))
def test_dead_nozzles_are_arranged_as_named(seed: int) -> None:
    rng = np.random.default_rng(seed)
    run = sorted(random_dead(416, "run", rng).dead)
    assert run == list(range(run[0], run[-1] + 1))
    assert len(run) >= 3
    stride = random_dead(416, "stride", rng)
    assert set(np.diff(sorted(stride.dead))) == {stride.stride}
    assert not random_dead(416, "none", rng).dead


@pytest.mark.parametrize("seed", range(6))
def test_rows_thrown_together_are_neighbours_beyond_the_limit(seed: int) -> None:
    faults = random_thrown(416, np.random.default_rng(seed))
    at = sorted(faults.displaced)
    assert 10 <= len(at) <= 60
    assert set(np.diff(at)) in ({1}, {2})
    assert all(25 < abs(off) < 95 for off in faults.displaced.values())


def test_contamination_and_flow_follow_their_trends() -> None:
    clearing = Contamination("C", 0.2, "clearing", 100.0)
    assert_allclose(clearing.share_at(100.0), 0.2 / np.e)
    assert_allclose(Contamination("C", 0.1, "growing", 100.0).share_at(100.0), 0.2)
    assert Contamination("C", 0.1).share_at(250.0) == 0.1
    y = np.array([0.0, 60.0, 100.0, 150.0])
    assert_allclose(Flow("fade", 20.0, 100.0, 0.4).factor(y), [1.0, 0.8, 0.6, 0.6])
    assert_allclose(Flow("starved", 20.0, 100.0, 0.4).factor(y), [1.0, 0.8, 0.6, 1.0])
    assert_allclose(Flow("slug", 20.0, 100.0, 1.0).factor(y), [1.0, 0.0, 1.0, 1.0])


def test_blurring_in_slabs_is_blurring_at_once() -> None:
    import cv2

    page = np.random.default_rng(3).random((150, 40, 3)).astype(np.float32)
    whole = cv2.GaussianBlur(page, (9, 9), 1.3, sigmaY=1.3, borderType=cv2.BORDER_REPLICATE)
    cuts = [page[a:b] for a, b in ((0, 3), (3, 60), (60, 62), (62, 150))]
    assert_allclose(np.concatenate(list(blurred(cuts, 1.3, 1.3))), whole, atol=1e-6)


@pytest.mark.parametrize("shift", [0.15, 0.3, 0.5])
def test_a_line_is_as_dark_wherever_its_dots_lie_along_it(shift: float) -> None:
    """Closed form: a row of equal discs moved along itself covers the same area."""
    dots = np.ones((1, 60), np.uint8)
    cover = []
    for offset in (0.0, shift):
        out = np.zeros((1 + 6, 60 + 6), np.float32)
        deposit(dots, row_loads(np.full(1, 0.7), np.zeros(1), np.full(1, offset), 1, 3), 1, out)
        cover.append(-np.expm1(-out[:, 13:53]).sum(axis=0).mean())
    assert cover[1] == pytest.approx(cover[0], rel=0.01)
