"""Inks in overprints and the grey of mid-tones, from colours an outside model lays over one another."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.geometry import Box
from printcheck.measure.areas import Area, InkAreas
from printcheck.measure.colour import CaptureColour
from printcheck.measure.overprints import read_grey, read_overprints
from printcheck.simulate.inks import demichel, primaries
from printcheck.simulate.spectra import absorbance, sensor

Floats = NDArray[np.float64]
INK_SET, WEIGHTS = "dye-b", sensor("scanner-lamp-b")
LOOK = CaptureColour("scan", None)


def light_of(loads: Mapping[str, float], cover: float = 1.0) -> Floats:
    """Light relative to paper (3,) of inks over one another, each with its dye load, covering independently."""
    inks = [load * absorbance(INK_SET, name) for name, load in loads.items()]
    bare = primaries([], np.ones(31), WEIGHTS)[0]
    shares = demichel(np.full((len(inks), 1), cover))[:, 0]
    return np.asarray(shares @ primaries(inks, np.ones(31), WEIGHTS) / bare)


def area_of(kind: str, inks: tuple[str, ...], light: Floats) -> Area:
    return Area(kind, inks, 0.5 if kind == "tint" else 1.0, Box(0, 0, 10, 8), light, np.ones(3), np.full(3, 0.001))


def sheet(**loads: float) -> dict[str, InkAreas]:
    out = {}
    for name in "CMY":
        load = loads.get(name, 1.0)
        tint = area_of("tint", (name,), light_of({name: load}, 0.5))
        out[name] = InkAreas(name, area_of("solid", (name,), light_of({name: load})), (tint,), None)
    return out


@pytest.mark.parametrize("inks", [("C", "M"), ("C", "Y"), ("M", "Y"), ("C", "M", "Y")])
def test_a_sound_overprint_holds_all_its_inks(inks: tuple[str, ...]) -> None:
    both = area_of("overprint", inks, light_of(dict.fromkeys(inks, 1.0)))
    (reading,) = read_overprints([both], sheet(), LOOK)
    assert [(p.ink, p.state) for p in reading.inks] == [(ink, "present") for ink in inks]


@pytest.mark.parametrize("inks", [("C", "M"), ("C", "Y"), ("M", "Y")])
@pytest.mark.parametrize(("load", "state"), [(0.0, "missing"), (0.3, "weak")])
def test_an_ink_that_does_not_come_is_named(inks: tuple[str, ...], load: float, state: str) -> None:
    for short in inks:
        light = light_of({ink: load if ink == short else 1.0 for ink in inks})
        (reading,) = read_overprints([area_of("overprint", inks, light)], sheet(), LOOK)
        assert {p.ink: p.state for p in reading.inks} == {i: state if i == short else "present" for i in inks}


def test_an_ink_that_is_weak_everywhere_is_no_fault_of_the_overprint() -> None:
    light = light_of({"M": 0.7, "Y": 1.0})
    (reading,) = read_overprints([area_of("overprint", ("M", "Y"), light)], sheet(M=0.7), LOOK)
    assert all(p.state == "present" for p in reading.inks)


def test_without_ink_in_a_solid_there_is_nothing_to_compare_with() -> None:
    light = light_of({"Y": 1.0})
    assert read_overprints([area_of("overprint", ("M", "Y"), light)], sheet(M=0.0), LOOK) == ()


def test_grey_leans_away_from_the_ink_that_is_short() -> None:
    def lean(**loads: float) -> Floats:
        grey = read_grey(sheet(**loads), LOOK)
        assert grey is not None
        return np.array(grey.lab[1:])

    even = lean()
    # CIELAB: less magenta leans green (-a*), less yellow blue (-b*), less cyan red (+a*; it takes green light too)
    assert lean(M=0.5)[0] < even[0] - 3
    assert lean(Y=0.5)[1] < even[1] - 3
    assert lean(C=0.5)[0] > even[0] + 0.5
    both = sheet()
    del both["M"]
    assert read_grey(both, LOOK) is None


def test_grey_of_tints_is_that_of_dots_over_one_another() -> None:
    # Demichel (1924) and Neugebauer (1937), worked in full by the outside model: all eight overlaps
    grey = read_grey(sheet(), LOOK)
    assert grey is not None
    printed = LOOK.see(area_of("tint", ("C", "M", "Y"), light_of({"C": 1.0, "M": 1.0, "Y": 1.0}, 0.5)))[0]
    assert np.abs(np.array(grey.lab) - printed).max() < 4.0
