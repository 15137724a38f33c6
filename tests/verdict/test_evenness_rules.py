"""What unevenness says about a cartridge, and what it says about the printer only."""

from __future__ import annotations

from dataclasses import replace

import pytest
from readings import reading

from printcheck.measure.evenness_result import Band, BandingReading, Evenness, FadeReading, Spray, StrokeOffset
from printcheck.verdict.evenness_rules import evenness_reasons
from printcheck.verdict.policy import load_policy
from printcheck.verdict.result import Action
from printcheck.verdict.rules import assess

POLICY = load_policy()


def uneven(cause="unmatched", weight=8.0, strokes=None) -> Evenness:
    band = Band("strip", 2.0, 0.01, 1.6, (1.2, 2.0), (), weight, cause, 0.0)
    banding = BandingReading("K", (band,), 0.1, 0.0, 0.1)
    return Evenness((banding,), (None,), None, (), (), (strokes,))


def test_bands_are_held_against_a_cartridge_only_where_nothing_else_explains_them():
    assert [r.measure for r in evenness_reasons(uneven(), POLICY)] == ["banding"]
    assert [(r.measure, r.action) for r in evenness_reasons(uneven("head"), POLICY)] == [("head_bands", Action.PURGE)]
    for cause in ("feed", "passes", "strokes", "rows"):
        assert evenness_reasons(uneven(cause), POLICY) == [], cause


def test_strokes_out_of_line_are_told_and_never_purged_for():
    reasons = evenness_reasons(uneven("feed", strokes=StrokeOffset(0.06, (0.05, 0.07), 17.6)), POLICY)
    assert [(r.measure, r.action) for r in reasons] == [("stroke_offset", Action.TOP_OFF)]
    assert "cartridge is not at fault" in reasons[0].text
    done = assess((reading(),), 0.02, POLICY, extra=reasons)
    assert done.action is Action.TOP_OFF
    assert reasons[0] in done.reasons


def test_spray_is_told_with_what_to_do_and_never_purged_for() -> None:
    spray = (Spray("K", 0.02, 0.15, 0.08),)
    reasons = evenness_reasons(replace(uneven("feed"), spray=spray), POLICY)
    assert [(r.measure, r.ink, r.action) for r in reasons] == [("spray", "K", Action.TOP_OFF)]
    assert "15 %" in reasons[0].text
    assert "right edge" in reasons[0].text
    assert "blot" in reasons[0].text
    assert assess((reading(),), 0.02, POLICY, extra=reasons).action is Action.TOP_OFF
    for clean in (Spray("K", 0.05, 0.06, 0.08), None):
        assert evenness_reasons(replace(uneven("feed"), spray=(clean,)), POLICY) == []


def test_an_offset_that_may_be_small_is_not_told():
    assert evenness_reasons(uneven("feed", strokes=StrokeOffset(0.022, (0.017, 0.027), 17.6)), POLICY) == []
    assert evenness_reasons(uneven("feed", strokes=None), POLICY) == []


@pytest.mark.parametrize("kind", ["fade", "starvation"])
@pytest.mark.parametrize(
    ("lost", "unsure", "scan", "photo"),
    [(7.2, 6.2, False, True), (7.2, 4.0, True, True), (3.0, 2.9, False, False), (4.0, 4.5, False, False)],
)
def test_a_photo_asks_for_a_scan_where_a_scan_would_not_be_sure_yet(kind, lost, unsure, scan, photo) -> None:
    """Losses in L*, of which the limit of fade is 2: by two standard deviations, or by one."""
    lost += POLICY[kind].top_off - 2.0
    fade = FadeReading("C", kind, lost, (lost - unsure, lost + unsure), 0.8, lost, 40.0, 245.0, ())
    sheet = Evenness((None,), (fade,), None, (), ())
    assert [r.measure for r in evenness_reasons(sheet, POLICY)] == [kind] * scan
    assert [r.measure for r in evenness_reasons(sheet, POLICY, photo=True)] == [kind] * photo


def test_specks_that_compression_hides_ask_for_a_better_picture_where_nothing_else_is_wrong() -> None:
    coarse = Evenness((None,), (None,), None, (), (), blocks=0.1)
    reasons = evenness_reasons(coarse, POLICY)
    assert [(r.measure, r.action) for r in reasons] == [("compression", Action.RESCAN)]
    assert assess((reading(),), 0.02, POLICY, extra=reasons).action is Action.RESCAN
    assert assess((reading(missing={4, 50}),), 0.02, POLICY, extra=reasons).action is Action.PURGE
    assert evenness_reasons(replace(coarse, blocks=0.05), POLICY) == []
