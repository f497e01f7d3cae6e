"""Edges in line while dragging: guides that name their target; Ctrl frees."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt

from drystone.app.bench.aligning import Aligner
from drystone.app.bench.contact import Group
from drystone.app.bench.gestures import owner_text
from drystone.app.bench.walls import walls_on
from drystone.nesting.model.job import Job
from drystone.nesting.model.placement import Placement

from .bench_jobs import planter_job
from .bench_person import CTRL, SHIFT, Person


def aligner(job: Job, key: tuple[str, int]) -> Aligner:
    p = next(q for q in job.layout.placements if (q.part_id, q.copy) == key)
    group = Group(
        walls_on(job, p.blank, [key]), [(job.part(p.part_id).outline, p.motion)]
    )
    names = {("side", n): f"Side {n}" for n in range(1, 5)}
    return Aligner(group, lambda owner: owner_text(owner, names))


def test_a_drag_brings_an_edge_in_line_and_names_the_neighbour(person: Person) -> None:
    person.press(330, 230)
    person.go(person.pixel(352, 130))  # its middle 2 mm right of side 3's
    assert "middles in line with Side 3" in person.view.figures
    (guide,) = person.view._hand.shown.guides
    assert guide.line[0][0] == pytest.approx(guide.line[1][0])
    person.let_go()
    assert person.where(("disc", 1)).x == pytest.approx(350, abs=1e-9)


def test_ctrl_frees_it(person: Person) -> None:
    person.press(330, 230)
    person.go(person.pixel(352, 130), CTRL)
    assert "in line" not in person.view.figures
    assert not person.view._hand.shown.guides
    person.let_go(CTRL)
    assert person.where(("disc", 1)).x == pytest.approx(352, abs=0.7)


def test_g_ends_lining_up_and_begins_it_again(person: Person) -> None:
    heard: list[str] = []
    person.view.said.connect(heard.append)
    person.key(Qt.Key.Key_G)
    assert "do not line up" in heard[-1]
    person.press(330, 230)
    person.go(person.pixel(352, 130))
    assert not person.view._hand.shown.guides
    person.key(Qt.Key.Key_Escape)
    person.let_go()
    person.key(Qt.Key.Key_G)
    assert person.view.lines_up


def test_lining_up_never_makes_a_conflict(person: Person) -> None:
    person.drag((350, 45), (190, 45))  # towards the very place of side 2
    assert person.document.conflicts() == {}


def test_one_line_up_for_each_axis() -> None:
    job = planter_job()
    a = aligner(job, ("side", 3))
    (x, y), found = a.snap((-139.0, 58.5), 3.0)  # above side 2, its left side near
    guides = a.guides(found, (x, y))
    assert x == pytest.approx(-140, abs=1e-9)
    assert len({g.text for g in guides}) == len(guides) <= 2
    assert any("Side 2" in g.text for g in guides)


def test_shift_leaves_the_other_axis_alone() -> None:
    a = aligner(planter_job(), ("side", 3))
    (x, y), _ = a.snap((-139.0, 61.0), 3.0, axis=1)
    assert x == -139.0
    (x, y), _ = a.snap((-139.0, 61.0), 3.0, axis=0)
    assert y == 61.0 and x == -140.0


def test_far_things_are_not_lined_up_with() -> None:
    a = aligner(planter_job(), ("side", 3))
    wish, found = a.snap((-139.0, 260.0), 3.0)  # 1 mm off side 2, 200 mm above it
    assert wish[0] == -139.0
    assert "Side" not in " ".join(g.text for g in a.guides(found, wish))


def test_slanted_edges_fall_in_line() -> None:
    job = planter_job()
    turned = {
        ("side", 2): Placement("side", 2, 0, 200, 60, 30.0),
        ("side", 3): Placement("side", 3, 0, 330, 140, 30.0),
    }
    placements = tuple(
        turned.get((p.part_id, p.copy), p)
        for p in job.layout.placements
        if p.part_id in ("side", "rail")
    )
    job = replace(job, layout=replace(job.layout, placements=placements))
    a = aligner(job, ("side", 3))
    wish, found = a.snap((0.0, 0.0), 6.0)
    assert any("edges in line with Side 2" in g.text for g in a.guides(found, wish))


def test_the_margin_is_a_target(person: Person) -> None:
    person.press(350, 45)
    person.go(person.pixel(443, 150))
    person.go(person.pixel(443, 38))
    assert "margin" in person.view.figures or "lower" in person.view.figures
    person.key(Qt.Key.Key_Escape)
    person.let_go()


def test_figures_tell_place_and_distance_at_the_pointer_and_below(
    person: Person,
) -> None:
    heard: list[str] = []
    person.view.said.connect(heard.append)
    person.press(350, 45)
    person.go(person.pixel(353, 61), SHIFT)
    words = person.view.figures
    assert "x 300.00 mm" in words and " to " in words
    for line in words.split("\n"):
        assert line in heard[-1]
    assert "Ctrl" in heard[-1]
    person.let_go(SHIFT)
