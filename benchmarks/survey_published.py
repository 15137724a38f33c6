"""Sheets of just the published solids, scanned as they are, without a reference: what is found of another ink in one.

    python benchmarks/survey_published.py

No picture is made: each sheet is the light of its solids alone, as sRGB holds it. One colour holds another ink, mixed
in the chamber (densities add by their shares, Beer and Lambert), printed in dots beside its own (light adds by areas)
or in dots on top of it. Each line counts pairs of inks: rightly named / named otherwise / of these with the right one
among the rivals / not named, and of these admitted by ``could_hide``.
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from printcheck.colour.lab import lab_to_xyz
from printcheck.colour.published import published
from printcheck.geometry import Box
from printcheck.measure.areas import XYZ_TO_LINEAR, Area, InkAreas, Strip
from printcheck.measure.contamination import published_basis, read_contamination
from printcheck.measure.drawn_inks import DRAWN

Floats = NDArray[np.float64]
SOURCES = ("FOGRA47L", "FOGRA39L", "FOGRA51", *DRAWN)
WAYS = ("mixed", "beside", "on top")
SHARES = (0.05, 0.1, 0.2, 0.3)
_DARKEST, _PAPER, _SCATTER = 0.003, 0.9, np.full(3, 0.0005)
_Y_MM = np.linspace(30.0, 240.0, 50)


def solids(source: str, head: str) -> dict[str, Floats]:
    """Linear light (3,) of the inks, relative to paper, as sRGB holds it."""
    if source in DRAWN:
        return {ink: DRAWN[source][ink] for ink in head}
    aims = published(source).relative
    return {ink: np.maximum(XYZ_TO_LINEAR @ lab_to_xyz(np.array(aims[ink])), 0.0) for ink in head}


def put_in(own: Floats, other: Floats, share: float, way: str) -> Floats:
    """Light (3,) of an ink that holds a share of another."""
    if way == "mixed":
        return np.asarray(np.maximum(own, _DARKEST) ** (1.0 - share) * np.maximum(other, _DARKEST) ** share)
    return np.asarray((1.0 - share) * own + share * (other if way == "beside" else own * other))


def scanned(light: dict[str, Floats], rng: np.random.Generator) -> dict[str, InkAreas]:
    out = {}
    for ink, one in light.items():
        seen = np.clip(one, 2e-4, 1.0)
        area = Area("solid", (ink,), 1.0, Box(20, 170, 100, 187), _PAPER * seen, np.full(3, _PAPER), _SCATTER)
        strip = Strip(_Y_MM, seen * (1.0 + 0.002 * rng.standard_normal((50, 3))), _SCATTER)
        out[ink] = InkAreas(ink, area, (), strip)
    return out


def count(source: str, head: str, way: str, share: float) -> str:
    right = named = rival = unnamed = admitted = 0
    for own, other in itertools.permutations(head, 2):
        if own == "K":
            continue
        light = solids(source, head)
        light[own] = put_in(light[own], light[other], share, way)
        areas = scanned(light, np.random.default_rng(4))
        basis = published_basis(areas, "FOGRA47L")
        found = next(r for r in read_contamination(areas, basis, photo=False) if r.ink == own)
        if not found.foreign:
            unnamed += 1
            admitted += (found.could_hide or 0.0) >= share
        elif found.foreign[0].ink == other:
            right += 1
        else:
            named += 1
            rival += other in (*found.foreign[0].rivals, *(one.ink for one in found.foreign))
    return f"{right}/{named}/{rival}/{unnamed}/{admitted}"


def main() -> None:
    print(f"{'':24}" + "".join(f"{100 * share:9.0f} %" for share in SHARES))
    for source, head, way in itertools.product(SOURCES, ("CMYK", "CMY"), WAYS):
        print(f"{source:12}{head:5}{way:7}" + "".join(f"{count(source, head, way, share):>11}" for share in SHARES))


if __name__ == "__main__":
    main()
