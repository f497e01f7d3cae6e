"""How many entities a DXF drawing comes to, counted before any block is expanded."""

from __future__ import annotations

from typing import Any

from ezdxf.lldxf.const import DXFError

from ..nesting.model.errors import InputError
from .limits import Budget

_ELSEWHERE = 12
"""Flags of a block whose content is in another file."""


def expect_blocks(document: Any, budget: Budget) -> None:
    """Refuse a drawing whose blocks, put in wherever they are used, are too many.

    Blocks in blocks multiply: ten levels of ten inserts each are ten thousand million
    entities in a file of 2 kB. Each block is counted once, so a bomb costs nothing.
    What the reader skips (frozen, flattened to nothing, kept elsewhere) is not
    counted, and a block that contains itself counts as empty there.

    Raises
    ------
    InputError
        If there are more than the budget allows, or blocks nested too deep.
    """
    counter = _Counter(document, budget)
    budget.expect(counter.content(document.modelspace(), 0))


class _Counter:
    def __init__(self, document: Any, budget: Budget) -> None:
        self._document = document
        self._budget = budget
        self._known: dict[str, int] = {}
        self._frozen: dict[str, bool] = {}

    def content(self, entities: Any, depth: int) -> int:
        """Return how many entities a model space or a block comes to."""
        self._budget.depth(depth)
        total = 0
        for entity in entities:
            self._budget.tick()
            total += 1
            if entity.dxftype() == "INSERT":
                try:
                    total += self._insert(entity, depth)
                except InputError:  # which is a ValueError, too
                    raise
                except (AttributeError, DXFError, TypeError, ValueError):
                    continue  # the reader reports it
        return total

    def _insert(self, insert: Any, depth: int) -> int:
        dxf = insert.dxf
        name = str(dxf.get("name", ""))
        block = self._document.blocks.get(name)
        if block is None or self._is_frozen(dxf.get("layer", "0")):
            return 0
        if dxf.get("invisible", 0) or 0.0 in (dxf.get("xscale"), dxf.get("yscale")):
            return 0
        if block.block is not None and block.block.dxf.get("flags", 0) & _ELSEWHERE:
            return 0
        repeats = 1
        for along in ("column", "row"):
            if dxf.get(f"{along}_spacing", 0.0):
                repeats *= max(int(dxf.get(f"{along}_count", 1)), 1)
        key = name.casefold()
        if key not in self._known:
            self._known[key] = 0  # what it counts as inside itself
            self._known[key] = self.content(block, depth + 1)
        return repeats * (1 + self._known[key])

    def _is_frozen(self, layer: str) -> bool:
        if layer not in self._frozen:
            try:
                entry = self._document.layers.get(layer)
                self._frozen[layer] = bool(entry.is_frozen())
            except (AttributeError, DXFError, TypeError, ValueError):
                self._frozen[layer] = False
        return self._frozen[layer]
