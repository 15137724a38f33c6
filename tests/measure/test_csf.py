"""Contrast sensitivity against computed values of the published model."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.csf import cycles_per_degree, dooley_shaw, visible_amplitude

# Dooley & Shaw 1979; values computed from the formula, the peak of 1 at about 5.45 is the published normalisation
DOOLEY_SHAW = {1: 0.4186, 2: 0.6946, 4: 0.9586, 8: 0.9220, 16: 0.4430, 30: 0.0764}


def test_dooley_shaw() -> None:
    assert dooley_shaw(list(DOOLEY_SHAW)) == pytest.approx(list(DOOLEY_SHAW.values()), abs=5e-5)
    f = np.linspace(0.1, 40, 4000)
    assert float(f[np.argmax(dooley_shaw(f))]) == pytest.approx(5.45, abs=0.02)
    assert float(dooley_shaw(f).max()) == pytest.approx(1.000, abs=5e-4)


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


def test_long_bands_are_seen_when_they_are_strong() -> None:
    """Contrast constancy (Georgeson & Sullivan, J. Physiol. 252, 627, 1975): 5 L* shows over 40 mm as well."""
    assert 4.0 * float(visible_amplitude(1 / 37.0)) < 2.5
    f = np.geomspace(0.005, 5.45 / cycles_per_degree(1.0), 400)
    assert np.all(np.diff(visible_amplitude(f)) <= 1e-9)  # never easier to see than where the eye is keenest
    assert float(visible_amplitude(f).max()) == pytest.approx(0.5)
