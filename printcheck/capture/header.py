"""What an image file says about itself, read without decoding a pixel."""

from __future__ import annotations

import hashlib
import io
import logging
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from threading import RLock
from typing import IO, Any

from PIL import (  # importing a plugin registers its format
    BmpImagePlugin,  # noqa: F401
    Image,
    JpegImagePlugin,  # noqa: F401
    PngImagePlugin,  # noqa: F401
    TiffImagePlugin,
    UnidentifiedImageError,
    WebPImagePlugin,  # noqa: F401
)

from printcheck.capture.resolution import Resolution
from printcheck.errors import InputError, PrintcheckError

__all__ = [
    "DAMAGED",
    "EXIF_ORIENTATION",
    "Header",
    "device_mark",
    "exif_facts",
    "load_exif",
    "open_image",
    "read_header",
    "unreadable",
]

_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP")
_SIGNATURES = (b"\xff\xd8\xff", b"\x89PNG", b"II*\0", b"MM\0*", b"II+\0", b"MM\0+", b"RIFF", b"BM")
_NAMES = {"MPO": "JPEG"}  # MPO: a JPEG with further pictures behind it (CIPA DC-007)

# EXIF 2.3 (CIPA DC-008) tags
EXIF_ORIENTATION = 0x0112
_MAKER, _MODEL = 0x010F, 0x0110
_X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 0x011A, 0x011B, 0x0128
_EXIF_IFD = 0x8769
_EXPOSURE = (0x829A, 0x829D, 0x8827, 0x920A)  # exposure time, f-number, sensitivity, focal length
_FILE_SOURCE = 0xA300
_DIGITAL_CAMERA = 3  # 1 and 2 are scanners

DAMAGED = "the image is damaged or of a kind that can't be read: scan it again, or save it as PNG or JPEG"

_UNIT_CM = 3

logging.getLogger("PIL").addHandler(logging.NullHandler())  # else Python prints its errors on standard error

_LOCK = RLock()  # Pillow's pixel limit and Python's warning filters belong to the whole process


@dataclass(frozen=True, slots=True)
class Header:
    """One page's description.

    Parameters
    ----------
    format : str
        ``"JPEG"``, ``"PNG"``, ``"TIFF"``, ``"WEBP"`` or ``"BMP"``.
    mode : str
        Pillow's pixel mode, as ``"RGB"``, ``"L"``, ``"CMYK"``.
    width_px, height_px : int
        As stored.
    orientation : int
        EXIF orientation, 1 to 8.
    stated_dpi : Resolution, optional
    icc : bytes, optional
        Embedded profile, unchecked.
    camera : bool
    device : str
        Mark of the device that wrote the file, see `device_mark`.
    alpha : bool
        The pixels carry transparency.
    tags : Mapping[int, Any]
        A TIFF page's own tags; empty otherwise.
    block_step : float
        As of `Capture`.
    luma_steps, chroma_steps : tuple of float
        As of `Capture`.
    chroma_halved : bool
        As of `Capture`.
    """

    format: str
    mode: str
    width_px: int
    height_px: int
    orientation: int
    stated_dpi: Resolution | None
    icc: bytes | None
    camera: bool
    device: str
    alpha: bool
    tags: Mapping[int, Any]
    block_step: float = 0.0
    luma_steps: tuple[float, ...] = ()
    chroma_steps: tuple[float, ...] = ()
    chroma_halved: bool = False


@contextmanager
def unreadable(name: str, message: str = DAMAGED) -> Iterator[None]:
    """Turn whatever a decoding library raises into one `InputError` about `name`.

    Decoders meet hostile bytes, and answer them with nearly every exception Python has (struct.error, KeyError,
    ZeroDivisionError ...); all mean that the file can't be read. Their warnings are of no use to a person.
    """
    with _LOCK, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        limit, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None  # our own limit is checked before decoding
        try:
            yield
        except PrintcheckError:
            raise
        except MemoryError:
            raise InputError(f"{name}: too large for this computer's memory: scan at a lower resolution") from None
        except Exception as error:
            raise InputError(f"{name}: {message}") from error
        finally:
            Image.MAX_IMAGE_PIXELS = limit


def open_image(name: str, data: bytes) -> Image.Image:
    """Give Pillow's handle on `data`, no pixel decoded; raises `InputError` where this is no image we read."""
    try:
        return Image.open(io.BytesIO(data), formats=_FORMATS)
    except UnidentifiedImageError:
        damaged = data.startswith(_SIGNATURES)
        if damaged:
            raise InputError(f"{name}: {DAMAGED}") from None
        raise InputError(
            f"{name}: this is no image that can be read: give a JPEG, PNG, TIFF, WebP, BMP, HEIC or PDF"
        ) from None


def read_header(image: Image.Image) -> Header:
    """Describe the page `image` stands on."""
    tags: Mapping[int, Any] = {}
    if isinstance(image, TiffImagePlugin.TiffImageFile):
        tags = dict(image.tag_v2)
        read_exif: Callable[[], Image.Exif] = image.getexif
        width, height = int(tags[256]), int(tags[257])  # Pillow's size is that of the upright picture
        dpi = _tiff_resolution(tags)
    else:
        read_exif = partial(load_exif, image.info.get("exif") or b"")
        width, height = image.size
        dpi = _resolution(image.info.get("dpi"))
    orientation, exif_dpi, camera = exif_facts(read_exif)
    icc = image.info.get("icc_profile")
    return Header(
        format=_NAMES.get(image.format or "", image.format or ""),
        mode=image.mode,
        width_px=width,
        height_px=height,
        orientation=orientation,
        stated_dpi=dpi or exif_dpi,
        icc=bytes(icc) if icc else None,
        camera=camera,
        device=device_mark(read_exif),
        alpha=image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info,
        tags=tags,
        block_step=_block_step(image),
        luma_steps=_luma_steps(image),
        chroma_steps=_chroma_steps(image),
        chroma_halved=_chroma_halved(image),
    )


def _block_step(image: Image.Image) -> float:
    """Levels between the means that a JPEG's blocks can have: its first luminance quantiser over 8, 0 for others.

    The first coefficient of a block is 8 times its mean (ISO/IEC 10918-1, A.3.3).
    """
    tables: Mapping[int, Sequence[int]] = getattr(image, "quantization", None) or {}
    return tables[0][0] / 8.0 if tables.get(0) else 0.0


def _luma_steps(image: Image.Image) -> tuple[float, ...]:
    """Quantisers of a JPEG's luma, or of a grey one, as of `_straight`; none for others."""
    tables: Mapping[int, Sequence[int]] = getattr(image, "quantization", None) or {}
    return _straight(tables.get(0, ()))


def _chroma_steps(image: Image.Image) -> tuple[float, ...]:
    """Quantisers of a JPEG's chroma, as of `_straight`, where it is halved both ways, as it is the coarsest."""
    tables: Mapping[int, Sequence[int]] = getattr(image, "quantization", None) or {}
    layers: Sequence[tuple[int, int, int, int]] = getattr(image, "layer", None) or ()
    if len(layers) != 3 or layers[0][1:3] != (2, 2):
        return ()
    return _straight(tables.get(layers[1][3], ()))


def _chroma_halved(image: Image.Image) -> bool:
    """Whether the file keeps chroma at half the resolution, either way.

    A JPEG says so; a lossy WebP always does (RFC 6386, 2: VP8's pictures are 4:2:0; RFC 9649 names the chunks).
    """
    layers: Sequence[tuple[int, int, int, int]] = getattr(image, "layer", None) or ()
    if len(layers) == 3:
        return layers[0][1] > layers[1][1] or layers[0][2] > layers[1][2]
    return image.format == "WEBP" and _has_chunk(getattr(image, "fp", None), b"VP8 ")


def _has_chunk(file: IO[bytes] | None, name: bytes) -> bool:
    """Whether a RIFF `file` holds a chunk of this `name`; its place in the file stays."""
    if file is None:
        return False
    before = file.tell()
    try:
        at = 12  # after the outermost chunk's head
        while file.seek(at) == at and len(head := file.read(8)) == 8:
            if head[:4] == name:
                return True
            size = int.from_bytes(head[4:], "little")
            at += 8 + size + size % 2  # padded to even
        return False
    finally:
        file.seek(before)


def _straight(table: Sequence[int]) -> tuple[float, ...]:
    """Quantisers of waves that run straight up or across, the coarser of both; none of a table that isn't whole.

    The first is that of blocks' means, the n-th of n half periods a block.
    """
    return tuple(float(max(table[k], table[8 * k])) for k in range(8)) if len(table) == 64 else ()


def load_exif(data: bytes) -> Image.Exif:
    """Parse an EXIF block. Pillow's ``getexif`` is avoided: on PNG it decodes the pixels to look for a late one."""
    exif = Image.Exif()
    exif.load(data)
    return exif


def exif_facts(read_exif: Callable[[], Image.Exif]) -> tuple[int, Resolution | None, bool]:
    """Orientation (1 to 8), resolution and whether a camera took the picture.

    Maker and model decide nothing: scanners write both, and they are nobody's business. A camera states its
    exposure. A damaged block counts as none: the picture can be read without it.
    """
    try:
        exif = read_exif()
        details = exif.get_ifd(_EXIF_IFD)
        orientation = exif.get(EXIF_ORIENTATION, 1)
        scale = 2.54 if exif.get(_RESOLUTION_UNIT, 2) == _UNIT_CM else 1.0
        dpi = _resolution((exif.get(_X_RESOLUTION), exif.get(_Y_RESOLUTION)), scale)
        source = details.get(_FILE_SOURCE)
        exposed = any(tag in details for tag in _EXPOSURE)
    except Exception:  # as many kinds as in `unreadable`
        return 1, None, False
    source = source[0] if isinstance(source, bytes | tuple) and source else source
    camera = source == _DIGITAL_CAMERA or (source is None and exposed)
    return orientation if orientation in range(1, 9) else 1, dpi, camera


def device_mark(read_exif: Callable[[], Image.Exif]) -> str:
    """Short digest of the maker and model a file states; empty where it states none.

    It tells whether two pictures come from the same kind of device, without naming it anywhere.
    """
    try:
        exif = read_exif()
        stated = [str(exif.get(tag) or "").strip(" \0") for tag in (_MAKER, _MODEL)]
    except Exception:  # as many kinds as in `unreadable`
        return ""
    return hashlib.sha256("\0".join(stated).encode()).hexdigest()[:12] if any(stated) else ""


def _tiff_resolution(tags: Mapping[int, Any]) -> Resolution | None:
    unit = tags.get(_RESOLUTION_UNIT, 2)
    if unit not in (2, _UNIT_CM):  # 1: the numbers are only an aspect ratio
        return None
    return _resolution((tags.get(_X_RESOLUTION), tags.get(_Y_RESOLUTION)), 2.54 if unit == _UNIT_CM else 1.0)


def _resolution(pair: Any, scale: float = 1.0) -> Resolution | None:
    try:
        x_dpi, y_dpi = (float(v) * scale for v in pair)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return Resolution.of(x_dpi, y_dpi)
