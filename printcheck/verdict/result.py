"""A verdict: what to do with the cartridge, why, and how to do it safely."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from printcheck.errors import ExitCode

__all__ = ["Action", "Assessment", "Reason"]


class Action(StrEnum):
    """What to do with the cartridge (or, for ``rescan``, with the picture)."""

    TOP_OFF = "top-off"
    PURGE = "purge"
    REJECT = "reject"
    RESCAN = "rescan"

    @property
    def exit_code(self) -> ExitCode:
        """The contract's exit code of this verdict."""
        return ExitCode[self.name]


@dataclass(frozen=True, slots=True)
class Reason:
    """One row of the policy that decided: what was measured, the limit it crossed, and what follows."""

    measure: str
    ink: str | None
    value: float | None
    limit: float | None
    unit: str
    action: Action
    text: str


@dataclass(frozen=True, slots=True)
class Assessment:
    """The verdict of one sheet."""

    action: Action
    reasons: tuple[Reason, ...]
    next_steps: tuple[str, ...]
    cautions: tuple[str, ...]
