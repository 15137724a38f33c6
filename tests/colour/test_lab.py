"""CIELAB and media-relative colour, against published values and an outside colour library."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from numpy.testing import assert_allclose
from srgb_lab import SRGB_LAB_D50

from printcheck.capture.profile import rgb_to_xyz_d50
from printcheck.colour.lab import D50_WHITE, lab_to_xyz, media_relative, xyz_to_lab
from printcheck.colour.linear import linear_to_srgb, srgb_to_linear
from printcheck.colour.published import DEFAULT_CONDITION, conditions, published
from printcheck.errors import PrintcheckError


@pytest.mark.parametrize(("rgb", "expected"), SRGB_LAB_D50)
def test_srgb_check_values(rgb: tuple[int, int, int], expected: tuple[float, float, float]) -> None:
    lab = xyz_to_lab(rgb_to_xyz_d50(np.array([rgb]) / 255.0))[0]
    assert_allclose(lab, expected, atol=2e-3)  # the whites differ in the fifth digit from source to source


def test_break_is_continuous_and_of_the_stated_slope() -> None:
    # CIE 15: the line below the break has slope 24389/27 * 116/116 in L*; value 8 at 216/24389
    assert_allclose(xyz_to_lab(D50_WHITE * 216 / 24389)[0], 8.0, atol=1e-9)
    assert_allclose(xyz_to_lab(D50_WHITE * 108 / 24389)[0], 4.0, atol=1e-9)


def test_agrees_with_an_outside_library_and_inverts(colour_science: ModuleType) -> None:
    xyz = np.random.default_rng(3).uniform(0, 1, (500, 3)) ** 3
    xy = colour_science.XYZ_to_xy(D50_WHITE)
    white = colour_science.xy_to_XYZ(xy)
    assert_allclose(xyz_to_lab(xyz, white), colour_science.XYZ_to_Lab(xyz, xy), atol=1e-9)  # colour-science 0.4
    assert_allclose(lab_to_xyz(xyz_to_lab(xyz)), xyz, atol=1e-12)


def test_srgb_curve_inverts() -> None:
    v = np.linspace(0, 1, 1001)
    assert_allclose(linear_to_srgb(srgb_to_linear(v)), v, atol=2e-7)  # the standard's own rounding at the break


def test_paper_is_white_relative_to_itself() -> None:
    paper = np.array([0.80, 0.84, 0.65])
    assert_allclose(xyz_to_lab(media_relative(paper, paper)), [100, 0, 0], atol=1e-9)
    half = xyz_to_lab(media_relative(0.5 * paper, paper))
    assert_allclose(half[1:], 0, atol=1e-9)  # grey on tinted paper is neutral relative to that paper


def test_published_solids() -> None:
    # Fogra characterisation data FOGRA47L, Mar 2009: absolute CIELAB of the solids
    aims = published()
    assert aims.name == DEFAULT_CONDITION == "FOGRA47L"
    assert aims.absolute["C"] == (60.0, -26.0, -44.0)
    assert aims.absolute["Paper"] == (95.0, 0.0, -2.0)
    assert_allclose(aims.relative["Paper"], (100, 0, 0), atol=1e-9)
    assert len(conditions()) >= 12
    for name in conditions():
        found = published(name)
        assert set("KCMY") <= set(found.relative)
        assert found.relative["C"][0] > found.absolute["C"][0]  # lighter against paper that is no perfect white
        assert found.source


def test_unknown_condition_is_refused_in_one_line() -> None:
    with pytest.raises(PrintcheckError, match="'FOGRA99' is no published condition; known are FOGRA"):
        published("FOGRA99")
