"""Dirt on bare paper: specks by size and number per square decimetre, and smears.

A speck is a patch of paper darker than its surroundings that touches nothing printed. Its size is the diameter of the
disc of the same area inside the contour half way to its own darkest point, less what the capture's blur adds.

Only paper the pattern keeps bare is looked at: the strips beside elements, and the largest empty areas. Where
something comes in from beside the area and covers paper, or shades it with a hard edge, that and its edge are left
out: a hand that holds the sheet is no dirt. What lies on the scanner's glass looks the same as what lies on the
paper: a second scan with the glass wiped tells them apart.

A JPEG holds the mean of each block of 8 x 8 pixels in steps. Where one step is as much of the paper's light as a
speck need be, blocks of sound paper look like specks of half a millimetre, and none is told.

Notes
-----
Extraneous marks of about 0.1 mm and more are an attribute of ISO/IEC 24790 (after ISO/IEC 13660); the size is from
memory of the standard, and the standards' own contour (a fixed share of the way from paper to ink) needs a mark
large against the blur, which these seldom are.
"""

from __future__ import annotations

import itertools
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.colour.linear import linear_light, srgb_to_linear
from printcheck.geometry import Box
from printcheck.limits import LIMITS
from printcheck.measure.evenness_result import Dirt, Smear, Speck
from printcheck.pattern.layout import Layout
from printcheck.register.result import Registration
from printcheck.register.view import look_at
from printcheck.robust import MAD_SD, median_high, quantile_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.capture.result import Pixels

__all__ = [
    "BLOCKS_HIDE",
    "LEAST_PX_PER_MM",
    "LEAST_SPECK_MM",
    "Dirt",
    "Smear",
    "Speck",
    "bare_areas",
    "block_contrast",
    "hides_specks",
    "read_dirt",
]

LEAST_SPECK_MM = LIMITS["speck_least"].value
LEAST_PX_PER_MM = LIMITS["speck_sampling"].value

BLOCKS_HIDE = (
    "specks not counted: the JPEG is so strongly compressed that its blocks look like them; save or send the picture "
    "in full quality"
)

_SAMPLES_PER_MM = 12.0  # finer pictures are averaged down to about this: the smallest speck is still a pixel wide
_GRID_MM = 2.0  # of the search for empty areas
_CLEAR_MM = 1.2  # kept from anything printed
_WRITING_MM = 1.0  # beyond the room for ticket, date and name: hands are not so neat
_EDGE_MM = 5.0  # of the sheet: shadow and curl
_LEAST_AREA_MM2 = 80.0  # smaller ones aren't worth a look
_LEAST_STRIP_MM = 1.5  # narrower strips of bare paper are all edge
_EM = 0.75  # width of a letter over its size, generously
_MOST_AREA_MM2 = 6000.0  # enough to count in, and quick
_MOST_EMPTY = 8  # empty areas, the largest first
_MOST_AREAS = 12  # with those beside patches: half a square decimetre on a four-ink sheet
_PAPER_INSET_MM = 0.25  # clear of what is printed: the pattern keeps bare strips 0.3 mm clear already
_PAPER_CELL_MM = 0.5  # paper is levelled by the median of 5 x 5 such cells
_DARKEST = 0.25  # encoded level of a channel of bare paper: half the light that the whole of it must have
_SURE = LIMITS["speck_sure"].value
_BLUR_PX = 2.1  # full width at half height of a point, px of the view: a scanner's optics and the resampling
_MOST_SPECKS = 2000  # more is texture, and their list of no use
_LEVEL_CELLS = 5  # the window of the paper's level
_STEEP = LIMITS["speck_steep"].value
_COVERED = LIMITS["paper_covered"].value
_SMEAR_WINDOW = 41  # cells, 20 mm: a smear is smaller, uneven light is not
_LEAST_SMEAR = LIMITS["smear_contrast"].value
_LEAST_SMEAR_MM2 = LIMITS["smear_area"].value
_LEAST_SMEAR_CELLS = 3  # either way: a hair is long and thin, a smear is neither


def read_dirt(pixels: Pixels, registration: Registration) -> Dirt | None:
    """Find the specks on bare paper; none where the capture is too coarse or no bare paper is in the picture."""
    native = min(registration.px_per_mm_x, registration.px_per_mm_y)
    if native < LEAST_PX_PER_MM:
        return None
    scale = 1.0 / max(1, round(native / _SAMPLES_PER_MM))
    found: list[Speck] = []
    smears: list[Smear] = []
    area = 0.0
    for box in bare_areas(registration.layout):
        view = look_at(pixels, registration, box, scale=scale)
        if view.inside < 1.0:
            continue
        values = view.values
        # the darkest channel, so that a fleck of any one ink counts
        dark = values if values.ndim == 2 else cv2.min(cv2.min(values[..., 0], values[..., 1]), values[..., 2])
        light = linear_light(np.ascontiguousarray(dark))
        cells = (max(2, round(box.width / _PAPER_CELL_MM)), max(2, round(box.height / _PAPER_CELL_MM)))
        coarse = np.asarray(cv2.resize(light, cells, interpolation=cv2.INTER_AREA), np.float32)
        level = np.asarray(cv2.medianBlur(coarse, _LEVEL_CELLS), np.float32)
        covered = _covered(level)
        area += box.width * box.height * (1.0 - float(covered.mean()))
        found += _specks(light, level, covered, box, view.px_per_mm_x, view.px_per_mm_y)
        smears += _smears(coarse, box)
    if area == 0.0:
        return None
    found.sort(key=lambda s: -s.diameter_mm)
    smears.sort(key=lambda s: -s.area_mm2)
    return Dirt(tuple(found[:_MOST_SPECKS]), area / 1e4, tuple(smears))


def hides_specks(blocks: float) -> bool:
    """Tell whether steps of a JPEG's blocks, a share of the paper's light, pass for specks."""
    return blocks > LIMITS["speck_contrast"].value


def block_contrast(pixels: Pixels, registration: Registration, block_step: float) -> float:
    """Share of the bare paper's light that lies in one step of a JPEG's blocks, of `block_step` levels of 255.

    The darkest of the bare areas tells, as a level there is most of the light; 0 where no area is in the picture, or
    the step is too fine to hide a speck on the darkest paper that is read.
    """
    most = 0.0
    if block_step <= 0.0 or pixels.dtype != np.uint8 or not hides_specks(_share(_DARKEST, block_step)):
        return most
    for box in bare_areas(registration.layout):
        view = look_at(pixels, registration, box, scale=0.25, most_x=6.0)
        if view.inside == 1.0:
            values = view.values.reshape(-1, 1 if view.values.ndim == 2 else 3)
            level = float(np.median(values, axis=0).min()) / 255  # specks are looked for in the darkest channel
            most = max(most, _share(level, block_step))
    return most


def _share(level: float, block_step: float) -> float:
    """Share of the light of an encoded `level`, 0 to 1, that `block_step` levels of 255 make."""
    below = max(0.0, level - block_step / 255)
    return 1.0 - float(srgb_to_linear(below)) / max(float(srgb_to_linear(level)), 1e-4)


def _smears(coarse: NDArray[np.float32], box: Box) -> list[Smear]:
    """Marks that darken cells of `coarse` over some width; fibres and specks, thinner than a cell, don't."""
    middle = median_high(coarse)
    # medians over a wide window are only to be had of bytes: 0.15 % of the light each
    scaled = np.clip((coarse / max(middle, 1e-4) - 0.8) * (255 / 0.4), 0, 255).astype(np.uint8)
    around = cv2.medianBlur(scaled, _SMEAR_WINDOW).astype(np.float32) * (0.4 / 255) + 0.8
    # a fibre is one cell wide and goes; what is three cells wide stays
    contrast = cv2.medianBlur(1.0 - coarse / np.float32(max(middle, 1e-4)) / around, 3)
    spread = MAD_SD * median_high(np.abs(contrast))
    mask = (contrast > max(_LEAST_SMEAR, _SURE * spread)).view(np.uint8)
    if not cv2.countNonZero(mask):
        return []
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    wide, high = box.width / coarse.shape[1], box.height / coarse.shape[0]
    out = []
    for k in range(1, count):
        x, y, w, h, size = (int(v) for v in stats[k])
        if size * wide * high >= _LEAST_SMEAR_MM2 and min(w, h) >= _LEAST_SMEAR_CELLS:
            mean = float(contrast[labels == k].mean())
            x0, y0 = box.x0 + x * wide, box.y0 + y * high
            out.append(Smear(x0, y0, x0 + w * wide, y0 + h * high, size * wide * high, mean))
    return out


def _covered(level: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Cells of `level` that something covers or shades, with its edge, and that it reaches from the area's border.

    At such an edge the paper's level, a median, lags behind the light, and what it lags by looks like specks. A blot
    of ink has an edge too, but lies within the area.
    """
    window = np.ones((_LEVEL_CELLS, _LEVEL_CELLS), np.uint8)
    most = cv2.dilate(level, window)
    steep = most - cv2.erode(level, window) > np.float32(_STEEP) * most
    if not steep.any():
        return np.asarray(steep, bool)
    dark = level < np.float32(_COVERED * quantile_of(level, 0.9))
    _, labels = cv2.connectedComponents((steep | dark).view(np.uint8), connectivity=8)
    border = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    return np.asarray(np.isin(labels, border[border > 0]))


def _specks(
    light: NDArray[np.float32],
    level: NDArray[np.float32],
    covered: NDArray[np.bool_],
    box: Box,
    per_mm_x: float,
    per_mm_y: float,
) -> list[Speck]:
    height, width = light.shape
    paper = cv2.resize(np.maximum(level, 1e-4), (width, height), interpolation=cv2.INTER_LINEAR)
    share = cv2.divide(light, paper)
    thin = share[::3, ::3]
    spread = MAD_SD * median_high(np.abs(thin - median_high(thin)))
    threshold = max(LIMITS["speck_contrast"].value, _SURE * spread)
    mask = (share < 1.0 - threshold).view(np.uint8)
    if not cv2.countNonZero(mask):
        return []
    contrast = 1.0 - share
    count, labels, stats, centres = cv2.connectedComponentsWithStats(mask, connectivity=8)
    out = []
    for k in range(1, min(count, _MOST_SPECKS)):
        x, y, w, h = (int(v) for v in stats[k, :4])
        if x == 0 or y == 0 or x + w == width or y + h == height:
            continue  # may hang on to something outside
        part = np.where(labels[y : y + h, x : x + w] == k, contrast[y : y + h, x : x + w], 0.0)
        peak = float(part.max())
        # the contour half way down runs between samples: each counts by how far it is over it
        half = max(peak / 2, threshold)
        inside = float(np.clip((part - half) / half + 0.5, 0.0, 1.0).sum())
        # a speck smaller than the blur is only known by the light it takes, and can't be blacker than black
        across = max(4.0 * inside / np.pi - _BLUR_PX**2, 4.0 * float(part.sum()) / np.pi) ** 0.5
        diameter = across / float(np.sqrt(per_mm_x * per_mm_y))
        if diameter < LEAST_SPECK_MM:
            continue
        cx, cy = centres[k]
        if covered[int((cy + 0.5) * len(covered) / height), int((cx + 0.5) * covered.shape[1] / width)]:
            continue
        # a wide speck rarely lies whole on a narrow strip: Miles's and Lantuejoul's correction (from memory)
        stands_for = height * width / ((height - h) * (width - w))
        place = box.x0 + (cx + 0.5) / per_mm_x, box.y0 + (cy + 0.5) / per_mm_y
        out.append(Speck(*place, diameter, peak, stands_for))
    return out


@lru_cache(maxsize=16)
def bare_areas(layout: Layout) -> tuple[Box, ...]:
    """Where the page of `layout` stays bare: the paper kept beside elements, and the largest empty rectangles.

    The head and the foot are left out: people write there.
    """
    top, bottom = layout.codes[0].box.y1, layout.codes[1].box.y0
    edge, cell = int(-(-_EDGE_MM // _GRID_MM)), _GRID_MM
    free = np.zeros((int(layout.height_mm / cell), int(layout.width_mm / cell)), bool)
    free[int(top / cell) + 1 : int(bottom / cell), edge:-edge] = True
    taken = [e.box for group in (layout.marks, layout.codes, layout.ladders, layout.patches) for e in group]
    taken += [p.box for p in layout.papers] + [line.box for line in layout.hairlines]
    if layout.ticket_box is not None:
        taken.append(layout.ticket_box.inset(-_WRITING_MM))
    taken += [
        Box(t.x, t.y - t.size_mm, t.x + _EM * t.size_mm * len(t.text), t.y + 0.4 * t.size_mm) for t in layout.texts
    ]
    for box in taken:
        x0, y0 = (max(0, int((v - _CLEAR_MM) / cell)) for v in (box.x0, box.y0))
        x1, y1 = (max(0, int((v + _CLEAR_MM) / cell) + 1) for v in (box.x1, box.y1))
        free[y0:y1, x0:x1] = False
    out: list[Box] = []
    room = _MOST_AREA_MM2
    while room > _LEAST_AREA_MM2 and len(out) < _MOST_EMPTY:
        x0, y0, x1, y1 = _largest_rectangle(free)
        if (x1 - x0) * (y1 - y0) * cell * cell < _LEAST_AREA_MM2:
            break
        free[y0:y1, x0:x1] = False
        tall = min((y1 - y0) * cell, room / ((x1 - x0) * cell))
        out.append(Box(x0 * cell, y0 * cell, x1 * cell, y0 * cell + tall))
        room -= out[-1].width * out[-1].height
    for paper in sorted(layout.papers, key=lambda p: -p.box.width * p.box.height):
        box = paper.box.inset(_PAPER_INSET_MM)
        if room <= 0 or len(out) >= _MOST_AREAS:
            break
        if min(box.width, box.height) > _LEAST_STRIP_MM:
            out.append(box)
            room -= box.width * box.height
    return tuple(out)


def _largest_rectangle(free: NDArray[np.bool_]) -> tuple[int, int, int, int]:
    """(x0, y0, x1, y1) of the largest rectangle of true cells, by the heights of columns above each row."""
    best, found = 0, (0, 0, 0, 0)
    heights = np.zeros(free.shape[1], int)
    for y, row in enumerate(free):
        heights = np.where(row, heights + 1, 0)
        stack: list[int] = []
        for x, height in enumerate(itertools.chain(heights.tolist(), (0,))):
            while stack and heights[stack[-1]] >= height:
                tall = int(heights[stack.pop()])
                left = stack[-1] + 1 if stack else 0
                if tall * (x - left) > best:
                    best, found = tall * (x - left), (left, y + 1 - tall, x, y + 1)
            stack.append(x)
    return found
