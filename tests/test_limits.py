"""The table of limits: nothing in it is dead, named twice or without a reason."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from printcheck.limits import LIMITS, SUBJECTS

ROOT = Path(__file__).parents[1] / "printcheck"
LOOKED_UP = re.compile(r'LIMITS\["(\w+)"\]')


def test_no_two_limits_share_a_name():
    names = [limit.name for rows in SUBJECTS.values() for limit in rows]
    assert sorted(names) == sorted(LIMITS)


def test_every_limit_is_one_that_the_code_goes_by():
    used = {name for path in ROOT.rglob("*.py") for name in LOOKED_UP.findall(path.read_text(encoding="utf-8"))}
    assert used >= LIMITS.keys(), f"dead rows: {sorted(LIMITS.keys() - used)}"


@pytest.mark.parametrize("limit", LIMITS.values(), ids=lambda limit: limit.name)
def test_a_limit_says_what_it_rests_on(limit):
    """A word or two beside a number name it, and give no reason."""
    assert len(limit.basis.split()) >= 3
