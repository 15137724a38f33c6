"""The wording that text, picture and page share: verdicts, states, and lists of rows."""

from __future__ import annotations

from printcheck.document import ScoredSheet
from printcheck.measure.result import LinesReading
from printcheck.pattern.inks import INKS
from printcheck.verdict.result import Action, Reason

__all__ = ["HEADLINES", "capture_line", "findings_in_words", "ink_word", "limit_in_words", "row_list", "spans"]

HEADLINES: dict[Action, tuple[str, str]] = {
    Action.TOP_OFF: ("TOP OFF", "the cartridge prints well"),
    Action.PURGE: ("PURGE", "not yet, clean it and print again"),
    Action.REJECT: ("REJECT", "cleaning can't cure this one"),
    Action.RESCAN: ("RESCAN", "this picture can't be judged"),
}


def ink_word(ink: str) -> str:
    """The ink's colour in plain English; its letters where the table has no word."""
    return INKS[ink].word if ink in INKS else ink


def spans(rows: tuple[int, ...]) -> list[tuple[int, int]]:
    """Ascending `rows` as inclusive spans of neighbours."""
    out: list[tuple[int, int]] = []
    for row in rows:
        if out and row == out[-1][1] + 1:
            out[-1] = (out[-1][0], row)
        else:
            out.append((row, row))
    return out


def row_list(rows: tuple[int, ...], most: int = 12) -> str:
    """`rows` with neighbours joined, at most `most` entries."""
    texts = [str(a) if a == b else f"{a}\u2013{b}" for a, b in spans(rows)]
    more = len(texts) - most
    return ", ".join(texts[:most]) + (f" and {more} more" if more > 0 else "")


def findings_in_words(reading: LinesReading, most: int = 12) -> list[str]:
    """What is to be said of one ink, a phrase each; at least one."""
    if reading.absent:
        return ["no ink at all"]
    out = []
    for rows, what in (
        (reading.missing, "missing"),
        (reading.intermittent, "missing in one printing only"),
        (reading.weak, "weak"),
        (reading.displaced, "off its place" if len(reading.displaced) == 1 else "off their places"),
        (reading.unreadable, "unreadable"),
    ):
        if rows:
            out.append(f"{len(rows)} {what}: {row_list(rows, most)}")
    if reading.arrangement == "stride":
        out.append(f"at a step of {reading.stride}")
    elif reading.arrangement == "run":
        out.append(f"{reading.longest_run} side by side")
    if reading.advance_rows:
        out.append(f"second printing shifted by {reading.advance_rows} rows")
    return out or [f"all {reading.rows} rows print"]


def capture_line(sheet: ScoredSheet) -> str:
    """How the picture was taken, in a few words."""
    capture = sheet.capture
    if capture.dots_per_inch is None:
        return f"picture of {sheet.image.width_px} x {sheet.image.height_px} pixels"
    return f"{capture.kind} at {capture.dots_per_inch:.0f} dots/inch"


def limit_in_words(reason: Reason) -> str:
    """The limit that a reason crossed, or nothing where it has none."""
    if reason.limit is None or reason.value is None or not reason.unit:
        return ""
    return f"limit {reason.limit:g} {reason.unit}"
