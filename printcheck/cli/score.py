"""``printcheck score``: one scan or photo to a verdict."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from printcheck.aside import write_aside
from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.cli.options import (
    Calibration,
    Cartridge,
    Cleaning,
    Cleanings,
    Components,
    ControlStrip,
    InkLot,
    LedgerPlace,
    MaxMegapixels,
    Operator,
    Policy,
    Printer,
    Reference,
    Steps,
    Tried,
    Weight,
    Weights,
    notes_of,
    said,
    weighing_of,
)
from printcheck.cli.output import check_png, emit_json
from printcheck.errors import PrintcheckError

if TYPE_CHECKING:
    from printcheck.bench import Benched

__all__ = ["score"]


def score(
    image: Annotated[Path, typer.Argument(help="Scan or photo of a test sheet.", show_default=False)],
    json_to: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE|-", help="Write the report as JSON; - for standard output."),
    ] = None,
    marked: Annotated[
        Path | None,
        typer.Option("--marked", metavar="FILE.png", help="Write the sheet with every finding ringed."),
    ] = None,
    page_report: Annotated[
        Path | None,
        typer.Option("--page-report", metavar="FILE.html", help="Write a one-page report to print or send."),
    ] = None,
    all_dashes: Annotated[
        bool, typer.Option("--all-dashes", help="List every dash in the JSON, not only faulty ones.")
    ] = False,
    policy: Policy = None,
    steps: Steps = None,
    reference: Reference = None,
    calibration: Calibration = None,
    strip: ControlStrip = None,
    max_megapixels: MaxMegapixels = DEFAULT_MAX_MEGAPIXELS,
    cleanings: Cleanings = None,
    tried: Tried = None,
    cartridge: Cartridge = None,
    weight: Weight = None,
    weights: Weights = None,
    components: Components = None,
    ink_lot: InkLot = None,
    printer: Printer = None,
    operator: Operator = None,
    cleaning: Cleaning = None,
    ledger: LedgerPlace = None,
    no_ledger: Annotated[bool, typer.Option("--no-ledger", help="Note nothing, whatever else is given.")] = False,
) -> None:
    """Read one scan or photo of a test sheet and say top off, purge, reject or rescan.

    The sheet itself says which head, page and ticket it is. The exit code is the verdict: 0 top off, 10 purge,
    20 reject, 30 rescan, 2 where the file is no picture.

    The sheet is noted in the ledger where one is named (--ledger, or PRINTCHECK_LEDGER), or where something only a
    ledger has a use for is said: --ink-lot, --printer, --operator or --cleaning. The verdict then knows what was done
    to this ticket before.

    Example: printcheck score scan.jpg --marked scan-marked.png
    """
    from contextlib import nullcontext
    from dataclasses import replace

    from printcheck.bench import BenchSettings, bench_picture, check_settings
    from printcheck.places import keep_apart, ledger_files, not_stdout, settings_files
    from printcheck.report.json import report_of
    from printcheck.report.text import text_of

    notes = notes_of(cartridge, ink_lot, printer, operator, cleaning, weight)
    kept = not no_ledger and bool(ledger or replace(notes, cartridge=None, weight_g=None))
    settings = BenchSettings(
        policy, steps, max_megapixels, notes, cleanings, said(tried),
        reference=reference, calibration=calibration, strip=strip, components=components,
    )  # fmt: skip
    keep_apart(
        {"--json": not_stdout(json_to), "--marked": marked, "--page-report": page_report, **ledger_files(ledger)},
        {"the picture": image, **settings_files(settings), "--weights": weights},
    )
    check_png("--marked", marked)
    settings = replace(settings, weighing=weighing_of(weight, weights, notes.cartridge))
    if notes.cartridge and weight is None and not (kept or no_ledger):
        raise PrintcheckError("--cartridge is of no use alone; add --weight GRAMS, or --ledger FILE to note it")
    if kept:
        from printcheck.ledger.store import open_ledger

        check_settings(settings)  # a slip of the pen begins no ledger
        book = open_ledger(ledger)
    with book if kept else nullcontext() as opened:
        done = bench_picture(image, settings, opened)
    scored = done.scored
    typer.echo(text_of(scored.sheet), err=json_to is not None and str(json_to) == "-", nl=False)
    if marked is not None:
        from printcheck.report.annotate import marked_png

        write_aside(marked, marked_png(scored))
    if page_report is not None:
        write_aside(page_report, _page(done).encode())
    if json_to is not None:
        report = {**report_of(scored.sheet, all_dashes=True), **_added(done.report)} if all_dashes else done.report
        emit_json(report, json_to)
    raise typer.Exit(int(scored.sheet.assessment.action.exit_code))


def _page(done: Benched) -> str:
    """The page report, with the earlier sheets of its ticket."""
    from printcheck.report.ledger_text import time_shown
    from printcheck.report.page import Visit, page_html
    from printcheck.verdict.result import Action

    visits = [
        Visit(time_shown(row.scored_at), Action(row.action), row.rows_missing, row.notes.cleaning or "")
        for row in done.before
    ]
    return page_html(done.scored, visits)


def _added(report: dict[str, Any]) -> dict[str, Any]:
    """What the bench added to the report of the sheet."""
    return {name: report[name] for name in ("weight",) if name in report}
