"""Colour that a picture states by code points instead of a profile, as an ICC profile that the rest can use.

Phones write Display P3 HEIC either with an ICC profile or with only the code points of a ``colr`` box of type nclx
(ISO/IEC 23008-12, ISO/IEC 14496-12); read as sRGB its colours would come out too dull.

References
----------
Rec. ITU-T H.273: colour primaries 1 (BT.709, those of sRGB) and 12 (SMPTE EG 432-1, white D65). ISO 15076-1: matrix
profiles; adaptation to the PCS white by the linear Bradford method (its annex E). Clause numbers from memory.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import Any

import numpy as np

from printcheck.colour.lab import D50_WHITE

__all__ = ["profile_of_code_points"]

_DISPLAY_P3 = 12
_LIKE_SRGB = (1, 6, 13)  # transfer characteristics that still pictures use with the sRGB curve
_P3_XY = np.array([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]])
_D65_XY = np.array([0.3127, 0.3290])
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
_SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1, as a parametric curve of type 3


def profile_of_code_points(nclx: Mapping[str, Any] | None) -> bytes | None:
    """An ICC profile for what `nclx` states; none where it states nothing, or what is taken as sRGB anyway."""
    if not nclx or nclx.get("color_primaries") != _DISPLAY_P3:
        return None
    if nclx.get("transfer_characteristics") not in _LIKE_SRGB:
        return None
    return _matrix_profile("Display P3", _P3_XY)


def _matrix_profile(name: str, primaries_xy: Any) -> bytes:
    """A matrix profile (ISO 15076-1, three-component matrix-based) with the sRGB curve and a D65 white."""

    def xyz(xy: Any) -> Any:
        return np.array([xy[0] / xy[1], 1.0, (1 - xy[0] - xy[1]) / xy[1]])

    white = xyz(_D65_XY)
    columns = np.stack([xyz(xy) for xy in primaries_xy], axis=1)
    columns = columns * np.linalg.solve(columns, white)
    adapt = np.linalg.solve(_BRADFORD, np.diag((_BRADFORD @ D50_WHITE) / (_BRADFORD @ white)) @ _BRADFORD)
    colorants = adapt @ columns
    text = name.encode("utf-16-be")
    curve = b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + _s15(*_SRGB_CURVE)
    tags = {
        b"desc": b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(text), 28) + text,
        b"wtpt": b"XYZ \0\0\0\0" + _s15(*D50_WHITE),
        **{tag: b"XYZ \0\0\0\0" + _s15(*colorants[:, k]) for k, tag in enumerate((b"rXYZ", b"gXYZ", b"bXYZ"))},
        b"rTRC": curve, b"gTRC": curve, b"bTRC": curve,
    }  # fmt: skip
    offset, table, body = 128 + 4 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for tag, data in tags.items():
        table += struct.pack(">4sII", tag, offset + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    header = bytearray(128)
    struct.pack_into(">I", header, 0, 128 + len(table) + len(body))
    header[8], header[12:16], header[16:20], header[20:24], header[36:40] = 4, b"mntr", b"RGB ", b"XYZ ", b"acsp"
    header[68:80] = _s15(*D50_WHITE)
    return bytes(header) + table + body


def _s15(*values: float) -> bytes:
    return struct.pack(f">{len(values)}i", *(round(float(v) * 65536) for v in values))
