"""A toner sheet from its registration to its record: measured, judged, and no nozzle in sight."""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.capture.result import Capture
from printcheck.limits import LIMITS
from printcheck.measure.background import BLOCKS_HIDE, block_contrast, hides_specks, read_dirt
from printcheck.measure.colour import paper_lab
from printcheck.measure.components import Component
from printcheck.measure.evenness_result import Dirt
from printcheck.measure.paper import read_paper
from printcheck.measure.quality import FULL_QUALITY, measure_quality, share_inside, what_to_change
from printcheck.measure.result import BackgroundReading
from printcheck.measure.toner import measure_toner
from printcheck.measure.toner_result import TonerReading
from printcheck.register.result import Registration
from printcheck.verdict.evenness_rules import dirt_reasons
from printcheck.verdict.photo import RETAKE, doubtful_in_a_photo, to_be_scanned
from printcheck.verdict.policy import Policy
from printcheck.verdict.result import Action, Assessment, Reason
from printcheck.verdict.rules import assess, sheet_outside
from printcheck.verdict.toner_rules import printer_notes, toner_facts, toner_reasons

__all__ = ["TonerScore", "score_toner"]

_FLAT = "Scan the sheet flat at 300 or 600 dots/inch: this photo shows more marks than can be told apart."
_FINER = "Scan the sheet at 300 or 600 dots/inch: this scan shows more marks than can be told apart."
_FRESH = (
    "Wipe the scanner's glass, print a fresh sheet and scan that. If it is as speckled, lay the sheets side by side: "
    "marks the same distance apart on both come from a part that turns, specks fall elsewhere each time."
)
_NO_LINES = "lines and foreign ink not measured: a toner cartridge has no nozzles"


@dataclass(frozen=True, slots=True)
class TonerScore:
    """What a toner sheet gives its record."""

    reading: TonerReading
    background: BackgroundReading
    dirt: Dirt | None
    assessment: Assessment
    warnings: tuple[str, ...]


def score_toner(
    capture: Capture,
    registration: Registration,
    kind: str,
    print_scale: tuple[float, float] | None,
    policy: Policy,
    components: tuple[Component, ...] = (),
) -> TonerScore:
    """Measure and judge a registered toner sheet.

    Parameters
    ----------
    kind : str
        ``"scan"`` or ``"photo"``.
    print_scale : (float, float) or None
        Printed over true size.
    components : tuple of Component
        The shop's table.
    """
    reading, told = measure_toner(
        capture.pixels,
        registration,
        components=components,
        print_scale=print_scale,
        block_step=capture.block_step,
        photo=kind == "photo",
    )
    paper = None if capture.grey else read_paper(capture.pixels, registration)
    background = BackgroundReading(None if paper is None else paper_lab(paper.mean, capture.icc))
    blocks = block_contrast(capture.pixels, registration, capture.block_step)
    dirt = None if hides_specks(blocks) else read_dirt(capture.pixels, registration)
    warnings = [_NO_LINES, *told, *printer_notes(reading), *([BLOCKS_HIDE] if hides_specks(blocks) else [])]
    if print_scale is not None and abs(print_scale[1] - 1.0) > LIMITS["print_scale"].value:
        warnings.append(
            f"the sheet was printed at {100 * print_scale[1]:.1f} % of its height; the spacing of marks is what it "
            "is on the paper"
        )
    outside = sheet_outside(share_inside(capture.pixels, registration), policy)
    reasons = [*toner_reasons(reading, policy), *dirt_reasons(dirt, policy, blocks), *outside]
    facts = toner_facts(reading)
    only_scan: list[Reason] = []
    if kind == "photo":
        reasons, only_scan = doubtful_in_a_photo(reasons)
        warnings += [f"as far as a photo shows, {reason.text}" for reason in only_scan]
    assessment = assess((), registration.doubt_mm, policy, extra=reasons, facts=facts, toner=True)
    if only_scan and assessment.action is Action.TOP_OFF:
        extra = [*reasons, *to_be_scanned(only_scan)]
        assessment = assess((), registration.doubt_mm, policy, extra=extra, facts={"retake": RETAKE}, toner=True)
    elif assessment.action is Action.RESCAN:
        crowded = any(reason.measure == "toner_crowded" for reason in assessment.reasons)
        again = {"retake": _retake(capture, registration, kind, crowded)}
        assessment = assess((), registration.doubt_mm, policy, extra=reasons, facts=again, toner=True)
    return TonerScore(reading, background, dirt, assessment, tuple(warnings))


def _retake(capture: Capture, registration: Registration, kind: str, crowded: bool) -> str:
    """The one thing to change about the picture; `crowded` where its marks can't be told apart."""
    quality = measure_quality(capture.pixels, registration)
    if capture.block_step > LIMITS["toner_block_step"].value:
        return FULL_QUALITY
    if crowded and kind == "photo":
        return _FLAT
    if crowded and quality.dots_per_inch < LIMITS["toner_dots_per_inch"].value:
        return _FINER
    return what_to_change(quality, (), kind, otherwise=_FRESH if crowded else None)
