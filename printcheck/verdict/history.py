"""What was already done to this cartridge, as far as a verdict depends on it."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from printcheck.measure.result import LinesReading

__all__ = ["OF_HISTORY", "Cleaning", "CleaningHistory", "steady_missing"]

OF_HISTORY = ("dead_ink_cleanings", "worsened", "toner_repeats_cleanings")
"""Measures that no single sheet can give: they repeat a defect that its own reasons name already."""


@dataclass(frozen=True, slots=True)
class Cleaning:
    """One cleaning that was noted.

    Attributes
    ----------
    steps : tuple of str
    found : frozenset of (str, str or None), or None
        Measure and ink of each reason that the last judged sheet before it gave; none where there is no such sheet.
    missing : int or None
        Rows steadily missing on that sheet, all inks together; none where not known.
    """

    steps: tuple[str, ...]
    found: frozenset[tuple[str, str | None]] | None = None
    missing: int | None = None


@dataclass(frozen=True, slots=True)
class CleaningHistory:
    """Cleanings of one ticket so far.

    Attributes
    ----------
    cleanings : int
    tried : tuple of str
        Names of the steps done, see ``steps.toml``; those of `noted` among them.
    missing_before : tuple of int
        Rows steadily missing on the sheet before each cleaning, oldest first; may be shorter than `cleanings` where
        no sheet was kept.
    noted : tuple of Cleaning
        Those of the cleanings that were noted one by one, oldest first. The others are but counted, and of their
        steps those of `tried` that no note has are all that is known.
    """

    cleanings: int = 0
    tried: tuple[str, ...] = ()
    missing_before: tuple[int, ...] = ()
    noted: tuple[Cleaning, ...] = ()

    def against(
        self, useful: Collection[str], known: Collection[str], showed: Callable[[Cleaning], bool] | None = None
    ) -> int:
        """Count the cleanings that may have been done against one defect: a reject needs so many of *those*.

        A noted cleaning counts where one of its steps is `useful`, or is none that the shop's table knows by now, and
        the sheet before it `showed` the defect, as far as there was one.

        Of the others, which somebody counted:

        * all, where no step is named, or one is named that isn't known: nothing speaks against it;
        * none, where all steps named are known to be for other faults;
        * else all but one for each step named that is for other faults, and one at the least: which step was done
          how often was not said.

        Parameters
        ----------
        useful : collection of str
            Steps of the defect's ladders.
        known : collection of str
            All steps of the shop's table.
        showed : callable, optional
        """
        count = sum(
            any(step in useful or step not in known for step in one.steps)
            and (showed is None or one.found is None or showed(one))
            for one in self.noted
        )
        others = self.cleanings - len(self.noted)
        if others > 0:
            noted = {step for one in self.noted for step in one.steps}
            named = [step for step in self.tried if step not in noted]
            foreign = [step for step in named if step in known and step not in useful]
            if named and len(foreign) == len(named):
                others = 0
            elif all(step in known for step in named):
                others = max(1, others - len(foreign))
            count += others
        return min(count, self.cleanings)


def steady_missing(lines: tuple[LinesReading, ...]) -> int:
    """Count the rows missing in every printing, all inks together: those that flicker would make counts uneven."""
    return sum(reading.rows if reading.absent else len(reading.missing) for reading in lines)
