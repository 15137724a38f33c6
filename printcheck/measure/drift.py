"""Whether foreign ink clears, stays or grows along the run-off strip."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.areas import Strip
from printcheck.measure.fading import faded
from printcheck.measure.unmix import Mixture, OwnInk, density, local_fit, model_error
from printcheck.robust import MAD_SD, middle_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Drift", "read_drift"]

_CLEAR_SHARE = LIMITS["drift_cleared"].value
_SURE = LIMITS["drift_sure"].value
_SURE_NAMED = LIMITS["drift_sure_named"].value
_LEAST_ALONE = LIMITS["drift_least"].value
_PARTS = 6  # the strip's parts that decide which ink it is
_OTHER_COST = LIMITS["drift_other_ink"].value
_BLACK_COST = LIMITS["drift_black"].value
# of strip, in which a trial drift falls to 1/e (or, from the foot, grows): the longest is as good as straight
_LENGTHS_MM = (25.0, 40.0, 65.0, 100.0, 160.0, 260.0, 420.0, 1000.0)
_LEAST_PIECES = 12  # of strip: fewer leave what changes along it to chance
_INKED = 0.25  # of the strip's usual density: where air left less, there is no ink to tell the composition of
_CLUMPS = 2.0  # neighbouring pieces are not independent: swaths and paper clouds span several
_SHADE_SD, _SHADE_LEFT = LIMITS["drift_shade_sd"].value, LIMITS["drift_shade_left"].value
_TINT = LIMITS["drift_shadow_tint"].value
# standard deviation, in density and in each channel for itself, of how the light on a strip changes down the page
# against that on the bare paper beside it: 0.5 % under a scanner's lid, where light goes about under the glass and
# takes on the colours of what it meets, and 1.2 % in a room. No source; strips of sound ink drift as far
_LIGHT_DRIFT = {"scan": 0.002, "photo": 0.005}


@dataclass(frozen=True, slots=True)
class Drift:
    """One foreign ink along a strip.

    Attributes
    ----------
    ink : str
    first, last : float
        Its share at the strip's top and foot.
    change_sd : float
        Standard deviation of ``first - last``.
    certain : bool
        The change is no accident.
    clears_after_mm : float or None
        Further length of strip until the share is below 1.5 %, where it falls; 0 if it already is.
    """

    ink: str
    first: float
    last: float
    change_sd: float
    certain: bool
    clears_after_mm: float | None


def read_drift(
    strip: Strip, solid_y_mm: float, own: OwnInk, foreign: Mapping[str, NDArray[np.float64]], mixture: Mixture, *,
    photo: bool, shadow: float = 0.0,
) -> Drift | None:  # fmt: skip
    """Follow the largest foreign ink that the solid shows, or another that explains the strip's change much better.

    The strip says how the share changes, whatever the pure ink looks like; the solid says how large it is where it
    stands. The change is split off cover and dilution by the same model as in `unmix`, linear about the solid's
    mixture.

    Parameters
    ----------
    solid_y_mm : float
        Middle of the solid, down the page.
    shadow : float
        Depth, in density, of the shadow that was taken out of all strips.
    """
    if len(strip.y_mm) < _LEAST_PIECES:
        return None
    seen = density(strip.ratio)
    middle = middle_of(seen)
    own_channel = int(np.argmax(middle))
    inked = seen[:, own_channel] > _INKED * middle[own_channel]
    if inked.sum() < _LEAST_PIECES:
        return None
    y_mm, change = strip.y_mm[inked], seen[inked] - middle
    seen_sd = 0.434 * np.hypot(strip.ratio_sd, 0.002 if photo else 0.0007) / np.maximum(10.0**-middle, 0.004)
    fading = faded(middle, change)
    # what the mixing model leaves out grows with the change, and with how far a channel is saturated
    span = _span(np.stack([change, fading.by_load, fading.by_cover])).max(axis=0)
    bend = model_error(middle) * span
    change = change - (fading.by_load + fading.by_cover) / 2.0
    pieces = np.array([part.mean(axis=0) for part in np.array_split(change, _PARTS)])
    pieces = pieces - pieces.mean(axis=0)
    shade = _SHADE_SD if photo else 0.0
    covariance = np.diag(np.square(seen_sd) + np.square(bend)) + shade**2
    covariance += np.outer(fading.slope, fading.slope) + fading.doubt
    fits = {name: local_fit(covariance, own, foreign, mixture, name) for name in mixture.share}
    costs = {name: fit.cost(pieces) + (_BLACK_COST if name == "K" else 0.0) for name, fit in fits.items()}
    name, named = _which(mixture, costs)
    found = _shape(y_mm, change @ fits[name].gain)
    if found is None:
        return None
    at, statistical = found
    share = mixture.share[name]
    here = at(solid_y_mm)
    first, last = share + at(strip.y_mm[0]) - here, share + at(strip.y_mm[-1]) - here
    if min(first, last) < 0.0:  # the solid's share was too small to be told from none
        first, last = first - min(first, last), last - min(first, last)
    gain, light = fits[name].gain, math.hypot(_LIGHT_DRIFT["photo" if photo else "scan"], _TINT * shadow)
    of_ink, of_light = float(np.linalg.norm(gain * bend)) / 2.0, float(np.linalg.norm(gain)) * light
    of_shade = abs(float(gain.sum())) * _SHADE_LEFT if photo else 0.0
    of_fading = math.sqrt(gain @ fading.doubt @ gain)
    # the strip's ends are rounded each for itself, but all pieces of an end alike
    of_rounding = math.sqrt(2.0) * float(np.linalg.norm(gain * 0.434 * strip.rounded_sd * 10.0**middle))
    sd = math.hypot(statistical, of_ink, of_light, of_shade, of_fading, of_rounding)
    sure = abs(first - last) / max(sd, 1e-6)
    certain = sure > (_SURE_NAMED if named else _SURE) and (named or abs(first - last) > _LEAST_ALONE)
    return Drift(name, float(first), float(last), sd, certain, _clearing(first, last, strip.y_mm))


def _which(mixture: Mixture, costs: Mapping[str, float]) -> tuple[str, bool]:
    """The ink that drifts, and whether it is the one that the solid shows most of, which has the first claim."""
    shown = max(mixture.share, key=lambda name: mixture.share[name])
    likeliest = min(costs, key=lambda name: costs[name])
    if mixture.share[shown] > 0 and costs[shown] < costs[likeliest] + _OTHER_COST:
        return shown, True
    return likeliest, False


def _span(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """What (..., N, 3) values run through, (..., 3), clear of single ones."""
    high, low = np.quantile(values, (0.95, 0.05), axis=-2)
    return np.asarray(high - low)


def _shape(y: NDArray[np.float64], share: NDArray[np.float64]) -> tuple[_Curve, float] | None:
    """Fit level plus exponential (falling, or rising) along the strip; and the sd of its change.

    Dust and a bare row stand out from the pieces beside them. What stands out from the strip's middle may be the ink
    that clears: within a few centimetres, where most of the strip is clear already.
    """
    off = np.abs(share - _beside(share))
    keep = off <= 6.0 * MAD_SD * middle_of(off) + 1e-4
    count = int(keep.sum())
    if count < _LEAST_PIECES:
        return None
    # straight lines through the share over each curve, all lengths at once
    lengths = np.array([*_LENGTHS_MM, *(-v for v in _LENGTHS_MM[3:])])
    origins = np.where(lengths > 0, y[0], y[-1])
    curves = np.exp(-(y - origins[:, None]) / lengths[:, None])
    used, seen = curves[:, keep], share[keep]
    middle, level = used.mean(axis=1), seen.mean()
    spread = np.square(used - middle[:, None]).sum(axis=1)
    height = (used - middle[:, None]) @ (seen - level) / spread
    cost = np.square(seen - level).sum() - height**2 * spread
    best = int(cost.argmin())
    variance = max(0.0, float(cost[best])) / max(1, count - 3) * _CLUMPS**2 / float(spread[best])
    curve = _Curve(
        float(level - height[best] * middle[best]), float(height[best]), float(lengths[best]), float(origins[best])
    )
    return curve, abs(float(curves[best, 0] - curves[best, -1])) * variance**0.5


def _beside(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Running median of five pieces; the ends are turned over beyond themselves, which keeps a slope a slope."""
    head, foot = 2 * share[0] - share[2:0:-1], 2 * share[-1] - share[-2:-4:-1]
    windows = np.lib.stride_tricks.sliding_window_view(np.concatenate([head, share, foot]), 5)
    return middle_of(windows, 1)


@dataclass(frozen=True, slots=True)
class _Curve:
    level: float
    height: float
    length_mm: float
    origin_mm: float

    def __call__(self, y_mm: float) -> float:
        return self.level + self.height * float(np.exp(-(y_mm - self.origin_mm) / self.length_mm))


def _clearing(first: float, last: float, y: NDArray[np.float64]) -> float | None:
    if last >= first:
        return None
    if last <= _CLEAR_SHARE:
        return 0.0
    return float((y[-1] - y[0]) * np.log(last / _CLEAR_SHARE) / np.log(first / last))
