"""Work beside other work: the result is the same with an idle core and without."""

from __future__ import annotations

import sys
import threading
from pathlib import Path

import pytest

from printcheck import batch, machine
from printcheck.bench import BenchSettings


@pytest.mark.parametrize("idle", [True, False])
def test_meanwhile_gives_what_the_work_gives_once(idle: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine, "has_idle_core", lambda: idle)
    threads = []

    def work() -> int:
        threads.append(threading.current_thread())
        return 7

    result = machine.meanwhile(work)
    assert (result(), result()) == (7, 7)
    assert len(threads) == 1
    assert (threads[0] is threading.main_thread()) is not idle


@pytest.mark.parametrize("idle", [True, False])
def test_what_the_work_raises_is_raised_where_its_result_is_asked_for(
    idle: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(machine, "has_idle_core", lambda: idle)

    def work() -> int:
        raise ValueError("no")

    result = machine.meanwhile(work)
    with pytest.raises(ValueError, match="no"):
        result()


def test_a_worker_has_no_idle_core(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine, "cores", lambda: 8)
    assert machine.has_idle_core()
    monkeypatch.setattr(machine.multiprocessing, "parent_process", object)
    assert not machine.has_idle_core()
    monkeypatch.undo()
    monkeypatch.setattr(machine, "cores", lambda: 1)
    assert not machine.has_idle_core()


def test_work_that_is_to_have_one_core_finds_no_other_idle(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine, "cores", lambda: 8)
    with machine.one_core():
        assert not machine.has_idle_core()
        with machine.one_core():
            pass
        assert not machine.has_idle_core()
    assert machine.has_idle_core()


def test_a_batch_of_one_worker_takes_one_core_and_gives_it_back_between_files(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    idle: list[bool] = []
    monkeypatch.setattr(machine, "cores", lambda: 8)
    monkeypatch.setattr(batch, "score_file", lambda *_: idle.append(machine.has_idle_core()) or {})
    for _ in batch.score_many([tmp_path / "a.jpg", tmp_path / "b.jpg"], BenchSettings(), workers=1):
        idle.append(machine.has_idle_core())
    assert idle == [False, True, False, True]


def test_turns_are_short_only_beside_an_idle_core(monkeypatch: pytest.MonkeyPatch) -> None:
    before = sys.getswitchinterval()
    for idle in (True, False):
        monkeypatch.setattr(machine, "has_idle_core", lambda idle=idle: idle)
        with machine.short_turns():
            assert (sys.getswitchinterval() < before) == idle
        assert sys.getswitchinterval() == before
