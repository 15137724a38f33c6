"""Where the ledger is: named, or in the environment, or the user's own data folder."""

from __future__ import annotations

import os
from pathlib import Path

from printcheck.errors import OutputError

__all__ = ["VARIABLE", "default_place", "is_url", "ledger_path", "ledger_place", "shown"]

VARIABLE = "PRINTCHECK_LEDGER"
"""Environment variable that names the ledger of this machine: a file, or the URL of a PostgreSQL database."""


def default_place() -> str:
    """Return the file that is used where nobody names another."""
    from platformdirs import user_data_path

    return str(user_data_path("printcheck", appauthor=False) / "ledger.sqlite3")


def ledger_place(named: str | None) -> str:
    """Return `named`, else what the environment says, else the default."""
    return named or os.environ.get(VARIABLE) or default_place()


def ledger_path(place: str) -> Path:
    """Return the file of a place that is no URL; raises `OutputError` where its ``~`` is nobody's."""
    try:
        return Path(place).expanduser()
    except RuntimeError as error:
        raise OutputError(
            f"ledger {place} can't be opened: no user's folder is known by that name; name a file"
        ) from error


def is_url(place: str) -> bool:
    """Tell a database's URL from a file's path."""
    return place.startswith(("postgresql://", "postgres://"))


def shown(place: str) -> str:
    """Return a place fit for messages: of a URL only host and database, never a password."""
    if not is_url(place):
        return str(Path(place))
    from urllib.parse import urlsplit

    try:
        parts = urlsplit(place)
    except ValueError:  # none of what it says may be shown where it can't be told apart
        return "postgresql://(an address that can't be read)"
    return f"postgresql://{parts.hostname or ''}{parts.path}"
