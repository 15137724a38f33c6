"""The resolution a file states, and how far it may be believed."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Resolution"]

_CREDIBLE_DPI = (30.0, 20000.0)  # outside: a unit mistaken for another, or a placeholder such as 1
_PLACEHOLDERS_DPI = (72.0, 96.0)  # written by phones and screen programs that know no paper
_RELATIVE_TOLERANCE = 0.002  # JFIF and PNG round: 600 dots/inch are 23622 px/m, or 236 px/cm (599.44)


@dataclass(frozen=True, slots=True)
class Resolution:
    """Dots per inch along the stored image's x and y."""

    x_dpi: float
    y_dpi: float

    @classmethod
    def of(cls, x_dpi: float, y_dpi: float) -> Resolution | None:
        """Make the resolution, or None where the numbers can't be one."""
        low, high = _CREDIBLE_DPI
        if not all(math.isfinite(v) and low <= v <= high for v in (x_dpi, y_dpi)):
            return None
        return cls(float(x_dpi), float(y_dpi))

    @property
    def placeholder(self) -> bool:
        """True for 72 or 96 dots/inch, which say nothing about the paper."""
        return any(self.agrees(Resolution(dpi, dpi)) for dpi in _PLACEHOLDERS_DPI)

    def agrees(self, other: Resolution) -> bool:
        """Tell whether both are the same within the rounding that file formats cause (0.2 %)."""
        return math.isclose(self.x_dpi, other.x_dpi, rel_tol=_RELATIVE_TOLERANCE) and math.isclose(
            self.y_dpi, other.y_dpi, rel_tol=_RELATIVE_TOLERANCE
        )
