"""Every even area of one ink: solid, mid-tone, wedge, overprints and run-off strip, as light relative to paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from printcheck.capture.profile import rgb_to_xyz_d50
from printcheck.colour.linear import linear_to_srgb, srgb_slope
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.measure.light import light_in, means_along
from printcheck.measure.paper import PaperLight
from printcheck.pattern.elements import Patch
from printcheck.register.result import Registration
from printcheck.robust import MAD_SD, column_medians, middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["XYZ_TO_LINEAR", "Area", "AreaReader", "InkAreas", "Strip", "light_to_xyz", "linear_srgb"]

_INSET_MM = 0.8  # clear of edges: blur, registration error, ink spread and JPEG's halved chroma stay within it
_MOST_WIDTH_MM = 80.0  # of an area that is read, its middle: 60 tiles across; more tell no more and cost time
_STRIP_INSET_MM = 0.7  # of its width of 2.4 mm: what is left is clear of both edges
_TILE_MM = 1.27  # tiles whose scatter gives the uncertainty, as the large-area attributes of ISO/IEC 24790
_STRIP_STEP_MM = 4.0  # length of strip that gives one reading: six to a swath of 25 mm
_OUTLIER = 3.0  # standard deviations; rows left bare by dead nozzles, dust
_FINE_STEP = LIMITS["colour_step"].value
# R, G and B of luma and two kinds of chroma that are each rounded for themselves (ITU-T T.871)
_OF_ROUNDED = np.sqrt(np.array([1 + 1.402**2, 1 + 0.344136**2 + 0.714136**2, 1 + 1.772**2]) / 12.0)


_Mean: TypeAlias = "tuple[NDArray[np.float64], NDArray[np.float64]]"
"""Mean light (3,) of an area, and the standard deviation (3,) of that mean."""


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
    """The run-off strip: `y_mm` (N,), `ratio` (N, 3) to bare paper, `ratio_sd` (3,) of each reading.

    `rounded_sd` (3,) is of what a coarse JPEG's rounding does to readings side by side alike.
    """

    y_mm: NDArray[np.float64]
    ratio: NDArray[np.float64]
    ratio_sd: NDArray[np.float64]
    rounded_sd: NDArray[np.float64] = field(default_factory=lambda: np.zeros(3))


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
    step : float
        Levels of 255 between the values that even areas can have: a JPEG's.
    """

    pixels: Pixels
    registration: Registration
    paper: PaperLight
    icc: bytes | None
    step: float = 0.0

    def ink(self, ink: str, *, wedge: bool = True) -> InkAreas:
        """Read the areas printed in `ink` alone; those of its wedge only if asked for."""
        return self.inks((ink,), wedge=wedge)[ink]

    def inks(self, inks: Sequence[str], *, wedge: bool = True) -> dict[str, InkAreas]:
        """Read the areas printed in each of `inks` alone."""
        layout = self.registration.layout
        solids = {ink: layout.patches_of("solid", ink)[:1] for ink in inks}
        tints = {ink: layout.patches_of("tint", ink) for ink in inks}
        strips = {ink: layout.patches_of("strip", ink)[:1] for ink in inks}
        areas = self.areas([patch for ink in inks for patch in (*solids[ink], *tints[ink])])
        run_off = self.strips([patch for own in strips.values() for patch in own])
        out = {}
        for ink in inks:
            tones = [areas[patch] for patch in tints[ink] if patch in areas]
            if wedge:
                tones += self.wedge(layout.patches_of("wedge", ink))
            solid = next((areas.get(patch) for patch in solids[ink]), None)
            strip = next((run_off.get(patch) for patch in strips[ink]), None)
            out[ink] = InkAreas(ink, solid, tuple(tones), strip)
        return out

    def area(self, patch: Patch) -> Area | None:
        """Read one patch."""
        return self.areas((patch,)).get(patch)

    def areas(self, patches: Iterable[Patch]) -> dict[Patch, Area]:
        """Read those of `patches` that can be seen, the light of the paper at all of them at once."""
        seen = []
        for patch in patches:
            box = patch.box.inset(min(_INSET_MM, patch.box.width / 4), min(_INSET_MM, patch.box.height / 4))
            box = box.inset(max(0.0, (box.width - _MOST_WIDTH_MM) / 2), 0.0)
            light = self._light(box, dots=patch.tone < 1.0)
            if light is not None:
                seen.append((patch, box, _robust_mean(light, box)))
        return {patch: area for (patch, _, _), area in zip(seen, self._against_paper(seen), strict=True)}

    def wedge(self, steps: tuple[Patch, ...]) -> list[Area]:
        """Read the touching steps of a wedge in one go."""
        if not steps:
            return []
        first, last = steps[0].box, steps[-1].box
        whole = Box(first.x0, first.y0 + _INSET_MM, last.x1, first.y1 - _INSET_MM)
        light = self._light(whole, dots=True)
        if light is None:
            return []
        per_mm = light.shape[1] / whole.width
        seen = []
        for patch in steps:
            box = Box(patch.box.x0 + _INSET_MM, whole.y0, patch.box.x1 - _INSET_MM, whole.y1)
            a, b = round((box.x0 - whole.x0) * per_mm), round((box.x1 - whole.x0) * per_mm)
            if b - a >= 2:
                seen.append((patch, box, _robust_mean(light[:, a:b], box)))
        return self._against_paper(seen)

    def strips(self, patches: Iterable[Patch]) -> dict[Patch, Strip]:
        """Read those of the run-off strips `patches` that can be seen, from the top down."""
        pieces = {patch: found for patch in patches if (found := self._pieces(patch)) is not None}
        if not pieces:
            return {}
        papers = self.paper.at(np.concatenate([points for points, _ in pieces.values()]))
        ends = np.cumsum([len(points) for points, _ in pieces.values()])[:-1]
        return {
            patch: self._strip(points[:, 1], light, paper)
            for (patch, (points, light)), paper in zip(pieces.items(), np.split(papers, ends), strict=True)
        }

    def _pieces(self, strip: Patch) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
        """Middles (N, 2) of the pieces of a run-off strip, mm, and their light (N, 3)."""
        box = strip.box.inset(_STRIP_INSET_MM, 2.0)
        light = self._light(box)
        if light is None:
            return None
        count = max(4, round(box.height / _STRIP_STEP_MM))
        edges = np.linspace(0, light.shape[0], count + 1).astype(int)
        rows = means_along(light, 1)[:, 0]
        # bare rows lift the mean of a piece; its median is clear of them
        at = edges[:-1] + np.arange(np.diff(edges).max())[:, None]
        seen = np.where((at < edges[1:])[..., None], rows[np.minimum(at, len(rows) - 1)], np.nan)
        pieces = column_medians(seen.reshape(len(at), -1)).reshape(count, 3)
        y = box.y0 + (edges[:-1] + edges[1:]) / 2 / light.shape[0] * box.height
        return np.column_stack([np.full(count, box.centre[0]), y]), pieces

    def _strip(self, y_mm: NDArray[np.float64], light: NDArray[np.float64], paper: NDArray[np.float64]) -> Strip:
        ratio = linear_srgb(light, self.icc) / np.maximum(linear_srgb(paper, self.icc), 1e-6)
        steps = np.diff(ratio, axis=0)
        sd = MAD_SD * middle_of(np.abs(steps - middle_of(steps))) / np.sqrt(2.0)
        rounded = self._rounded_sd(middle_of(light), middle_of(paper))
        return Strip(y_mm, ratio, np.maximum(np.hypot(sd, rounded), 1e-4), rounded)

    def _rounded_sd(self, light: NDArray[np.float64], paper: NDArray[np.float64]) -> NDArray[np.float64]:
        """Standard deviation (3,) of ``light / paper`` by the rounding of both: anywhere within a step."""
        excess = max(self.step**2 - _FINE_STEP**2, 0.0) ** 0.5 / 255.0
        if not excess:
            return np.zeros(3)
        both = np.maximum(np.stack([light, paper]), 1e-4)
        relative = srgb_slope(both) * excess * _OF_ROUNDED / both
        return np.asarray(both[0] / both[1] * np.hypot(*relative))

    def _light(self, box: Box, *, dots: bool = False) -> NDArray[np.float32] | None:
        return light_in(self.pixels, self.registration, box, dots=dots)

    def _against_paper(self, seen: list[tuple[Patch, Box, _Mean]]) -> list[Area]:
        """The areas of which the means were `seen`, against bare paper."""
        if not seen:
            return []
        papers = self.paper.over([box for _, box, _ in seen])
        out = []
        for (patch, box, (mean, sd)), paper in zip(seen, papers, strict=True):
            relative = mean / np.maximum(paper, 1e-6)
            ratio_sd = np.hypot(sd / np.maximum(paper, 1e-6), relative * self.paper.sd / 2.0)
            ratio_sd = np.hypot(ratio_sd, self._rounded_sd(mean, paper))
            both = linear_srgb(np.stack([mean, paper]), self.icc)
            out.append(Area(patch.kind, patch.inks, patch.tone, box, both[0], both[1], ratio_sd))
        return out


# the three primaries as rows: IEC 61966-2-1 adapted to D50
_LINEAR_TO_XYZ: NDArray[np.float64] = np.asarray(rgb_to_xyz_d50(np.eye(3))).T
XYZ_TO_LINEAR: NDArray[np.float64] = np.asarray(np.linalg.inv(_LINEAR_TO_XYZ), np.float64)


def light_to_xyz(light: NDArray[np.float64], icc: bytes | None = None) -> NDArray[np.float64]:
    """XYZ D50 (N, 3) of linear light (N, 3) that was decoded by the sRGB curve, through `icc` where given."""
    if icc is None:
        return np.asarray(np.asarray(light, np.float64) @ _LINEAR_TO_XYZ.T)
    return rgb_to_xyz_d50(np.clip(linear_to_srgb(light), 0.0, 1.0), icc)


def linear_srgb(light: NDArray[np.float64], icc: bytes | None) -> NDArray[np.float64]:
    """Linear sRGB (N, 3) of light decoded by the sRGB curve, through the capture's own profile where it has one."""
    if icc is None:
        return np.asarray(light, np.float64)
    return np.asarray(light_to_xyz(light, icc) @ XYZ_TO_LINEAR.T)


def _robust_mean(light: NDArray[np.float32], box: Box) -> _Mean:
    """Of the `light` (H, W, 3) of an even area, clear of bare rows and dust."""
    per_mm, along_per_mm = light.shape[0] / box.height, light.shape[1] / box.width
    size = max(1, round(_TILE_MM * per_mm))
    rows = means_along(light, max(1, round(light.shape[1] / (_TILE_MM * along_per_mm))))
    rows = rows[_inliers(means_along(rows, 1)[:, 0])]
    down = max(1, len(rows) // size)
    flat = rows[: len(rows) // down * down].reshape(down, -1, rows.shape[1], 3).mean(axis=1).reshape(-1, 3)
    flat = flat[_inliers(flat)]
    if len(flat) < 2:
        return flat.mean(axis=0), np.full(3, 0.01)
    mean = flat.mean(axis=0)
    return mean, np.sqrt(np.square(flat - mean).sum(axis=0) / (len(flat) - 1) / len(flat))


def _inliers(values: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of `values` (N, 3) lie with the rest in every channel; all, where hardly any would."""
    off = np.abs(values - middle_of(values))
    keep = np.asarray((off <= _OUTLIER * (MAD_SD * middle_of(off) + 1e-5)).all(axis=1), bool)
    return keep if keep.sum() >= max(3, 0.4 * len(values)) else np.ones(len(values), bool)
