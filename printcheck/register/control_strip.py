"""Finding a control strip in a picture by its own marks.

A strip lies flat beside the sheet and is small, so one homography through the corners of its marks places its patches
well within their insets (RANSAC, M. Fischler and R. Bolles, Commun. ACM 24(6), 1981; OpenCV); a lens bends it by a
few tenths of a millimetre. Its code is then looked for where it must be.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from printcheck.errors import PrintcheckError
from printcheck.pattern.control_strip import STRIP_MARKS, STRIP_VERSION, control_strip, decode_strip
from printcheck.register.locate import darkest_channel, find_codes, reductions, see
from printcheck.register.result import Registration, apply_homography
from printcheck.register.view import look_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.pattern.layout import Layout
    from printcheck.register.locate import FoundMark

__all__ = ["FoundStrip", "find_strips"]

_NEEDED = 4  # marks of a strip's six: corners enough for a homography that is checked by others
_MARKS = frozenset(itertools.chain(*STRIP_MARKS.values()))
_REDUCTIONS = 2  # looked at; a strip too small for the second could not be measured
_AGREE_MM = 1.0  # of a mark with the others
_CODE_SEARCH_MM = 2.0  # room around the code's place, for what the homography gets wrong
_PERSPECTIVE_MM = 40.0  # half the length over which a change of scale is looked for
_CODE_PX_PER_MM = 10.0  # a module of 0.6 mm as 6 pixels


@dataclass(frozen=True, slots=True)
class FoundStrip:
    """A strip in a picture: which it is (``NAME/A``), and where each mm of it lies."""

    identity: str
    registration: Registration


def find_strips(pixels: NDArray[Any]) -> tuple[FoundStrip, ...]:
    """Find every control strip in a picture, strip A first.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 or uint16
        Grey or BGR, in any orientation.

    Raises
    ------
    PrintcheckError
        There is none, one is there twice, it is covered or cut off, or its code can't be read.
    """
    most = 0
    for reduction in itertools.islice(reductions(pixels), _REDUCTIONS):
        sighting = see(reduction, len(next(iter(STRIP_MARKS.values()))), _MARKS)
        found = []
        for letter, numbers in STRIP_MARKS.items():
            marks = [mark for mark in sighting.marks if mark.number in numbers]
            most = max(most, len(marks))
            if len({mark.number for mark in marks}) < len(marks):
                raise PrintcheckError(f"control strip {letter} is in the picture twice; lay one beside the sheet")
            registration = _register(control_strip(letter), marks)
            if registration is not None:
                found.append((letter, registration))
        if found:
            return tuple(FoundStrip(f"{_name(pixels, strip)}/{letter}", strip) for letter, strip in found)
    if most:
        raise PrintcheckError(
            "the control strip can't be made out; lay all of it in the picture, flat, uncovered and sharp"
        )
    raise PrintcheckError("no control strip is in the picture; lay it flat beside the sheet, in the same light")


def _register(layout: Layout, marks: list[FoundMark]) -> Registration | None:
    """The strip's place; none where too few marks agree on one."""
    if len(marks) < _NEEDED:
        return None
    ideal = {mark.number: np.array(mark.box.corners) for mark in layout.marks}
    source = np.concatenate([ideal[mark.number] for mark in marks])
    target = np.concatenate([mark.corners for mark in marks])
    side = float(np.median([np.linalg.norm(m.corners[1] - m.corners[0]) for m in marks]))
    scale = side / layout.marks[0].box.width
    matrix, agree = cv2.findHomography(source, target, cv2.RANSAC, _AGREE_MM * scale)
    if matrix is None or agree.sum() < 4 * _NEEDED:
        return None
    plane = np.asarray(matrix, np.float64)
    residual = (apply_homography(plane, source) - target)[agree.ravel() > 0]
    middle = np.array([layout.width_mm, layout.height_mm]) / 2
    across = _length(plane, middle, np.array([1.0, 0.0]))
    down = _length(plane, middle, np.array([0.0, 1.0]))
    ends = [
        _length(plane, middle + out * np.array([_PERSPECTIVE_MM, 0.0]), np.array([0.0, 1.0])) for out in (-1.0, 1.0)
    ]
    axis = apply_homography(plane, np.stack([middle, middle + np.array([1.0, 0.0])]))
    turn = float(np.degrees(np.arctan2(axis[1, 1] - axis[0, 1], axis[1, 0] - axis[0, 0])))
    return Registration(
        layout, "", plane, None, len(marks), float(np.sqrt(np.mean(np.sum(residual**2, axis=1)))) / scale, None,
        across, down, turn, float(max(ends) / min(ends) - 1.0), (),
    )  # fmt: skip


def _length(plane: NDArray[np.float64], at: NDArray[np.float64], step: NDArray[np.float64]) -> float:
    """Pixels a mm at `at` along `step`, a unit vector."""
    ends = apply_homography(plane, np.stack([at - step, at + step]))
    return float(np.linalg.norm(ends[1] - ends[0]) / 2)


def _name(pixels: NDArray[Any], strip: Registration) -> str:
    """What the strip's code says it is called."""
    native = min(strip.px_per_mm_x, strip.px_per_mm_y)
    factor = max(1, int(native / _CODE_PX_PER_MM))
    view = look_at(pixels, strip, strip.layout.codes[0].box.inset(-_CODE_SEARCH_MM), scale=1 / factor)
    image = darkest_channel(view.values)
    enlarged = cv2.resize(image, None, fx=2.0, fy=2.0, interpolation=cv2.INTER_CUBIC)
    for seen in (image, np.asarray(enlarged, np.uint8)):
        for code in find_codes(seen):
            told = decode_strip(code.text)
            if told is None:
                continue
            if told[0] > STRIP_VERSION:
                raise PrintcheckError(
                    f"the control strip has layout {told[0]}, this program knows up to {STRIP_VERSION}; "
                    "update printcheck"
                )
            return told[1]
    raise PrintcheckError("the control strip's code can't be read; show all of it, flat, uncovered and sharp")
