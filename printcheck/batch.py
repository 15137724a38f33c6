"""Many pictures: one result a file, in worker processes of this machine or of a cluster; a bad file is a result too.

A result is one JSON object::

    path, size, mtime_ns      which file, and in which state it was read
    settings                  mark of what it was judged by (`bench.settings_mark`)
    exit_code, action, error  as `printcheck score` would end; `error` says why there is no report
    row                       its number in the ledger, where one is kept
    report                    the whole report, none where there is an error
"""

from __future__ import annotations

import importlib
import json
import multiprocessing
from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from printcheck.errors import ExitCode, InputError, OutputError, PrintcheckError
from printcheck.machine import cores, one_core

if TYPE_CHECKING:
    from printcheck.bench import BenchSettings
    from printcheck.ledger.store import Ledger

__all__ = ["PICTURES", "Result", "pictures_in", "results_on_cluster", "results_so_far", "score_file", "score_many"]

Result = dict[str, Any]

PICTURES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".bmp", ".heic", ".heif", ".pdf")
"""Ends of names that are taken for pictures; what a file is, its bytes say."""

_START = b'{"path": '  # how the line of a result begins
_KILLED = "the process reading it was killed; it may need more memory than there is"
_AHEAD = 2  # jobs handed out per worker: enough that none waits, few enough that memory stays flat

_book: tuple[str, Ledger] | None = None  # of a worker process: opened at its first job, kept to its end


def pictures_in(folder: Path, *, recursive: bool = False) -> list[Path]:
    """Return the pictures in a folder, the oldest file first, hidden ones left out.

    The sheets of a ticket come in the order they were scanned in, so that its rounds are noted in theirs.

    Raises
    ------
    InputError
        There is no such folder.
    """
    if not folder.is_dir():
        raise InputError(f"{folder} is no folder; name the one the pictures are in")
    found = folder.rglob("*") if recursive else folder.iterdir()
    pictures = [
        path
        for path in found
        if path.suffix.lower() in PICTURES
        and not any(part.startswith(".") for part in path.relative_to(folder).parts)
        and path.is_file()
    ]
    return sorted(pictures, key=lambda path: (_changed(path), path))


def _changed(path: Path) -> int:
    """When a file was last written, ns; 0 where it is gone, which whoever reads it will tell."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def score_file(path: Path, settings: BenchSettings, ledger: str | None = None) -> Result:
    """Score one picture to its result; only trouble with the ledger raises.

    Parameters
    ----------
    path : Path
    settings : BenchSettings
    ledger : str, optional
        Place of the ledger to note it in.

    Raises
    ------
    PrintcheckError
        The ledger, the policy or the steps are at fault, so that every other file would fail as well.
    """
    from printcheck.bench import bench_picture, settings_mark

    result = _empty(path) | {"exit_code": int(ExitCode.USAGE)}
    try:
        status = path.stat()
        result |= {"size": status.st_size, "mtime_ns": status.st_mtime_ns, "settings": settings_mark(settings)}
        done = bench_picture(path, settings, None if ledger is None else _ledger(ledger))
    except InputError as error:
        return result | {"error": str(error)}
    except OSError as error:
        return result | {"error": f"{path} can't be read: {error.strerror or error}"}
    except PrintcheckError:
        raise
    except MemoryError:
        return result | {"error": f"{path}: not enough memory to read it"}
    except Exception as error:  # a fault of the program in one picture must not cost the others their results
        told = f"{path}: unexpected {type(error).__name__}: {error}"
        return result | {"exit_code": int(ExitCode.FAULT), "error": told}
    action = done.scored.sheet.assessment.action
    return result | {
        "exit_code": int(action.exit_code), "action": action.value, "row": done.row, "report": done.report,
    }  # fmt: skip


def _ledger(place: str) -> Ledger:
    """Return this process's own connection."""
    global _book
    from printcheck.ledger.store import open_ledger

    if _book is None or _book[0] != place:
        _book = (place, open_ledger(place))
    return _book[1]


def score_many(
    paths: Iterable[Path], settings: BenchSettings, *, ledger: str | None = None, workers: int | None = None
) -> Iterator[Result]:
    """Yield the result of each picture as it is done, in no fixed order.

    Parameters
    ----------
    paths : iterable of Path
        Taken as they are needed.
    settings : BenchSettings
    ledger : str, optional
    workers : int, optional
        Processes; as many as the machine has cores by default. With 1 no process is started.

    Notes
    -----
    A worker that dies (killed, out of memory) takes no other file's result with it: what was in hand is read again,
    each file in a process of its own, and the one at fault gives an error.
    """
    count = workers or cores()
    waiting = iter(paths)
    if count == 1:
        yield from _here(waiting, settings, ledger)
        return
    while True:
        owed: list[Path] = []  # taken, and without a result yet; noted first, for a broken pool takes no job
        in_hand: dict[Future[Result], Path] = {}
        pool = _pool(count)
        try:
            for path in islice(waiting, _AHEAD * count):
                owed.append(path)
                in_hand[pool.submit(score_file, path, settings, ledger)] = path
            while in_hand:
                done, _ = wait(in_hand, return_when=FIRST_COMPLETED)
                for future in done:
                    result = future.result()
                    owed.remove(in_hand.pop(future))
                    yield result
                    for path in islice(waiting, 1):
                        owed.append(path)
                        in_hand[pool.submit(score_file, path, settings, ledger)] = path
            return
        except BrokenProcessPool:
            pass
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
        for path in owed:
            yield _alone(path, settings, ledger)


def _here(paths: Iterator[Path], settings: BenchSettings, ledger: str | None) -> Iterator[Result]:
    """Score one after the other in this process, on one core as a worker would."""
    import cv2

    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        for path in paths:
            with one_core():  # not around the yield: what takes the result is none of it
                result = score_file(path, settings, ledger)
            yield result
    finally:
        cv2.setNumThreads(threads)


def _alone(path: Path, settings: BenchSettings, ledger: str | None) -> Result:
    with _pool(1) as pool:
        try:
            return pool.submit(score_file, path, settings, ledger).result()
        except BrokenProcessPool:
            return _unread(path, _KILLED)


def _unread(path: Path, why: str) -> Result:
    """The result of a picture that no process lived to tell of; without size and time it is read again next time."""
    return _empty(path) | {"exit_code": int(ExitCode.FAULT), "error": f"{path}: {why}"}


def _empty(path: Path) -> Result:
    unknown = ("size", "mtime_ns", "settings", "exit_code", "action", "error", "row", "report")
    return {"path": str(path), **dict.fromkeys(unknown)}


def _pool(workers: int) -> ProcessPoolExecutor:
    # started afresh, not forked: forked image libraries may hang on locks their threads held
    return ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), initializer=_start_worker)


def _start_worker() -> None:
    """One thread a worker: the workers are the parallelism, and threads within each would only get in the way."""
    import signal

    import cv2

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent is told, and stops the workers
    cv2.setNumThreads(1)


def results_on_cluster(
    paths: Iterable[Path], settings: BenchSettings, scheduler: str, *, ledger: str | None = None
) -> Iterator[Result]:
    """Yield the result of each picture from a running Dask cluster, which must see the files under the same paths.

    The cluster is looked for at once, not when the first result is asked for.

    Raises
    ------
    PrintcheckError
        The extra ``cluster`` is not installed, or no scheduler answers at the address.
    """
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError as error:
        raise PrintcheckError("--scheduler needs the extra 'cluster': pip install 'printcheck[cluster]'") from error
    client = distributed.Client.__new__(distributed.Client)
    try:
        client.__init__(scheduler, timeout="10s", set_as_default=False)
    except BaseException as error:  # each transport refuses an address by an error of its own
        client.status = "closed"  # or, being collected, it waits for a loop that has ended, and prints a traceback
        if not isinstance(error, Exception):
            raise
        raise PrintcheckError(
            f"no scheduler answers at '{scheduler}'; check the address (tcp://host:8786)"
        ) from error
    return _from_cluster(distributed, client, paths, settings, ledger)


def _from_cluster(
    distributed: Any, client: Any, paths: Iterable[Path], settings: BenchSettings, ledger: str | None
) -> Iterator[Result]:
    with client:
        waiting = iter(paths)
        ahead = _AHEAD * max(1, sum(client.nthreads().values()))

        in_hand: dict[str, Path] = {}
        suspects: list[Path] = []

        def submit(path: Path) -> Any:
            future = client.submit(score_file, path, settings, ledger, pure=False)
            in_hand[future.key] = path
            return future

        running = distributed.as_completed([submit(path) for path in islice(waiting, ahead)], loop=client.loop)
        for future in running:
            path = in_hand.pop(future.key)
            result = _from_worker(distributed, client, path, future)
            if result is None:
                suspects.append(path)
            else:
                yield result
            for path in islice(waiting, 1):
                running.add(submit(path))
        for path in suspects:  # a worker's death is put down to all it had in hand, so each is tried alone
            yield _from_worker(distributed, client, path, submit(path)) or _unread(path, _KILLED)


def _from_worker(distributed: Any, client: Any, path: Path, future: Any) -> Result | None:
    """The result of a picture once it is there; none where the workers that had it in hand died."""
    try:
        result: Result = future.result()
    except PrintcheckError:
        raise
    except distributed.KilledWorker:
        return None
    except Exception as error:  # what goes wrong on the way to a worker and back has no type in common
        if client.status != "running":
            raise PrintcheckError(
                "the scheduler was lost; run the batch again (with --out it goes on where it was)"
            ) from error
        return _unread(path, f"unexpected {type(error).__name__} on the cluster: {error}")
    finally:
        future.release()
    return result


def results_so_far(path: Path) -> dict[str, Result]:
    """Read the results of an earlier run, by path, and cut off a last line that was not finished.

    Raises
    ------
    InputError
        The file is not one of results.
    OutputError
        It can't be read, or not be written to.
    """
    if path.exists() and not path.is_file():
        raise OutputError(f"{path} is a {'folder' if path.is_dir() else 'device'}; name a file to write")
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise OutputError(f"{path} can't be read: {error.strerror or error}; choose another place") from error
    whole = data[: data.rfind(b"\n") + 1]
    rest = data[len(whole) :]
    try:
        if rest[: len(_START)] != _START[: len(rest)]:
            raise ValueError  # no line of ours that was not finished
        results = [json.loads(line) for line in whole.splitlines()]
        found = {result["path"]: result for result in results}
    except (ValueError, TypeError, KeyError) as error:
        raise InputError(f"{path} is no file of results; name another with --out") from error
    if rest:
        try:
            with path.open("r+b") as file:
                file.truncate(len(whole))
        except OSError as error:
            raise OutputError(f"{path} can't be written: {error.strerror or error}; choose another place") from error
    return found
