"""What density, fog, fade, streaks and repeating marks say about a toner cartridge."""

from __future__ import annotations

from printcheck.measure.toner_result import PartMatch, RepeatReading, TonerBand, TonerReading
from printcheck.verdict.policy import Policy
from printcheck.verdict.result import Reason
from printcheck.verdict.rules import decide

__all__ = ["band_in_words", "printer_notes", "repeat_in_words", "toner_facts", "toner_reasons"]

_INK = "K"


def toner_reasons(toner: TonerReading, policy: Policy) -> list[Reason]:
    """Reasons for the verdict; what has an interval is judged by the end of it that is nearer to sound."""
    return [
        *_unread_reasons(toner, policy),
        *_solid_reasons(toner, policy),
        *_fade_reasons(toner, policy),
        *_fog_reasons(toner, policy),
        *_streak_reasons(toner, policy),
        *_band_reasons(toner, policy),
        *_repeat_reasons(toner, policy),
    ]


def _unread_reasons(toner: TonerReading, policy: Policy) -> list[Reason]:
    unread = [
        name
        for name, value in (
            ("density", toner.density),
            ("fade", toner.fade or None),
            ("streaks", toner.streaks),
            ("repeating marks", () if toner.hiding else toner.repeats),
        )
        if value is None
    ]
    several = " and ".join([", ".join(unread[:-1]), unread[-1]] if len(unread) > 1 else unread)
    said = f"{several} can't be measured in this picture; scan the whole sheet at 300 dots/inch"
    crowd = (
        "{value:.0f} marks of about one size, among which three that repeat can't be told from chance, so the sheet "
        "can't be passed as good"
    )
    return [
        *decide("toner_unread", None, len(unread), policy, said),
        *decide("toner_crowded", None, toner.hiding, policy, crowd),
    ]


def _solid_reasons(toner: TonerReading, policy: Policy) -> list[Reason]:
    out: list[Reason] = []
    if toner.lightness is not None and toner.density is not None:
        text = f"solids are only L* {{value:.0f}} dark (density {toner.density:.2f} over paper)"
        out += decide("toner_pale", _INK, toner.lightness, policy, text)
    if toner.uneven is not None:
        text = "density of the solids differs by {value:.0f} %"
        out += decide("toner_uneven", _INK, 100 * toner.uneven, policy, text)
    return out


def _fade_reasons(toner: TonerReading, policy: Policy) -> list[Reason]:
    fade = toner.worst_fade
    if fade is None:
        return []
    tint = f"the {100 * fade.nominal:.0f} % tint"
    text = f"{tint} gets at least {{value:.1f}} L* lighter from the head of the page to its foot"
    return decide("toner_fade", _INK, fade.ci95[0], policy, text)


def _fog_reasons(toner: TonerReading, policy: Policy) -> list[Reason]:
    """Fog that is surely there; or what may be fog, but the edges of the sheet differ by too much to tell."""
    if toner.fog is not None:
        text = "bare paper is at least {value:.1f} L* darker than the sheet's margin: toner where none belongs"
        sure = decide("toner_fog", _INK, -toner.fog.ci95[1], policy, text)
        if sure:
            return sure
    where = "at one side and not at others" if toner.fog is None else "but the sides in the picture differ"
    text = (
        f"bare paper is {{value:.1f}} L* darker than the sheet's margin {where}: fog, or uneven light, so the sheet "
        "can't be passed as good"
    )
    return decide("toner_fog_unsure", _INK, toner.fog_unsure, policy, text)


def _streak_reasons(toner: TonerReading, policy: Policy) -> list[Reason]:
    out: list[Reason] = []
    for streak in toner.streaks or ():
        least = max(-streak.ci95[1], streak.ci95[0])
        way = "dark" if streak.dL < 0 else "light"
        on = "bare paper" if streak.on == "paper" else f"the {streak.on.removeprefix('tint ')} tint"
        text = f"a {way} streak along the feed, {streak.x_mm:.0f} mm from the left on {on}, at least {{value:.1f}} L*"
        out += decide("toner_streaks", _INK, least, policy, text)
    return out


def _band_reasons(toner: TonerReading, policy: Policy) -> list[Reason]:
    own = [band for band in toner.bands or () if _of(band) == "cartridge"]
    if not own:
        return []
    worst = max(own, key=lambda band: band.ci95[0])
    return decide("toner_bands", _INK, 2 * worst.ci95[0], policy, band_in_words(worst))


def _repeat_reasons(toner: TonerReading, policy: Policy) -> list[Reason]:
    """What repeats and is the cartridge's own: parts that must be replaced come first."""
    own = sorted((r for r in toner.repeats or () if _of(r) == "cartridge"), key=lambda r: not _worn(r))
    return [
        reason
        for repeat in own
        for reason in decide(
            "toner_worn" if _worn(repeat) else "toner_repeats", _INK, 1.0, policy, repeat_in_words(repeat)
        )
    ]


def printer_notes(toner: TonerReading) -> list[str]:
    """What repeats but is a part of the printer's: the cartridge isn't to blame."""
    said = [(one.parts, repeat_in_words(one)) for one in toner.repeats or () if _of(one) == "printer"]
    said += [(band.parts, band_in_words(band)) for band in toner.bands or () if _of(band) == "printer"]
    return [
        f"{words}: a part of the printer, not of the cartridge" + (f"; {parts[0].what}" if parts[0].what else "")
        for parts, words in said
    ]


def toner_facts(toner: TonerReading) -> dict[str, str]:
    """Words for the texts of the steps: the part that a mark is of, and what the shop's table says of it."""
    turning: list[RepeatReading | TonerBand] = [*sorted(toner.repeats or (), key=lambda r: not _worn(r))]
    turning += toner.bands or ()
    for one in turning:
        own = [part for part in one.parts if part.of == "cartridge"]
        if own:
            # a part that is cleaned first, lest the step that cleans it bring the words for a new one
            part = own[0] if _worn(one) else next((p for p in own if p.then == "clean"), own[0])
            fits = bool(part.what) and (_worn(one) or part.then == "clean")
            return {"part": f"the {part.name}", "what": f" ({_sentence(part)})" if fits else ""}
    return {}


def repeat_in_words(repeat: RepeatReading) -> str:
    """Spacing, diameter and part of one mark, in words; without braces."""
    way = "dark" if repeat.dark else "light"
    low, high = repeat.ci95
    what = f"{way} line across the page" if repeat.across else f"{way} mark {repeat.x_mm:.0f} mm from the left"
    text = (
        f"a {what} repeats every {repeat.spacing_mm:.1f} mm "
        f"({low:.1f} to {high:.1f}), {len(repeat.y_mm)} times: something {repeat.diameter_mm:.1f} mm thick turns"
    )
    return _by_table(text, repeat.parts)


def band_in_words(band: TonerBand) -> str:
    """Period, amplitude and part of one band, in words; without braces."""
    low, high = band.period_ci95
    text = (
        f"toner comes darker and lighter every {band.period_mm:.1f} mm ({low:.1f} to {high:.1f}) down the page, by "
        f"{2 * band.amplitude_dL:.1f} L* from crest to trough (at least {2 * band.ci95[0]:.1f}) on the "
        f"{band.on.removeprefix('tint ')} tint: something {band.diameter_mm:.1f} mm thick turns unevenly"
    )
    return _by_table(text, band.parts)


def _by_table(text: str, parts: tuple[PartMatch, ...]) -> str:
    if parts:
        names = " or ".join(f"{p.name} ({p.diameter_mm:g} mm, +/- {p.tolerance_mm:.2g})" for p in parts)
        text += f", by the table the {names}"
    return text.replace("{", "(").replace("}", ")")


def _of(turning: RepeatReading | TonerBand) -> str:
    """Whose part it is: the cartridge's, unless every part that agrees is the printer's."""
    return "printer" if turning.parts and all(p.of == "printer" for p in turning.parts) else "cartridge"


def _worn(turning: RepeatReading | TonerBand) -> bool:
    """Whether it condemns a cartridge: every part that agrees is the cartridge's own, and to be replaced."""
    return bool(turning.parts) and all((p.of, p.then) == ("cartridge", "replace") for p in turning.parts)


def _sentence(part: PartMatch) -> str:
    return part.what.strip().rstrip(".").replace("{", "(").replace("}", ")")
