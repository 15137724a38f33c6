"""Inks as programs draw them: what a sheet shows that was never printed, or printed by a simulation."""

from __future__ import annotations

import numpy as np

from printcheck.colour.linear import srgb_to_linear
from printcheck.pattern.inks import INKS

__all__ = ["DRAWN"]

# 8-bit sRGB that stand for the process inks where a program shows them on a screen; common practice, no source
_ON_SCREEN = {"C": (0, 174, 239), "M": (236, 0, 140), "Y": (255, 242, 0), "K": (35, 31, 32)}

DRAWN = {
    name: {ink: srgb_to_linear(np.array(paint) / 255.0) for ink, paint in paints.items()}
    for name, paints in (("on screen", _ON_SCREEN), ("in the file", {ink: INKS[ink].rgb for ink in _ON_SCREEN}))
}
"""Linear sRGB light (3,) of the inks, relative to paper: on screens, and in the sheet's own file."""
