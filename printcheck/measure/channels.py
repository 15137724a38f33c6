"""Reading a ladder in the mix of channels that shows its ink best."""

from __future__ import annotations

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.ladder import LadderSignal, make_signal
from printcheck.robust import MAD_SD

__all__ = ["mix_channels"]

_NEEDED = 12  # dashes that were read in all channels, for a covariance worth the name
_DEAD_NEEDED = 2  # dashes that bare their paper, to tell what a channel shows of their neighbours there
_SEEN = LIMITS["channel_seen"].value
_FLOOR_SD = LIMITS["channel_sd"].value
_LOST = LIMITS["channel_lost"].value
_WITNESS = LIMITS["channel_witness"].value
_SHOWS = LIMITS["channel_shows"].value


def mix_channels(channels: list[list[LadderSignal]]) -> list[LadderSignal]:
    """The mix of channels that tells ink from bare paper best, for each printing of one ink's ladder.

    The linear discriminant of R. Fisher (Ann. Eugenics 7, 1936) between no ink and a sound dash: weights are the
    inverse of the sound dashes' covariance between channels times what tells them from bare paper; what varies in
    one channel alone (chroma that JPEG or a phone's denoising took away) is weighted down. Where dashes are missing
    in the ink's own channel, what the others show there of their neighbours (chroma runs from one to the next) is no
    ink of theirs: it tells nothing and is taken off.

    Parameters
    ----------
    channels : list of list of LadderSignal
        By printing, then by channel, the ink's own first.
    """
    weighty = _of_weight(channels)
    unspoilt = _unspoilt(channels, weighty)
    mixed = _mixed(channels, weighty)
    if unspoilt == weighty:
        return mixed
    # a dash is read in all channels that are mixed or in none: one that a lamp has burnt out takes dashes along that
    # the ink's own shows, which is worth it only where the others alone are too uneven to tell any
    fewer = _mixed(channels, unspoilt)
    return fewer if _told_well(fewer) > _told_well(mixed) else mixed


def _mixed(printings: list[list[LadderSignal]], which: list[int]) -> list[LadderSignal]:
    """The printings, each in the best mix of those of its channels."""
    channels = [[printing[i] for i in which] for printing in printings]
    levels = np.array([[signal.level or 1.0 for signal in printing] for printing in channels])
    relative = np.concatenate(
        [
            np.stack([s.amplitude for s in printing], axis=1) / level
            for printing, level in zip(channels, levels, strict=True)
        ]
    )
    relative = relative[np.isfinite(relative).all(axis=1)]
    if relative.shape[1] == 1:
        return [printing[0] for printing in channels]
    # a mosaic's sparse colour passes lines over that the other channels show; one that hardly shows the ink at all
    # says little of it, and where chroma is halved much of what it shows are a dash's neighbours
    shows = (levels > _WITNESS * levels[:, :1]).all(axis=0)
    dead = (relative[:, 0] < LIMITS["dash_missing"].value) & (relative[:, shows] < _SEEN).all(axis=1)
    sound = relative[~dead]
    if len(sound) < _NEEDED:
        return [printing[0] for printing in channels]
    bare = np.median(relative[dead], axis=0) if dead.sum() >= _DEAD_NEEDED else np.zeros(relative.shape[1])
    middle = np.median(sound, axis=0)
    spread = MAD_SD * np.median(np.abs(sound - middle), axis=0) + 1e-9
    clipped = middle + np.clip(sound - middle, -3 * spread, 3 * spread)
    apart = clipped.mean(axis=0) - bare
    covariance = np.cov(clipped, rowvar=False) + _FLOOR_SD**2 * np.eye(len(apart))
    weights = np.linalg.solve(covariance, apart)
    weights = np.maximum(weights, 0.0)  # a channel only ever adds ink's absorption
    if weights @ apart <= 0:
        return [printing[0] for printing in channels]
    weights = weights / (weights @ apart)
    best = int(np.argmax(weights * apart))
    return [
        make_signal(
            np.tensordot(
                weights, np.stack([s.parts / v - b for s, v, b in zip(printing, level, bare, strict=True)]), 1
            ),
            np.tensordot(weights, np.stack([s.moved / v for s, v in zip(printing, level, strict=True)]), 1),
            printing[best].paper,
            printing[best].width_mm,
            printing[best].shift_mm,
            printing[best].crossed_px,
            printing[0].level,
            printing[best].row_px,
        )
        for printing, level in zip(channels, levels, strict=True)
    ]


def _told_well(signals: list[LadderSignal]) -> int:
    """Dashes that can be read, of printings whose own alike sound ones don't differ too much to tell any by."""
    return sum(int(s.readable.sum()) for s in signals if s.unevenness <= LIMITS["dash_sd"].value)


def _of_weight(printings: list[list[LadderSignal]]) -> list[int]:
    """The ink's own channel, and those others in which the lines of all printings weigh something.

    A share of nothing is any number: what is rounding in a channel as light as the paper would pass for ink that
    comes and goes.
    """
    return [
        i
        for i in range(len(printings[0]))
        if i == 0 or all(printing[i].level > _SHOWS * printing[0].level for printing in printings)
    ]


def _unspoilt(printings: list[list[LadderSignal]], channels: list[int]) -> list[int]:
    """Those of `channels` that show nearly all dashes which the ink's own shows."""
    return [
        i
        for i in channels
        if all((p[0].readable & ~p[i].readable).sum() <= _LOST * p[0].readable.sum() for p in printings)
    ]
