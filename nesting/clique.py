"""The heaviest set of things no two of which agree, by branch and bound.

The method of Carraghan & Pardalos 1990, doi:10.1016/0167-6377(90)90057-C, with the
weights of the classes of a greedy colouring as the bound: two things of one class
agree, so a clique holds at most one of each.
"""

from __future__ import annotations

from collections.abc import Sequence

STEPS = 100_000
"""Branches looked at before the best clique so far is taken."""


def heaviest_clique(
    weight: Sequence[float], adjacent: Sequence[frozenset[int]], steps: int = STEPS
) -> list[int]:
    """Return the nodes of a clique, the heaviest one unless `steps` runs out.

    Parameters
    ----------
    weight : sequence of float
        Above 0, by node.
    adjacent : sequence of frozenset of int
        Neighbours of each node; symmetric, no node its own.
    steps : int
        Limit of branches.
    """
    order = sorted(range(len(weight)), key=lambda i: (-weight[i], -len(adjacent[i]), i))
    best: list[int] = []
    most = 0.0
    left = steps

    def extend(clique: list[int], total: float, candidates: list[int]) -> None:
        nonlocal best, most, left
        if total > most:
            best, most = [*clique], total
        coloured = _coloured(candidates, weight, adjacent)
        while coloured and left > 0:
            node, reach = coloured.pop()
            if total + reach <= most:
                return
            left -= 1
            earlier = [other for other, _ in coloured if other in adjacent[node]]
            clique.append(node)
            extend(clique, total + weight[node], earlier)
            clique.pop()

    extend([], 0.0, order)
    return sorted(best)


def _coloured(
    nodes: Sequence[int], weight: Sequence[float], adjacent: Sequence[frozenset[int]]
) -> list[tuple[int, float]]:
    """Nodes class by class, each with what a clique up to it weighs at most."""
    classes: list[list[int]] = []
    for node in nodes:
        for members in classes:
            if not any(other in adjacent[node] for other in members):
                members.append(node)
                break
        else:
            classes.append([node])
    out = []
    before = 0.0
    for members in classes:
        members.sort(key=lambda node: (weight[node], node))
        out += [(node, before + weight[node]) for node in members]
        before += max(weight[node] for node in members)
    return out
