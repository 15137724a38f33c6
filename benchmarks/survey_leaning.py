"""How far colours lean to another ink, clean and mixed: rates by the share that is in the chamber.

    python benchmarks/survey_leaning.py --count 400
    python benchmarks/survey_leaning.py --peak 6 --relative 0.08     # makers that differ more
    python benchmarks/survey_leaning.py --scan

No picture is made: each sheet is the light of its solids alone, from spectra, through a camera's channels and
matrix, its white balance, a tone curve and stray light, all drawn at random; with `--scan` through a scanner's, half
of them with a profile that undoes matrix and curve. Other makers' dyes are those of the simulator with every peak
moved by `--peak` nm and every height and width changed by `--relative` (standard deviations).
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printcheck.colour.linear import linear_to_srgb, srgb_to_linear
from printcheck.geometry import Box
from printcheck.measure.areas import Area, InkAreas
from printcheck.measure.contamination import published_basis
from printcheck.measure.leaning import leanings
from printcheck.measure.result import ContaminationReading
from printcheck.simulate import spectra
from printcheck.simulate.inks import SURFACE, mixed
from printcheck.simulate.tone import sensor_to_srgb
from printcheck.verdict.colour_rules import colour_reasons
from printcheck.verdict.policy import load_policy

Floats = NDArray[np.float64]
INKS = ("C", "M", "Y", "K")
PAIRS = [(own, other) for own in INKS[:3] for other in INKS if own != other]
SHARES = (0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
_CAMERAS, _SCANNERS = ("camera-a", "camera-b"), ("scanner-led-a", "scanner-lamp-a")
_FLARE = 0.004
SOUND = ContaminationReading("C", "published FOGRA47L", (), "none", None, None, None)


def dye(bells: Any, rng: np.random.Generator, peak_nm: float, relative: float) -> Floats:
    """Absorbance (31,) of another maker's dye of the same kind."""
    out = np.zeros(spectra.BANDS)
    for height, peak, *widths in bells:
        middle = peak + rng.normal(0.0, peak_nm)
        short, long = (width * np.exp(rng.normal(0.0, relative)) for width in widths)
        width = np.where(middle > spectra.WAVELENGTHS, short, long)
        bell = np.exp(-0.5 * ((spectra.WAVELENGTHS - middle) / width) ** 2)
        out += height * np.exp(rng.normal(0.0, relative)) * bell
    return out


def captured(
    rng: np.random.Generator, peak_nm: float, relative: float, foreign: tuple[str, str, float] | None, *, scan: bool
) -> dict[str, InkAreas]:
    """The solids of one sheet, of which one may hold ``(own, other, share)``."""
    ink_set = spectra.INK_SETS[str(rng.choice(list(spectra.INK_SETS)))]
    inks = {name: dye(ink_set[name], rng, peak_nm, relative) for name in INKS}
    paper = spectra.paper(str(rng.choice(list(spectra.PAPERS))))
    weights = spectra.sensor(str(rng.choice(_SCANNERS if scan else _CAMERAS)))
    profile = scan and rng.random() < 0.5
    part = 1.0 if profile else rng.uniform(0.7, 1.0)  # how far the colour correction goes
    matrix = (1.0 - part) * np.eye(3) + part * sensor_to_srgb(weights)
    lamp = rng.uniform(0.5, 0.95) * np.array([rng.uniform(0.93, 1.07), 1.0, rng.uniform(0.9, 1.1)])
    bend, power = (rng.uniform(0.0, 0.6), 1.0) if rng.random() < 0.5 else (0.0, rng.uniform(1.9, 2.6) / 2.2)
    if scan:
        lamp, bend, power = np.full(3, 0.9), 0.0, 1.0 if profile else rng.uniform(1.8, 2.6) / 2.2

    def seen(light: Floats) -> Floats:
        value = linear_to_srgb(np.clip(matrix @ (lamp * (weights @ light)) + _FLARE, 0.0, 1.0))
        value = (value * (1.0 - bend) + bend * (3.0 - 2.0 * value) * value**2) ** power
        return np.asarray(srgb_to_linear(value), np.float64)

    bare, areas = seen(paper), {}
    for name in INKS:
        own, other, share = foreign or ("", "", 0.0)
        density = mixed(name, {other: share} if name == own else {}, inks) * rng.uniform(0.8, 1.1)
        cover = rng.uniform(0.96, 1.0)
        light = paper * (1.0 - cover + cover * (SURFACE + (1.0 - SURFACE) * 10.0**-density))
        # light that the paper beside it doesn't get
        solid = seen(light * (1.0 + rng.normal(0.0, 0.0 if scan else 0.015)))
        area = Area("solid", (name,), 1.0, Box(20, 40, 80, 50), solid, bare, np.full(3, 0.002))
        areas[name] = InkAreas(name, area, (), None)
    return areas


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--count", type=int, default=400, help="clean sheets; a tenth as many for each pair and share"
    )
    parser.add_argument("--peak", type=float, default=4.0, help="nm")
    parser.add_argument("--relative", type=float, default=0.06)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--scan", action="store_true", help="scans in place of photos")
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    policy = load_policy()

    def beyond(foreign: tuple[str, str, float] | None) -> bool:
        areas = captured(rng, args.peak, args.relative, foreign, scan=args.scan)
        basis = published_basis(areas, "FOGRA47L", photo=not args.scan)
        found = leanings(areas, basis, photo=not args.scan)
        return any(
            colour_reasons([replace(SOUND, leaning=one)], policy, photo=not args.scan) for one in found.values()
        )

    clean = sum(beyond(None) for _ in range(args.count))
    print(f"clean sheets beyond the limit: {clean} of {args.count}")
    each = max(1, args.count // 10)
    found = Counter(
        {(*pair, share): sum(beyond((*pair, share)) for _ in range(each)) for share in SHARES for pair in PAIRS}
    )
    print("share        " + "".join(f"{100 * share:5.0f} %" for share in SHARES))
    for own, other in PAIRS:
        print(f"{other} in {own}       " + "".join(f"{100 * found[own, other, s] / each:5.0f} %" for s in SHARES))
    of_all = [100 * sum(found[(*pair, s)] for pair in PAIRS) / (each * len(PAIRS)) for s in SHARES]
    print("all          " + "".join(f"{one:5.0f} %" for one in of_all))


if __name__ == "__main__":
    main()
