"""From readings to a verdict: every number comes from the policy table, every reason names its row."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from types import MappingProxyType

from printcheck.limits import LIMITS
from printcheck.measure.result import DashReading, LinesReading
from printcheck.pattern.inks import INKS
from printcheck.verdict.history import OF_HISTORY, Cleaning, CleaningHistory, steady_missing
from printcheck.verdict.policy import Policy
from printcheck.verdict.result import Action, Assessment, Reason
from printcheck.verdict.steps import Steps, load_steps
from printcheck.verdict.words import counted

__all__ = ["assess", "colour_unread", "decide", "defect_of", "rescan_assessment", "sheet_outside", "with_history"]

_NO_HISTORY = CleaningHistory()
_NO_FACTS: Mapping[str, str] = MappingProxyType({})
_RESCAN = "Scan the sheet again, flat and whole, at 300 or 600 dots/inch; if it reads the same, print a fresh one."
_OF_GONE = ("ink_absent", "missing_lines")  # reasons of an ink that may be dead
_OF_MISSING = ("run", "scattered")  # ladders of missing lines, by their arrangement
_RUN_DRY = ("air", "starvation")
_BEYOND = LIMITS["row_far_off"].value
_WEAK_SD = LIMITS["dash_weak_sure"].value
_CHANCE = LIMITS["printings_differ"].value
_PALE = frozenset(name for name, ink in INKS.items() if ink.pale)
_MISPLACED = frozenset(
    {"registration", "print_scale"}
)  # where these fail, what is read of a row is another's or none's
_NOT_SEEN = frozenset(
    {
        "unreadable_rows", "weak_together", "weak_unseen", "displaced_together", "sheet_outside", "colour_unread",
        "toner_crowded", "compression", "leaning_colour_scan", "toner_fog_unsure",
    }
)  # fmt: skip


def assess(
    lines: tuple[LinesReading, ...],
    registration_rms_mm: float,
    policy: Policy,
    *,
    history: CleaningHistory = _NO_HISTORY,
    steps: Steps | None = None,
    extra: Iterable[Reason] = (),
    facts: Mapping[str, str] = _NO_FACTS,
    toner: bool = False,
) -> Assessment:
    """Judge one sheet.

    Parameters
    ----------
    lines : tuple of LinesReading
    registration_rms_mm : float
    policy : Policy
    history : CleaningHistory
        What was already done to this cartridge.
    steps : Steps, optional
        The shop's own; those shipped by default.
    extra : iterable of Reason
        What other measures than lines say, each made by `decide`.
    facts : mapping of str to str
        Numbers for the steps' texts, e.g. ``{"pages": "4"}``; ``"retake"`` is what to change about the picture.
    toner : bool
        The cartridge holds toner: it is filled, and handled, in other ways than one with ink.
    """
    off = "the marks are {value:.2f} mm off their places"
    reasons = [
        *(reason for reading in lines for reason in _line_reasons(reading, policy)),
        *decide("registration", None, registration_rms_mm, policy, off),
        *extra,
    ]
    return _assessment(reasons, lines, policy, history, steps or load_steps(), facts, toner)


def with_history(
    assessment: Assessment,
    lines: tuple[LinesReading, ...],
    policy: Policy,
    history: CleaningHistory,
    *,
    steps: Steps | None = None,
    facts: Mapping[str, str] = _NO_FACTS,
    toner: bool = False,
) -> Assessment:
    """Judge a sheet again now that it is known what was done to its cartridge; a rescan stays one."""
    if assessment.action is Action.RESCAN:
        return assessment
    kept = [reason for reason in assessment.reasons if reason.measure not in OF_HISTORY]
    return _assessment(kept, lines, policy, history, steps or load_steps(), facts, toner)


def _assessment(
    reasons: list[Reason],
    lines: tuple[LinesReading, ...],
    policy: Policy,
    history: CleaningHistory,
    steps: Steps,
    facts: Mapping[str, str],
    toner: bool,
) -> Assessment:
    reasons = _explained(reasons)
    reasons += [*_history_reasons(lines, policy, history, steps), *_worn_reasons(reasons, policy, history, steps)]
    action = _overall(reasons)
    if action is Action.RESCAN:
        if any(r.measure in _MISPLACED and r.action is action for r in reasons):
            reasons = [r for r in reasons if r.action is action]
        return Assessment(action, _sorted(reasons, action), (facts.get("retake", _RESCAN),), ())
    names = _next_steps(action, [r for r in reasons if r.action is action], lines, policy, history, steps, toner)
    return Assessment(action, _sorted(reasons, action), steps.texts(names, facts), steps.cautions_for(names))


def rescan_assessment(text: str, measure: str, value: float | None, limit: float | None, unit: str) -> Assessment:
    """Give the verdict for a picture that can't be judged at all; `text` says why and what to do."""
    reason = Reason(measure, None, value, limit, unit, Action.RESCAN, text)
    what = text.rsplit("; ", 1)[-1]
    return Assessment(Action.RESCAN, (reason,), (what[0].upper() + what[1:] + ".",), ())


def _told_by_one_printing(reading: LinesReading, policy: Policy) -> bool:
    """Whether a printing that was read shows every row missing that any does: then no gap is the picture's own."""
    gone, limit = {*reading.missing, *reading.intermittent}, policy["unreadable_lines"].rescan or 0.0
    for repeat in {dash.repeat for dash in reading.dashes}:
        printing = [dash for dash in reading.dashes if dash.repeat == repeat]
        unread = sum(dash.state == "unreadable" for dash in printing)
        shown = {dash.row for dash in printing if dash.state == "missing"}
        if shown >= gone and 100.0 * unread <= limit * len(printing):
            return True
    return False


def _line_reasons(reading: LinesReading, policy: Policy) -> list[Reason]:
    ink, word = reading.ink, INKS[reading.ink].word
    if reading.absent:
        return decide("ink_absent", ink, 1.0, policy, f"{word} lays down no ink at all")
    out: list[Reason] = []
    gone = len(reading.missing) + len(reading.intermittent)
    unread = sum(dash.state == "unreadable" for dash in reading.dashes)
    share = 100.0 * unread / max(len(reading.dashes), 1)
    blind = decide(
        "unreadable_lines", ink, share, policy,
        f"{word}: {unread} of {len(reading.dashes)} dashes can't be read in this picture",
    )  # fmt: skip
    # where much went unread, what was read has gaps of the picture's own, and they may well be regular
    if reading.arrangement == "stride" and (not blind or _told_by_one_printing(reading, policy)):
        at = f"{word}: rows are missing at a regular step of {reading.stride}: an electrical fault"
        out += decide("stride", ink, gone, policy, at)
    how = {
        "run": f", {reading.longest_run} of them neighbours",
        "scattered": ", scattered" if gone > 1 else "",
        "stride": "",
    }.get(reading.arrangement, "")
    out += decide("missing_lines", ink, gone, policy, f"{word}: {gone} of {reading.rows} rows missing{how}")
    out += _off_reasons(reading, "weak", reading.weak, "weak", reading.weak_about, policy)
    off = "landing off their places"
    out += _off_reasons(reading, "displaced", reading.displaced, off, reading.displaced_about, policy)
    out += blind
    unseen = len(reading.unreadable)
    text = f"{word}: {counted(unseen, 'row')} can't be read for sure"
    out += decide("unreadable_rows", ink, unseen, policy, text)
    if not out:
        text = f"{word}: a line must lack {{value:.0f}} % to be told weak in this picture"
        out += decide("weak_unseen", ink, 100.0 * _WEAK_SD * reading.rounded_sd, policy, text)
    return out


def _off_reasons(
    reading: LinesReading, state: str, named: tuple[int, ...], what: str, about: float, policy: Policy
) -> list[Reason]:
    """Reasons of rows that print weak or displaced: those `named`, or if these pass, how many there are `about`.

    Of lines that a JPEG's steps round it is not known which: rounding makes lines weak and moves them, by more than
    the scatter of the paper between them shows.
    """
    ink, word, rows = reading.ink, INKS[reading.ink].word, reading.rows
    count, where = float(len(named)), ""
    each = _in_each_printing(reading, state)
    if each > count:
        count, where = each, " in each printing"
    if reading.rounded:
        count, about = 0.0, max(about, count)
    text = f"{word}: {count:.3g} of {rows} rows {what}{where}"
    out = decide(f"{state}_lines", ink, 100.0 * count / rows, policy, text)
    if out:
        return out
    text = f"{word}: about {about:.0f} of {rows} rows seem to be {what}, but this picture doesn't tell which"
    return decide(f"{state}_together", ink, 100.0 * about / rows, policy, text)


def _in_each_printing(reading: LinesReading, state: str) -> float:
    """Dashes of a state in one printing: their mean, or the least where printings differ by more than chance.

    Where the paper moves by other than a head's height, a nozzle prints one row of the first printing and another of
    the second, so that no row need be weak in both. A dash then has no second witness, so only those well beyond the
    limit count: noise makes a few per cent of an ink's dashes just cross it. What spoils one printing alone, such as
    a crease or a shadow's edge, is not the head's, and makes their counts differ (see `_differ`).
    """
    counts = Counter(dash.repeat for dash in reading.dashes if dash.state == state and _beyond_doubt(dash))
    if state == "weak":  # nothing but noise makes a dash as much stronger
        counts.subtract(dash.repeat for dash in reading.dashes if _too_strong(dash))
    found = [max(0, counts[repeat]) for repeat in {dash.repeat for dash in reading.dashes}]
    if not found:
        return 0.0
    least, most = min(found), max(found)
    return float(least) if _differ(least, most) else sum(found) / len(found)


def _differ(least: int, most: int) -> bool:
    """Whether two counts differ by more than chance makes of one rate: given their sum, each is as likely.

    The exact test of two Poisson counts (J. Przyborowski and H. Wilenski, Biometrika 31, 1940).
    """
    total = least + most
    return sum(math.comb(total, k) for k in range(least + 1)) < _CHANCE * 2.0**total


def _beyond_doubt(dash: DashReading) -> bool:
    """Tell whether a weak or displaced dash is half as far again from sound as its limit."""
    if dash.state == "weak":
        return dash.strength is not None and 1 - dash.strength > _BEYOND * (1 - LIMITS["dash_weak"].value)
    return dash.offset_mm is not None and abs(dash.offset_mm) > _BEYOND * LIMITS["dash_displaced"].value


def _too_strong(dash: DashReading) -> bool:
    """Tell whether a dash lies as far above a sound one as a weak one beyond doubt lies below."""
    return dash.strength is not None and dash.strength - 1 > _BEYOND * (1 - LIMITS["dash_weak"].value)


def decide(measure: str, ink: str | None, value: float, policy: Policy, text: str) -> list[Reason]:
    """Return the reason `measure` gives, if it crosses a limit; ``{value}`` in `text` is replaced.

    A value of nan crosses no limit, and would pass unseen: it asks for another picture.
    """
    row = policy[measure]
    if math.isnan(value):
        return [Reason(measure, ink, None, None, row.unit, Action.RESCAN, f"{row.title} can't be measured here")]
    if row.rescan is not None and row.over(value, row.rescan):
        action, limit = Action.RESCAN, row.rescan
    elif row.reject is not None and row.over(value, row.reject):
        action, limit = Action.REJECT, row.reject
    elif row.over(value, row.top_off):
        action, limit = (Action.RESCAN if row.rescan_instead_of_top_off else Action.PURGE), row.top_off
    else:
        return []
    return [Reason(measure, ink, float(value), limit, row.unit, action, text.format(value=value))]


def sheet_outside(inside: float, policy: Policy) -> list[Reason]:
    """Ask for the whole sheet where only the share `inside` of it is in the picture; faults that show still count."""
    text = "{value:.0f} % of what is printed on the sheet lies outside the picture, so it can't be passed as good"
    return decide("sheet_outside", None, 100.0 * (1.0 - inside), policy, text)


def colour_unread(
    lines: Iterable[LinesReading], coloured: Collection[str], policy: Policy, seen: Collection[str]
) -> list[Reason]:
    """Ask for colour where a sheet has coloured inks, and the picture shows the colour of none (`coloured`).

    `seen` are the inks whose solid is in the picture at all.
    """
    inks = [reading.ink for reading in lines if reading.ink != "K" and not reading.absent]
    if not inks or any(ink in coloured for ink in inks):
        return []
    what = "shows no colour" if any(ink in seen for ink in inks) else "shows no solid of a coloured ink"
    text = f"the picture {what}, so mixed or swapped chambers can't be ruled out"
    return decide("colour_unread", None, len(inks), policy, text)


def _explained(reasons: list[Reason]) -> list[Reason]:
    """Leave out dashes unread for want of ink: where a channel was seen to run dry, no picture is at fault.

    A row that was seen in no printing still keeps the sheet from passing.
    """
    dry = {reason.ink for reason in reasons if reason.measure in _RUN_DRY and reason.action is not Action.RESCAN}
    return [reason for reason in reasons if reason.measure != "unreadable_lines" or reason.ink not in dry]


def _overall(reasons: Iterable[Reason]) -> Action:
    """The verdict of all reasons together.

    A picture that can't be trusted outweighs everything else. What merely was not seen only keeps a sheet from
    passing. Two kinds of doubt count as not seen rather than as a bad picture: a pale ink that alone can't be read
    (the picture lacks contrast for that one, and what the others say stands); and a page placed by few marks because
    an ink is not there at all (a bare solid needs no exact place).
    """
    found = list(reasons)
    actions = {r.action for r in found}
    blind = {r.ink for r in found if r.measure == "unreadable_lines"}
    unseen = _NOT_SEEN | ({"unreadable_lines"} if blind <= _PALE else set())
    if any(r.measure == "ink_absent" for r in found):
        unseen |= {"registration"}
    if any(r.action is Action.RESCAN for r in found if r.measure not in unseen):
        return Action.RESCAN
    for action in (Action.REJECT, Action.PURGE, Action.RESCAN):
        if action in actions:
            return action
    return Action.TOP_OFF


def _sorted(reasons: list[Reason], action: Action) -> tuple[Reason, ...]:
    """Those that decided first."""
    return tuple(sorted(reasons, key=lambda r: r.action is not action))


def _history_reasons(
    lines: tuple[LinesReading, ...], policy: Policy, history: CleaningHistory, steps: Steps
) -> list[Reason]:
    """Reasons that no single sheet can give."""
    out: list[Reason] = []
    for reading in lines:
        gone = reading.rows if reading.absent else len(reading.missing)
        if history.cleanings and 100.0 * gone / reading.rows > policy["dead_ink"].top_off:
            done = _cleanings_of_dead(reading, policy, history, steps)
            text = f"{INKS[reading.ink].word}: still dead after {counted(done, 'cleaning')}"
            out += decide("dead_ink_cleanings", reading.ink, done, policy, text)
    counts = (*history.missing_before, steady_missing(lines))
    worse = [after > before for before, after in itertools.pairwise(counts)]
    if worse and worse[-1]:  # a cartridge that got better last time is on its way
        times = counted(sum(worse), "time")
        text = f"more rows missing after a cleaning than before, {times} ({', '.join(map(str, counts))})"
        out += decide("worsened", None, sum(worse), policy, text)
    return out


def _cleanings_of_dead(reading: LinesReading, policy: Policy, history: CleaningHistory, steps: Steps) -> int:
    """Cleanings that may have been done to this ink as it was dead: by steps that bring rows back."""
    least = policy["dead_ink"].top_off / 100.0 * reading.rows

    def showed(cleaning: Cleaning) -> bool:
        # all inks' missing rows are no fewer than this one's
        here = any((measure, reading.ink) in (cleaning.found or ()) for measure in _OF_GONE)
        return here and (cleaning.missing is None or cleaning.missing > least)

    return history.against(steps.of(_defect("ink_absent", policy), *_OF_MISSING), steps.steps, showed)


def _worn_reasons(reasons: list[Reason], policy: Policy, history: CleaningHistory, steps: Steps) -> list[Reason]:
    """What a mark that repeats through every cleaning of what turns says: the part is worn, not dirty."""
    marked = [reason for reason in reasons if reason.measure == "toner_repeats"]
    if not marked:
        return []
    useful = steps.of(_defect("toner_repeats", policy))
    done = history.against(
        useful, steps.steps, lambda cleaning: any(measure == "toner_repeats" for measure, _ in cleaning.found or ())
    )
    if not done:
        return []
    text = f"{marked[0].text}, still after {counted(done, 'cleaning')}"
    return decide("toner_repeats_cleanings", "K", done, policy, text)


def defect_of(reason: Reason, lines: tuple[LinesReading, ...], policy: Policy) -> str:
    """Name the ladder of steps that answers a reason."""
    if reason.measure == "missing_lines":
        reading = next(r for r in lines if r.ink == reason.ink)
        return "run" if reading.arrangement == "run" else "scattered"
    return _defect(reason.measure, policy)


def _defect(measure: str, policy: Policy) -> str:
    return policy[measure].defect or measure


def _next_steps(
    action: Action,
    reasons: list[Reason],
    lines: tuple[LinesReading, ...],
    policy: Policy,
    history: CleaningHistory,
    steps: Steps,
    toner: bool,
) -> list[str]:
    """Name the steps that answer the reasons that decided."""
    kind = "toner-" if toner else ""
    if action is Action.TOP_OFF:
        return list(steps.ladders[f"{kind}sound"])
    defects = list(dict.fromkeys(defect_of(reason, lines, policy) for reason in reasons))
    if action is Action.REJECT:
        return steps.untried([d if d in steps.ladders else f"{kind}lost" for d in defects[:1]], ())
    return steps.untried(defects, history.tried) or list(steps.ladders[f"{kind}exhausted"])
