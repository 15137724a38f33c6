"""Colour through profiles, against published values, littleCMS and an outside colour library."""

from __future__ import annotations

import struct
import warnings
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from PIL import Image, ImageCms
from srgb_lab import SRGB_LAB_D50

from printcheck.capture.icc import ProfileError
from printcheck.capture.profile import describe_profile, rgb_to_xyz_d50
from printcheck.colour.lab import D50_WHITE

Floats = NDArray[np.float64]
Parts = dict[str, Callable[..., bytes]]


def lab(xyz: Floats) -> Floats:
    """CIELAB by the CIE's rationals (ISO/CIE 11664-4), relative to the PCS white."""
    t = xyz / D50_WHITE
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)


def littlecms_lab(icc: bytes, rgb8: NDArray[np.uint8]) -> Floats:
    """What littleCMS makes of it, in its 8-bit steps of 0.39 L* and 1 a*, b*."""
    import io

    source = ImageCms.ImageCmsProfile(io.BytesIO(icc))
    mode = "RGB" if rgb8.shape[-1] == 3 else "L"
    image = Image.fromarray(rgb8[None] if mode == "RGB" else rgb8[None, :, 0])
    intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
    transform = ImageCms.buildTransform(source, ImageCms.createProfile("LAB"), mode, "LAB", intent)
    out = ImageCms.applyTransform(image, transform)
    assert out is not None
    data = np.asarray(out)[0]  # leaving Pillow, a* and b* become two's complement (its own pixels have 128 added)
    return np.column_stack([data[:, 0] * (100 / 255), data[:, 1:].view(np.int8).astype(float)])


@pytest.fixture(scope="module")
def colours() -> NDArray[np.uint8]:
    """(400, 3), 8 bit, the whole cube."""
    return np.random.default_rng(5).integers(0, 256, (400, 3), dtype=np.uint8)


def assert_agrees(ours: Floats, theirs: Floats, *, light: float = 0.25, chroma: float = 0.6) -> None:
    """Half an 8-bit step and a little; littleCMS clips a*, b* at its byte's ends."""
    inside = (np.abs(ours[:, 1:]) < 126).all(axis=1)
    assert inside.sum() > len(ours) // 2
    assert_allclose(ours[inside, 0], theirs[inside, 0], atol=light)
    assert_allclose(ours[inside, 1:], theirs[inside, 1:], atol=chroma)


@pytest.mark.parametrize(("rgb", "expected"), SRGB_LAB_D50)
def test_srgb_check_values(rgb: tuple[int, int, int], expected: tuple[float, float, float]) -> None:
    assert_allclose(lab(rgb_to_xyz_d50(np.array([rgb]) / 255))[0], expected, atol=2e-3)


def test_tagged_srgb_equals_assumed_srgb(colours: NDArray[np.uint8]) -> None:
    icc = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()  # written by littleCMS
    assumed, tagged = rgb_to_xyz_d50(colours / 255), rgb_to_xyz_d50(colours / 255, icc)
    assert_allclose(tagged, assumed, atol=2e-4)  # s15Fixed16 and the D65 white's last digit
    assert "sRGB" in describe_profile(icc)


def test_assumed_srgb_agrees_with_littlecms(colours: NDArray[np.uint8]) -> None:
    icc = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert_agrees(lab(rgb_to_xyz_d50(colours / 255)), littlecms_lab(icc, colours))


def test_display_p3_agrees_with_littlecms(colours: NDArray[np.uint8], display_p3: bytes) -> None:
    assert_agrees(lab(rgb_to_xyz_d50(colours / 255, display_p3)), littlecms_lab(display_p3, colours))


def test_display_p3_agrees_with_colour_science(colours: NDArray[np.uint8], display_p3: bytes) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own, about optional packages
        colour = pytest.importorskip("colour")
        space = colour.RGB_COLOURSPACES["Display P3"]
        d50 = colour.XYZ_to_xy(D50_WHITE)
        theirs = colour.RGB_to_XYZ(colours / 255, space, d50, "Bradford", apply_cctf_decoding=True)
    assert_allclose(rgb_to_xyz_d50(colours / 255, display_p3), theirs, atol=3e-4)  # rounding of the colorants


def test_display_p3_red_is_not_srgb_red(display_p3: bytes) -> None:
    assert np.abs(lab(rgb_to_xyz_d50([[1, 0, 0]], display_p3)) - lab(rgb_to_xyz_d50([[1, 0, 0]]))).max() > 5


@pytest.mark.parametrize("function", range(5))
def test_every_parametric_curve_agrees_with_littlecms(
    function: int, build_profile: Callable[..., bytes], profile_parts: Parts, colours: NDArray[np.uint8]
) -> None:
    # All reach 1 at 1: littleCMS bends a curve that does not, so that white stays white
    parameters = [(2.2,), (2.0, 0.9, 0.1), (2.0, 0.9, 0.05, 0.0975), (2.4, 0.948, 0.052, 0.077, 0.04),
                  (2.4, 0.93, 0.05, 0.08, 0.04, 0.0473, 0.005)][function]  # fmt: skip
    curve = b"para\0\0\0\0" + struct.pack(">HH", function, 0) + profile_parts["s15"](*parameters)
    check_matrix_profile(curve, build_profile, profile_parts, colours)


@pytest.mark.parametrize(
    "curve",
    [
        b"curv\0\0\0\0" + struct.pack(">I", 0),
        b"curv\0\0\0\0" + struct.pack(">IH", 1, round(1.8 * 256)),
        b"curv\0\0\0\0" + struct.pack(">I64H", 64, *(round(65535 * (i / 63) ** 2.2) for i in range(64))),
    ],
    ids=["identity", "gamma", "table"],
)
def test_every_sampled_curve_agrees_with_littlecms(
    curve: bytes, build_profile: Callable[..., bytes], profile_parts: Parts, colours: NDArray[np.uint8]
) -> None:
    check_matrix_profile(curve, build_profile, profile_parts, colours)


def check_matrix_profile(
    curve: bytes, build_profile: Callable[..., bytes], parts: Parts, colours: NDArray[np.uint8]
) -> None:
    colorants = {
        b"rXYZ": (0.4360, 0.2225, 0.0139),
        b"gXYZ": (0.3851, 0.7169, 0.0971),
        b"bXYZ": (0.1431, 0.0606, 0.7139),
    }
    tags = {b"desc": parts["mluc"]("made"), b"wtpt": parts["xyz"]((0.9642, 1.0, 0.8249))}
    tags |= {name: parts["xyz"](value) for name, value in colorants.items()}
    icc = build_profile(tags | dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve))
    # littleCMS takes 8-bit matrix profiles through a fixed-point short cut: dark colours differ by up to a step more
    bright = colours[colours.min(axis=1) > 40]
    assert_agrees(lab(rgb_to_xyz_d50(bright / 255, icc)), littlecms_lab(icc, bright), light=0.45, chroma=1.2)


def table_profile(kind: bytes, build_profile: Callable[..., bytes], parts: Parts, points: int = 17) -> bytes:
    """A scanner-like table profile, device to CIELAB, sampled from sRGB; the last channel varies fastest."""
    axis = np.linspace(0, 1, points)
    device = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    target = lab(rgb_to_xyz_d50(device))
    target[:, 1:] = np.clip(target[:, 1:], -127, 126)
    shift = np.array([0, 128, 128])
    if kind == b"mft2":
        encoded = np.rint((target + shift) * [652.80, 256, 256]).astype(">u2")
        identity = struct.pack(">2H", 0, 65535) * 3
        body = struct.pack(">HH", 2, 2) + identity + encoded.tobytes() + identity
    elif kind == b"mft1":
        encoded = np.rint((target + shift) * [2.55, 1, 1]).astype("u1")
        identity = bytes(range(256)) * 3
        body = identity + encoded.tobytes() + identity
    else:
        encoded = np.rint((target + shift) * [655.35, 257, 257]).astype(">u2")
        curves = (b"curv\0\0\0\0" + struct.pack(">I", 0)) * 3
        grid = bytes([points] * 3 + [0] * 13 + [2, 0, 0, 0]) + encoded.tobytes()
        grid += b"\0" * (-len(grid) % 4)
        b_at, grid_at = 32, 32 + len(curves)
        offsets = struct.pack(">5I", b_at, 0, 0, grid_at, grid_at + len(grid))
        table = b"mAB \0\0\0\0" + bytes([3, 3, 0, 0]) + offsets + curves + grid + curves
    if kind != b"mAB ":
        matrix = parts["s15"](1, 0, 0, 0, 1, 0, 0, 0, 1)
        table = kind + b"\0\0\0\0" + bytes([3, 3, points, 0]) + matrix + body
    tags = {b"desc": parts["mluc"]("table"), b"wtpt": parts["xyz"]((0.9642, 1.0, 0.8249)), b"A2B0": table}
    return build_profile(tags, pcs=b"Lab ", major=4 if kind == b"mAB " else 2)


@pytest.mark.parametrize("kind", [b"mft1", b"mft2", b"mAB "])
def test_table_profiles_agree_with_littlecms(
    kind: bytes, build_profile: Callable[..., bytes], profile_parts: Parts, colours: NDArray[np.uint8]
) -> None:
    icc = table_profile(kind, build_profile, profile_parts)
    # littleCMS interpolates in tetrahedra, we in cubes: they part between the points of a coarse grid
    bright = colours[colours.min(axis=1) > 16]
    assert_agrees(lab(rgb_to_xyz_d50(bright / 255, icc)), littlecms_lab(icc, bright), light=0.6, chroma=2.0)


@pytest.mark.parametrize("kind", [b"mft2", b"mAB "])
def test_table_profiles_are_exact_at_their_grid_points(
    kind: bytes, build_profile: Callable[..., bytes], profile_parts: Parts
) -> None:
    icc = table_profile(kind, build_profile, profile_parts)
    nodes = np.array([[0, 4, 8], [16, 16, 16], [12, 8, 4], [5, 5, 5], [16, 12, 9]]) / 16
    assert_allclose(lab(rgb_to_xyz_d50(nodes, icc)), lab(rgb_to_xyz_d50(nodes)), atol=5e-3)  # 16-bit encoding


def test_grey_profile_agrees_with_littlecms(build_profile: Callable[..., bytes], profile_parts: Parts) -> None:
    gamma = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(2.2 * 256))
    tags = {b"wtpt": profile_parts["xyz"]((0.9642, 1.0, 0.8249)), b"kTRC": gamma}
    icc = build_profile(tags, space=b"GRAY")
    grey = np.arange(10, 256, 5, dtype=np.uint8)[:, None]
    ours = lab(rgb_to_xyz_d50(np.repeat(grey, 3, axis=1) / 255, icc))
    assert_agrees(ours, littlecms_lab(icc, grey), light=0.45)


def test_cmyk_profile_is_refused(build_profile: Callable[..., bytes]) -> None:
    with pytest.raises(ProfileError, match="neither RGB nor grey"):
        describe_profile(build_profile({}, space=b"CMYK"))


def test_wrong_shape_is_refused() -> None:
    with pytest.raises(ValueError, match="shape"):
        rgb_to_xyz_d50([0.1, 0.2, 0.3])


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_profile_is_refused_or_yields_numbers(
    build_profile: Callable[..., bytes], profile_parts: Parts, display_p3: bytes, data: st.DataObject
) -> None:
    sources = [display_p3, *(table_profile(k, build_profile, profile_parts, 3) for k in (b"mft1", b"mft2", b"mAB "))]
    icc = bytearray(data.draw(st.sampled_from(sources)))
    for _ in range(data.draw(st.integers(1, 8))):
        icc[data.draw(st.integers(0, len(icc) - 1))] = data.draw(st.integers(0, 255))
    damaged = bytes(icc[: data.draw(st.integers(0, len(icc)))]) if data.draw(st.booleans()) else bytes(icc)
    try:
        xyz = rgb_to_xyz_d50([[0.0, 0.5, 1.0], [1.0, 1.0, 1.0]], damaged)
    except ProfileError:
        return
    assert xyz.shape == (2, 3)
