"""The engine's process: answers come back, late ones do not, a crash is said."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from drystone.app.window import engine_process
from drystone.app.window.engine_child import BEHIND
from drystone.app.window.engine_process import Ended, EngineProcess, Found
from drystone.nesting.model.job import Job


@pytest.fixture
def engine(qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> Iterator[EngineProcess]:
    here = str(Path(__file__).parent)
    monkeypatch.syspath_prepend(here)
    monkeypatch.setenv("PYTHONPATH", here)
    assert here in sys.path
    engine = EngineProcess("engine_stand_in:work")
    yield engine
    engine.close()


def run(engine: EngineProcess, qtbot: QtBot, how: str) -> tuple[list[Found], Ended]:
    found: list[Found] = []
    engine.found.connect(found.append)
    with qtbot.waitSignal(engine.ended, timeout=20_000) as ended:
        engine.start(Job("Job"), options={"how": how})
    assert ended.args is not None
    return found, ended.args[0]


def test_better_layouts_come_back_in_order(engine: EngineProcess, qtbot: QtBot) -> None:
    found, ended = run(engine, qtbot, "once")
    assert [len(f.layout.blanks) for f in found] == [1, 2]
    assert found[1].figures == {"yield": 0.6}
    assert ended.reason == "done" and ended.words == ""
    assert not engine.running


def test_a_crash_is_said_and_the_best_stays(
    engine: EngineProcess, qtbot: QtBot
) -> None:
    found, ended = run(engine, qtbot, "die")
    assert ended.reason == "died" and "3" in ended.words
    assert engine.best is found[0]


def test_what_is_wrong_is_said_in_its_own_words(
    engine: EngineProcess, qtbot: QtBot
) -> None:
    _, ended = run(engine, qtbot, "fail")
    assert ended.reason == "failed"
    assert ended.words == "panel: no stock of birch; add some"


def test_a_fault_of_the_program_is_called_one(
    engine: EngineProcess, qtbot: QtBot
) -> None:
    _, ended = run(engine, qtbot, "slip")
    assert ended.reason == "failed"
    assert "fault in the program" in ended.words and "KeyError" in ended.words


@pytest.mark.skipif(not hasattr(os, "nice"), reason="the system knows no ranks")
def test_work_makes_way_for_the_window(engine: EngineProcess, qtbot: QtBot) -> None:
    found, _ = run(engine, qtbot, "rank")
    assert found[-1].figures["nice"] == min(os.nice(0) + BEHIND, 19) > os.nice(0)


def test_stop_keeps_the_best(engine: EngineProcess, qtbot: QtBot) -> None:
    with qtbot.waitSignal(engine.found, timeout=20_000):
        engine.start(Job("Job"), options={"how": "search"})
    with qtbot.waitSignal(engine.ended, timeout=5_000) as ended:
        engine.stop()
    assert ended.args is not None and ended.args[0].reason == "stopped"
    assert engine.best is not None and len(engine.best.layout.blanks) == 2


def test_an_engine_that_does_not_listen_is_ended(
    engine: EngineProcess, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine_process, "PATIENCE", 0.2)
    with qtbot.waitSignal(engine.found, timeout=20_000):
        engine.start(Job("Job"), options={"how": "deaf"})
    process = engine._process
    assert process is not None and process.is_alive()
    began = time.monotonic()
    with qtbot.waitSignal(engine.ended, timeout=5_000) as ended:
        engine.stop()
    assert ended.args is not None and ended.args[0].reason == "stopped"
    assert time.monotonic() - began < 3.0
    assert engine.best is not None


def test_answers_to_an_older_request_are_dropped(
    engine: EngineProcess, qtbot: QtBot
) -> None:
    with qtbot.waitSignal(engine.found, timeout=20_000):
        first = engine.start(Job("Job"), options={"how": "search"})
    found, ended = run(engine, qtbot, "once")
    assert ended.id == first.id + 1
    assert {f.id for f in found} == {ended.id}
