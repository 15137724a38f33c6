"""What a photograph may not decide alone.

A phone without a reference in the picture errs by more than ten colour units, and light from one side fades a page as
a starved head does; a lamp's reflection leaves a blank stretch as air in a channel does. So colour, fade, bands and
blank stretches in a photo send nobody to the cleaning bench: where they are all there is, the sheet is to be scanned;
where lines already decide, they are noted.
"""

from __future__ import annotations

from dataclasses import replace

from printcheck.verdict.result import Action, Reason

__all__ = ["RETAKE", "doubtful_in_a_photo", "to_be_scanned"]

RETAKE = "Scan the sheet in colour at 300 dots/inch: a photo can't tell this for sure."
_DOUBTFUL = frozenset(
    {
        "air", "fade", "pale_fade_photo", "starvation", "pale_starvation", "banding", "head_bands", "foreign_ink",
        "mixed_chamber", "strange_colour", "leaning_colour", "leaning_sure", "toner_pale", "toner_uneven",
        "toner_fade", "toner_fog", "toner_streaks", "toner_bands",
    }
)  # fmt: skip


def doubtful_in_a_photo(reasons: list[Reason]) -> tuple[list[Reason], list[Reason]]:
    """Split `reasons` into those a photo may give, and those it may not."""
    sure = [reason for reason in reasons if reason.measure not in _DOUBTFUL]
    return sure, [reason for reason in reasons if reason.measure in _DOUBTFUL]


def to_be_scanned(reasons: list[Reason]) -> list[Reason]:
    """The same reasons, asking for a scan."""
    shown = "as far as a photo shows, "
    return [replace(reason, action=Action.RESCAN, text=shown + reason.text) for reason in reasons]
