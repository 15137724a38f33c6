"""Foreign ink on sheets whose inks fade, and on even ones: false names, what is found, trends and intervals.

    python benchmarks/survey_running_dry.py --count 90

No picture is made: solids and run-off strips are spectra through a scanner's or camera's channels, matrix, tone curve
and stray light, all drawn at random. Fading inks lose 5 to 45 % down the page, as dye load, as cover or as both, all
three on a sheet. Scans are judged by a house reference, photos by published solids.
"""

from __future__ import annotations

import argparse
import itertools
from collections import Counter

import numpy as np
from numpy.typing import NDArray

from printcheck.colour.linear import linear_to_srgb, srgb_to_linear
from printcheck.geometry import Box
from printcheck.measure.areas import Area, InkAreas, Strip
from printcheck.measure.contamination import house_basis, published_basis, read_contamination
from printcheck.simulate import spectra
from printcheck.simulate.inks import SURFACE, mixed
from printcheck.simulate.tone import sensor_to_srgb

Floats = NDArray[np.float64]
INKS = ("C", "M", "Y")
PAIRS = tuple(itertools.permutations(INKS, 2))
TRENDS = ("none", "steady", "clearing", "growing")
Y_MM = np.linspace(30.0, 245.0, 54)
_LEAST = {"C": 0.05, "M": 0.05, "Y": 0.03}  # shares of foreign ink that are planted, up to a quarter
_STRAY = 0.004


class Capture:
    """One scanner or camera, and the noise of what it reads."""

    def __init__(self, rng: np.random.Generator, *, photo: bool) -> None:
        kind = "camera" if photo else "scanner"
        self.weights = spectra.sensor(str(rng.choice([name for name in spectra.SENSORS if name.startswith(kind)])))
        part = rng.uniform(0.7, 1.0)
        self.matrix = (1.0 - part) * np.eye(3) + part * sensor_to_srgb(self.weights)
        tint = np.array([rng.uniform(0.93, 1.07), 1.0, rng.uniform(0.9, 1.1)])
        self.lamp = rng.uniform(0.5, 0.95) * tint if photo else np.full(3, 0.9)
        curved = rng.random() < 0.5
        self.bend = rng.uniform(0.0, 0.6) if photo and curved else 0.0
        self.power = rng.uniform(1.9, 2.6) / 2.2 if photo and not curved else 1.0
        self.noise, self.read, self.uneven = (0.004, 0.002, 0.01) if photo else (0.0015, 0.0005, 0.002)
        self.drift = rng.normal(0.0, 0.01 if photo else 0.003, 3)  # of the light, down the page

    def sees(self, spectrum: Floats) -> Floats:
        """Light (..., 3), taken for sRGB, of spectra (..., 31)."""
        value = linear_to_srgb(np.clip((self.lamp * (spectrum @ self.weights.T)) @ self.matrix.T + _STRAY, 0.0, 1.0))
        value = (value * (1.0 - self.bend) + self.bend * (3.0 - 2.0 * value) * value**2) ** self.power
        return np.asarray(srgb_to_linear(value), np.float64)


def sheet(
    rng: np.random.Generator, *, photo: bool, fading: bool, foreign: tuple[str, str, Floats] | None
) -> tuple[dict[str, InkAreas], dict[str, Floats]]:
    """Areas of a sheet of which one ink holds ``(own, other, shares down the page)``; light of its sound solids."""
    capture = Capture(rng, photo=photo)
    dyes = str(rng.choice(list(spectra.INK_SETS)))
    inks = {name: spectra.absorbance(dyes, name) for name in INKS}
    paper = spectra.paper(str(rng.choice(list(spectra.PAPERS))))
    bare, areas, sound = capture.sees(paper), {}, {}

    def light(density: Floats, cover: float) -> Floats:
        return np.asarray(paper * (1.0 - cover + cover * (SURFACE + (1.0 - SURFACE) * 10.0**-density)))

    for name in INKS:
        load, cover, of_cover = rng.uniform(0.85, 1.1), rng.uniform(0.96, 1.0), rng.uniform(0.0, 0.8)
        left = 1.0 - (rng.uniform(0.05, 0.45) if fading else 0.0) * np.clip((Y_MM - 40.0) / 220.0, 0.0, 1.0)
        other, shares = (foreign[1], foreign[2]) if foreign and foreign[0] == name else ("", 0.0 * Y_MM)
        strip = np.array(
            [
                light(
                    load * v ** (1.0 - of_cover) * mixed(name, {other: s} if other else {}, inks), cover * v**of_cover
                )
                for v, s in zip(left, shares, strict=True)
            ]
        )
        ratio = capture.sees(strip) / bare * (1.0 + capture.noise * rng.standard_normal((len(Y_MM), 3)))
        ratio *= np.exp(capture.drift * np.linspace(-0.5, 0.5, len(Y_MM))[:, None])
        at = rng.uniform(60.0, 200.0)
        solid = capture.sees(strip[int(np.argmin(np.abs(Y_MM - at)))] * (1.0 + rng.normal(0.0, capture.uneven)))
        box = Box(20, at - 5, 80, at + 5)
        area = Area("solid", (name,), 1.0, box, solid, bare, np.full(3, capture.read))
        areas[name] = InkAreas(name, area, (), Strip(Y_MM, ratio, np.full(3, capture.noise)))
        sound[name] = capture.sees(light(load * inks[name], cover)) / bare * (1 + 0.001 * rng.standard_normal(3))
    return areas, sound


def shares_of(trend: str, least: float, rng: np.random.Generator) -> Floats:
    share, length = least * (0.25 / least) ** rng.uniform(), rng.uniform(60.0, 280.0)
    if trend == "clearing":
        return np.asarray(max(share, 2.0 * least) * np.exp(-(Y_MM - 30.0) / length))
    return share / 2.0 * (1.0 + (Y_MM - 30.0) / length) if trend == "growing" else np.full(len(Y_MM), share)


def judge(count: int, trend: str, *, photo: bool, fading: bool) -> Counter[str]:
    rng, told = np.random.default_rng(3), Counter[str]()
    for number in range(count):
        own, other = PAIRS[number % len(PAIRS)]
        shares = shares_of(trend, _LEAST[own], rng)
        planted = (own, other, shares) if trend != "none" else None
        areas, sound = sheet(rng, photo=photo, fading=fading, foreign=planted)
        basis = (
            published_basis(areas, "FOGRA47L", photo=True) if photo else house_basis("shop", sound, same_capture=True)
        )
        for reading in read_contamination(areas, basis, photo=photo):
            if planted is None or reading.ink != own:
                told["clean inks"] += 1
                told["falsely named"] += bool(reading.foreign)
                continue
            found = (reading.foreign or (None,))[0]
            right = found is not None and found.ink == other
            told["planted"] += 1
            told["found"] += right
            told["another ink named"] += found is not None and not right
            if found is not None and right:
                told["interval holds"] += bool(found.ci95[0] <= shares.max() <= found.ci95[1])
                told["trend right"] += reading.trend == trend
    return told


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=90, help="sheets of each sort")
    args = parser.parse_args()
    for photo, fading, trend in itertools.product((False, True), (False, True), TRENDS):
        told = judge(args.count, trend, photo=photo, fading=fading)
        name = f"{'photo' if photo else 'scan'}, {'fading' if fading else 'even'}, foreign ink {trend}"
        print(f"{name:40}" + ", ".join(f"{what} {number}" for what, number in told.items()), flush=True)


if __name__ == "__main__":
    main()
