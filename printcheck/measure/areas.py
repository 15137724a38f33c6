"""Every even area of one ink: solid, mid-tone, wedge, overprints and run-off strip, as light relative to paper."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from printcheck.capture.profile import rgb_to_xyz_d50
from printcheck.colour.linear import linear_light, linear_to_srgb
from printcheck.geometry import Box
from printcheck.measure.paper import PaperLight
from printcheck.pattern.elements import Patch
from printcheck.register.result import Registration
from printcheck.register.view import look_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["XYZ_TO_LINEAR", "Area", "AreaReader", "InkAreas", "Strip", "light_to_xyz"]

_INSET_MM = 0.8  # clear of edges: blur, registration error, ink spread and JPEG's halved chroma stay within it
_STRIP_INSET_MM = 0.7
_SAMPLES_PER_MM = 6.0
_TILE_MM = 1.27  # tiles whose scatter gives the uncertainty, as the large-area attributes of ISO/IEC 24790
_STRIP_STEP_MM = 4.0
_OUTLIER = 3.0  # standard deviations; rows left bare by dead nozzles, dust


@dataclass(frozen=True, slots=True)
class Area:
    """One even area.

    Attributes
    ----------
    kind : str
    inks : tuple of str
    tone : float
        Nominal.
    light, paper : (3,) float64
        Linear R, G, B of the area and of bare paper at its place.
    box : Box
        What was read, mm on the page.
    ratio_sd : (3,) float64
        Standard deviation of ``light / paper``.
    """

    kind: str
    inks: tuple[str, ...]
    tone: float
    box: Box
    light: NDArray[np.float64]
    paper: NDArray[np.float64]
    ratio_sd: NDArray[np.float64]

    @property
    def ratio(self) -> NDArray[np.float64]:
        """Reflectance relative to the paper, (3,)."""
        return np.asarray(self.light / np.maximum(self.paper, 1e-6))


@dataclass(frozen=True, slots=True)
class Strip:
    """The run-off strip: `y_mm` (N,), `ratio` (N, 3) to bare paper, `ratio_sd` (3,) of each reading."""

    y_mm: NDArray[np.float64]
    ratio: NDArray[np.float64]
    ratio_sd: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class InkAreas:
    """All areas of one ink, none where it can't be seen; `tones` are mid-tone and wedge steps."""

    ink: str
    solid: Area | None
    tones: tuple[Area, ...]
    strip: Strip | None


@dataclass(frozen=True, slots=True)
class AreaReader:
    """Reads areas of one capture.

    Attributes
    ----------
    pixels : ndarray
        As decoded.
    registration : Registration
    paper : PaperLight
    icc : bytes or None
        The capture's profile.
    """

    pixels: NDArray[Any]
    registration: Registration
    paper: PaperLight
    icc: bytes | None

    def ink(self, ink: str) -> InkAreas:
        """Read the areas printed in `ink` alone."""
        layout = self.registration.layout
        solids = layout.patches_of("solid", ink)
        tones = [self.area(patch) for patch in layout.patches_of("tint", ink)]
        tones += self.wedge(layout.patches_of("wedge", ink))
        strips = layout.patches_of("strip", ink)
        return InkAreas(
            ink,
            self.area(solids[0]) if solids else None,
            tuple(tone for tone in tones if tone is not None),
            self.strip(strips[0]) if strips else None,
        )

    def area(self, patch: Patch) -> Area | None:
        """Read one patch."""
        box = patch.box.inset(min(_INSET_MM, patch.box.width / 4), min(_INSET_MM, patch.box.height / 4))
        light = self._light(box)
        return None if light is None else self._area(patch, box, light)

    def wedge(self, steps: tuple[Patch, ...]) -> list[Area]:
        """Read the touching steps of a wedge in one go."""
        if not steps:
            return []
        first, last = steps[0].box, steps[-1].box
        whole = Box(first.x0, first.y0 + _INSET_MM, last.x1, first.y1 - _INSET_MM)
        light = self._light(whole)
        if light is None:
            return []
        per_mm = light.shape[1] / whole.width
        out = []
        for patch in steps:
            box = Box(patch.box.x0 + _INSET_MM, whole.y0, patch.box.x1 - _INSET_MM, whole.y1)
            a, b = round((box.x0 - whole.x0) * per_mm), round((box.x1 - whole.x0) * per_mm)
            if b - a >= 2:
                out.append(self._area(patch, box, light[:, a:b]))
        return out

    def strip(self, patch: Patch) -> Strip | None:
        """Read a run-off strip from the top down."""
        box = patch.box.inset(_STRIP_INSET_MM, 2.0)
        light = self._light(box)
        if light is None:
            return None
        count = max(4, round(box.height / _STRIP_STEP_MM))
        edges = np.linspace(0, light.shape[0], count + 1).astype(int)
        rows = light.mean(axis=1, dtype=np.float64)
        # bare rows lift the mean of a piece; its median is clear of them
        pieces: NDArray[np.float64] = np.array([np.median(rows[a:b], axis=0) for a, b in itertools.pairwise(edges)])
        y = box.y0 + (edges[:-1] + edges[1:]) / 2 / light.shape[0] * box.height
        points = np.column_stack([np.full(count, box.centre[0]), y])
        paper = self.paper.at(points)
        ratio = self._linear(pieces) / np.maximum(self._linear(paper), 1e-6)
        steps = np.diff(ratio, axis=0)
        sd = 1.4826 * np.median(np.abs(steps - np.median(steps, axis=0)), axis=0) / np.sqrt(2.0)
        return Strip(y, ratio, np.maximum(np.asarray(sd), 1e-4))

    def _light(self, box: Box) -> NDArray[np.float32] | None:
        """Linear R, G, B (H, W, 3) of `box`; none where it can't be seen."""
        native = min(self.registration.px_per_mm_x, self.registration.px_per_mm_y)
        view = look_at(self.pixels, self.registration, box, scale=min(1.0, _SAMPLES_PER_MM / native))
        if view.inside < 0.95:
            return None
        light = linear_light(np.ascontiguousarray(view.values))
        return np.repeat(light[..., None], 3, axis=2) if light.ndim == 2 else light[..., ::-1]

    def _area(self, patch: Patch, box: Box, light: NDArray[np.float32]) -> Area:
        mean, sd = _robust_mean(light, light.shape[0] / box.height)
        paper = self.paper.at(np.array([box.centre]))[0]
        relative = mean / np.maximum(paper, 1e-6)
        ratio_sd = np.hypot(sd / np.maximum(paper, 1e-6), relative * self.paper.sd / 2.0)
        both = self._linear(np.stack([mean, paper]))
        return Area(patch.kind, patch.inks, patch.tone, box, both[0], both[1], ratio_sd)

    def _linear(self, light: NDArray[np.float64]) -> NDArray[np.float64]:
        """Linear sRGB of light decoded by the sRGB curve, through the capture's own profile where it has one."""
        if self.icc is None:
            return np.asarray(light, np.float64)
        return np.asarray(light_to_xyz(light, self.icc) @ XYZ_TO_LINEAR.T)


_LINEAR_TO_XYZ: NDArray[np.float64] = np.asarray(rgb_to_xyz_d50(np.eye(3))).T
XYZ_TO_LINEAR: NDArray[np.float64] = np.asarray(np.linalg.inv(_LINEAR_TO_XYZ), np.float64)


def light_to_xyz(light: NDArray[np.float64], icc: bytes | None = None) -> NDArray[np.float64]:
    """XYZ D50 (N, 3) of linear light (N, 3) that was decoded by the sRGB curve, through `icc` where given."""
    if icc is None:
        return np.asarray(np.asarray(light, np.float64) @ _LINEAR_TO_XYZ.T)
    return rgb_to_xyz_d50(np.clip(linear_to_srgb(light), 0.0, 1.0), icc)


def _robust_mean(light: NDArray[np.float32], per_mm: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean (3,) of an even area clear of bare rows and dust, and the standard deviation of that mean."""
    rows = light.mean(axis=1, dtype=np.float64)
    keep = _inliers(rows)
    light = light[keep]
    size = max(1, round(_TILE_MM * per_mm))
    down, across = max(1, light.shape[0] // size), max(1, light.shape[1] // size)
    h, w = light.shape[0] // down, light.shape[1] // across
    tiles = light[: down * h, : across * w].reshape(down, h, across, w, 3).mean(axis=(1, 3), dtype=np.float64)
    flat = tiles.reshape(-1, 3)
    flat = flat[_inliers(flat)]
    if len(flat) < 2:
        return flat.mean(axis=0), np.full(3, 0.01)
    return flat.mean(axis=0), flat.std(axis=0, ddof=1) / np.sqrt(len(flat))


def _inliers(values: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of `values` (N, 3) lie with the rest in every channel; all, where hardly any would."""
    middle = np.median(values, axis=0)
    spread = 1.4826 * np.median(np.abs(values - middle), axis=0) + 1e-5
    keep = np.asarray((np.abs(values - middle) <= _OUTLIER * spread).all(axis=1), bool)
    return keep if keep.sum() >= max(3, 0.4 * len(values)) else np.ones(len(values), bool)
