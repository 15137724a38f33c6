"""The ledger's tables as named migrations, each applied once and in order, in a transaction of its own.

To change the tables, add a migration at the end; never edit an old one. ``{serial}`` is the one word in which the
two databases differ.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from printcheck.ledger.database import Database

__all__ = ["MIGRATIONS", "migrate"]

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


def migrate(database: Database) -> None:
    """Bring the tables up to date; many programs may do so at once.

    Raises
    ------
    LedgerError
        The ledger was written by a newer printcheck.
    """
    from printcheck.ledger.database import LedgerError

    known = [name for name, _ in MIGRATIONS]
    if database.has_table("migrations"):
        applied = {row["name"] for row in database.query("SELECT name FROM migrations")}
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
    newer = {row["name"] for row in database.query("SELECT name FROM migrations")} - set(known)
    if newer:
        raise LedgerError(f"ledger {database.name} was written by a newer printcheck ({min(newer)}); update this one")


def _now() -> str:
    from datetime import UTC, datetime

    return datetime.now(UTC).isoformat(timespec="seconds")
