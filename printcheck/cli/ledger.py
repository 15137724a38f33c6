"""``printcheck ledger``: looks after the ledger itself."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.cli.options import LedgerPlace
from printcheck.cli.output import one_line, shown
from printcheck.cli.tables import emit_lines
from printcheck.errors import PrintcheckError

__all__ = ["ledger_app"]

ledger_app = typer.Typer(help="Check, back up or export the ledger.", no_args_is_help=True, rich_markup_mode=None)


@ledger_app.command("check")
def check(ledger: LedgerPlace = None) -> None:
    """Check that the ledger's file is whole and every row complete; exit code 3 where it is not.

    Example: printcheck ledger check
    """
    from printcheck.ledger.database import LedgerError
    from printcheck.ledger.store import open_ledger
    from printcheck.verdict.words import counted

    with open_ledger(ledger, reading=True) as book:
        faults = book.faults()
        for fault in faults:
            typer.echo(one_line(fault), err=True)
        if faults:
            raise LedgerError(f"ledger {book.name}: {counted(len(faults), 'fault')}; go back to a backup")
        typer.echo(f"{one_line(book.name)}: sound")


@ledger_app.command("backup")
def backup(
    to: Annotated[Path, typer.Argument(help="New file to copy to.", show_default=False, metavar="FILE")],
    ledger: LedgerPlace = None,
) -> None:
    """Copy the ledger to a new SQLite file, also while others write, and check the copy.

    Example: printcheck ledger backup ledger-2026-11.sqlite3
    """
    from printcheck.ledger.store import open_ledger
    from printcheck.places import keep_apart, ledger_files
    from printcheck.verdict.words import counted

    keep_apart({"the backup": to, **ledger_files(ledger)})
    with open_ledger(ledger, reading=True) as book:
        count = book.backup(to)
    typer.echo(f"{shown(to)}: {counted(count, 'row')}")


@ledger_app.command("export")
def export(
    to: Annotated[
        Path, typer.Argument(help="File, .csv or .jsonl (with whole reports); - for CSV on standard output.")
    ] = Path("-"),
    ledger: LedgerPlace = None,
) -> None:
    """Write every row as CSV, or with its whole report as JSON, one object a line.

    Example: printcheck ledger export november.csv
    """
    from printcheck.ledger.store import open_ledger
    from printcheck.places import keep_apart, ledger_files, not_stdout

    keep_apart({"the export": not_stdout(to), **ledger_files(ledger)})
    if str(to) != "-" and to.suffix not in (".csv", ".jsonl"):
        raise PrintcheckError(f"{to}: name a .csv or a .jsonl file")
    with open_ledger(ledger, reading=True) as book:
        emit_lines(book.export_json() if to.suffix == ".jsonl" else book.export_csv(), to)
