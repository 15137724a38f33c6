"""What bands, fade, starvation, air and dirt say about a cartridge."""

from __future__ import annotations

from printcheck.limits import LIMITS
from printcheck.measure.evenness_result import Dirt, Evenness
from printcheck.pattern.inks import INKS
from printcheck.verdict.policy import Policy
from printcheck.verdict.result import Action, Reason
from printcheck.verdict.rules import decide

__all__ = ["dirt_reasons", "evenness_reasons"]


_CAUSES = {
    "unmatched": ("banding", "they fit no movement of the printer"),
    "head": ("head_bands", "its lines in the ladders are weaker in one part of the head, as the bands are"),
}
"""Of bands that are held against a cartridge: the row of the policy, and what tells them from the printer's."""


def evenness_reasons(evenness: Evenness, policy: Policy, *, photo: bool = False) -> list[Reason]:
    """Reasons for the verdict; bands at the printer's own periods are none, they say nothing of the cartridge.

    A `photo` under a shadow leaves several L* open. Its reasons of this kind only ask for a scan, so that what is
    likelier than not beyond a limit, by a standard deviation, asks for one: it could be passed for good else.
    """
    out: list[Reason] = []
    for bands in evenness.banding:
        for cause, (measure, why) in _CAUSES.items():
            own = [b for b in bands.bands if b.cause == cause and b.told] if bands is not None else []
            if bands is not None and own:
                worst = own[0]
                out += decide(
                    measure, bands.ink, worst.weight, policy,
                    f"{INKS[bands.ink].word} shows bands of {worst.amplitude_dL:.1f} L* every {worst.period_mm:.1f} "
                    f"mm, {{value:.1f}} times what can be seen; {why}",
                )  # fmt: skip
    for fade in evenness.fade:
        if fade is None:
            continue
        word = INKS[fade.ink].word
        # judged by the lower end of the interval: swaths that alternate widen it, and are the printer's
        unsure = (fade.ci95[1] - fade.ci95[0]) / (4 if photo else 2)
        if fade.kind == "air":
            blank = sum(b - a for a, b in fade.blanks_mm)
            text = f"{word} leaves {{value:.0f}} mm blank, then prints again: air in its channel"
            out += decide("air", fade.ink, blank, policy, text)
        elif fade.kind == "starvation":
            text = (
                f"{word} gets at least {{value:.1f}} L* lighter as it prints and comes back after a pause: "
                "ink can't follow"
            )
            out += decide("starvation", fade.ink, fade.worst_dL - unsure, policy, text)
        elif fade.kind == "fade":
            text = f"{word} gets at least {{value:.1f}} L* lighter from the head of the page to its foot"
            out += decide("fade", fade.ink, fade.dL_first_to_last - unsure, policy, text)
    beside = [*_of_strokes(evenness, policy), *_of_spray(evenness, policy)]
    return [*out, *beside, *dirt_reasons(evenness.dirt, policy, evenness.blocks)]


def dirt_reasons(dirt: Dirt | None, policy: Policy, blocks: float = 0.0) -> list[Reason]:
    """Reasons for dirt on bare paper, of which large specks alone count; none where no paper was looked at.

    `blocks` is the share of the paper's light in one step of a JPEG's blocks.
    """
    if dirt is None:
        text = (
            "the picture is so strongly compressed that its blocks differ by {value:.0f} % of the paper's light, so "
            "specks can't be told and the sheet can't be passed as good"
        )
        return decide("compression", None, 100 * blocks, policy, text)
    large = dirt.at_least(LIMITS["speck_large"].value)
    text = "{value:.0f} specks of half a millimetre and more per dm2 of bare paper; wipe the scanner's glass too"
    return decide("specks", None, large, policy, text)


def _of_strokes(evenness: Evenness, policy: Policy) -> list[Reason]:
    """Strokes out of line are the printer's: told, and never held against the cartridge."""
    worst = max((one for one in evenness.strokes if one is not None), key=lambda one: one.ci95[0], default=None)
    row = policy["stroke_offset"]
    if worst is None or not worst.ci95[0] > row.top_off:
        return []
    text = (
        f"vertical lines step by {worst.offset_mm:.3f} mm from swath to swath: the printer's forward and backward "
        "strokes are out of line; run its alignment, the cartridge is not at fault"
    )
    return [Reason("stroke_offset", None, worst.offset_mm, row.top_off, row.unit, Action.TOP_OFF, text)]


def _of_spray(evenness: Evenness, policy: Policy) -> list[Reason]:
    """Ink beside strokes is told, and never held against the cartridge: a fast mode's satellites look the same."""
    row, out = policy["spray"], []
    for spray in evenness.spray:
        share = 0.0 if spray is None else 100 * max(spray.left, spray.right)
        if spray is None or not share > row.top_off:
            continue
        side = "left" if spray.left > spray.right else "right"
        text = (
            f"{INKS[spray.ink].word} sprays {share:.0f} % of its strokes' ink beside their {side} edge: a wet plate, "
            "or satellites of a fast printing mode; wipe and blot the plate before packing"
        )
        out.append(Reason("spray", spray.ink, share, row.top_off, row.unit, Action.TOP_OFF, text))
    return out
