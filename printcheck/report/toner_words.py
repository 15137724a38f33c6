"""What a toner sheet gave, in words that text, picture and page share."""

from __future__ import annotations

from printcheck.measure.toner_result import TonerReading
from printcheck.verdict.toner_rules import band_in_words, repeat_in_words

__all__ = ["toner_in_words"]

_MOST_STREAKS = 4


def toner_in_words(toner: TonerReading) -> list[tuple[str, str]]:
    """(what, finding) for everything that was measured, and for what wasn't."""
    unseen = "not measured"
    out = []
    if toner.density is None or toner.density_ci95 is None:
        out.append(("density", unseen))
    else:
        low, high = toner.density_ci95
        uneven = "" if toner.uneven is None else f"; solids differ by {100 * toner.uneven:.0f} %"
        said = f"{toner.density:.2f} ({low:.2f} to {high:.2f}) over paper, from the capture, not a densitometer"
        out.append(("density", said + uneven))
    if toner.fog is None:
        out.append(("fog", unseen))
    else:
        low, high = toner.fog.ci95
        out.append(("fog", f"{toner.fog.dL:+z.1f} L* ({low:+z.1f} to {high:+z.1f}) against the sheet's margin"))
    fade = toner.worst_fade
    if fade is None:
        out.append(("fade", unseen))
    else:
        low, high = fade.ci95
        tint = f"{100 * fade.nominal:.0f} % tint"
        out.append(("fade", f"{fade.dL:+z.1f} L* ({low:+z.1f} to {high:+z.1f}) from head to foot, {tint}"))
    if toner.streaks is None:
        out.append(("streaks", unseen))
    else:
        each = [
            f"{s.dL:+.1f} L* at {s.x_mm:.0f} mm on {'paper' if s.on == 'paper' else s.on}"
            for s in toner.streaks[:_MOST_STREAKS]
        ]
        more = len(toner.streaks) - len(each)
        out.append(("streaks", ("; ".join(each) + (f" and {more} more" if more > 0 else "")) or "none"))
    if toner.bands is None:
        out.append(("bands", unseen))
    else:
        out += [("bands", band_in_words(band)) for band in toner.bands] or [("bands", "none")]
    if toner.repeats is None:
        out.append(("marks", unseen))
    else:
        out += [("marks", repeat_in_words(repeat)) for repeat in toner.repeats]
        if not toner.repeats:
            single = f"{toner.marks} single" if toner.marks else "no"
            out.append(("marks", f"none repeats ({single} mark{'' if toner.marks == 1 else 's'} seen)"))
    return out
