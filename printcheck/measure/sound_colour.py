"""How far a solid lies from every colour that a sound ink of its name may have.

What is foreign, and how much of it, takes a good idea of the pure ink. That something is foreign takes less: process
inks are made to a hue, on any paper. So a solid is held against all published printing conditions at once, each
thinned and thickened as refills are, with paper showing through as heads leave it, and the least difference counts.

Foreign ink adds to what an ink absorbs beside its own part of the spectrum. A solid that absorbs less there than any
published one is purer than they are, not dirtier, and however far off it lies it holds nothing foreign.

Sound cyans lie outside sRGB. A picture that cuts a channel at black shows them cut as well, so there they are held
against the solid as such a picture shows them: no redder for what it can't show, and no less sure.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printcheck.colour.difference import delta_e00_interval
from printcheck.colour.lab import lab_to_xyz, xyz_to_lab
from printcheck.colour.published import conditions, published
from printcheck.measure.areas import XYZ_TO_LINEAR, light_to_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printcheck.colour.lab import Lab

__all__ = ["off_sound", "published_solids"]

# dye load against the aim's: refills are thinner, coated papers show more (0.7 moves a published solid by 5 to 9
# deltaE00); and how much of the paper a solid covers
_LOADS = (0.7, 0.8, 0.9, 1.0, 1.1, 1.2)
_COVERS = (1.0, 0.95, 0.9)
# standard deviation in L*, a*, b* by which desktop inks lie off offset inks of the same strength: the least that a
# colour is taken to be known to, however well the capture shows it. No source; spectra of dyes whose peaks move by 5
# to 8 nm, as those of magenta dyes and pigments do (from memory), scatter as widely as a phone without a chart reads
_INK_SD = np.array([4.0, 7.0, 7.0])
_LEAST_LIGHT, _LEAST_DENSITY = 1e-3, 1e-3
_NEAR = 1.5  # standard deviations within which no interval leaves out that the colour is sound


def published_solids(ink: str) -> tuple[Lab, ...]:
    """Media-relative CIELAB of a solid under every published condition; empty for an ink that none has."""
    aims = (published(name).relative.get(ink) for name in conditions())
    return tuple(aim for aim in aims if aim is not None)


@lru_cache(maxsize=16)
def _family(aims: tuple[Lab, ...]) -> NDArray[np.float64]:
    """Colours (N, 3) that sound inks with these aims print: Beer and Lambert for the load, Murray and Davies."""
    white = lab_to_xyz((100.0, 0.0, 0.0))
    light = np.maximum(lab_to_xyz(np.array(aims)) / white, 1e-4)
    through = light[:, None, None, :] ** np.array(_LOADS)[None, :, None, None]
    cover = np.array(_COVERS)[None, None, :, None]
    return np.asarray(xyz_to_lab(((1.0 - cover + cover * through) * white).reshape(-1, 3)), np.float64)


def _beside(lab: NDArray[np.float64], absorbs: str) -> NDArray[np.float64]:
    """Density in the two other channels over that in the channel an ink absorbs, (N, 2), of colours (N, 3)."""
    light = lab_to_xyz(lab) @ XYZ_TO_LINEAR.T
    density = -np.log10(np.clip(light, _LEAST_LIGHT, 1.0))
    own = "rgb".index(absorbs)
    others = np.delete(density, own, axis=1)
    return np.asarray(others / np.maximum(density[:, own : own + 1], _LEAST_DENSITY), np.float64)


def off_sound(
    lab: NDArray[np.float64], sd: NDArray[np.float64], aims: tuple[Lab, ...], absorbs: str,
    black: NDArray[np.bool_] | None = None,
) -> float:  # fmt: skip
    """Lower end of the 95 % interval of CIEDE2000 between a solid and the sound colour that it is most like.

    Parameters
    ----------
    lab, sd : (3,) float64
        Media-relative CIELAB of the solid, and the capture's standard deviation of it.
    aims : tuple of Lab
        What sound inks of its name look like at full strength; at least one.
    absorbs : str
        Its channel: ``"r"``, ``"g"`` or ``"b"``.
    black : (3,) bool, optional
        Channels that the picture cuts at black.

    Returns
    -------
    float
        0 where the solid may well be sound.
    """
    family = _family(aims)
    if black is not None and black.any():
        least = np.where(black, XYZ_TO_LINEAR @ lab_to_xyz(lab), -np.inf)
        family = xyz_to_lab(light_to_xyz(np.maximum(lab_to_xyz(family) @ XYZ_TO_LINEAR.T, least)))
    if (_beside(lab[None], absorbs)[0] <= _beside(family, absorbs).max(axis=0)).all():
        return 0.0
    sd = np.maximum(sd, _INK_SD)
    away = np.square((family - lab) / sd).sum(axis=1)
    nearest = int(away.argmin())
    if away[nearest] < _NEAR**2:
        return 0.0
    return delta_e00_interval(lab, family[nearest], np.diag(np.square(sd)))[1]
