"""Orders written by hand: TOML with drawings, panels, stock and cutting set-up."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from ..nesting.model.errors import InputError
from ..nesting.model.holding import Holding, ReliefKind, TabRule
from ..nesting.model.job import Cutting, Datum, Job, Objective
from ..nesting.model.motion import Motion
from ..nesting.model.outline import Loop, Outline
from ..nesting.model.part import Part
from ..nesting.model.rules import (
    THICKNESS_TOLERANCE,
    CleanFace,
    Grain,
    TurnRule,
    material_key,
    same_board,
)
from ..nesting.model.stock import KeepOut, Stock, rounded_rectangle
from .files import read_text
from .findings import Finding
from .known_size import KnownSize
from .names import clean_text, unique_id
from .operations import NOTHING
from .order_drawings import OrderDrawings, Reader, read_layers
from .order_schema import (
    BedEntry,
    CuttingEntry,
    HoldingEntry,
    KeepOutEntry,
    OrderTable,
    PartEntry,
    StockEntry,
)
from .panel_csv import Panel, read_panels
from .tables import Problems, read_table, shown
from .units import parse_length, unit_name

MAX_BYTES = 10_000_000

AS_NEEDED = "as needed"

_Word = TypeVar("_Word", bound=StrEnum)


@dataclass(frozen=True)
class Order:
    """What an order file holds.

    Parameters
    ----------
    job : Job
        The order as a job without a layout.
    findings : tuple of Finding
        What was found in its drawings.
    """

    job: Job
    findings: tuple[Finding, ...] = ()


def read_order(
    path: Path, reader: Reader | None = None, usual: Cutting | None = None
) -> Order:
    """Return the order in a TOML file; drawings are looked for beside it.

    Parameters
    ----------
    path : Path
        The file.
    reader : callable, optional
        Reads one drawing, with the arguments of `look_at`, which is the default.
    usual : Cutting, optional
        What counts where the order says nothing.

    Raises
    ------
    InputError
        If the file cannot be read (with the line where its TOML is wrong), or with
        every mistake in it, a line each.
    """
    document = _parse(read_text(path, MAX_BYTES), path)
    problems = Problems()
    table = read_table(document, OrderTable, path.name, problems, partial=True)
    reading = _Reading(
        path, table or OrderTable(), problems, reader, usual or Cutting()
    )
    job = reading.job()
    problems.raise_any()
    reading.drawings.close(path.name)
    return Order(job, tuple(reading.drawings.findings))


def _parse(text: str, path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what, _, place = str(error).partition(" (at ")
        found = re.match(r"line (\d+), column (\d+)", place)
        # Without a line, the mistake shows at the end of the file.
        line = f"{found[1]}:{found[2]}" if found else f"{len(text.splitlines())}"
        raise InputError(
            f"{path.name}:{line}",
            f"not valid TOML: {what[:1].lower()}{what[1:]}",
            "mend this line",
        ) from error
    except RecursionError as error:
        raise InputError(
            path.name, "not valid TOML: brackets nested too deep", "mend the file"
        ) from error


class _Reading:
    """Turns one order's tables into a job, noting every mistake."""

    def __init__(
        self,
        path: Path,
        table: OrderTable,
        problems: Problems,
        reader: Reader | None,
        usual: Cutting,
    ) -> None:
        self.usual = usual
        self.file = path.name
        self.folder = path.parent
        self.stem = path.stem
        self.table = table
        self.problems = problems
        self.layers = read_layers(table.layers, f"{self.file}: [layers]", problems)
        self.drawings = OrderDrawings(path.parent, self.layers, problems, reader)
        self.units = problems.attempt(
            f"{self.file}: units", lambda: _shown_unit(table.units), "mm"
        )

    def job(self) -> Job:
        """Return the job; when mistakes were noted it is not whole."""
        stock = self._all_stock()
        parts = [
            *self._all_parts(stock),
            *self._panels(stock),
        ]
        nothing = not self.table.part and self.table.panels is None
        if nothing and not self.problems.errors:
            self.problems.add(
                self.file, "it orders no part", 'add a [[part]] table or panels = "…"'
            )
        return Job(
            name=clean_text(self.table.name or self.stem),
            parts=_with_ids(parts),
            stock=tuple(stock),
            cutting=self._cutting(),
            bed=self._bed(),
            units=self.units,
            objective=self._word(
                Objective, self.table.objective, f"{self.file}: objective"
            )
            if self.table.objective
            else Objective.FEWEST_SHEETS,
            relief=self._relief(self._cutting_entry.relief, "[cutting]")
            or ReliefKind.NONE,
            holding=self._holding(),
            layers=tuple(
                (name, meaning.value if meaning else NOTHING)
                for name, meaning in self.layers.items()
            ),
        )

    # --- small things ---

    def _length(self, value: float | str, key: str, where: str, units: str) -> float:
        """Return a length above or equal to 0, or 0 after noting what is wrong."""

        def read() -> float:
            length = parse_length(_written(value), units)
            if length < 0.0:
                raise InputError(
                    "", f"{key} is {shown(value)}", "give a length of 0 or more"
                )
            return length

        return self.problems.attempt(where, read, 0.0)

    def _size(
        self, pair: tuple[float | str, float | str], key: str, where: str, units: str
    ) -> tuple[float, float]:
        """Return two lengths above 0, or (1, 1) after noting what is wrong."""
        before = len(self.problems.errors)
        size = tuple(self._length(value, key, where, units) for value in pair)
        if len(self.problems.errors) > before:
            return 1.0, 1.0
        if not min(size) > 0.0:
            self.problems.add(
                where, f"{key} is {shown(list(pair))}", "give two lengths above 0"
            )
            return 1.0, 1.0
        return size[0], size[1]

    def _coordinates(
        self, values: Sequence[float | str], where: str, units: str
    ) -> tuple[float, ...]:
        return self.problems.attempt(
            where,
            lambda: tuple(parse_length(_written(value), units) for value in values),
            tuple(1.0 for _ in values),
        )

    def _word(self, kind: type[_Word], text: str, where: str) -> _Word:
        words = list(kind)
        for word in words:
            if text.strip().casefold() == word.value.casefold():
                return word
        known = ", ".join(repr(word.value) for word in words)
        self.problems.add(where, f"unknown word {shown(text)}", f"give {known}")
        return words[0]

    # --- the set-up ---

    def _cutting(self) -> Cutting:
        where = f"{self.file}: [cutting]"
        entry = self._cutting_entry
        values: dict[str, Any] = {"use_holes": entry.use_holes}
        kept = ("keep_side", "keep_square", "keep_neck")
        for key in ("cutter", "allowance", "margin", *kept):
            written = getattr(entry, key)
            if written is not None:
                values[key] = self._length(written, key, where, self.units)
        if entry.datum is not None:
            values["datum"] = self._word(Datum, entry.datum, f"{where}: datum")
        if entry.clean is not None:
            values["clean"] = self._word(CleanFace, entry.clean, f"{where}: clean")
        if entry.datum_offset is not None:
            x, y = self._coordinates(entry.datum_offset, where, self.units) or (0, 0)
            values["offset"] = (float(x), float(y))
        return replace(self.usual, **values)

    @cached_property
    def _cutting_entry(self) -> CuttingEntry:
        where = f"{self.file}: [cutting]"
        entry = read_table(self.table.cutting or {}, CuttingEntry, where, self.problems)
        return entry or CuttingEntry()

    def _relief(self, text: str, where: str) -> ReliefKind | None:
        """Return the relief that a word stands for; None for no word."""
        if not text:
            return None
        return self._word(ReliefKind, text, f"{self.file}: {where}: relief")

    def _holding(self) -> Holding:
        where = f"{self.file}: [holding]"
        entry = read_table(self.table.holding or {}, HoldingEntry, where, self.problems)
        if entry is None:
            return Holding()
        tabs = TabRule.NONE
        if entry.tabs:
            tabs = self._word(TabRule, entry.tabs, f"{where}: tabs")
        away = entry.screw_distance
        return Holding(
            tabs,
            entry.screws,
            None
            if away is None
            else self._length(away, "screw_distance", where, self.units),
            entry.drop_outs,
        )

    def _bed(self) -> tuple[float, float] | None:
        where = f"{self.file}: [bed]"
        if self.table.bed is None:
            return None
        entry = read_table(self.table.bed, BedEntry, where, self.problems)
        if entry is None:
            return None
        return self._size(entry.size, "size", where, self.units)

    # --- stock ---

    def _all_stock(self) -> list[Stock]:
        stock: list[Stock] = []
        for number, raw in enumerate(self.table.stock, 1):
            where = f"{self.file}: stock {number}{_hint(raw, 'name', 'material')}"
            entry = read_table(raw, StockEntry, where, self.problems)
            made = entry and self._stock(entry, where)
            if made:
                key = unique_id(made.name, {kind.id for kind in stock}, "stock")
                stock.append(replace(made, id=key))
        return stock

    def _stock(self, entry: StockEntry, where: str) -> Stock | None:
        before = len(self.problems.errors)
        outline, move = self._stock_outline(entry, where)
        thickness = self._length(entry.thickness, "thickness", where, self.units)
        count = self._count(entry, where)
        grain = self._word(Grain, entry.grain, f"{where}: grain")
        keep_outs = [
            self._keep_out(raw, f"{where}, keep-out {n}", outline, move)
            for n, raw in enumerate(entry.keep_out, 1)
        ]
        if len(self.problems.errors) > before or outline is None:
            return None
        length, width = outline.size
        board = (
            f"{entry.material} {thickness:g}".strip() if thickness else entry.material
        )
        size = f"{length:g} x {width:g}"
        name = clean_text(
            entry.name or f"{board} {'offcut ' if entry.offcut else ''}{size}"
        )
        return self.problems.attempt(
            where,
            lambda: Stock(
                id="",
                name=name,
                outline=outline,
                material=clean_text(entry.material),
                thickness=thickness,
                grain=grain,
                price=float(entry.price),
                count=count,
                keep_outs=tuple(area for area in keep_outs if area),
                offcut=entry.offcut,
            ),
            None,
        )

    def _count(self, entry: StockEntry, where: str) -> int | None:
        """Return how many there are; an offcut is there once unless it says more."""
        if entry.count is None:
            return 1 if entry.offcut else None
        if isinstance(entry.count, int) and 0 <= entry.count <= 1_000_000:
            return entry.count
        if isinstance(entry.count, str) and entry.count.strip().lower() == AS_NEEDED:
            return None
        self.problems.add(
            where, f"count is {shown(entry.count)}", f'give a number or "{AS_NEEDED}"'
        )
        return None

    def _stock_outline(
        self, entry: StockEntry, where: str
    ) -> tuple[Outline | None, Motion]:
        """Return the edge with its least corner at (0, 0), and the move to there."""
        outline: Outline | None = None
        if (entry.size is None) == (entry.outline is None):
            what = "neither size nor" if entry.size is None else "both size and"
            self.problems.add(where, f"it has {what} an outline", "give one of them")
        elif entry.size is not None:
            length, width = self._size(entry.size, "size", where, self.units)
            return Outline(Loop.rectangle(length, width)), Motion()
        elif isinstance(entry.outline, str):
            drawing = self.drawings.get(entry.outline, where)
            if drawing is not None and len(drawing.parts) == 1:
                outline = drawing.parts[0].outline
            elif drawing is not None:
                self.problems.add(
                    where,
                    f"{entry.outline} holds {len(drawing.parts)} outlines",
                    "keep only the edge of the board in it",
                )
        elif entry.outline is not None:
            corners = [self._coordinates(c, where, self.units) for c in entry.outline]
            if len(corners) < 3:
                self.problems.add(
                    where, f"its outline has {len(corners)} corners", "give at least 3"
                )
            else:
                outline = Outline(Loop.polygon((x, y) for x, y in corners))
        if outline is None:
            return None, Motion()
        move = Motion(-outline.bounds[0], -outline.bounds[1])
        return outline.moved(move), move

    def _keep_out(
        self, raw: object, where: str, outline: Outline | None, move: Motion
    ) -> KeepOut | None:
        entry = read_table(raw, KeepOutEntry, where, self.problems)
        if entry is None:
            return None
        if (entry.circle is None) == (entry.rectangle is None):
            self.problems.add(
                where,
                f"it has {'both' if entry.circle else 'neither'} circle and rectangle",
                "give circle = [x, y, diameter] or rectangle = [x, y, width, height]",
            )
            return None
        room = self._length(entry.clearance, "clearance", where, self.units)
        sizes = entry.circle or entry.rectangle or ()
        numbers = self._coordinates(sizes, where, self.units)
        if not min(numbers[2:]) > 0.0:
            self.problems.add(
                where, f"its size is {shown(list(sizes[2:]))}", "give lengths above 0"
            )
            return None
        x, y, *size = numbers
        if entry.circle is not None:
            loop = Loop.circle(x, y, size[0] / 2.0 + room)
        else:
            loop = rounded_rectangle(size[0], size[1], x, y, room)
        loop = loop.moved(move)
        if outline is not None and _apart(loop, outline):
            self.problems.add(
                where,
                f"it lies beside the board, at {shown(list(sizes))}",
                "count x and y from the board's lower left corner",
            )
        return KeepOut(loop, clean_text(entry.label), room)

    # --- parts ---

    def _all_parts(self, stock: Sequence[Stock]) -> list[Part]:
        parts: list[Part] = []
        for number, raw in enumerate(self.table.part, 1):
            where = f"{self.file}: part {number}{_hint(raw, 'drawing', 'name')}"
            entry = read_table(raw, PartEntry, where, self.problems)
            if entry is not None:
                parts += self._part(entry, where, stock)
            elif isinstance(raw, Mapping) and isinstance(raw.get("drawing"), str):
                self.drawings.get(raw["drawing"], where)  # to say what is wrong there
        return parts

    def _part(self, entry: PartEntry, where: str, stock: Sequence[Stock]) -> list[Part]:
        before = len(self.problems.errors)
        units = self.units
        if entry.units:
            units = self.problems.attempt(where, lambda: unit_name(entry.units), units)
        turn = self.problems.attempt(where, lambda: _turn(entry.turn), TurnRule())
        thickness = (
            None
            if entry.thickness is None
            else self._length(entry.thickness, "thickness", where, units)
        )
        material, thickness = self._board(entry.material, thickness, where, stock)
        shapes = self._shapes(entry, where, units)
        relief = self._relief(entry.relief, f"{where.partition(': ')[2]}")
        if len(self.problems.errors) > before:
            return []
        return [
            replace(
                shape,
                quantity=shape.quantity * entry.quantity,
                material=material,
                thickness=thickness,
                turn=turn,
                flip=entry.flip,
                priority=entry.priority,
                relief=relief,
                tabs=entry.tabs,
            )
            for shape in shapes
        ]

    def _shapes(self, entry: PartEntry, where: str, units: str) -> list[Part]:
        """Return the outlines an entry names, as parts of quantity 1 or more."""
        if (entry.drawing is None) == (entry.panel is None):
            what = "neither a drawing nor" if entry.drawing is None else "a drawing and"
            self.problems.add(where, f"it has {what} a panel", "give one of them")
            return []
        if entry.panel is not None:
            if (entry.known_width, entry.known_height, entry.layers) != (None,) * 3:
                self.problems.add(
                    where,
                    "known sizes and layers are for drawings",
                    "leave them out of a panel",
                )
            length, width = self._size(entry.panel, "panel", where, units)
            name = entry.name or f"panel {length:g} x {width:g}"
            return [Part("", clean_text(name), Outline(Loop.rectangle(length, width)))]
        layers = read_layers(entry.layers, f"{where}: layers", self.problems)
        known = self._known(entry, where)
        drawing = self.drawings.get(
            entry.drawing or "", where, entry.units, known, layers
        )
        if drawing is None:
            return []
        parts = list(drawing.parts)
        if not parts:
            self.problems.add(
                where,
                "no closed outline in the drawing, so there is no part to cut",
                "look what it holds with: drystone look",
            )
        if entry.pick is not None and parts:
            picks = entry.pick if isinstance(entry.pick, list) else [entry.pick]
            parts = [part for pick in picks for part in self._pick(parts, pick, where)]
        if entry.name:
            alone = len(parts) == 1
            parts = [
                replace(
                    part,
                    name=clean_text(
                        entry.name if alone else f"{entry.name} {part.name}"
                    ),
                )
                for part in parts
            ]
        return parts

    def _known(self, entry: PartEntry, where: str) -> KnownSize | None:
        """Return the size that an entry knows of its drawing."""
        before = len(self.problems.errors)
        sizes = [
            None if said is None else self._length(said, key, where, self.units)
            for key, said in (
                ("known_width", entry.known_width),
                ("known_height", entry.known_height),
            )
        ]
        if sizes == [None, None] or len(self.problems.errors) > before:
            return None
        pick = "" if entry.pick is None or isinstance(entry.pick, list) else entry.pick
        return KnownSize(sizes[0], sizes[1], pick)

    def _pick(self, parts: Sequence[Part], pick: str | int, where: str) -> list[Part]:
        """Return the outline with a number (from 1), or those with a name."""
        if isinstance(pick, int):
            if 1 <= pick <= len(parts):
                return [parts[pick - 1]]
        else:
            wanted = pick.strip().casefold()
            found = [part for part in parts if part.name.casefold() == wanted]
            if found:
                return found
        names = ", ".join(f"{n} {part.name!r}" for n, part in enumerate(parts[:12], 1))
        self.problems.add(
            where, f"no outline {shown(pick)} in the drawing", f"it holds {names}"
        )
        return []

    def _panels(self, stock: Sequence[Stock]) -> list[Part]:
        if self.table.panels is None:
            return []
        name = self.table.panels
        where = f"{self.file}: panels"
        before = len(self.problems.errors)
        nothing: tuple[Panel, ...] = ()
        panels = self.problems.attempt(
            where, lambda: read_panels(self.folder / name, self.units), nothing
        )
        if not panels and len(self.problems.errors) == before:
            self.problems.add(str(self.folder / name), "it lists no panel", "add rows")
        return [self._panel(panel, stock) for panel in panels]

    def _panel(self, panel: Panel, stock: Sequence[Stock]) -> Part:
        material, thickness = self._board(
            panel.material, panel.thickness, panel.place, stock
        )
        name = panel.name or f"panel {panel.length:g} x {panel.width:g}"
        return Part(
            id="",
            name=clean_text(name),
            outline=Outline(Loop.rectangle(panel.length, panel.width)),
            quantity=panel.quantity,
            material=material,
            thickness=thickness,
            turn=panel.turn,
            flip=panel.flip,
            priority=panel.priority,
            source=panel.place.rpartition(":")[0],
        )

    def _board(
        self,
        material: str | None,
        thickness: float | None,
        where: str,
        stock: Sequence[Stock],
    ) -> tuple[str, float]:
        """Return a part's board; what it leaves open is taken from the only one.

        The stock must then hold just one board that fits what the part does say.
        """
        if material is not None and thickness is not None:
            return clean_text(material), thickness
        boards: list[Stock] = []
        for kind in stock:
            if material is not None and material_key(material) != material_key(
                kind.material
            ):
                continue
            if (
                thickness is not None
                and abs(thickness - kind.thickness) > THICKNESS_TOLERANCE
            ):
                continue
            if not any(
                same_board(b.material, b.thickness, kind.material, kind.thickness)
                for b in boards
            ):
                boards.append(kind)
        if len(boards) == 1:
            return boards[0].material, boards[0].thickness
        if boards:
            lacking = "material" if material is None else "thickness"
            offered = ", ".join(f"{b.material} {b.thickness:g} mm" for b in boards)
            self.problems.add(
                where, f"{lacking} is missing", f"the stock offers {offered}"
            )
        return clean_text(material or ""), thickness or 0.0


def _shown_unit(text: str) -> str:
    """Return how an order's lengths are shown: mm or in."""
    name = unit_name(text)
    if name not in ("mm", "in"):
        raise InputError("", f"unknown unit {text!r}", "use mm or in")
    return name


def _written(value: float | str) -> str:
    return value if isinstance(value, str) else repr(value)


def _turn(value: float | str | list[Any]) -> TurnRule:
    if isinstance(value, list):
        return TurnRule.listed(float(angle) for angle in value)
    return TurnRule.parse(f"{value:g}" if isinstance(value, float) else str(value))


def _hint(raw: object, *keys: str) -> str:
    """Return what a person knows a table by, in brackets, where it says so."""
    if isinstance(raw, Mapping):
        for key in keys:
            if isinstance(raw.get(key), str) and raw[key]:
                return f' ("{clean_text(raw[key], 60)}")'
    return ""


def _apart(loop: Loop, outline: Outline) -> bool:
    """Return whether two bounding boxes have nothing in common."""
    a, b = loop.bounds, outline.bounds
    return a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]


def _with_ids(parts: Sequence[Part]) -> tuple[Part, ...]:
    """Return the parts with ids made of their names: the same order, the same ids."""
    taken: set[str] = set()
    named: list[Part] = []
    for part in parts:
        key = unique_id(part.name, taken, "part")
        taken.add(key)
        named.append(replace(part, id=key))
    return tuple(named)
