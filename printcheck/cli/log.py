"""``printcheck log``: scores pictures into the ledger, or shows its newest rows."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.cli.options import (
    Calibration,
    Cartridge,
    Cleaning,
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
    notes_of,
)
from printcheck.cli.output import first_step, one_line
from printcheck.errors import InputError

__all__ = ["log"]


def log(
    images: Annotated[
        list[Path] | None, typer.Argument(help="Pictures to score and note; none shows the newest rows.")
    ] = None,
    cartridge: Cartridge = None,
    ink_lot: InkLot = None,
    printer: Printer = None,
    operator: Operator = None,
    cleaning: Cleaning = None,
    ledger: LedgerPlace = None,
    last: Annotated[
        int, typer.Option("--last", min=1, max=1_000_000, metavar="N", help="How many rows to show.")
    ] = 20,
    policy: Policy = None,
    steps: Steps = None,
    reference: Reference = None,
    calibration: Calibration = None,
    strip: ControlStrip = None,
    components: Components = None,
    max_megapixels: MaxMegapixels = DEFAULT_MAX_MEGAPIXELS,
) -> None:
    """Score pictures and note each in the ledger with what the bench knows; without a picture, show the newest rows.

    The same picture twice is one row; what is noted the second time is filled in. A picture whose verdict is already
    noted is judged by what was done to its ticket before it. Each is told on one line: its verdict and the first step
    with that step's cautions. One that can't be read does not keep the others from being noted; the exit code is then
    2.

    Example: printcheck log scan.jpg --cartridge black-small --ink-lot 24-117 --printer bench-2 --cleaning blot
    """
    from printcheck.ledger.store import open_ledger
    from printcheck.report.ledger_text import rounds_text

    if not images:
        with open_ledger(ledger, reading=True) as book:
            typer.echo(rounds_text(book.rows(last=last), ticket=True), nl=False)
        return
    from printcheck.bench import BenchSettings, bench_picture, check_settings
    from printcheck.places import keep_apart, ledger_files, settings_files
    from printcheck.report.words import HEADLINES
    from printcheck.verdict.steps import load_steps
    from printcheck.verdict.words import counted

    notes = notes_of(cartridge, ink_lot, printer, operator, cleaning)
    settings = BenchSettings(
        policy, steps, max_megapixels, notes,
        reference=reference, calibration=calibration, strip=strip, components=components,
    )  # fmt: skip
    keep_apart(ledger_files(ledger), {"the picture": images, **settings_files(settings)})
    check_settings(settings)
    unread = 0
    with open_ledger(ledger) as book:
        for image in images:
            try:
                done = bench_picture(image, settings, book)
            except InputError as error:
                if len(images) == 1:
                    raise
                unread += 1
                typer.echo(f"printcheck: {one_line(str(error))}", err=True)
                continue
            assessment = done.scored.sheet.assessment
            first = first_step(load_steps(steps), assessment.next_steps, assessment.cautions)
            ticket = done.scored.sheet.ticket or "no ticket"
            said = f"{image}: {HEADLINES[assessment.action][0]} ({ticket}, entry {done.row})"
            typer.echo(one_line(f"{said}. {first}".rstrip()))
    if unread:
        noted = ", the others are noted" if unread < len(images) else ""
        raise InputError(f"{unread} of {counted(len(images), 'picture')} could not be read{noted}; give those again")
