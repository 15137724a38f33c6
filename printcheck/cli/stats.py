"""``printcheck stats``: what the ledger says of the shop."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Annotated

import typer

from printcheck.aside import write_aside
from printcheck.cli.options import Csv, Json, LedgerPlace
from printcheck.cli.output import check_png, emit_json
from printcheck.cli.tables import emit_csv, is_stdout
from printcheck.errors import PrintcheckError

__all__ = ["stats"]


def stats(
    ledger: LedgerPlace = None,
    by: Annotated[
        list[str] | None,
        typer.Option("--by", metavar="cartridge|ink-lot|printer|week", help="Groups to list; all by default."),
    ] = None,
    since: Annotated[str | None, typer.Option("--since", metavar="DATE", help="First day: 2026-11-01.")] = None,
    until: Annotated[str | None, typer.Option("--until", metavar="DATE", help="Last day.")] = None,
    json_to: Json = None,
    csv_to: Csv = None,
    plot: Annotated[
        Path | None, typer.Option("--plot", metavar="FILE.png", help="Draw yields, cure rates and rounds.")
    ] = None,
) -> None:
    """Sum up the ledger: first-pass yield, rounds to good, cure rate by cleaning and defect, reject causes.

    Every rate has its Wilson interval at 95 %. Days are UTC.

    Example: printcheck stats --since 2026-11-01 --by ink-lot --plot november.png
    """
    from printcheck.ledger.stats import GROUPS, statistics, statistics_of, statistics_table
    from printcheck.ledger.store import open_ledger
    from printcheck.places import keep_apart, ledger_files, not_stdout
    from printcheck.report.ledger_text import statistics_text

    writes = {"--json": not_stdout(json_to), "--csv": not_stdout(csv_to), "--plot": plot}
    keep_apart({**writes, **ledger_files(ledger)})
    check_png("--plot", plot)
    groups = tuple(by or GROUPS)
    for group in groups:
        if group not in GROUPS:
            raise PrintcheckError(f"can't group by '{group}'; use {', '.join(GROUPS)}")
    first, last = _day(since), _day(until)
    if first is not None and last is not None and last < first:
        raise PrintcheckError(f"--until {last} lies before --since {first}: no day is left")
    with open_ledger(ledger, reading=True) as book:
        rows = book.rows(
            since=None if first is None else first.isoformat(),
            until=None if last in (None, date.max) else (last + timedelta(days=1)).isoformat(),
        )
    found = statistics(rows)
    typer.echo(statistics_text(found, groups), err=is_stdout(json_to, csv_to), nl=False)
    if json_to is not None:
        emit_json(statistics_of(found), json_to)
    if csv_to is not None:
        emit_csv(statistics_table(found), csv_to)
    if plot is not None:
        from printcheck.report.plots import statistics_png

        write_aside(plot, statistics_png(found, groups))


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise PrintcheckError(f"'{text}' is no day; write it as 2026-11-30") from error
