"""Whether measured values can be those of the patches in a capture.

A polynomial fits exchanged inks, a negative or one colour for all patches as well as the truth, so a small error
alone says nothing. But what a scanner shows is roughly the colour even before it is calibrated, a print has light,
dark and hues, no ink is lighter than its paper, and each patch has to lie where the others put it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.calibration import LEAST_PATCHES, errors_left_out, too_few
from printcheck.colour.difference import delta_e00
from printcheck.errors import PrintcheckError
from printcheck.limits import LIMITS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["check_fit", "check_values", "named"]

_AXES = ("L*", "a*", "b*")
_FEW = 10  # one stray in so many samples is a slip of its own; more, and it is the whole that does not belong
_NAMED = 3  # samples listed in a message, the worst
_NEARER = 0.5  # of its distance from its own value, within which a patch must lie of another's to be taken for it
_EXCHANGED = 6.0  # median errors that both of two exchanged patches must be off by


def named(names: Sequence[str]) -> str:
    """The first few of `names`, and how many there are besides, as words."""
    return ", ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")


def _worst(names: Sequence[str], off: NDArray[np.float64]) -> str:
    """Names of the few samples that are most `off` (N,)."""
    return ", ".join(names[int(k)] for k in np.argsort(-off)[:_NAMED])


def check_values(names: Sequence[str], lab: NDArray[np.float64], paper: NDArray[np.float64], where: str) -> None:
    """Refuse values (N, 3), absolute, that no print of several inks on `paper` (3,) has; `where` names their file."""
    if len(names) < LEAST_PATCHES:
        raise PrintcheckError(f"{where}: {too_few(len(names))}")
    least = LIMITS["values_span"].value
    for axis, span in zip(_AXES, np.ptp(np.vstack([lab, paper]), axis=0), strict=True):
        if span < least:
            raise PrintcheckError(
                f"{where}: {axis} differs by only {span:.0f} over all {len(names)} samples, at least {least:g} are "
                "needed to calibrate by; measure patches of all inks, light and dark"
            )
    above = lab[:, 0] - paper[0]
    if above.max() > LIMITS["values_above_paper"].value:
        raise PrintcheckError(
            f"{where}: sample '{names[int(above.argmax())]}' is {above.max():.0f} L* lighter than the paper or white "
            "patch; measure both again"
        )


def check_fit(names: Sequence[str], ratio: NDArray[np.float64], plain: NDArray[np.float64], lab: NDArray[np.float64],
              where: str) -> None:  # fmt: skip
    """Refuse values that do not belong to what the capture shows.

    Parameters
    ----------
    names
        Of the N samples.
    ratio, plain : (N, 3)
        Light relative to paper, and the colour it has without a calibration, media-relative CIELAB.
    lab : (N, 3)
        Values, media-relative CIELAB.
    where : str
        Name of the file they are from.

    Raises
    ------
    PrintcheckError
        They do not; names the worst samples.
    """
    left, _ = errors_left_out(ratio, lab)
    _check_exchanged(names, lab + left, lab, where)
    stray = _strays(ratio, plain, lab)
    if len(stray) <= max(1, len(names) // _FEW):
        _check_strays([names[k] for k in stray], where)
    _check_agreement(names, plain, lab, where)
    away = delta_e00(lab + left, lab)
    most = LIMITS["calibration_residual"].value
    if float(np.median(away)) > most:
        raise PrintcheckError(
            f"{where} does not fit the picture: patches left out of the fit are {np.median(away):.1f} deltaE00 off "
            f"(median; limit {most:g}), most of all {_worst(names, away)}; check which sample is which patch, "
            "and that this very print was measured"
        )
    _check_strays([names[k] for k in stray], where)


def _check_strays(names: Sequence[str], where: str) -> None:
    if names:
        one = len(names) == 1
        raise PrintcheckError(
            f"{where}: {named(names)} {'lies' if one else 'lie'} over {LIMITS['calibration_patch'].value:g} deltaE00 "
            f"from where the other samples put {'it' if one else 'them'}; check name and value, measure again or "
            "leave out"
        )


def _check_agreement(names: Sequence[str], plain: NDArray[np.float64], lab: NDArray[np.float64], where: str) -> None:
    least = LIMITS["values_agree"].value
    for k, axis in enumerate(_AXES):
        flat = min(float(np.std(plain[:, k])), float(np.std(lab[:, k]))) < 1e-6
        agree = 0.0 if flat else float(np.corrcoef(plain[:, k], lab[:, k])[0, 1])
        if agree < least:
            worst = _worst(names, np.abs(plain[:, k] - lab[:, k]))
            raise PrintcheckError(
                f"{where} does not belong to the picture: {axis} of its samples goes with what is scanned by a "
                f"correlation of {agree:.2f} (limit {least:g}), worst at {worst}; check which sample "
                "is which patch, and that the scan is no negative"
            )


def _check_exchanged(names: Sequence[str], seen: NDArray[np.float64], lab: NDArray[np.float64], where: str) -> None:
    """Refuse where two samples fit much better with their values exchanged."""
    between = np.linalg.norm(seen[:, None] - lab[None], axis=2)
    own = np.diag(between)
    least = max(LIMITS["values_repeat"].value, _EXCHANGED * float(np.median(own)))
    nearer = (between < _NEARER * own[:, None]) & (own > least)[:, None]
    pairs = np.argwhere(np.triu(nearer & nearer.T, 1))
    if len(pairs):
        gain = [own[a] + own[b] - between[a, b] - between[b, a] for a, b in pairs]
        a, b = pairs[int(np.argmax(gain))]
        raise PrintcheckError(
            f"{where}: samples '{names[a]}' and '{names[b]}' fit much better with their values exchanged; check "
            "which is which"
        )


def _strays(ratio: NDArray[np.float64], plain: NDArray[np.float64], lab: NDArray[np.float64]) -> list[int]:
    """Samples too far from where the rest puts them, the worst first, each judged without those before it.

    The rest can't tell much of a colour that lies apart, so a sample must be as far from what is plainly scanned.
    """
    most = LIMITS["calibration_patch"].value
    off = delta_e00(plain, lab)
    kept = np.arange(len(lab))
    out: list[int] = []
    while len(kept) > len(lab) // 2:
        left, lever = errors_left_out(ratio[kept], lab[kept])
        away = np.minimum(off[kept], delta_e00(lab[kept] + left * np.sqrt(1.0 - lever)[:, None], lab[kept]))
        worst = int(away.argmax())
        if away[worst] <= most:
            return out
        out.append(int(kept[worst]))
        kept = np.delete(kept, worst)
    return out
