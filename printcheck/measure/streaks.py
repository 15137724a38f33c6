"""Streaks along the feed: a blade that leaks, a corona or roller that is dirty in one place across the page.

Each page-long area is cut into blocks down the page. The middle of each block's rows, by column, is a profile across
the page clear of single marks; levelled by its surroundings, a streak is where the profiles of most blocks stand out
together. Its height is their mean, its error comes from their scatter, and the scatter of all columns of the area
says what chance gives.

Toner gathers or thins along the edge of a tint, and some of it falls beside: such a seam is no streak. All edges
between tints and bare paper have it, a streak lies at one of them, so what the edges have in common is taken off.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.fields import SCALE_SD, Field
from printcheck.measure.light import lightness_of
from printcheck.measure.toner_result import StreakReading
from printcheck.robust import MAD_SD, MEDIAN_SD

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["find_streaks"]

_BLOCK_MM = 20.0  # of the page, averaged down before columns are compared
_SOFT_MM = 0.15  # standard deviation across the page: takes the screen's lattice out
_AROUND_MM = 7.0  # the surroundings a streak is measured against
_SURE = LIMITS["streak_sure"].value
_STANDS_OUT = LIMITS["streak_stands_out"].value
_LEAST_DL = LIMITS["streak_least"].value
_LEAST_BLOCKS = LIMITS["streak_length"].value
_EDGE_MM = 0.3  # two of the Gaussian's standard deviations: where the lattice is cut off, it doesn't take it out
_SEAM_MM = 2.5  # from an edge: seams are no wider
_SEAM_STEP_MM = 0.05  # of the profile across a seam
_SEAM_EDGES = 3  # needed to tell a seam from a streak


def find_streaks(fields: Sequence[Field], paper: float) -> list[StreakReading]:
    """Find the streaks of all areas, the strongest first.

    Parameters
    ----------
    fields : sequence of Field
        From the left.
    paper : float
        Linear light of bare paper.
    """
    profiles = [_profiles(field) for field in fields]
    _take_off_seams(fields, profiles)
    found = [streak for field, own in zip(fields, profiles, strict=True) for streak in _found(field, own, paper)]
    return sorted(found, key=lambda s: -s.snr)


def _take_off_seams(fields: Sequence[Field], profiles: list[NDArray[np.float64]]) -> None:
    """Take off `profiles`, each (B, W), what the edges between tints and paper have in common."""
    at = np.arange(0.0, _SEAM_MM, _SEAM_STEP_MM)
    for bare in (False, True):
        edges = [
            (k, way)
            for k, field in enumerate(fields)
            for way, other in ((1, k - 1), (-1, k + 1))
            if (field.tone == 0) == bare and 0 <= other < len(fields) and (fields[other].tone == 0) != bare
        ]
        if len(edges) < _SEAM_EDGES:
            continue
        places = [(np.arange(profiles[k].shape[1]) + 0.5) / fields[k].per_mm_x for k, _ in edges]
        seams = [
            np.interp(at, place, np.median(profiles[k], axis=0)[::way])
            for (k, way), place in zip(edges, places, strict=True)
        ]
        seam = np.median(seams, axis=0)
        for (k, way), place in zip(edges, places, strict=True):
            profiles[k] -= np.interp(place, at, seam, right=0.0)[::way]


def _found(field: Field, profiles: NDArray[np.float64], paper: float) -> list[StreakReading]:
    """The streaks of one area, whose `profiles` (B, W) are levelled light by block and column."""
    blocks = len(profiles)
    mean = np.median(profiles, axis=0)
    scatter = MAD_SD * np.median(np.abs(profiles - mean), axis=0)
    chance = MAD_SD * float(np.median(np.abs(mean - np.median(mean)))) + 1e-6
    own = np.sqrt(chance**2 + (MEDIAN_SD * float(np.median(scatter))) ** 2 / blocks)
    level = float(np.median(field.light)) if field.tone == 0 else float(field.light.mean())
    slope = float(lightness_of(level * 1.01 / paper) - lightness_of(level / paper)) / 0.01  # L* a unit of contrast
    limit = max(_SURE * own, _LEAST_DL / slope)
    out = []
    edge = int(_EDGE_MM * field.per_mm_x)
    inner = mean.copy()
    inner[:edge] = inner[len(inner) - edge :] = 0.0
    for start, stop in _runs(np.abs(inner) > limit):
        peak = start + int(np.argmax(np.abs(mean[start:stop])))
        height = float(mean[peak])
        there = profiles[:, peak] * np.sign(height) > abs(height) / 2
        if there.mean() < _LEAST_BLOCKS:
            continue
        a, b = _about(np.abs(mean) > abs(height) / 2, peak)
        seen = np.flatnonzero(there)
        spread = scatter[peak] * MEDIAN_SD / np.sqrt(blocks)
        sure = 1.96 * slope * float(np.sqrt(spread**2 + chance**2 + (SCALE_SD * height) ** 2))
        step = field.box.height / blocks
        out.append(
            StreakReading(
                field.box.x0 + (a + b + 1) / 2 / field.per_mm_x,
                (b - a + 1) / field.per_mm_x,
                slope * height,
                (slope * height - sure, slope * height + sure),
                float(abs(height) / own),
                field.box.y0 + float(seen[0]) * step,
                field.box.y0 + float(seen[-1] + 1) * step,
                field.name,
            )
        )
    return out


def _about(holds: NDArray[np.bool_], at: int) -> tuple[int, int]:
    """First and last of the places without a gap about `at` where `holds` (N,) is true."""
    first, last = at, at
    while first > 0 and holds[first - 1]:
        first -= 1
    while last + 1 < len(holds) and holds[last + 1]:
        last += 1
    return first, last


def _profiles(field: Field) -> NDArray[np.float64]:
    """Relative light by block and column, (B, W), levelled across the page."""
    sigma = _SOFT_MM * field.per_mm_x
    soft = cv2.GaussianBlur(field.light, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
    count = max(4, round(field.box.height / _BLOCK_MM))
    edges = np.linspace(0, soft.shape[0], count + 1).astype(int)
    # means of short pieces first: a median of halftone dots alone would follow their shape
    piece = max(1, round(field.per_mm_y))
    out = []
    for a, b in itertools.pairwise(edges):
        rows = (b - a) // piece
        means = soft[a : a + rows * piece].reshape(rows, piece, -1).mean(axis=1, dtype=np.float64)
        out.append(np.median(means, axis=0))
    profiles = np.array(out)
    reach = min(int(_AROUND_MM * field.per_mm_x) | 1, profiles.shape[1] // 2 * 2 - 1)
    around = _around(profiles, reach)
    # a streak beside an area's edge has its mirror image in the window: it must not sway the level
    contrast = np.median(profiles / around, axis=0) - 1.0
    far = np.abs(contrast) > _STANDS_OUT * MAD_SD * np.median(np.abs(contrast - np.median(contrast)))
    around = _around(np.where(far, around, profiles), reach)
    return np.asarray(profiles / around - 1.0, np.float64)


def _around(profiles: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """Running median of each row of `profiles` (B, W)."""
    padded = np.pad(profiles, ((0, 0), (reach // 2, reach // 2)), mode="reflect")
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, reach, axis=1), axis=2)
    return np.asarray(np.maximum(around, 1e-6), np.float64)


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Start and stop of each run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.view(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
