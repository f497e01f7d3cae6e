"""Fill rooms with rectangles by blocks that share a side, to the last bit.

Two rectangles of one height side by side are a rectangle again, so are two of one width
one above the other, and so on with what came of it: Wang 1983,
doi:10.1287/opre.31.3.573, here without any waste. Where sides are long in steps of the
grid, few blocks come about by chance, and all of them can be listed; a room that was
cut up by straight cuts from side to side is then found as one of them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

MOST_LOOKS = 150_000
"""Blocks and pairs of a row and a block after which sides match too often for this
method: some 0.3 s. The jigsaws TI001 and TI016 of 57 rectangles take 20,000."""

MOST_STEPS = 50_000
"""Steps of choosing a block for each room, for all rooms together."""


@dataclass(frozen=True)
class Rectangle:
    """One way in which copies of a kind may lie.

    Attributes
    ----------
    kind : int
    width, height : int
        In grid steps.
    """

    kind: int
    width: int
    height: int


@dataclass(frozen=True)
class Lying:
    """A copy in its room: the rectangle's index and its lower left corner."""

    rectangle: int
    room: int
    x: int
    y: int


@dataclass(frozen=True)
class _Block:
    """A rectangle (`rectangle`), or a row and its last part, or such a column.

    `used` holds the number of copies of each kind, in as many bits as the kind needs.
    """

    size: tuple[int, int]
    used: int
    parts: tuple[_Block, ...] = ()
    upright: bool = False
    rectangle: int = -1


def stacked(
    rectangles: Sequence[Rectangle],
    count: Sequence[int],
    width: int,
    height: int,
    rooms: int,
    stop: Callable[[], bool],
) -> list[Lying] | None:
    """Fill equal rooms with all copies by blocks that share a side.

    Parameters
    ----------
    rectangles : sequence of Rectangle
    count : sequence of int
        Copies of each kind; their areas add up to that of the rooms.
    width, height : int
        Of every room, in grid steps.
    rooms : int
    stop : callable
        Asked at every step.

    Returns
    -------
    list of Lying, or None
        None if there is none of this kind, or too many blocks to list.
    """
    blocks = _Blocks(count, width, height)
    if not blocks.build(rectangles, stop):
        return None
    chosen = _one_each(blocks, rooms, stop)
    if chosen is None:
        return None
    return [
        Lying(index, room, x, y)
        for room, block in enumerate(chosen)
        for index, x, y in _laid(block)
    ]


class _Blocks:
    """All blocks up to the size of a room that the copies suffice for."""

    def __init__(self, count: Sequence[int], width: int, height: int) -> None:
        self._room = (width, height)
        # Two sums that suffice by themselves add up without reaching the guard bit.
        bits = [n.bit_length() + 2 for n in count]
        self.shift = [0, *accumulate(bits)]
        self._guards = sum(1 << (s - 1) for s in self.shift[1:])
        self.all = sum(n << s for n, s in zip(count, self.shift, strict=False))
        self.full: list[_Block] = []
        self._with: dict[int, list[_Block]] = {}

    def suffices(self, used: int) -> bool:
        """Whether there are as many copies of each kind."""
        return (self.all + self._guards - used) & self._guards == self._guards

    def with_first_of(self, left: int) -> list[_Block]:
        """Return the blocks of a room's size with the first kind that is left."""
        first = next(k for k, s in enumerate(self.shift[1:]) if left % (1 << s))
        if first not in self._with:
            field = (1 << self.shift[first + 1]) - (1 << self.shift[first])
            self._with[first] = [block for block in self.full if block.used & field]
        return self._with[first]

    def build(self, rectangles: Sequence[Rectangle], stop: Callable[[], bool]) -> bool:
        """List the blocks; false if they are too many or time is up."""
        known: set[tuple[tuple[int, int], int]] = set()
        waiting: list[_Block] = []

        def add(block: _Block) -> None:
            key = (block.size, block.used)
            if key not in known:
                known.add(key)
                waiting.append(block)
                if block.size == self._room:
                    self.full.append(block)

        for index, one in enumerate(rectangles):
            size = (one.width, one.height)
            if self.suffices(used := 1 << self.shift[one.kind]):
                add(_Block(size, used, rectangle=index))
        # What lies in a row so far, by height, and in a column, by width.
        begun: dict[tuple[bool, int], dict[int, _Block]] = defaultdict(dict)
        work = 0
        while waiting:
            block = waiting.pop()
            for upright in (False, True):
                if block.parts and block.upright == upright:
                    continue  # the longer row is made of the same parts
                rows = begun[upright, block.size[1 - upright]]
                for row in [None, *rows.values()]:
                    for longer in self._longer(row, block, upright):
                        if longer.used not in rows:
                            rows[longer.used] = longer
                            if longer is not block:
                                add(longer)
                        work += 1
                        if work > MOST_LOOKS or stop():
                            return False
                    work += 1
                    if work > MOST_LOOKS or stop():
                        return False
        return True

    def _longer(
        self, row: _Block | None, block: _Block, upright: bool
    ) -> Iterator[_Block]:
        """Put a block at the end of a row or column, once and as often as it goes."""
        across = block.size[1 - upright]
        along, used = (row.size[upright], row.used) if row is not None else (0, 0)
        while self.suffices(used := used + block.used):
            along += block.size[upright]
            if along > self._room[upright]:
                return
            size = (across, along) if upright else (along, across)
            row = block if row is None else _Block(size, used, (row, block), upright)
            yield row


def _one_each(
    blocks: _Blocks, rooms: int, stop: Callable[[], bool]
) -> list[_Block] | None:
    """Choose blocks of a room's size that hold every copy once, depth first."""
    chosen: list[_Block] = []
    left = blocks.all
    waiting = [iter(blocks.with_first_of(left))]
    for _ in range(MOST_STEPS):
        if not waiting or stop():
            return None
        block = next(waiting[-1], None)
        if block is None:
            waiting.pop()
            if chosen:
                left += chosen.pop().used
        elif blocks.suffices(blocks.all - left + block.used):
            chosen.append(block)
            left -= block.used
            if not left:
                return chosen
            waiting.append(iter(blocks.with_first_of(left)))
    return None


def _laid(block: _Block) -> Iterator[tuple[int, int, int]]:
    """Give the rectangles in a block with their lower left corners."""
    waiting = [(block, 0, 0)]
    while waiting:
        block, x, y = waiting.pop()
        if not block.parts:
            yield block.rectangle, x, y
        for part in block.parts:
            waiting.append((part, x, y))
            if block.upright:
                y += part.size[1]
            else:
                x += part.size[0]
