"""The final map: homography of all marks, then a smooth field for what a plane can't explain.

Lens distortion, curled paper and a wobbling feed all move the page's points smoothly. The field is a sum of a
radial term and of polynomials in page coordinates whose sizes have a Gaussian prior (C. Rasmussen and C. Williams,
Gaussian Processes for Machine Learning, 2006, ch. 2 and 5): the prior's overall size is the one that makes the seen
marks most likely, so a flat scan gets next to no field and a curled photo all it needs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.pattern.layout import Layout
from printcheck.register.bend import Bend
from printcheck.register.result import Field, Lens, Registration, apply_homography, monomials
from printcheck.robust import middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["fit_registration"]

_ORDER = 5  # of the polynomial, whose terms are held down by the prior below
_PRIOR_MM = (5.0, 5.0, 1.5, 0.5, 0.2, 0.1)
"""Prior standard deviation of a polynomial term by degree, at the page's edge, for a badly curled sheet. Degrees 0
and 1 stand for what the homography has left over."""
_PRIOR_RADIAL_MM = 2.0  # the same of the lens's term
_SIZES = (0.003, 0.01, 0.03, 0.1, 0.3, 1.0)  # trial sizes of the prior
_CORNER_MM = 0.03  # error of one corner of a mark: a third of a pixel at 300 dots/inch
_OUTLIER = 6.0  # a mark farther off than this many times the median mark is covered or smeared: left out
_FIELD_NEEDS = 5  # marks: a homography takes up four
_KEPT = 6  # marks, of which none is left out: so few can't tell which of them is wrong
_LEAST_OUTLIER_MM = 0.15  # but never one as near as this: a pixel at 170 dots/inch


@dataclass(frozen=True, slots=True)
class _Observations:
    """Corners of N / 4 marks, four after four.

    Attributes
    ----------
    shown : (2, N) float64
        What displacement they show, mm: along x, along y.
    design : (2, N, T) float64
        The terms of the field at each.
    prior : (T,) float64
        Standard deviations of the terms' coefficients at size 1.
    """

    shown: NDArray[np.float64]
    design: NDArray[np.float64]
    prior: NDArray[np.float64]


def fit_registration(
    layout: Layout,
    ticket: str,
    marks: dict[int, NDArray[np.float64]],
    picture: tuple[int, int],
    warnings: tuple[str, ...] = (),
    bend: Bend | None = None,
) -> tuple[Registration, NDArray[np.float64]]:
    """Fit the map to refined marks.

    Parameters
    ----------
    layout : Layout
    ticket : str
    marks : dict of int to (4, 2) float64
        Corners in pixels by mark number, at least two.
    picture : (int, int)
        Height and width of the picture, px.
    warnings : tuple of str
        Carried over into the result.
    bend : Bend, optional
        The lens's distortion, which is taken out first.

    Returns
    -------
    registration : Registration
    left : (M, 4) float64
        Page x, y of each mark and the displacement along x and y that the map leaves of it, mm.
    """
    ideal = {mark.number: np.array(mark.box.corners) for mark in layout.marks}
    if bend is not None:
        marks = {number: bend.straightened(corners) for number, corners in marks.items()}
    numbers = sorted(marks)
    dropped = 0
    while True:
        source = np.concatenate([ideal[n] for n in numbers])
        target = np.concatenate([marks[n] for n in numbers])
        homography = _plane(source, target)
        lens = _lens(homography, layout, picture)
        shown = apply_homography(np.asarray(np.linalg.inv(homography), np.float64), target) - source
        seen = _Observations(shown.T, *_terms(source, layout, lens))
        field, size = _fit_field(seen, layout, lens)
        predicted = np.zeros_like(shown) if field is None else field.at(source)
        left = (shown - predicted).reshape(-1, 4, 2).mean(axis=1)
        distance = np.hypot(left[:, 0], left[:, 1])
        worst = int(np.argmax(distance))
        bound = max(_OUTLIER * float(middle_of(distance)), _LEAST_OUTLIER_MM)
        if len(numbers) <= _KEPT or distance[worst] < bound:
            break
        numbers.pop(worst)
        dropped += 1
    if dropped:
        warnings = (*warnings, f"{dropped} corner squares disagree with the others and were left out")
    along_x, along_y = _steps(homography, bend, layout)
    registration = Registration(
        layout=layout,
        ticket=ticket,
        homography=homography,
        field=field,
        marks_found=len(numbers),
        rms_mm=float(np.sqrt(np.mean(distance**2))),
        leave_out_rms_mm=_leave_out(seen, size),
        px_per_mm_x=float(np.hypot(*along_x)),
        px_per_mm_y=float(np.hypot(*along_y)),
        rotation_deg=float(np.degrees(np.arctan2(along_x[1], along_x[0]))),
        perspective=_perspective(homography, layout),
        warnings=warnings,
        bend=bend,
    )
    centres = source.reshape(-1, 4, 2).mean(axis=1)
    return registration, np.column_stack([centres, left])


def _steps(
    homography: NDArray[np.float64], bend: Bend | None, layout: Layout
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pixels (2,) that one millimetre along the page's x, and along its y, makes at the page's middle."""
    centre = np.array([layout.width_mm / 2, layout.height_mm / 2])
    at = apply_homography(homography, np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]) + centre)
    if bend is not None:
        at = bend.bent(at)
    return at[1] - at[0], at[2] - at[0]


def _plane(source: NDArray[np.float64], target: NDArray[np.float64]) -> NDArray[np.float64]:
    matrix, _ = cv2.findHomography(source, target, 0)
    return np.asarray(matrix, np.float64)


def _lens(homography: NDArray[np.float64], layout: Layout, picture: tuple[int, int]) -> Lens:
    height, width = picture
    middle = np.array([[layout.width_mm / 2, layout.height_mm / 2], [layout.width_mm / 2 + 1, layout.height_mm / 2]])
    at = apply_homography(homography, middle)
    centre = np.array([(width - 1) / 2, (height - 1) / 2])
    return Lens(homography, centre, float(np.hypot(width, height)) / 2, float(np.hypot(*(at[1] - at[0]))))


def _terms(
    points: NDArray[np.float64], layout: Layout, lens: Lens
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """All terms at N page points, (2, N, T), and their prior standard deviations (T,) at size 1."""
    centre = np.array([layout.width_mm / 2, layout.height_mm / 2])
    powers = monomials((points - centre) / centre, _ORDER)
    none = np.zeros_like(powers)
    radial = lens.displacement(points)
    design = np.stack([np.hstack([powers, none, radial[:, :1]]), np.hstack([none, powers, radial[:, 1:]])])
    degree = np.repeat(np.arange(_ORDER + 1), np.arange(1, _ORDER + 2))
    sizes = np.array(_PRIOR_MM)[degree]
    return design, np.concatenate([sizes, sizes, [_PRIOR_RADIAL_MM]])


def _solve(seen: _Observations, size: float) -> tuple[NDArray[np.float64], float]:
    """Coefficients (T,) of the terms for one size of the prior, and the log likelihood of what is seen.

    The likelihood is less a constant, and worked out among the terms, which are fewer than the corners (Rasmussen and
    Williams, section 2.1).
    """
    values = seen.shown.ravel()
    scaled = seen.design.reshape(len(values), -1) * (seen.prior * size)
    normal = scaled.T @ scaled + _CORNER_MM**2 * np.eye(scaled.shape[1])
    found = np.linalg.solve(normal, scaled.T @ values)
    unlikely = float(values @ (values - scaled @ found)) / _CORNER_MM**2 + float(np.linalg.slogdet(normal)[1])
    return seen.prior * size * found, -0.5 * unlikely


def _fit_field(seen: _Observations, layout: Layout, lens: Lens) -> tuple[Field | None, float]:
    """The field and the size of its prior; none where four marks or fewer leave nothing to fit it with."""
    if seen.shown.shape[1] < 4 * _FIELD_NEEDS:
        return None, 0.0
    solved = {size: _solve(seen, size) for size in _SIZES}
    best = max(_SIZES, key=lambda size: solved[size][1])
    return _field(solved[best][0], layout, lens), best


def _field(coefficients: NDArray[np.float64], layout: Layout, lens: Lens) -> Field:
    centre = np.array([layout.width_mm / 2, layout.height_mm / 2])
    count = (len(coefficients) - 1) // 2
    both = np.column_stack([coefficients[:count], coefficients[count : 2 * count]])
    return Field(both, centre, centre, _ORDER, lens, float(coefficients[-1]))


def _leave_out(seen: _Observations, size: float) -> float | None:
    """Root mean square error in mm at marks left out one at a time.

    In closed form (C. Rasmussen and C. Williams, section 5.4.2, here for groups): what a mark shows less what the
    others predict there is its block of the inverse covariance, inverted, times its part of the whitened values.
    """
    if size == 0.0:
        return None
    count = seen.shown.shape[1]
    scaled = seen.design.reshape(2 * count, -1) * (seen.prior * size)
    inverse = np.linalg.inv(scaled @ scaled.T + _CORNER_MM**2 * np.eye(2 * count))
    white = inverse @ seen.shown.ravel()
    corners = np.arange(count).reshape(-1, 4)
    own = np.concatenate([corners, corners + count], axis=1)  # (marks, 8): along x, along y
    errors = np.linalg.solve(inverse[own[:, :, None], own[:, None]], white[own][..., None])
    return float(np.sqrt(np.square(errors.reshape(-1, 2, 4).mean(axis=2)).sum(axis=1).mean()))


def _perspective(homography: NDArray[np.float64], layout: Layout) -> float:
    """Largest over smallest local scale at the page corners, less 1."""
    width, height = layout.width_mm, layout.height_mm
    corners = np.array([[0.0, 0.0], [width, 0.0], [0.0, height], [width, height]])
    w = corners @ homography[2, :2] + homography[2, 2]
    return float(abs(w).max() / abs(w).min() - 1.0)
