"""Where a phone's camera sees each point of a sheet that lies, a little curled, on a bench: the photo's truth."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printcheck.simulate.mapping import Feed, Floats

__all__ = ["PhoneMapping", "every_pixel"]

_GRID_PX = 24  # the inverse is solved on this grid and read off between


@dataclass(frozen=True, slots=True)
class PhoneMapping:
    """Geometry of a photo: a pinhole camera with radial distortion above a curled sheet.

    Attributes
    ----------
    feed : Feed
    tilt_deg, azimuth_deg : float
        Angle between view and the sheet's normal, and the direction it leans to.
    roll_deg : float
        Of the picture.
    distance_mm : float
        From the camera to the middle of the sheet.
    focal_px : float
    centre_px : (float, float)
        Where the middle of the sheet is seen.
    k1, k2 : float
        Radial distortion, of the radius over half the picture's diagonal.
    curl_mm, curl_deg : float
        Height of the sheet's edge over its middle, and the direction in which it is bent.
    twist_mm : float
        Height of two opposite corners, the others as far below.
    width_px, height_px : int
    """

    feed: Feed
    tilt_deg: float
    azimuth_deg: float
    roll_deg: float
    distance_mm: float
    focal_px: float
    centre_px: tuple[float, float]
    k1: float
    k2: float
    curl_mm: float
    curl_deg: float
    twist_mm: float
    width_px: int
    height_px: int

    def page_to_px(self, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
        """Pixel coordinates of points of the ideal page."""
        return self.print_to_px(*self.feed.page_to_print(np.asarray(x_mm, float), np.asarray(y_mm, float)))

    def print_to_px(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Pixel coordinates of points of the print raster, mm."""
        X, Y = x - self.feed.width_mm / 2, self.feed.print_to_paper(y) - self.feed.height_mm / 2
        bend = np.deg2rad(self.curl_deg)
        half = np.hypot(self.feed.width_mm, self.feed.height_mm) / 2
        along = (X * np.cos(bend) + Y * np.sin(bend)) / half
        corner = X * Y / (self.feed.width_mm * self.feed.height_mm / 4)
        Z = self.curl_mm * along**2 + self.twist_mm * corner
        points = np.stack([X, Y, -Z]) if X.ndim else np.array([X, Y, -Z])
        x_c, y_c, z_c = np.tensordot(self._rotation(), points, axes=1)
        z_c = z_c + self.distance_mm
        u, v = x_c / z_c, y_c / z_c
        radius2 = (u**2 + v**2) * (self.focal_px / (np.hypot(self.width_px, self.height_px) / 2)) ** 2
        bulge = 1.0 + self.k1 * radius2 + self.k2 * radius2**2
        return self.focal_px * u * bulge + self.centre_px[0], self.focal_px * v * bulge + self.centre_px[1]

    def px_to_print(self, px: Floats, py: Floats) -> tuple[Floats, Floats]:
        """Print raster position, mm, of pixels: Newton steps with the local slope of `print_to_px`."""
        x = np.full(np.shape(px), self.feed.width_mm / 2)
        y = np.full(np.shape(px), self.feed.height_mm / 2)
        h = 0.5
        far = 2.0 * self.feed.height_mm
        for _ in range(12):
            fx, fy = self.print_to_px(x, y)
            ax, ay = self.print_to_px(x + h, y)
            bx, by = self.print_to_px(x, y + h)
            a, b, c, d = (ax - fx) / h, (bx - fx) / h, (ay - fy) / h, (by - fy) / h
            det = a * d - b * c
            det = np.where(np.abs(det) < 1e-9, 1e-9, det)
            ex, ey = px - fx, py - fy
            x = np.clip(x + np.clip((d * ex - b * ey) / det, -80, 80), -far, far)
            y = np.clip(y + np.clip((a * ey - c * ex) / det, -80, 80), -far, far)
        return x, y

    def _rotation(self) -> Floats:
        def about_z(degrees: float) -> Floats:
            c, s = np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees))
            return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])

        c, s = np.cos(np.deg2rad(self.tilt_deg)), np.sin(np.deg2rad(self.tilt_deg))
        lean = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
        return np.asarray(about_z(self.roll_deg - self.azimuth_deg) @ lean @ about_z(self.azimuth_deg))

    def to_json(self) -> dict[str, Any]:
        """Parameters, for the record."""
        return {"kind": "photo", **asdict(self)}


def every_pixel(mapping: PhoneMapping) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Print raster position, mm, of every pixel: solved on a coarse grid, interpolated between."""
    width, height = mapping.width_px, mapping.height_px
    columns, rows = -(-width // _GRID_PX) + 2, -(-height // _GRID_PX) + 2
    px, py = np.meshgrid(np.arange(columns) * float(_GRID_PX), np.arange(rows) * float(_GRID_PX))
    gx, gy = mapping.px_to_print(px, py)
    at_x = (np.arange(width, dtype=np.float32) / _GRID_PX)[None, :]
    at_y = (np.arange(height, dtype=np.float32) / _GRID_PX)[:, None]
    fine = [np.broadcast_to(v, (height, width)) for v in (at_x, at_y)]
    return tuple(  # type: ignore[return-value]
        _lifted(grid.astype(np.float32), np.ascontiguousarray(fine[0]), np.ascontiguousarray(fine[1]))
        for grid in (gx, gy)
    )


def _lifted(grid: NDArray[np.float32], at_x: NDArray[np.float32], at_y: NDArray[np.float32]) -> NDArray[np.float32]:
    """Bilinear read-out of a grid in full precision (cv2.remap rounds places to 1/32)."""
    wide = np.empty((grid.shape[0], at_x.shape[1]), np.float32)
    for k in range(grid.shape[0]):
        wide[k] = np.interp(at_x[0], np.arange(grid.shape[1]), grid[k])
    low = at_y[:, 0].astype(int)
    share = (at_y[:, 0] - low)[:, None].astype(np.float32)
    return np.asarray(wide[low] * (1 - share) + wide[low + 1] * share)
