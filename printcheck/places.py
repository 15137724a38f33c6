"""Files that a command reads and writes, kept apart: no result may take the place of what it is made from.

Files are told apart by what they are, not by what they are called: a link, another spelling of the path or, where
the file system makes no difference, another case is still the same file.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from printcheck.errors import PrintcheckError
from printcheck.ledger.place import is_url, ledger_path, ledger_place

if TYPE_CHECKING:
    from printcheck.bench import BenchSettings

__all__ = ["keep_apart", "ledger_files", "not_stdout", "settings_files"]

_BESIDE_A_LEDGER = ("-wal", "-shm", "-journal")  # SQLite, file format, section 1: the files beside a database
_Files = Path | Iterable[Path] | None


def keep_apart(writes: Mapping[str, Path | None], reads: Mapping[str, _Files] | None = None) -> None:
    """Refuse an output that is an input, or another output; to be called before anything is read or written.

    Parameters
    ----------
    writes, reads : mapping
        Files by what a person calls them: the option, or what the argument is. An input may be several files.

    Raises
    ------
    PrintcheckError
        Naming both, and what to name anew: the one that comes first in `writes`.
    """
    taken: dict[tuple[object, ...], tuple[str, Path]] = {}
    for what, files in (reads or {}).items():
        for path in () if files is None else (files,) if isinstance(files, Path) else files:
            taken.setdefault(_identity(path), (what, path))
    for what, written in list(writes.items())[::-1]:
        if written is None:
            continue
        key = _identity(written)
        if key in taken:
            other, path = taken[key]
            raise PrintcheckError(
                f"{what} {written} and {other} {path} are one file, which would be overwritten; "
                f"name another file for {what}"
            )
        taken[key] = (what, written)


def not_stdout(path: Path | None) -> Path | None:
    """Return `path` unless it stands for standard output."""
    return None if path is None or str(path) == "-" else path


def ledger_files(named: str | None) -> dict[str, Path]:
    """Return the file of the ledger that is used, and those the database keeps beside it; none of a server's."""
    place = ledger_place(named)
    if is_url(place):
        return {}
    path = ledger_path(place)
    try:
        real = path.resolve()
    except (OSError, RuntimeError, ValueError):
        real = path
    beside = {f"the ledger's {end}": real.with_name(real.name + end) for end in _BESIDE_A_LEDGER if real.name}
    return {**beside, "the ledger": path}


def settings_files(settings: BenchSettings) -> dict[str, Path | None]:
    """Return the files that pictures are judged by."""
    from printcheck.calibrate import calibration_file
    from printcheck.colour.house import reference_file

    return {
        "--policy": settings.policy,
        "--steps": settings.steps,
        "--strip": settings.strip,
        "--components": settings.components,
        "the reference": None if settings.reference is None else reference_file(settings.reference),
        "the calibration": None if settings.calibration is None else calibration_file(settings.calibration),
    }


def _identity(path: Path) -> tuple[object, ...]:
    """What two names of one file have in common, whether it is there already or not."""
    try:
        status = path.stat()
        return status.st_dev, status.st_ino
    except (OSError, ValueError):  # ValueError: a null character in the name
        pass
    try:
        target = path.resolve()  # to where a link leads that leads nowhere yet
    except (OSError, RuntimeError, ValueError):
        target = path.absolute()
    name = unicodedata.normalize("NFC", target.name).casefold()  # whether case counts there, only the file would tell
    try:
        status = target.parent.stat()
        return status.st_dev, status.st_ino, name
    except (OSError, ValueError):
        return str(target.parent), name
