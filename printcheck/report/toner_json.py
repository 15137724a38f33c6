"""What a toner sheet gave, as the report's JSON has it."""

from __future__ import annotations

from typing import Any

from printcheck.document import ScoredSheet
from printcheck.measure.toner_result import (
    FadeDown,
    PartMatch,
    RepeatReading,
    StreakReading,
    TonerBand,
    TonerReading,
)
from printcheck.verdict.result import Action

__all__ = ["toner_inks", "toner_of"]


def toner_of(sheet: ScoredSheet) -> dict[str, Any] | None:
    """The ``toner`` object; null for an ink sheet, and where the verdict is rescan."""
    toner = sheet.toner
    if toner is None or sheet.assessment.action is Action.RESCAN:
        return None
    return {
        "density": _density(toner),
        "tones": [
            {"area": tone.kind, "nominal": tone.nominal, "coverage": round(tone.coverage, 4)} for tone in toner.tones
        ],
        "fog": None
        if toner.fog is None
        else {"dL": round(toner.fog.dL, 3), "ci95": _pair(toner.fog.ci95), "sides": toner.fog.sides},
        "fade": [_fade(fade) for fade in toner.fade] or None,
        "streaks": None if toner.streaks is None else [_streak(streak) for streak in toner.streaks],
        "bands": None if toner.bands is None else [_band(band) for band in toner.bands],
        "marks": toner.marks,
        "repeats": None if toner.repeats is None else [_repeat(repeat) for repeat in toner.repeats],
    }


def toner_inks(sheet: ScoredSheet) -> list[dict[str, Any]]:
    """The one entry of ``inks`` for a toner sheet: black, of which lines and all that hangs on them are null."""
    toner = sheet.toner
    if toner is None:
        return []
    seen = None if sheet.assessment.action is Action.RESCAN else toner
    fade = None if seen is None else seen.worst_fade
    return [
        {
            "ink": "K",
            "absent": None,
            "lines": None,
            "solid": None,
            "contamination": None,
            "banding": None,
            "fade": None if fade is None else {"dL_first_to_last": round(fade.dL, 3), "ci95": _pair(fade.ci95)},
            "hairlines": None,
            "spray": None,
            "strokes": None,
        }
    ]


def _density(toner: TonerReading) -> dict[str, Any] | None:
    if toner.density is None or toner.density_ci95 is None:
        return None
    return {
        "visual": round(toner.density, 4),
        "ci95": _pair(toner.density_ci95, 4),
        "basis": "visual density relative to paper, from the capture, not a densitometer; the interval is this "
        "capture's own, another scanner may differ by 0.2",
        "uneven": None if toner.uneven is None else round(toner.uneven, 4),
        "solids": [
            {
                "x_mm": round(solid.x_mm, 2),
                "y_mm": round(solid.y_mm, 2),
                "visual": round(solid.density, 4),
                "sd": round(solid.density_sd, 4),
                "L": round(solid.lightness, 2),
            }
            for solid in toner.solids
        ],
    }


def _fade(fade: FadeDown) -> dict[str, Any]:
    return {
        "nominal": fade.nominal,
        "L": round(fade.lightness, 2),
        "dL_first_to_last": round(fade.dL, 3),
        "ci95": _pair(fade.ci95),
    }


def _streak(streak: StreakReading) -> dict[str, Any]:
    return {
        "x_mm": round(streak.x_mm, 2),
        "width_mm": round(streak.width_mm, 3),
        "dL": round(streak.dL, 3),
        "ci95": _pair(streak.ci95),
        "snr": round(streak.snr, 1),
        "y_mm": [round(streak.top_mm, 1), round(streak.bottom_mm, 1)],
        "on": streak.on,
    }


def _band(band: TonerBand) -> dict[str, Any]:
    return {
        "period_mm": round(band.period_mm, 3),
        "period_ci95": _pair(band.period_ci95),
        "amplitude_dL": round(band.amplitude_dL, 3),
        "ci95": _pair(band.ci95),
        "on": band.on,
        "x_mm": round(band.x_mm, 2),
        "darkest_mm": [round(y, 1) for y in band.darkest_mm],
        "components": _components(band.parts),
    }


def _repeat(repeat: RepeatReading) -> dict[str, Any]:
    return {
        "dark": repeat.dark,
        "across": repeat.across,
        "x_mm": None if repeat.across else round(repeat.x_mm, 2),
        "y_mm": [round(y, 2) for y in repeat.y_mm],
        "spacing_mm": round(repeat.spacing_mm, 3),
        "ci95": _pair(repeat.ci95),
        "diameter_mm": round(repeat.diameter_mm, 3),
        "hidden": repeat.hidden,
        "by_chance": float(f"{repeat.by_chance:.2g}"),
        "components": _components(repeat.parts),
    }


def _components(parts: tuple[PartMatch, ...]) -> list[dict[str, Any]]:
    return [
        {
            "name": part.name,
            "diameter_mm": part.diameter_mm,
            "tolerance_mm": round(part.tolerance_mm, 3),
            "of": part.of,
            "then": part.then,
            "what": part.what,
        }
        for part in parts
    ]


def _pair(values: tuple[float, float], digits: int = 3) -> list[float]:
    return [round(v, digits) for v in values]
