"""What the ledger says of a shop: how many pass at once, how many rounds it takes, which cleaning cures what.

A ticket's rounds are its judged sheets in order; pictures that could not be judged are counted apart. Where a
cleaning is noted beside a round, or beside a picture since the round before, it is tried against each defect of the
round before: it cured that defect if none of the inks that had it shows anything wrong afterwards (so that a run
which shrinks to scattered rows is no cure).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any

from printcheck.ledger.entry import Notes
from printcheck.ledger.rounds import judged_rounds, rounds_of
from printcheck.ledger.store import Row
from printcheck.ledger.wilson import wilson
from printcheck.verdict.history import OF_HISTORY

__all__ = ["GROUPS", "CureRate", "Group", "Rate", "Statistics", "statistics", "statistics_of", "statistics_table"]

GROUPS = ("cartridge", "ink-lot", "printer", "week")
UNSAID = "(not said)"


@dataclass(frozen=True, slots=True)
class Rate:
    """A proportion with its Wilson interval at 95 %; the last three none where there was no trial."""

    successes: int
    trials: int
    rate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class CureRate:
    """How often a cleaning step cured a defect."""

    step: str
    defect: str
    rate: Rate


@dataclass(frozen=True, slots=True)
class Group:
    """The tickets that share a cartridge kind, ink lot, printer or week."""

    name: str
    tickets: int
    first_pass: Rate
    rejected: int
    causes: dict[str, int]


@dataclass(frozen=True, slots=True)
class Statistics:
    """Of all tickets looked at.

    Attributes
    ----------
    sheets, rescans, tickets, good, rejected, open : int
        Pictures, those of them that could not be judged, tickets with a judged sheet, and how those stand now.
    first_pass : Rate
        Tickets whose first judged sheet passed.
    rounds_to_good : dict of int to int
        How many tickets first passed at which judged sheet.
    cures : tuple of CureRate
    causes : dict of str to int
        What rejected tickets were rejected for, by measure.
    groups : dict of str to tuple of Group
        By each of `GROUPS`.
    """

    sheets: int
    rescans: int
    tickets: int
    good: int
    rejected: int
    open: int
    first_pass: Rate
    rounds_to_good: dict[int, int]
    cures: tuple[CureRate, ...]
    causes: dict[str, int]
    groups: dict[str, tuple[Group, ...]]


def statistics(rows: Iterable[Row]) -> Statistics:
    """Sum up the rows of a ledger, in any order."""
    by_ticket: dict[str, list[Row]] = {}
    for row in rounds_of(rows):
        by_ticket.setdefault(row.ticket, []).append(row)
    every = [row for rounds in by_ticket.values() for row in rounds]
    judged = {ticket: judged_rounds(rounds) for ticket, rounds in by_ticket.items() if ticket}
    tickets = {ticket: [row for row, _ in rounds] for ticket, rounds in judged.items() if rounds}
    last = Counter(rounds[-1].action for rounds in tickets.values())
    to_good = Counter(
        next(n for n, row in enumerate(rounds, 1) if row.action == "top-off")
        for rounds in tickets.values()
        if any(row.action == "top-off" for row in rounds)
    )
    whole = _group("all", list(tickets.values()))
    return Statistics(
        len(every),
        sum(row.action == "rescan" for row in every),
        len(tickets),
        last["top-off"],
        last["reject"],
        last["purge"],
        whole.first_pass,
        dict(sorted(to_good.items())),
        _cures(judged.values()),
        whole.causes,
        {by: _groups(by, list(tickets.values())) for by in GROUPS},
    )


def _rate(successes: int, trials: int) -> Rate:
    if trials == 0:
        return Rate(0, 0, None, None, None)
    return Rate(successes, trials, successes / trials, *wilson(successes, trials))


def _cures(tickets: Iterable[Sequence[tuple[Row, Sequence[Notes]]]]) -> tuple[CureRate, ...]:
    trials: Counter[tuple[str, str]] = Counter()
    cured: Counter[tuple[str, str]] = Counter()
    for rounds in tickets:
        for (before, _), (after, cleanings) in pairwise(rounds):
            if not cleanings:
                continue
            done = "+".join(step for notes in cleanings for step in notes.steps)
            left = {finding["ink"] for finding in after.findings}
            for defect, inks in _defects(before).items():
                trials[done, defect] += 1
                cured[done, defect] += not inks & left
    return tuple(CureRate(*pair, _rate(cured[pair], count)) for pair, count in sorted(trials.items()))


def _defects(row: Row) -> dict[str, set[str | None]]:
    """Inks that show each defect of a sheet."""
    out: dict[str, set[str | None]] = {}
    for finding in row.findings:
        if finding["defect"] and finding["measure"] not in OF_HISTORY and finding["action"] in ("purge", "reject"):
            out.setdefault(finding["defect"], set()).add(finding["ink"])
    return out


def _groups(by: str, tickets: list[Sequence[Row]]) -> tuple[Group, ...]:
    members: dict[str, list[Sequence[Row]]] = {}
    for rounds in tickets:
        members.setdefault(_member(by, rounds), []).append(rounds)
    return tuple(_group(name, members[name]) for name in sorted(members))


def _member(by: str, rounds: Sequence[Row]) -> str:
    if by == "week":
        year, week, _ = datetime.fromisoformat(rounds[0].scored_at).isocalendar()
        return f"{year}-W{week:02d}"
    said = (getattr(row.notes, by.replace("-", "_")) for row in rounds)
    return next((value for value in said if value), UNSAID)


def _group(name: str, tickets: Sequence[Sequence[Row]]) -> Group:
    rejects = [rounds[-1] for rounds in tickets if rounds[-1].action == "reject"]
    causes = Counter(
        measure
        for row in rejects
        for measure in {finding["measure"] for finding in row.findings if finding["action"] == "reject"}
    )
    first = _rate(sum(rounds[0].action == "top-off" for rounds in tickets), len(tickets))
    return Group(name, len(tickets), first, len(rejects), dict(sorted(causes.items())))


def statistics_of(stats: Statistics) -> dict[str, Any]:
    """Return the statistics ready for ``json.dumps``."""
    return {"schema": "printcheck-statistics/1", **asdict(stats)}


def statistics_table(stats: Statistics) -> list[tuple[object, ...]]:
    """Return the statistics as one long table, names first: what a spreadsheet can sort and sum."""
    rows: list[tuple[object, ...]] = [("table", "group", "name", "count", "of", "rate", "low", "high")]

    def add(table: str, group: str, name: object, rate: Rate) -> None:
        rows.append((table, group, name, rate.successes, rate.trials, *_short(rate)))

    add("first pass", "all", "all", stats.first_pass)
    good = sum(stats.rounds_to_good.values())
    for number, count in stats.rounds_to_good.items():
        add("rounds to good", "all", number, _rate(count, good))
    for cure in stats.cures:
        add("cure rate", cure.step, cure.defect, cure.rate)
    for by, groups in stats.groups.items():
        for group in groups:
            add("first pass", by, group.name, group.first_pass)
            add("rejected", by, group.name, _rate(group.rejected, group.tickets))
            for cause, count in group.causes.items():
                add(f"reject cause {cause}", by, group.name, _rate(count, group.tickets))
    return rows


def _short(rate: Rate) -> tuple[object, ...]:
    return tuple("" if v is None else round(v, 4) for v in (rate.rate, rate.low, rate.high))
