"""How many elements an SVG drawing comes to, counted before any ``use`` is followed."""

from __future__ import annotations

from collections.abc import Mapping

from .limits import STEPS, Budget
from .svg_xml import Node


def expect_uses(
    root: Node, ids: Mapping[str, Node], unseen: frozenset[str], budget: Budget
) -> None:
    """Refuse a drawing whose uses, followed to their ends, come to too many elements.

    Uses of uses multiply as blocks in blocks do. Each element is counted once, so a
    bomb costs nothing; a use that leads back to itself counts as empty there.

    Parameters
    ----------
    root : Node
        The outermost element.
    ids : mapping of str to Node
        What uses refer to.
    unseen : frozenset of str
        Tags that draw nothing where they stand, only where they are used.
    budget : Budget
        Knows the limit and how many elements were read.

    Raises
    ------
    InputError
        If they are more than the budget allows.
    """
    counts: dict[int, int] = {}
    most = 2 * STEPS[-1] * budget.limits.entities + 1
    repeated = 0
    waiting = [root]
    while waiting:
        node = waiting.pop()
        if node.tag in unseen:
            continue
        waiting.extend(node.children)
        target = _target(node, ids)
        if target is not None:
            repeated = min(repeated + _count(target, ids, counts, most, budget), most)
    budget.expect_more(repeated)


def _target(node: Node, ids: Mapping[str, Node]) -> Node | None:
    if node.tag != "use" or not node.href.startswith("#"):
        return None
    return ids.get(node.href[1:])


def _count(
    start: Node,
    ids: Mapping[str, Node],
    counts: dict[int, int],
    most: int,
    budget: Budget,
) -> int:
    """Return how many elements an element comes to, at most `most`."""
    waiting = [(start, False)]
    while waiting:
        node, inside_known = waiting.pop()
        if not inside_known and id(node) in counts:
            continue
        target = _target(node, ids)
        below = [*node.children, *([target] if target is not None else [])]
        if inside_known:
            total = 1 + sum(counts.get(id(each), 0) for each in below)
            counts[id(node)] = min(total, most)
        else:
            budget.tick()
            counts[id(node)] = 0  # what it counts as inside itself
            waiting.append((node, True))
            waiting.extend((each, False) for each in below)
    return counts[id(start)]
