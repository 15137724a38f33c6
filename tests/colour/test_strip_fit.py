"""A photo's map from light to colour: on cameras made with colour-science, which also judges it."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.colour.strip_fit import StripCalibration, fit_strip
from printcheck.errors import PrintcheckError

# rows sum to 1 over the white: a camera whose channels overlap as cones do; invented
CAMERA = np.array([[0.75, 0.35, -0.10], [-0.30, 1.15, 0.15], [0.05, 0.02, 0.93]])
GREY = np.ones(3)
PAPER_WHITE = np.array([[100.0, 0, 0]])
Floats = NDArray[np.float64]


def colours(count: int, seed: int) -> Floats:
    """CIELAB within what prints reach."""
    rng = np.random.default_rng(seed)
    chroma, hue = 60 * np.sqrt(rng.random(count)), rng.uniform(0, 2 * np.pi, count)
    return np.column_stack([rng.uniform(30, 92, count), chroma * np.cos(hue), chroma * np.sin(hue)])


class Camera:
    """What a camera sees, by colour-science."""

    def __init__(self, science: ModuleType) -> None:
        self.science = science
        self.xy = science.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]

    def light(self, lab: Floats, paper: Floats = GREY) -> Floats:
        """Of colours relative to white, on a paper whose XYZ is `paper` times white's."""
        xyz = self.science.Lab_to_XYZ(lab, self.xy) / self.science.xy_to_XYZ(self.xy)
        return np.maximum((xyz * paper) @ CAMERA.T, 1e-4) ** 0.92  # a tone curve not quite the one assumed

    def ratio(self, lab: Floats, paper: Floats = GREY) -> Floats:
        """Light relative to bare paper."""
        return self.light(lab, paper) / self.light(PAPER_WHITE, paper)

    def off(self, fit: StripCalibration, ratio: Floats, lab: Floats) -> Floats:
        pairs = [(fit.lab(r), t) for r, t in zip(ratio, lab, strict=True)]
        known = [(found, true) for found, true in pairs if found is not None]
        assert len(known) > 0.8 * len(pairs)
        return np.array([self.science.delta_E(found, true, method="CIE 2000") for found, true in known])


@pytest.fixture(scope="module")
def camera(colour_science: ModuleType) -> Camera:
    return Camera(colour_science)


def test_colours_it_never_saw_come_out_right(camera: Camera) -> None:
    fit = fit_strip(camera.ratio(colours(34, 1)), colours(34, 1), "srgb", GREY)
    error = camera.off(fit, camera.ratio(colours(200, 2)), colours(200, 2))
    assert np.median(error) < 0.8
    assert fit.kind == "photo"
    assert fit.left_out <= 4


def test_no_worse_than_root_polynomials(camera: Camera) -> None:
    """G. Finlayson, M. Mackiewicz, A. Hurlbert, IEEE Trans. Image Process. 24(5), 2015, as in colour-science."""
    train, test, science = colours(34, 3), colours(200, 4), camera.science
    matrix = science.characterisation.matrix_colour_correction_Finlayson2015(
        camera.ratio(train), science.Lab_to_XYZ(train, camera.xy), degree=2, root_polynomial_expansion=True
    )
    xyz = science.characterisation.apply_matrix_colour_correction_Finlayson2015(
        camera.ratio(test), matrix, degree=2, root_polynomial_expansion=True
    )
    theirs = science.delta_E(science.XYZ_to_Lab(np.maximum(xyz, 0), camera.xy), test, method="CIE 2000")
    ours = camera.off(fit_strip(camera.ratio(train), train, "srgb", GREY), camera.ratio(test), test)
    assert np.median(ours) <= 1.1 * np.median(theirs)


def test_a_tinted_sheet_is_seen_relative_to_its_own_paper(camera: Camera) -> None:
    paper = np.array([0.96, 1.0, 0.72])  # XYZ of a yellowish paper over that of the strip's
    train, test = colours(34, 5), colours(100, 6)
    ratio = camera.ratio(test, paper)
    tint = (camera.light(PAPER_WHITE, paper) / camera.light(PAPER_WHITE))[0]
    fits = [fit_strip(camera.ratio(train), train, "srgb", t) for t in (GREY, tint / tint[1])]
    plain, told = (np.median(camera.off(fit, ratio, test)) for fit in fits)
    assert told < 0.8
    assert plain > 2 * told


def test_patches_under_a_shadows_edge_are_left_out(camera: Camera) -> None:
    train, test = colours(34, 7), colours(100, 8)
    ratio = camera.ratio(train)
    ratio[[3, 9, 20, 27]] *= 0.7
    fit = fit_strip(ratio, train, "srgb", GREY)
    assert fit.left_out >= 4
    assert np.median(camera.off(fit, camera.ratio(test), test)) < 0.6


def test_the_values_of_another_strip_are_refused(camera: Camera) -> None:
    with pytest.raises(PrintcheckError, match="does not fit its values"):
        fit_strip(camera.ratio(colours(34, 9)), colours(34, 10), "srgb", GREY)


def test_its_uncertainty_is_never_less_than_other_inks_ask_for(camera: Camera) -> None:
    fit = fit_strip(camera.ratio(colours(34, 1)), colours(34, 1), "srgb", GREY)
    assert np.all(np.array(fit.sd) >= (0.8, 1.3, 0.9))


def test_what_the_values_are_known_to_is_part_of_what_the_photo_knows(camera: Camera) -> None:
    train = colours(34, 1)
    ratio = camera.ratio(train)
    plain = fit_strip(ratio, train, "srgb", GREY)
    known = np.tile([1.5, 2.0, 2.5], (34, 1))
    told = fit_strip(ratio, train, "srgb", GREY, value_sd=known)
    for one in ratio[:10]:
        added = np.sqrt(np.square(told.sd_at(one)) - np.square(plain.sd_at(one)))
        assert np.all(
            added > 0.7 * known[0]
        )  # paper is exact, but errors of one calibration do not average out over its patches
        assert np.all(added < known[0] + 1e-9)
    # a colour is as unsure as the patches about it
    known[train[:, 2] > 0] *= 5.0
    told = fit_strip(ratio, train, "srgb", GREY, value_sd=known)
    yellow, blue = (told.sd_at(ratio[k]) for k in (int(train[:, 2].argmax()), int(train[:, 2].argmin())))
    assert np.all(yellow > 2.0 * blue)


@pytest.mark.parametrize("floor", [0.5, 3.0])
def test_intervals_cover_where_the_values_all_err_alike(camera: Camera, floor: float) -> None:
    """A scanner's map is off by the same for all patches of a strip."""
    train, test = colours(34, 11), colours(60, 12)
    inside = []
    for seed in range(20):
        off = floor * np.random.default_rng(seed).standard_normal(3)
        fit = fit_strip(camera.ratio(train), train + off, "srgb", GREY, value_sd=np.full((34, 3), floor))
        for ratio, true in zip(camera.ratio(test), test, strict=True):
            if (lab := fit.lab(ratio)) is not None:
                inside.append(np.abs(lab - true) <= 1.96 * fit.sd_at(ratio))
    assert np.mean(inside) > 0.9  # 95 %, but for what 20 draws are worth
