"""The same cartridge before and after a cleaning: what came back, what is still missing, what is new.

How the outcome is decided
--------------------------
Rows are compared, not dashes: two printings of one row share a nozzle and are no two pieces of evidence. A row counts
as missing where it is missing in any printing that could be read, as for the verdict; a row that neither sheet's
readable printings show on both sides takes no part.

1. ``cured``: the first sheet was found faulty, and the second passes (its verdict is top-off) with no row of it
   missing and none unread in every printing, whatever the shop's own policy lets pass.
2. Changes of missing rows all one way, and at least one of them beyond the two readings' uncertainty (its strengths
   differ by more than 4 sd of both together): ``better`` or ``worse``. The readings themselves then rule out that
   nothing changed, and a direction needs no test.
3. Changes both ways: McNemar's exact test on the rows that changed; ``unchanged`` where p is 0.05 or more.
4. No row came or went: the same on sound against faulty rows (weak and displaced count as faulty), for where two
   passes share a row a dead nozzle leaves it weak. A row near a limit crosses it by noise, so only those take part
   whose strength moved beyond both readings' 95 % intervals, and without p < 0.05 only those count whose strength
   moved by half the way from the limit of weak to that of missing.
5. No row changed either way: foreign ink (by what it is known by on each, and by the other sheet's colours), fade,
   air and, of inks that lack no row, bands: ``better`` or ``worse`` where one moved beyond both readings' 95 %
   intervals, and nothing the other way. Fade and bands are differences of L*, which levels stretch: they are not
   compared where a solid sends back half as much light again in one picture as in the other.
6. Anything else is ``unchanged``; so is a pair in which either picture can't be judged, which is then not `told`.

A row that the first sheet could not show and the second shows missing is neither new nor old: it is named apart.

Where an ink's missing rows changed both ways, and paper that started at another place of the head would make it one
way (`align.may_lie_elsewhere`: a run of 19 that is a run of 9 elsewhere), which rows changed can't be told. Then only
how many are missing is compared. With the fewest changes that explain both sheets the difference is all that changed,
so the exact binomial test, which rule 3 makes on rows, is made on it. Rule 2 is not used: no row is known to have
changed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from printcheck.document import ScoredSheet
from printcheck.errors import PrintcheckError
from printcheck.limits import LIMITS
from printcheck.measure.result import ForeignInk, LinesReading
from printcheck.measure.toner_result import TonerReading
from printcheck.pattern.inks import INKS
from printcheck.verdict.compare_evenness import evenness_changes
from printcheck.verdict.compare_foreign import Mutual, foreign_changes, foreign_now
from printcheck.verdict.compare_toner import compare_toner
from printcheck.verdict.paired import mcnemar_exact
from printcheck.verdict.paired_rows import (
    Changes,
    Pair,
    beyond_noise,
    changes_of,
    fewer_missing,
    missing_changes,
    missing_rows,
    missing_unread_before,
    pairs_of,
    still_missing,
)
from printcheck.verdict.result import Action, Assessment
from printcheck.verdict.words import counted

__all__ = ["Comparison", "InkComparison", "Outcome", "Test", "compare_sheets", "judged"]

_TONE = LIMITS["pair_tone"].value
_ALPHA = LIMITS["compare_significance"].value
_LIKELY_SD = LIMITS["compare_likely"].value
_SURE = "more than the two readings can be wrong by"
_READ_ALL_THE_SAME = frozenset(
    {
        "unreadable_rows", "weak_together", "weak_unseen", "displaced_together", "colour_unread",
        "leaning_colour_scan",
    }
)  # fmt: skip
"""A few rows unread or in doubt, a grey picture, or a colour that only a known-good cartridge's can settle."""
# strength by which a row must differ to be changed rather than read differently: half of what lies between the limits
_FAR = 0.5 * (LIMITS["dash_weak"].value - LIMITS["dash_missing"].value)


class Outcome(StrEnum):
    """What the cleaning did, as far as the two pictures can tell."""

    CURED = "cured"
    BETTER = "better"
    UNCHANGED = "unchanged"
    WORSE = "worse"


@dataclass(frozen=True, slots=True)
class Test:
    """McNemar's exact test on rows: `states` says which two states were told apart.

    Where rows of an ink can't be matched, by how many fewer or more are missing counts for it, `by_counts`.
    """

    states: str
    recovered: int
    lost: int
    p_value: float
    by_counts: bool = False


@dataclass(frozen=True, slots=True)
class InkComparison:
    """One ink before and after. Rows are those of the first sheet, ascending.

    Attributes
    ----------
    ink : str
    recovered, still_missing, newly_missing : tuple of int or None
        None where either picture can't be judged, or its rows can't be matched with the other's.
    unread : tuple of int or None
        Rows that could not be compared: unreadable on one of the sheets.
    missing_unread_before : tuple of int or None
        Those of them that are missing now and were unreadable before: since when can't be told.
    shift_rows : int
        Where the paper started elsewhere: row r before is row (r + shift) modulo the rows after.
    counts : tuple of int or None
        Rows missing before, and now; none where either picture can't be judged.
    """

    ink: str
    recovered: tuple[int, ...] | None
    still_missing: tuple[int, ...] | None
    newly_missing: tuple[int, ...] | None
    unread: tuple[int, ...] | None
    missing_unread_before: tuple[int, ...] | None
    shift_rows: int = 0
    counts: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two sheets of one cartridge. `assessment` is that of the second: how the cartridge now stands.

    `told` is False where either picture can't be judged: ``unchanged`` then says nothing of the cartridge.
    """

    before: ScoredSheet
    after: ScoredSheet
    inks: tuple[InkComparison, ...]
    outcome: Outcome
    reasons: tuple[str, ...]
    test: Test | None
    told: bool = True

    @property
    def assessment(self) -> Assessment:
        return self.after.assessment


def compare_sheets(
    before: ScoredSheet, after: ScoredSheet, *, ignore_ticket: bool = False, mutual: Mutual | None = None
) -> Comparison:
    """Compare two scored sheets of the same cartridge.

    Parameters
    ----------
    before, after : ScoredSheet
    ignore_ticket : bool
        Sheets of different tickets may be compared.
    mutual : tuple, optional
        Foreign ink of either sheet by the colours of the other, where one scanner saw both.

    Raises
    ------
    PrintcheckError
        They are of different heads, pages or tickets (the last may be ignored).
    """
    _same_sheet(before, after, ignore_ticket)
    blind = [name for name, sheet in (("first", before), ("second", after)) if not judged(sheet)]
    if blind:
        return _not_told(before, after, blind)
    if before.toner is not None and after.toner is not None:
        return _toner_sheets(before, after, before.toner, after.toner)
    pairs = pairs_of(before, after)
    changes = [missing_changes(pair) for pair in pairs]
    inks = tuple(_ink(pair, c) for pair, c in zip(pairs, changes, strict=True))
    outcome, reasons, test = _decide(before, after, pairs, changes, mutual)
    if after.assessment.action is Action.TOP_OFF:
        reasons = (*reasons, *map(_not_before, foreign_now(mutual)))
    unseen = sum(len(ink.missing_unread_before or ()) for ink in inks)
    if unseen:
        words = f"{counted(unseen, 'row')} missing now could not be read before: since when can't be told"
        reasons = (*reasons, words)
    return Comparison(before, after, inks, outcome, reasons, test)


def _ink(pair: Pair, changes: Changes) -> InkComparison:
    counts = (len(missing_rows(pair.before)), len(missing_rows(pair.after)))
    if not pair.matched:
        return InkComparison(pair.before.ink, None, None, None, None, None, counts=counts)
    return InkComparison(
        pair.before.ink,
        tuple(sorted(missing_rows(pair.before) & changes.seen - changes.after)),
        tuple(sorted(still_missing(pair, changes))),
        tuple(sorted(changes.after - changes.before)),
        tuple(row for row in range(pair.before.rows) if row not in changes.seen),
        missing_unread_before(pair),
        pair.shift,
        counts,
    )


def _not_told(before: ScoredSheet, after: ScoredSheet, blind: list[str]) -> Comparison:
    """The comparison where one of the pictures, or both, can't be judged: `blind` names them."""
    layout = before.layout or after.layout
    inks = () if layout is None else tuple(
        InkComparison(ink.ink, None, None, None, None, None) for ink in layout.head.inks
    )  # fmt: skip
    which = "neither picture" if len(blind) == 2 else f"the {blind[0]} picture"
    what = "can" if len(blind) == 2 else "can't"
    return Comparison(
        before, after, inks, Outcome.UNCHANGED,
        (f"{which} {what} be judged, so no change can be told; take it again and compare once more",), None,
        told=False,
    )  # fmt: skip


def _toner_sheets(before: ScoredSheet, after: ScoredSheet, first: TonerReading, second: TonerReading) -> Comparison:
    """Compare two toner sheets: rule 1, then changes beyond both readings' uncertainty where all go one way."""
    changes = compare_toner(first, second)
    reasons = tuple(change.text for change in changes) or ("nothing changed beyond what the readings are sure of",)
    ways = {change.way for change in changes}
    if before.assessment.action is not Action.TOP_OFF and after.assessment.action is Action.TOP_OFF:
        outcome = Outcome.CURED
    else:
        outcome = Outcome(ways.pop()) if len(ways) == 1 else Outcome.UNCHANGED
    return Comparison(before, after, (), outcome, reasons, None)


def judged(sheet: ScoredSheet) -> bool:
    """Tell whether the sheet's rows were read: it has a verdict, or what keeps it from passing leaves them read."""
    if sheet.layout is None or sheet.assessment.action is not Action.RESCAN:
        return sheet.layout is not None
    asked = {reason.measure for reason in sheet.assessment.reasons if reason.action is Action.RESCAN}
    return bool(asked) and asked <= _READ_ALL_THE_SAME


def _decide(
    before: ScoredSheet, after: ScoredSheet, pairs: list[Pair], changes: list[Changes], mutual: Mutual | None
) -> tuple[Outcome, tuple[str, ...], Test]:
    apart = [pair for pair in pairs if not pair.matched]
    matched = [(p, c) for p, c in zip(pairs, changes, strict=True) if p.matched]
    recovered = [(p, row) for p, c in matched for row in sorted(c.before - c.after)]
    lost = [(p, row) for p, c in matched for row in sorted(c.after - c.before)]
    test = Test("missing", len(recovered), len(lost), mcnemar_exact(len(recovered), len(lost)))
    back, gone = f"{counted(len(recovered), 'missing row')} came back", f"{counted(len(lost), 'row')} went missing"
    # a shop's own policy may let a cartridge go out with a row missing; that is still no cure
    whole = not any(missing_rows(p.after) or p.after.unreadable for p in pairs)
    turned = None if mutual is None else (mutual[1], mutual[0])
    if after.assessment.action is Action.TOP_OFF and whole and not foreign_now(mutual):
        if before.assessment.action is Action.TOP_OFF and not foreign_now(turned):
            return Outcome.UNCHANGED, ("nothing was found wrong before, and nothing is now",), test
        if before.assessment.action is Action.RESCAN:  # a few rows unread are no fault found
            told = "nothing is wrong now, and what the first picture could not show may have been so before"
            return Outcome.UNCHANGED, (told,), test
        seen = ": every row was seen, and none is missing" if pairs else ""  # a toner sheet has no rows
        gone_ink = ", ".join(INKS[ink].word for ink, _ in foreign_now(turned))
        less_foreign = (f"less foreign ink in {gone_ink}",) if gone_ink else ()
        return Outcome.CURED, (f"the second sheet passes{seen}", *less_foreign), test
    if apart:
        by_counts = _decide_by_counts(apart, recovered, lost)
        if by_counts is not None:
            return by_counts
    if recovered and lost:
        if test.p_value < _ALPHA:
            way = Outcome.BETTER if len(recovered) > len(lost) else Outcome.WORSE
            return way, (back, gone, f"more than chance explains ({_p(test)})"), test
        return Outcome.UNCHANGED, (back, gone, f"no clear change either way ({_p(test)})"), test
    moved = recovered or lost
    if moved:
        words = back if recovered else gone
        if any(beyond_noise(pair, row) for pair, row in moved):
            way = Outcome.BETTER if recovered else Outcome.WORSE
            other = "went missing" if recovered else "came back"
            less, more = _else_changed(before, after, mutual)
            against = f"but there is more {', '.join(more)}" if recovered else f"but there is less {', '.join(less)}"
            but = (against,) if (more if recovered else less) else ()
            return way, (words, f"none {other}, and the change is {_SURE}", *but), test
        return Outcome.UNCHANGED, (words, "that is within what the two readings can be wrong by"), test
    outcome, reasons, test = _decide_by_quality([p for p, _ in matched], [c for _, c in matched])
    if apart:
        reasons = (f"{_counts(apart)}; whether they are the same can't be told", *reasons[1:])
    less, more = _else_changed(before, after, mutual)
    if outcome is Outcome.UNCHANGED and (less or more):
        besides = tuple(f"{which} {', '.join(what)}" for which, what in (("less", less), ("more", more)) if what)
        if less and more:
            return outcome, (reasons[0], *besides, "which is no clear way"), test
        return (Outcome.BETTER if less else Outcome.WORSE), (reasons[0], f"{besides[0]}, {_SURE}"), test
    return outcome, reasons, test


def _decide_by_counts(
    apart: list[Pair], recovered: list[tuple[Pair, int]], lost: list[tuple[Pair, int]]
) -> tuple[Outcome, tuple[str, ...], Test] | None:
    """Judge how many rows are missing where those of the inks `apart` can't be matched; none where it is as many.

    `recovered` and `lost` are the other inks' rows.
    """
    fewer = [fewer_missing(pair) for pair in apart]
    back = len(recovered) + sum(n for n in fewer if n > 0)
    gone = len(lost) - sum(n for n in fewer if n < 0)
    if not back and not gone:
        return None
    test = Test("missing", back, gone, mcnemar_exact(back, gone), by_counts=True)
    words: tuple[str, ...] = (
        _counts(apart),
        "the paper may have started elsewhere, so which rows changed can't be told",
    )
    if recovered or lost:
        others = f"of the other inks {counted(len(recovered), 'missing row')} came back, {len(lost)} went missing"
        words = (*words, others)
    way = Outcome.BETTER if back > gone else Outcome.WORSE
    if test.p_value < _ALPHA:
        return way, (*words, f"more than chance explains ({_p(test)})"), test
    if not (back and gone) and any(beyond_noise(pair, row) for pair, row in recovered or lost):
        return way, (*words, f"the change is {_SURE}"), test
    return Outcome.UNCHANGED, (*words, f"no clear change either way ({_p(test)})"), test


def _counts(pairs: list[Pair]) -> str:
    """How many rows of each ink are missing before and now, in words."""
    return ", ".join(
        f"{INKS[p.before.ink].word}: {counted(len(missing_rows(p.before)), 'row')} missing before,"
        f" {len(missing_rows(p.after))} now"
        for p in pairs
    )


def _toned_otherwise(before: ScoredSheet, after: ScoredSheet) -> set[str]:
    """Inks whose solids differ so much in light that differences of L* on the two sheets are not of one size."""
    was = {solid.ink: solid.absorptance for solid in before.solids}
    out = set()
    for solid in after.solids:
        pair = (was.get(solid.ink), solid.absorptance)
        light = sorted(max(1.0 - taken, 1e-3) for taken in pair if taken is not None)
        if len(light) == 2 and light[1] > _TONE * light[0]:
            out.add(solid.ink)
    return out


def _not_before(found: tuple[str, ForeignInk]) -> str:
    """What the second sheet's colour tells beside the first's, though by itself it passes."""
    ink, foreign = found
    return (
        f"{INKS[ink].word} holds at least {100 * foreign.ci95[0]:.0f} % {INKS[foreign.ink].word} that the first "
        "sheet does not show: before it goes out, score it against a known-good sheet (--reference)"
    )


def _else_changed(before: ScoredSheet, after: ScoredSheet, mutual: Mutual | None) -> tuple[list[str], list[str]]:
    """What there is less of, and what more, besides rows; in words."""
    out: list[list[str]] = []
    foreign = foreign_changes(before.contamination, after.contamination, mutual)
    lacking = {
        reading.ink for sheet in (before, after) for reading in sheet.lines if missing_rows(reading) or reading.weak
    }
    uneven_changes = evenness_changes(before.evenness, after.evenness, lacking, _toned_otherwise(before, after))
    for inks, uneven in zip(foreign, uneven_changes, strict=True):
        mixed = [f"foreign ink in {', '.join(INKS[ink].word for ink in inks)}"] if inks else []
        out.append([*mixed, *uneven])
    return out[0], out[1]


def _decide_by_quality(pairs: list[Pair], missing: list[Changes]) -> tuple[Outcome, tuple[str, ...], Test]:
    """Judge weak and displaced rows, where the missing ones are the same."""
    quality = [changes_of(pair, _faulty_rows) for pair in pairs]
    cured, spoilt = (
        sum(_moved(pair, row) for pair, c in zip(pairs, quality, strict=True) for row in (c.before - c.after)),
        sum(_moved(pair, row) for pair, c in zip(pairs, quality, strict=True) for row in (c.after - c.before)),
    )
    moved_far = {
        way: sum(
            beyond_noise(pair, row, _FAR)
            for pair, c in zip(pairs, quality, strict=True)
            for row in (c.before - c.after if way is Outcome.BETTER else c.after - c.before)
        )
        for way in (Outcome.BETTER, Outcome.WORSE)
    }
    test = Test("faulty", cured, spoilt, mcnemar_exact(cured, spoilt))
    if any(c.after for c in missing):
        same = "the same rows are missing"
    elif any(missing_rows(p.after) or missing_rows(p.before) for p in pairs):
        same = "of the rows that both sheets show, none is missing on either"
    else:
        same = "no row is missing on either"
    if test.p_value < _ALPHA:
        way = Outcome.BETTER if cured > spoilt else Outcome.WORSE
        words = f"{cured} weak or displaced rows became sound, {spoilt} sound ones weak or displaced"
        return way, (same, f"{words} ({_p(test)})"), test
    for way, other in ((Outcome.BETTER, Outcome.WORSE), (Outcome.WORSE, Outcome.BETTER)):
        if moved_far[way] and not moved_far[other]:
            what = "gained" if way is Outcome.BETTER else "lost"
            words = f"{counted(moved_far[way], 'row')} {what} strength, none the other way"
            return way, (same, f"{words}, {_SURE}"), test
    return Outcome.UNCHANGED, (same, "the rest changed no more than chance explains"), test


def _faulty_rows(reading: LinesReading) -> frozenset[int]:
    return missing_rows(reading) | frozenset(reading.weak) | frozenset(reading.displaced)


def _moved(pair: Pair, row: int) -> bool:
    """Tell whether a row that crossed a limit did more than that: two captures read all of them a little apart."""
    displaced = row in pair.before.displaced or pair.then(row) in pair.after.displaced
    return displaced or beyond_noise(pair, row, sds=_LIKELY_SD)


def _p(test: Test) -> str:
    name = "exact binomial test on how many" if test.by_counts else "McNemar's exact test"
    return f"{name}, p = {test.p_value:.2g}"


def _same_sheet(before: ScoredSheet, after: ScoredSheet, ignore_ticket: bool) -> None:
    if before.layout is None or after.layout is None:
        return  # a picture no sheet was found on has nothing to disagree with
    unlike = []
    if before.layout.head != after.layout.head:
        unlike.append("head")
    if before.layout.page.name != after.layout.page.name:
        unlike.append("page")
    if before.ticket != after.ticket and not ignore_ticket:
        unlike.append("ticket")
    if unlike:
        hint = "; add --ignore-ticket if it is the same cartridge" if unlike == ["ticket"] else ""
        raise PrintcheckError(
            f"these are not the same {' and '.join(unlike)}: {_named(before)}, but {_named(after)}{hint}"
        )


def _named(sheet: ScoredSheet) -> str:
    assert sheet.layout is not None
    ticket = f"ticket {sheet.ticket}" if sheet.ticket else "no ticket"
    return f"{sheet.image.path} is {sheet.layout.head.name} on {sheet.layout.page.name}, {ticket}"
