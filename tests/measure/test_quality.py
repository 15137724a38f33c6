"""The one thing to change about a picture: the most hindering first."""

from __future__ import annotations

from dataclasses import replace

import cv2
import pytest
from readings import reading

from printcheck.measure.quality import Quality, measure_quality, what_to_change

GOOD = Quality(300.0, 4.0, 0.6, 0.0, 0.1, 1.0, 0.02)


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ({"inside": 0.5}, "put the whole sheet in it"),
        ({"dots_per_inch": 60.0}, "go closer"),
        ({"cycles_per_mm": 0.8}, "hold steadier"),
        ({"clipped": 0.3}, "turn off the lamp above"),
        ({"clipped": 0.9}, "turn document mode and any lamp"),
        ({"paper_light": 0.02}, "more light"),
        ({"perspective": 1.5}, "flat above it"),
        ({"doubt_mm": 0.25}, "lay it flat"),
        ({"brightest": 2.0}, "A lamp is mirrored"),
    ],
)
def test_each_fault_has_its_own_advice(fault: dict[str, float], says: str) -> None:
    assert says in what_to_change(replace(GOOD, **fault), (), "photo")
    assert says not in what_to_change(GOOD, (), "photo")


def test_a_scan_that_is_not_flat_is_to_be_closed_in() -> None:
    assert "lid closed" in what_to_change(replace(GOOD, doubt_mm=0.25), (), "scan")


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ({"clipped": 1.0}, "turn automatic levels"),
        ({"clipped": 1.0, "doubt_mm": 0.25}, "lid closed"),
        ({"dots_per_inch": 150.0, "cycles_per_mm": 1.2, "clipped": 1.0}, "only 150 dots/inch: scan it at 300"),
        ({"cycles_per_mm": 1.2, "clipped": 1.0}, "blurred"),
    ],
)
def test_a_scan_has_no_lamp_above_it(fault: dict[str, float], says: str) -> None:
    """Paper at the ceiling is what automatic levels leave, and no reason why lines can't be read."""
    blind = replace(reading("C"), unreadable=(3,))
    assert says in what_to_change(replace(GOOD, **fault), (blind,), "scan")


@pytest.mark.parametrize(
    ("dots_per_inch", "fills", "says"),
    [
        (280.0, 0.8, "takes up only 80 % of the picture and shows at only 280 dots/inch: go nearer"),
        (230.0, 0.65, "go nearer"),
        (260.0, 0.93, "more megapixels"),
        (325.0, 0.93, "in even light"),
        (420.0, 0.65, "in even light"),
    ],
)
def test_a_sheet_too_small_for_its_dashes_is_asked_for_from_nearer(dots_per_inch, fills, says) -> None:
    plain = reading("C")
    blind = replace(plain, dashes=tuple(dash._replace(state="unreadable") for dash in plain.dashes))
    quality = replace(GOOD, dots_per_inch=dots_per_inch, fills=fills)
    assert says in what_to_change(quality, (blind,), "photo")
    assert "nearer" not in what_to_change(quality, (blind,), "scan")
    assert "nearer" not in what_to_change(quality, (plain,), "photo")


def test_how_much_of_the_picture_a_sheet_fills(drawn) -> None:
    sheet = drawn("mono-416", 150)
    pixels = sheet.pixels()
    assert measure_quality(pixels, sheet.registration).fills == pytest.approx(1.0, abs=0.01)
    around = cv2.copyMakeBorder(pixels, 0, round(len(pixels) / 4), 0, len(pixels), cv2.BORDER_REPLICATE)
    assert measure_quality(around, sheet.registration).fills == pytest.approx(0.8, abs=0.01)


@pytest.mark.parametrize(
    ("fault", "says"), [({"clipped": 0.3}, "turn off the lamp"), ({"paper_light": 0.02}, "more light")]
)
def test_burnt_out_or_dark_comes_before_coarse(fault: dict[str, float], says: str) -> None:
    """Going nearer would not bring back dashes that a lamp's reflection has taken."""
    plain = reading("C")
    blind = replace(plain, dashes=tuple(dash._replace(state="unreadable") for dash in plain.dashes))
    coarse = replace(GOOD, dots_per_inch=260.0, fills=0.93)
    assert says in what_to_change(replace(coarse, **fault), (blind,), "photo")


@pytest.mark.parametrize("kind", ["scan", "photo"])
def test_lines_that_a_jpegs_steps_took_are_asked_for_in_full_quality(kind: str) -> None:
    blind = replace(reading("Y"), unreadable=(3,))
    assert "full quality" in what_to_change(GOOD, (replace(blind, rounded=True),), kind)
    assert "full quality" not in what_to_change(GOOD, (blind,), kind)
    assert "full quality" not in what_to_change(GOOD, (replace(reading("Y"), rounded=True),), kind)
