"""A photo's own map from light to colour, fitted on the control strip that lies in it.

The map is that of `calibration`: polynomials of cube-root light, their degree and ridge chosen by leaving patches
out. Root polynomials (G. Finlayson, M. Mackiewicz, A. Hurlbert, "Color correction using root-polynomial regression",
IEEE Trans. Image Process. 24(5), 2015) did as well on these patches, not better: what they are made for, that
exposure must not matter, is had here already, as all light is relative to paper.

Sheet and strip are on different papers in different light. How bright each paper looks is taken for light; how its
colour differs is taken for paper: a patch is seen relative to the strip's paper, and its colour is then made relative
to the sheet's. Otherwise a tinted sheet errs by 2 to 4 in a*.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.calibration import LEAST_PATCHES, Calibration, fit_calibration
from printcheck.colour.difference import delta_e00
from printcheck.colour.lab import as_lab, lab_to_xyz, media_relative, xyz_to_lab
from printcheck.errors import PrintcheckError
from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["OTHER_INKS_SD", "StripCalibration", "fit_strip"]

OTHER_INKS_SD = (0.8, 1.3, 0.9)
"""L*, a*, b* by which inks other than the strip's are misread for having other spectra (metamerism); found with the
simulator's inks, sensors and papers."""
_OUTLIER = 4.0  # times the median difference
_LEAST_DELTA_E00 = 0.2  # what is no outlier however well the rest fits: the print's own grain
_ABOUT = 0.1  # cube-root light, standard deviation of the weights of patches about a colour; their usual distance
_TINT_GROWTH = 1.5  # of the uncertainty with the papers' difference in colour, a logarithm; common sense, no source
_LIKE_NONE = 1e3  # in L*, a* and b*: NaN would pass no limit, and spoil the median of the rest
_WHITE = (100.0, 0.0, 0.0)  # CIELAB of the strip's own paper, which its colours are relative to


@dataclass(frozen=True, slots=True)
class StripCalibration(Calibration):
    """The map of one photo.

    Attributes
    ----------
    tint : (3,) float64
        Light of the sheet's paper over that of the strip's, green as 1.
    left_out : int
        Patches that did not fit in with the rest.
    value_sd : (N, 3) float64
        What the values of the patches it was fitted on are known to.
    """

    tint: NDArray[np.float64]
    left_out: int
    value_sd: NDArray[np.float64]

    def lab(self, ratio: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """CIELAB (3,) of light (3,) relative to the sheet's paper, media-relative; none far from every patch."""
        seen, paper = Calibration.lab(self, ratio * self.tint), Calibration.lab(self, self.tint)
        if seen is None or paper is None:
            return None
        return xyz_to_lab(media_relative(lab_to_xyz(seen), lab_to_xyz(paper)))

    def sd_at(self, ratio: NDArray[np.float64]) -> NDArray[np.float64]:
        """Standard deviation (3,) of the CIELAB that `lab` gives: the photo's own error, and that of the values.

        All values come from one scanner through one calibration, whose errors are alike for like colours: those of
        the patches about a colour are its own, however many patches there are.
        """
        light = np.cbrt(np.maximum(ratio * self.tint, 0.0))
        away = np.square(self.fitted - light).sum(axis=1)
        weight = np.exp(-(away - away.min()) / (2.0 * _ABOUT**2))
        values = np.sqrt(weight @ np.square(self.value_sd) / weight.sum())
        return np.asarray(np.hypot(Calibration.sd_at(self, ratio), values))


def fit_strip(
    ratio: NDArray[np.float64],
    lab: NDArray[np.float64],
    profile: str,
    tint: NDArray[np.float64],
    source: str = "",
    value_sd: NDArray[np.float64] | None = None,
) -> StripCalibration:
    """Fit the strip's light to its values.

    Parameters
    ----------
    ratio : (N, 3)
        Light of the patches relative to the strip's paper.
    lab : (N, 3)
        Their values.
    profile, source : str
        Of the photo.
    tint : (3,)
        See `StripCalibration`.
    value_sd : (N, 3), optional
        Standard deviation of the values.

    Raises
    ------
    PrintcheckError
        Too few patches fit, or they fit too badly.
    """
    known = np.zeros_like(lab) if value_sd is None else value_sd
    known = np.vstack([known, np.zeros((1, 3))])  # bare paper is white by definition
    light, aims = np.vstack([ratio, np.ones((1, 3))]), np.vstack([lab, [_WHITE]])
    keep = np.ones(len(light), bool)
    least = max(LEAST_PATCHES, (1.0 - LIMITS["strip_left_out"].value) * len(light))
    fit = fit_calibration(light, aims, "photo", profile)
    for _ in range(3):
        away = delta_e00(_seen(fit, light), aims)
        limit = _OUTLIER * max(float(np.median(away[keep])), _LEAST_DELTA_E00)
        fresh = away <= limit
        fresh[-1] = True  # bare paper is white by definition
        if (fresh == keep).all() or fresh.sum() < least:
            break
        keep = fresh
        fit = fit_calibration(light[keep], aims[keep], "photo", profile)
    if fit.delta_e00 > LIMITS["strip_residual"].value:
        raise PrintcheckError(
            f"the control strip does not fit its values: patches left out are {fit.delta_e00:.1f} deltaE00 off; "
            "name its own values, and lay it flat in even light, without shadow or reflection"
        )
    apart = float(np.abs(np.log(np.maximum(tint, 1e-3))).max())
    sd = as_lab(np.hypot(fit.sd, OTHER_INKS_SD) * (1.0 + _TINT_GROWTH * apart))
    return StripCalibration(
        "photo", profile, fit.degree, fit.coefficients, fit.fitted, sd, fit.delta_e00, tint, int((~keep).sum()),
        known[keep], source=source,
    )  # fmt: skip


def _seen(fit: Calibration, light: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIELAB (N, 3) of light (N, 3); where it is far from what was fitted, a colour that is like no value at all."""
    found = [fit.lab(one) for one in light]
    return np.array([np.full(3, _LIKE_NONE) if lab is None else lab for lab in found])
