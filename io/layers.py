"""The layers of exported files: one per operation, and four that are not cut.

Colours are the eight of the palette that most people with a colour vision
deficiency can tell apart (Okabe and Ito, "Color Universal Design", 2008), greys
for what is not cut. A colour never stands alone: the layer's name says the same.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..nesting.model.part import Operation


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer.

    Parameters
    ----------
    name : str
        As it stands in files.
    meaning : str
        What to do along its curves, for a person.
    colour : tuple of int
        Red, green, blue, 0 to 255.
    index : int
        The nearest colour of the 255 a DXF reader without true colour knows.
    """

    name: str
    meaning: str
    colour: tuple[int, int, int]
    index: int

    @property
    def hex(self) -> str:
        """The colour as ``#rrggbb``."""
        return "#{:02x}{:02x}{:02x}".format(*self.colour)


BLANK_EDGE = Layer("BLANK_EDGE", "edge of the blank, not cut", (120, 120, 120), 8)
KEEP_OUT = Layer("KEEP_OUT", "no cut may enter here", (90, 90, 90), 252)
TEXT = Layer("TEXT", "names, not cut", (150, 150, 150), 9)
SCREW = Layer("SCREW", "room for a screw in the waste", (60, 60, 60), 250)

OPERATION_LAYERS: dict[Operation, Layer] = {
    Operation.DRILL: Layer("DRILL", "drill", (230, 159, 0), 40),
    Operation.ENGRAVE: Layer("ENGRAVE", "engrave on the line", (204, 121, 167), 221),
    Operation.POCKET: Layer("POCKET", "clear to a depth", (0, 158, 115), 94),
    Operation.TAB: Layer("TAB", "leave a tab here", (86, 180, 233), 140),
    Operation.INSIDE: Layer(
        "INSIDE", "cut through, cutter inside the line", (0, 114, 178), 152
    ),
    Operation.OUTSIDE: Layer(
        "OUTSIDE", "cut through, cutter outside the line", (213, 94, 0), 30
    ),
}
"""Layers of what is cut, in the order the operations are done."""

ALL_LAYERS = (BLANK_EDGE, KEEP_OUT, SCREW, TEXT, *OPERATION_LAYERS.values())
