"""A folder that scanners and phones drop files into: each picture is scored once, when it is whole.

A file is whole when neither its size nor its time has changed for a while; one that can't be read then gets an error
for a result, and is read again only if it changes. One that can't even be opened is told of after a few looks, and
read as soon as it can be. The result stands beside the picture as ``NAME.printcheck.json`` and says which state of
the file it is of and what it was judged by, so that a restart knows what is done. Where a ledger is kept, a picture
that is in it, judged by the same, is not scored again, whatever it is called. Several watchers may share a folder:
who scores a picture claims it first (`claim`).
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from printcheck.aside import write_aside
from printcheck.batch import Result, pictures_in, score_file
from printcheck.bench import BenchSettings, settings_mark
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
_TRIES = 3  # looks at which a whole file can't be opened, before it is told of: another program may have it locked


@dataclass(slots=True)
class _Seen:
    """A file that is not done: its state, since when it has been in it (monotonic, s), and how often it was shut."""

    state: _State
    since: float
    shut: int = 0


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
    mark = settings_mark(settings)
    book = open_ledger(ledger) if ledger is not None else None
    watch = _Watch(settings, ledger, book, beside, settle_s, may_be_empty=once, mark=mark)
    try:
        while True:
            yield from watch.look(pictures_in(folder))
            if once and watch.waiting == 0:
                return
            sleep(poll_s)
    finally:
        if book is not None:
            book.close()


@dataclass(slots=True)
class _Watch:
    """What one watcher knows of its folder.

    `done` holds the state of each picture that was scored, `seen` those that aren't; `waiting` is how many of the
    last look's are still to be done. Empty files are waited for, a scanner may take its time to write into a file it
    has made, but for a watcher that stops when all is done (`may_be_empty`). `shut` are those that were told of since
    they can't be opened: whether they can be depends on more than their state.
    """

    settings: BenchSettings
    ledger: str | None
    book: Ledger | None
    beside: bool
    settle_s: float
    may_be_empty: bool
    mark: str
    shut: set[Path] = field(default_factory=set)
    done: dict[Path, _State] = field(default_factory=dict)
    seen: dict[Path, _Seen] = field(default_factory=dict)
    waiting: int = 0

    def look(self, files: list[Path]) -> Iterator[Result]:
        """Yield the result of each of the folder's pictures that is whole and not done."""
        now = time.monotonic()
        self.waiting = 0
        for gone in self.seen.keys() - set(files):
            del self.seen[gone]
        for path in [path for path in self.shut if path not in files or _opens(path)]:
            self.shut.remove(path)
            self.done.pop(path, None)
        for path in files:
            state = _state(path)
            if state is None or self.done.get(path) == state:
                continue
            if self.beside and self._has_result(path, state):
                self.done[path] = state
                continue
            self.waiting += 1
            if not self._is_whole(path, state, now):
                continue
            if self.beside:
                _keep_apart(path, files, self.settings, self.ledger)
            result = self._scored(path, state)
            if result is None:
                continue
            self.done[path] = state
            del self.seen[path]
            self.waiting -= 1
            yield result

    def _is_whole(self, path: Path, state: _State, now: float) -> bool:
        """Whether a file has stayed as it is for long enough."""
        if path not in self.seen or self.seen[path].state != state:
            self.seen[path] = _Seen(state, now)
        return (state[0] > 0 or self.may_be_empty) and now - self.seen[path].since >= self.settle_s

    def _scored(self, path: Path, state: _State) -> Result | None:
        """Claim a picture, score it and write its result beside it; none where it must be looked at again."""
        with claimed(_claim_of(path, beside=self.beside)) as ours:
            if not ours or (self.beside and self._has_result(path, state)):
                return None  # another watcher has it in hand, or has just done it
            if not _opens(path):
                self.seen[path].shut += 1
                if self.seen[path].shut < _TRIES:
                    return None
            result = self._result(path, state)
            if _state(path) != state:
                return None  # it changed under our eyes
            if result["error"] and not _opens(path):
                self.shut.add(path)
            elif self.beside:
                text = json.dumps(result, ensure_ascii=False, indent=1) + "\n"
                write_aside(_place_of(path), text.encode(errors="backslashreplace"))
            return result

    def _has_result(self, path: Path, state: _State) -> bool:
        """Whether the result beside a picture is of this state, and judged by what is in force."""
        told = _result_beside(path)
        return told is not None and _state_told(told) == state and told.get("settings") == self.mark

    def _result(self, path: Path, state: _State) -> Result:
        """Take what the ledger has of a picture, or score it, as where the result beside it is out of date."""
        of_file = {"size": state[0], "mtime_ns": state[1]}
        told = _result_beside(path) if self.beside else None
        outdated = told is not None and told.get("settings") not in (None, self.mark)
        row = None if self.book is None or outdated else _row_of(path, self.settings, self.book)
        if self.book is None or row is None:
            return score_file(path, self.settings, self.ledger) | of_file
        report = self.book.report(row)
        action = report["verdict"]["action"]
        return {
            "path": str(path),
            **of_file,
            "settings": self.mark,
            "exit_code": int(_exit_code(action)),
            "action": action,
            "error": None,
            "row": row,
            "report": report,
        }


def _opens(path: Path) -> bool:
    try:
        with path.open("rb"):
            return True
    except OSError:
        return False


def _state(path: Path) -> _State | None:
    try:
        status = path.stat()
    except OSError:
        return None  # taken away again
    return status.st_size, status.st_mtime_ns


def _result_beside(path: Path) -> Result | None:
    """The result that stands beside a picture, if any does."""
    try:
        told = json.loads(_place_of(path).read_bytes())
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) else None


def _state_told(result: Result) -> _State | None:
    """The state of the picture that a result is of."""
    try:
        return int(result["size"]), int(result["mtime_ns"])
    except (ValueError, TypeError, KeyError):
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


def _row_of(path: Path, settings: BenchSettings, book: Ledger) -> int | None:
    """The number of a picture's row in the ledger, by what is in force; none where there is none."""
    try:
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None  # whoever scores it tells why
    return book.find_image(digest, settings_hash(load_policy(settings.policy), *settings.judged_by))


def _exit_code(action: str) -> int:
    from printcheck.verdict.result import Action

    try:
        return int(Action(action).exit_code)
    except ValueError as error:
        raise InputError(f"the ledger has a verdict '{action}' that is none") from error
