"""The one thing to change about a picture: the most hindering first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from printcheck.measure.quality import Quality, what_to_change

GOOD = Quality(300.0, 4.0, 0.6, 0.0, 0.1, 1.0, 0.02)


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ({"inside": 0.5}, "put the whole sheet in it"),
        ({"dots_per_inch": 60.0}, "go closer"),
        ({"cycles_per_mm": 0.8}, "hold steadier"),
        ({"clipped": 0.3}, "turn off the lamp above"),
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
