"""Fade from page to page: how the density of a ticket's toner sheets changes from one to the next.

DIN 33870-2 judges fade over three pages; fewer give no trend here. The slope is the weighted least-squares line
through the densities, each weighted by its own interval. Its own interval follows from theirs, or from the sheets'
scatter about the line where that says more: humidity, warm-up and paper move density from page to page by more than
any one sheet shows (N. Draper and H. Smith, Applied Regression Analysis, chapter 1: residual variance on n - 2
degrees of freedom; weighted, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from printcheck.limits import LIMITS
from printcheck.student import t95

__all__ = ["DensityTrend", "density_trend", "trend_in_words"]

_LEAST_SHEETS = 3
_LEAST_SD = LIMITS["trend_density_sd"].value


@dataclass(frozen=True, slots=True)
class DensityTrend:
    """Densities of a ticket's sheets, oldest first, and their change from sheet to sheet with its interval."""

    densities: tuple[float, ...]
    slope: float
    ci95: tuple[float, float]


def density_trend(reports: Sequence[Mapping[str, Any]]) -> DensityTrend | None:
    """Trend over the reports of one ticket's toner sheets, oldest first; none with fewer than three of them."""
    values, weights = [], []
    for report in reports:
        density = (report.get("toner") or {}).get("density")
        if density is None:
            continue
        low, high = density["ci95"]
        values.append(float(density["visual"]))
        weights.append(1.0 / max((high - low) / 3.92, _LEAST_SD) ** 2)
    if len(values) < _LEAST_SHEETS:
        return None
    total = sum(weights)
    middle = sum(w * k for k, w in enumerate(weights)) / total
    mean = sum(w * v for v, w in zip(values, weights, strict=True)) / total
    spread = sum(w * (k - middle) ** 2 for k, w in enumerate(weights))
    slope = sum(w * (k - middle) * (v - mean) for k, (v, w) in enumerate(zip(values, weights, strict=True))) / spread
    left = sum(
        w * (v - mean - slope * (k - middle)) ** 2 for k, (v, w) in enumerate(zip(values, weights, strict=True))
    )
    freedom = len(values) - 2
    sure = max(1.96, t95(freedom) * (left / freedom) ** 0.5) / spread**0.5
    return DensityTrend(tuple(values), slope, (slope - sure, slope + sure))


def trend_in_words(trend: DensityTrend) -> str:
    """Say it in a line."""
    low, high = trend.ci95
    said = ", ".join(f"{value:.2f}" for value in trend.densities)
    verdict = "fades from page to page" if high < 0 else "no fade from page to page can be told"
    return f"density {said}: {trend.slope:+.3f} a sheet ({low:+.3f} to {high:+.3f}), {verdict}"
