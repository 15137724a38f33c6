"""From readings to a verdict: every number comes from the policy table, every reason names its row."""

from __future__ import annotations

from collections.abc import Iterable

from printcheck.measure.result import LinesReading
from printcheck.pattern.inks import INKS
from printcheck.verdict.policy import Policy
from printcheck.verdict.result import Action, Assessment, Reason
from printcheck.verdict.steps import STEPS, cautions_for

__all__ = ["assess", "rescan_assessment"]


def assess(lines: tuple[LinesReading, ...], registration_rms_mm: float, policy: Policy) -> Assessment:
    """Judge one sheet."""
    reasons = [reason for reading in lines for reason in _line_reasons(reading, policy)]
    reasons += _decide("registration", None, registration_rms_mm, policy, "the marks are {value:.2f} mm off their places")
    action = _overall(reasons)
    if action is Action.RESCAN:
        how = "Scan the sheet again, flat and whole, at 300 or 600 dots/inch; if it reads the same, print a fresh one."
        return Assessment(action, _sorted(reasons, action), (how,), ())
    steps = _steps(action, lines, reasons)
    return Assessment(action, _sorted(reasons, action), tuple(STEPS[s][0] for s in steps), cautions_for(steps))


def rescan_assessment(
    text: str, measure: str, value: float | None, limit: float | None, unit: str
) -> Assessment:
    """The verdict for a picture that can't be judged at all; `text` says why and what to do."""
    reason = Reason(measure, None, value, limit, unit, Action.RESCAN, text)
    what = text.rsplit("; ", 1)[-1]
    return Assessment(Action.RESCAN, (reason,), (what[0].upper() + what[1:] + ".",), ())


def _line_reasons(reading: LinesReading, policy: Policy) -> list[Reason]:
    ink, word = reading.ink, INKS[reading.ink].word
    if reading.absent:
        return _decide("ink_absent", ink, 1.0, policy, f"{word} lays down no ink at all")
    out: list[Reason] = []
    gone = len(reading.missing) + len(reading.intermittent)
    if reading.arrangement == "stride":
        out += _decide(
            "stride", ink, gone, policy, f"{word}: rows are missing at a regular step of {reading.stride}: an electrical fault"
        )
    how = {
        "run": f", {reading.longest_run} of them neighbours",
        "scattered": ", scattered" if gone > 1 else "",
        "stride": "",
    }.get(reading.arrangement, "")
    rows = "row" if gone == 1 else "rows"
    out += _decide("missing_lines", ink, gone, policy, f"{word}: {gone} of {reading.rows} {rows} missing{how}")
    for measure, members, what in (
        ("weak_lines", reading.weak, "weak"),
        ("displaced_lines", reading.displaced, "landing off their place"),
    ):
        share = 100.0 * len(members) / reading.rows
        out += _decide(measure, ink, share, policy, f"{word}: {len(members)} of {reading.rows} rows {what}")
    unread = sum(dash.state == "unreadable" for dash in reading.dashes)
    share = 100.0 * unread / max(len(reading.dashes), 1)
    out += _decide(
        "unreadable_lines", ink, share, policy, f"{word}: {unread} of {len(reading.dashes)} dashes can't be read in this picture"
    )
    out += _decide(
        "unreadable_rows", ink, len(reading.unreadable), policy,
        f"{word}: {len(reading.unreadable)} rows can't be read in any printing",
    )  # fmt: skip
    return out


def _decide(measure: str, ink: str | None, value: float, policy: Policy, text: str) -> list[Reason]:
    """The reason `measure` gives, if it crosses a limit."""
    row = policy[measure]
    if row.rescan is not None and value > row.rescan:
        action, limit = Action.RESCAN, row.rescan
    elif row.reject is not None and value > row.reject:
        action, limit = Action.REJECT, row.reject
    elif value > row.top_off:
        action, limit = (Action.RESCAN if row.rescan_instead_of_top_off else Action.PURGE), row.top_off
    else:
        return []
    return [Reason(measure, ink, float(value), limit, row.unit, action, text.format(value=value))]


def _overall(reasons: Iterable[Reason]) -> Action:
    """An untrustworthy picture outweighs all; a row not seen only keeps a sheet from passing."""
    found = list(reasons)
    actions = {r.action for r in found}
    trusted = [r for r in found if r.measure != "unreadable_rows"]
    if any(r.action is Action.RESCAN for r in trusted):
        return Action.RESCAN
    for action in (Action.REJECT, Action.PURGE, Action.RESCAN):
        if action in actions:
            return action
    return Action.TOP_OFF


def _sorted(reasons: list[Reason], action: Action) -> tuple[Reason, ...]:
    """Those that decided first."""
    return tuple(sorted(reasons, key=lambda r: r.action is not action))


def _steps(action: Action, lines: tuple[LinesReading, ...], reasons: list[Reason]) -> list[str]:
    if action is Action.TOP_OFF:
        return ["fill"]
    if action is Action.REJECT:
        return ["recycle"]
    measures = {r.measure for r in reasons}
    steps: list[str] = []
    if "ink_absent" in measures:
        steps.append("prime")
    if any(r.arrangement == "run" for r in lines):
        steps.append("draw")
    if any(r.arrangement == "scattered" for r in lines) or measures & {"weak_lines", "displaced_lines"}:
        steps += ["blot", "ultrasonic", "steam"]
    return steps or ["draw"]
