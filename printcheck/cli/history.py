"""``printcheck history``: the rounds of one ticket."""

from __future__ import annotations

from typing import Annotated

import typer

from printcheck.cli.options import Csv, Json, LedgerPlace
from printcheck.cli.output import emit_json, one_line
from printcheck.cli.tables import emit_csv, is_stdout
from printcheck.errors import PrintcheckError

__all__ = ["history"]


def history(
    ticket: Annotated[str, typer.Argument(help="Ticket, as printed on its sheets.", show_default=False)],
    ledger: LedgerPlace = None,
    json_to: Json = None,
    csv_to: Csv = None,
) -> None:
    """Show every sheet of one ticket in order: what was done before it, its verdict, what was found.

    Example: printcheck history T-1042
    """
    from dataclasses import asdict

    from printcheck.ledger.rounds import rounds_of
    from printcheck.ledger.store import open_ledger
    from printcheck.ledger.toner_trend import density_trend, trend_in_words
    from printcheck.places import keep_apart, ledger_files, not_stdout
    from printcheck.report.ledger_text import rounds_text

    keep_apart({"--json": not_stdout(json_to), "--csv": not_stdout(csv_to), **ledger_files(ledger)})
    with open_ledger(ledger, reading=True) as book:
        rows = rounds_of(book.rows(ticket=ticket))
        if not rows:
            raise PrintcheckError(f"ticket '{ticket}' is not in the ledger {book.name}; see printcheck log")
        trend = density_trend([book.report(row.id) for row in rows])
    said = "" if trend is None else f"\n{trend_in_words(trend)}\n"
    typer.echo(f"Ticket {one_line(ticket)}\n\n{rounds_text(rows)}{said}", err=is_stdout(json_to, csv_to), nl=False)
    if json_to is not None:
        shown = {"schema": "printcheck-history/1", "ticket": ticket, "sheets": [asdict(r) for r in rows]}
        emit_json({**shown, "density_trend": None if trend is None else asdict(trend)}, json_to)
    if csv_to is not None:
        heads = ("scored_at", "ticket", "cleaning", "action", "rows_missing", "cartridge", "ink_lot", "printer",
                 "operator", "image_path")  # fmt: skip
        table = [
            [getattr(row, name) if hasattr(row, name) else getattr(row.notes, name) for name in heads] for row in rows
        ]
        emit_csv([heads, *table], csv_to)
