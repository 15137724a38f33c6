"""The ledger: one row a scored sheet, added in a transaction of its own."""

from __future__ import annotations

import csv
import io
import json
import tempfile
from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from printcheck.ledger.database import Database, LedgerError, SqliteDatabase
from printcheck.ledger.entry import Entry, Notes
from printcheck.ledger.migrations import check_tables, migrate
from printcheck.ledger.place import is_url, ledger_path, ledger_place
from printcheck.ledger.sound import report_flaw, row_flaw

__all__ = ["COLUMNS", "Ledger", "Row", "open_ledger"]

_NOTES = ("cartridge", "ink_lot", "printer", "operator", "cleaning", "weight_g")
_SAID = ("action", "rows_missing", "findings", "report")
COLUMNS = (
    "id", "scored_at", "ticket", "head", "page", "action", "rows_missing", "findings", *_NOTES,
    "image_path", "image_sha256", "layout", "settings",
)  # fmt: skip
"""Columns of a row but for the report, in the order they are exported."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row as read back, without its report."""

    id: int
    scored_at: str
    ticket: str
    head: str | None
    page: str | None
    action: str
    rows_missing: int | None
    findings: list[dict[str, Any]]
    notes: Notes
    image_path: str
    image_sha256: str


class Ledger(AbstractContextManager["Ledger"]):
    """An open ledger; close it, or use it in a ``with`` statement. `reading` makes nothing and changes nothing."""

    def __init__(self, database: Database, *, reading: bool = False) -> None:
        self._database = database
        if reading:
            check_tables(database)
        else:
            migrate(database)

    @property
    def name(self) -> str:
        """Where it is, fit for a message."""
        return self._database.name

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __enter__(self) -> Self:
        return self

    def close(self) -> None:
        """Close it."""
        self._database.close()

    def add(self, entry: Entry) -> tuple[int, bool]:
        """Add a row; returns its number, and whether it is new.

        A sheet that is there already keeps its row, number and time, and gets what is said of it now: what was noted
        of its ticket meanwhile may have changed the verdict. Notes said this time are put in, those not said stay.
        Once this returns, the row is on disk.
        """
        values: dict[str, Any] = {
            name: getattr(entry, name)
            for name in (
                "image_sha256", "layout", "settings", "scored_at", "image_path", "ticket", "head", "page", "action",
                "rows_missing",
            )
        }  # fmt: skip
        values["findings"] = json.dumps(entry.findings)
        values |= {name: getattr(entry.notes, name) for name in _NOTES}
        values["report"] = json.dumps(entry.report, ensure_ascii=False, allow_nan=False)
        kept = ", ".join(
            [f"{name} = COALESCE(excluded.{name}, sheets.{name})" for name in _NOTES]
            + [f"{name} = excluded.{name}" for name in _SAID]
        )
        with self._database.transaction():
            there = self._database.query(
                "SELECT id FROM sheets WHERE image_sha256 = ? AND layout = ? AND settings = ?",
                (entry.image_sha256, entry.layout, entry.settings),
            )
            row = self._database.query(
                f"INSERT INTO sheets ({', '.join(values)}) VALUES ({', '.join('?' * len(values))}) "
                f"ON CONFLICT (image_sha256, layout, settings) DO UPDATE SET {kept} RETURNING id",
                tuple(values.values()),
            )
        return int(row[0]["id"]), not there

    def rows(
        self,
        *,
        ticket: str | None = None,
        since: str | None = None,
        until: str | None = None,
        last: int | None = None,
    ) -> list[Row]:
        """Return rows, oldest first.

        Parameters
        ----------
        ticket : str, optional
        since, until : str, optional
            Days or times, ISO 8601; `until` is not included.
        last : int, optional
            The newest so many.
        """
        asked, values = _where({"ticket = ?": ticket, "scored_at >= ?": since, "scored_at < ?": until})
        end = " LIMIT ?" if last is not None else ""
        found = self._database.query(
            f"SELECT {', '.join(COLUMNS)} FROM sheets{asked} ORDER BY scored_at DESC, id DESC{end}",
            (*values, *([last] if last is not None else [])),
        )
        return [self._row(data) for data in reversed(found)]

    def find_image(self, sha256: str, settings: str) -> int | None:
        """Return the number of the row in which a picture was scored under these settings."""
        asked = "SELECT id FROM sheets WHERE image_sha256 = ? AND settings = ? ORDER BY id DESC"
        found = self._database.query(asked, (sha256, settings))
        return int(found[0]["id"]) if found else None

    def report(self, row: int) -> dict[str, Any]:
        """Return the whole report of a row; raises `LedgerError` where there is none."""
        found = self._database.query("SELECT report FROM sheets WHERE id = ?", (row,))
        if not found:
            raise LedgerError(f"ledger {self.name} has no row {row}")
        report: dict[str, Any] = self._loaded(found[0]["report"], row)
        if (flaw := report_flaw(report)) is not None:
            raise self._damaged(row, flaw)
        return report

    def _loaded(self, text: str, row: int) -> Any:
        try:
            return json.loads(text)
        except (ValueError, TypeError, RecursionError) as error:
            raise self._damaged(row, "it can't be read") from error

    def _damaged(self, row: int, flaw: str) -> LedgerError:
        return LedgerError(
            f"ledger {self.name}: row {row} is damaged ({flaw}); see printcheck ledger check, and go back to a backup"
        )

    def _row(self, data: dict[str, Any]) -> Row:
        findings = self._loaded(data["findings"], data["id"])
        if (flaw := row_flaw(data, findings)) is not None:
            raise self._damaged(data["id"], flaw)
        notes = Notes(**{name: data[name] for name in _NOTES})
        plain = ("id", "scored_at", "ticket", "head", "page", "action", "rows_missing", "image_path", "image_sha256")
        return Row(**{name: data[name] for name in plain}, findings=findings, notes=notes)

    def faults(self) -> list[str]:
        """Return what is wrong with the ledger, a line each: damage to its file, and rows that are not whole."""
        out = list(self._database.faults())
        for row in self._database.stream(f"SELECT {', '.join((*COLUMNS, 'report'))} FROM sheets ORDER BY id"):
            try:
                report, findings = json.loads(row["report"]), json.loads(row["findings"])
            except (ValueError, TypeError, RecursionError):
                flaw: str | None = "its report can't be read"
            else:
                flaw = row_flaw(row, findings) or report_flaw(report)
                if flaw is None and report["image"].get("sha256") != row["image_sha256"]:
                    flaw = "its report is of another picture"
            if flaw is not None:
                out.append(f"row {row['id']}: {flaw}")
        return out

    def export_csv(self) -> Iterator[str]:
        """Yield all rows but for their reports as lines of CSV (RFC 4180), names first."""
        yield _csv_line(COLUMNS)
        for row in self._stream(COLUMNS):
            yield _csv_line([row[name] for name in COLUMNS])

    def export_json(self) -> Iterator[str]:
        """Yield all rows, reports included, one JSON object a line."""
        for row in self._stream((*COLUMNS, "report")):
            self._row(row)
            for name in ("findings", "report"):
                row[name] = self._loaded(row[name], row["id"])
            yield json.dumps(row, ensure_ascii=False) + "\n"

    def _stream(self, columns: tuple[str, ...]) -> Iterator[dict[str, Any]]:
        return self._database.stream(f"SELECT {', '.join(columns)} FROM sheets ORDER BY scored_at, id")

    def backup(self, path: Path) -> int:
        """Copy the ledger to a new SQLite file, whichever database it is in; returns the rows copied.

        Others may go on writing: the copy is of one moment. It is checked before it takes its name.
        """
        if path.exists():
            raise LedgerError(f"{path} is there already; name a new file for the backup")
        try:
            with tempfile.TemporaryDirectory(dir=path.parent, prefix=".ledger-") as folder:
                aside = Path(folder) / "ledger.sqlite3"
                if isinstance(self._database, SqliteDatabase):
                    self._database.copy_to(aside)
                else:
                    self._pour_into(aside)
                with Ledger(SqliteDatabase(aside, reading=True), reading=True) as copy:
                    faults = copy.faults()
                    count = int(copy._database.query("SELECT count(*) AS n FROM sheets")[0]["n"])
                if faults:
                    raise LedgerError(f"the copy of {self.name} is not sound: {faults[0]}")
                aside.replace(path)
        except OSError as error:
            raise LedgerError(f"{path} can't be written: {error.strerror or error}; choose another place") from error
        return count

    def _pour_into(self, path: Path) -> None:
        columns = (*COLUMNS, "report")
        with Ledger(SqliteDatabase(path)) as copy, copy._database.transaction():
            for row in self._stream(columns):
                copy._database.execute(
                    f"INSERT INTO sheets ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})",
                    [row[name] for name in columns],
                )


def open_ledger(place: str | None = None, *, reading: bool = False) -> Ledger:
    """Open the ledger at `place`: a file, the URL of a PostgreSQL database, or the user's own where none is named.

    Parameters
    ----------
    place : str, optional
    reading : bool
        Only to look into it: nothing is made or changed. Otherwise it is made where there is none.

    Raises
    ------
    NoLedgerError
        What is there is no ledger.
    LedgerError
        It can't be opened; or there is none to be read.
    """
    where = ledger_place(place)
    if is_url(where):
        from printcheck.ledger.postgres import PostgresDatabase

        database: Database = PostgresDatabase(where)
    else:
        database = SqliteDatabase(ledger_path(where), reading=reading)
    try:
        return Ledger(database, reading=reading)
    except BaseException:
        database.close()
        raise


def _where(asked: dict[str, Any]) -> tuple[str, list[Any]]:
    used = {clause: value for clause, value in asked.items() if value is not None}
    return (f" WHERE {' AND '.join(used)}" if used else ""), list(used.values())


def _csv_line(values: Any) -> str:
    out = io.StringIO()
    csv.writer(out).writerow(values)
    return out.getvalue()
