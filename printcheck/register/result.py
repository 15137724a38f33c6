"""Where every millimetre of the ideal page lies in the picture."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.pattern.layout import Layout
from printcheck.register.bend import Bend

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Field", "Lens", "Registration", "apply_homography", "feed_basis", "monomials"]


GRID_MM = 2.5
"""Spacing of a tabulated field: a wobble of 0.05 mm every 30 mm is then met to 2 um."""
_GRID_MARGIN = 4  # nodes beyond the page


DOUBLE = np.array([[2.0, 0.0, 0.5], [0.0, 2.0, 0.5], [0.0, 0.0, 1.0]])
"""Pixel centres of a picture averaged down by two, in pixels of the whole."""


@dataclass(frozen=True, slots=True)
class Lens:
    """Radial distortion as a displacement on the page: that of ``px + (px - centre) / half * rho^2 * scale``.

    Attributes
    ----------
    homography : (3, 3) float64
        Page mm to pixel.
    centre : (2,) float64
        Middle of the picture, px.
    half : float
        Half its diagonal, px: rho is 1 in its corners.
    scale : float
        Pixels a mm, so that a coefficient of 1 is about 1 mm in the corners.
    """

    homography: NDArray[np.float64]
    centre: NDArray[np.float64]
    half: float
    scale: float

    def displacement(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Displacement (N, 2) in mm of page points (N, 2), for a coefficient of 1."""
        px = apply_homography(self.homography, points_mm)
        out = (px - self.centre) / self.half
        moved = px + out * np.sum(out**2, axis=1, keepdims=True) * self.scale
        return apply_homography(np.asarray(np.linalg.inv(self.homography), np.float64), moved) - points_mm


@dataclass(frozen=True, slots=True)
class Field:
    """A smooth displacement on top of the homography, in mm on the page.

    Attributes
    ----------
    coefficients : (K, 2) float64
        Of the K monomials of `monomials` up to total degree `order`.
    centre, half : (2,) float64
        Page coordinates are taken as ``(mm - centre) / half``, about -1 to 1.
    order : int
    lens : Lens or None
    radial : float
        Coefficient of the lens's displacement.
    feed : (N, P) float64 or None
        Displacement along y: a uniform cubic B-spline in y for each of P Legendre polynomials in x.
    feed_step_mm : float
        Spacing of the spline's knots, the first at the page's top.
    cross : (N, P) float64 or None
        Displacement along x in the same form, what strips show of curled paper.
    """

    coefficients: NDArray[np.float64]
    centre: NDArray[np.float64]
    half: NDArray[np.float64]
    order: int
    lens: Lens | None = None
    radial: float = 0.0
    feed: NDArray[np.float64] | None = None
    feed_step_mm: float = 10.0
    cross: NDArray[np.float64] | None = None

    def at(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Displacement (N, 2) in mm at `points_mm` (N, 2)."""
        unit = (points_mm - self.centre) / self.half
        out = np.asarray(monomials(unit, self.order) @ self.coefficients)
        if self.lens is not None:
            out = out + self.radial * self.lens.displacement(points_mm)
        for axis, spline in enumerate((self.cross, self.feed)):
            if spline is not None:
                along = feed_basis(points_mm[:, 1], len(spline), self.feed_step_mm) @ spline
                across = np.polynomial.legendre.legvander(np.clip(unit[:, 0], -1.0, 1.0), along.shape[1] - 1)
                out[:, axis] += np.sum(along * across, axis=1)
        return out

    def over(self, x_mm: NDArray[np.float64], y_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Displacement (2, H, W) along x and y over the grid of `x_mm` (W,) and `y_mm` (H,), mm.

        As `at`, but terms that are products of one in x and one in y cost a grid next to nothing.
        """
        by_power = np.zeros((2, self.order + 1, self.order + 1))  # of y, of x
        degree = np.repeat(np.arange(self.order + 1), np.arange(1, self.order + 2))
        of_x = np.concatenate([np.arange(d + 1) for d in range(self.order + 1)])
        by_power[:, degree - of_x, of_x] = self.coefficients.T
        across, down = (
            np.vander((at - self.centre[k]) / self.half[k], self.order + 1, increasing=True)
            for k, at in enumerate((x_mm, y_mm))
        )
        out = down @ by_power @ across.T + self.splines_over(x_mm, y_mm)
        if self.lens is not None:
            points = np.stack(np.meshgrid(x_mm, y_mm), axis=-1).reshape(-1, 2)
            out += self.radial * self.lens.displacement(points).T.reshape(out.shape)
        return np.asarray(out)

    def splines_over(self, x_mm: NDArray[np.float64], y_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """What of `over` the splines are, (2, H, W) mm."""
        out = np.zeros((2, len(y_mm), len(x_mm)))
        unit = np.clip((x_mm - self.centre[0]) / self.half[0], -1.0, 1.0)
        for axis, spline in enumerate((self.cross, self.feed)):
            if spline is not None:
                along = feed_basis(y_mm, len(spline), self.feed_step_mm) @ spline
                out[axis] = along @ np.polynomial.legendre.legvander(unit, spline.shape[1] - 1).T
        return out


def feed_basis(y_mm: NDArray[np.float64], count: int, step_mm: float) -> NDArray[np.float64]:
    """Uniform cubic B-splines at `y_mm` (N,), (N, count); constant beyond the ends."""
    at = np.clip(y_mm / step_mm, 0.0, count - 3 - 1e-9)
    piece = at.astype(int)
    t = at - piece
    weights = np.stack([(1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3], axis=1) / 6
    out = np.zeros((len(at), count))
    out[np.arange(len(at))[:, None], piece[:, None] + np.arange(4)] = weights
    return out


def monomials(unit: NDArray[np.float64], order: int) -> NDArray[np.float64]:
    """Monomials x^i y^j of total degree 0 to `order` at (N, 2) points, (N, K)."""
    powers = [np.ones_like(unit)]
    for _ in range(order):  # many times as fast as powers one by one
        powers.append(powers[-1] * unit)
    columns = [powers[i][:, 0] * powers[d - i][:, 1] for d in range(order + 1) for i in range(d + 1)]
    return np.stack(columns, axis=1)


@dataclass(frozen=True, slots=True)
class Registration:
    """The map from the ideal page to the picture, and how good it is.

    Attributes
    ----------
    layout : Layout
    ticket : str
    homography : (3, 3) float64
        Page mm to pixel; pixel centres are integers.
    field : Field or None
        Smooth displacement applied in mm before the homography.
    marks_found : int
    rms_mm : float
        Root mean square of the marks' residuals on the page, mm.
    leave_out_rms_mm : float or None
        The same for marks left out of the fit one at a time: the error to expect between marks.
    px_per_mm_x, px_per_mm_y : float
        Scale in the middle of the page along the page's x and y.
    rotation_deg : float
        Angle of the page's x axis in the picture, clockwise positive.
    perspective : float
        Relative change of scale over the page, 0 for a flat scan.
    warnings : tuple of str
    grid : (2, H, W) float32 or None
        The field along x and along y, tabulated; see `gridded`.
    read_mm : float or None
        What the map leaves of the dashes along the feed and of the strips across it, root mean square of the worst
        ladder or strip, mm; none where they don't tell it beyond doubt, or the marks leave none to speak of.
    bend : Bend or None
        Distortion of a wide lens, which the homography's picture is free of; none where the field alone does as well.
    """

    layout: Layout
    ticket: str
    homography: NDArray[np.float64]
    field: Field | None
    marks_found: int
    rms_mm: float
    leave_out_rms_mm: float | None
    px_per_mm_x: float
    px_per_mm_y: float
    rotation_deg: float
    perspective: float
    warnings: tuple[str, ...]
    grid: NDArray[np.float32] | None = None
    bend: Bend | None = None
    read_mm: float | None = None

    @property
    def marks_doubt_mm(self) -> float:
        """Error between marks: their own residual, or half of what marks left out of the fit show, if more.

        Marks that were fitted wrongly together agree with one another and leave a small residual; left out one at a
        time they don't. Half, because the fit with all marks is better than with one less.
        """
        return max(self.rms_mm, 0.5 * (self.leave_out_rms_mm or 0.0))

    @property
    def doubt_mm(self) -> float:
        """Error to reckon with where dashes stand 0.5 mm apart.

        Between marks it is the marks' own, but for what shows itself where it lies: then dashes and strips are off
        by what is left of them, and all else is read at least 0.7 mm clear of its edges, twice as far as a dash may
        be off, so that it bears twice the doubt.
        """
        if self.read_mm is None:
            return self.marks_doubt_mm
        return max(self.read_mm, 0.5 * self.marks_doubt_mm)

    def gridded(self) -> Registration:
        """The same with the field tabulated every `GRID_MM`, which makes looking at the page many times as fast."""
        if self.field is None:
            return self
        return replace(self, grid=self.field.over(*self._grid_mm()).astype(np.float32))

    def fed(self, field: Field) -> Registration:
        """The same with `field`, which is this one's with splines: only those are added to the table."""
        if self.grid is None:
            return replace(self, field=field).gridded()
        grid = self.grid + field.splines_over(*self._grid_mm()).astype(np.float32)
        return replace(self, field=field, grid=grid)

    def _grid_mm(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Page x and page y of the table's columns and rows."""
        x, y = (
            GRID_MM * np.arange(-_GRID_MARGIN, round(side / GRID_MM) + _GRID_MARGIN + 1, dtype=np.float64)
            for side in (self.layout.width_mm, self.layout.height_mm)
        )
        return x, y

    def doubled(self) -> Registration:
        """The same in pixels of a picture twice the size."""
        return replace(
            self,
            homography=DOUBLE @ self.homography,
            px_per_mm_x=2 * self.px_per_mm_x,
            px_per_mm_y=2 * self.px_per_mm_y,
            bend=self.bend.doubled() if self.bend else None,
        )

    def to_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Pixel positions (N, 2) of page points (N, 2) in mm."""
        points = np.asarray(points_mm, np.float64)
        if self.grid is not None:
            x, y = (points.T[:, None] / GRID_MM + _GRID_MARGIN).astype(np.float32)
            # one plane after the other: of two at once OpenCV interpolates in steps of a 32nd of a node
            moved = (cv2.remap(plane, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE) for plane in self.grid)
            points = points + np.concatenate(list(moved)).T
        elif self.field is not None:
            points = points + self.field.at(points)
        px = apply_homography(self.homography, points)
        return px if self.bend is None else self.bend.bent(px)


def apply_homography(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Apply a 3 x 3 homography to (N, 2) points."""
    out = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(out[:, :2] / out[:, 2:3])
