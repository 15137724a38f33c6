"""Lines across the page: what a roller with a flat or a dirty stripe along its length prints once a turn.

Such a line is no spot: it has no place across the page. It is looked for in the mean light down both tints, each
levelled by its surroundings and scaled by its own scatter; a line must show in both at the same height.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.limits import LIMITS
from printcheck.measure.fields import Field
from printcheck.measure.repeats import PageMark
from printcheck.measure.spots import Spot
from printcheck.robust import MAD_SD

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["find_crosslines"]

_STEP_MM = 0.2  # of the profile down the page: as fine as it is softened
_SOFT_MM = 0.2  # standard deviation down the page
_RIM_MM = 0.8  # where the screen is cut off, softening doesn't take it out
_AROUND_MM = 8.0  # of page whose middle a line is held against
_SURE, _EACH = LIMITS["crossline_sure"].value, LIMITS["crossline_each"].value
_LEAST_CONTRAST = LIMITS["crossline_contrast"].value
_MOST_HIGH_MM = LIMITS["crossline_height"].value


def find_crosslines(fields: Sequence[Field]) -> tuple[Spot, ...]:
    """Find the lines; none where fewer than two tints are seen. `x_mm` of each is the middle of the tints."""
    tints = [field for field in fields if field.tone > 0]
    if len(tints) < 2:
        return ()
    top, bottom = max(f.box.y0 for f in tints), min(f.box.y1 for f in tints)
    y = np.arange(top + _RIM_MM, bottom - _RIM_MM, _STEP_MM)
    contrasts = np.array([_contrast(field, y) for field in tints])
    scatter = MAD_SD * np.median(np.abs(contrasts - np.median(contrasts, axis=1, keepdims=True)), axis=1) + 1e-6
    z = contrasts / scatter[:, None]
    together = z.sum(axis=0) / np.sqrt(len(tints))
    alike = np.abs(np.sign(z).sum(axis=0)) == len(tints)
    sure = (np.abs(together) > _SURE) & (np.abs(z) > _EACH).all(axis=0) & alike
    mean = contrasts.mean(axis=0)
    middle = float(np.mean([f.box.centre[0] for f in tints]))
    out = []
    start = 0
    while start < len(y):
        if not sure[start]:
            start += 1
            continue
        stop = start
        while stop < len(y) and sure[stop] and np.sign(mean[stop]) == np.sign(mean[start]):
            stop += 1
        weight = np.abs(mean[start:stop])
        height = (stop - start) * _STEP_MM
        peak = float(mean[start + int(np.argmax(weight))])
        if height <= _MOST_HIGH_MM and abs(peak) > _LEAST_CONTRAST:
            place = float(np.sum(weight * y[start:stop]) / weight.sum())
            out.append(Spot(PageMark(middle, place, height), peak))
        start = stop
    return tuple(out)


def _contrast(field: Field, y: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much darker (above 0) than its surroundings a tint is at heights `y`."""
    rows = field.rows
    # a screen's dots stand in rows too: their ripple must be gone before the page is sampled in steps
    soft = cv2.GaussianBlur(rows[:, None], (0, 0), _SOFT_MM * field.per_mm_y, borderType=cv2.BORDER_REFLECT)[:, 0]
    light = np.interp(y, field.box.y0 + (np.arange(len(rows)) + 0.5) / field.per_mm_y, soft)
    reach = round(_AROUND_MM / _STEP_MM) | 1
    padded = np.pad(light, reach // 2, mode="reflect")
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, reach), axis=1)
    return np.asarray(1.0 - light / np.maximum(around, 1e-6), np.float64)
