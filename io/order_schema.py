"""What an order file may say, and how each key is explained when it is wrong."""

from __future__ import annotations

from typing import Annotated, Any

from msgspec import Meta, Struct

Text = Annotated[str, Meta(description="give a text in quotes")]
Name = Annotated[str, Meta(min_length=1, description="give a text in quotes")]
Number = Annotated[
    int, Meta(ge=0, le=1_000_000, description="give 0 or a whole number")
]
Switch = Annotated[bool, Meta(description="give true or false")]
Length = Annotated[
    int | float | str,
    Meta(description='give a length such as 12, "12 mm" or "1/2 in"'),
]
Size = Annotated[
    tuple[int | float | str, int | float | str],
    Meta(description='give two lengths such as [1525, 1525] or ["48 in", "96 in"]'),
]
Price = Annotated[float, Meta(ge=0, description="give 0 or a number")]
Turn = Annotated[
    int | float | str | list[int | float],
    Meta(description='give "any", 90, 180, "grain", "fixed" or a list such as [0, 45]'),
]
Count = Annotated[int | str, Meta(description='give 0, a whole number or "as needed"')]
Grain = Annotated[str, Meta(description='give "length", "width" or "none"')]
OutlineValue = Annotated[
    str | list[tuple[int | float | str, int | float | str]],
    Meta(
        description='give a drawing such as "offcut.dxf" or corners such as '
        "[[0, 0], [600, 0], [600, 300]]"
    ),
]
Circle = Annotated[
    tuple[int | float | str, int | float | str, int | float | str],
    Meta(description="give [x, y, diameter]"),
]
Rectangle = Annotated[
    tuple[int | float | str, int | float | str, int | float | str, int | float | str],
    Meta(description="give [x, y, width, height], from its lower left corner"),
]
Pick = Annotated[
    str | int | list[str | int],
    Meta(description="give the name or the number of an outline in the drawing"),
]
Tables = Annotated[list[Any], Meta(description="write it as [[...]] tables")]
Tab = Annotated[dict[str, Any], Meta(description="write it as a [...] table")]


class OrderTable(Struct):
    """The whole file."""

    name: Name = ""
    units: Text = "mm"
    objective: Text = ""
    panels: Name | None = None
    cutting: Tab | None = None
    bed: Tab | None = None
    holding: Tab | None = None
    layers: Tab | None = None
    """By layer or colour of the drawings, what is done along its curves."""
    stock: Tables = []
    part: Tables = []


class CuttingEntry(Struct):
    """The cutting set-up."""

    cutter: Length | None = None
    allowance: Length | None = None
    margin: Length | None = None
    datum: Text | None = None
    use_holes: Switch = True
    clean: Text | None = None
    """The face that must stay free of torn fibres."""
    datum_offset: Size | None = None
    """Where the datum lies from fixed stops on the bed."""
    relief: Text = ""
    keep_side: Length | None = None
    """Least side of a leftover worth keeping."""
    keep_square: Length | None = None
    """Side of a square as large as the least leftover worth keeping."""
    keep_neck: Length | None = None
    """Narrower necks of a leftover are waste."""


class HoldingEntry(Struct):
    """Tabs and screws."""

    tabs: Text = ""
    screws: Annotated[
        int, Meta(ge=0, le=1000, description="give 0 or a whole number")
    ] = 0
    screw_distance: Length | None = None
    drop_outs: Switch = False
    """Whether pieces that would fall out of holes get tabs too."""


class BedEntry(Struct):
    """The machine's bed."""

    size: Size


class KeepOutEntry(Struct):
    """An area no cut may touch."""

    circle: Circle | None = None
    rectangle: Rectangle | None = None
    clearance: Length = 0
    label: Text = ""


class StockEntry(Struct):
    """One kind of sheet, or one offcut."""

    material: Text = ""
    thickness: Length = 0
    size: Size | None = None
    outline: OutlineValue | None = None
    name: Text = ""
    grain: Grain = "none"
    price: Price = 0
    count: Count | None = None
    offcut: Switch = False
    keep_out: Tables = []


class PartEntry(Struct):
    """One part, or all parts of one drawing."""

    drawing: Name | None = None
    panel: Size | None = None
    name: Text = ""
    pick: Pick | None = None
    quantity: Number = 1
    material: Text | None = None
    thickness: Length | None = None
    turn: Turn = "any"
    flip: Switch = False
    priority: Annotated[int, Meta(description="give a whole number")] = 0
    units: Text = ""
    known_width: Length | None = None
    """True width of the picked part, or of the largest; the scale follows."""
    known_height: Length | None = None
    layers: Tab | None = None
    """As for the whole order, for this drawing."""
    relief: Text = ""
    tabs: Switch | None = None
