"""Reading a ladder in the mix of channels that shows its ink best."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import LUMA_OF_RGB
from printcheck.limits import LIMITS
from printcheck.measure.ladder import LadderSignal, make_signal
from printcheck.robust import MAD_SD

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["mix_channels"]

_LUMA_SURE = LIMITS["channel_luma_sure"].value
_LUMA = LUMA_OF_RGB[::-1]  # of blue, green and red

_NEEDED = 12  # dashes that were read in all channels, for a covariance worth the name
_DEAD_NEEDED = 2  # dashes that bare their paper, to tell what a channel shows of their neighbours there
_SEEN = LIMITS["channel_seen"].value
_FLOOR_SD = LIMITS["channel_sd"].value
_LOST = LIMITS["channel_lost"].value
_WITNESS = LIMITS["channel_witness"].value
_SHOWS = LIMITS["channel_shows"].value


def mix_channels(channels: list[list[LadderSignal]], order: tuple[int, ...] = (1, 0, 2)) -> list[LadderSignal]:
    """The mix of channels that tells ink from bare paper best, for each printing of one ink's ladder.

    The linear discriminant of R. Fisher (Ann. Eugenics 7, 1936) between no ink and a sound dash: weights are the
    inverse of the sound dashes' covariance between channels times what tells them from bare paper; what varies in
    one channel alone (chroma that JPEG or a phone's denoising took away) is weighted down. Where dashes are missing
    in the ink's own channel, what the others show there of their neighbours (chroma runs from one to the next) is no
    ink of theirs: it tells nothing and is taken off. Lines that are half there look the same but for the picture's
    luma, which keeps what chroma lost: what is left in it is ink.

    Parameters
    ----------
    channels : list of list of LadderSignal
        By printing, then by channel, the ink's own first.
    order : tuple of int
        Which channels these are: 0 blue, 1 green, 2 red.
    """
    weighty = _of_weight(channels)
    unspoilt = _unspoilt(channels, weighty)
    luma = np.array([_LUMA[i] for i in order[: len(channels[0])]])
    mixed = _mixed(channels, weighty, luma)
    if unspoilt == weighty:
        return mixed
    # a dash is read in all channels that are mixed or in none: one that a lamp has burnt out takes dashes along that
    # the ink's own shows, which is worth it only where the others alone are too uneven to tell any
    fewer = _mixed(channels, unspoilt, luma)
    return fewer if _told_well(fewer) > _told_well(mixed) else mixed


def _mixed(printings: list[list[LadderSignal]], which: list[int], luma: NDArray[np.float64]) -> list[LadderSignal]:
    """The printings, each in the best mix of those of its channels; `luma` has the share of each channel in it."""
    channels = [[printing[i] for i in which] for printing in printings]
    levels = np.array([[signal.level or 1.0 for signal in printing] for printing in channels])
    in_luma = _in_luma(printings, luma)
    relative = np.concatenate(
        [
            np.stack([s.amplitude for s in printing], axis=1) / level
            for printing, level in zip(channels, levels, strict=True)
        ]
    )
    finite = np.isfinite(relative).all(axis=1)
    relative, in_luma = relative[finite], in_luma[finite]
    if relative.shape[1] == 1:
        return [printing[0] for printing in channels]
    # a mosaic's sparse colour passes lines over that the other channels show; one that hardly shows the ink at all
    # says little of it, and where chroma is halved much of what it shows are a dash's neighbours
    shows = (levels > _WITNESS * levels[:, :1]).all(axis=0)
    dead = (relative[:, 0] < LIMITS["dash_missing"].value) & (relative[:, shows] < _SEEN).all(axis=1)
    sound = relative[~dead]
    if len(sound) < _NEEDED:
        return [printing[0] for printing in channels]
    bare = np.zeros(relative.shape[1])
    if dead.sum() >= _DEAD_NEEDED:
        # of yellow luma shows too little to tell by
        bare = _bare(relative[dead], in_luma, dead) if shows.sum() > 1 else np.median(relative[dead], axis=0)
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
        replace(
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
            ),
            folds=printing[0].folds,
        )
        for printing, level in zip(channels, levels, strict=True)
    ]


def _in_luma(printings: list[list[LadderSignal]], luma: NDArray[np.float64]) -> NDArray[np.float64]:
    """Line weights of all printings' dashes in the picture's luma, (dashes,), in terms of a sound one."""
    out = []
    for printing in printings:
        weight = np.tensordot(luma, np.stack([signal.amplitude for signal in printing]), 1)
        level = float(luma @ np.array([max(signal.level, 0.0) for signal in printing]))
        out.append(weight / (level or 1.0))
    return np.concatenate(out)


def _bare(
    relative: NDArray[np.float64], in_luma: NDArray[np.float64], dead: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """What each channel shows of `dead` dashes that is none of their ink, (channels,), of a sound dash.

    What chroma lost it has spread, but luma, which files and cameras keep, has not: it shows how much of these dashes
    is there, where that stands out of its noise. The ink's own channel shows no less of them: what runs there from
    their neighbours adds to it.
    """
    seen = np.median(relative, axis=0)
    of_luma, sound = in_luma[dead & np.isfinite(in_luma)], in_luma[~dead & np.isfinite(in_luma)]
    if len(of_luma) < _DEAD_NEEDED or len(sound) < _NEEDED:
        return np.asarray(seen)
    noise = MAD_SD * float(np.median(np.abs(sound - np.median(sound)))) / np.sqrt(len(of_luma)) + _FLOOR_SD
    there = float(min(np.median(of_luma), seen[0]))
    return np.asarray((seen - there) / (1.0 - there) if there > _LUMA_SURE * noise else seen)


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
