"""Random gestures: no snug gesture makes a conflict, every conflict is flagged.

After each gesture the independent check of the whole layout and the bench's own
warnings name exactly the same copies; undoing everything gives the first job back.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from drystone.app.bench.arrange import Edge
from drystone.app.bench.view import BenchView
from drystone.app.window.document import Document
from drystone.app.window.edits import key_of
from drystone.nesting.verify import Kind, verify

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.gui.bench_jobs import planter_job
    from tests.gui.bench_person import CTRL, LEFT, NONE, SHIFT, Person
else:  # beside this file; the tests are no package when they run
    from bench_jobs import planter_job
    from bench_person import CTRL, LEFT, NONE, SHIFT, Person

EXAMPLES = int(os.environ.get("DRYSTONE_GESTURE_EXAMPLES", "12"))
"""Each runs up to ten gestures; 60 and more make a long run."""

numbers = st.integers(0, 7)
points = st.tuples(st.floats(-40, 640), st.floats(-40, 440), st.integers(0, 1))
gestures = st.one_of(
    st.tuples(st.just("drag"), numbers, points, st.sampled_from([NONE, SHIFT])),
    st.tuples(st.just("drag"), numbers, points, st.just(NONE)),
    st.tuples(st.just("drag"), numbers, points, st.just(CTRL)),
    st.tuples(st.just("band"), numbers, points, st.sampled_from([NONE, CTRL])),
    st.tuples(st.just("turn"), numbers, points, st.sampled_from([NONE, SHIFT])),
    st.tuples(
        st.just("key"),
        numbers,
        st.sampled_from(
            [
                Qt.Key.Key_Left,
                Qt.Key.Key_Up,
                Qt.Key.Key_R,
                Qt.Key.Key_F,
                Qt.Key.Key_L,
                Qt.Key.Key_Delete,
                Qt.Key.Key_Period,
                Qt.Key.Key_Escape,
            ]
        ),
        st.sampled_from([NONE, SHIFT]),
    ),
    st.tuples(st.just("carry"), numbers, points, st.just(NONE)),
    st.tuples(st.just("align"), numbers, st.sampled_from(list(Edge)), st.just(NONE)),
    st.tuples(st.just("cancel"), numbers, points, st.just(NONE)),
)


def flagged_by_check(document: Document) -> set[tuple[str, int]]:
    """Return the copies the independent check names, both sides of a pair."""
    found = set()
    for problem in verify(document.job).problems:
        if problem.kind is Kind.EMPTY_BLANK:
            continue
        found.add((problem.part, problem.copy))
        if problem.kind in (Kind.OVERLAP, Kind.GAP):
            part, _, copy = problem.other.rpartition("/")
            found.add((part, int(copy)))
    return found


def perform(person: Person, gesture: tuple[object, ...]) -> bool:
    """Do it; return whether it was one that may leave no new conflict."""
    kind, number, target, keys = gesture
    assert isinstance(number, int) and isinstance(keys, Qt.KeyboardModifier)
    document, view = person.document, person.view
    placements = document.job.layout.placements
    if kind == "key":
        assert isinstance(target, Qt.Key)
        person.key(target, keys)
        return False
    if kind == "align":
        assert isinstance(target, Edge)
        document.align(document.selection, target)
        return False
    assert isinstance(target, tuple)
    x, y, blank = target
    place = person.pixel(x, y, blank)
    if kind == "band":
        person.press(x, y, blank)
        person.go(place + QPoint(120, 80), keys)
        person.let_go(keys)
        # A press on a part drags what is selected instead: snug without Ctrl.
        return keys == NONE
    if kind == "carry":
        free = sorted(document.tray())
        if free and view.carry(free[number % len(free)], place):
            view.follow(place + QPoint(number * 10, 0), NONE)
            assert view.gesture is not None
            view.gesture.finish()
            view.gesture = None
        return True
    if not placements:
        return True
    chosen = placements[number % len(placements)]
    if kind == "turn":
        document.select([key_of(chosen)])
        handle = view.handle_at()
        if handle is None:
            return True
        person.at = handle.toPoint()
        QTest.mousePress(view.viewport(), LEFT, NONE, person.at)
    else:
        ox, oy = view.plan.origins[chosen.blank]
        at = view.document.job.part(chosen.part_id).outline
        from drystone.app.bench.shapes import flat

        px, py = chosen.motion.point(flat(at).label_point)
        person.at = view.mapFromScene(QPointF(px + ox, py + oy))
        QTest.mousePress(view.viewport(), LEFT, NONE, person.at)
    person.go(place, keys)
    if kind == "cancel":
        person.key(Qt.Key.Key_Escape)
    person.let_go(keys)
    return keys != CTRL


@settings(
    max_examples=EXAMPLES,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(steps=st.lists(gestures, min_size=3, max_size=10))
def test_gestures_flag_what_is_wrong_and_can_all_be_undone(
    qapp: QApplication, steps: list[tuple[object, ...]]
) -> None:
    document = Document(planter_job())
    first = document.job
    assert flagged_by_check(document) == set()
    view = BenchView(document)
    view.resize(900, 500)
    view.show()
    view.setFocus()
    try:
        for gesture in steps:
            before = set(document.conflicts())
            count = document.undo.count()
            snug = perform(Person(view), gesture)
            assert view.gesture is None and not view._hand.isVisible()
            assert document.undo.count() <= count + 1
            bad = set(document.conflicts())
            assert bad == flagged_by_check(document)
            if snug and not before:
                assert not bad, gesture
            if snug:  # what is already wrong may stay so, but nothing else gets wrong
                assert bad <= before, gesture
        while document.undo.canUndo():
            document.undo.undo()
        assert document.job == first
        assert document.job.layout.placements == first.layout.placements
    finally:
        view.close()
        view.deleteLater()
        qapp.processEvents()
