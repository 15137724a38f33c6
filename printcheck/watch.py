"""A folder that scanners and phones drop files into: each picture is scored once, when it is whole.

A file is whole when neither its size nor its time has changed for a while; one that can't be read then gets an error
for a result, and is read again only if it changes. The result stands beside the picture as ``NAME.printcheck.json``
and says which state of the file it is of, so that a restart knows what is done. Where a ledger is kept, a picture
that is in it is never scored again, whatever it is called. Several watchers may share a folder: who scores a picture
claims it first (`claim`).
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from printcheck.aside import write_aside
from printcheck.batch import Result, pictures_in, score_file
from printcheck.bench import BenchSettings
from printcheck.claim import claimed
from printcheck.errors import InputError
from printcheck.ledger.entry import settings_hash
from printcheck.ledger.store import Ledger, open_ledger
from printcheck.places import keep_apart, ledger_files, settings_files
from printcheck.verdict.policy import load_policy

__all__ = ["CLAIM_END", "RESULT_END", "watch_folder"]

RESULT_END = ".printcheck.json"
CLAIM_END = ".printcheck.lock"
_State = tuple[int, int]  # size in bytes, time in ns


@dataclass(slots=True)
class _Seen:
    """A file that is not done: its state, and since when it has been in it (monotonic, s)."""

    state: _State
    since: float


def watch_folder(
    folder: Path,
    settings: BenchSettings,
    *,
    ledger: str | None = None,
    beside: bool = True,
    poll_s: float = 1.0,
    settle_s: float = 2.0,
    once: bool = False,
    sleep: Callable[[float], None] = time.sleep,
) -> Iterator[Result]:
    """Yield the result of each picture that comes into `folder`, for ever.

    Parameters
    ----------
    folder : Path
    settings : BenchSettings
    ledger : str, optional
        Place of the ledger to note pictures in.
    beside : bool
        Write each result beside its picture. Without it a ledger is what remembers, and pictures that can't be read
        are tried again after a restart.
    poll_s : float
        Between looks at the folder.
    settle_s : float
        For how long a file must not change.
    once : bool
        Stop when everything that is there is done.
    sleep : callable
        Waits so many seconds.

    Raises
    ------
    InputError
        There is no such folder, or it went away.
    PrintcheckError
        A result would take the place of a picture, of the ledger or of a file that is judged by.
    OutputError
        A result could not be written.
    """
    book = open_ledger(ledger) if ledger is not None else None
    done: dict[Path, _State] = {}
    seen: dict[Path, _Seen] = {}
    try:
        while True:
            now = time.monotonic()
            waiting = 0
            files = pictures_in(folder)
            for gone in seen.keys() - set(files):
                del seen[gone]
            for path in files:
                state = _state(path)
                if state is None or done.get(path) == state:
                    continue
                if beside and _result_of(path) == state:
                    done[path] = state
                    continue
                waiting += 1
                if path not in seen or seen[path].state != state:
                    seen[path] = _Seen(state, now)
                # a scanner may take its time to write into a file it has made; who stops when all is done can't wait
                if (state[0] == 0 and not once) or now - seen[path].since < settle_s:
                    continue
                if beside:
                    _keep_apart(path, files, settings, ledger)
                with claimed(_claim_of(path, beside=beside)) as ours:
                    if not ours or (beside and _result_of(path) == state):
                        continue  # another watcher has it in hand, or has just done it: look again
                    result = _result(path, state, settings, ledger, book)
                    if result is None or _state(path) != state:  # it changed under our eyes: wait for it again
                        continue
                    if beside:
                        text = json.dumps(result, ensure_ascii=False, indent=1) + "\n"
                        write_aside(_place_of(path), text.encode(errors="backslashreplace"))
                done[path] = state
                del seen[path]
                waiting -= 1
                yield result
            if once and waiting == 0:
                return
            sleep(poll_s)
    finally:
        if book is not None:
            book.close()


def _state(path: Path) -> _State | None:
    try:
        status = path.stat()
    except OSError:
        return None  # taken away again
    return status.st_size, status.st_mtime_ns


def _result_of(path: Path) -> _State | None:
    """The state of the picture that the result beside it is of."""
    try:
        told = json.loads(_place_of(path).read_bytes())
        return int(told["size"]), int(told["mtime_ns"])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def _place_of(path: Path) -> Path:
    """Where the result of a picture lies that stands beside it."""
    return path.with_name(path.name + RESULT_END)


def _keep_apart(path: Path, pictures: list[Path], settings: BenchSettings, ledger: str | None) -> None:
    """Refuse to write a result that is a picture, the ledger or a file of the shop's, as only a link could be."""
    place = _place_of(path)
    if os.path.lexists(place):
        files = {} if ledger is None else ledger_files(ledger)
        keep_apart({"the result": place}, {"the picture": pictures, **settings_files(settings), **files})


def _claim_of(path: Path, *, beside: bool) -> Path:
    """Where a claim on a picture lies: beside it, or with the user's own files where nothing stands beside."""
    if beside:
        return path.with_name(f".{path.name}{CLAIM_END}")
    from platformdirs import user_cache_path

    folder = user_cache_path("printcheck", appauthor=False) / "claims"
    return folder / (hashlib.sha256(str(path.resolve()).encode()).hexdigest() + CLAIM_END)


def _result(
    path: Path, state: _State, settings: BenchSettings, ledger: str | None, book: Ledger | None
) -> Result | None:
    """Score a picture, or take what the ledger has of it; none where it can't be opened at the moment."""
    try:
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None
    row = (
        None
        if book is None
        else book.find_image(digest, settings_hash(load_policy(settings.policy), *settings.judged_by))
    )
    if book is None or row is None:
        result = score_file(path, settings, ledger)
        return result | {"size": state[0], "mtime_ns": state[1]}
    report = book.report(row)
    action = report["verdict"]["action"]
    return {
        "path": str(path),
        "size": state[0],
        "mtime_ns": state[1],
        "exit_code": int(_exit_code(action)),
        "action": action,
        "error": None,
        "row": row,
        "report": report,
    }


def _exit_code(action: str) -> int:
    from printcheck.verdict.result import Action

    try:
        return int(Action(action).exit_code)
    except ValueError as error:
        raise InputError(f"the ledger has a verdict '{action}' that is none") from error
