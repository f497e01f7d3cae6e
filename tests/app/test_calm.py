"""Work beside the window: what it may do to the collector and to other threads."""

from __future__ import annotations

import gc
import sys
import threading

from drystone.app.window.calm import PILE, TURN, calm


def test_threads_take_turns_quickly_until_the_last_block_is_over() -> None:
    usual = sys.getswitchinterval()
    assert usual > TURN
    inside, leave = threading.Event(), threading.Event()

    def other() -> None:
        with calm():
            inside.set()
            leave.wait(10)

    thread = threading.Thread(target=other)
    with calm():
        thread.start()
        assert inside.wait(10)
    assert not gc.isenabled() and sys.getswitchinterval() < usual
    leave.set()
    thread.join()
    assert gc.isenabled() and sys.getswitchinterval() == usual


def test_a_large_pile_is_left_alone_and_a_small_one_is_not() -> None:
    gc.collect()
    before = gc.get_freeze_count()
    try:
        with calm():
            small = [[] for _ in range(100)]  # type: ignore[var-annotated]
        assert gc.get_freeze_count() == before
        with calm():
            large = [[] for _ in range(2 * PILE)]  # type: ignore[var-annotated]
        assert gc.get_freeze_count() >= before + len(large) > len(small)
    finally:
        gc.unfreeze()
