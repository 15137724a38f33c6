"""How large and how small a picture may be."""

from __future__ import annotations

from printcheck.errors import InputError

__all__ = ["DEFAULT_MAX_MEGAPIXELS", "MAX_PAGES", "MIN_SIDE_PX", "check_size"]

DEFAULT_MAX_MEGAPIXELS = 200.0  # A4 at 1200 dots/inch is 139
MIN_SIDE_PX = 200  # A4 at 25 dots/inch: no dash of any sheet survives
MAX_PAGES = 50  # a document feeder's full tray; the sheet is sought on each in turn


def check_size(name: str, width_px: int, height_px: int, max_megapixels: float) -> None:
    """Refuse a picture that is too large to decode safely or too small to show a sheet.

    Raises
    ------
    InputError
        Names the size, the limit and the option that changes it.
    """
    if width_px < 1 or height_px < 1:
        raise InputError(f"{name}: the image has no pixels: scan it again")
    megapixels = width_px * height_px / 1e6
    if megapixels > max_megapixels:
        raise InputError(
            f"{name}: {width_px} x {height_px} pixels are {megapixels:.0f} megapixels, over the limit of "
            f"{max_megapixels:g}: scan at 600 dots/inch or less, or raise it with --max-megapixels"
        )
    if min(width_px, height_px) < MIN_SIDE_PX:
        raise InputError(
            f"{name}: {width_px} x {height_px} pixels are too few to show a sheet (at least {MIN_SIDE_PX} each way): "
            "scan the whole page at 300 dots/inch"
        )
