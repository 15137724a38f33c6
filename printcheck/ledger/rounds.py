"""The rounds of a ticket: its sheets in order, and what a verdict may know of them."""

from __future__ import annotations

from collections.abc import Iterable

from printcheck.ledger.entry import Notes
from printcheck.ledger.store import Row
from printcheck.verdict.history import CleaningHistory

__all__ = ["cleaning_history", "rounds_of"]


def rounds_of(rows: Iterable[Row]) -> list[Row]:
    """Return one row a picture, oldest picture first; of a picture scored under several settings the newest row."""
    newest: dict[str, Row] = {}
    first_seen: dict[str, str] = {}
    for row in rows:
        first_seen[row.image_sha256] = min(first_seen.get(row.image_sha256, row.scored_at), row.scored_at)
        if row.image_sha256 not in newest or row.id > newest[row.image_sha256].id:
            newest[row.image_sha256] = row
    return sorted(newest.values(), key=lambda row: (first_seen[row.image_sha256], row.id))


def cleaning_history(rows: Iterable[Row], image_sha256: str, now: Notes) -> CleaningHistory:
    """Say what was done to a ticket's cartridge before the sheet in picture `image_sha256` was printed.

    Parameters
    ----------
    rows : iterable of Row
        Of this ticket.
    image_sha256 : str
        The sheet being judged; later ones are left out if it is among the rows.
    now : Notes
        What is noted beside it.
    """
    earlier: list[Row] = []
    for row in rounds_of(rows):
        if row.image_sha256 == image_sha256:
            now = now if now.cleaning else row.notes
            break
        earlier.append(row)
    cleanings = 0
    tried: list[str] = []
    missing: list[int] = []
    last: int | None = None
    for notes, count in [*((row.notes, row.rows_missing) for row in earlier), (now, None)]:
        if notes.cleaning:
            cleanings += 1
            tried += notes.steps
            if last is not None:
                missing.append(last)
        last = count if count is not None else last
    return CleaningHistory(cleanings, tuple(dict.fromkeys(tried)), tuple(missing))
