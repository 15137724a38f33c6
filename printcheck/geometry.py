"""Points and boxes on the ideal page: millimetres, origin top-left, x to the right, y down."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Box"]


@dataclass(frozen=True, slots=True)
class Box:
    """An axis-parallel box in mm, ``x0 < x1`` and ``y0 < y1``."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        return self.y1 - self.y0

    @property
    def centre(self) -> tuple[float, float]:
        """(x, y) of the middle, mm."""
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """Top-left, top-right, bottom-right, bottom-left, each (x, y) in mm."""
        return (self.x0, self.y0), (self.x1, self.y0), (self.x1, self.y1), (self.x0, self.y1)

    def inset(self, dx: float, dy: float | None = None) -> Box:
        """The box made smaller by `dx` mm left and right and `dy` mm (default `dx`) above and below."""
        dy = dx if dy is None else dy
        return Box(self.x0 + dx, self.y0 + dy, self.x1 - dx, self.y1 - dy)

    def overlaps(self, other: Box) -> bool:
        """True where the two boxes share area."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1
