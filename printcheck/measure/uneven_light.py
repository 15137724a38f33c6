"""Light that no plane follows, such as the bands of a lamp that flickers while a camera reads its rows.

A lamp on the mains flickers at twice their frequency, and a rolling shutter draws that as bands across the picture.
What bare paper then shows beyond the planes is told for any place by simple kriging (Matheron 1963): a Gaussian
process with a squared exponential covariance, isotropic or long along the picture's rows or columns, wherever they
run on the page. Which one, and how much of a piece is its own, is what tells a piece best from the others
(cross-validation by leaving one out, in closed form); and it is only used where that tells more than half.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.limits import LIMITS
from printcheck.register.result import Registration
from printcheck.robust import middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["LocalLight", "local_light"]

_SHORT_MM, _LONG_MM = 8.0, 300.0  # reach of the process: a quarter of a short band's period, and all of a page
_SHAPES = ((_SHORT_MM, _SHORT_MM), (_LONG_MM, _SHORT_MM), (_SHORT_MM, _LONG_MM))
_OWN = (0.03, 0.3)  # variance of a piece by itself, its grain and dust, to that of the light
_UNEVEN = LIMITS["light_uneven"].value
_TELLS = 0.5  # of the variance that must be told by others


@dataclass(frozen=True, slots=True)
class LocalLight:
    """What the light has beyond its planes.

    Attributes
    ----------
    registration : Registration
    places : (N, 2) float64
        Of the pieces of paper, in the picture, mm as it shows the page on average.
    weight : (N, 3) float64
        Of each in R, G, B.
    reach_mm : (float, float)
        Of the process along the picture's rows and columns.
    own : float
        Variance of a piece by itself to that of the process.
    """

    registration: Registration
    places: NDArray[np.float64]
    weight: NDArray[np.float64]
    reach_mm: tuple[float, float]
    own: float

    def at(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Relative deviation (M, 3) of the light at `points` (M, 2), mm on the page."""
        return np.asarray(_alike(_in_picture(points, self.registration), self.places, self.reach_mm) @ self.weight)


def local_light(
    centres: NDArray[np.float64],
    relative: NDArray[np.float64],
    registration: Registration,
    like: LocalLight | None = None,
) -> tuple[LocalLight, NDArray[np.float64]] | None:
    """Light at `centres` (N, 2), mm, that lies `relative` (N, 3) beyond the planes; none where those tell enough.

    Also what each piece lies (N, 3) beyond what the others tell of its place. `like` is one of nearly the same
    pieces, whose process serves again.
    """
    variance = float(np.mean(np.square(relative)))
    if variance < _UNEVEN**2:
        return None
    places = _in_picture(centres, registration)
    best: tuple[float, LocalLight, NDArray[np.float64]] | None = None
    single = places.astype(np.float32)
    # each piece's own variance keeps it well conditioned, so that single precision does, in a quarter of the time
    among = {reach: _alike(single, single, reach) for reach in ([like.reach_mm] if like else _SHAPES)}
    for reach, own in [(like.reach_mm, like.own)] if like else itertools.product(_SHAPES, _OWN):
        alike = among[reach].copy()
        np.fill_diagonal(alike, 1.0 + np.float32(own))
        inverse = np.asarray(cv2.invert(alike, flags=cv2.DECOMP_CHOLESKY)[1], np.float64)
        weight = inverse @ relative
        missed = weight / np.diag(inverse)[:, None]
        error = float(middle_of(np.square(missed).ravel()))  # dirt counts for no shape
        if best is None or error < best[0]:
            best = (error, LocalLight(registration, places, weight, reach, own), missed)
    assert best is not None
    untold = best[0] > (1.0 - _TELLS) * float(middle_of(np.square(relative).ravel()))
    return None if untold else best[1:]


def _in_picture(points: NDArray[np.float64], registration: Registration) -> NDArray[np.float64]:
    return np.asarray(registration.to_px(points) / (registration.px_per_mm_x * registration.px_per_mm_y) ** 0.5)


def _alike(
    points: NDArray[np.floating], places: NDArray[np.floating], reach_mm: tuple[float, float]
) -> NDArray[np.floating]:
    """Correlation (M, N) of the light at `points` (M, 2) with that at `places` (N, 2), as precise as they are."""
    out = np.zeros((len(points), len(places)), points.dtype)
    for k in (0, 1):  # in place: memory of its own for each step costs a third more
        apart = points[:, k, None] - places[:, k]
        apart *= 0.5**0.5 / reach_mm[k]
        apart *= apart
        out -= apart
    return np.exp(out, out=out)
