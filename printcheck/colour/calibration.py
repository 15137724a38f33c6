"""A capture's own map from light to colour, fitted on patches whose values are known.

Light relative to paper is taken to the cube root, as CIELAB does, and a polynomial of it gives CIELAB. Its degree and
the pull on its terms are those with the least error on patches left out of the fit, and that error is what a colour
read through it is known to.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.difference import delta_e00
from printcheck.colour.lab import Lab, as_lab
from printcheck.errors import PrintcheckError
from printcheck.robust import MAD_SD

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["CHART_INKS_SD", "LEAST_PATCHES", "Calibration", "errors_left_out", "fit_calibration", "too_few"]

LEAST_PATCHES = 12
"""That a map can be fitted to, and its error told."""
CHART_INKS_SD = (1.0, 1.4, 1.4)
"""L*, a*, b* by which a scanner that was fitted on a chart misreads other inks (metamerism), beyond what patches left
out of the fit show; found with the simulator's inks, papers and scanners of the tune split."""
_PULLS = (1e-5, 1e-4, 1e-3, 1e-2)  # trial weights that hold the map's terms down; what patches left out show decides
CUT_LIGHT = 0.04
"""Light, relative to paper, below which a colour lies at or outside sRGB's edge: cyan does, and is cut."""
_CUT_GROWTH = np.array([10.0, 70.0, 20.0])  # CIELAB a unit of cube-root light; from simulated scans
_OTHER_INKS = 2.0  # growth among one sheet's own inks to that among mixtures it does not show
_NEAR = 1.2  # error of patches read twice over the robust error of those left out
_MOST_LIGHT, _MOST_LAB = 2.0, 300.0  # cube-root light and CIELAB beyond which a kept map is damaged
_FURTHEST = 0.12  # cube-root light from the nearest patch fitted on, beyond which the map is not used


@dataclass(frozen=True, slots=True)
class Calibration:
    """A fitted map.

    Attributes
    ----------
    kind, profile : str
        Of the capture it was fitted on, and is good for.
    degree : int
    coefficients : (K, 3) float64
    fitted : (N, 3) float64
        Cube-root light of the patches it was fitted on.
    sd : (float, float, float)
        Error in L*, a*, b* on patches left out.
    near_sd, growth : (float, float, float)
        Error close to patches it was fitted on (`sd` where none is given), and how it grows with the distance from
        them, in cube-root light; both of L*, a*, b*. See `sd_at`.
    delta_e00 : float
        Median CIEDE2000 on patches left out.
    source : str
        Of the capture it was fitted on: a mark of its device, or the resolution where the file names none.
    paper : (float, float, float) or None
        Linear R, G, B of the paper it was fitted on, as the capture shows it; none where that was not kept.
    clipped : tuple of str
        Patches left out of the fit for being lighter than the capture can show; not kept with it.
    """

    kind: str
    profile: str
    degree: int
    coefficients: NDArray[np.float64]
    fitted: NDArray[np.float64]
    sd: Lab
    delta_e00: float
    near_sd: Lab | None = field(default=None, kw_only=True)
    growth: Lab = field(default=(0.0, 0.0, 0.0), kw_only=True)
    source: str = field(default="", kw_only=True)
    paper: Lab | None = field(default=None, kw_only=True)
    clipped: tuple[str, ...] = field(default=(), kw_only=True)

    def flaw(self) -> str | None:
        """What makes it no map from light to colour; none where it is one, as any that was fitted."""
        count = {degree: _terms(np.zeros((1, 3)), degree).shape[1] for degree in (1, 2, 3)}
        if self.degree not in count:
            return f"degree {self.degree}"
        if self.coefficients.shape != (count[self.degree], 3):
            return f"coefficients {self.coefficients.shape} for degree {self.degree}"
        if self.fitted.ndim != 2 or self.fitted.shape[1] != 3 or len(self.fitted) < LEAST_PATCHES:
            return f"fitted {self.fitted.shape}"
        sds = np.array([self.sd, self.near_sd or self.sd, self.growth])
        if not (np.isfinite(sds) & (sds >= 0.0)).all() or not np.isfinite(self.delta_e00) or self.delta_e00 < 0.0:
            return "its errors are no numbers"
        if not (np.isfinite(self.fitted) & (self.fitted >= 0.0) & (self.fitted < _MOST_LIGHT)).all():
            return "fitted on what is no light"
        if self.paper is not None and not all(0.0 < v < _MOST_LIGHT for v in self.paper):
            return f"paper {self.paper}"
        if not np.isfinite(self.coefficients).all():
            return "its coefficients are no numbers"
        with np.errstate(over="ignore", invalid="ignore"):
            read = _terms(self.fitted, self.degree) @ self.coefficients
        if not (np.abs(read) < _MOST_LAB).all():
            return "what it reads is no colour"
        return None

    def refusal(self, kind: str, profile: str, source: str | None = None) -> str | None:
        """Why it can't be used on a capture of that kind, profile and source; none where it can."""
        if (kind, profile) != (self.kind, self.profile):
            return f"the calibration was made from a {self.kind} ({self.profile}), this is a {kind} ({profile})"
        if source is None or source == self.source:
            return None
        if source.endswith("dots/inch") and self.source.endswith("dots/inch"):
            return f"the calibration was made at {self.source}, this is a {kind} at {source}"
        return f"the calibration was made from a {self.kind} of another device, as far as the files tell"

    def lab(self, ratio: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """CIELAB (3,) of light (3,) relative to paper, media-relative; none far from everything it was fitted on."""
        light = np.cbrt(np.maximum(ratio, 0.0))
        if float(np.min(np.linalg.norm(self.fitted - light, axis=1))) > _FURTHEST:
            return None
        return np.asarray((_terms(light[None], self.degree) @ self.coefficients)[0])

    def sd_at(self, ratio: NDArray[np.float64]) -> NDArray[np.float64]:
        """Standard deviation (3,) of the CIELAB that `lab` gives for light (3,) relative to paper.

        It grows with the distance from the patches fitted on, as the error on left-out patches does with their
        distance from the rest; faster where a channel is cut at the edge of the capture's colour space, and what it
        would have shown can only be told from the others.
        """
        if self.near_sd is None:
            return np.array(self.sd)
        light = np.cbrt(np.maximum(ratio, 0.0))
        away = float(np.min(np.linalg.norm(self.fitted - light, axis=1)))
        growth = np.array(self.growth)
        if float(ratio.min()) < CUT_LIGHT:
            growth = np.maximum(growth, _CUT_GROWTH)
        return np.asarray(np.hypot(self.near_sd, away * growth))


def fit_calibration(
    ratio: NDArray[np.float64], lab: NDArray[np.float64], kind: str, profile: str, source: str = "",
    paper: Lab | None = None,
) -> Calibration:  # fmt: skip
    """Fit light (N, 3) relative to `paper`, linear R, G, B, to CIELAB (N, 3), media-relative.

    Raises
    ------
    PrintcheckError
        Too few patches.
    """
    if len(ratio) < LEAST_PATCHES:
        raise PrintcheckError(too_few(len(ratio)))
    light = np.cbrt(np.maximum(ratio, 0.0))
    degree, pull, left, _ = _best(light, lab)
    terms = _terms(light, degree)
    solution = np.asarray(np.linalg.solve(_normal(terms, pull), terms.T @ lab), np.float64)
    sd = np.maximum(np.sqrt(np.mean(np.square(left), axis=0)), 0.1)
    return Calibration(
        kind, profile, degree, solution, light, as_lab(sd), float(np.median(delta_e00(lab + left, lab))),
        near_sd=as_lab(np.maximum(_NEAR * MAD_SD * np.median(np.abs(left), axis=0), 0.1)),
        growth=as_lab(_OTHER_INKS * np.sqrt(np.mean(np.square(left), axis=0) / np.mean(np.square(_apart(light))))),
        source=source, paper=paper,
    )  # fmt: skip


def too_few(count: int) -> str:
    """What is said where `count` patches are no base for a map."""
    return f"{count} patches are too few to calibrate by; it takes at least {LEAST_PATCHES}"


def errors_left_out(
    ratio: NDArray[np.float64], lab: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """CIELAB (N, 3) by which each sample is misread when it is left out of `fit_calibration`, and its leverage (N,).

    Leverage is the weight, 0 to 1, that a sample has in its own fitted value.
    """
    _, _, left, lever = _best(np.cbrt(np.maximum(ratio, 0.0)), lab)
    return left, lever


def _best(
    light: NDArray[np.float64], lab: NDArray[np.float64]
) -> tuple[int, float, NDArray[np.float64], NDArray[np.float64]]:
    """Degree and pull with the least error on samples left out, that error (N, 3) and the leverage (N,)."""
    best: tuple[float, int, float, NDArray[np.float64], NDArray[np.float64]] | None = None
    for degree, pull in itertools.product((1, 2, 3), _PULLS):
        terms = _terms(light, degree)
        if terms.shape[1] > 0.6 * len(light):
            continue
        left, lever = _left_out(terms, lab, pull)
        error = float(np.sqrt(np.mean(np.square(delta_e00(lab + left, lab)))))
        if best is None or error < best[0]:
            best = (error, degree, pull, left, lever)
    assert best is not None
    return best[1:]


def _apart(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distance (N,) of each sample from the nearest other."""
    between = np.linalg.norm(light[:, None] - light, axis=2)
    np.fill_diagonal(between, np.inf)
    return np.asarray(np.maximum(between.min(axis=1), 1e-3))


def _terms(light: NDArray[np.float64], degree: int) -> NDArray[np.float64]:
    """Monomials up to `degree` of (N, 3), (N, K)."""
    columns = [np.ones(len(light))]
    for total in range(1, degree + 1):
        for chosen in itertools.combinations_with_replacement(range(3), total):
            columns.append(np.prod(light[:, chosen], axis=1))
    return np.column_stack(columns)


def _normal(terms: NDArray[np.float64], pull: float) -> NDArray[np.float64]:
    return np.asarray(terms.T @ terms + pull * np.eye(terms.shape[1]))


def _left_out(
    terms: NDArray[np.float64], lab: NDArray[np.float64], pull: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Error (N, 3) of each sample when it is left out of the fit (the closed form for linear smoothers); leverage."""
    inverse = np.linalg.inv(_normal(terms, pull))
    hat = terms @ inverse @ terms.T
    residual = hat @ lab - lab
    lever = np.clip(np.diag(hat), 0.0, 1.0 - 1e-6)
    return np.asarray(residual / (1.0 - lever)[:, None]), lever
