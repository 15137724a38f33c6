"""ICC profiles read into functions of floats: device values to the profile connection space.

The bindings to littleCMS that Pillow offers take 8-bit RGB only, and return CIELAB in steps of 0.39 L* and 1 a*, b*:
too coarse for differences of one unit. The tags are few and simple enough to be evaluated in float here.

References
----------
ISO 15076-1:2010 (ICC.1:2010-12): clauses 7.2 (header), 10.5 (curveType), 10.8 and 10.9 (lut16Type, lut8Type),
10.10 (lutAToBType), 10.15 (parametricCurveType), 6.3.4 (PCS encodings). Clause numbers from memory.
"""

from __future__ import annotations

import itertools
import struct
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printcheck.colour.lab import D50_WHITE, lab_to_xyz

__all__ = ["DeviceToPcs", "ProfileError", "parse_profile"]

Floats = NDArray[np.float64]
Curve = Callable[[Floats], Floats]

_XYZ_FULL = 65535.0 / 32768.0  # u1Fixed15: what an encoded 1.0 stands for
_CHANNELS = {b"RGB ": 3, b"GRAY": 1}
_PLAUSIBLE_WHITE_Y = (0.5, 1.5)  # of device white, media-relative: 1 in a sound profile
_LARGEST_XYZ = 3.0  # the encoding itself ends at 2
_MAX_GRID_VALUES = 4_000_000  # 129 points a side with 3 outputs are 6.4 million; profiles in use have at most 65


class ProfileError(ValueError):
    """The bytes are no RGB or grey profile that can be evaluated."""


@dataclass(frozen=True, slots=True)
class DeviceToPcs:
    """A parsed profile.

    Parameters
    ----------
    description : str
        The profile's own name; empty where it has none.
    channels : int
        1 (grey) or 3 (RGB).
    evaluate : callable
        (N, channels) device values 0..1 to (N, 3) XYZ, D50, media-relative, white at Y = 1.
    """

    description: str
    channels: int
    evaluate: Curve


def parse_profile(icc: bytes) -> DeviceToPcs:
    """Read an RGB or grey profile, table (``A2B1``, else ``A2B0``) before matrix as ICC.1 demands.

    Raises
    ------
    ProfileError
        Damaged, of another colour space, or of a kind (named colours, device links) that describes no scan.
    """
    try:
        return _parse(icc)
    except ProfileError:
        raise
    except (struct.error, IndexError, ValueError, KeyError, UnicodeError, OverflowError, ZeroDivisionError) as error:
        raise ProfileError(f"damaged profile: {error}") from None


def _parse(icc: bytes) -> DeviceToPcs:
    if len(icc) < 132 or icc[36:40] != b"acsp":
        raise ProfileError("no profile signature")
    space, pcs = icc[16:20], icc[20:24]
    if space not in _CHANNELS:
        raise ProfileError(f"colour space {space!r} is neither RGB nor grey")
    if icc[12:16] in (b"link", b"nmcl", b"abst") or pcs not in (b"XYZ ", b"Lab "):
        raise ProfileError("this class of profile describes no image")
    (count,) = struct.unpack_from(">I", icc, 128)
    if count > 200:
        raise ProfileError("damaged tag table")
    tags: dict[bytes, bytes] = {}
    for index in range(count):
        name, offset, size = struct.unpack_from(">4sII", icc, 132 + 12 * index)
        if offset + size > len(icc):
            raise ProfileError(f"tag {name!r} lies outside the profile")
        tags[name] = icc[offset : offset + size]
    channels = _CHANNELS[space]
    table = tags.get(b"A2B1", tags.get(b"A2B0"))
    if table is not None:
        evaluate = _table(table, pcs, channels)
    elif channels == 3:
        evaluate = _matrix(tags)
    else:
        evaluate = _grey(_curve(tags[b"kTRC"])[0], pcs)
    result = DeviceToPcs(_description(tags.get(b"desc", b"")), channels, evaluate)
    _check(evaluate, channels)
    return result


def _check(evaluate: Curve, channels: int) -> None:
    """Refuse what no scanner or camera yields: a bit flipped in a curve or matrix leaves a readable profile."""
    greys = np.linspace(0.0, 1.0, 33)[:, None].repeat(channels, axis=1)
    corners = np.array(list(itertools.product((0.0, 1.0), repeat=channels)))
    with np.errstate(all="ignore"):
        xyz = evaluate(np.concatenate([greys, corners]))
    low, high = _PLAUSIBLE_WHITE_Y
    if not np.isfinite(xyz).all() or np.abs(xyz).max() > _LARGEST_XYZ or not low <= xyz[32, 1] <= high:
        raise ProfileError("the profile yields impossible colours")


def _description(tag: bytes) -> str:
    if tag[:4] == b"desc":
        (length,) = struct.unpack_from(">I", tag, 8)
        text = tag[12 : 12 + length].split(b"\0", 1)[0].decode("latin-1")
    elif tag[:4] == b"mluc":
        length, offset = struct.unpack_from(">II", tag, 20)
        text = tag[offset : offset + length].decode("utf-16-be", "replace")
    else:
        return ""
    return "".join(c for c in text if c.isprintable())[:80].strip()


def _fixed(data: bytes, offset: int, count: int) -> Floats:
    """`count` s15Fixed16 numbers."""
    return np.array(struct.unpack_from(f">{count}i", data, offset), dtype=np.float64) / 65536.0


def _table_curve(table: Floats) -> Curve:
    grid = np.linspace(0.0, 1.0, len(table))
    return lambda v: np.interp(v, grid, table)


def _curve(data: bytes) -> tuple[Curve, int]:
    """Read a tone curve and the number of bytes it occupies, without padding."""
    kind = data[:4]
    if kind == b"curv":
        (count,) = struct.unpack_from(">I", data, 8)
        if count == 0:
            return (lambda v: v), 12
        if count == 1:
            gamma = struct.unpack_from(">H", data, 12)[0] / 256.0
            return (lambda v: np.power(np.clip(v, 0.0, None), gamma)), 14
        values = np.frombuffer(data, dtype=">u2", count=count, offset=12).astype(np.float64) / 65535.0
        return _table_curve(values), 12 + 2 * count
    if kind == b"para":
        (function,) = struct.unpack_from(">H", data, 8)
        count = (1, 3, 4, 5, 7)[function]
        return _parametric(function, _fixed(data, 12, count).tolist()), 12 + 4 * count
    raise ProfileError(f"curve of unknown kind {kind!r}")


def _parametric(function: int, parameters: list[float]) -> Curve:
    g, a, b, c, d, e, f = parameters + [0.0] * (7 - len(parameters))
    if function == 0:
        a, b, c, d, e, f = 1.0, 0.0, 0.0, -np.inf, 0.0, 0.0
    elif function in (1, 2):
        e = f = c if function == 2 else 0.0
        c, d = 0.0, -b / a
    # 3 has linear c*x below d; 4 adds e above and f below

    def curve(v: Floats) -> Floats:
        power = np.power(np.clip(a * v + b, 0.0, None), g) + e
        return np.where(v >= d, power, c * v + f)

    return curve


def _matrix(tags: dict[bytes, bytes]) -> Curve:
    columns = []
    for name in (b"rXYZ", b"gXYZ", b"bXYZ"):
        if tags[name][:4] != b"XYZ ":
            raise ProfileError(f"tag {name!r} is no colorant")
        columns.append(_fixed(tags[name], 8, 3))
    to_xyz = np.stack(columns, axis=1)
    curves = [_curve(tags[name])[0] for name in (b"rTRC", b"gTRC", b"bTRC")]
    return lambda v: np.stack([curve(v[:, i]) for i, curve in enumerate(curves)], axis=1) @ to_xyz.T


def _grey(curve: Curve, pcs: bytes) -> Curve:
    if pcs == b"Lab ":
        return lambda v: lab_to_xyz(np.stack([100.0 * curve(v[:, 0]), 0.0 * v[:, 0], 0.0 * v[:, 0]], axis=1))
    return lambda v: curve(v[:, 0])[:, None] * D50_WHITE


def _table(data: bytes, pcs: bytes, channels: int) -> Curve:
    inputs, outputs = data[8], data[9]
    if (inputs, outputs) != (channels, 3):
        raise ProfileError("table with the wrong number of channels")
    kind = data[:4]
    if kind in (b"mft1", b"mft2"):
        device_to_encoded = _lut_8_or_16(data, inputs, wide=kind == b"mft2")
    elif kind == b"mAB ":
        device_to_encoded = _lut_a_to_b(data, inputs)
    else:
        raise ProfileError(f"table of unknown kind {kind!r}")
    if pcs == b"XYZ ":
        return lambda v: device_to_encoded(v) * _XYZ_FULL
    # lut16Type keeps the version 2 encoding, in which 0xFF00 is L* = 100 and 0x8000 is a* = 0
    light, chroma = (65535.0 / 652.80, 65535.0 / 256.0) if kind == b"mft2" else (100.0, 255.0)
    scale, offset = np.array([light, chroma, chroma]), np.array([0.0, 128.0, 128.0])
    return lambda v: lab_to_xyz(device_to_encoded(v) * scale - offset)


def _lut_8_or_16(data: bytes, inputs: int, *, wide: bool) -> Curve:
    grid_points = data[10]
    dtype, full, offset = (">u2", 65535.0, 52) if wide else ("u1", 255.0, 48)
    n_in, n_out = struct.unpack_from(">HH", data, 48) if wide else (256, 256)
    sizes = (inputs * n_in, grid_points**inputs * 3, 3 * n_out)
    if min(n_in, n_out, grid_points) < 2 or sizes[1] > _MAX_GRID_VALUES:
        raise ProfileError("table of impossible size")
    values = np.frombuffer(data, dtype=dtype, count=sum(sizes), offset=offset).astype(np.float64) / full
    before, grid, after = np.split(values, np.cumsum(sizes)[:-1])
    first = [_table_curve(t) for t in before.reshape(inputs, n_in)]
    last = [_table_curve(t) for t in after.reshape(3, n_out)]
    cube = grid.reshape(*[grid_points] * inputs, 3)
    return lambda v: _each(last, _interpolate(cube, _each(first, v)))


def _lut_a_to_b(data: bytes, inputs: int) -> Curve:
    b_at, matrix_at, m_at, grid_at, a_at = struct.unpack_from(">5I", data, 12)
    steps: list[Curve] = []
    if a_at:
        a_curves = _curve_set(data, a_at, inputs)
        steps.append(lambda v: _each(a_curves, v))
    if grid_at:
        shape = tuple(data[grid_at : grid_at + inputs])
        if min(shape) < 2 or int(np.prod(shape, dtype=np.int64)) * 3 > _MAX_GRID_VALUES:
            raise ProfileError("table of impossible size")
        wide = data[grid_at + 16] == 2
        count = int(np.prod(shape)) * 3
        values = np.frombuffer(data, dtype=">u2" if wide else "u1", count=count, offset=grid_at + 20)
        cube = (values.astype(np.float64) / (65535.0 if wide else 255.0)).reshape(*shape, 3)
        steps.append(lambda v: _interpolate(cube, v))
    elif inputs != 3:
        raise ProfileError("a table without a grid needs three channels")
    if m_at and matrix_at:
        m_curves, numbers = _curve_set(data, m_at, 3), _fixed(data, matrix_at, 12)
        matrix, shift = numbers[:9].reshape(3, 3), numbers[9:]
        steps.append(lambda v: _each(m_curves, v) @ matrix.T + shift)
    b_curves = _curve_set(data, b_at, 3)
    steps.append(lambda v: _each(b_curves, v))

    def run(v: Floats) -> Floats:
        for step in steps:
            v = step(v)
        return v

    return run


def _curve_set(data: bytes, offset: int, count: int) -> list[Curve]:
    curves = []
    for _ in range(count):
        curve, size = _curve(data[offset:])
        curves.append(curve)
        offset += (size + 3) // 4 * 4
    return curves


def _each(curves: list[Curve], v: Floats) -> Floats:
    return np.stack([curve(v[:, i]) for i, curve in enumerate(curves)], axis=1)


def _interpolate(cube: Floats, v: Floats) -> Floats:
    """Multilinear interpolation of (N, n) values 0..1 in a grid of n axes and 3 outputs."""
    n = v.shape[1]
    position = np.clip(v, 0.0, 1.0) * (np.array(cube.shape[:n]) - 1.0)
    low = np.minimum(position.astype(np.intp), np.array(cube.shape[:n]) - 2)
    part = position - low
    out = np.zeros((len(v), 3))
    for corner in range(2**n):
        bits = np.array([(corner >> axis) & 1 for axis in range(n)])
        weight = np.prod(np.where(bits, part, 1.0 - part), axis=1)
        out += weight[:, None] * cube[tuple((low + bits).T)]
    return out
