"""``printcheck compare``: the same cartridge before and after a cleaning."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.aside import write_aside
from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.cli.options import Calibration, Components, ControlStrip, MaxMegapixels, Policy, Reference, Steps
from printcheck.cli.output import check_png, emit_json

__all__ = ["compare"]


def compare(
    before: Annotated[Path, typer.Argument(help="Picture of the sheet printed before.", show_default=False)],
    after: Annotated[Path, typer.Argument(help="Picture of the sheet printed after.", show_default=False)],
    json_to: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE|-", help="Write the comparison as JSON; - for standard output."),
    ] = None,
    page_report: Annotated[
        Path | None,
        typer.Option("--page-report", metavar="FILE.html", help="Write a one-page report to print or send."),
    ] = None,
    marked: Annotated[
        Path | None,
        typer.Option("--marked", metavar="FILE.png", help="Write both sheets side by side with every change marked."),
    ] = None,
    ignore_ticket: Annotated[
        bool, typer.Option("--ignore-ticket", help="Compare sheets of two tickets all the same.")
    ] = False,
    policy: Policy = None,
    steps: Steps = None,
    reference: Reference = None,
    calibration: Calibration = None,
    strip: ControlStrip = None,
    components: Components = None,
    max_megapixels: MaxMegapixels = DEFAULT_MAX_MEGAPIXELS,
) -> None:
    """Compare two sheets of one cartridge: what came back, what is still missing, what is new.

    The outcome is cured, better, unchanged or worse. Where either picture can't be judged it says "not compared", and
    which (in the JSON: outcome unchanged, told false). The exit code is 0 whatever the outcome, 2 where the sheets
    are of different heads, pages or tickets, or a file is no picture.

    Example: printcheck compare before.jpg after.jpg --marked change.png
    """
    from printcheck.bench import BenchSettings, bench_picture, check_settings
    from printcheck.pair import foreign_by_one_another
    from printcheck.places import keep_apart, not_stdout, settings_files
    from printcheck.report.compare_json import comparison_of
    from printcheck.report.compare_text import comparison_text
    from printcheck.verdict.compare import compare_sheets

    settings = BenchSettings(
        policy, steps, max_megapixels,
        reference=reference, calibration=calibration, strip=strip, components=components,
    )  # fmt: skip
    keep_apart(
        {"--json": not_stdout(json_to), "--page-report": page_report, "--marked": marked},
        {"the picture": (before, after), **settings_files(settings)},
    )
    check_png("--marked", marked)
    check_settings(settings)
    first, second = (bench_picture(path, settings).scored for path in (before, after))
    mutual = None if reference else foreign_by_one_another(first, second)
    comparison = compare_sheets(first.sheet, second.sheet, ignore_ticket=ignore_ticket, mutual=mutual)
    typer.echo(comparison_text(comparison), err=json_to is not None and str(json_to) == "-", nl=False)
    if marked is not None:
        from printcheck.report.compare_picture import comparison_png

        write_aside(marked, comparison_png(comparison, first, second))
    if page_report is not None:
        from printcheck.report.compare_page import comparison_html

        write_aside(page_report, comparison_html(comparison, first, second).encode())
    if json_to is not None:
        emit_json(comparison_of(comparison), json_to)
