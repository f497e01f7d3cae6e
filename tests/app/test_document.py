"""The document: every gesture is one step, and undo restores exactly."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from drystone.app.bench import conflicts
from drystone.app.bench.copies import key_of
from drystone.app.window.document import Document, Notice
from drystone.app.window.edits import Difference, settled
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import Stock
from drystone.nesting.verify import Kind


def board(width: float = 600, height: float = 400, **more: object) -> Stock:
    return Stock("board", "Board", Outline(Loop.rectangle(width, height)), **more)  # type: ignore[arg-type]


def panel(part_id: str, quantity: int, w: float, h: float, **more: object) -> Part:
    return Part(
        part_id,
        part_id.title(),
        Outline(Loop.rectangle(w, h)),
        quantity=quantity,
        **more,  # type: ignore[arg-type]
    )


@pytest.fixture
def job() -> Job:
    return Job(
        "Planter",
        (panel("side", 3, 100, 60), panel("end", 2, 50, 40, turn=TurnRule.parse("90"))),
        (board(grain=Grain.LENGTH),),
        Cutting(6, 2, 10),
        layout=Layout(
            (Blank("board"),),
            (
                Placement("side", 1, 0, 20, 20),
                Placement("side", 2, 0, 140, 20),
                Placement("end", 1, 0, 300, 20),
            ),
        ),
    )


def test_the_tray_holds_what_is_not_placed(qapp: object, job: Job) -> None:
    document = Document(job)
    assert document.tray() == {"side": 1, "end": 1}
    assert [(u.part_id, u.count) for u in document.job.layout.unplaced] == [
        ("side", 1),
        ("end", 1),
    ]


def test_moving_three_is_one_step_that_says_so(qapp: object, job: Job) -> None:
    document = Document(job)
    before = document.job
    keys = [key_of(p) for p in before.layout.placements]
    heard: list[Difference] = []
    document.changed.connect(heard.append)
    assert document.move_by(keys, 5, 7)
    assert document.undo.count() == 1
    assert document.undo.undoText() == "Move 3 parts"
    assert heard[0].moved() == frozenset(keys)
    assert heard[0].layout and not heard[0].order and not heard[0].stock
    document.undo.undo()
    assert document.job is before
    document.undo.redo()
    assert document.placement(("end", 1)) == Placement("end", 1, 0, 305, 27)


def test_quick_nudges_are_one_step_and_slow_ones_are_not(
    qapp: object, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [100.0]
    monkeypatch.setattr("drystone.app.window.edits.time.monotonic", lambda: now[0])
    document = Document(job)
    for _ in range(5):
        document.nudge([("side", 1)], 1, 0)
        now[0] += 0.2
    assert document.undo.count() == 1
    now[0] += 1.5
    document.nudge([("side", 1)], 1, 0)
    assert document.undo.count() == 2
    document.undo.undo()
    document.undo.undo()
    assert document.job.layout.placements[0].x == 20


def test_nudging_back_leaves_no_step(qapp: object, job: Job) -> None:
    document = Document(job)
    document.nudge([("side", 1)], 1, 0)
    document.nudge([("side", 1)], -1, 0)
    assert document.undo.count() == 0


def test_a_locked_part_stays_and_says_why(qapp: object, job: Job) -> None:
    document = Document(job)
    document.set_locked([("side", 1)], True)
    heard: list[Notice] = []
    document.said.connect(heard.append)
    assert not document.move_by([("side", 1)], 5, 5)
    assert document.undo.count() == 1
    assert "locked" in heard[0].text
    assert document.move_by([("side", 1), ("side", 2)], 5, 5)
    assert document.placement(("side", 1)) == Placement(
        "side", 1, 0, 20, 20, locked=True
    )


def test_turns_keep_the_middle_and_the_rule(qapp: object, job: Job) -> None:
    document = Document(job)
    heard: list[Notice] = []
    document.said.connect(heard.append)
    document.turn_by([("end", 1)], 15)
    end = document.placement(("end", 1))
    assert end is not None and end.turn == 90
    assert end.motion.point((25, 20)) == pytest.approx((325, 40))
    assert not document.turn_to([("end", 1)], 45)
    assert heard[-1].text == (
        "End 1 may only lie at 0°, 90°, 180°, 270°. Its turn rule is set in Parts."
    )


def test_flip_is_refused_where_the_part_may_not(qapp: object, job: Job) -> None:
    document = Document(job)
    assert not document.flip([("side", 1)])
    side = replace(job.parts[0], flip=True)
    document.act("Allow", lambda j: replace(j, parts=(side, *j.parts[1:])))
    assert document.flip([("side", 1)])
    placed = document.placement(("side", 1))
    assert placed is not None and placed.flipped
    assert placed.motion.point((50, 30)) == pytest.approx((70, 50))
    document.flip([("side", 1)])
    assert document.placement(("side", 1)) == Placement("side", 1, 0, 20, 20)


def test_fewer_wanted_takes_unlocked_last_copies_off(qapp: object, job: Job) -> None:
    document = Document(job)
    document.set_locked([("side", 2)], True)
    fewer = replace(document.job.parts[0], quantity=1)
    document.act("Fewer", lambda j: replace(j, parts=(fewer, *j.parts[1:])))
    sides = [p for p in document.job.layout.placements if p.part_id == "side"]
    assert len(sides) == 1
    assert sides[0].locked and sides[0].copy == 1 and sides[0].x == 140


def test_a_blank_of_stock_that_is_gone_goes(qapp: object, job: Job) -> None:
    bare = settled(replace(job, stock=()))
    assert bare.layout.blanks == () and bare.layout.placements == ()
    assert sum(u.count for u in bare.layout.unplaced) == 5


def test_blanks_are_checked_once_for_each_state_of_theirs(
    qapp: object, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Undo, redo and another quantity must not cost a large job a check of all."""
    document = Document(job)
    checked: list[object] = []
    whole = conflicts.conflicts_on

    def counted(stock: Stock, *more: Any) -> Any:
        checked.append(stock)
        return whole(stock, *more)

    monkeypatch.setattr(conflicts, "conflicts_on", counted)
    assert document.conflicts() == {}
    document.move_by([("side", 1)], 100, 0)
    wrong = document.conflicts()
    assert set(wrong) == {("side", 1), ("side", 2)} and len(checked) == 2
    document.undo.undo()
    assert document.conflicts() == {}
    document.undo.redo()
    assert document.conflicts() == wrong and len(checked) == 2
    side = replace(document.job.part("side"), quantity=4)
    document.act("more", lambda job: replace(job, parts=(side, *job.parts[1:])))
    assert document.conflicts() == wrong and len(checked) == 2
    thick = replace(side, thickness=18.0)
    document.act("thick", lambda job: replace(job, parts=(thick, *job.parts[1:])))
    assert len(document.conflicts()) == 2 and len(checked) == 3


def test_conflicts_name_both_parts_and_follow_undo(qapp: object, job: Job) -> None:
    document = Document(job)
    assert document.conflicts() == {}
    document.move_by([("side", 1)], 13, 0)
    found = document.conflicts()
    assert set(found) == {("side", 1), ("side", 2)}
    (reason,) = found[("side", 1)].reasons
    assert reason.kind is Kind.GAP and reason.other == ("side", 2)
    assert reason.measured == pytest.approx(7)
    document.move_by([("side", 1)], -25, 0)
    (reason,) = document.conflicts()[("side", 1)].reasons
    assert reason.kind is Kind.MARGIN
    document.undo.undo()
    document.undo.undo()
    assert document.conflicts() == {}


def test_blanks_come_and_go(qapp: object, job: Job) -> None:
    document = Document(job)
    document.add_blank("board")
    document.act(
        "Move over",
        lambda j: replace(
            j,
            layout=replace(
                j.layout,
                placements=tuple(
                    replace(p, blank=1) if p.part_id == "end" else p
                    for p in j.layout.placements
                ),
            ),
        ),
    )
    document.remove_blank(0)
    assert [p.part_id for p in document.job.layout.placements] == ["end"]
    assert document.job.layout.placements[0].blank == 0
    assert document.tray() == {"side": 3, "end": 1}
    for _ in range(3):
        document.undo.undo()
    assert document.job.layout == settled(job).layout


def test_opening_forgets_steps_and_selection(qapp: object, job: Job) -> None:
    document = Document(job)
    document.select_all()
    document.move_by(document.selection, 1, 1)
    assert document.modified
    document.open(Job("Other"))
    assert not document.modified and not document.selection
    assert document.undo.count() == 0


def test_a_trial_is_shown_without_changing_the_job(qapp: object, job: Job) -> None:
    document = Document(job)
    trial = Layout((Blank("board"),), (Placement("side", 1, 0, 200, 200),))
    document.show_trial(trial)
    assert document.shown_layout is trial
    assert len(document.job.layout.placements) == 3
    assert document.adopt(trial, "Nest")
    assert document.undo.undoText() == "Nest"
    assert document.shown_layout.placements == trial.placements
