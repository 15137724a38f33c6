"""What the capture stage hands on: pixels as decoded, and what the file says about them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printcheck.capture.resolution import Resolution

__all__ = ["MIRRORING_ORIENTATIONS", "Capture", "Pixels"]

Pixels = NDArray[np.uint8] | NDArray[np.uint16]

MIRRORING_ORIENTATIONS = frozenset({2, 4, 5, 7})  # EXIF 2.3 (CIPA DC-008), tag 0x0112


@dataclass(frozen=True, slots=True)
class Capture:
    """One page or picture.

    Parameters
    ----------
    path, sha256 : str
        The file, and the SHA-256 of its bytes.
    format : str
        Container, as ``"JPEG"``, ``"PNG"``, ``"TIFF"``, ``"WEBP"``, ``"BMP"``, ``"HEIF"``, ``"PDF"``.
    page : int
        Page within the file, from 0.
    width_px, height_px : int
        As stored in the file; `pixels` may lie transposed to it (TIFF and HEIF decoders turn the picture
        upright themselves).
    pixels : ndarray, (H, W) grey or (H, W, 3) in B, G, R order, uint8 or uint16, read-only
        As decoded, in the file's own encoding: neither turned upright nor colour-converted. A mirroring the file
        declares is undone, so a page that still looks mirrored is mirrored.
    orientation : int
        EXIF orientation the file states, 1 to 8; 1 where it states none.
    stated_dpi : Resolution, optional
        A hint only; scale comes from the sheet's marks.
    icc : bytes, optional
        Embedded RGB or grey profile that `pixels` are encoded in; None means that sRGB is assumed.
    profile : str
        The profile's description, or ``"sRGB assumed"``.
    camera : bool
        The file carries exposure data or says that a digital camera made it.
    notes : tuple of str
        What a person should know about how the file was read.
    device : str
        Mark of the maker and model the file states, empty where it states none: equal for equal devices, and no name.
    block_step : float
        Levels of 255 between neighbouring values that a JPEG's 8 x 8 block can have for its mean; 0 where the file is
        none or doesn't say. One saved again in another kind of file, or finer, no longer says.
    luma_steps, chroma_steps : tuple of float
        Levels of 255 between the values that a wave of luma or chroma may have, as the coefficient of a JPEG's block
        of 8 x 8 values, by half periods a block. Those of chroma are of values at twice the pixels' distance, and
        empty where it is not halved both ways.
    chroma_halved : bool
        The file keeps chroma at half the resolution along either side or both, in steps that it may not tell.
    layered : bool
        A page put together of pictures that lie over one another, as mixed raster content is (ISO/IEC 16485).
    """

    path: str
    sha256: str
    format: str
    page: int
    width_px: int
    height_px: int
    pixels: Pixels
    orientation: int
    stated_dpi: Resolution | None
    icc: bytes | None
    profile: str
    camera: bool
    notes: tuple[str, ...]
    device: str = ""
    block_step: float = 0.0
    luma_steps: tuple[float, ...] = ()
    chroma_steps: tuple[float, ...] = ()
    chroma_halved: bool = False
    layered: bool = False

    @property
    def source(self) -> str:
        """What tells this capture's device from another: its mark, else the resolution its driver states, else ""."""
        if self.device or self.stated_dpi is None or self.stated_dpi.placeholder:
            return self.device
        return f"{self.stated_dpi.x_dpi:.0f} dots/inch"

    @property
    def mirrored_by_exif(self) -> bool:
        """True where the file declared a mirroring, already undone in `pixels`."""
        return self.orientation in MIRRORING_ORIENTATIONS

    @property
    def grey(self) -> bool:
        """True where `pixels` has one channel."""
        return self.pixels.ndim == 2
