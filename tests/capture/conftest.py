"""Pictures and profiles that the capture tests read; all made here, none taken from a device."""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from numpy.typing import NDArray


@pytest.fixture(scope="session")
def page() -> NDArray[np.uint8]:
    """RGB (260, 380, 3): smooth colours, a dark L in one corner so that no rotation or mirroring is like another."""
    y, x = np.mgrid[0:260, 0:380]
    picture = np.stack([60 + x // 2, 230 - y // 2, 120 + (x + y) // 5], axis=2).astype(np.uint8)
    picture[20:120, 30:60] = 10
    picture[100:120, 30:150] = 10
    return picture


def s15(*values: float) -> bytes:
    return struct.pack(f">{len(values)}i", *(round(v * 65536) for v in values))


def build(tags: dict[bytes, bytes], space: bytes = b"RGB ", pcs: bytes = b"XYZ ", major: int = 4) -> bytes:
    """A profile of the given tags, laid out as ISO 15076-1 clause 7 says."""
    offset = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, data in tags.items():
        table += struct.pack(">4sII", name, offset + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    head = bytearray(128)
    struct.pack_into(">I", head, 0, 128 + len(table) + len(body))
    head[8], head[12:16], head[16:20], head[20:24], head[36:40] = major, b"scnr", space, pcs, b"acsp"
    head[68:80] = s15(0.9642, 1.0, 0.8249)
    return bytes(head) + table + body


def mluc(text: str) -> bytes:
    encoded = text.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(encoded), 28) + encoded


def xyz(values: Sequence[float]) -> bytes:
    return b"XYZ \0\0\0\0" + s15(*values)


def srgb_curve() -> bytes:
    """Parametric curve type 3 with the constants of IEC 61966-2-1."""
    return b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + s15(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)


# Display P3: DCI-P3 primaries (SMPTE EG 432-1) with a D65 white, Bradford-adapted to D50, s15Fixed16 (from memory;
# test_profile.py recomputes them with an outside library)
P3_COLORANTS = ((0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407))


@pytest.fixture(scope="session")
def display_p3() -> bytes:
    tags = {b"desc": mluc("Display P3, made by the tests"), b"wtpt": xyz((0.9642, 1.0, 0.8249))}
    tags |= {name: xyz(c) for name, c in zip((b"rXYZ", b"gXYZ", b"bXYZ"), P3_COLORANTS, strict=True)}
    return build(tags | {name: srgb_curve() for name in (b"rTRC", b"gTRC", b"bTRC")})


@pytest.fixture(scope="session")
def build_profile() -> Callable[..., bytes]:
    return build


@pytest.fixture(scope="session")
def profile_parts() -> dict[str, Callable[..., bytes]]:
    return {"s15": s15, "mluc": mluc, "xyz": xyz, "srgb_curve": srgb_curve}
