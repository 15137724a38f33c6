"""One row of the ledger: a scored sheet, what the bench noted beside it, and which settings were in force."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from printcheck.document import ScoredSheet
    from printcheck.verdict.policy import Policy

__all__ = ["Entry", "Notes", "entry_of", "settings_hash"]


@dataclass(frozen=True, slots=True)
class Notes:
    """What the bench notes beside a sheet; none where it was not said.

    `cleaning` names the steps done just before the sheet was printed, joined by ``+``.
    """

    cartridge: str | None = None
    ink_lot: str | None = None
    printer: str | None = None
    operator: str | None = None
    cleaning: str | None = None
    weight_g: float | None = None

    def __bool__(self) -> bool:
        return any(getattr(self, field.name) is not None for field in fields(self))

    @property
    def steps(self) -> tuple[str, ...]:
        """The cleaning's steps by name."""
        return tuple(self.cleaning.split("+")) if self.cleaning else ()


@dataclass(frozen=True, slots=True)
class Entry:
    """One row, before it has a number.

    Attributes
    ----------
    image_sha256, layout, settings : str
        Together they make a row the only one of its kind: the same picture read as the same sheet under the same
        limits is one row, however often it is scored.
    scored_at : str
        UTC, ISO 8601.
    image_path, ticket, head, page, action
        As in the report; head and page none where no sheet was found.
    rows_missing : int or None
        Steadily missing rows of all inks; none where the picture can't be judged.
    findings : list of dict
        ``{measure, ink, action, defect}`` for each reason of the verdict.
    notes : Notes
    report : dict
        The whole report of the contract.
    """

    image_sha256: str
    layout: str
    settings: str
    scored_at: str
    image_path: str
    ticket: str
    head: str | None
    page: str | None
    action: str
    rows_missing: int | None
    findings: list[dict[str, Any]]
    notes: Notes
    report: Mapping[str, Any]


def entry_of(
    sheet: ScoredSheet,
    report: Mapping[str, Any],
    policy: Policy,
    notes: Notes | None = None,
    scored_at: datetime | None = None,
    more_settings: tuple[str, ...] = (),
) -> Entry:
    """Make the row of a scored sheet.

    Parameters
    ----------
    sheet : ScoredSheet
    report : mapping
        Of the same sheet, as ``report_of`` gives it.
    policy : Policy
        In force when it was judged.
    notes : Notes, optional
    scored_at : datetime, optional
        Now by default.
    more_settings : tuple of str
        Whatever else a verdict may depend on, such as the name of a reference.
    """
    from printcheck.verdict.compare import judged
    from printcheck.verdict.history import steady_missing
    from printcheck.verdict.rules import defect_of

    layout = sheet.layout
    seen = judged(sheet)
    findings = [
        {
            "measure": reason.measure,
            "ink": reason.ink,
            "action": reason.action.value,
            "defect": defect_of(reason, sheet.lines, policy) if seen else None,
        }
        for reason in sheet.assessment.reasons
    ]
    return Entry(
        sheet.image.sha256,
        "" if layout is None else f"{layout.head.name}/{layout.page.name}/{layout.version}",
        settings_hash(policy, *more_settings),
        (scored_at or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="milliseconds"),
        sheet.image.path,
        sheet.ticket,
        None if layout is None else layout.head.name,
        None if layout is None else layout.page.name,
        sheet.assessment.action.value,
        steady_missing(sheet.lines) if seen and sheet.toner is None else None,  # toner has no rows
        findings,
        notes or Notes(),
        report,
    )


def settings_hash(policy: Policy, *more: str) -> str:
    """Return SHA-256 of every limit in force, of the policy and of reading, and of what `more` there is.

    Words (titles, units, bases) are left out: a limit that is only explained better is the same limit.
    """
    from printcheck.limits import LIMITS

    words = {"title", "unit", "basis"}
    table: list[object] = [
        [{key: value for key, value in asdict(row).items() if key not in words} for row in policy.values()],
        {limit.name: limit.value for limit in LIMITS.values()},
        *more,
    ]
    return hashlib.sha256(json.dumps(table, sort_keys=True).encode()).hexdigest()
