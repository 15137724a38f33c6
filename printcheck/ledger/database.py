"""The two databases behind one small face: SQL with ``?`` for values, rows as dictionaries, transactions."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from typing import Any, Protocol

from printcheck.errors import ExitCode, OutputError

__all__ = ["Database", "LedgerError", "NoLedgerError", "SqliteDatabase"]

_MAGIC = b"SQLite format 3\0"  # SQLite, file format, section 1.3
_BUSY_S = 60.0  # how long a bench waits for the others before it gives up


class LedgerError(OutputError):
    """The ledger can't be opened, read or written."""


class NoLedgerError(LedgerError):
    """What was named is there, and is no ledger."""

    exit_code = ExitCode.USAGE

    def __init__(self, place: str, why: str) -> None:
        super().__init__(f"{place} is no ledger ({why}); name another with --ledger")


class Database(Protocol):
    """What the ledger asks of a database; every method raises `LedgerError`."""

    name: str
    serial: str

    def transaction(self) -> AbstractContextManager[None]:
        """Begin with the lock for writing; commit at the end, roll back on any exception."""

    def execute(self, sql: str, values: Sequence[Any] = ()) -> None:
        """Run one statement."""

    def query(self, sql: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
        """Return all rows."""

    def stream(self, sql: str, values: Sequence[Any] = ()) -> Iterator[dict[str, Any]]:
        """Yield rows without holding them all."""

    def prepare(self) -> None:
        """Set the database up for rows to be added."""

    def columns(self, table: str) -> set[str]:
        """Return the names of a table's columns, none where there is no such table."""

    def taken(self) -> bool:
        """Tell whether what is in it leaves no room for a new ledger."""

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong with its files."""

    def close(self) -> None:
        """Close it."""


class SqliteDatabase:
    """One file. Readers never wait (write-ahead log); writers wait their turn; a commit is on disk when it returns.

    Parameters
    ----------
    path : Path
    reading : bool
        Only to be read: nothing is written to the file, or made where there is none. Otherwise it, and the folders it
        lies in, are made.

    Raises
    ------
    NoLedgerError
        The file is none of SQLite's.
    LedgerError
        There is none to be read, or it can't be opened.
    """

    serial = "INTEGER PRIMARY KEY AUTOINCREMENT"

    def __init__(self, path: Path, *, reading: bool = False) -> None:
        self.name = str(path)
        if reading and not path.exists():
            raise LedgerError(f"there is no ledger at {path} yet; printcheck log SCAN starts one")
        self._check_kind(path, reading=reading)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise LedgerError(f"ledger {path} can't be made: {error.strerror or error}; name another") from error
        # also to be read it is opened for both: who may only read would leave the log's files behind, empty. What a
        # killed writer had committed to the log may so be moved to the file, which then holds the rows it held before
        with self._told():
            self._connection = _connected(path, "rw" if reading else "rwc")
            if reading:
                self._connection = _readable(path, self._connection)

    @staticmethod
    def _check_kind(path: Path, *, reading: bool) -> None:
        """Look at the file before SQLite does, which takes an empty one for a database of its own."""
        try:
            if path.exists() and not path.is_file():
                raise NoLedgerError(str(path), f"it is a {'folder' if path.is_dir() else 'device'}")
            with path.open("rb") as file:
                start = file.read(len(_MAGIC))
        except (FileNotFoundError, NotADirectoryError):
            return
        except OSError as error:
            raise LedgerError(f"ledger {path} can't be read: {error.strerror or error}; name another") from error
        if start != _MAGIC and (start or reading):  # who writes may find it empty: another has just made it
            raise NoLedgerError(str(path), "the file is not a database" if start else "the file is empty")

    def prepare(self) -> None:
        """Set the database up for rows to be added."""
        with self._told():
            until = time.monotonic() + _BUSY_S
            while True:  # turning the log on needs the file for itself, and does not wait for it
                try:
                    self._connection.execute("PRAGMA journal_mode = WAL").fetchone()
                    break
                except sqlite3.OperationalError as error:
                    if "locked" not in str(error) or time.monotonic() > until:
                        raise
                    time.sleep(0.02)
            self._connection.execute("PRAGMA synchronous = FULL")

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise LedgerError(f"ledger {self.name}: {error}; check it, or name another with --ledger") from error

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Begin with the lock for writing; commit at the end, roll back on any exception."""
        with self._told():
            self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            with suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            raise
        with self._told():
            self._connection.execute("COMMIT")

    def execute(self, sql: str, values: Sequence[Any] = ()) -> None:
        """Run one statement."""
        with self._told():
            self._connection.execute(sql, values)

    def query(self, sql: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
        """Return all rows."""
        return list(self.stream(sql, values))

    def stream(self, sql: str, values: Sequence[Any] = ()) -> Iterator[dict[str, Any]]:
        """Yield rows without holding them all."""
        with self._told():
            for row in self._connection.execute(sql, values):
                yield dict(row)

    def columns(self, table: str) -> set[str]:
        """Return the names of a table's columns, none where there is no such table."""
        return {str(row["name"]) for row in self.query("SELECT name FROM pragma_table_info(?)", (table,))}

    def taken(self) -> bool:
        """Tell whether anything is in it: the file of another program is never added to."""
        return bool(self.query("SELECT 1 FROM sqlite_master LIMIT 1"))

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong with its files."""
        told = [next(iter(row.values())) for row in self.query("PRAGMA integrity_check")]
        return [] if told == ["ok"] else [str(fault) for fault in told]

    def copy_to(self, path: Path) -> None:
        """Copy all of it, as it stands at one moment, while others go on writing."""
        with self._told():
            target = sqlite3.connect(path)
            try:
                self._connection.backup(target)
                target.execute("PRAGMA journal_mode = DELETE").fetchone()  # one file, nothing beside it
            finally:
                target.close()

    def close(self) -> None:
        """Close it."""
        self._connection.close()


def _connected(path: Path, mode: str) -> sqlite3.Connection:
    """Open the file as SQLite's URI parameters in `mode` say (sqlite.org/uri.html)."""
    where = f"{path.absolute().as_uri()}?mode={mode}"
    connection = sqlite3.connect(where, timeout=_BUSY_S, isolation_level=None, uri=True)
    connection.row_factory = sqlite3.Row
    return connection


def _readable(path: Path, connection: sqlite3.Connection) -> sqlite3.Connection:
    """Give `connection`, or where it can't read for want of leave to write beside the file, one that needs none.

    The index of the write-ahead log is a file beside it that has to be made. Where that can't be and the log holds
    nothing, the file is all there is, and may be taken as it stands. A log that holds rows is never passed over.
    """
    try:
        connection.execute("PRAGMA query_only = ON")
        connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY):
            raise
        log = Path(f"{path}-wal")
        if log.exists() and log.stat().st_size:
            raise LedgerError(
                f"ledger {path} can't be read here: its newest rows lie in {log.name}, and nothing may be written "
                "beside it; copy both to a folder of your own"
            ) from error
        return _connected(path, "ro&immutable=1")
    except BaseException:
        connection.close()
        raise
    return connection
