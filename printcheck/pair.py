"""The colours of two sheets of one cartridge, each held against the other.

What a printer, its inks, the paper and the scanner differ by from published colours, both sheets of a pair have in
common: each is as good as a house reference for the other, where one scanner saw both in the same way.
"""

from __future__ import annotations

import numpy as np

from printcheck.colour.house import HouseReference
from printcheck.errors import PrintcheckError
from printcheck.house import reference_from
from printcheck.limits import LIMITS
from printcheck.measure.colour import CaptureColour
from printcheck.measure.colouring import ColourSettings, measure_colour, read_colour_areas
from printcheck.measure.paper import read_paper
from printcheck.measure.result import ContaminationReading, LinesReading
from printcheck.pipeline import Scored

__all__ = ["foreign_by_one_another"]

_LEVELS = LIMITS["pair_levels"].value
_BARE = LIMITS["pair_bare"].value


def foreign_by_one_another(
    before: Scored, after: Scored
) -> tuple[tuple[ContaminationReading, ...], tuple[ContaminationReading, ...]] | None:
    """Foreign ink of the first sheet by the colours of the second, and of the second by those of the first.

    None where they don't tell of one another: toner, a photo, no colour, another scanner or profile, levels that the
    scanner set otherwise, or an ink whose solid shows more paper than ink.
    """
    sheets = (before.sheet, after.sheet)
    if any(sheet.toner is not None or any(map(_is_bare, sheet.lines)) for sheet in sheets):
        return None
    try:
        first, second = (reference_from(scored, "the other sheet") for scored in (before, after))
    except PrintcheckError:  # no colour in it: what it does not show says nothing of the other
        return None
    look = CaptureColour(second.kind, None, None, second.profile, second.source)
    if not (look.sees_as(first) and _levels_alike(first, second)):
        return None
    return _by(before, second), _by(after, first)


def _is_bare(lines: LinesReading) -> bool:
    """Whether so much of an ink is not laid down that its solid is no longer the ink's own colour."""
    return lines.absent or len(lines.missing) + len(lines.intermittent) > _BARE * lines.rows


def _levels_alike(first: HouseReference, second: HouseReference) -> bool:
    """Whether bare paper, and black where there is some, are as light in both pictures."""
    papers = [np.array(one.paper) for one in (first, second)]
    blacks = [np.array(one.inks["K"].ratio if "K" in one.inks else (0.0, 0.0, 0.0)) for one in (first, second)]
    apart = max(np.abs(papers[0] - papers[1]).max(), np.abs(blacks[0] - blacks[1]).max())
    return bool(apart <= _LEVELS)


def _by(scored: Scored, reference: HouseReference) -> tuple[ContaminationReading, ...]:
    """Foreign ink of a sheet by a `reference` that the same scanner saw."""
    registration, capture = scored.registration, scored.capture
    assert registration is not None
    read = read_colour_areas(capture, registration, read_paper(capture.pixels, registration))
    settings, solids = ColourSettings(reference), scored.sheet.solids
    return measure_colour(capture, registration.layout, read, "scan", solids, settings).contamination
