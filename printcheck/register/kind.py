"""Scan or photo, and the size the sheet was printed at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from printcheck.limits import LIMITS
from printcheck.units import px_per_mm

if TYPE_CHECKING:
    from printcheck.capture.result import Capture
    from printcheck.register.result import Registration

__all__ = ["capture_kind", "print_scale"]

_FLAT = LIMITS["scan_perspective"].value
_UNSAID_FLAT = LIMITS["scan_perspective_unsaid"].value
_SQUARE = LIMITS["scan_square"].value
_SCANNED_DPI = (75, 100, 150, 200, 240, 300, 400, 600, 720, 1200, 2400)  # what scanners offer; from memory
_BED_MM = (230.0, 370.0)  # beds and feeders for A4, Letter and Legal, 216 x 297 to 216 x 356 mm (memory), and room
_SCALED = LIMITS["sheet_scaled"].value


def capture_kind(capture: Capture, registration: Registration) -> str:
    """``"scan"`` or ``"photo"``: camera data in the file, perspective, or a skewed scale mean a photo.

    Where the file states no resolution that fits, a scan must also lie flatter, show the sheet at a resolution that
    scanners have, and no more than lies on their beds: all that is judged by a photo's rules loses is a verdict, and
    they ask for a scan.
    """
    ratio = registration.px_per_mm_x / registration.px_per_mm_y
    if capture.camera or registration.perspective > _FLAT or abs(ratio - 1) > _SQUARE:
        return "photo"
    if print_scale(capture, registration) is not None:
        return "scan"
    mean_px_per_mm = (registration.px_per_mm_x * registration.px_per_mm_y) ** 0.5
    scanned = any(abs(25.4 * mean_px_per_mm / dpi - 1) < _SCALED for dpi in _SCANNED_DPI)
    sides_mm = sorted((capture.width_px / mean_px_per_mm, capture.height_px / mean_px_per_mm))
    on_a_bed = sides_mm[0] <= _BED_MM[0] and sides_mm[1] <= _BED_MM[1]
    return "scan" if scanned and on_a_bed and registration.perspective < _UNSAID_FLAT else "photo"


def print_scale(capture: Capture, registration: Registration) -> tuple[float, float] | None:
    """Printed over true size along the page's x and y; none where the file's resolution says nothing.

    A stated resolution is believed where it is no screen's or camera's default and lies within 15 % of what the
    sheet shows: no driver scales a sheet further by itself.
    """
    if capture.stated_dpi is None or capture.stated_dpi.placeholder:
        return None
    stated_x, stated_y = capture.stated_dpi.x_dpi, capture.stated_dpi.y_dpi
    if 45 < abs(registration.rotation_deg) < 135:  # the page's x runs along the picture's y
        stated_x, stated_y = stated_y, stated_x
    scale = registration.px_per_mm_x / px_per_mm(stated_x), registration.px_per_mm_y / px_per_mm(stated_y)
    return scale if all(abs(s - 1) < 0.15 for s in scale) else None
