"""Background fog: toner on paper that should be bare, as lightness against the outermost millimetres of the sheet.

No printer lays toner right out to the edge of the sheet, so the last millimetres are the paper itself, or nearer to
it than anything else on the page. Inner and outer paper are compared side by side all along the four edges, so that
a lamp's fall-off falls out. Fog that covers the margin too does not show: that takes an unprinted sheet. Where it
covers the margin at head and foot but not at the sides, as toner laid down the whole feed does, or the reverse, the
two edges where it ends tell: a lamp to one side makes paper darker inwards at one edge and lighter at the other, a
lens's fall-off lighter at both. That fall-off shows at the other two, whose margin is as their paper. Light that
changes inwards within the margin and within the paper inside alike, as a phone's tone mapping has it beside a dark
table, is taken off each edge of a photo.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.measure.fields import SCALE_SD
from printcheck.measure.light import lightness_of
from printcheck.measure.toner_result import FogReading
from printcheck.register.result import Registration
from printcheck.register.view import look_at
from printcheck.robust import MAD_SD, MEDIAN_SD
from printcheck.student import t95

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["read_fog"]

_OUTER_MM, _INNER_MM = (2.4, 4.6), (6.8, 11.2)  # from the sheet's edge
_OPPOSITE = (("left", "right"), ("head", "foot"))
_CORNER_MM = 14.0  # of an edge, left out at both ends: corners curl
_TINT_CLEAR_MM = 1.5  # kept from the tints that run into head and foot
_TILE_MM = 4.0  # along the edge
_LEAST_TILES = 12  # along an edge of the sheet, half of which must be readable: fewer leave their middle to chance
_LEAST_SIDES = 2  # edges: one alone may lie in other light
_MOST_DL = LIMITS["fog_tile"].value
_PAPER_SD = LIMITS["fog_sd"].value
_FALL_OFF_SD = LIMITS["fog_fall_off_sd"].value
_HALO_SURE = LIMITS["fog_halo_sure"].value
_MOST_APART = LIMITS["fog_apart"].value


def read_fog(pixels: Pixels, registration: Registration, *, photo: bool = False) -> tuple[FogReading | None, float]:
    """Compare bare paper with the sheet's margin; of a `photo` less what its tone mapping does along the edges.

    Returns
    -------
    FogReading or None
        None where less than two edges of the sheet are seen, or no two that lie opposite agree.
    float
        By how many L* paper is darker than the margin at least, did so few edges tell how far edges differ; where
        they don't agree, by how many at the worst one.
    """
    layout = registration.layout
    sides = []
    for edge, outer, inner, along_x in _strips(layout.width_mm, layout.height_mm, registration):
        halves = [
            _tiles(pixels, registration, half, along_x) for box in (outer, inner) for half in _inwards(box, edge)
        ]
        light = [half for half in halves if half is not None]
        if len(light) < len(halves):
            continue
        out, near, far, deep = light
        (middle, sd), count = _darker((far + deep) / 2, (out + near) / 2), len(out)
        if abs(middle) < _MOST_DL and count >= _LEAST_TILES // 2:
            halo, halo_sd = _halo(_darker(near, out), _darker(deep, far)) if photo else (0.0, 0.0)
            sides.append((edge, middle - halo, float(np.hypot(sd, halo_sd))))
    if len({edge for edge, _, _ in sides}) < _LEAST_SIDES:
        return None, 0.0
    found = _fog_of(sides)
    if found is None:
        found = _where_it_ends(*(_fog_of([side for side in sides if side[0] in pair], pair) for pair in _OPPOSITE))
    if found is None:
        return None, max(0.0, -min(m for _, m, _ in sides))
    return found.reading, max(0.0, -(found.reading.dL + found.narrow))


def _darker(inner: NDArray[np.float64], outer: NDArray[np.float64]) -> tuple[float, float]:
    """By how many L* tiles (N,) differ from those beside them towards the edge, and that median's sd."""
    dl = lightness_of(inner / np.maximum(outer, 1e-4)) - 100.0
    middle = float(np.median(dl))
    spread = MAD_SD * float(np.median(np.abs(dl - middle))) + 1e-3
    return middle, MEDIAN_SD * spread / math.sqrt(len(dl))


def _halo(outer: tuple[float, float], inner: tuple[float, float]) -> tuple[float, float]:
    """Change of light from the outer strip to the inner, L*, and its sd; each strip's two halves tell it.

    A phone's tone mapping brightens paper beside a dark table, the less the farther from it, and an outer strip and
    an inner both grow darker inwards. Fog steps where the printer's margin ends, in one of them at most. So the
    lesser of the two slopes is the light's, where both surely go one way.
    """
    halves = [(b - a) / 2 for a, b in (_OUTER_MM, _INNER_MM)]
    slopes = [(change / wide, sd / wide) for (change, sd), wide in zip((outer, inner), halves, strict=True)]
    if outer[0] * inner[0] <= 0.0 or any(abs(slope) < _HALO_SURE * sd for slope, sd in slopes):
        return 0.0, 0.0
    slope, sd = min(slopes, key=lambda one: abs(one[0]))
    apart = (sum(_INNER_MM) - sum(_OUTER_MM)) / 2
    return slope * apart, sd * apart


def _inwards(box: Box, edge: str) -> tuple[Box, Box]:
    """The halves of a strip along an edge of the sheet, the one towards the edge first."""
    x, y = (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2
    if edge in ("left", "right"):
        halves = Box(box.x0, box.y0, x, box.y1), Box(x, box.y0, box.x1, box.y1)
    else:
        halves = Box(box.x0, box.y0, box.x1, y), Box(box.x0, y, box.x1, box.y1)
    return halves if edge in ("left", "head") else (halves[1], halves[0])


@dataclass(frozen=True, slots=True)
class _Fog:
    """Fog, and the half width of its interval were the edges' scatter known from many."""

    reading: FogReading
    narrow: float


def _where_it_ends(one: _Fog | None, other: _Fog | None) -> _Fog | None:
    """Fog as the two opposite edges with a bare margin show it; none where either pair disagrees within itself."""
    if one is None or other is None:
        return None
    dark, even = (one, other) if one.reading.dL < other.reading.dL else (other, one)
    if dark.reading.dL >= 0.0 or abs(even.reading.dL) > _MOST_APART:
        return None
    fall_off = max(0.0, even.reading.dL)
    dl, unsure = dark.reading.dL - fall_off, 1.96 * _FALL_OFF_SD * fall_off
    sure = float(np.hypot((dark.reading.ci95[1] - dark.reading.ci95[0]) / 2, unsure))
    return _Fog(FogReading(dl, (dl - sure, dl + sure), dark.reading.sides), float(np.hypot(dark.narrow, unsure)))


def _fog_of(pieces: Sequence[tuple[str, float, float]], needed: Collection[str] = ()) -> _Fog | None:
    """Mean of the edges of `pieces`, each with L* and its sd; none where they disagree or one `needed` lacks.

    Two pieces of one edge lie in the same light: they are one witness, not two.
    """
    by_edge: dict[str, list[tuple[float, float]]] = {}
    for edge, middle, sd in pieces:
        by_edge.setdefault(edge, []).append((middle, sd))
    all_middles = [middle for _, middle, _ in pieces]
    if by_edge.keys() < set(needed) or max(all_middles) - min(all_middles) > _MOST_APART:
        return None
    values, sds = np.array([np.mean(of_edge, axis=0) for of_edge in by_edge.values()]).T
    dl_mean = float(values.mean())
    # few edges tell little of how far edges differ
    scatter, few = float(values.std(ddof=1)) / len(values) ** 0.5, t95(len(values) - 1)
    alike = 1.96 * float(np.sqrt(sds.mean() ** 2 + _PAPER_SD**2 + (SCALE_SD * dl_mean) ** 2))
    sure, narrow = (float(np.hypot(times * scatter, alike)) for times in (few, 1.96))
    return _Fog(FogReading(dl_mean, (dl_mean - sure, dl_mean + sure), len(values)), narrow)


def _strips(width: float, height: float, registration: Registration) -> list[tuple[str, Box, Box, bool]]:
    """Each edge's name, its outer and inner strip, and whether they run along x; what is printed near is left out."""
    (a, b), (c, d) = _OUTER_MM, _INNER_MM
    out = [
        ("left", Box(a, _CORNER_MM, b, height - _CORNER_MM), Box(c, _CORNER_MM, d, height - _CORNER_MM), False),
        (
            "right",
            Box(width - b, _CORNER_MM, width - a, height - _CORNER_MM),
            Box(width - d, _CORNER_MM, width - c, height - _CORNER_MM),
            False,
        ),
    ]
    tints = registration.layout.patches_of("tint")
    left, right = min(p.box.x0 for p in tints), max(p.box.x1 for p in tints)
    for x0, x1 in ((_CORNER_MM, left - _TINT_CLEAR_MM), (right + _TINT_CLEAR_MM, width - _CORNER_MM)):
        out.append(("head", Box(x0, a, x1, b), Box(x0, c, x1, d), True))
        out.append(("foot", Box(x0, height - b, x1, height - a), Box(x0, height - d, x1, height - c), True))
    return out


def _tiles(pixels: Pixels, registration: Registration, box: Box, along_x: bool) -> NDArray[np.float64] | None:
    """Mean light of pieces along a strip; none where it isn't in the picture."""
    view = look_at(pixels, registration, box, 1, nearest=True, most_x=8.0)
    if view.inside < 1.0:
        return None
    light = linear_light(np.ascontiguousarray(view.values))
    length = box.width if along_x else box.height
    count = max(2, round(length / _TILE_MM))
    size = (count, 1) if along_x else (1, count)
    means = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    return np.asarray(means, np.float64).ravel()
