"""Job files: a whole job, its exact curves and its layout, as JSON."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from enum import StrEnum
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from ..nesting.model.breakdown import Breakdown, Piece, SawCut, SawStage
from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.errors import DrystoneError, InputError, OutputError
from ..nesting.model.holding import Holding, ReliefKind, TabRule
from ..nesting.model.job import Cutting, Datum, Job, Objective
from ..nesting.model.outline import Loop, Outline
from ..nesting.model.part import Mark, Operation, Part
from ..nesting.model.placement import Blank, Layout, Placement, Reason, Unplaced
from ..nesting.model.rules import CleanFace, Grain, TurnKind, TurnRule
from ..nesting.model.stock import KeepOut, Stock
from .atomic import write_atomically
from .files import read_bytes
from .job_migrations import migrate
from .job_schema import (
    FORMAT,
    VERSION,
    ArcRow,
    BreakdownTable,
    Chain,
    CubicRow,
    CutTable,
    CuttingTable,
    HoldingTable,
    JobTable,
    KeepOutTable,
    LayoutTable,
    LineRow,
    MarkTable,
    OutlineTable,
    PartTable,
    PieceTable,
    PlacementTable,
    SegmentRow,
    StockTable,
    TurnTable,
    UnplacedTable,
)

SUFFIX = ".drystone"
"""What a job file's name ends with."""

MAX_BYTES = 256 * 1024 * 1024
"""A larger file is refused: no job of this kind comes near it."""

_Word = TypeVar("_Word", bound=StrEnum)


def read_job(path: Path) -> Job:
    """Return the job in a file.

    Raises
    ------
    InputError
        If it cannot be read, is no job file, is newer than this program, or holds
        something impossible.
    """
    return decode_job(read_bytes(path, MAX_BYTES), str(path))


def write_job(path: Path, job: Job) -> None:
    """Write a job file, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written, or a number in the job is not finite.
    """
    write_atomically(path, encode_job(job))


def encode_job(job: Job, between: Callable[[], object] = bool) -> bytes:
    """Return a job as the bytes of a job file.

    Parameters
    ----------
    job : Job
        The job.
    between : callable
        Called before each part, such as to let other threads go first.

    Raises
    ------
    OutputError
        If a number in the job is not finite.
    """
    # Part by part: a call of the library lets no other thread run.
    parts = []
    for part in job.parts:
        between()
        parts.append(msgspec.Raw(_encoded(_part_table(part), job.name)))
    return _encoded(_job_table(job, parts), job.name) + b"\n"


def decode_job(data: bytes, where: str = "") -> Job:
    """Return the job that `encode_job` made these bytes of.

    Parameters
    ----------
    data : bytes
        A job file's content.
    where : str
        The file's name, for errors.

    Raises
    ------
    InputError
        If the bytes are no job, are newer than this program, or hold something
        impossible.
    """
    try:
        table, parts = _tables(data)
        return _job(table, parts)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise InputError(
            where, f"is damaged: {_plain(error)}", "use a copy or an autosave"
        ) from error
    except DrystoneError as error:
        place = f"{where}: {error.where}" if error.where else where
        raise InputError(place, error.what, error.cure) from error


def _tables(data: bytes) -> tuple[JobTable[Any], Iterable[PartTable]]:
    """Return a file's content, and its parts apart from the rest."""
    wrong: Exception | None = None
    try:
        table = msgspec.json.decode(data, type=JobTable[msgspec.Raw])
        if (table.format, table.version) == (FORMAT, VERSION):
            return table, _unpacked(table.parts)
    except (ValueError, RecursionError) as error:  # damaged, older, or no job at all
        wrong = error
    try:
        head = msgspec.json.decode(data, type=_Head)
    except (ValueError, RecursionError) as error:
        raise _not_a_job(error) from error
    if head.format != FORMAT:
        raise InputError("", "is not a Drystone job file", "choose another file")
    if wrong is not None and head.version == VERSION:
        raise wrong
    document: dict[str, Any] = msgspec.json.decode(data)
    old = msgspec.convert(migrate(document, ""), JobTable[PartTable])
    return old, old.parts


class _Head(msgspec.Struct):
    """The two keys that say what a file is, whatever else it holds."""

    format: str
    version: int


def _unpacked(parts: Iterable[msgspec.Raw]) -> Iterator[PartTable]:
    """Decode the parts of a file one by one.

    One call for all would keep every other thread waiting, the window's too.
    """
    for number, part in enumerate(parts):
        try:
            yield msgspec.json.decode(part, type=PartTable)
        except msgspec.ValidationError as error:
            words = str(error)
            if "`$" not in words:
                words += " - at `$`"
            place = f"`$.parts[{number}]"
            raise msgspec.ValidationError(words.replace("`$", place)) from error


def _not_a_job(error: Exception) -> InputError:
    if isinstance(error, msgspec.ValidationError):  # JSON, but of another kind
        return InputError("", "is not a Drystone job file", "choose another file")
    return InputError(
        "",
        f"is not a Drystone job file, or is damaged: {_plain(error)}",
        "choose another file or use a copy",
    )


def _plain(error: Exception) -> str:
    text = str(error).replace("`", "").replace(" - at $", " at ")
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _refuse_odd_numbers(table: msgspec.Struct, name: str) -> None:
    """Raise if a number is NaN or infinite; JSON has no word for those."""
    stack: list[object] = [table]
    while stack:
        value = stack.pop()
        if isinstance(value, float):
            if not math.isfinite(value):
                raise OutputError(name, f"the job holds the number {value}")
        elif isinstance(value, msgspec.Struct):
            stack.extend(getattr(value, field) for field in value.__struct_fields__)
        elif isinstance(value, list | tuple):
            stack.extend(value)


def _mend_texts(table: msgspec.Struct) -> None:
    """Replace letters that stand for undecodable bytes, as in some file names."""

    def mended(value: object) -> object:
        if isinstance(value, str):
            return value.encode("utf-8", "replace").decode()
        if isinstance(value, list):
            return [mended(item) for item in value]
        if isinstance(value, msgspec.Struct):
            _mend_texts(value)
        return value

    for name in table.__struct_fields__:
        setattr(table, name, mended(getattr(table, name)))


# --- from the model to the file ---


def _row(segment: Segment) -> SegmentRow:
    if isinstance(segment, Line):
        return LineRow(*segment.start, *segment.end)
    if isinstance(segment, Arc):
        return ArcRow(
            *segment.centre, segment.radius, segment.start_angle, segment.sweep
        )
    return CubicRow(*segment.p0, *segment.p1, *segment.p2, *segment.p3)


def _chain(segments: Iterable[Segment]) -> Chain:
    return [_row(segment) for segment in segments]


def _outline_table(outline: Outline) -> OutlineTable:
    return OutlineTable(
        _chain(outline.outer.segments),
        [_chain(hole.segments) for hole in outline.holes],
    )


def _part_table(part: Part) -> PartTable:
    rule = part.turn
    return PartTable(
        id=part.id,
        name=part.name,
        outline=_outline_table(part.outline),
        turn=TurnTable(rule.kind.value, list(rule.angles), rule.part_grain),
        marks=[
            MarkTable(mark.operation.value, _chain(mark.segments), mark.name)
            for mark in part.marks
        ],
        quantity=part.quantity,
        material=part.material,
        thickness=part.thickness,
        flip=part.flip,
        priority=part.priority,
        source=part.source,
        relief=None if part.relief is None else part.relief.value,
        tabs=part.tabs,
    )


def _stock_table(stock: Stock) -> StockTable:
    return StockTable(
        id=stock.id,
        name=stock.name,
        outline=_outline_table(stock.outline),
        material=stock.material,
        thickness=stock.thickness,
        grain=stock.grain.value,
        price=stock.price,
        count=stock.count,
        keep_outs=_keep_out_tables(stock.keep_outs),
        offcut=stock.offcut,
        sheet=None if stock.sheet is None else _stock_table(stock.sheet),
        per_sheet=stock.per_sheet,
        kerf=stock.kerf,
        breakdown=_breakdown_table(stock.breakdown),
    )


def _keep_out_tables(areas: Iterable[KeepOut]) -> list[KeepOutTable]:
    return [
        KeepOutTable(_chain(area.loop.segments), area.label, area.clearance)
        for area in areas
    ]


def _breakdown_table(plan: Breakdown | None) -> BreakdownTable | None:
    if plan is None:
        return None
    return BreakdownTable(
        plan.sheet,
        plan.kerf,
        [CutTable(c.stage.value, c.start, c.end, c.setting) for c in plan.cuts],
        [
            PieceTable(p.x, p.y, p.width, p.height, _keep_out_tables(p.keep_outs))
            for p in plan.pieces
        ],
        list(plan.holes),
        plan.pin,
    )


def _layout_table(layout: Layout) -> LayoutTable:
    return LayoutTable(
        blanks=[blank.stock_id for blank in layout.blanks],
        placements=[
            PlacementTable(
                p.part_id, p.copy, p.blank, p.x, p.y, p.turn, p.flipped, p.locked
            )
            for p in layout.placements
        ],
        unplaced=[
            UnplacedTable(u.part_id, u.count, u.reason.value) for u in layout.unplaced
        ],
    )


def _encoded(table: msgspec.Struct, name: str) -> bytes:
    """Return the JSON of a table of the job with this name."""
    _refuse_odd_numbers(table, name)
    try:
        return msgspec.json.encode(table)
    except UnicodeEncodeError:
        _mend_texts(table)
        return msgspec.json.encode(table)


def _job_table(job: Job, parts: list[msgspec.Raw]) -> JobTable[msgspec.Raw]:
    cutting = job.cutting
    return JobTable(
        format=FORMAT,
        version=VERSION,
        program=_program_version(),
        id=job.id,
        name=job.name,
        units=job.units,
        objective=job.objective.value,
        bed=job.bed,
        cutting=CuttingTable(
            cutting.cutter,
            cutting.allowance,
            cutting.margin,
            cutting.datum.value,
            cutting.use_holes,
            cutting.clean.value,
            cutting.offset,
            cutting.keep_side,
            cutting.keep_square,
            cutting.keep_neck,
        ),
        parts=parts,
        stock=[_stock_table(stock) for stock in job.stock],
        layout=_layout_table(job.layout),
        relief=job.relief.value,
        holding=HoldingTable(
            job.holding.tabs.value,
            job.holding.screws,
            job.holding.screw_distance,
            job.holding.drop_outs,
        ),
        layers=dict(job.layers),
    )


def _program_version() -> str:
    try:
        return version("drystone")
    except PackageNotFoundError:  # run from a bare copy of the sources
        return "unknown"


# --- from the file to the model ---


def _segment(row: SegmentRow, where: str) -> Segment:
    if isinstance(row, LineRow):
        return Line((row.x0, row.y0), (row.x1, row.y1))
    if isinstance(row, ArcRow):
        if not row.radius > 0.0 or not 0.0 < abs(row.sweep) <= 360.0:
            raise InputError(
                where,
                f"an arc has radius {row.radius:g} mm and sweep {row.sweep:g} degrees",
                "the file is damaged; use a copy",
            )
        return Arc((row.x, row.y), row.radius, row.start_angle, row.sweep)
    return Cubic((row.x0, row.y0), (row.x1, row.y1), (row.x2, row.y2), (row.x3, row.y3))


def _segments(chain: Chain, where: str) -> tuple[Segment, ...]:
    if not chain:
        raise InputError(where, "a curve is empty", "the file is damaged; use a copy")
    return tuple(_segment(row, where) for row in chain)


def _loop(chain: Chain, where: str) -> Loop:
    try:
        return Loop(_segments(chain, where))
    except InputError as error:
        raise InputError(where, error.what, error.cure) from error


def _outline(table: OutlineTable, where: str) -> Outline:
    return Outline(
        _loop(table.outer, where), tuple(_loop(hole, where) for hole in table.holes)
    )


def _word(kind: type[_Word], text: str, where: str) -> _Word:
    try:
        return kind(text)
    except ValueError:
        known = ", ".join(word.value for word in kind)
        raise InputError(where, f"unknown word {text!r}", f"known: {known}") from None


def _turn(table: TurnTable, where: str) -> TurnRule:
    kind = _word(TurnKind, table.kind, where)
    if table.part_grain not in ("x", "y"):
        raise InputError(where, f"the part's grain is {table.part_grain!r}", "x or y")
    if kind is TurnKind.LISTED and not table.angles:
        raise InputError(where, "its turn rule lists no angle", "list degrees")
    return TurnRule(kind, tuple(table.angles), table.part_grain)


def _part(table: PartTable) -> Part:
    where = f"part {table.name!r}"
    return Part(
        id=table.id,
        name=table.name,
        outline=_outline(table.outline, where),
        marks=tuple(
            Mark(
                _word(Operation, mark.operation, where),
                _segments(mark.curve, where),
                mark.name,
            )
            for mark in table.marks
        ),
        quantity=table.quantity,
        material=table.material,
        thickness=table.thickness,
        turn=_turn(table.turn, where),
        flip=table.flip,
        priority=table.priority,
        source=table.source,
        relief=None if table.relief is None else _word(ReliefKind, table.relief, where),
        tabs=table.tabs,
    )


def _stock(table: StockTable) -> Stock:
    where = f"stock {table.name!r}"
    return Stock(
        id=table.id,
        name=table.name,
        outline=_outline(table.outline, where),
        material=table.material,
        thickness=table.thickness,
        grain=_word(Grain, table.grain, where),
        price=table.price,
        count=table.count,
        keep_outs=_keep_outs(table.keep_outs, where),
        offcut=table.offcut,
        sheet=None if table.sheet is None else _stock(table.sheet),
        per_sheet=table.per_sheet,
        kerf=table.kerf,
        breakdown=_breakdown(table.breakdown, where),
    )


def _keep_outs(tables: Iterable[KeepOutTable], where: str) -> tuple[KeepOut, ...]:
    return tuple(
        KeepOut(_loop(area.curve, where), area.label, area.clearance) for area in tables
    )


def _breakdown(table: BreakdownTable | None, where: str) -> Breakdown | None:
    if table is None:
        return None
    return Breakdown(
        table.sheet,
        table.kerf,
        tuple(
            SawCut(_word(SawStage, cut.stage, where), cut.start, cut.end, cut.setting)
            for cut in table.cuts
        ),
        tuple(
            Piece(p.x, p.y, p.width, p.height, _keep_outs(p.keep_outs, where))
            for p in table.pieces
        ),
        tuple(table.holes),
        table.pin,
    )


def _layout(
    table: LayoutTable, parts: Sequence[Part], stock: Sequence[Stock]
) -> Layout:
    """Return the layout; every name and number in it must lead somewhere."""
    part_ids = {part.id for part in parts}
    stock_ids = {kind.id for kind in stock}
    for stock_id in table.blanks:
        if stock_id not in stock_ids:
            raise _dangling(f"a blank is of stock {stock_id!r}")
    for placement in table.placements:
        if placement.part not in part_ids:
            raise _dangling(f"a placement is of part {placement.part!r}")
        if not 0 <= placement.blank < len(table.blanks):
            raise _dangling(f"a placement is on blank {placement.blank}")
    for unplaced in table.unplaced:
        if unplaced.part not in part_ids:
            raise _dangling(f"the tray holds part {unplaced.part!r}")
    return Layout(
        blanks=tuple(Blank(stock_id) for stock_id in table.blanks),
        placements=tuple(
            Placement(p.part, p.copy, p.blank, p.x, p.y, p.turn, p.flipped, p.locked)
            for p in table.placements
        ),
        unplaced=tuple(
            Unplaced(u.part, u.count, _word(Reason, u.reason, "layout"))
            for u in table.unplaced
        ),
    )


def _dangling(what: str) -> InputError:
    return InputError(
        "layout", f"{what}, which the file does not hold", "use a copy or an autosave"
    )


def _job(table: JobTable[Any], part_tables: Iterable[PartTable]) -> Job:
    cutting = table.cutting
    parts = tuple(_part(part) for part in part_tables)
    stock = tuple(_stock(kind) for kind in table.stock)
    return Job(
        name=table.name,
        parts=parts,
        stock=stock,
        cutting=Cutting(
            cutting.cutter,
            cutting.allowance,
            cutting.margin,
            _word(Datum, cutting.datum, "cutting"),
            cutting.use_holes,
            _word(CleanFace, cutting.clean, "cutting"),
            cutting.offset,
            cutting.keep_side,
            cutting.keep_square,
            cutting.keep_neck,
        ),
        bed=table.bed,
        units=table.units,
        objective=_word(Objective, table.objective, "objective"),
        layout=_layout(table.layout, parts, stock),
        relief=_word(ReliefKind, table.relief, "relief"),
        holding=Holding(
            _word(TabRule, table.holding.tabs, "holding"),
            table.holding.screws,
            table.holding.screw_distance,
            table.holding.drop_outs,
        ),
        layers=tuple(table.layers.items()),
        id=table.id,
    )
