"""Lines and paper of a ladder's columns, fitted to profiles that are worked out here by arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from printcheck.measure.comb import Comb

STEP = 1 / 12.0
SPACING = 0.494


def column(skirt: float, missing: tuple[int, ...] = (), first: float = 0.7, dashes: int = 50):
    """Positions of samples and dashes, and light: lines of 0.08 mm, a share `skirt` of each spread over 0.3 mm.

    Light led through the paper about, and halved chroma, give a line's blur wide skirts (Yule and Nielsen, TAGA 1951,
    for the paper; ITU-T T.81 for the chroma): two normal curves stand for them.
    """
    y = np.arange(0.0, dashes * SPACING + 1.4, STEP)
    centre = first + SPACING * np.arange(dashes)
    away = y[:, None] - np.delete(centre, missing)

    def normal(sd: float):
        return np.exp(-0.5 * (away / sd) ** 2) / (np.sqrt(2 * np.pi) * sd)

    dark = 0.06 * ((1 - skirt) * normal(0.08) + skirt * normal(0.3)).sum(axis=1)
    return y, centre, 0.8 * (1.0 - dark)


def weights(skirt: float, missing: tuple[int, ...] = ()):
    (y, a, light_a), (_, b, light_b) = column(skirt, missing), column(skirt, first=0.9)
    comb = Comb(y, STEP, np.stack([a, b]))
    profiles = np.stack([light_a, light_b])[..., None].repeat(2, axis=2)
    line, _, _, misfit = comb.read(profiles, 0.08, steps=True)
    return line[..., 0], misfit[..., 0]


@pytest.mark.parametrize("skirt", [0.0, 0.2, 0.4])
def test_the_outermost_dashes_read_like_the_others_whatever_the_blurs_skirts(skirt: float) -> None:
    line, misfit = weights(skirt)
    level = np.median(line)
    assert line == pytest.approx(level, rel=0.06)
    depth = level / (np.sqrt(2 * np.pi) * 0.08)
    assert misfit.max() < 0.1 * depth


@pytest.mark.parametrize("missing", [(0,), (0, 1, 2), (49,), (20,)])
def test_a_missing_outermost_dash_is_missed(missing: tuple[int, ...]) -> None:
    line, _ = weights(0.3, missing)
    strength = line[0] / np.median(line)
    gone = np.isin(np.arange(50), missing)
    assert np.abs(strength[gone]).max() < 0.2
    assert strength[~gone].min() > 0.85
