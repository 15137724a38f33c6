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

from typing import TYPE_CHECKING, Any

import numpy as np

from printcheck.colour.linear import linear_light
from printcheck.geometry import Box
from printcheck.measure.evenness_result import LineQuality
from printcheck.pattern.elements import Hairline
from printcheck.register.result import Registration
from printcheck.register.view import look_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["LEAST_PX_PER_MM", "LineQuality", "read_hairline"]

LEAST_PX_PER_MM = 21.0
"""533 dots/inch: what a scan at 600 of a sheet printed a little too large still has."""

_AROUND_MM = 0.7  # of bare paper on either side of the line
_END_MM = 0.8  # left out at the line's ends
_EDGE, _NEAR, _FAR = 0.6, 0.1, 0.9
_LEAST_CONTRAST = 0.15  # of the paper's light; less is no line
_LEAST_ALONG = 40  # samples with a line in them
_MEAN_MM = 0.1  # along the line: sensor noise goes, raggedness of a dot or two stays
_LINES_AROUND = 3.0  # robust standard deviations; an edge farther off is a speck or a gap


def read_hairline(pixels: NDArray[Any], registration: Registration, line: Hairline) -> LineQuality | None:
    """Measure one hairline; none below about 600 dots/inch, or where no line can be seen."""
    if min(registration.px_per_mm_x, registration.px_per_mm_y) < LEAST_PX_PER_MM:
        return None
    box, upright = line.box, line.along == "y"
    drawn = box.width if upright else box.height
    around = (
        Box(box.x0 - _AROUND_MM, box.y0 + _END_MM, box.x1 + _AROUND_MM, box.y1 - _END_MM)
        if upright
        else Box(box.x0 + _END_MM, box.y0 - _AROUND_MM, box.x1 - _END_MM, box.y1 + _AROUND_MM)
    )
    view = look_at(pixels, registration, around)
    if view.inside < 1.0:
        return None
    light = linear_light(np.ascontiguousarray(view.values)).astype(np.float64)
    if light.ndim == 3:  # the channel in which this ink shows best
        light = light[..., int(np.argmin(light.mean(axis=(0, 1)) / np.median(light, axis=(0, 1))))]
    across = light if upright else light.T  # (along, across)
    per_mm_across = view.px_per_mm_x if upright else view.px_per_mm_y
    per_mm_along = view.px_per_mm_y if upright else view.px_per_mm_x
    count = max(1, round(_MEAN_MM * per_mm_along))
    rows = across.shape[0] // count
    across = across[: rows * count].reshape(rows, count, -1).mean(axis=1)
    middle = across.shape[1] / 2
    reach = round(0.35 * per_mm_across + drawn * per_mm_across / 2)
    core = slice(max(0, int(middle) - reach), int(middle) + reach + 1)
    paper = np.median(np.delete(across, np.arange(core.start, core.stop), axis=1), axis=1)
    dark = across[:, core].min(axis=1)
    depth = float(np.median(paper - dark))
    if rows < _LEAST_ALONG or depth < _LEAST_CONTRAST * float(np.median(paper)):
        return None
    share = (paper[:, None] - across) / depth
    peak = core.start + np.argmax(share[:, core], axis=1)
    there = share[np.arange(rows), peak] > _EDGE
    edges = {}
    for level in (_NEAR, _EDGE, _FAR):
        edges[level] = [_crossing(share, peak, level, step) for step in (-1, 1)]
    left, right = (e[there] for e in edges[_EDGE])
    ok = np.isfinite(left) & np.isfinite(right)
    if ok.sum() < _LEAST_ALONG:
        return None
    at = np.flatnonzero(there)[ok].astype(float)
    ragged = [_about_line(at, e[ok]) for e in (left, right)]
    steep = [np.abs(edges[_NEAR][k] - edges[_FAR][k])[there] for k in (0, 1)]
    blur = np.concatenate(steep)
    return LineQuality(
        line.inks,
        line.along,
        drawn,
        float(np.mean(right[ok] - left[ok])) / per_mm_across,
        float(np.mean(ragged)) / per_mm_across,
        float(np.nanmean(blur)) / per_mm_across if np.isfinite(blur).sum() >= _LEAST_ALONG else None,
        1.0 - float(there.mean()),
    )


def _crossing(
    share: NDArray[np.float64], peak: NDArray[np.int64], level: float, step: int
) -> NDArray[np.float64]:
    """Where each row first falls under `level` going from its `peak` by `step`; nan where it never does."""
    rows, width = share.shape
    out = np.full(rows, np.nan)
    open_ = np.ones(rows, bool)
    at = peak.copy()
    index = np.arange(rows)
    open_ &= share[index, at] >= level
    for _ in range(width):
        following = at + step
        inside = open_ & (following >= 0) & (following < width)
        if not inside.any():
            break
        here, there = share[index, at], share[index, np.clip(following, 0, width - 1)]
        crossed = inside & (there < level)
        out[crossed] = at[crossed] + step * (here[crossed] - level) / np.maximum(here[crossed] - there[crossed], 1e-9)
        open_ = inside & ~crossed
        at = np.where(open_, following, at)
    return out


def _about_line(at: NDArray[np.float64], edge: NDArray[np.float64]) -> float:
    """Standard deviation of `edge` about its straight line, specks on it left out."""
    keep = np.ones(len(at), bool)
    rest = edge
    for _ in range(3):
        slope, base = np.polyfit(at[keep], edge[keep], 1)
        rest = edge - slope * at - base
        spread = 1.4826 * float(np.median(np.abs(rest[keep])))
        keep = np.abs(rest) <= max(_LINES_AROUND * spread, 0.05)
    return float(rest[keep].std(ddof=2))
