"""``printcheck watch``: scores what scanners and phones drop into a folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.cli.options import (
    Calibration,
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
from printcheck.errors import PrintcheckError

__all__ = ["watch"]


def watch(
    folder: Annotated[Path, typer.Argument(help="Folder that pictures are dropped into.", show_default=False)],
    ledger: LedgerPlace = None,
    beside: Annotated[
        bool, typer.Option("--beside/--no-beside", help="Write NAME.printcheck.json beside each picture.")
    ] = True,
    poll: Annotated[
        float,
        typer.Option("--poll", min=0.05, max=86400.0, metavar="SECONDS", help="Time between looks at the folder."),
    ] = 1.0,
    settle: Annotated[
        float,
        typer.Option(
            "--settle", min=0.0, max=86400.0, metavar="SECONDS", help="How long a file must stay unchanged."
        ),
    ] = 2.0,
    once: Annotated[bool, typer.Option("--once", help="Stop when everything that is there is done.")] = False,
    ink_lot: InkLot = None,
    printer: Printer = None,
    operator: Operator = None,
    policy: Policy = None,
    steps: Steps = None,
    reference: Reference = None,
    calibration: Calibration = None,
    strip: ControlStrip = None,
    components: Components = None,
    max_megapixels: MaxMegapixels = DEFAULT_MAX_MEGAPIXELS,
) -> None:
    """Score each picture that comes into a folder, once, when it is whole; stop with Ctrl-C.

    Each is told on one line: its verdict and the first step with that step's cautions. Results stand beside the
    pictures, in the ledger, or both; after a restart nothing is scored again, unless it is to be judged by something
    else now (limits, steps, reference ...).

    Example: printcheck watch inbox --ledger shop.sqlite3 --printer bench-2
    """
    import signal

    from printcheck.batch import pictures_in
    from printcheck.bench import BenchSettings, check_settings
    from printcheck.ledger.place import ledger_place
    from printcheck.places import keep_apart, ledger_files, settings_files
    from printcheck.report.words import HEADLINES
    from printcheck.verdict.result import Action
    from printcheck.verdict.steps import load_steps
    from printcheck.watch import watch_folder

    notes = notes_of(None, ink_lot, printer, operator, None)
    ledger = ledger_place(ledger) if ledger or notes else None
    if not beside and ledger is None:
        raise PrintcheckError("--no-beside needs a ledger to remember by; add --ledger FILE")
    settings = BenchSettings(
        policy, steps, max_megapixels, notes,
        reference=reference, calibration=calibration, strip=strip, components=components,
    )  # fmt: skip
    keep_apart(ledger_files(ledger), {"the picture": pictures_in(folder), **settings_files(settings)})
    check_settings(settings)
    signal.signal(signal.SIGTERM, _stop)
    try:
        for result in watch_folder(
            folder, settings, ledger=ledger, beside=beside, poll_s=poll, settle_s=settle, once=once
        ):
            if result["error"]:
                typer.echo(f"NOT READ: {one_line(result['error'])}")
                continue
            sheet, verdict = result["report"]["sheet"], result["report"]["verdict"]
            ticket = (sheet or {}).get("ticket") or "no ticket"
            first = first_step(load_steps(steps), verdict["next_steps"], verdict["cautions"])
            typer.echo(
                f"{one_line(result['path'])}: {HEADLINES[Action(result['action'])][0]} ({ticket}). {first}".rstrip()
            )
    except KeyboardInterrupt:
        typer.echo("stopped", err=True)


def _stop(number: int, frame: object) -> None:
    raise KeyboardInterrupt
