"""Blurring a page that is made from the top down, a slab of rows at a time, without holding all of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["blurred", "reach"]

Slab = NDArray[np.float32]


def reach(sigma: float) -> int:
    """Rows to either side that a Gaussian of `sigma` takes in (3 sigma)."""
    return max(1, int(np.ceil(3.0 * sigma)))


def blurred(
    slabs: Iterable[Slab], sigma_y: float, sigma_x: float, combine: Callable[[Slab, Slab], Slab] | None = None
) -> Iterator[Slab]:
    """Gaussian blur of a stack of slabs, the edges continued.

    Parameters
    ----------
    slabs : iterable of (h, W, C) float32
        From the top down; the heights may differ.
    sigma_y, sigma_x : float
        In rows and columns.
    combine : callable, optional
        Called with a slab and its blurred self, instead of handing on the blurred one.

    Yields
    ------
    (h, W, C) float32
        As many rows altogether as came in.
    """
    r, rx = reach(sigma_y), reach(sigma_x)
    size = (2 * rx + 1, 2 * r + 1)
    held: Slab | None = None

    def work(block: Slab) -> Slab:
        soft = cv2.GaussianBlur(block, size, sigma_x, sigmaY=sigma_y, borderType=cv2.BORDER_REPLICATE)
        inner: Slab = np.asarray(soft, np.float32)[r:-r]
        return inner if combine is None else combine(block[r:-r], inner)

    for slab in slabs:
        if held is None:
            held = np.repeat(slab[:1], r, axis=0)
        held = np.concatenate([held, slab])
        if held.shape[0] > 2 * r:
            yield work(held)
            held = held[-2 * r :]
    if held is not None:
        held = np.concatenate([held, np.repeat(held[-1:], r, axis=0)])
        if held.shape[0] > 2 * r:
            yield work(held)
