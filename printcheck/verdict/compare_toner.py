"""Two toner sheets of one cartridge: what a cleaning changed, as far as both readings are sure of it."""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.limits import LIMITS
from printcheck.measure.toner_result import RepeatReading, StreakReading, TonerBand, TonerReading

__all__ = ["TonerChange", "compare_toner"]

_SPACING = LIMITS["compare_spacing"].value
_ACROSS_MM = LIMITS["compare_across"].value
_SURE_DL = LIMITS["compare_streak"].value


@dataclass(frozen=True, slots=True)
class TonerChange:
    """One thing that changed: ``"better"`` or ``"worse"``, in words."""

    way: str
    text: str


def compare_toner(before: TonerReading, after: TonerReading) -> tuple[TonerChange, ...]:
    """List what changed beyond both readings' uncertainty, what decides a verdict first."""
    out = []
    if before.repeats is not None and after.repeats is not None and not (before.hiding or after.hiding):
        out += _repeats(before.repeats, after.repeats)
    if before.bands is not None and after.bands is not None:
        out += _bands(before.bands, after.bands)
    if before.streaks is not None and after.streaks is not None:
        out += _streaks(before.streaks, after.streaks)
    if before.density_ci95 and after.density_ci95 and before.density is not None and after.density is not None:
        said = f"density {before.density:.2f} before, {after.density:.2f} after"
        out += _moved(before.density_ci95, after.density_ci95, said, up_is="better")
    if before.fog is not None and after.fog is not None:
        said = f"fog {before.fog.dL:+.1f} L* before, {after.fog.dL:+.1f} after"
        out += _moved(before.fog.ci95, after.fog.ci95, said, up_is="better")
    first, second = before.worst_fade, after.worst_fade
    if first is not None and second is not None:
        said = f"fade down the page {first.dL:+.1f} L* before, {second.dL:+.1f} after"
        out += _moved(first.ci95, second.ci95, said, up_is="worse")
    return tuple(out)


def _repeats(before: tuple[RepeatReading, ...], after: tuple[RepeatReading, ...]) -> list[TonerChange]:
    def same(a: RepeatReading, b: RepeatReading) -> bool:
        near = abs(a.spacing_mm - b.spacing_mm) < _SPACING * a.spacing_mm
        return near and (a.dark, a.across) == (b.dark, b.across) and abs(a.x_mm - b.x_mm) < _ACROSS_MM

    gone = [r for r in before if not any(same(r, other) for other in after)]
    new = [r for r in after if not any(same(r, other) for other in before)]
    return [
        *(TonerChange("better", f"the {_word(r)} every {r.spacing_mm:.1f} mm is gone") for r in gone),
        *(TonerChange("worse", f"a new {_word(r)} repeats every {r.spacing_mm:.1f} mm") for r in new),
    ]


def _bands(before: tuple[TonerBand, ...], after: tuple[TonerBand, ...]) -> list[TonerChange]:
    """Bands that are new or gone, or whose amplitudes differ by more than both are known to."""

    def size(of: TonerBand, among: tuple[TonerBand, ...]) -> tuple[float, float]:
        near = [band for band in among if abs(band.period_mm - of.period_mm) < _SPACING * of.period_mm]
        return max((band.ci95 for band in near), default=(0.0, _SURE_DL), key=lambda ends: ends[1])

    less = [band for band in before if size(band, after)[1] < band.ci95[0]]
    more = [band for band in after if size(band, before)[1] < band.ci95[0]]
    return [
        *(TonerChange("better", f"the band every {band.period_mm:.1f} mm is weaker or gone") for band in less),
        *(TonerChange("worse", f"a band every {band.period_mm:.1f} mm is new or stronger") for band in more),
    ]


def _word(repeat: RepeatReading) -> str:
    return "line" if repeat.across else "mark"


def _streaks(before: tuple[StreakReading, ...], after: tuple[StreakReading, ...]) -> list[TonerChange]:
    def sure(streak: StreakReading) -> bool:
        return max(-streak.ci95[1], streak.ci95[0]) > _SURE_DL

    def same(a: StreakReading, b: StreakReading) -> bool:
        return abs(a.x_mm - b.x_mm) < _ACROSS_MM and (a.dL < 0) == (b.dL < 0)

    gone = [s for s in before if sure(s) and not any(same(s, other) for other in after)]
    new = [s for s in after if sure(s) and not any(same(s, other) for other in before)]
    return [
        *(TonerChange("better", f"the streak at {s.x_mm:.0f} mm is gone") for s in gone),
        *(TonerChange("worse", f"a new streak at {s.x_mm:.0f} mm") for s in new),
    ]


def _moved(before: tuple[float, float], after: tuple[float, float], said: str, up_is: str) -> list[TonerChange]:
    down_is = "worse" if up_is == "better" else "better"
    if after[0] > before[1]:
        return [TonerChange(up_is, said)]
    if after[1] < before[0]:
        return [TonerChange(down_is, said)]
    return []
