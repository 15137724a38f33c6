"""Wide lenses: the picture as a lens without distortion would have taken it.

Distortion is radial about the picture's middle and follows the division model with one coefficient (A. Fitzgibbon,
CVPR 2001): a point at r in the picture, in half diagonals, belongs at ``r / (1 + strength r^2)``. Barrels have a
negative strength. It is found as the one under which the marks lie best on a plane.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Bend", "find_bend"]

_STRONGEST = 0.6  # of either sign: at -0.6 the picture's corners lie at 2.5 times their distance
_TRIALS = 9  # strengths tried evenly over that range, before the best is refined
_REFINED = 18  # steps of golden section: to a fifth of a pixel in the corners of 12 megapixels
_GOLDEN = (5**0.5 - 1) / 2  # the golden section


@dataclass(frozen=True, slots=True)
class Bend:
    """Radial distortion of one picture.

    Attributes
    ----------
    strength : float
        Coefficient of the division model, for radii in half diagonals.
    centre : (2,) float64
        Middle of the picture, px.
    half : float
        Half its diagonal, px.
    """

    strength: float
    centre: NDArray[np.float64]
    half: float

    def straightened(self, px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where a lens without distortion would have put picture points (N, 2), px."""
        out = (px - self.centre) / self.half
        return np.asarray(self.centre + self.half * out / (1.0 + self.strength * _squared(out)))

    def bent(self, px: NDArray[np.float64]) -> NDArray[np.float64]:
        """The inverse: where in the picture such points (N, 2) lie, px."""
        out = (px - self.centre) / self.half
        # q / (1 + s q^2) = r solved for q: of the two roots the one that tends to r as s does to 0
        root = np.sqrt(np.maximum(1.0 - 4.0 * self.strength * _squared(out), 0.0))
        return np.asarray(self.centre + self.half * out * 2.0 / (1.0 + root))

    def doubled(self) -> Bend:
        """The same in pixels of a picture twice the size."""
        return Bend(self.strength, 2.0 * self.centre + 0.5, 2.0 * self.half)


def _squared(out: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.sum(out**2, axis=1, keepdims=True), np.float64)


def find_bend(page_mm: NDArray[np.float64], px: NDArray[np.float64], picture: tuple[int, int]) -> Bend:
    """The distortion under which points `px` (N, 2) of the picture lie best on a plane that holds `page_mm` (N, 2).

    Parameters
    ----------
    picture : (int, int)
        Its height and width, px.
    """
    height, width = picture
    centre, half = np.array([(width - 1) / 2, (height - 1) / 2]), float(np.hypot(width, height)) / 2

    def misfit(strength: float) -> float:
        straight = Bend(strength, centre, half).straightened(px)
        plane, _ = cv2.findHomography(straight, page_mm, 0)
        if plane is None:
            return float("inf")
        # on the page, where what is left does not shrink with the picture
        return float(np.square(cv2.perspectiveTransform(straight[None], plane)[0] - page_mm).sum())

    tried = np.linspace(-_STRONGEST, _STRONGEST, _TRIALS)
    best = float(min(tried, key=misfit))
    low, high = best - (tried[1] - tried[0]), best + (tried[1] - tried[0])
    a, b = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    left, right = misfit(a), misfit(b)
    for _ in range(_REFINED):
        if left < right:
            high, b, right = b, a, left
            a = high - _GOLDEN * (high - low)
            left = misfit(a)
        else:
            low, a, left = a, b, right
            b = low + _GOLDEN * (high - low)
            right = misfit(b)
    return Bend((low + high) / 2, centre, half)
