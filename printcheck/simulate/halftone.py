"""Tones turned into dots: ordered dither, blue-noise dither (Ulichney 1993) and error diffusion.

Error diffusion is Floyd and Steinberg (1976) or Jarvis, Judice and Ninke (1976). A dot depends on dots to the left
and above only, so all dots of one skewed diagonal are done at once.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["HALFTONES", "bayer", "blue_noise", "halftone"]

HALFTONES = ("bayer", "blue-noise", "floyd-steinberg", "jarvis")
_SIDE = 64  # of the blue-noise matrix; larger repeats are not seen, and cost grows with the 4th power
_SKEW = {"floyd-steinberg": 2, "jarvis": 3}  # columns a row must lag behind the one above
_WEIGHTS: dict[str, tuple[tuple[int, int, float], ...]] = {  # (row back, column back, share) of errors taken in
    "floyd-steinberg": ((0, 1, 7 / 16), (1, -1, 3 / 16), (1, 0, 5 / 16), (1, 1, 1 / 16)),
    "jarvis": (
        (0, 1, 7 / 48), (0, 2, 5 / 48),
        (1, -2, 3 / 48), (1, -1, 5 / 48), (1, 0, 7 / 48), (1, 1, 5 / 48), (1, 2, 3 / 48),
        (2, -2, 1 / 48), (2, -1, 3 / 48), (2, 0, 5 / 48), (2, 1, 3 / 48), (2, 2, 1 / 48),
    ),
}  # fmt: skip


@lru_cache(maxsize=4)
def bayer(order: int = 4) -> NDArray[np.float32]:
    """Bayer's (1973) recursive threshold matrix, ``2**order`` square, thresholds in (0, 1)."""
    matrix = np.zeros((1, 1), int)
    for _ in range(order):
        matrix = np.block([[4 * matrix, 4 * matrix + 2], [4 * matrix + 3, 4 * matrix + 1]])
    return ((matrix + 0.5) / matrix.size).astype(np.float32)


@lru_cache(maxsize=2)
def blue_noise(seed: int = 7) -> NDArray[np.float32]:
    """Threshold matrix by void and cluster (Ulichney 1993), 64 square, thresholds in (0, 1)."""
    rng = np.random.default_rng(seed)
    n = _SIDE * _SIDE
    at = np.minimum(np.arange(_SIDE), _SIDE - np.arange(_SIDE))
    bell = np.exp(-(at[:, None] ** 2 + at[None, :] ** 2) / (2 * 1.9**2))
    twice = np.tile(bell, (2, 2))

    def shifted(index: int) -> NDArray[np.float64]:
        y, x = divmod(index, _SIDE)
        view: NDArray[np.float64] = twice[_SIDE - y : 2 * _SIDE - y, _SIDE - x : 2 * _SIDE - x]
        return view

    on = np.zeros(n, bool)
    on[rng.choice(n, n // 10, replace=False)] = True
    energy = np.zeros((_SIDE, _SIDE))
    for index in np.flatnonzero(on):
        energy += shifted(int(index))
    while True:  # move the tightest dot into the largest void until they are the same place
        tight = int(np.argmax(np.where(on, energy.ravel(), -np.inf)))
        on[tight] = False
        energy -= shifted(tight)
        void = int(np.argmin(np.where(on, np.inf, energy.ravel())))
        on[void] = True
        energy += shifted(void)
        if void == tight:
            break
    rank = np.zeros(n, int)
    start, work, field = int(on.sum()), on.copy(), energy.copy()
    for number in range(start - 1, -1, -1):
        tight = int(np.argmax(np.where(work, field.ravel(), -np.inf)))
        work[tight] = False
        field -= shifted(tight)
        rank[tight] = number
    for number in range(start, n):
        void = int(np.argmin(np.where(on, np.inf, energy.ravel())))
        on[void] = True
        energy += shifted(void)
        rank[void] = number
    return ((rank.reshape(_SIDE, _SIDE) + 0.5) / n).astype(np.float32)


def halftone(tone: NDArray[np.uint8], method: str, shift: tuple[int, int] = (0, 0)) -> NDArray[np.uint8]:
    """Dots of a tone plane.

    Parameters
    ----------
    tone : (H, W) uint8
        0 paper, 255 solid.
    method : str
        One of `HALFTONES`.
    shift : (int, int)
        Rows and columns by which a threshold matrix is moved, so that inks don't share one.

    Returns
    -------
    (H, W) uint8
        1 where a drop is fired.
    """
    dots: NDArray[np.uint8] = (tone == 255).view(np.uint8)
    middle = (tone > 0) & (tone < 255)
    rows = np.flatnonzero(middle.any(axis=1))
    if not rows.size:
        return dots
    for band in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
        y0, y1 = int(band[0]), int(band[-1]) + 1
        columns = np.flatnonzero(middle[y0:y1].any(axis=0))
        x0, x1 = int(columns[0]), int(columns[-1]) + 1
        part = np.where(middle[y0:y1, x0:x1], tone[y0:y1, x0:x1], 0).astype(np.float32) / 255.0
        if method in _WEIGHTS:
            fired = _diffuse(part, method)
        else:
            matrix = np.roll(bayer() if method == "bayer" else blue_noise(), shift, (0, 1))
            n = matrix.shape[0]
            big = np.tile(matrix, (-(-(y1 - y0) // n), -(-(x1 - x0) // n)))
            fired = part > big[: y1 - y0, : x1 - x0]
        dots[y0:y1, x0:x1] |= fired & middle[y0:y1, x0:x1]
    return dots


def _diffuse(tone: NDArray[np.float32], method: str) -> NDArray[np.bool_]:
    """Error diffusion of a (H, W) band of tones 0 to 1."""
    height, width = tone.shape
    skew = _SKEW[method]
    steps = width + skew * (height - 1)
    pad = 2  # rows above, and diagonals before, that bring no error
    rows = np.arange(height)
    t = np.arange(steps)[:, None]
    x = t - skew * rows[None, :]
    inside = (x >= 0) & (x < width)
    value = np.where(inside, tone[rows[None, :], np.clip(x, 0, width - 1)], 0.0).astype(np.float32)
    lags = [(back_y, back_x + skew * back_y, share) for back_y, back_x, share in _WEIGHTS[method]]
    deepest = max(lag for _, lag, _ in lags)
    error = np.zeros((steps + deepest, height + pad), np.float32)
    fired = np.zeros((steps, height), bool)
    for k in range(steps):
        now = value[k].copy()
        for back_y, lag, share in lags:
            now += share * error[k + deepest - lag, pad - back_y : pad - back_y + height]
        out = (now > 0.5) & inside[k]
        fired[k] = out
        error[k + deepest, pad:] = np.where(inside[k] & (value[k] > 0), now - out, 0.0)
    result = np.zeros((height, width), bool)
    result[np.broadcast_to(rows, x.shape)[inside], x[inside]] = fired[inside]
    return result
