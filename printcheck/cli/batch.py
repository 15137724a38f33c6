"""``printcheck batch``: a folder of pictures, on all cores."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Annotated, Any

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
from printcheck.errors import OutputError

__all__ = ["batch"]


def batch(
    folder: Annotated[Path, typer.Argument(help="Folder of pictures.", show_default=False)],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE.jsonl", help="Add a line a picture to this file; run again to go on."),
    ] = None,
    recursive: Annotated[bool, typer.Option("--recursive", help="Also the folders below.")] = False,
    workers: Annotated[
        int | None, typer.Option("--workers", min=1, max=1000, metavar="N", help="Processes; one a core by default.")
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="ADDRESS", help="Use a Dask cluster (extra 'cluster'), tcp://host:8786."),
    ] = None,
    ledger: LedgerPlace = None,
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
    """Score every picture of a folder, one line of JSON each, with a progress bar on standard error.

    A picture that can't be read is a line with its error, not a stop. With --out, what is in the file already is not
    scored again unless the picture changed or what it is judged by (limits, steps, reference ...), so a run that was
    stopped goes on where it was; of two lines of a picture the last one holds. Without it lines go to standard
    output. Pictures are noted in the ledger where one is named, or where an ink lot, a printer or an
    operator is, the oldest file first; where sheets of one ticket lie close together, --workers 1 keeps them in that
    order. The exit code is 0 once every picture has its line.

    Example: printcheck batch scans --out scans.jsonl
    """
    from collections import Counter

    from printcheck.batch import pictures_in, results_on_cluster, results_so_far, score_many
    from printcheck.bench import BenchSettings, check_settings, settings_mark
    from printcheck.ledger.place import ledger_place
    from printcheck.ledger.store import open_ledger
    from printcheck.places import keep_apart, ledger_files, settings_files

    notes = notes_of(None, ink_lot, printer, operator, None)
    settings = BenchSettings(
        policy, steps, max_megapixels, notes,
        reference=reference, calibration=calibration, strip=strip, components=components,
    )  # fmt: skip
    pictures = pictures_in(folder, recursive=recursive)
    if scheduler is not None:
        pictures = [path.resolve() for path in pictures]  # as workers elsewhere see them, and the results name them
    keep_apart({"--out": out, **ledger_files(ledger)}, {"the picture": pictures, **settings_files(settings)})
    check_settings(settings)
    ledger = ledger_place(ledger) if ledger or notes else None
    if ledger is not None:
        open_ledger(ledger).close()  # a fault of it too
    known = results_so_far(out) if out is not None else {}
    mark = settings_mark(settings)
    todo = [path for path in pictures if not _same(path, known.get(str(path)), mark)]
    results: Iterator[dict[str, Any]]
    if scheduler is not None:
        results = results_on_cluster(todo, settings, scheduler, ledger=ledger)
    else:
        results = score_many(todo, settings, ledger=ledger, workers=workers)
    counts: Counter[str] = Counter()
    with (
        _lines_to(out) as add,
        typer.progressbar(results, length=len(todo), label="scored", file=sys.stderr) as bar,
    ):
        for result in bar:
            line = json.dumps(result, ensure_ascii=False, allow_nan=False) + "\n"
            add(line.encode(errors="backslashreplace").decode())  # a name that is no UTF-8, as JSON escapes it
            counts[result["action"] or "not read"] += 1
    typer.echo(_in_short(counts, len(todo), len(pictures) - len(todo)), err=True)


def _in_short(counts: Mapping[str, int], done: int, earlier: int) -> str:
    """How many pictures were scored, to what end, and how many had been before."""
    from printcheck.verdict.words import counted

    said = ", ".join(f"{count} {what}" for what, count in sorted(counts.items())) or "nothing to do"
    before = f"; {earlier} {'was' if earlier == 1 else 'were'} done before" if earlier else ""
    return f"{counted(done, 'picture')}: {said}{before}"


@contextmanager
def _lines_to(out: Path | None) -> Iterator[Callable[[str], None]]:
    """What adds a line to the file `out`, or to standard output, so that it is there when it returns."""
    if out is None:
        yield partial(typer.echo, nl=False)
        return

    def add(line: str) -> None:
        left = line.encode()
        with _told(out):
            while left:
                left = left[file.write(left) or 0 :]

    with _told(out):
        file = out.open("ab", buffering=0)
    with file:
        yield add


@contextmanager
def _told(out: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise OutputError(f"{out} can't be written: {error.strerror or error}; choose another place") from error


def _same(path: Path, known: dict[str, Any] | None, mark: str) -> bool:
    """Tell whether a result is of the picture as it is now, by the settings of this `mark`."""
    if known is None:
        return False
    try:
        status = path.stat()
    except OSError:
        return False
    now = (status.st_size, status.st_mtime_ns, mark)
    return (known.get("size"), known.get("mtime_ns"), known.get("settings")) == now
