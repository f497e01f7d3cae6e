"""A small job to lay out by hand, shared by the tests of the bench."""

from __future__ import annotations

from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import Stock

GAP = 8.0
"""What parts of `planter_job` keep between them, mm."""


def planter_job() -> Job:
    """Two boards; panels, a ring with a hole, discs that fit in it."""
    side = Part("side", "Side", Outline(Loop.rectangle(100, 60)), quantity=4)
    ring = Part(
        "ring", "Ring", Outline(Loop.circle(0, 0, 90), (Loop.circle(0, 0, 60),))
    )
    disc = Part("disc", "Disc", Outline(Loop.circle(0, 0, 35)), quantity=3, flip=True)
    rail = Part(
        "rail",
        "Rail",
        Outline(Loop.rectangle(200, 30)),
        quantity=2,
        turn=TurnRule.parse("grain"),
    )
    board = Stock(
        "board", "Birch", Outline(Loop.rectangle(600, 400)), grain=Grain.LENGTH
    )
    layout = Layout(
        (Blank("board"), Blank("board")),
        (
            Placement("side", 1, 0, 20, 20),
            Placement("side", 2, 0, 160, 20),
            Placement("side", 3, 0, 300, 20),
            Placement("ring", 1, 0, 130, 230),
            Placement("disc", 1, 0, 330, 230),
            Placement("rail", 1, 0, 380, 330),
            Placement("rail", 2, 1, 30, 30),
            Placement("disc", 2, 1, 330, 230),
        ),
    )
    return Job(
        "Planter",
        (side, ring, disc, rail),
        (board,),
        Cutting(6, 2, 10),
        layout=layout,
    )
