"""Foreign ink to reasons: what is clearing is printed out, what stays is a mixed chamber; and yellow that fades."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil

from printcheck.measure.evenness_result import DENSITY_PER_DL, FadeReading
from printcheck.measure.result import ContaminationReading, ForeignInk
from printcheck.pattern.inks import INKS
from printcheck.verdict.policy import Policy
from printcheck.verdict.result import Reason
from printcheck.verdict.rules import decide

__all__ = ["LEANING_SCAN", "REFERENCE", "colour_reasons", "pale_fade_reasons", "purge_pages", "without_clearing"]

LEANING_SCAN = "leaning_colour_scan"
REFERENCE = (
    "Scan a known-good cartridge's sheet, of the same printer, on the same scanner, note it with printcheck "
    "reference add, and score this scan again with --reference."
)
_FADES = {"fade", "pale_fade", "pale_fade_photo", "pale_starvation"}
_PAGE_MM = 250.0  # of solid a purge page gives
# a dozen pairs of inks a sheet are tried against published aims: one in a hundred sheets then, not one in five, has
# an interval that lies off the truth by chance, 2.6 standard deviations in place of 1.96
_FINAL = 2.6 / 1.96
_DOUBT_PER_L = 100.0 * DENSITY_PER_DL  # doubt about yellow's density, % of it: both come from the light on the strip


def colour_reasons(readings: Iterable[ContaminationReading], policy: Policy, *, photo: bool = False) -> list[Reason]:
    """Reasons of all inks.

    A purge page costs little: ink that is certainly there is judged by the best estimate of its share. A reject is
    final: it needs the lower end of the share's 95 % interval beyond the limit, and so does another picture, which
    is all that a photo's colour can ask for. A chamber that was filled with another ink shows in a photo as well, but
    from the page's head to its foot: what comes only lower down can be a lamp's reflection on the strips.
    """
    out: list[Reason] = []
    for reading in readings:
        word = INKS[reading.ink].word
        if reading.wrong_ink is not None and not (photo and reading.trend == "growing"):
            other = INKS[reading.wrong_ink].word
            out += decide("wrong_ink", reading.ink, 1.0, policy, f"the {word} chamber holds {other} ink")
            continue
        found = [r for foreign in reading.foreign or () for r in _foreign(reading, foreign, policy, photo)]
        if not photo:  # which asks by what is certain of each
            found = found or _together(reading, policy)
        out += found or _strange(reading, policy, photo) or _leaning(reading, policy, photo)
    return out


def _together(reading: ContaminationReading, policy: Policy) -> list[Reason]:
    """Other inks, none of which is enough by itself: how much is foreign is better known than how much of which."""
    sure = [foreign for foreign in reading.foreign or () if foreign.ci95[0] > 0.0]
    if len(sure) < 2 or reading.trend == "clearing":
        return []
    each = " and ".join(f"{100.0 * foreign.fraction:.0f} % {INKS[foreign.ink].word}" for foreign in sure)
    text = f"{INKS[reading.ink].word} holds {{value:.0f}} % of other inks, as {each}"
    return decide("foreign_ink", reading.ink, 100.0 * sum(foreign.fraction for foreign in sure), policy, text)


def _strange(reading: ContaminationReading, policy: Policy, photo: bool) -> list[Reason]:
    """A colour that no sound ink of that name has, though which ink got in, or how much, can't be told."""
    word = INKS[reading.ink].word
    text = f"{word}'s solid is at least {{value:.0f}} deltaE00 off what any sound {word} looks like"
    text += ": another ink may be in it" if photo else " on any paper: another ink is in it, or it is another maker's"
    measure = "strange_colour" if photo else "strange_colour_scan"
    return decide(measure, reading.ink, reading.off_sound or 0.0, policy, text)


def _leaning(reading: ContaminationReading, policy: Policy, photo: bool) -> list[Reason]:
    """A colour that some sound ink may have, but that another ink in the chamber explains better."""
    leaning = reading.leaning
    if leaning is None:
        return []
    word, other, share = INKS[reading.ink].word, INKS[leaning.ink].word, 100.0 * leaning.share
    settles = "a scan, best against a known-good cartridge's," if photo else "a known-good cartridge's sheet"
    text = (
        f"{word} looks as with {share:.0f} % {other} ink in it, or as another maker's ink: only {settles} can settle "
        "which"
    )
    found = decide("leaning_colour" if photo else LEANING_SCAN, reading.ink, share, policy, text)
    if found or not photo or share <= policy["foreign_ink"].top_off:
        return found
    # of pairs that show by little, a share that is surely more than sound inks differ by may be small
    return decide("leaning_sure", reading.ink, leaning.sds, policy, text)


def _foreign(reading: ContaminationReading, foreign: ForeignInk, policy: Policy, photo: bool) -> list[Reason]:
    word, other = INKS[reading.ink].word, INKS[foreign.ink].word
    sure, best = 100.0 * foreign.ci95[0], 100.0 * foreign.fraction
    what = f"{word} holds {best:.0f} % {other} ink (at least {sure:.0f} %)"
    if foreign.rivals:
        what += f", or {' or '.join(INKS[ink].word for ink in foreign.rivals)}, which looks much the same in it"
    if reading.trend == "clearing" and foreign is (reading.foreign or ())[0]:
        if reading.clears_after_mm == 0.0:
            if reading.basis.startswith("house "):
                return []  # the sheet itself has purged it
            # what stays all the way down the strip, only a reference would show
            text = (
                f"{word} held {best:.0f} % {other} ink (at least {sure:.0f} %) and is clearing; whether all is gone "
            )
            return decide("foreign_ink", reading.ink, sure, policy, text + "only a reference or a fresh page tells")
        # a page more costs little, and what is left is known no better than what there was
        most = foreign.ci95[1] / foreign.fraction if foreign.fraction > 0.0 else 1.0
        left = 100.0 * foreign.last * (1.0 if photo else max(1.0, most))
        up_to = "" if photo else "up to "
        text = f"{word} held {best:.0f} % {other} ink and is clearing: {up_to}{left:.0f} % left"
        doubt = 100.0 * (foreign.fraction - foreign.ci95[0]) if photo else 0.0
        return decide("foreign_ink", reading.ink, left - doubt, policy, text)
    if reading.trend == "steady":
        published = reading.basis.startswith("published ")
        firm = best - _FINAL * (best - sure) if published else sure
        found = decide("mixed_chamber", reading.ink, firm, policy, f"{what}, and it does not clear")
        if found:
            return found
        if published and photo and sure > policy["mixed_chamber"].top_off:
            what += ", and it does not clear"
        elif published:
            text = f"{what}, and it does not clear; only a known-good cartridge's sheet would tell for sure"
            found = decide("mixed_likely", reading.ink, sure, policy, text)
            if found:
                return found
    if sure <= 0.0:
        return []
    growing = ", and it is growing: the chambers leak into each other" if reading.trend == "growing" else ""
    return decide("foreign_ink", reading.ink, sure if photo else best, policy, what + growing)


def pale_fade_reasons(fades: Iterable[FadeReading | None], policy: Policy, *, photo: bool = False) -> list[Reason]:
    """Reasons for yellow that gets thinner down the page: it takes away blue light, which L* hardly holds.

    Judged by its density in blue at the strip's foot against that at its head, and by the most that is gone in
    between. A capture whose tone curve is a power of the light scales both alike, so an unknown curve doesn't matter.
    A phone has none such, and stray light brings both nearer to each other: in a photo a smaller loss counts. Where
    blue is black, the share of its lightness over paper that it loses stands for it. Where L* itself shows a fade or
    starvation beyond its limit, or air shapes the strip, their own rows decide.
    """
    return [
        reason
        for fade in fades
        if fade is not None and fade.ink == "Y" and fade.kind != "air"
        for reason in _pale(fade, policy, photo)
    ]


def _pale(fade: FadeReading, policy: Policy, photo: bool) -> list[Reason]:
    unsure = (fade.ci95[1] - fade.ci95[0]) / 2
    change = fade.worst_dL if fade.kind == "starvation" else fade.dL_first_to_last
    if fade.kind != "none" and change - unsure > policy[fade.kind].top_off:
        return []
    word = INKS[fade.ink].word
    text = f"{word} loses at least {{value:.0f}} % of its density from the head of the page to its foot"
    lost = _pale_loss(fade, unsure, photo)
    out = decide("pale_fade_photo" if photo else "pale_fade", fade.ink, lost, policy, text)
    if out or fade.most_lost is None:
        return out
    most, sd = fade.most_lost
    text = f"{word} loses at least {{value:.0f}} % of its density on the way down the page: ink can't follow"
    return decide("pale_starvation", fade.ink, 100.0 * (most - (1.0 if photo else 1.96) * sd), policy, text)


def _pale_loss(fade: FadeReading, unsure: float, photo: bool) -> float:
    """Per cent of yellow's density that is lost from the head of the page to its foot, at least; 0 if not known."""
    if fade.density_ratio is not None:
        return 100.0 * (1.0 - fade.density_ratio) - _DOUBT_PER_L * unsure
    if not fade.depth_dL or fade.depth_dL <= 0.0:
        return 0.0
    # a photo only asks for a scan, by a standard deviation below what it shows, as for fade
    return 100.0 * (fade.dL_first_to_last - (unsure / 2 if photo else unsure)) / fade.depth_dL


def without_clearing(
    uneven: Iterable[Reason], readings: Iterable[ContaminationReading], told: Iterable[Reason]
) -> list[Reason]:
    """Leave out fades of inks `told` to be clearing: foreign ink that goes takes the darkness it brought with it."""
    clearing = {reading.ink for reading in readings if reading.trend == "clearing"} & {reason.ink for reason in told}
    return [reason for reason in uneven if not (reason.measure in _FADES and reason.ink in clearing)]


def purge_pages(readings: Iterable[ContaminationReading]) -> int | None:
    """Pages of solid to print until every clearing ink is clear; none where none is."""
    lengths = [r.clears_after_mm for r in readings if r.trend == "clearing" and r.clears_after_mm]
    return max(1, ceil(max(lengths) / _PAGE_MM)) if lengths else None
