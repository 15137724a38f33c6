"""Reading a ladder in the mix of channels that shows its ink best."""

from __future__ import annotations

import numpy as np

from printcheck.measure.ladder import LadderSignal, make_signal

__all__ = ["mix_channels"]

_NEEDED = 12  # dashes that were read in all channels, for a covariance worth the name


def mix_channels(channels: list[list[LadderSignal]]) -> list[LadderSignal]:
    """The mix of channels that tells ink from bare paper best, for each printing of one ink's ladder.

    The linear discriminant of R. Fisher (Ann. Eugenics 7, 1936) between no ink and a sound dash: weights are the
    inverse of the dashes' covariance between channels times their mean. Rows that are missing scatter along the mean
    itself, which leaves the direction as it is; what varies in one channel alone (chroma that JPEG or a
    phone's denoising took away) is weighted down.

    Parameters
    ----------
    channels : list of list of LadderSignal
        By printing, then by channel.
    """
    stacked = np.concatenate([np.stack([s.amplitude for s in printing], axis=1) for printing in channels])
    stacked = stacked[np.isfinite(stacked).all(axis=1)]
    if len(stacked) < _NEEDED:
        return [printing[0] for printing in channels]
    middle = np.median(stacked, axis=0)
    spread = 1.4826 * np.median(np.abs(stacked - middle), axis=0) + 1e-9
    clipped = middle + np.clip(stacked - middle, -3 * spread, 3 * spread)
    mean = clipped.mean(axis=0)
    covariance = np.cov(clipped, rowvar=False) + np.diag((0.02 * np.abs(mean) + 1e-6) ** 2)
    weights = np.linalg.solve(covariance, mean)
    weights = np.maximum(weights, 0.0)  # a channel only ever adds ink's absorption
    if weights @ mean <= 0:
        return [printing[0] for printing in channels]
    weights = weights * np.abs(mean).max() / (weights @ mean)
    best = int(np.argmax(weights * mean))
    return [
        make_signal(
            np.tensordot(weights, np.stack([s.parts for s in printing]), 1),
            np.tensordot(weights, np.stack([s.moved for s in printing]), 1),
            printing[best].paper,
            printing[best].width_mm,
            printing[best].shift_mm,
        )
        for printing in channels
    ]
