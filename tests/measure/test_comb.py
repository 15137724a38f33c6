"""Lines and paper of a ladder's columns, fitted to profiles that are worked out here by arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from printcheck.measure.comb import Comb

STEP = 1 / 12.0
SPACING = 0.494


def column(skirt: float, missing: tuple[int, ...] = (), first: float = 0.7, dashes: int = 50):
    """Positions of samples and dashes, and light: lines of 0.08 mm, a share `skirt` of each spread over 0.3 mm.

    Light led through the paper about, and halved chroma, give a line's blur wide skirts (Yule and Nielsen, TAGA 1951,
    for the paper; ITU-T T.81 for the chroma): two normal curves stand for them.
    """
    y = np.arange(0.0, dashes * SPACING + 1.4, STEP)
    centre = first + SPACING * np.arange(dashes)
    away = y[:, None] - np.delete(centre, missing)

    def normal(sd: float):
        return np.exp(-0.5 * (away / sd) ** 2) / (np.sqrt(2 * np.pi) * sd)

    dark = 0.06 * ((1 - skirt) * normal(0.08) + skirt * normal(0.3)).sum(axis=1)
    return y, centre, 0.8 * (1.0 - dark)


def weights(skirt: float, missing: tuple[int, ...] = ()):
    (y, a, light_a), (_, b, light_b) = column(skirt, missing), column(skirt, first=0.9)
    comb = Comb(y, STEP, np.stack([a, b]))
    profiles = np.stack([light_a, light_b])[..., None].repeat(2, axis=2)
    line, _, _, misfit = comb.read(profiles, 0.08, steps=True)
    return line[..., 0], misfit[..., 0]


@pytest.mark.parametrize("skirt", [0.0, 0.2, 0.4])
def test_the_outermost_dashes_read_like_the_others_whatever_the_blurs_skirts(skirt: float) -> None:
    line, misfit = weights(skirt)
    level = np.median(line)
    assert line == pytest.approx(level, rel=0.06)
    depth = level / (np.sqrt(2 * np.pi) * 0.08)
    assert misfit.max() < 0.1 * depth


@pytest.mark.parametrize("missing", [(0,), (0, 1, 2), (49,), (20,)])
def test_a_missing_outermost_dash_is_missed(missing: tuple[int, ...]) -> None:
    line, _ = weights(0.3, missing)
    strength = line[0] / np.median(line)
    gone = np.isin(np.arange(50), missing)
    assert np.abs(strength[gone]).max() < 0.2
    assert strength[~gone].min() > 0.85


def fine_column(widths_mm: list[float], areas: list[float], offsets_mm: list[float]) -> tuple[np.ndarray, np.ndarray]:
    """Samples as of 600 dots/inch over eight Gaussian lines 0.508 mm apart: places (H,), light (1, H, 1)."""
    step = 25.4 / 600
    y = np.arange(0.0, 5.0, step)
    fine = np.arange(-step / 2, y[-1] + step / 2, step / 20) + step / 40
    light = np.ones(len(fine))
    for number, (width, area, offset) in enumerate(zip(widths_mm, areas, offsets_mm, strict=True)):
        light -= area * norm.pdf(fine, 0.7 + 0.508 * number + offset, width)
    return y, light.reshape(len(y), 20).mean(axis=1)[None, :, None]


def test_a_narrow_line_and_one_off_its_place_are_read_for_what_they_hold() -> None:
    """A weak nozzle's line is narrower; a displaced one looks low and broad from where it should be."""
    widths, areas, offsets = [0.055] * 8, [0.06] * 8, [0.0] * 8
    widths[2], areas[2] = 0.044, 0.036
    offsets[5] = 0.038
    y, light = fine_column(widths, areas, offsets)
    centre = 0.7 + 0.508 * np.arange(8)[None, :]
    weight, moved, _, _ = Comb(y, float(y[1] - y[0]), centre).read(light, 0.055)
    strength = weight[0, :, 0] / np.median(weight[0, :, 0])
    assert strength[2] == pytest.approx(0.6, abs=0.02)
    assert strength[5] == pytest.approx(1.0, abs=0.03)
    assert moved[0, 5, 0] / weight[0, 5, 0] == pytest.approx(0.038, rel=0.08)
    assert np.abs(moved[0, :5, 0] / weight[0, :5, 0]).max() < 0.002


def strayed(offsets_mm: list[float], areas: list[float], noise: float = 0.0, seed: int = 3) -> np.ndarray:
    """How far `Comb.astray` says each of eight lines stands off its place, (8,)."""
    y, light = fine_column([0.045] * 8, areas, offsets_mm)
    light = light + noise * np.random.default_rng(seed).standard_normal(light.shape)
    centre = 0.7 + 0.508 * np.arange(8)[None, :]
    comb = Comb(y, float(y[1] - y[0]), centre)
    return comb.astray(light, 0.045, np.ones((1, 8), bool))[0]


def test_a_line_off_its_place_is_found_there_and_a_missing_one_nowhere() -> None:
    found = strayed([0, 0, 0.12, 0, 0, -0.16, 0, 0], [0.06, 0.06, 0.06, 0.0, 0.06, 0.06, 0.06, 0.06])
    assert found[[2, 5]] == pytest.approx([0.12, -0.16], abs=0.012)
    assert np.flatnonzero(found).tolist() == [2, 5]


def test_lines_that_stray_as_half_a_column_do_are_the_papers() -> None:
    assert not strayed([0, 0, 0, 0, 0.12, 0.13, 0.14, 0.15], [0.06] * 8).any()


def test_noise_is_no_line() -> None:
    moved = [strayed([0.0] * 8, [0.0] * 8, noise=0.05, seed=seed).any() for seed in range(20)]
    assert not any(moved)


@pytest.mark.parametrize("sigma", [0.07, 0.1, 0.13])
@pytest.mark.parametrize("off", [0.01, -0.025])
def test_how_far_a_line_lies_off_is_not_drawn_in(sigma: float, off: float) -> None:
    """Exact integrals of a normal line over each sample (scipy); one line of 24 lies off its place."""
    centre = 0.7 + SPACING * np.arange(24)
    y = np.arange(0.0, centre[-1] + 0.7, 1 / 13.0)
    place = centre + np.where(np.arange(24) == 11, off, 0.0)
    edges = [norm.cdf(y[:, None] + half, place, sigma) for half in (-1 / 26.0, 1 / 26.0)]
    light = 0.8 * (1.0 - 0.05 * 13.0 * (edges[1] - edges[0]).sum(axis=1))
    line, moved, _, _ = Comb(y, 1 / 13.0, centre[None]).read(light[None, :, None], sigma)
    assert moved[0, 11, 0] / line[0, 11, 0] == pytest.approx(off, rel=0.02, abs=0.0003)


@pytest.mark.parametrize(("off", "share"), [(0.06, 1.0), (-0.12, 1.0), (0.06, 0.7)])
def test_a_broad_line_far_off_its_place_is_no_weak_one(off: float, share: float) -> None:
    """Of a line of 0.1 mm that lies 0.12 mm off, seven tenths show at its place; exact integrals as above."""
    sigma, centre = 0.1, 0.7 + SPACING * np.arange(24)
    y = np.arange(0.0, centre[-1] + 0.7, 1 / 13.0)
    place = centre + np.where(np.arange(24) == 11, off, 0.0)
    weight = np.where(np.arange(24) == 11, share, 1.0)
    edges = [norm.cdf(y[:, None] + half, place, sigma) for half in (-1 / 26.0, 1 / 26.0)]
    light = 0.8 * (1.0 - 0.05 * 13.0 * ((edges[1] - edges[0]) * weight).sum(axis=1))
    line, *_ = Comb(y, 1 / 13.0, centre[None]).read(light[None, :, None], sigma)
    assert line[0, 11, 0] / np.median(line) == pytest.approx(share, rel=0.06)
