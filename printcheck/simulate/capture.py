"""A simulated capture: the picture, the file it would be, and the truth beside it."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from printcheck.simulate.mapping import Floats
from printcheck.simulate.truth import Truth

__all__ = ["Capture", "Encoding", "encode"]

# EXIF orientation -> how an upright picture must be laid into the file for a viewer to turn it upright again
_STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
_ORIENTATION_TAG = 0x0112


@dataclass(frozen=True, slots=True)
class Encoding:
    """How a picture is written: ``"jpeg"``, ``"png"``, ``"tiff"`` or ``"webp"``.

    `quality` and `subsampling` (``"4:4:4"``, ``"4:2:2"``, ``"4:2:0"``) are for JPEG; `orientation` is the EXIF tag
    (1 to 8), the stored rows being turned to match; `dots_per_inch` None writes no resolution.
    """

    kind: str = "jpeg"
    quality: int = 90
    subsampling: str = "4:2:0"
    dots_per_inch: int | None = 300
    orientation: int = 1


@dataclass(frozen=True, slots=True)
class Capture:
    """A picture and what is known of it.

    Attributes
    ----------
    image : (H, W, 3) uint8
        BGR, upright as a viewer shows it, before compression.
    encoding : Encoding
    truth : Truth
    """

    image: NDArray[np.uint8]
    encoding: Encoding
    truth: Truth

    def page_to_stored_px(self, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
        """Pixel coordinates of points of the ideal page as a reader gets them from the file.

        The rows are as stored, for a viewer to turn by the orientation tag; a mirroring that the tag asks for is
        undone left to right.
        """
        x, y = self.truth.page_to_px(x_mm, y_mm)
        right, bottom = self.image.shape[1] - 1 - x, self.image.shape[0] - 1 - y
        # a mirroring tag flips once when stored and once when undone: a turn is left
        turned = {1: (x, y), 2: (x, y), 3: (right, bottom), 4: (right, bottom)}
        turned |= {5: (bottom, x), 6: (y, right), 7: (y, right), 8: (bottom, x)}
        return turned[self.encoding.orientation]

    def encoded(self) -> bytes:
        """Encode as the file it would be; returns its bytes."""
        return encode(self.image, self.encoding)

    def write(self, path: Path) -> Path:
        """Write the picture to `path`, and the truth beside it as ``NAME.truth.json``; returns `path`."""
        path.write_bytes(self.encoded())
        path.with_name(f"{path.name}.truth.json").write_text(self.truth.to_json(), encoding="utf-8")
        return path


def encode(image: NDArray[np.uint8], how: Encoding) -> bytes:
    """Encode `image` (H, W, 3) BGR as the file that `how` describes; returns its bytes."""
    picture = Image.fromarray(np.ascontiguousarray(image[..., ::-1]))
    turn = _STORED[how.orientation]
    if turn is not None:
        picture = picture.transpose(turn)
    options: dict[str, object] = {}
    if how.dots_per_inch is not None:
        options["dpi"] = (how.dots_per_inch, how.dots_per_inch)
    if how.kind in ("jpeg", "webp"):
        options["quality"] = how.quality
    if how.kind == "jpeg":
        options["subsampling"] = how.subsampling
    if how.kind == "png":
        options["compress_level"] = 1
    if how.kind == "webp":
        options["method"] = 2
    if how.orientation != 1:
        exif = Image.Exif()
        exif[_ORIENTATION_TAG] = how.orientation
        options["exif"] = exif.tobytes()
    out = io.BytesIO()
    picture.save(out, how.kind, **options)
    return out.getvalue()
