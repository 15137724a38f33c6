"""The ledger's tables as named migrations, each applied once and in order, in a transaction of its own.

To change the tables, add a migration at the end; never edit an old one. ``{serial}`` is the one word in which the
two databases differ.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from printcheck.ledger.database import Database

__all__ = ["MIGRATIONS", "check_tables", "migrate"]

MIGRATIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "0001-sheets",
        (
            """
            CREATE TABLE sheets (
              id {serial},
              image_sha256 TEXT NOT NULL,
              layout TEXT NOT NULL,
              settings TEXT NOT NULL,
              scored_at TEXT NOT NULL,
              image_path TEXT NOT NULL,
              ticket TEXT NOT NULL,
              head TEXT,
              page TEXT,
              action TEXT NOT NULL,
              rows_missing INTEGER,
              findings TEXT NOT NULL,
              cartridge TEXT,
              ink_lot TEXT,
              printer TEXT,
              operator TEXT,
              cleaning TEXT,
              weight_g DOUBLE PRECISION,
              report TEXT NOT NULL,
              UNIQUE (image_sha256, layout, settings)
            )
            """,
            "CREATE INDEX sheets_by_ticket ON sheets (ticket, scored_at)",
            "CREATE INDEX sheets_by_time ON sheets (scored_at)",
        ),
    ),
)


def check_tables(database: Database) -> None:
    """Make sure that a database is a ledger of this program's time; nothing is written.

    Raises
    ------
    NoLedgerError
        It is another program's, or holds nothing.
    LedgerError
        Another printcheck wrote it, a newer or an older one; or it is damaged.
    """
    from printcheck.ledger.database import LedgerError, NoLedgerError

    applied = _applied(database)
    if not applied:
        raise NoLedgerError(database.name, "it holds no tables yet; printcheck log SCAN starts a ledger")
    known = {name for name, _ in MIGRATIONS}
    if applied - known:
        raise LedgerError(_newer(database, applied - known))
    if known - applied:
        raise LedgerError(
            f"ledger {database.name} was written by an older printcheck; note a sheet with printcheck log SCAN, "
            "which brings it up to date"
        )


def _applied(database: Database) -> set[str]:
    """Names of the migrations a ledger has had; raises `NoLedgerError` where the tables are another program's."""
    from printcheck.ledger.database import LedgerError, NoLedgerError

    foreign = NoLedgerError(database.name, "the database is another program's")
    columns = database.columns("migrations")
    if not columns and database.taken():
        columns = database.columns("migrations")  # another program may have begun the ledger in between
        if not columns:
            raise foreign
    if not columns:
        return set()
    if columns != {"name", "applied_at"}:
        raise foreign
    applied = _names(database)
    if not applied and database.columns("sheets"):
        applied = _names(database)  # another program may have made the tables in between, and this in the same stroke
        if not applied:
            raise LedgerError(
                f"ledger {database.name} is damaged: its table 'migrations' is empty; go back to a backup"
            )
    if applied and (MIGRATIONS[0][0] not in applied or not database.columns("sheets")):
        raise foreign
    return applied


def _names(database: Database) -> set[str]:
    return {str(row["name"]) for row in database.query("SELECT name FROM migrations")}


def _newer(database: Database, names: set[str]) -> str:
    return f"ledger {database.name} was written by a newer printcheck ({min(names)}); update this one"


def migrate(database: Database) -> None:
    """Set the database up and bring the tables up to date; many programs may do so at once.

    Raises
    ------
    NoLedgerError
        The database is another program's.
    LedgerError
        The ledger was written by a newer printcheck.
    """
    from printcheck.ledger.database import LedgerError

    known = [name for name, _ in MIGRATIONS]
    applied = _applied(database)
    database.prepare()
    if applied == set(known):
        return
    with database.transaction():
        database.execute("CREATE TABLE IF NOT EXISTS migrations (name TEXT PRIMARY KEY, applied_at TEXT NOT NULL)")
    for name, statements in MIGRATIONS:
        with database.transaction():  # the lock is taken first: whoever waited here finds the work done
            if database.query("SELECT name FROM migrations WHERE name = ?", (name,)):
                continue
            for statement in statements:
                database.execute(statement.format(serial=database.serial))
            database.execute("INSERT INTO migrations VALUES (?, ?)", (name, _now()))
    newer = _names(database) - set(known)
    if newer:
        raise LedgerError(_newer(database, newer))


def _now() -> str:
    from datetime import UTC, datetime

    return datetime.now(UTC).isoformat(timespec="seconds")
