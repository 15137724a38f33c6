"""The rounds of a ticket: its sheets in order, and what a verdict may know of them.

A picture that can't be judged is no round: the sheet is scanned again, or a fresh one printed, and the note of the
cleaning before it given again or not. So what is noted beside such pictures belongs to the next one that is judged,
and the same note twice in a row is then one cleaning. Between two judged sheets the same note is one cleaning more.
"""

from __future__ import annotations

from collections.abc import Iterable

from printcheck.ledger.entry import Notes
from printcheck.ledger.store import Row
from printcheck.verdict.history import Cleaning, CleaningHistory

__all__ = ["cleaning_history", "judged_rounds", "rounds_of"]


def rounds_of(rows: Iterable[Row]) -> list[Row]:
    """Return one row a picture, oldest picture first; of a picture scored under several settings the newest row."""
    newest: dict[str, Row] = {}
    first_seen: dict[str, str] = {}
    for row in rows:
        first_seen[row.image_sha256] = min(first_seen.get(row.image_sha256, row.scored_at), row.scored_at)
        if row.image_sha256 not in newest or row.id > newest[row.image_sha256].id:
            newest[row.image_sha256] = row
    return sorted(newest.values(), key=lambda row: (first_seen[row.image_sha256], row.id))


def judged_rounds(rounds: Iterable[Row]) -> list[tuple[Row, tuple[Notes, ...]]]:
    """Return the judged of a ticket's `rounds`, each with the notes of the cleanings since the one before."""
    every = list(rounds)
    return list(zip(filter(_judged, every), _cleanings((row.notes, _judged(row)) for row in every), strict=True))


def _judged(row: Row) -> bool:
    return row.action != "rescan"


def _cleanings(pictures: Iterable[tuple[Notes, bool]]) -> list[tuple[Notes, ...]]:
    """For each picture that is judged, the notes of the cleanings since the one before; the same twice is one."""
    out: list[tuple[Notes, ...]] = []
    waiting: list[Notes] = []
    for notes, judged in pictures:
        if notes.cleaning and not (waiting and waiting[-1].cleaning == notes.cleaning):
            waiting.append(notes)
        if judged:
            out.append(tuple(waiting))
            waiting = []
    return out


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
    before: list[Row | None] = [None, *filter(_judged, earlier)]
    done: list[Cleaning] = []
    missing: list[int] = []
    last: int | None = None
    cleanings = _cleanings([*((row.notes, _judged(row)) for row in earlier), (now, True)])
    for notes, sheet in zip(cleanings, before, strict=True):
        count = None if sheet is None else sheet.rows_missing
        last = count if count is not None else last
        done += [Cleaning(one.steps, _found(sheet), count) for one in notes]
        if last is not None:
            missing += [last] * len(notes)
    tried = dict.fromkeys(step for one in done for step in one.steps)
    return CleaningHistory(len(done), tuple(tried), tuple(missing), tuple(done))


def _found(row: Row | None) -> frozenset[tuple[str, str | None]] | None:
    return None if row is None else frozenset((finding["measure"], finding["ink"]) for finding in row.findings)
