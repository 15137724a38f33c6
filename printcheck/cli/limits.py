"""``printcheck limits``: every limit in force, and what each rests on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from printcheck.cli.options import Policy, Steps
from printcheck.cli.output import emit_json

__all__ = ["limits"]


def limits(
    json_to: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE|-", help="Write the tables as JSON; - for standard output."),
    ] = None,
    policy: Policy = None,
    steps: Steps = None,
) -> None:
    """Print every limit in force: when to top off, purge, reject or rescan, and the steps for each defect.

    Example: printcheck limits --policy our-limits.toml
    """
    from printcheck.places import keep_apart, not_stdout
    from printcheck.verdict.policy import load_policy
    from printcheck.verdict.steps import load_steps
    from printcheck.verdict.table import tables_of, tables_text

    keep_apart({"--json": not_stdout(json_to)}, {"--policy": policy, "--steps": steps})
    tables = load_policy(policy), load_steps(steps)
    tables[1].check_defects(tables[0])
    typer.echo(tables_text(*tables), err=json_to is not None and str(json_to) == "-", nl=False)
    if json_to is not None:
        emit_json(tables_of(*tables), json_to)
