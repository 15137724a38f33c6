"""Contrast sensitivity against computed values of the published models and a reference implementation."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from printcheck.measure.csf import barten1999, barten2003, cycles_per_degree, dooley_shaw, visible_amplitude

# Dooley & Shaw 1979; values computed from the formula, the peak of 1 at about 5.45 is the published normalisation
DOOLEY_SHAW = {1: 0.4186, 2: 0.6946, 4: 0.9586, 8: 0.9220, 16: 0.4430, 30: 0.0764}
# colour-science 0.4.7, contrast_sensitivity_function_Barten1999 with its defaults
BARTEN_1999 = {1: 500.3876, 2: 525.9243, 4: 360.8691, 8: 186.1638, 16: 70.9692}
# Barten 2003, short form, 100 cd/m2 and 10 degrees
BARTEN_2003 = {4: 633.74, 8: 426.12, 16: 169.38}


def test_dooley_shaw() -> None:
    assert dooley_shaw(list(DOOLEY_SHAW)) == pytest.approx(list(DOOLEY_SHAW.values()), abs=5e-5)
    f = np.linspace(0.1, 40, 4000)
    assert float(f[np.argmax(dooley_shaw(f))]) == pytest.approx(5.45, abs=0.02)
    assert float(dooley_shaw(f).max()) == pytest.approx(1.000, abs=5e-4)


def test_barten() -> None:
    assert barten1999(list(BARTEN_1999)) == pytest.approx(list(BARTEN_1999.values()), abs=5e-4)
    assert barten2003(list(BARTEN_2003)) == pytest.approx(list(BARTEN_2003.values()), abs=5e-3)


def test_barten_against_colour_science() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns of optional packages that are not there
        from colour.contrast import contrast_sensitivity_function_Barten1999 as reference

        u = np.array([0.5, 1.0, 3.0, 6.0, 12.0, 30.0])
        assert barten1999(u) == pytest.approx(reference(u), rel=1e-9)


def test_cycles_per_degree_on_paper() -> None:
    # one degree is 5.24, 6.11 and 6.98 mm at 300, 350 and 400 mm (small angles)
    assert [float(cycles_per_degree(1.0, d)) for d in (300, 350, 400)] == pytest.approx([5.24, 6.11, 6.98], abs=0.005)


def test_the_threshold_is_lowest_where_the_eye_is_keenest() -> None:
    f = np.linspace(0.05, 4, 800)
    needed = visible_amplitude(f)
    assert float(needed.min()) == pytest.approx(0.2, abs=0.001)  # J. Electron. Imaging 19(1) 011017, 2010
    assert float(f[np.argmin(needed)]) == pytest.approx(0.89, abs=0.01)  # 5.45 cycles/degree at 350 mm
    assert float(visible_amplitude(0.1)) > 2 * 0.2
    assert float(visible_amplitude(4.0)) > 4 * 0.2
