"""Sheets printed off their size: what rows off their places prove there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from printcheck.verdict.policy import load_policy
from printcheck.verdict.result import Action
from printcheck.verdict.rules import assess
from printcheck.verdict.scale import off_scale
from tests.support.readings import reading

POLICY = load_policy()


@pytest.mark.parametrize(("rows_off", "scale", "action"), [
    (11, 0.97, Action.RESCAN),  # of 100: a driver that scales puts every row on the nearest of its own
    (2, 0.97, Action.TOP_OFF),  # as few as any sheet may have
    (11, 0.999, Action.PURGE),  # true to size: the head throws them
])  # fmt: skip
def test_rows_astray_on_a_sheet_off_its_size_ask_for_one_at_100_per_cent(
    rows_off: int, scale: float, action: Action
) -> None:
    lines = (replace(reading("K"), displaced=tuple(range(10, 10 + rows_off))),)
    found = assess(lines, 0.02, POLICY, extra=off_scale(lines, (scale, scale), POLICY))
    assert found.action is action
    if action is Action.RESCAN:
        assert [reason.measure for reason in found.reasons] == ["print_scale"]
        assert "97.0 %" in found.reasons[0].text
