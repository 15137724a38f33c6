"""Values that do not belong to a capture, on simulated inks, papers and scanners; and those that do."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.colour.calibration import errors_left_out
from printcheck.colour.difference import delta_e00
from printcheck.colour.lab import xyz_to_lab
from printcheck.colour.plausible import check_fit, check_values
from printcheck.errors import PrintcheckError
from printcheck.measure.areas import light_to_xyz
from printcheck.simulate.inks import lab, xyz_weights
from printcheck.simulate.spectra import absorbance, paper, sensor

Floats = NDArray[np.float64]
# wedges of each ink and what two print together, as on a sheet
LOADS = np.array(
    [[t * (k == ink) for k in range(3)] for ink in range(3) for t in (0.1, 0.2, 0.3, 0.5, 0.7, 1.0)]
    + [[1, 1, 0], [0, 1, 1], [1, 0, 1], [0.5, 0.5, 0.5], [0.2, 0.2, 0.2], [0, 0, 0]],
    float,
)
NAMES = [f"P{k}" for k in range(len(LOADS))]
WHITE = np.array([100.0, 0.0, 0.0])


def seen(ink_set: str = "dye-a", sheet: str = "office-white", scanner: str = "scanner-led-a") -> tuple[Floats, ...]:
    """Light relative to paper, the colour it has as scanned, and the true one."""
    white = paper(sheet)
    light = white * 10.0 ** -(LOADS @ np.stack([absorbance(ink_set, n) for n in "CMY"]))
    weights = xyz_weights()
    eye = sensor(scanner)
    ratio = light @ eye.T / (white @ eye.T)
    return ratio, xyz_to_lab(light_to_xyz(ratio)), lab(light @ weights.T, white @ weights.T)


def check(ratio: Floats, plain: Floats, values: Floats) -> None:
    check_values(NAMES, values, WHITE, "values.txt")
    check_fit(NAMES, ratio, plain, values, "values.txt")


@pytest.mark.parametrize("scanner", ["scanner-led-a", "scanner-lamp-a"])
@pytest.mark.parametrize("sheet", ["office-white", "recycled-grey", "matte-coated"])
@pytest.mark.parametrize("ink_set", ["dye-a", "pigment-b"])
def test_true_values_pass(ink_set: str, sheet: str, scanner: str) -> None:
    ratio, plain, true = seen(ink_set, sheet, scanner)
    check(ratio, plain, true + 0.2 * np.random.default_rng(4).standard_normal(true.shape))
    check(ratio**0.8, xyz_to_lab(light_to_xyz(ratio**0.8)), true)  # a scanner of another tone curve


@pytest.mark.parametrize("seed", range(5))
def test_shuffled_values_are_refused(seed: int) -> None:
    ratio, plain, true = seen()
    with pytest.raises(PrintcheckError, match=r"worst at P\d+, P\d+, P\d+;"):
        check(ratio, plain, np.random.default_rng(seed).permutation(true))


@pytest.mark.parametrize(("one", "other"), [(0, 1), (0, 2), (1, 2)])
def test_exchanged_inks_are_refused_however_well_they_fit(one: int, other: int) -> None:
    ratio, plain, true = seen()
    order = np.arange(3)
    order[[one, other]] = other, one
    place = [int(np.argmin(np.abs(LOADS[:, order] - load).sum(axis=1))) for load in LOADS]
    with pytest.raises(PrintcheckError, match="does not belong to the picture"):
        check(ratio, plain, true[place])


def test_exchanged_axes_negatives_and_single_colours_are_refused() -> None:
    ratio, plain, true = seen()
    swapped = true[:, [0, 2, 1]]
    assert np.median(delta_e00(swapped + errors_left_out(ratio, swapped)[0], swapped)) < 1.0  # no residual shows it
    with pytest.raises(PrintcheckError, match="does not belong to the picture"):
        check(ratio, plain, swapped)
    negative = 1.0 - 0.9 * ratio
    with pytest.raises(PrintcheckError, match=r"L\* .*negative"):
        check(negative, xyz_to_lab(light_to_xyz(negative)), true)
    for axis in range(3):
        flat = true.copy()
        flat[:, axis] = 50.0 if axis == 0 else 0.0
        with pytest.raises(PrintcheckError, match=r"at least 20 are needed|does not belong"):
            check(ratio, plain, flat)
    with pytest.raises(PrintcheckError, match=r"'P\d+' is 7\d L\* lighter than the paper"):
        check_values(NAMES, true, np.array([25.0, 0.0, 0.0]), "values.txt")


def test_two_exchanged_samples_are_told() -> None:
    ratio, plain, true = seen()
    values = true.copy()
    values[[4, 9]] = true[[9, 4]]
    with pytest.raises(PrintcheckError, match="samples 'P4' and 'P9' fit much better"):
        check(ratio, plain, values)


def test_a_slip_in_one_value_is_told() -> None:
    ratio, plain, true = seen()
    values = true.copy()
    values[5] = 50.0, 0.0, 0.0  # solid cyan
    with pytest.raises(PrintcheckError, match=r"values\.txt: P5 lies over 10 deltaE00"):
        check(ratio, plain, values)


def test_values_that_do_not_follow_from_the_light_are_refused() -> None:
    ratio, plain, true = seen()
    with pytest.raises(PrintcheckError, match=r"left out of the fit are .* deltaE00 off"):
        check(ratio, plain, true + 6.0 * np.random.default_rng(1).standard_normal(true.shape) * [0.3, 1, 1])
