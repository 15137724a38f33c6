"""Line quality on the hairlines: width, raggedness and blurriness.

Definitions follow ISO/IEC 13660:2001, from memory of the standard (its successor ISO/IEC 24790 changed the contour of
raggedness and scales blurriness by darkness; neither could be confirmed): levels are shares of the way from paper to
the line's own darkest, in reflectance.

* width: mean distance between the two edges at 60 %,
* raggedness: standard deviation of the 60 % edge about a straight line fitted to it,
* blurriness: mean distance between the 10 % and the 90 % contour of an edge.

The standard asks for 600 dots/inch and more; at less the capture's own blur is most of what is read, so nothing is.
A hairline of one to three dots is narrower than that blur is wide, and its darkest is no full ink: figures compare
sheets read by the same scanner, and are not absolute.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.measure.evenness_result import LineQuality
from printcheck.pattern.elements import Hairline
from printcheck.pattern.inks import INKS
from printcheck.register.result import Registration
from printcheck.register.view import look_at
from printcheck.robust import MAD_SD, median_high

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = ["LEAST_PX_PER_MM", "LineQuality", "read_hairline"]

LEAST_PX_PER_MM = LIMITS["line_sampling"].value

_AROUND_MM = 0.7  # of bare paper on either side of the line
_END_MM = 0.8  # left out at the line's ends
_EDGE, _NEAR, _FAR = 0.6, 0.1, 0.9  # levels of ISO/IEC 13660: of an edge, and those that its blurriness lies between
_LEAST_CONTRAST = LIMITS["line_contrast"].value
_LEAST_ALONG = 40  # samples with a line in them
_MEAN_MM = 0.1  # along the line: sensor noise goes, raggedness of a dot or two stays
_FITS = 2  # the second without what the first finds far off
_LINES_AROUND = 3.0  # robust standard deviations; an edge farther off is a speck or a gap


def read_hairline(pixels: Pixels, registration: Registration, line: Hairline) -> LineQuality | None:
    """Measure one hairline; none below about 600 dots/inch, or where no line can be seen."""
    if min(registration.px_per_mm_x, registration.px_per_mm_y) < LEAST_PX_PER_MM:
        return None
    drawn = line.box.width if line.along == "y" else line.box.height
    read = _light_across(pixels, registration, line)
    if read is None:
        return None
    across, per_mm = read
    taken = _taken(across, (0.35 + drawn / 2) * per_mm)
    if taken is None:
        return None
    share, peak = taken
    there = share[np.arange(len(share)), peak] > _EDGE
    share, peak = share[there], peak[there]
    edges = {level: _crossings(share, peak, level) for level in (_NEAR, _EDGE, _FAR)}
    left, right = edges[_EDGE]
    ok = np.isfinite(left) & np.isfinite(right)
    if ok.sum() < _LEAST_ALONG:
        return None
    at = np.flatnonzero(there)[ok].astype(float)
    ragged = [_about_line(at, e[ok]) for e in (left, right)]
    blur = np.abs(np.concatenate(edges[_NEAR]) - np.concatenate(edges[_FAR]))
    return LineQuality(
        line.inks,
        line.along,
        drawn,
        float(np.mean(right[ok] - left[ok])) / per_mm,
        float(np.mean(ragged)) / per_mm,
        float(np.nanmean(blur)) / per_mm if np.isfinite(blur).sum() >= _LEAST_ALONG else None,
        1.0 - float(there.mean()),
    )


def _light_across(
    pixels: Pixels, registration: Registration, line: Hairline
) -> tuple[NDArray[np.float64], float] | None:
    """Linear light across a line, a row (N, W) each tenth of a millimetre along it, and samples a mm across."""
    box, upright = line.box, line.along == "y"
    around = (
        Box(box.x0 - _AROUND_MM, box.y0 + _END_MM, box.x1 + _AROUND_MM, box.y1 - _END_MM)
        if upright
        else Box(box.x0 + _END_MM, box.y0 - _AROUND_MM, box.x1 - _END_MM, box.y1 + _AROUND_MM)
    )
    channel = INKS[line.inks[0]].bgr  # the one the line takes most of
    view = look_at(pixels, registration, around, channel)
    if view.inside < 1.0:
        return None
    light = linear_light(view.values)
    along = light if upright else light.T
    per_mm_across = view.px_per_mm_x if upright else view.px_per_mm_y
    per_mm_along = view.px_per_mm_y if upright else view.px_per_mm_x
    count = max(1, round(_MEAN_MM * per_mm_along))
    rows = along.shape[0] // count
    return along[: rows * count].reshape(rows, count, -1).mean(axis=1, dtype=np.float64), per_mm_across


def _taken(across: NDArray[np.float64], reach: float) -> tuple[NDArray[np.float64], NDArray[np.int64]] | None:
    """Light taken from the paper, (N, W) of what the line takes at its middle, and its place in each row.

    The line is looked for within `reach` samples of the middle; none where no line stands out.
    """
    middle, half = int(across.shape[1] / 2), round(reach)
    core = slice(max(0, middle - half), middle + half + 1)
    beside = np.hstack([across[:, : core.start], across[:, core.stop :]])
    paper = np.partition(beside, beside.shape[1] // 2, axis=1)[:, beside.shape[1] // 2]
    depth = median_high(paper - across[:, core].min(axis=1))
    if len(across) < _LEAST_ALONG or depth < _LEAST_CONTRAST * median_high(paper):
        return None
    share = (paper[:, None] - across) / depth
    return share, core.start + np.argmax(share[:, core], axis=1)


def _crossings(
    share: NDArray[np.float64], peak: NDArray[np.int64], level: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where each row (N, W) first falls under `level` to the left and to the right of its `peak`; nan where never."""
    rows, width = share.shape
    index, column = np.arange(rows), np.arange(width)
    under = share < level
    high = ~under[index, peak]
    before = np.where(under & (column < peak[:, None]), column, -1).max(axis=1)
    after = np.where(under & (column > peak[:, None]), column, width).min(axis=1)
    out = []
    for at, step in ((before, -1), (after, 1)):
        inside = high & (at >= 0) & (at < width)
        there, here = np.clip(at, 0, width - 1), np.clip(at - step, 0, width - 1)
        upper, lower = share[index, here], share[index, there]
        place = here + step * (upper - level) / np.maximum(upper - lower, 1e-9)
        out.append(np.where(inside, place, np.nan))
    return out[0], out[1]


def _about_line(at: NDArray[np.float64], edge: NDArray[np.float64]) -> float:
    """Standard deviation of `edge` about its straight line, specks on it left out."""
    keep = np.ones(len(at), bool)
    rest = edge
    for _ in range(_FITS):
        x, y = at[keep], edge[keep]
        count, sum_x, sum_y = len(x), float(x.sum()), float(y.sum())
        slope = (float(x @ y) - sum_x * sum_y / count) / (float(x @ x) - sum_x * sum_x / count)
        rest = edge - slope * at - (sum_y - slope * sum_x) / count
        spread = MAD_SD * median_high(np.abs(rest[keep]))
        keep = np.abs(rest) <= max(_LINES_AROUND * spread, 0.05)
    left = rest[keep]
    return float(np.sqrt(left @ left / max(len(left) - 2, 1)))
