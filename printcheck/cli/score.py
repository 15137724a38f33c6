"""``printcheck score``: one scan or photo to a verdict."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.aside import write_aside
from printcheck.cli.output import emit_json

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
    policy: Annotated[
        Path | None,
        typer.Option("--policy", metavar="FILE.toml", help="The shop's own limits, in place of the shipped ones."),
    ] = None,
    max_megapixels: Annotated[
        float, typer.Option("--max-megapixels", help="Refuse larger pictures.", min=0.1)
    ] = 200.0,
) -> None:
    """Read one scan or photo of a test sheet and say top off, purge, reject or rescan.

    The sheet itself says which head, page and ticket it is. The exit code is the verdict: 0 top off, 10 purge,
    20 reject, 30 rescan, 2 where the file is no picture.

    Example: printcheck score scan.jpg --marked scan-marked.png
    """
    from printcheck.pipeline import score_image
    from printcheck.report.json import report_of
    from printcheck.report.text import text_of
    from printcheck.verdict.policy import load_policy

    scored = score_image(image, max_megapixels=max_megapixels, policy=load_policy(policy))
    text = text_of(scored.sheet)
    typer.echo(text, err=json_to is not None and str(json_to) == "-", nl=False)
    if marked is not None:
        from printcheck.report.annotate import marked_png

        write_aside(marked, marked_png(scored))
    if page_report is not None:
        from printcheck.report.page import page_html

        write_aside(page_report, page_html(scored).encode())
    if json_to is not None:
        emit_json(report_of(scored.sheet, all_dashes=all_dashes), json_to)
    raise typer.Exit(int(scored.sheet.assessment.action.exit_code))
