"""How the columns of a table share its width, and which make way when it is small."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class ColumnRoom:
    """What one column asks for.

    Parameters
    ----------
    wish : int
        The width that shows all it holds, pixels.
    least : int
        The width below which it is of no use, pixels.
    hides : int
        Columns with a higher number make way sooner; 0 never.
    """

    wish: int
    least: int
    hides: int = 0


def share(columns: Sequence[ColumnRoom], room: int, button: int = 0) -> list[int]:
    """Return the width of each column; 0 for those that make way.

    Parameters
    ----------
    columns : sequence of ColumnRoom
        From left to right.
    room : int
        The width they share, pixels.
    button : int
        What the button that tells of hidden columns takes of it, pixels.
    """
    shown = set(range(len(columns)))

    def least() -> int:
        return sum(columns[n].least for n in shown)

    for n in sorted(shown, key=lambda n: (-columns[n].hides, -n)):
        if least() <= room or columns[n].hides <= 0:
            break
        if len(shown) == len(columns):
            room -= button
        shown.discard(n)
    widths = [column.least if n in shown else 0 for n, column in enumerate(columns)]
    spare = max(room - least(), 0)
    for n in sorted(shown):  # names stand first, and gain most from room
        more = min(columns[n].wish - widths[n], spare)
        widths[n] += more
        spare -= more
    return widths
