"""What a toner sheet's readings lead to, judged without an image."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from printcheck.ledger.toner_trend import DensityTrend, density_trend, trend_in_words
from printcheck.measure.toner_result import (
    FadeDown,
    FogReading,
    PartMatch,
    RepeatReading,
    SolidDensity,
    StreakReading,
    TonerBand,
    TonerReading,
)
from printcheck.verdict.compare_toner import compare_toner
from printcheck.verdict.history import CleaningHistory
from printcheck.verdict.policy import load_policy
from printcheck.verdict.result import Action, Assessment
from printcheck.verdict.rules import assess, with_history
from printcheck.verdict.steps import load_steps
from printcheck.verdict.toner_rules import printer_notes, toner_facts, toner_reasons

SOUND = TonerReading(
    FogReading(-0.1, (-0.4, 0.2), 4),
    tuple(SolidDensity(x, y, 1.3, 0.002, 27.0) for x in (36.0, 174.0) for y in (48.0, 237.0)),
    1.3,
    (1.29, 1.31),
    0.03,
    (),
    (FadeDown(0.5, 60.0, 0.2, (-0.6, 1.0)),),
    (),
    (),
    2,
)
DRUM = PartMatch("drum", 30.0, 0.4, "cartridge", "clean", "look for a nick {in} it.")
REPEAT = RepeatReading(True, False, 63.0, (26.0, 120.0, 214.0), 94.2, (93.9, 94.5), 0, 1e-5, (DRUM,))


BAND = TonerBand(94.2, (93.6, 94.8), 1.6, (1.1, 2.1), "tint 50 %", 70.0, (51.0, 145.2, 239.4), (DRUM,))


def judge(toner: TonerReading) -> Assessment:
    policy = load_policy()
    return assess((), 0.02, policy, extra=toner_reasons(toner, policy), facts=toner_facts(toner), toner=True)


def test_a_sound_cartridge_is_filled_sealed_and_packed() -> None:
    done = judge(SOUND)
    assert done.action is Action.TOP_OFF
    (step,) = done.next_steps
    assert "toner to full weight" in step
    assert "pack" in step
    assert "Ink" not in " ".join(done.cautions)


def test_the_cautions_for_toner_dust_are_those_collected() -> None:
    """No ordinary vacuum, cold water only (CCOHS 2019); no compressed air or brushing (UK EH40, quoted)."""
    for action_toner in (SOUND, replace(SOUND, repeats=(REPEAT,))):
        said = " ".join(judge(action_toner).cautions)
        for words in ("No ordinary vacuum", "no compressed air", "no dry brushing", "cold water only", "mask"):
            assert words in said
        assert judge(action_toner).cautions[-1] == load_steps().general


def test_every_toner_step_carries_the_caution_and_speaks_of_no_ink() -> None:
    own = {name: step for name, step in load_steps().steps.items() if name.startswith("toner-")}
    assert own
    for name, step in own.items():
        assert "toner-dust" in step.cautions, name
        assert "ink" not in step.text.lower().replace("drink", "").split(), name


@pytest.mark.parametrize(
    ("change", "measure", "action"),
    [
        ({"repeats": (REPEAT,)}, "toner_repeats", Action.PURGE),
        ({"repeats": (replace(REPEAT, parts=()),)}, "toner_repeats", Action.PURGE),
        ({"repeats": (replace(REPEAT, parts=(replace(DRUM, then="replace"),)),)}, "toner_worn", Action.REJECT),
        ({"bands": (BAND,)}, "toner_bands", Action.PURGE),
        ({"fog": FogReading(-2.0, (-2.5, -1.5), 4)}, "toner_fog", Action.PURGE),
        ({"fog": None, "fog_unsure": 1.6}, "toner_fog_unsure", Action.RESCAN),
        ({"uneven": 0.2}, "toner_uneven", Action.PURGE),
        ({"fade": (FadeDown(0.3, 80.0, 3.0, (2.3, 3.7)),)}, "toner_fade", Action.PURGE),
        ({"streaks": (StreakReading(120.0, 0.5, -1.5, (-1.8, -1.2), 20.0, 10.0, 280.0, "tint 30 %"),)},
         "toner_streaks", Action.PURGE),
        ({"solids": tuple(replace(s, lightness=45.0) for s in SOUND.solids)}, "toner_pale", Action.PURGE),
        ({"repeats": None, "streaks": None, "marks": None}, "toner_unread", Action.RESCAN),
        ({"density": None}, "toner_unread", Action.RESCAN),
        ({"repeats": None, "marks": 646, "hiding": 500}, "toner_crowded", Action.RESCAN),
    ],
)  # fmt: skip
def test_each_fault_leads_to_its_verdict(change: dict, measure: str, action: Action) -> None:
    done = judge(replace(SOUND, **change))
    assert done.action is action
    assert [reason.measure for reason in done.reasons] == [measure]
    assert done.next_steps


@pytest.mark.parametrize(
    "change",
    [
        {"fog": FogReading(-1.2, (-1.8, -0.6), 3)},
        {"fog": None},
        {"fog": None, "fog_unsure": 0.9},
        {"fade": (FadeDown(0.3, 80.0, 2.4, (1.2, 3.6)),)},
        {"streaks": (StreakReading(120.0, 0.5, -1.0, (-1.4, -0.6), 9.0, 10.0, 280.0, "paper"),)},
    ],
)
def test_doubt_condemns_nobody(change: dict) -> None:
    """The interval reaches over the limit, or there is nothing to judge by."""
    assert judge(replace(SOUND, **change)).action is Action.TOP_OFF


def test_the_part_and_the_shops_words_stand_in_the_step() -> None:
    done = judge(replace(SOUND, repeats=(REPEAT,)))
    assert "Wipe the drum" in done.next_steps[0]
    assert "look for a nick (in) it" in done.next_steps[0]
    assert "94.2 mm" in done.reasons[0].text
    assert "drum (30 mm, +/- 0.4)" in done.reasons[0].text


NEW = replace(DRUM, name="old drum", then="replace", what="fit a new one")
FUSER = replace(DRUM, name="fuser roller", of="printer", then="replace", what="clean the fuser")


@pytest.mark.parametrize(
    ("parts", "action", "part", "what"),
    [
        ((NEW,), Action.REJECT, "old drum", "fit a new one"),
        ((NEW, NEW), Action.REJECT, "old drum", "fit a new one"),
        ((FUSER, DRUM), Action.PURGE, "drum", "look for a nick"),
        ((FUSER, NEW), Action.PURGE, "old drum", ""),
        ((NEW, FUSER), Action.PURGE, "old drum", ""),
        ((NEW, DRUM), Action.PURGE, "drum", "look for a nick"),
        ((DRUM, NEW), Action.PURGE, "drum", "look for a nick"),
    ],
)
def test_a_mark_that_other_parts_may_have_made_rejects_no_cartridge(
    parts: tuple[PartMatch, ...], action: Action, part: str, what: str
) -> None:
    """The nearest part isn't the only one that agrees; and what the printer's asks for is not the cartridge's."""
    toner = replace(SOUND, repeats=(replace(REPEAT, parts=parts),))
    assert judge(toner).action is action
    facts = toner_facts(toner)
    assert facts["part"] == f"the {part}"
    assert facts["what"].startswith(f" ({what}" if what else "")
    assert bool(facts["what"]) == bool(what)


def test_the_step_speaks_of_the_part_that_condemns() -> None:
    toner = replace(SOUND, repeats=(REPEAT, replace(REPEAT, parts=(NEW,))))
    done = judge(toner)
    assert done.action is Action.REJECT
    assert toner_facts(toner)["part"] == "the old drum"


def test_a_part_of_the_printer_is_not_held_against_the_cartridge() -> None:
    fuser = replace(REPEAT, parts=(PartMatch("fuser roller", 30.0, 0.6, "printer", "replace", "clean the fuser"),))
    toner = replace(SOUND, repeats=(fuser,))
    assert judge(toner).action is Action.TOP_OFF
    (note,) = printer_notes(toner)
    assert "not of the cartridge" in note
    assert "clean the fuser" in note


def test_a_mark_that_two_cleanings_did_not_take_off_is_worn_in() -> None:
    policy, first = load_policy(), judge(replace(SOUND, repeats=(REPEAT,)))
    facts = {"part": "the drum", "what": ""}
    for cleanings, action in ((0, Action.PURGE), (1, Action.PURGE), (2, Action.REJECT)):
        done = with_history(first, (), policy, CleaningHistory(cleanings), facts=facts, toner=True)
        assert done.action is action
    assert "Recycle the drum: worn" in done.next_steps[0]
    (reason,) = (r for r in done.reasons if r.measure == "toner_repeats_cleanings")
    assert (reason.value, reason.limit) == (2.0, 2.0)
    assert "still after 2 cleanings" in reason.text
    again = with_history(done, (), policy, CleaningHistory(0), facts=facts, toner=True)
    assert again.action is Action.PURGE


@pytest.mark.parametrize(
    ("tried", "counts"),
    [
        ((), 2),
        (("toner-rock", "toner-fill"), 0),  # the mark was never wiped
        (("toner-wipe", "toner-charge"), 2),
        (("toner-wipe", "toner-rock"), 1),
        (("toner-wipe",), 2),
        (("a step of the shop's, renamed by now",), 2),
    ],
)
def test_cleanings_of_other_faults_are_not_held_against_a_mark(tried: tuple[str, ...], counts: int) -> None:
    policy, marked = load_policy(), judge(replace(SOUND, repeats=(REPEAT,)))
    done = with_history(marked, (), policy, CleaningHistory(2, tried), toner=True)
    said = [reason for reason in done.reasons if reason.measure == "toner_repeats_cleanings"]
    assert done.action is (Action.REJECT if counts == 2 else Action.PURGE)
    assert [reason.value for reason in said] == ([2.0] if counts == 2 else [])


def test_fog_that_two_unlike_edges_leave_open_is_scanned_again_and_never_passed() -> None:
    """Fog of 2.2 L* by edges 0.4 apart: by two alone it may be none, and a foggy sheet would top off."""
    fog = FogReading(-2.2, (-4.8, 0.4), 2)
    (reason,) = judge(replace(SOUND, fog=fog, fog_unsure=1.7)).reasons
    assert (reason.measure, reason.action) == ("toner_fog_unsure", Action.RESCAN)
    assert "sides in the picture differ" in reason.text
    (reason,) = judge(replace(SOUND, fog=replace(fog, ci95=(-2.5, -1.9)), fog_unsure=1.9)).reasons
    assert (reason.measure, reason.action) == ("toner_fog", Action.PURGE)
    assert judge(replace(SOUND, fog=replace(fog, dL=-1.0), fog_unsure=0.8)).action is Action.TOP_OFF


def test_a_crowd_of_marks_keeps_a_sheet_from_passing_and_from_nothing_else() -> None:
    """Marks among which a repeating one would go unseen: other faults decide; without any the sheet is scanned."""
    crowded = replace(SOUND, repeats=None, hiding=60)
    (reason,) = judge(crowded).reasons
    assert "60 marks" in reason.text
    assert "scan" not in reason.text  # what to do depends on what it was read from
    assert judge(replace(crowded, uneven=0.2)).action is Action.PURGE
    assert judge(replace(crowded, repeats=(REPEAT,))).action is Action.PURGE
    fuser = replace(REPEAT, parts=(PartMatch("fuser roller", 30.0, 0.6, "printer", "replace", ""),))
    assert judge(replace(crowded, repeats=(fuser,))).action is Action.RESCAN
    fewer = replace(SOUND, hiding=60)
    assert compare_toner(replace(SOUND, repeats=(REPEAT,)), fewer) == ()


def test_before_and_after_are_told_apart_beyond_their_intervals() -> None:
    before = replace(SOUND, repeats=(REPEAT,), density=1.1, density_ci95=(1.08, 1.12))
    ways = {change.text.split(",")[0]: change.way for change in compare_toner(before, SOUND)}
    assert ways == {"the mark every 94.2 mm is gone": "better", "density 1.10 before": "better"}
    assert {change.way for change in compare_toner(SOUND, before)} == {"worse"}
    assert compare_toner(SOUND, replace(SOUND, density=1.305, density_ci95=(1.295, 1.315))) == ()


def test_fade_from_page_to_page_needs_three_sheets_and_comes_with_its_interval() -> None:
    """DIN 33870-2 looks at three pages. A line through 1.30, 1.24, 1.18 has the slope -0.06."""
    reports = [{"toner": {"density": {"visual": v, "ci95": [v - 0.02, v + 0.02]}}} for v in (1.30, 1.24, 1.18)]
    trend = density_trend([reports[0], {"toner": None}, {}, *reports[1:]])
    assert trend is not None
    assert trend.slope == pytest.approx(-0.06)
    assert trend.ci95[0] < -0.06 < trend.ci95[1] < 0
    assert "fades from page to page" in trend_in_words(trend)
    assert density_trend(reports[:2]) is None
    flat = density_trend([reports[0]] * 4)
    assert flat is not None
    assert "no fade" in trend_in_words(flat)


def told_of(densities: Iterable[float], half: float) -> DensityTrend:
    reports = [{"toner": {"density": {"visual": v, "ci95": [v - half, v + half]}}} for v in densities]
    trend = density_trend(reports)
    assert trend is not None
    return trend


def test_sheets_that_scatter_give_the_interval_of_a_regression() -> None:
    """SciPy's `linregress`, and Student's t from it: where sheets scatter by more than each is known to."""
    densities = [1.31, 1.24, 1.33, 1.22, 1.27]
    known = stats.linregress(range(5), densities)
    trend, wide = told_of(densities, 0.01), stats.t.ppf(0.975, 3) * known.stderr
    assert trend.slope == pytest.approx(known.slope)
    assert trend.ci95 == pytest.approx((known.slope - wide, known.slope + wide), abs=1e-4)
    # three sheets all but on a line are known as well as each of them is, and no better
    line = told_of([1.30, 1.24, 1.18], 0.02)
    assert line.ci95[1] - line.slope == pytest.approx(0.02 / 2**0.5, rel=1e-3)


@pytest.mark.parametrize("sheets", [3, 4, 8])
@pytest.mark.parametrize("apart", [0.0, 0.01, 0.04])
def test_the_interval_of_a_trend_holds_it(sheets: int, apart: float) -> None:
    """Drawn by NumPy: sheets that differ by less and by more than each is known to; 95 in 100 are held, or more."""
    rng, held = np.random.default_rng(sheets), 0
    for _ in range(1000):
        true = 1.3 - 0.02 * np.arange(sheets)
        seen = true + rng.normal(0.0, apart, sheets) + rng.normal(0.0, 0.01, sheets)
        low, high = told_of(seen.tolist(), 1.96 * 0.01).ci95
        held += low <= -0.02 <= high
    assert held >= 930  # 95 % less three standard errors of 1000 trials


def test_a_band_is_judged_by_what_is_sure_of_it_and_by_whose_part_it_is() -> None:
    assert judge(replace(SOUND, bands=(replace(BAND, ci95=(0.95, 2.3)),))).action is Action.TOP_OFF
    printers = replace(BAND, parts=(replace(DRUM, name="fuser roller", of="printer"),))
    toner = replace(SOUND, bands=(printers,))
    assert judge(toner).action is Action.TOP_OFF
    assert any("fuser roller" in note and "not of the cartridge" in note for note in printer_notes(toner))
    (reason,) = judge(replace(SOUND, bands=(BAND,))).reasons
    assert "every 94.2 mm" in reason.text
    assert "the drum" in reason.text


def test_a_band_that_went_or_came_is_told() -> None:
    none, strong = replace(SOUND, bands=()), replace(SOUND, bands=(BAND,))
    weak = replace(SOUND, bands=(replace(BAND, amplitude_dL=0.5, ci95=(0.3, 0.7)),))
    assert [change.way for change in compare_toner(strong, weak)] == ["better"]
    assert [change.way for change in compare_toner(none, strong)] == ["worse"]
    assert not compare_toner(strong, strong)
    # of two bands near it that are left, the one that may still be as strong tells
    left = tuple(replace(BAND, ci95=ends) for ends in ((0.4, 0.6), (0.3, 1.5)))
    assert not compare_toner(strong, replace(SOUND, bands=left))
