"""What was already done to this cartridge, as far as a verdict depends on it."""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.measure.result import LinesReading

__all__ = ["OF_HISTORY", "CleaningHistory", "steady_missing"]

OF_HISTORY = ("dead_ink_cleanings", "worsened", "toner_repeats_cleanings")
"""Measures that no single sheet can give: they repeat a defect that its own reasons name already."""


@dataclass(frozen=True, slots=True)
class CleaningHistory:
    """Cleanings of one ticket so far.

    Attributes
    ----------
    cleanings : int
    tried : tuple of str
        Names of the steps done, see ``steps.toml``.
    missing_before : tuple of int
        Rows steadily missing on the sheet before each cleaning, oldest first; may be shorter than `cleanings` where
        no sheet was kept.
    """

    cleanings: int = 0
    tried: tuple[str, ...] = ()
    missing_before: tuple[int, ...] = ()


def steady_missing(lines: tuple[LinesReading, ...]) -> int:
    """Count the rows missing in every printing, all inks together: those that flicker would make counts uneven."""
    return sum(reading.rows if reading.absent else len(reading.missing) for reading in lines)
