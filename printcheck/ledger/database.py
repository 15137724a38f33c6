"""The two databases behind one small face: SQL with ``?`` for values, rows as dictionaries, transactions."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from typing import Any, Protocol

from printcheck.errors import OutputError

__all__ = ["Database", "LedgerError", "SqliteDatabase"]

_BUSY_S = 60.0  # how long a bench waits for the others before it gives up


class LedgerError(OutputError):
    """The ledger can't be opened, read or written."""


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

    def has_table(self, table: str) -> bool:
        """Tell whether the table is there."""

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong with its files."""

    def close(self) -> None:
        """Close it."""


class SqliteDatabase:
    """One file. Readers never wait (write-ahead log); writers wait their turn; a commit is on disk when it returns.

    Parameters
    ----------
    path : Path
    create : bool
        Make the file, and the folders it lies in, where there is none.
    """

    serial = "INTEGER PRIMARY KEY AUTOINCREMENT"

    def __init__(self, path: Path, *, create: bool) -> None:
        self.name = str(path)
        if not create and not path.exists():
            raise LedgerError(f"there is no ledger at {path} yet; printcheck log SCAN starts one")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise LedgerError(f"ledger {path} can't be made: {error.strerror or error}; name another") from error
        with self._told():
            self._connection = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None)
        try:
            with self._told():
                self._connection.row_factory = sqlite3.Row
                self._set_up()
        except BaseException:
            self._connection.close()
            raise

    def _set_up(self) -> None:
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

    def has_table(self, table: str) -> bool:
        """Tell whether the table is there."""
        return bool(self.query("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (table,)))

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
