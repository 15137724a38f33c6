"""The policy applied to readings built by hand: what is rejected, what is cleaned how, what was tried already."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest
from readings import reading, rescan, sheet
from scipy.stats import binomtest

from printcheck.errors import PrintcheckError
from printcheck.limits import LIMITS
from printcheck.measure.components import example_components
from printcheck.measure.result import LinesReading
from printcheck.verdict.history import CleaningHistory, steady_missing
from printcheck.verdict.policy import load_policy
from printcheck.verdict.result import Action
from printcheck.verdict.rules import assess, colour_unread, decide, with_history
from printcheck.verdict.steps import load_steps
from printcheck.verdict.table import tables_of, tables_text
from printcheck.verdict.words import counted

POLICY = load_policy()


def judge(*lines, **history):
    return assess(lines, 0.02, POLICY, history=CleaningHistory(**history))


def test_a_sound_sheet_is_filled():
    done = judge(reading())
    assert done.action is Action.TOP_OFF
    assert "Fill" in done.next_steps[0]


def test_a_run_is_drawn_first_and_scattered_clogs_are_blotted_first():
    assert judge(reading(missing={4, 5, 6}, arrangement="run")).next_steps[0].startswith("Draw ink")
    assert judge(reading(missing={4, 50})).next_steps[0].startswith("Wipe the head")


def test_steps_are_proposed_gentlest_first_and_each_once():
    both = judge(reading("C", missing={4, 5, 6}, arrangement="run"), reading("M", missing={9, 80}))
    names = ["Draw", "wipe", "seconds in the ultrasonic", "a short breath of low steam"]
    assert len(both.next_steps) == len(names)
    for text, name in zip(both.next_steps, names, strict=True):
        assert name in text
    assert all(text.startswith("If that does not cure it: ") for text in both.next_steps[1:])


def printings(
    first: set[int], second: set[int], state: str, strength: float = 0.6, offset_mm: float = 0.035
) -> LinesReading:
    """Rows of a state in each printing; a row counts for the reading where both show it."""
    plain = reading()
    rows, so = (first, second), {"state": state, "strength": strength, "offset_mm": offset_mm}
    dashes = [d._replace(**so) if d.row in rows[d.repeat] else d for d in plain.dashes]
    return replace(plain, dashes=tuple(dashes))


@pytest.mark.parametrize(("state", "measure"), [("weak", "weak_lines"), ("displaced", "displaced_lines")])
def test_rows_that_move_on_from_printing_to_printing_count_all_the_same(state, measure):
    moved = judge(printings({3, 20, 41, 60, 77}, {10, 27, 48, 67, 84}, state))
    assert [r.measure for r in moved.reasons] == [measure]
    assert moved.reasons[0].value == 5.0
    assert "5 of 100 rows" in moved.reasons[0].text
    assert "in each printing" in moved.reasons[0].text
    # dashes that just cross the limit are what noise makes
    assert judge(printings({3, 20, 41}, {10, 27, 48}, state, 0.82, -0.022)).action is Action.TOP_OFF
    # what one printing alone shows is dust, or noise
    assert judge(printings({3, 20, 41, 60, 77}, set(), state)).action is Action.TOP_OFF


@pytest.mark.parametrize("state", ["weak", "displaced"])
@pytest.mark.parametrize(("counts", "told"), [((4, 6), 5.0), ((5, 5), 5.0), ((5, 16), 5.0), ((4, 0), None)])
def test_counts_of_printings_that_chance_lets_differ_are_one_rate(state, counts, told):
    """Chance by scipy's binomial test: two counts of one rate share their sum as a coin does."""
    chance = binomtest(min(counts), sum(counts), alternative="less").pvalue
    assert bool(chance < 0.1) is (told != sum(counts) / 2)
    done = judge(printings(set(range(0, 3 * counts[0], 3)), set(range(1, 3 * counts[1], 3)), state))
    assert [reason.value for reason in done.reasons] == ([] if told is None else [told])


def test_dashes_as_much_too_strong_take_off_what_noise_makes_weak():
    faint = printings({3, 20, 41}, {10, 27, 48}, "weak")
    assert [r.measure for r in judge(faint).reasons] == ["weak_lines"]
    loud = tuple(d._replace(strength=1.3) if d.row in (5, 60) else d for d in faint.dashes)
    assert judge(replace(faint, dashes=loud)).action is Action.TOP_OFF


def test_what_was_tried_is_not_proposed_again():
    done = judge(reading(missing={4, 50}), cleanings=2, tried=("blot", "ultrasonic"))
    assert len(done.next_steps) == 1
    assert "steam" in done.next_steps[0]
    assert any("Steam burns" in c for c in done.cautions)
    assert not any("Ultrasonic" in c for c in done.cautions)


def test_when_all_was_tried_a_person_is_asked():
    done = judge(reading(missing={4, 50}), cleanings=2, tried=("blot", "ultrasonic", "steam"))
    assert done.action is Action.PURGE
    assert "Every step for this fault was tried" in done.next_steps[0]


def test_a_step_in_an_ink_that_is_hardly_read_is_no_ground_for_a_reject():
    """Where much goes unread the gaps in what is read are the picture's own; the missing rows still ask for purge."""
    gone = set(range(0, 100, 13))
    step = {"missing": gone, "arrangement": "stride", "stride": 13}
    done = judge(reading("Y", unreadable=set(range(60)) - gone, **step))
    assert done.action is Action.PURGE
    assert judge(reading("Y", unreadable={5, 6}, **step)).action is Action.REJECT
    # a printing that was read throughout has no gaps of the picture's own, whatever the other's are
    half = [d._replace(state="unreadable") if d.repeat and d.row < 60 else d for d in reading("Y", **step).dashes]
    half_read = replace(reading("Y", **step), dashes=tuple(half))
    assert judge(half_read).action is Action.REJECT
    shown = [d._replace(state="present") if d.row == 26 else d for d in half]
    assert judge(replace(half_read, dashes=tuple(shown))).action is Action.PURGE


def test_a_stride_is_rejected_at_once():
    done = judge(reading(missing=range(0, 100, 13), arrangement="stride", stride=13))
    assert done.action is Action.REJECT
    assert "electrical" in done.next_steps[0]


@pytest.mark.parametrize("dead", [{"absent": True}, {"missing": range(60), "arrangement": "run"}])
def test_a_dead_ink_is_rejected_only_after_the_allowed_cleanings(dead):
    for cleanings in range(3):
        assert judge(reading(**dead), cleanings=cleanings).action is Action.PURGE
    last = judge(reading(**dead), cleanings=3)
    assert last.action is Action.REJECT
    assert last.reasons[0].measure == "dead_ink_cleanings"
    assert "after 3 cleanings" in last.reasons[0].text
    assert (last.reasons[0].value, last.reasons[0].limit) == (3.0, 3.0)
    assert "stayed dead" in last.next_steps[0]


def test_a_few_missing_rows_are_never_rejected_for_the_number_of_cleanings():
    assert judge(reading(missing={4, 50}), cleanings=9).action is Action.PURGE


def test_worse_after_a_cleaning_twice_is_rejected_once_is_not():
    now = reading(missing={4, 20, 50})
    assert judge(now, cleanings=1, missing_before=(2,)).action is Action.PURGE
    twice = judge(now, cleanings=2, missing_before=(1, 2))
    assert twice.action is Action.REJECT
    assert twice.reasons[0].measure == "worsened"
    assert "(1, 2, 3)" in twice.reasons[0].text


def test_worse_twice_but_better_now_goes_on():
    assert judge(reading(missing={4}), cleanings=3, missing_before=(1, 2, 3)).action is Action.PURGE
    assert judge(reading(), cleanings=3, missing_before=(1, 2, 3)).action is Action.TOP_OFF


def test_rows_that_flicker_do_not_count_as_worse():
    assert steady_missing((reading(missing={1}, intermittent={2, 3, 4}),)) == 1


def test_history_known_later_gives_the_verdict_it_would_have_given_at_once():
    lines = (reading("C", absent=True), reading("M", missing={4, 50}), reading("Y"))
    history = CleaningHistory(3, ("blot", "draw"), (4, 9))
    first = assess(lines, 0.02, POLICY)
    assert with_history(first, lines, POLICY, history) == assess(lines, 0.02, POLICY, history=history)


def test_history_leaves_a_rescan_alone():
    blind = rescan()
    assert with_history(blind.assessment, (), POLICY, CleaningHistory(5)) is blind.assessment


def test_reasons_of_other_measures_join_in():
    extra = decide("stride", "M", 9, POLICY, "told from elsewhere: {value:.0f}")
    done = assess((reading(),), 0.02, POLICY, extra=extra)
    assert done.action is Action.REJECT
    assert done.reasons[0].text == "told from elsewhere: 9"


def test_every_defect_a_policy_row_names_has_a_ladder_and_every_step_its_cautions():
    steps = load_steps()
    for row in POLICY.values():
        assert row.defect is None or row.defect in steps.ladders, row.measure
    for ladder in steps.ladders.values():
        assert steps.cautions_for(ladder)[-1] == steps.general
    # a caution must stand beside every step that needs it: safe-work guidance on ultrasonic baths; steam: common
    # practice, no source
    assert "ultrasonic" in steps.steps["ultrasonic"].cautions
    assert "steam" in steps.steps["steam"].cautions


def test_a_step_that_reaches_into_the_printer_says_so_whatever_it_is_for():
    """Power off, hot fuser: common practice, no source."""
    steps = load_steps()
    for name in ("align", "wipe-seal", "toner-wipe"):
        told = " ".join(steps.cautions_for([name]))
        for words in ("switch it off and unplug it", "fuser stays hot", "let it cool", "maker's instructions"):
            assert words in told, name
    assert "printer" not in steps.steps["blot"].cautions


def test_the_example_of_parts_says_to_switch_the_printer_off_and_let_a_fuser_cool():
    """Common practice, no source."""
    parts = {part["name"]: part["what"] for part in tomllib.loads(example_components())["components"]}
    for name in ("transfer roller", "fuser roller"):
        assert "unplug" in parts[name], name
    assert "let the fuser cool" in parts["fuser roller"]


def test_a_steps_own_cautions_are_found_by_what_it_says(tmp_path):
    steps = load_steps()
    inks, toners = ([name for name in steps.steps if name.startswith("toner-") is toner] for toner in (False, True))
    for names in (inks, toners):  # some of the ones say what some of the others do
        for name in names:
            (text,) = steps.texts([name], {"pages": "12", "part": "the drum (its coating)", "what": "; dents?"})
            assert steps.cautions_beside(text, steps.cautions_for(names)) == tuple(
                caution for caution in steps.cautions_for(names) if caution in steps.cautions_for([name])
            )
    assert steps.cautions_beside("Scan the sheet again.", ()) == ()
    assert steps.cautions_beside("Soak it.", ("It bites.", "It burns.")) == ("It bites.", "It burns.")
    own = tmp_path / "steps.toml"
    own.write_text('[steps.soak]\ntext = "Soak (all {pages}) {{now}}?"\ncautions = ["solvent"]\n')
    every = (steps.cautions["steam"], steps.cautions["solvent"], steps.general)
    assert load_steps(own).cautions_beside("Soak (all 5) {now}?", every) == every[1:]


def test_a_shop_edits_its_ladder(tmp_path):
    own = tmp_path / "steps.toml"
    own.write_text(
        '[ladders]\nscattered = ["soak", "blot"]\n'
        '[steps.soak]\ntext = "Soak {pages} minutes."\ncautions = ["waste"]\n'
    )
    steps = load_steps(own)
    done = assess((reading(missing={4, 50}),), 0.02, POLICY, steps=steps, facts={"pages": "10"})
    assert done.next_steps[0] == "Soak 10 minutes."
    assert "soak" in steps.cleanings


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[ladders]\nrun = ["dance"]', "names 'dance', which is no step"),
        ("[ladders]\nrun = []", "must list at least one step"),
        ('[steps.soak]\ntext = "x"\ncautions = ["fire"]', "which is no caution"),
        ('[steps.soak]\ntext = "{minutes}"', "has no default"),
        ('[steps.soak]\ntext = "{"', "in its text"),
        ('[steps.soak]\ntext = "{pages:d}"', "use the name alone"),
        ('[steps.soak]\ntext = "{pages:>99999999999}"', "use the name alone"),
        ('[steps.soak]\ntext = "{pages:{foo}}"', "use the name alone"),
        ('[steps.soak]\ntext = "{pages!z}"', "use the name alone"),
        ('[steps.soak]\ntext = "{pages.x}"', "use the name alone"),
        ('[steps.soak]\ntext = "{}"', "use the name alone"),
        ("[defaults]\npages = [1]", "'defaults.pages' must be text"),
        ("[defaults]\npages = 3", "'defaults.pages' must be text"),
        ('[defaults]\n"a.b" = "x"\n[steps.soak]\ntext = "{a.b}"', "use the name alone"),
        ("[steps]\ndraw = 5", "needs a text"),
        ('[steps."a+b"]\ntext = "x"', "can't name a step"),
        ('[steps." a"]\ntext = "x"', "can't name a step"),
        ('[steps.soak]\ntext = "x"\ntitle = 5', "'title' of step 'soak' must be text"),
        ('general = " "', "'general' must be text"),
        ('[steps.soak]\ntitle = "x"', "needs a text"),
        ('[steps.soak]\ntext = "x"\ncolour = 1', "has no key 'colour'"),
        ("rungs = 1", "'rungs' is no key"),
        ('[steps.soak]\ntext = " "', "needs a text"),
        ("[steps.draw]\ncautions = 5", "must be a list of names"),
        ('[steps.draw]\ncautions = "ink"', "must be a list of names"),
        ('[steps.draw]\ncleaning = "no"', "must be true or false"),
        ("[cautions]\nink = 5", "must be text"),
        ("[ladders", "can't be read"),
        ('[ladders]\nscattered = ["fill"]', "ladder 'scattered' names 'fill', which ends the job"),
        ('[ladders]\nscattered = ["blot", "toner-pack"]', "ends the job"),
        ('[ladders]\nexhausted = ["fill"]', "ends the job"),
        (
            '[ladders]\nrun = ["top-up"]\nsound = ["top-up"]\n[steps.top-up]\ntext = "x"\ncleaning = false',
            "'run' names 'top-up', which ends the job",
        ),
        ('[ladders]\nsound = ["blot"]\nrun = ["fill"]', "'run' names 'fill', which ends the job"),
    ],
)
def test_a_faulty_steps_file_is_one_clear_line(tmp_path, text, said):
    own = tmp_path / "steps.toml"
    own.write_text(text)
    with pytest.raises(PrintcheckError, match="steps") as told:
        load_steps(own)
    assert said in str(told.value)
    assert "\n" not in str(told.value)


def test_a_shop_may_clean_before_it_fills(tmp_path):
    """And may end a ladder by a word with a person, or by recycling: only what fills belongs to sound cartridges."""
    own = tmp_path / "steps.toml"
    own.write_text('[ladders]\nsound = ["wipe-seal", "fill"]\nscattered = ["wipe-seal", "ask"]\nweak = ["recycle"]\n')
    steps = load_steps(own)
    assert "full weight" in assess((reading(),), 0.02, POLICY, steps=steps).next_steps[1]
    assert "full weight" not in " ".join(assess((reading(missing={4, 50}),), 0.02, POLICY, steps=steps).next_steps)


@pytest.mark.parametrize("ladder", ["sound", "toner-sound"])
def test_no_fault_is_answered_as_a_sound_cartridge_is(tmp_path, ladder):
    own = tmp_path / "policy.toml"
    own.write_text(f'[fade]\ndefect = "{ladder}"')
    with pytest.raises(PrintcheckError, match=f"'fade.defect' is '{ladder}', whose steps are those of a sound"):
        load_steps().check_defects(load_policy(own))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[miss]\ntop_off = 1", "is no measure"),
        ("[missing_lines]\ncolour = 1", "is no key"),
        ('[missing_lines]\ntop_off = "1"', "must be a number"),
        ("[missing_lines]\ntop_off = nan", "must be a number"),  # nothing is above it: all would pass
        ("[unreadable_lines]\nrescan = nan", "must be a number"),
        ("[missing_lines]\ntop_off = inf", "must be a number"),  # nor above this
        ("[stride]\nreject = 1e999", "must be a number"),
        ("[missing_lines]\ntop_off = -inf", "must be a number"),
        ("[fade]\ntop_off = -1", "must be a number, 0 or more"),
        (f"[fade]\ntop_off = 1{'0' * 400}", "a number in it is too large"),
        (f"[fade]\ntop_off = 1{'0' * 5000}", "can't be read"),
        (f"[fade]\ntop_off = {'[' * 9000}", "nested too deeply"),
        (f"[fade]\ntop_off = {'[' * 60}{']' * 60}", "nested too deeply"),
        ("[registration]\ntop_off = 90", "'registration.rescan' is below"),
        ("[fade]\nrescan = 0", "'fade.rescan' is below"),
        ("[missing_lines]\ndefect = 5", "must be text"),
        ('[unreadable_rows]\nrescan_instead_of_top_off = "no"', "must be true or false"),
        ("[dead_ink_cleanings]\nreject = 1", "is below"),
        ("[missing_lines", "can't be read"),
    ],
)
def test_a_faulty_policy_is_one_clear_line(tmp_path, text, said):
    own = tmp_path / "policy.toml"
    own.write_text(text)
    with pytest.raises(PrintcheckError) as told:
        load_policy(own)
    assert said in str(told.value)


def test_a_defect_without_a_ladder_is_refused_where_steps_and_policy_meet(tmp_path):
    """A shop's steps may bring a ladder of their own, so the policy alone can't tell."""
    policy, own = tmp_path / "policy.toml", tmp_path / "steps.toml"
    policy.write_text('[fade]\ndefect = "pale"')
    with pytest.raises(PrintcheckError, match=r"'fade.defect' is 'pale', which has no ladder"):
        load_steps().check_defects(load_policy(policy))
    own.write_text('[ladders]\npale = ["draw"]')
    load_steps(own).check_defects(load_policy(policy))
    load_steps().check_defects(POLICY)


def test_a_shop_sets_its_own_number_of_cleanings(tmp_path):
    own = tmp_path / "policy.toml"
    own.write_text("[dead_ink_cleanings]\ntop_off = 1\nreject = 1\n")
    lines = (reading(absent=True),)
    assert assess(lines, 0.02, load_policy(own), history=CleaningHistory(1)).action is Action.REJECT


def test_the_tables_name_every_limit_with_its_basis():
    text = " ".join(tables_text(POLICY, load_steps()).split())
    told = tables_of(POLICY, load_steps())
    for row in POLICY.values():
        assert row.measure in text
    for limit in LIMITS.values():
        assert limit.name in text
    assert {row["measure"] for row in told["policy"]} == POLICY.keys()
    assert all(row["basis"] for row in told["policy"] + told["limits"])
    assert "dead_ink_cleanings under 3 from 3 cleanings" in text
    assert "toner_repeats_cleanings under 2 from 2 cleanings" in text
    assert "worsened up to 1 above 1 cleanings" in text


def test_a_sheet_of_readings_is_judged_by_the_same_rules():
    assert sheet(reading("C", missing={1})).assessment.action is Action.PURGE


def test_each_caution_is_told_once_and_the_general_one_last():
    """All four steps of two ladders want gloves; one reminder will do (general guidance, local law first)."""
    done = judge(reading("C", missing={4, 5, 6}, arrangement="run"), reading("M", missing={9, 80}))
    steps = load_steps()
    assert len(done.next_steps) == 4
    of_ink = {text for name, text in steps.cautions.items() if name not in ("toner-dust", "drum-light", "printer")}
    assert sorted(done.cautions) == sorted({*of_ink, steps.general})
    assert len(set(done.cautions)) == len(done.cautions)
    assert done.cautions[-1] == steps.general


def test_a_value_that_is_no_number_never_passes():
    assert assess((reading(),), float("nan"), POLICY).action is Action.RESCAN
    (reason,) = decide("fade", "C", float("nan"), POLICY, "{value}")
    assert (reason.action, reason.value) == (Action.RESCAN, None)


def test_one_row_is_a_row():
    (reason,) = [r for r in judge(reading(unreadable={8})).reasons if r.measure == "unreadable_rows"]
    assert reason.text == "cyan: 1 row can't be read for sure"
    assert counted(1, "cleaning") == "1 cleaning"
    assert counted(0, "cleaning") == "0 cleanings"
    assert counted(2, "tick", "ticks of all") == "2 ticks of all"


def test_rows_that_only_the_ink_as_a_whole_shows_keep_a_sheet_from_passing_and_no_more():
    """As with rows unread: what is sure beside them stands. The limits are those of weak and displaced lines."""
    for name, limit in (("weak_about", 1.0), ("displaced_about", 4.0)):
        assert judge(replace(reading("Y"), **{name: limit})).action is Action.TOP_OFF
        asked = judge(replace(reading("Y"), **{name: 9.0}))
        assert asked.action is Action.RESCAN
        assert "about 9 of 100 rows" in asked.reasons[0].text
        assert judge(replace(reading("Y", missing={5}), **{name: 9.0})).action is Action.PURGE


@pytest.mark.parametrize(("state", "measure"), [("weak", "weak_lines"), ("displaced", "displaced_lines")])
def test_rows_that_are_named_are_not_told_a_second_time_as_too_faint_to_name(state, measure):
    rows = range(20, 40)
    members = tuple((row, 0.03) for row in rows) if state == "displaced" else tuple(rows)
    told = judge(replace(reading("C"), **{state: members, f"{state}_about": 21.0}))
    assert [r.measure for r in told.reasons] == [measure]
    assert told.action is Action.PURGE


def test_dashes_unread_for_want_of_ink_do_not_ask_for_another_picture():
    blind = reading("Y", unreadable=range(60))
    assert judge(blind).action is Action.RESCAN
    air = decide("air", "Y", 20.0, POLICY, "yellow leaves {value:.0f} mm blank, then prints again")
    done = assess((blind,), 0.02, POLICY, extra=air)
    assert done.action is Action.PURGE
    assert done.next_steps[0].startswith("Open or clear the vent")
    blind = reading("C", unreadable=range(60))
    other = assess((blind,), 0.02, POLICY, extra=decide("air", "M", 20.0, POLICY, "magenta"))  # another ink's air
    assert other.action is Action.RESCAN
    assert judge(reading("Y", unreadable={8})).action is Action.RESCAN  # never a pass with a row not seen


def test_a_picture_without_yellow_still_tells_of_the_others_but_passes_nothing():
    """Pure yellow takes away hardly any luminance (0.93 of white's, IEC 61966-2-1), so it is what a picture loses."""
    blind = reading("Y", unreadable=range(60))
    sound = [reading("C"), reading("M")]
    assert judge(blind, *sound).action is Action.RESCAN
    assert judge(blind, reading("C", missing={4}), reading("M")).action is Action.PURGE
    stepped = reading("C", missing=set(range(3, 100, 8)), arrangement="stride", stride=8)
    assert judge(blind, stepped, reading("M")).action is Action.REJECT
    # a picture that loses a strong ink is trusted in none
    assert judge(reading("C", unreadable=range(60)), reading("M", missing={4})).action is Action.RESCAN
    assert judge(blind, reading("C", unreadable=range(60)), reading("M", missing={4})).action is Action.RESCAN


def test_an_ink_that_is_not_there_takes_its_marks_along_and_is_purged_all_the_same() -> None:
    """Half the marks are printed in black alone: without it the page is placed by the others, and less exactly."""
    off_mm = POLICY["registration"].rescan + 0.1
    gone, sound = reading("K", absent=True), reading("C")
    assert assess((gone, sound), off_mm, POLICY).action is Action.PURGE
    assert assess((reading("K"), sound), off_mm, POLICY).action is Action.RESCAN
    assert assess((reading("K", missing={4}), sound), off_mm, POLICY).action is Action.RESCAN


@pytest.mark.parametrize("measure", ["registration", "print_scale"])
def test_what_was_read_off_its_place_is_no_reason_beside_a_rescan(measure) -> None:
    """Where rows can't be told from their neighbours, "missing" and "an electrical fault" are said of nothing."""
    stepped = reading("K", missing=set(range(3, 100, 8)), arrangement="stride", stride=8)
    off = decide(measure, None, POLICY[measure].rescan + 0.1, POLICY, "off")
    done = assess((stepped,), 0.02, POLICY, extra=off)
    assert done.action is Action.RESCAN
    assert [reason.measure for reason in done.reasons] == [measure]


def test_solids_that_are_not_in_the_picture_are_not_said_to_lack_colour() -> None:
    lines = (reading("K"), reading("C"))
    outside, grey = (colour_unread(lines, (), POLICY, seen)[0].text for seen in ((), ("C",)))
    assert "shows no colour" in grey
    assert "shows no colour" not in outside
    assert "solid" in outside


def test_what_a_jpegs_steps_round_is_no_reason_to_clean():
    """A row of 100 may be weak; of more it is not known whether the head or the file made them so."""
    moved = replace(reading("Y", weak={20, 60}), displaced=tuple(range(0, 100, 10)), rounded=True)
    done = judge(moved)
    assert done.action is Action.RESCAN
    assert {r.measure for r in done.reasons} == {"weak_together", "displaced_together"}
    assert "10 of 100 rows seem to be landing off" in " ".join(r.text for r in done.reasons)
    assert judge(replace(moved, rounded=False)).action is Action.PURGE
    assert judge(replace(reading("Y", weak={20}), rounded=True)).action is Action.TOP_OFF
    assert judge(replace(reading("Y", missing={20}), rounded=True)).action is Action.PURGE


def test_rounded_lines_too_uncertain_to_tell_a_weak_one_are_not_passed():
    """A drop of 70 % prints 21 % less of a line; four standard deviations of 0.06 are 24 %."""
    unsure = replace(reading("Y"), rounded=True, rounded_sd=0.06)
    done = judge(unsure)
    assert done.action is Action.RESCAN
    assert [(r.measure, r.value) for r in done.reasons] == [("weak_unseen", pytest.approx(24.0))]
    assert judge(replace(unsure, rounded_sd=0.05)).action is Action.TOP_OFF
    missing = judge(reading("K", missing={4}), unsure)
    assert missing.action is Action.PURGE  # what merely was not seen outweighs no fault
