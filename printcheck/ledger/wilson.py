"""An interval for a rate seen in few cases."""

from __future__ import annotations

import math

__all__ = ["wilson"]

_Z95 = 1.959963984540054  # 97.5 % point of the normal distribution


def wilson(successes: int, trials: int) -> tuple[float, float]:
    """Return the Wilson score interval of a proportion at 95 %, without continuity correction.

    Raises
    ------
    ValueError
        Fewer successes than none or more than trials, or no trial.

    References
    ----------
    E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212; R. G. Newcombe, Stat. Med. 17 (1998) 857-872, method 3.
    """
    if not 0 <= successes <= trials or trials < 1:
        raise ValueError("needs 0 <= successes <= trials, and a trial")
    n, p, z = trials, successes / trials, _Z95
    middle = p + z * z / (2 * n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    low, high = (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)
    return (0.0 if successes == 0 else low), (1.0 if successes == trials else high)
