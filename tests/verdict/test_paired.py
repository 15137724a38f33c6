"""McNemar's exact test against published figures and an outside library."""

from __future__ import annotations

import pytest

from printcheck.verdict.paired import mcnemar_exact


def test_two_culture_media_as_published():
    # P. Armitage, G. Berry, Statistical Methods in Medical Research, 3rd ed. 1994, p. 127: 50 specimens on two media,
    # 12 grew on the first only, 2 on the second only; exact two-sided P = 0.0129 by F. D. K. Liddell 1983
    assert mcnemar_exact(12, 2) == pytest.approx(0.0129, abs=5e-5)


def test_airway_example_as_published():
    # M. W. Fagerland et al., BMC Med. Res. Methodol. 13:91 (2013), airway hyper-responsiveness before and after
    # transplantation, discordant counts 1 and 7; exact conditional p = 0.0703 (the last figure from memory)
    assert mcnemar_exact(1, 7) == pytest.approx(0.0703, abs=5e-5)


@pytest.mark.parametrize(("b", "c"), [(0, 1), (3, 9), (5, 5), (40, 17), (0, 400), (300, 260)])
def test_equals_the_binomial_test_of_scipy(b, c):
    from scipy.stats import binomtest

    assert mcnemar_exact(b, c) == pytest.approx(binomtest(b, b + c, 0.5).pvalue, rel=1e-9)


def test_nothing_changed_is_no_evidence():
    assert mcnemar_exact(0, 0) == 1.0


def test_either_way_round_is_the_same():
    assert mcnemar_exact(4, 11) == mcnemar_exact(11, 4)


def test_counts_below_zero_are_refused():
    with pytest.raises(ValueError, match="negative"):
        mcnemar_exact(-1, 2)
