"""The final map: homography of all marks, then a smooth field for what a plane can't explain.

The field is a polynomial in page coordinates whose order is the highest that leave-one-out prediction of the
marks supports; it is shrunk by ridge regression (A. Hoerl and R. Kennard, Technometrics 12, 1970) and left out
where it predicts no better than none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.pattern.layout import Layout
from printcheck.register.result import Field, Registration, apply_homography, monomials

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["fit_registration"]

_RIDGE = {1: 1e-6, 2: 1e-3, 3: 1e-2}  # grows with the order: high terms must be paid for by the data
_WORTH = 0.8  # a field must cut the error at left-out marks to this share
_NEGLIGIBLE_MM = 0.015  # below this a field would only follow noise: a third of a row at 600 rows/inch


def fit_registration(
    layout: Layout, ticket: str, marks: dict[int, NDArray[np.float64]], warnings: tuple[str, ...] = ()
) -> tuple[Registration, NDArray[np.float64]]:
    """Fit the map to refined marks; also returns what it leaves of each mark: rows of page x, y, and dy in mm.

    Parameters
    ----------
    layout : Layout
    ticket : str
    marks : dict of int to (4, 2) float64
        Corners in pixels by mark number, at least two.
    warnings : tuple of str
        Carried over into the result.
    """
    ideal = {mark.number: np.array(mark.box.corners) for mark in layout.marks}
    numbers = sorted(marks)
    source = np.concatenate([ideal[n] for n in numbers])
    target = np.concatenate([marks[n] for n in numbers])
    homography = _robust_homography(source, target)
    inverse = np.asarray(np.linalg.inv(homography), np.float64)
    # residuals in mm on the page, one vector a mark: opposite edges of a mark move together
    back = apply_homography(inverse, target)
    residual = (back - source).reshape(-1, 4, 2).mean(axis=1)
    centres = source.reshape(-1, 4, 2).mean(axis=1)
    centre = np.array([layout.width_mm / 2, layout.height_mm / 2])
    field, left_out = _choose_field(centres, residual, centre)
    predicted = field.at(centres) if field is not None else 0.0
    # to_px maps page point p to H(p + field(p)); a mark seen at H(p + r) is met when field(p) = r
    rms = float(np.sqrt(np.mean(np.sum((residual - predicted) ** 2, axis=1))))
    step = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]) + centre
    at = apply_homography(homography, step)
    along_x, along_y = at[1] - at[0], at[2] - at[0]
    left = np.column_stack([centres, (residual - predicted)[:, 1]])
    registration = Registration(
        layout=layout,
        ticket=ticket,
        homography=homography,
        field=field,
        marks_found=len(numbers),
        rms_mm=rms,
        leave_out_rms_mm=left_out,
        px_per_mm_x=float(np.hypot(*along_x)),
        px_per_mm_y=float(np.hypot(*along_y)),
        rotation_deg=float(np.degrees(np.arctan2(along_x[1], along_x[0]))),
        perspective=_perspective(homography, layout),
        warnings=warnings,
    )
    return registration, left


def _robust_homography(source: NDArray[np.float64], target: NDArray[np.float64]) -> NDArray[np.float64]:
    matrix, _ = cv2.findHomography(source, target, 0)
    return np.asarray(matrix, np.float64)


def _choose_field(
    centres: NDArray[np.float64], residual: NDArray[np.float64], centre: NDArray[np.float64]
) -> tuple[Field | None, float | None]:
    """The field that best predicts marks left out of its fit, and its rms error there in mm."""
    if len(centres) < 5:
        return None, None
    unit = (centres - centre) / centre
    best: Field | None = None
    none_error = _leave_out(np.zeros((len(unit), 0)), residual, 0.0)
    best_error = none_error
    for order, ridge in _RIDGE.items():
        design = monomials(unit, order)
        if design.shape[1] > len(unit) - 2:
            break
        error = _leave_out(design, residual, ridge)
        if error < _WORTH * best_error and best_error > _NEGLIGIBLE_MM:
            best_error = error
            best = Field(_ridge(design, residual, ridge), centre, centre, order)
    return best, best_error


def _ridge(design: NDArray[np.float64], values: NDArray[np.float64], ridge: float) -> NDArray[np.float64]:
    gram = design.T @ design + ridge * len(design) * np.eye(design.shape[1])
    return np.asarray(np.linalg.solve(gram, design.T @ values))


def _leave_out(design: NDArray[np.float64], values: NDArray[np.float64], ridge: float) -> float:
    """Root mean square error at points left out one at a time, from the hat matrix."""
    if design.shape[1] == 0:
        return float(np.sqrt(np.mean(np.sum(values**2, axis=1))))
    gram = design.T @ design + ridge * len(design) * np.eye(design.shape[1])
    hat = design @ np.linalg.solve(gram, design.T)
    error = (values - hat @ values) / (1.0 - np.diag(hat))[:, None]
    return float(np.sqrt(np.mean(np.sum(error**2, axis=1))))


def _perspective(homography: NDArray[np.float64], layout: Layout) -> float:
    """Largest over smallest local scale at the page corners, less 1."""
    width, height = layout.width_mm, layout.height_mm
    corners = np.array([[0.0, 0.0], [width, 0.0], [0.0, height], [width, height]])
    w = corners @ homography[2, :2] + homography[2, 2]
    return float(abs(w).max() / abs(w).min() - 1.0)
