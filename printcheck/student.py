"""How far a mean of few values lies off at most: quantiles of Student's t ("Student", Biometrika 6, 1908)."""

from __future__ import annotations

__all__ = ["t95"]

_Z = 1.959964
_FEW = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228)
"""For 1 to 10 degrees of freedom (any table of them)."""


def t95(freedom: int) -> float:
    """Half width of a 95 % interval, in standard deviations known from `freedom` degrees of freedom, 1 at least."""
    if freedom <= len(_FEW):
        return _FEW[freedom - 1]
    # M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), 26.7.5, its first three terms
    first = (_Z**3 + _Z) / 4
    second = (5 * _Z**5 + 16 * _Z**3 + 3 * _Z) / 96
    third = (3 * _Z**7 + 19 * _Z**5 + 17 * _Z**3 - 15 * _Z) / 384
    return _Z + first / freedom + second / freedom**2 + third / freedom**3
