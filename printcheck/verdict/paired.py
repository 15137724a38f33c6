"""McNemar's exact test: whether the rows that changed did so one way more often than chance would have them."""

from __future__ import annotations

from math import comb

__all__ = ["mcnemar_exact"]


def mcnemar_exact(recovered: int, lost: int) -> float:
    """Two-sided p of `recovered` changes one way against `lost` changes the other way.

    Parameters
    ----------
    recovered, lost : int
        The two discordant counts of the paired fourfold table; pairs that did not change carry no evidence.

    Returns
    -------
    float
        Probability, were either way equally likely, of a split at least as uneven; 1 where nothing changed.

    Raises
    ------
    ValueError
        A count below 0.

    References
    ----------
    Q. McNemar, Psychometrika 12 (1947) 153-157; in its exact form the binomial (sign) test on the discordant
    pairs, F. D. K. Liddell, J. Epidemiol. Community Health 37 (1983) 82-84.
    """
    if recovered < 0 or lost < 0:
        raise ValueError("counts can't be negative")
    changed = recovered + lost
    tail = sum(comb(changed, k) for k in range(min(recovered, lost) + 1))
    return min(1.0, float(2 * tail / 2**changed))  # whole numbers up to here: exact for any count
