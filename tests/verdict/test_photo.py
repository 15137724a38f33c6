"""Colour and fade in a photo ask for a scan; lines decide all the same."""

from __future__ import annotations

from printcheck.verdict.photo import doubtful_in_a_photo, to_be_scanned
from printcheck.verdict.result import Action, Reason


def reason(measure: str) -> Reason:
    return Reason(measure, "C", 4.0, 2.0, "L*", Action.PURGE, f"cyan: {measure}")


def test_colour_and_fade_are_not_for_a_photo_to_decide() -> None:
    """A phone without a reference errs by more than 10 deltaE00 (Taiwanese study of several phones and lights)."""
    sure, doubtful = doubtful_in_a_photo([reason("fade"), reason("air"), reason("foreign_ink"), reason("wrong_ink")])
    assert [r.measure for r in sure] == ["wrong_ink"]
    assert [r.measure for r in doubtful] == ["fade", "air", "foreign_ink"]


def test_what_is_left_in_doubt_asks_for_a_scan() -> None:
    (asked,) = to_be_scanned([reason("fade")])
    assert asked.action is Action.RESCAN
    assert "photo" in asked.text
    assert asked.value == 4.0
