"""The command line, put together. No image library is loaded before a command runs."""

from __future__ import annotations

import sys
from contextlib import suppress
from typing import Annotated, NoReturn

import typer

from printcheck import __version__
from printcheck.cli.batch import batch
from printcheck.cli.calibrate import calibrate
from printcheck.cli.compare import compare
from printcheck.cli.components import components
from printcheck.cli.demo import demo
from printcheck.cli.fault import told_fault
from printcheck.cli.history import history
from printcheck.cli.ledger import ledger_app
from printcheck.cli.limits import limits
from printcheck.cli.log import log
from printcheck.cli.one_line import OneLineGroup
from printcheck.cli.output import one_line
from printcheck.cli.pattern import pattern
from printcheck.cli.reference import reference_app
from printcheck.cli.score import score
from printcheck.cli.stats import stats
from printcheck.cli.strip import strip_app
from printcheck.cli.watch import watch
from printcheck.errors import ExitCode, PrintcheckError

__all__ = ["app", "run"]

app = typer.Typer(
    name="printcheck",
    cls=OneLineGroup,
    help="Prints, reads and judges the test sheet of a refilled ink or toner cartridge.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"printcheck {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Prints, reads and judges the test sheet of a refilled ink or toner cartridge."""


app.command("pattern")(pattern)
app.command("score")(score)
app.command("compare")(compare)
app.command("batch")(batch)
app.command("watch")(watch)
app.command("log")(log)
app.command("history")(history)
app.command("stats")(stats)
app.add_typer(ledger_app, name="ledger")
app.add_typer(reference_app, name="reference")
app.command("calibrate")(calibrate)
app.add_typer(strip_app, name="strip")
app.command("components")(components)
app.command("limits")(limits)
app.command("demo")(demo)


def run() -> None:
    """Run the program: the one place that turns a refusal into a line on standard error and an exit code."""
    try:
        app(prog_name="printcheck", standalone_mode=True)
    except PrintcheckError as error:
        _refuse(error)
    except ImportError as error:
        from printcheck.capture.opencv import cv_refusal

        refusal = cv_refusal(error)
        if refusal is None:
            _end(told_fault(error), ExitCode.FAULT)
        _refuse(refusal)
    except Exception as error:  # whoever stands at the bench can do nothing with a traceback
        _end(told_fault(error), ExitCode.FAULT)


def _refuse(error: PrintcheckError) -> NoReturn:
    _end(str(error), error.exit_code)


def _end(text: str, code: ExitCode) -> NoReturn:
    with suppress(OSError):  # with nowhere to say it, the code has to do
        print(f"printcheck: {one_line(text)}", file=sys.stderr)  # noqa: T201
    sys.exit(int(code))
