"""The lens's distortion, against OpenCV's own model of lenses (Brown and Conrady)."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from printcheck.register.bend import Bend, find_bend

PICTURE = (3000, 4000)
FOCAL = 2900.0  # px: 28 mm on full frame, a phone's main camera, from memory


def page() -> np.ndarray:
    x, y = np.meshgrid(np.linspace(10, 200, 6), np.linspace(10, 287, 8))
    return np.stack([x.ravel(), y.ravel()], axis=1)


def seen_through(points: np.ndarray, k1: float) -> np.ndarray:
    """Page points, mm, under a tilted camera of distortion `k1`: pixels."""
    camera = np.array([[FOCAL, 0, 1999.5], [0, FOCAL, 1499.5], [0, 0, 1.0]])
    flat = np.column_stack([points - [105, 148.5], np.zeros(len(points))])
    turn, shift = np.array([0.15, -0.1, np.pi / 2]), np.array([0.0, 0.0, 265.0])
    return cv2.projectPoints(flat, turn, shift, camera, np.array([k1, 0, 0, 0]))[0][:, 0]


@pytest.mark.parametrize("k1", [-0.25, -0.1, 0.1])
def test_a_plane_under_opencvs_lens_is_a_plane_again(k1: float) -> None:
    points = page()
    px = seen_through(points, k1)

    def off_plane(seen: np.ndarray) -> float:
        plane, _ = cv2.findHomography(seen, points, 0)
        return float(np.sqrt(np.mean(np.sum((cv2.perspectiveTransform(seen[None], plane)[0] - points) ** 2, axis=1))))

    bend = find_bend(points, px, PICTURE)
    assert np.sign(bend.strength) == np.sign(k1)
    # one coefficient of one model can't be all of another's, but what is left is a tenth
    assert off_plane(bend.straightened(px)) < 0.1 * off_plane(px)
    assert off_plane(px) > 0.4


@pytest.mark.parametrize("strength", [-0.3, 0.0, 0.2])
def test_there_and_back(strength: float) -> None:
    bend = Bend(strength, np.array([1999.5, 1499.5]), 2500.0)
    px = np.random.default_rng(2).uniform([0, 0], [4000, 3000], (200, 2))
    np.testing.assert_allclose(bend.bent(bend.straightened(px)), px, atol=1e-6)
    np.testing.assert_allclose(bend.doubled().bent(2 * px + 0.5), 2 * bend.bent(px) + 0.5, atol=1e-6)


def test_a_flat_scan_has_none() -> None:
    points = page()
    assert abs(find_bend(points, points * 11.8 + 30, PICTURE).strength) < 1e-3
