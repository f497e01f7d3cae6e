"""Benchmark instances read from their open form and looked through before any search.

What comes out is a dictionary that the engine takes as it is: lengths are floats,
demands whole numbers, no ring repeats a point, and keys that are null are left out.
The first mistake found is an `InputError` that says where, what and what to do.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Annotated, Any, TypeVar

import numpy as np
import shapely
from msgspec import Meta, Struct, structs

from ..io.tables import Problems, read_table, shown
from ..nesting.model.errors import InputError

Instance = dict[str, Any]
Entry = TypeVar("Entry", bound=Struct)

LARGEST = 1e9
"""No length is longer: with float64 some digits are left for what is small."""

THINNEST = 1e-6
"""No piece is thinner than this share of a sheet's longest side, or of the strip's
width: so much counts as touching."""

MOST_COPIES = 100_000

Length = Annotated[
    float, Meta(gt=0, le=LARGEST, description="give a number above 0, at most 1e9")
]
Cost = Annotated[
    float, Meta(gt=0, le=LARGEST, description="give a number above 0, or none at all")
]
Available = Annotated[
    int, Meta(ge=0, le=2**31 - 1, description="give a whole number, or null for any")
]
Demand = Annotated[
    int, Meta(ge=1, le=MOST_COPIES, description="give a whole number from 1 to 100000")
]
Ring = Annotated[
    list[tuple[float, float]],
    Meta(description="give corners such as [[0, 0], [60, 0], [60, 30]]"),
]
Rings = Annotated[
    list[list[tuple[float, float]]],
    Meta(description="give a list of rings, each a list of corners"),
]
Turns = Annotated[
    list[float] | str,
    Meta(description='give a list of degrees such as [0, 180], or "free"'),
]
Name = Annotated[
    str | int, Meta(description="give each piece a text or a whole number of its own")
]
Table = Annotated[dict[str, Any], Meta(description='write it as {"w": 100, "h": 50}')]
Listed = Annotated[list[Any], Meta(description="give a list with one entry at least")]


class _Whole(Struct):
    """The instance as a whole."""

    kind: Annotated[str, Meta(description='give "strip" or "bins"')]
    pieces: Listed
    width: Length | None = None
    sheet: Table | None = None
    sheets: Listed | None = None
    rotations_deg: Turns | None = None
    obstacles: Listed | None = None
    known_optimum: (
        Annotated[
            dict[str, Any],
            Meta(description='write it as {"length": 100} or {"bins": 3}, or null'),
        ]
        | None
    ) = None


class _Optimum(Struct):
    """What is known of the best solution."""

    length: Length | None = None
    bins: Length | None = None


class _Sheet(Struct):
    """One size of sheet."""

    w: Length
    h: Length
    cost: Cost | None = None
    available: Available | None = None


class _Piece(Struct):
    """One piece: an outline with holes, or a rectangle."""

    id: Name
    demand: Demand = 1
    outer: Ring | None = None
    holes: Rings | None = None
    w: Length | None = None
    h: Length | None = None
    rotations_deg: Turns | None = None


def read_instance(path: Path) -> Instance:
    """Return a file's instance.

    Raises
    ------
    InputError
        If it cannot be read, or what it says cannot be used.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(
            str(path), str(error.strerror or error), "name a file that can be read"
        ) from None
    except (ValueError, RecursionError) as error:
        raise InputError(
            str(path), f"not JSON ({error})", "give an instance in the form of --help"
        ) from None
    return checked_instance(data, str(path))


def checked_instance(data: object, where: str) -> Instance:
    """Return an instance in the form that the engine takes.

    Parameters
    ----------
    data : object
        What a JSON file held.
    where : str
        The file's name, for errors.

    Raises
    ------
    InputError
        At the first mistake.
    """
    if not isinstance(data, dict):
        raise InputError(where, "not an instance", "see the form with --help")
    whole = _read(data, _Whole, where)
    if whole.obstacles:
        raise InputError(
            where, "sheets with obstacles cannot be laid out", "take the obstacles out"
        )
    out = {key: value for key, value in data.items() if value is not None}
    room, sides = _room(whole, where)
    for key in ("width", "sheet", "sheets", "rotations_deg", "known_optimum"):
        out.pop(key, None)
    out |= room | _turns(whole.rotations_deg, where)
    if whole.known_optimum is not None:
        out["known_optimum"] = _kept(_read(whole.known_optimum, _Optimum, where))
    if not whole.pieces:
        raise InputError(where, "it has no pieces", "give one at least")
    pieces: dict[str, Instance] = {}
    for number, table in enumerate(whole.pieces, 1):
        piece = _piece(table, f"{where}, piece {number}", whole.rotations_deg, sides)
        name = str(piece["id"])
        if name in pieces:
            raise InputError(
                f"{where}, piece {number}",
                f"another piece has the id {shown(piece['id'])} too",
                "give each an id of its own",
            )
        pieces[name] = piece
    out["pieces"] = list(pieces.values())
    copies = sum(piece["demand"] for piece in out["pieces"])
    if copies > MOST_COPIES:
        raise InputError(
            where, f"{copies} copies are too many", f"ask for at most {MOST_COPIES}"
        )
    return out


def _read(table: object, kind: type[Entry], where: str) -> Entry:
    """Return a table's known keys as `kind`; raise its first mistake."""
    if not isinstance(table, dict):
        raise InputError(where, f"{shown(table)} is no object", 'write it as {"…": …}')
    known = {field.encode_name for field in structs.fields(kind)}
    problems = Problems()
    read = read_table(
        {key: value for key, value in table.items() if key in known},
        kind,
        where,
        problems,
    )
    if read is None:
        raise problems.errors[0]
    for key in known:
        _refuse_odd(getattr(read, key), key, where)
    return read


def _refuse_odd(value: object, key: str, where: str) -> None:
    """Raise if a number is NaN, infinite or too long, however deep in a list."""
    if isinstance(value, list | tuple):
        for one in value:
            _refuse_odd(one, key, where)
    elif isinstance(value, float) and not abs(value) <= LARGEST:
        raise InputError(
            where, f"{key} holds the number {value}", "give numbers up to 1e9"
        )


def _kept(read: Struct) -> dict[str, Any]:
    return {k: v for k, v in structs.asdict(read).items() if v is not None}


def _room(whole: _Whole, where: str) -> tuple[Instance, list[tuple[float, float]]]:
    """Return the strip or the sheets, and the sides of each that can be used."""
    if whole.kind == "strip":
        if whole.width is None:
            raise InputError(where, "width is missing", "give the strip's width")
        return {"width": whole.width}, [(math.inf, whole.width)]
    if whole.kind != "bins":
        raise InputError(
            where, f"kind is {shown(whole.kind)}", 'give "strip" or "bins"'
        )
    if (whole.sheet is None) == (not whole.sheets):
        raise InputError(
            where,
            "sheet is missing" if whole.sheet is None else "sheet and sheets are given",
            'give one of "sheet" and "sheets"',
        )
    if whole.sheet is not None:
        sheet = _read(whole.sheet, _Sheet, f"{where}, sheet")
        return {"sheet": _kept(sheet)}, _usable([sheet], where)
    sheets = [
        _read(table, _Sheet, f"{where}, sheet {number}")
        for number, table in enumerate(whole.sheets or [], 1)
    ]
    if len({sheet.cost is None for sheet in sheets}) > 1:
        raise InputError(
            where, "some sheets have a cost and some have none", "give all or none one"
        )
    return {"sheets": [_kept(sheet) for sheet in sheets]}, _usable(sheets, where)


def _usable(sheets: list[_Sheet], where: str) -> list[tuple[float, float]]:
    sides = [(sheet.w, sheet.h) for sheet in sheets if sheet.available != 0]
    if not sides:
        raise InputError(where, "no sheet is available", "give one at least")
    return sides


def _turns(turns: list[float] | str | None, where: str) -> Instance:
    """Return turns as a key of the instance or a piece; none if they are free."""
    if turns == []:
        raise InputError(
            where, "rotations_deg is empty", "give one angle at least, such as [0]"
        )
    if isinstance(turns, str) and turns != "free":
        raise InputError(
            where,
            f"rotations_deg is {shown(turns)}",
            'give a list of degrees such as [0, 180], or "free"',
        )
    return {} if turns is None else {"rotations_deg": turns}


def _piece(
    table: object,
    where: str,
    usual: list[float] | str | None,
    sides: list[tuple[float, float]],
) -> Instance:
    """Return a piece that fits somewhere, as far as its box and its width tell."""
    piece = _read(table, _Piece, where)
    assert isinstance(table, dict), "or it could not be read"
    out = {key: value for key, value in table.items() if value is not None}
    for key in ("outer", "holes", "w", "h", "rotations_deg"):
        out.pop(key, None)
    out |= {"id": piece.id, "demand": piece.demand}
    turns = piece.rotations_deg if "rotations_deg" in table else usual
    if "rotations_deg" in table:  # null stands for free, whatever the others may do
        out |= _turns("free" if turns is None else turns, where)
    if piece.outer is None:
        if piece.w is None or piece.h is None:
            raise InputError(where, "it has no outline", 'give "outer", or "w" and "h"')
        out |= {"w": piece.w, "h": piece.h}
        polygon = shapely.box(0.0, 0.0, piece.w, piece.h)
    else:
        rings = [
            _ring(ring, where, name)
            for ring, name in [
                (piece.outer, "outer"),
                *((hole, "a hole") for hole in piece.holes or []),
            ]
        ]
        out |= {"outer": rings[0], "holes": rings[1:]}
        polygon = shapely.Polygon(rings[0], rings[1:])
    _refuse_bad_outline(polygon, where)
    _refuse_misfit(polygon, turns, sides, where)
    return out


def _ring(
    points: list[tuple[float, float]], where: str, name: str
) -> list[list[float]]:
    """Return a ring without points that repeat the one before, last before first."""
    ring: list[list[float]] = []
    for x, y in points:
        if not ring or ring[-1] != [x, y]:
            ring.append([x, y])
    while len(ring) > 1 and ring[-1] == ring[0]:
        ring.pop()
    if len(ring) < 3:
        raise InputError(
            where, f"{name} has fewer than three corners", "give three at least"
        )
    return ring


def _refuse_bad_outline(polygon: shapely.Polygon, where: str) -> None:
    if not polygon.is_valid:
        why = shapely.is_valid_reason(polygon)
        raise InputError(
            where,
            f"its outline is not that of a part ({why})",
            "give rings that neither cross nor touch themselves or each other",
        )


def _refuse_misfit(
    polygon: shapely.Polygon,
    turns: list[float] | str | None,
    sides: list[tuple[float, float]],
    where: str,
) -> None:
    """Raise if a piece is too thin to tell from none, or fits on no sheet."""
    hull = np.array(polygon.convex_hull.exterior.coords[:-1])
    scale = max(max(side for side in pair if side < math.inf) for pair in sides)
    slack = THINNEST * scale
    thin = _least_width(hull)
    if thin < slack:
        raise InputError(
            where, "it is too thin beside its sheet", "take it out, or mend its size"
        )
    boxes = [(thin, thin)]
    if isinstance(turns, list):
        boxes = [_box(hull, angle) for angle in turns]
    if not any(
        w <= width + slack and h <= height + slack
        for w, h in boxes
        for width, height in sides
    ):
        raise InputError(
            where,
            "it fits nowhere in the turns it may have",
            "mend its size or allow other turns",
        )


def _least_width(hull: np.ndarray) -> float:
    """Return the least distance of two parallels with a convex polygon between."""
    ahead = np.roll(hull, -1, axis=0) - hull
    length = np.hypot(ahead[:, 0], ahead[:, 1])
    normal = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / length[:, np.newaxis]
    return float(np.ptp(hull @ normal.T, axis=0).min())


def _box(hull: np.ndarray, degrees: float) -> tuple[float, float]:
    turn = math.radians(degrees)
    c, s = math.cos(turn), math.sin(turn)
    x, y = hull[:, 0] * c - hull[:, 1] * s, hull[:, 0] * s + hull[:, 1] * c
    return float(np.ptp(x)), float(np.ptp(y))
