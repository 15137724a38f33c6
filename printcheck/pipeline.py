"""The whole flow on one screen: capture -> register -> measure -> verdict."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, cast

from printcheck.capture.decode import read_captures
from printcheck.capture.glance import factor_of, reduced_size, whole_size
from printcheck.capture.limits import DEFAULT_MAX_MEGAPIXELS
from printcheck.capture.result import Capture
from printcheck.document import CaptureRecord, ImageRecord, ScoredSheet
from printcheck.errors import RescanError
from printcheck.limits import LIMITS
from printcheck.machine import has_idle_core, short_turns
from printcheck.measure.colouring import ColourSettings
from printcheck.measure.dropped_rows import scale_of_dropped_rows
from printcheck.measure.evenness_result import Evenness
from printcheck.measure.paper import PaperLight, read_paper
from printcheck.measure.pixelgrid import refuse_display
from printcheck.measure.quality import FINER, FULL_QUALITY, measure_quality, share_inside, what_to_change
from printcheck.measure.repeats import Component
from printcheck.measure.result import LinesReading
from printcheck.measure.sheet import Measured, measure_sheet
from printcheck.register.kind import capture_kind, print_scale
from printcheck.register.refusal import refuse_layers, refuse_too_coarse, refuse_two_levels
from printcheck.register.result import Registration
from printcheck.register.sheet import Glimpse, look_early, register_early, register_sheet
from printcheck.toner_sheet import score_toner
from printcheck.verdict.colour_rules import (
    LEANING_SCAN,
    REFERENCE,
    colour_reasons,
    pale_fade_reasons,
    purge_pages,
    without_clearing,
)
from printcheck.verdict.evenness_rules import evenness_reasons
from printcheck.verdict.photo import RETAKE, doubtful_in_a_photo, to_be_scanned
from printcheck.verdict.policy import Policy, load_policy
from printcheck.verdict.result import Action, Assessment, Reason
from printcheck.verdict.rules import assess, colour_unread, rescan_assessment, sheet_outside
from printcheck.verdict.scale import off_scale, without_doubtful_steps

if TYPE_CHECKING:
    from threadpoolctl import ThreadpoolController

__all__ = ["Scored", "score_image"]


_NO_REFERENCE = ColourSettings()


@dataclass(frozen=True, slots=True)
class Scored:
    """A scored sheet with what is needed to draw on it; `registration` is none where no sheet was found."""

    sheet: ScoredSheet
    capture: Capture
    registration: Registration | None


def score_image(
    path: Path,
    *,
    max_megapixels: float = DEFAULT_MAX_MEGAPIXELS,
    policy: Policy | None = None,
    colour: ColourSettings = _NO_REFERENCE,
    components: tuple[Component, ...] = (),
) -> Scored:
    """Score one scan or photo. Of a file with several pages, the page with a sheet on it counts; two are refused.

    Raises
    ------
    InputError
        `path` is no image that can be opened.
    """
    with _one_thread(), short_turns():
        return _first_sheet(path, max_megapixels, policy or load_policy(), colour, components)


def _first_sheet(
    path: Path,
    max_megapixels: float,
    policy: Policy,
    colour: ColourSettings,
    components: tuple[Component, ...],
) -> Scored:
    early = _started(path, max_megapixels)
    try:
        return _first_scored(path, max_megapixels, policy, colour, components, early)
    finally:
        if early:  # while it decodes, nothing can be said on standard error
            wait([early])


def _first_scored(
    path: Path,
    max_megapixels: float,
    policy: Policy,
    colour: ColourSettings,
    components: tuple[Component, ...],
    early: Future[Glimpse | None] | None,
) -> Scored:
    refusal: tuple[RescanError, Capture] | None = None
    pages = read_captures(path, max_megapixels=max_megapixels)
    for capture in pages:
        try:
            glimpse = early.result() if early and not capture.page else None
            registration = register_sheet(capture.pixels, glimpse)
            refuse_too_coarse(registration)
            refuse_two_levels(capture.pixels)
            refuse_layers(layered=capture.layered)
            if capture_kind(capture, registration) == "photo":
                refuse_display(capture.pixels, registration)
        except RescanError as error:
            # a page with something of ours on it says more than a blank one
            if refusal is None or (refusal[0].value == 0 and error.value != 0):
                refusal = (error, capture)
            continue
        another = _another_sheet(registration, capture.page, pages)
        if another is not None:
            return _refused(capture, another)
        if registration.layout.head.toner:
            return _toner(capture, registration, policy, components)
        return _score(capture, registration, policy, colour)
    assert refusal is not None  # `read_captures` yields a page or raises
    return _refused(refusal[1], refusal[0])


def _another_sheet(first: Registration, page: int, others: Iterator[Capture]) -> RescanError | None:
    """The refusal of a file with a second sheet, on one of its `others`: which one to judge is not ours to guess."""
    for capture in others:
        try:
            second = register_sheet(capture.pixels)
        except RescanError:
            continue
        names = " and ".join(
            f"{sheet.layout.head.name} {sheet.layout.page.name}{f' ticket {sheet.ticket}' if sheet.ticket else ''} "
            f"on page {number + 1}"
            for sheet, number in ((first, page), (second, capture.page))
        )
        text = f"two sheets in one file: {names}; give each sheet a file of its own"
        return RescanError(text, measure="sheets", value=2, limit=1)
    return None


def _started(path: Path, max_megapixels: float) -> Future[Glimpse | None] | None:
    """Find the sheet on a smaller copy of a large JPEG in a thread, where a core would else be idle."""
    size = whole_size(path, max_megapixels) if has_idle_core() else None
    if size is None:
        return None
    factor = factor_of(size)

    def glimpse() -> Glimpse | None:
        reduced = reduced_size(path, size, factor)
        if reduced is None:
            return None
        return register_early(reduced) if factor == 2 else look_early(reduced, factor)

    pool = ThreadPoolExecutor(max_workers=1)
    future = pool.submit(glimpse)
    pool.shutdown(wait=False)
    return future


def _uneven(paper: PaperLight) -> str:
    return (
        f"the light on the sheet differs by {100 * paper.unevenness:.0f} %, more than under a scanner's lid: "
        "read as a photo is"
    )


def _score(capture: Capture, registration: Registration, policy: Policy, settings: ColourSettings) -> Scored:
    kind = capture_kind(capture, registration)
    paper = None if capture.grey else read_paper(capture.pixels, registration)
    if kind == "scan" and paper is not None and paper.unevenness > LIMITS["scan_uneven"].value:
        kind, capture = "photo", replace(capture, camera=True, notes=(*capture.notes, _uneven(paper)))
    scale = print_scale(capture, registration) if kind == "scan" else None
    measured = measure_sheet(capture, registration, kind, settings, paper)
    lines, doubts = (measured.lines, []) if scale else without_doubtful_steps(measured.lines)
    found = _other_reasons(capture, registration, policy, kind, replace(measured, lines=lines))
    printed = scale or scale_of_dropped_rows(measured.lines, registration.layout.raster)
    if printed:
        found += off_scale(lines, printed, policy)
    sure, only_scan = doubtful_in_a_photo(found) if kind == "photo" else (found, [])
    doubts += [f"as far as a photo shows, {reason.text}" for reason in only_scan]
    colour = measured.colour
    pages = purge_pages(colour.contamination)
    facts = {} if pages is None else {"pages": str(pages)}
    assessment = assess(lines, registration.doubt_mm, policy, extra=sure, facts=facts)
    if only_scan and assessment.action is Action.TOP_OFF:
        sure = [*sure, *to_be_scanned(only_scan)]
        assessment = assess(lines, registration.doubt_mm, policy, extra=sure, facts={"retake": RETAKE})
    elif assessment.action is Action.RESCAN:
        retake = _retake(capture, registration, kind, lines, assessment)
        assessment = assess(lines, registration.doubt_mm, policy, extra=sure, facts={"retake": retake})
    warnings = [*capture.notes, *registration.warnings, *_scale_warnings(kind, scale), *measured.warnings, *doubts]
    if assessment.action is Action.RESCAN:
        warnings.append("bands, fade, strokes, spray and specks are not given of a picture that can't be judged")
    sheet = ScoredSheet(
        _image(capture),
        _record(kind, registration, scale, warnings),
        registration.layout,
        registration.ticket,
        lines,
        colour.solids,
        colour.background,
        assessment,
        measured.evenness,
        colour.contamination,
        overprints=colour.secondaries,
        grey_balance=colour.grey,
    )
    return Scored(sheet, capture, registration)


def _scale_warnings(kind: str, scale: tuple[float, float] | None) -> list[str]:
    """What is to be said of the size the sheet was printed at; `scale` is 1 for true size, none where not known."""
    if scale is None:
        why = "a photo has no scale of its own" if kind == "photo" else "the file states no resolution"
        return [f"print scale not known: {why}"]
    if max(abs(scale[0] - 1), abs(scale[1] - 1)) > LIMITS["print_scale"].value:
        return [
            f"the sheet was printed at {100 * scale[0]:.1f} x {100 * scale[1]:.1f} % of its size: dashes no longer "
            "stand one to a row, so row numbers may be off; print at 100 %, no scaling"
        ]
    return []


def _other_reasons(
    capture: Capture, registration: Registration, policy: Policy, kind: str, measured: Measured
) -> list[Reason]:
    """What all measures but the lines say."""
    photo, colour = kind == "photo", measured.colour
    coloured = {solid.ink for solid in colour.solids if solid.lab is not None}
    seen = {solid.ink for solid in colour.solids if solid.absorptance is not None}
    foreign = colour_reasons(colour.contamination, policy, photo=photo)
    uneven = [
        *evenness_reasons(measured.evenness, policy, photo=photo),
        *pale_fade_reasons(measured.evenness.fade, policy, photo=photo),
    ]
    return [
        *without_clearing(uneven, colour.contamination, foreign),
        *foreign,
        *sheet_outside(share_inside(capture.pixels, registration), policy),
        *colour_unread(measured.lines, coloured, policy, seen),
    ]


def _retake(
    capture: Capture,
    registration: Registration,
    kind: str,
    lines: tuple[LinesReading, ...],
    assessment: Assessment,
) -> str:
    """What to change about a picture that asks to be taken again."""
    measures = {reason.measure for reason in assessment.reasons}
    if "print_scale" in measures:
        return "Print a fresh sheet at 100 %, with no scaling or fitting to the page, and scan that."
    if measures == {"colour_unread"}:
        return "Scan the sheet in colour, at 300 or 600 dots/inch."
    if measures == {LEANING_SCAN}:
        return REFERENCE  # the picture is as good as any
    if "compression" in measures:
        return FULL_QUALITY
    if measures == {"weak_unseen"}:
        return FULL_QUALITY if kind == "photo" else FINER
    # the picture's quality costs time, and is asked for only here
    return what_to_change(measure_quality(capture.pixels, registration), lines, kind)


def _toner(capture: Capture, registration: Registration, policy: Policy, components: tuple[Component, ...]) -> Scored:
    """The same for a toner sheet, which has no ladders and is judged by other things."""
    kind = capture_kind(capture, registration)
    scale = print_scale(capture, registration) if kind == "scan" else None
    warnings = [*capture.notes, *registration.warnings]
    done = score_toner(capture, registration, kind, scale, policy, components)
    record = _record(kind, registration, scale, [*warnings, *done.warnings])
    sheet = ScoredSheet(
        _image(capture),
        record,
        registration.layout,
        registration.ticket,
        (),
        (),
        done.background,
        done.assessment,
        Evenness((), (), done.dirt, done.reading.hairlines, ()),
        (),
        done.reading,
    )
    return Scored(sheet, capture, registration)


def _record(
    kind: str, registration: Registration, scale: tuple[float, float] | None, warnings: list[str]
) -> CaptureRecord:
    return CaptureRecord(
        kind,
        25.4 * (registration.px_per_mm_x * registration.px_per_mm_y) ** 0.5,
        scale[0] if scale else None,
        scale[1] if scale else None,
        registration.rotation_deg,
        registration.rms_mm,
        tuple(dict.fromkeys(warnings)),
        registration.doubt_mm,
    )


def _refused(capture: Capture, error: RescanError) -> Scored:
    assessment = rescan_assessment(str(error), error.measure, error.value, error.limit, error.unit)
    record = CaptureRecord(None, None, None, None, None, None, (*capture.notes, str(error)))
    return Scored(ScoredSheet(_image(capture), record, None, "", (), (), None, assessment), capture, None)


def _image(capture: Capture) -> ImageRecord:
    return ImageRecord(capture.path, capture.sha256, capture.width_px, capture.height_px)


@lru_cache(maxsize=1)
def _libraries() -> ThreadpoolController:
    from threadpoolctl import ThreadpoolController

    return ThreadpoolController()


def _one_thread() -> AbstractContextManager[object]:
    """Linear algebra on one thread: the systems are small, and handing them round costs more than it gains."""
    return cast(AbstractContextManager[object], _libraries().limit(limits=1, user_api="blas"))
