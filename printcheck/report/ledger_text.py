"""What the ledger says, for a person: one ticket's rounds, and the shop's figures."""

from __future__ import annotations

from collections.abc import Sequence

from printcheck.ledger.stats import Rate, Statistics
from printcheck.ledger.store import Row
from printcheck.report.one_line import one_line
from printcheck.verdict.words import counted

__all__ = ["rounds_text", "statistics_text", "time_shown"]


def rounds_text(rows: Sequence[Row], *, ticket: bool = False) -> str:
    """Write sheets as a table, a line each, ending in a newline."""
    heads = ["when", "done before", "verdict", "rows missing", "found", "printer", "operator", "cartridge", "picture"]
    lines = [
        [
            time_shown(row.scored_at),
            row.notes.cleaning or "-",
            row.action,
            "-" if row.rows_missing is None else str(row.rows_missing),
            ", ".join(dict.fromkeys(f"{f['ink'] or ''} {f['defect'] or f['measure']}".strip() for f in row.findings))
            or "-",
            row.notes.printer or "-",
            row.notes.operator or "-",
            row.notes.cartridge or "-",
            row.image_path,
        ]
        for row in rows
    ]
    if ticket:
        heads.insert(1, "ticket")
        for line, row in zip(lines, rows, strict=True):
            line.insert(1, row.ticket or "-")
    return _table(heads, lines)


def time_shown(scored_at: str) -> str:
    """Return a time of the ledger as it is shown: to the minute, UTC."""
    return scored_at[:16].replace("T", " ")


def statistics_text(stats: Statistics, by: Sequence[str]) -> str:
    """Write the figures; `by` names the groups to list."""
    out = [
        f"{counted(stats.tickets, 'ticket')}, {counted(stats.sheets, 'sheet')} scored, "
        f"{stats.rescans} of them not fit to be judged",
        f"now: {stats.good} good, {stats.rejected} rejected, {stats.open} still to be cleaned",
        f"first-pass yield: {_shown(stats.first_pass)}",
        "",
    ]
    if stats.rounds_to_good:
        good = sum(stats.rounds_to_good.values())
        mean = sum(n * count for n, count in stats.rounds_to_good.items()) / good
        each = ", ".join(f"{count} at sheet {n}" for n, count in stats.rounds_to_good.items())
        out += [f"rounds to good: {mean:.2f} sheets on average ({each})", ""]
    if stats.cures:
        rows = [[c.step, c.defect, str(c.rate.successes), str(c.rate.trials), _percent(c.rate)] for c in stats.cures]
        out += ["Cure rate by cleaning and defect", _table(["cleaning", "defect", "cured", "of", "rate"], rows)]
    if stats.causes:
        causes = [[cause, str(count)] for cause, count in stats.causes.items()]
        out += ["Reject causes", _table(["measure", "tickets"], causes)]
    for group in by:
        lines = [
            [
                g.name,
                str(g.tickets),
                _percent(g.first_pass),
                str(g.rejected),
                ", ".join(f"{cause} {count}" for cause, count in g.causes.items()) or "-",
            ]
            for g in stats.groups[group]
        ]
        out.append(_table([group, "tickets", "first pass", "rejected", "causes"], lines))
    out.append("Intervals: Wilson, 95 %.")
    return "\n".join(out) + "\n"


def _shown(rate: Rate) -> str:
    return f"{rate.successes} of {rate.trials}, {_percent(rate)}"


def _percent(rate: Rate) -> str:
    if rate.rate is None or rate.low is None or rate.high is None:
        return "no trial"
    return f"{100 * rate.rate:.0f} % ({100 * rate.low:.0f} to {100 * rate.high:.0f})"


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    rows = [[one_line(cell) for cell in row] for row in rows]
    widths = [max(len(row[k]) for row in (heads, *rows)) for k in range(len(heads))]
    lines = ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in (heads, *rows)]
    return "\n".join(lines) + "\n"
