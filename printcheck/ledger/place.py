"""Where the ledger is: named, or in the environment, or the user's own data folder."""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["VARIABLE", "default_place", "is_url", "ledger_place", "shown"]

VARIABLE = "PRINTCHECK_LEDGER"
"""Environment variable that names the ledger of this machine: a file, or the URL of a PostgreSQL database."""


def default_place() -> str:
    """Return the file that is used where nobody names another."""
    from platformdirs import user_data_path

    return str(user_data_path("printcheck", appauthor=False) / "ledger.sqlite3")


def ledger_place(named: str | None) -> str:
    """Return `named`, else what the environment says, else the default."""
    return named or os.environ.get(VARIABLE) or default_place()


def is_url(place: str) -> bool:
    """Tell a database's URL from a file's path."""
    return place.startswith(("postgresql://", "postgres://"))


def shown(place: str) -> str:
    """Return a place fit for messages: of a URL only host and database, never a password."""
    if not is_url(place):
        return str(Path(place))
    from urllib.parse import urlsplit

    parts = urlsplit(place)
    return f"postgresql://{parts.hostname or ''}{parts.path}"
