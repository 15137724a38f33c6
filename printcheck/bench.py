"""One picture through the whole bench: scored, judged by what was done to its ticket before, noted in the ledger."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.colour.house import reference_file
from printcheck.house import colour_settings
from printcheck.ledger.entry import Notes, entry_of, settings_hash
from printcheck.ledger.rounds import cleaning_history, rounds_of
from printcheck.ledger.store import Ledger, Row
from printcheck.measure.components import load_components
from printcheck.pipeline import Scored, score_image
from printcheck.regular import read_regular
from printcheck.report.json import report_of
from printcheck.verdict.colour_rules import purge_pages
from printcheck.verdict.history import CleaningHistory
from printcheck.verdict.policy import load_policy
from printcheck.verdict.rules import with_history
from printcheck.verdict.steps import load_steps
from printcheck.verdict.toner_rules import toner_facts
from printcheck.weights import Weighing, with_weighing

__all__ = ["BenchSettings", "Benched", "bench_picture", "bench_scored", "check_settings", "settings_mark"]


@dataclass(frozen=True, slots=True)
class BenchSettings:
    """How pictures are judged and what is noted beside them; plain values, so that it goes to worker processes.

    Attributes
    ----------
    policy, steps : Path or None
        The shop's own files.
    max_megapixels : float
    notes : Notes
    cleanings : int or None
        How often this cartridge was cleaned; counted in the ledger where it is none.
    tried : tuple of str
        Steps done on it, beside those in the ledger.
    weighing : Weighing or None
    reference : str or None
        Name of the house reference colour is judged against.
    calibration : str or None
        Name of the scanner's calibration.
    strip : Path or None
        Values of the control strip in a photo.
    components : Path or None
        The shop's table of a toner cartridge's turning parts.
    """

    policy: Path | None = None
    steps: Path | None = None
    max_megapixels: float = DEFAULT_MAX_MEGAPIXELS
    notes: Notes = field(default_factory=Notes)
    cleanings: int | None = None
    tried: tuple[str, ...] = ()
    weighing: Weighing | None = None
    reference: str | None = None
    calibration: str | None = None
    strip: Path | None = None
    components: Path | None = None

    @property
    def judged_by(self) -> tuple[str, ...]:
        """What else the verdict depends on: the same picture judged by another reference is another row.

        So it is by one of the same name that holds something else by now.
        """
        from printcheck.calibrate import calibration_file

        files = {"strip": self.strip, "components": self.components}
        if self.reference is not None:
            files["reference"] = reference_file(self.reference)
        if self.calibration is not None:
            files["calibration"] = calibration_file(self.calibration)
        held = ((what, file) for what, file in sorted(files.items()) if file is not None)
        return tuple(f"{what}={getattr(self, what)} {_held(file)}" for what, file in held)


@dataclass(frozen=True, slots=True)
class Benched:
    """A picture scored and judged: `report` is its JSON, `before` the earlier sheets of its ticket, `row` its number
    in the ledger where one is kept.
    """  # noqa: D205

    scored: Scored
    report: dict[str, Any]
    before: tuple[Row, ...]
    row: int | None


def check_settings(settings: BenchSettings) -> None:
    """Read every file and name of `settings` once, so that a fault in them is told before the first picture.

    Raises
    ------
    PrintcheckError
        A file can't be read, or a reference, calibration or step is not known.
    """
    load_policy(settings.policy)
    _check_steps(settings)
    colour_settings(settings.reference, settings.calibration, settings.strip)
    if settings.components is not None:
        load_components(settings.components)


def settings_mark(settings: BenchSettings) -> str:
    """A mark of all that a result depends on beside its picture: another mark, and the picture is to be scored again.

    That is what a ledger tells its rows by, the words of the shop's own steps, and how large a picture may be.
    """
    own = "" if settings.steps is None else repr(load_steps(settings.steps))
    more = (f"steps={own}", f"max_megapixels={settings.max_megapixels:g}")
    return settings_hash(load_policy(settings.policy), *settings.judged_by, *more)


def bench_picture(path: Path, settings: BenchSettings, ledger: Ledger | None = None) -> Benched:
    """Score, judge and note one picture.

    Raises
    ------
    InputError
        `path` is no image that can be opened.
    LedgerError
        The row could not be written.
    """
    _check_steps(settings)
    colour = colour_settings(settings.reference, settings.calibration, settings.strip)
    parts = () if settings.components is None else load_components(settings.components)
    scored = score_image(
        path,
        max_megapixels=settings.max_megapixels,
        policy=load_policy(settings.policy),
        colour=colour,
        components=parts,
    )
    return bench_scored(scored, settings, ledger)


def bench_scored(
    scored: Scored, settings: BenchSettings, ledger: Ledger | None = None, *, scored_at: datetime | None = None
) -> Benched:
    """Judge and note a picture that is scored already: what its ticket was given before is part of the verdict.

    Parameters
    ----------
    scored : Scored
    settings : BenchSettings
        What concerns the scoring itself is not looked at.
    ledger : Ledger, optional
    scored_at : datetime, optional
        Now by default.

    Raises
    ------
    LedgerError
        The row could not be written.
    """
    _check_steps(settings)
    policy, steps = load_policy(settings.policy), load_steps(settings.steps)
    sheet = scored.sheet
    rows = ledger.rows(ticket=sheet.ticket) if ledger is not None and sheet.ticket else []
    history = _history(cleaning_history(rows, sheet.image.sha256, settings.notes), settings)
    pages = purge_pages(sheet.contamination)
    facts = {} if pages is None else {"pages": str(pages)}
    toner = sheet.toner is not None
    if sheet.toner is not None:
        facts |= toner_facts(sheet.toner)
    assessment = with_history(sheet.assessment, sheet.lines, policy, history, steps=steps, facts=facts, toner=toner)
    if settings.weighing is not None:
        assessment = with_weighing(assessment, settings.weighing, "toner" if toner else "ink")
    sheet = replace(sheet, assessment=assessment)
    report = report_of(sheet)
    if settings.weighing is not None:
        report["weight"] = _weight(settings.weighing)
    row = None
    if ledger is not None:
        entry = entry_of(sheet, report, policy, settings.notes, scored_at, settings.judged_by)
        row = ledger.add(entry)[0]
    before = []
    for earlier in rounds_of(rows):
        if earlier.image_sha256 == sheet.image.sha256:
            break
        before.append(earlier)
    return Benched(replace(scored, sheet=sheet), report, tuple(before), row)


def _held(file: Path) -> str:
    """A mark of what `file` holds."""
    return hashlib.sha256(read_regular(file, "one that can be read")).hexdigest()


def _check_steps(settings: BenchSettings) -> None:
    """Raise `PrintcheckError` where a step that was named is none of the shop's."""
    steps = load_steps(settings.steps)
    steps.check_defects(load_policy(settings.policy))
    for name in (*settings.tried, *settings.notes.steps):
        steps.check_cleaning(name)


def _history(known: CleaningHistory, settings: BenchSettings) -> CleaningHistory:
    """Put what was said on the command line over what the ledger knows."""
    tried = tuple(dict.fromkeys((*known.tried, *settings.tried)))
    # several steps may have been one cleaning, as they are in one note
    done = max(known.cleanings, 1 if settings.tried else 0)
    cleanings = done if settings.cleanings is None else settings.cleanings
    return replace(known, cleanings=cleanings, tried=tried)


def _weight(weighing: Weighing) -> dict[str, Any]:
    return {
        "cartridge": weighing.cartridge.name,
        "weight_g": weighing.weight_g,
        "empty_g": weighing.cartridge.empty_g,
        "full_g": weighing.cartridge.full_g,
        "add_g": round(weighing.add_g, 2),
        "warning": weighing.warning,
    }
