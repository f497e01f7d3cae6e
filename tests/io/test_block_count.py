"""Blocks are counted before they are expanded, just as the reader expands them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from drystone.io.block_count import expect_blocks
from drystone.io.limits import Budget, Limits
from drystone.io.read_dxf import read_dxf
from drystone.nesting.model.errors import InputError


class Counts(Budget):
    """Remembers what was expected and what was counted."""

    def __init__(self, **limits: Any) -> None:
        super().__init__("a.dxf", Limits(**limits))
        self.expected: list[int] = []

    def expect(self, count: int) -> None:
        if not self._entities:  # before any was counted; blocks come last
            self.expected.append(count)
        super().expect(count)


def bomb(doc: Any, levels: int, width: int) -> None:
    doc.blocks.new("B0").add_circle((0, 0), 5)
    for n in range(1, levels):
        block = doc.blocks.new(f"B{n}")
        for _ in range(width):
            block.add_blockref(f"B{n - 1}", (0, 0))
    doc.modelspace().add_blockref(f"B{levels - 1}", (0, 0))


def test_a_bomb_is_refused_without_being_expanded() -> None:
    doc = filemanagement.new()
    bomb(doc, 60, 3)
    budget = Counts()
    with pytest.raises(InputError, match="more than 105,000 entities, repeats"):
        expect_blocks(doc, budget)
    assert budget._entities == 0
    assert budget.expected[0] > 3**58


def nested(doc: Any) -> None:
    bomb(doc, 4, 5)


def grid(doc: Any) -> None:
    doc.blocks.new("B").add_line((0, 0), (1, 1))
    many = {"column_count": 7, "row_count": 3, "column_spacing": 9}
    doc.modelspace().add_blockref("B", (0, 0), dxfattribs=many)


def cycle(doc: Any) -> None:
    for name, other in (("A", "B"), ("B", "A")):
        block = doc.blocks.new(name)
        block.add_line((0, 0), (1, 1))
        block.add_blockref(other, (0, 0))
    doc.modelspace().add_blockref("A", (0, 0))


def skipped(doc: Any) -> None:
    doc.layers.add("ICE").freeze()
    doc.blocks.new("B").add_line((0, 0), (1, 1))
    msp = doc.modelspace()
    msp.add_line((0, 0), (1, 0))
    msp.add_blockref("B", (0, 0), dxfattribs={"layer": "ICE"})
    msp.add_blockref("B", (0, 0), dxfattribs={"xscale": 0})
    msp.add_blockref("B", (0, 0), dxfattribs={"invisible": 1})
    msp.add_blockref("NONE", (0, 0))


@pytest.mark.parametrize("fill", [nested, grid, skipped])
def test_the_reader_meets_as_many_as_were_expected(
    fill: Callable[[Any], None], tmp_path: Path
) -> None:
    doc = filemanagement.new()
    fill(doc)
    path = tmp_path / "a.dxf"
    doc.saveas(path)
    budget = Counts()
    read_dxf(path, budget)
    assert budget.expected[-1] == budget._entities


def test_a_cycle_is_counted_as_ending(tmp_path: Path) -> None:
    doc = filemanagement.new()
    cycle(doc)
    budget = Counts()
    expect_blocks(doc, budget)
    assert budget.expected[0] >= 4


def test_too_deep_is_refused() -> None:
    doc = filemanagement.new()
    bomb(doc, 5000, 1)
    with pytest.raises(InputError, match="nested more than 64 deep"):
        expect_blocks(doc, Counts())
