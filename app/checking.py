"""The independent check of a job's layout and of the files exported from it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from ..io.blank_drawing import datum_shift
from ..io.compare import chain_difference
from ..io.job_file import SUFFIX, read_job
from ..io.reread import BlankFile, Piece, read_exported_dxf, read_exported_svg
from ..nesting.model.curve import Segment
from ..nesting.model.errors import InputError
from ..nesting.model.job import Job
from ..nesting.model.motion import Motion
from ..nesting.model.outline import Loop, Outline
from ..nesting.model.part import Part
from ..nesting.model.pin_holes import pin_holes
from ..nesting.model.placement import Layout, Placement
from ..nesting.model.rules import angle_between
from ..nesting.shop.relief import as_cut
from ..nesting.shop.relief_check import relief_fault
from ..nesting.verify import TOLERANCE, Problem, polygon_of, verify

EXACT = 1e-6
"""Exported curves may differ from the job's by this much, mm."""

AREA_SHARE = 1e-6
"""Areas of exported parts may differ by this share."""

_READERS = {".dxf": read_exported_dxf, ".svg": read_exported_svg}


@dataclass(frozen=True, slots=True)
class Failure:
    """One thing that is wrong.

    Parameters
    ----------
    kind : str
        A short stable name, such as ``gap`` or ``size``.
    where : str
        The file, or ``layout``.
    text : str
        One sentence.
    """

    kind: str
    where: str
    text: str

    def __str__(self) -> str:
        """Return one line."""
        return f"{self.where}: {self.text}"


@dataclass
class CheckReport:
    """What was checked, what was measured, and what is wrong.

    Attributes
    ----------
    subject : str
        The job file or folder.
    job : str
        The job's name.
    copies, wanted, blanks : int
        Copies placed and wanted; blanks used.
    unplaced : int
        Copies the layout itself says it did not place.
    gap, wanted_gap : float
        Least distance between two parts, mm, infinite where there are not two.
    margin, wanted_margin : float
        Least distance of a part from its blank's edge, mm.
    files : list of str
        The exported files that were read back.
    ignored : list of str
        Drawings in the folder that are no exports.
    curves : int
        Exported curves that were compared with the job's, one by one.
    worst : float
        Greatest difference found between an exported curve and the job's, mm, among
        those that agree.
    relieved : int
        Parts whose inside corners are relieved, each compared with its drawing.
    screws : int
        Places for screws, each measured in every file that shows it.
    failures : list of Failure
        What is wrong.
    """

    subject: str
    job: str
    copies: int = 0
    wanted: int = 0
    blanks: int = 0
    unplaced: int = 0
    gap: float = math.inf
    wanted_gap: float = 0.0
    margin: float = math.inf
    wanted_margin: float = 0.0
    files: list[str] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    curves: int = 0
    worst: float = 0.0
    relieved: int = 0
    screws: int = 0
    failures: list[Failure] = field(default_factory=list)

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong."""
        return not self.failures

    def as_dict(self) -> dict[str, Any]:
        """Return the report as plain JSON values with stable keys, mm."""
        return {
            "subject": self.subject,
            "job": self.job,
            "ok": self.ok,
            "copies_placed": self.copies,
            "copies_wanted": self.wanted,
            "copies_unplaced": self.unplaced,
            "blanks": self.blanks,
            "gap_measured": _finite(self.gap),
            "gap_wanted": self.wanted_gap,
            "margin_measured": _finite(self.margin),
            "margin_wanted": self.wanted_margin,
            "tolerance": TOLERANCE,
            "files": self.files,
            "files_ignored": self.ignored,
            "curves_compared": self.curves,
            "greatest_difference": self.worst,
            "parts_relieved": self.relieved,
            "screws_measured": self.screws,
            "failures": [
                {"kind": f.kind, "where": f.where, "text": f.text}
                for f in self.failures
            ],
        }

    def lines(self) -> list[str]:
        """Return the report as lines for a person."""
        copies = "copy" if self.wanted == 1 else "copies"
        lines = [
            f"{self.job}: {self.copies} of {self.wanted} {copies} "
            f"on {self.blanks} blank{'' if self.blanks == 1 else 's'}"
        ]
        if self.unplaced:
            lines.append(f"  not placed, as the layout says: {self.unplaced}")
        lines += [
            _measure("gap", self.gap, self.wanted_gap, "no two parts side by side"),
            _measure("margin", self.margin, self.wanted_margin, "no parts"),
        ]
        if self.files:
            lines.append(
                f"  files      {len(self.files)} read back; {self.curves} curves agree "
                f"with the job to {EXACT:.6f} mm"
            )
        if self.relieved:
            parts = "part" if self.relieved == 1 else "parts"
            lines.append(f"  relief     {self.relieved} {parts} against their drawings")
        if self.screws:
            lines.append(f"  screws     {self.screws} measured from every slot")
        for name in self.ignored:
            lines.append(f"  left out   {name}: not an export of this program")
        if self.ok:
            lines.append("  all correct: counts, sizes, gap, margin, keep-outs, turns")
            return lines
        count = len(self.failures)
        lines.append(f"  {count} thing{'' if count == 1 else 's'} wrong:")
        return lines + [f"    {failure}" for failure in self.failures]


def _measure(name: str, value: float, wanted: float, none: str) -> str:
    if not math.isfinite(value):
        return f"  {name:<10} {none}"
    return f"  {name:<10} {value:.2f} mm at the tightest, {wanted:.2f} wanted"


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def check(path: Path) -> CheckReport:
    """Check a job file, or a folder of exported files with its job file.

    Raises
    ------
    InputError
        If there is nothing to check.
    """
    if path.is_dir():
        return check_folder(path)
    return check_job(read_job(path), str(path))


def check_job(job: Job, subject: str = "layout") -> CheckReport:
    """Check a job's own layout."""
    report = _begin(job, subject)
    report.failures += _problems(job, job.layout, "layout")
    _take_measures(report, job, job.layout)
    return report


def check_folder(folder: Path) -> CheckReport:
    """Check exported files against the job file beside them.

    Every blank must be there once in each format that is there at all; every curve
    must be the job's, moved as the job says; and the layout that the files show must
    pass the same check as the job's own.

    Where inside corners are relieved, the curves are compared with the part as it is
    cut, which is worked out again from the job; and that part is compared with its
    drawing by shapely, since both could be wrong alike: nothing may be added, and
    nothing taken off but a circle at an inside corner. Screws must keep the distance
    that the job asks for from every slot, keep-out and edge.

    Raises
    ------
    InputError
        If the folder holds no job file or several.
    """
    jobs = sorted(folder.glob(f"*{SUFFIX}"))
    if len(jobs) != 1:
        raise InputError(
            str(folder),
            f"holds {len(jobs) or 'no'} job file{'s' if len(jobs) > 1 else ''}",
            f"give a folder with the exported files and their one *{SUFFIX} file",
        )
    job = read_job(jobs[0])
    report = check_job(job, str(folder))
    blanks: list[BlankFile] = []
    for path in sorted(folder.iterdir()):
        reader = _READERS.get(path.suffix.lower())
        if reader is None or not path.is_file():
            continue
        try:
            found = reader(path)
        except InputError as error:
            report.failures.append(Failure("unreadable", path.name, error.what))
            continue
        if found:
            report.files.append(path.name)
            blanks += found
        else:
            report.ignored.append(path.name)
    if not blanks and job.layout.blanks:
        report.failures.append(
            Failure("missing", folder.name, "it holds no exported DXF or SVG file")
        )
    report.failures += _check_relief(job)
    report.relieved = sum(as_cut(job, part).part is not part for part in job.parts)
    for kind in sorted({_family(blank) for blank in blanks}):
        group = [blank for blank in blanks if _family(blank) == kind]
        # Each format shows the same places again.
        report.screws = max(report.screws, sum(len(blank.screws) for blank in group))
        report.failures += _check_numbers(job, group, kind)
        layout = _layout_shown(report, job, group)
        report.failures += _check_screws(job, layout, group)
        # What the job's own layout has wrong is not said again for each format.
        seen = {(failure.kind, failure.text) for failure in report.failures}
        report.failures += [
            failure
            for failure in _problems(job, layout, kind)
            if (failure.kind, failure.text) not in seen
        ]
    return report


def _family(blank: BlankFile) -> str:
    """Return what a blank is one of: a format, or a combined drawing by itself."""
    return blank.file if blank.combined else f"{blank.format.upper()} files"


def _begin(job: Job, subject: str) -> CheckReport:
    return CheckReport(
        subject=subject,
        job=job.name,
        copies=len(job.layout.placements),
        wanted=sum(part.quantity for part in job.parts),
        blanks=len(job.layout.blanks),
        unplaced=sum(entry.count for entry in job.layout.unplaced),
        wanted_gap=job.cutting.gap,
        wanted_margin=job.cutting.margin,
    )


def _problems(job: Job, layout: Layout, where: str) -> list[Failure]:
    names = {part.id: part.name for part in job.parts}
    return [
        Failure(problem.kind.value, where, _sentence(problem, names))
        for problem in verify(job, layout).problems
    ]


def _sentence(problem: Problem, names: dict[str, str]) -> str:
    """Return a problem in words, with the part's name rather than its id."""
    name = names.get(problem.part, problem.part)
    other, _, copy = problem.other.rpartition("/")
    if other in names:
        problem = replace(problem, other=f"{names[other]} {copy}")
    if problem.copy:
        problem = replace(problem, part=f"{name} {problem.copy}", copy=0)
    else:
        problem = replace(problem, part=name)
    return str(problem)


def _take_measures(report: CheckReport, job: Job, layout: Layout) -> None:
    """Measure the least gap and margin, apart from whether they are enough."""
    outlines = {part.id: part.outline for part in job.parts}
    edges = {stock.id: stock.outline for stock in job.stock}
    for number, board in enumerate(layout.blanks):
        regions = [
            polygon_of(outlines[p.part_id], p.motion)
            for p in layout.on(number)
            if p.part_id in outlines and all(map(math.isfinite, (p.x, p.y, p.turn)))
        ]
        if not regions or board.stock_id not in edges:
            continue
        edge = polygon_of(edges[board.stock_id])
        for region in regions:
            margin = region.distance(edge.boundary) if edge.contains(region) else 0.0
            report.margin = min(report.margin, float(margin))
        if len(regions) > 1:
            tree = shapely.STRtree(regions)
            _, apart = tree.query_nearest(
                regions, exclusive=True, return_distance=True, all_matches=False
            )
            report.gap = min(report.gap, float(np.min(apart)))


# ------------------------------------------------------------------- exported files


def _check_numbers(
    job: Job, blanks: Sequence[BlankFile], kind: str
) -> Iterable[Failure]:
    count = len(job.layout.blanks)
    found = Counter(blank.number for blank in blanks)
    for number in range(1, count + 1):
        if not found[number]:
            yield Failure("missing", kind, f"blank {number} of {count} is missing")
        elif found[number] > 1:
            files = ", ".join(b.file for b in blanks if b.number == number)
            yield Failure("doubled", kind, f"blank {number} is there twice: {files}")
    for number in sorted(set(found) - set(range(1, count + 1))):
        yield Failure("unknown", kind, f"blank {number} is not in the job")


def _layout_shown(report: CheckReport, job: Job, blanks: Sequence[BlankFile]) -> Layout:
    """Return the layout that files show, after comparing every curve in them."""
    parts = {part.id: part for part in job.parts}
    said = {(p.part_id, p.copy): p for p in job.layout.placements}
    placements: list[Placement] = []
    for blank in blanks:
        if not 1 <= blank.number <= len(job.layout.blanks):
            continue
        index = blank.number - 1
        _compare_blank(report, job, blank)
        x, y, _, _ = job.stock_of(index).outline.bounds
        home = Motion(-x, -y)
        for piece in blank.pieces:
            part = parts.get(piece.part_id)
            if part is None:
                report.failures.append(
                    Failure(
                        "unknown part",
                        blank.file,
                        f"part {piece.part_id!r} is not in the job",
                    )
                )
                continue
            part = as_cut(job, part).part
            expected = said.get((piece.part_id, piece.copy))
            motion = _compare_piece(
                report,
                blank,
                piece,
                part,
                None if expected is None else home.after(expected.motion),
            )
            back = home.inverse().after(motion)
            placements.append(
                Placement(
                    piece.part_id,
                    piece.copy,
                    index,
                    back.x,
                    back.y,
                    back.turn,
                    back.flipped,
                )
            )
    return replace(job.layout, placements=tuple(placements))


def _check_relief(job: Job) -> Iterable[Failure]:
    """Check every part as it is cut against its drawing."""
    for part in job.parts:
        cut = as_cut(job, part).part
        if cut is part:
            continue
        pairs = [(part.outline, cut.outline)]
        for old, new in zip(part.marks, cut.marks, strict=True):
            if old != new:
                a, b = Loop(old.segments), Loop(new.segments)
                # An island's edge comes back counter-clockwise, a pocket's clockwise.
                island = b.signed_area > 0.0
                x0, y0, x1, y1 = a.bounds
                frame = Loop.rectangle(
                    x1 - x0 + 200.0, y1 - y0 + 200.0, x0 - 100.0, y0 - 100.0
                )
                # What stands beside the edge: the island, or all that is round it.
                pairs.append(
                    (Outline(a), Outline(b))
                    if island
                    else (Outline(frame, (a,)), Outline(frame, (b,)))
                )
        for drawn, shown in pairs:
            fault = relief_fault(drawn, shown, job.cutting.cutter)
            if fault:
                yield Failure("relief", "layout", f"{part.name}: relieved, {fault}")


def _check_screws(
    job: Job, layout: Layout, blanks: Sequence[BlankFile]
) -> Iterable[Failure]:
    """Check that each screw lies on the board, its distance from slots and keep-outs.

    A screw in a hole of a part counts as in the part: what lies there comes loose.
    """
    parts = {part.id: part for part in job.parts}
    away = job.holding.screw_distance or 0.0
    for blank in blanks:
        if not blank.screws or not 1 <= blank.number <= len(job.layout.blanks):
            continue
        stock = job.stock_of(blank.number - 1)
        x, y, _, _ = stock.outline.bounds
        home = Motion(-x, -y)
        walls = [
            shapely.Polygon(polygon_of(parts[p.part_id].outline, p.motion).exterior)
            for p in layout.on(blank.number - 1)
            if p.part_id in parts
        ]
        need = [job.cutting.cutter + away] * len(walls)
        walls += [polygon_of(Outline(area.loop)) for area in stock.keep_outs]
        need += [away] * len(stock.keep_outs)
        board = polygon_of(stock.outline)
        if len(blank.screws) > job.holding.screws:
            yield Failure(
                "screw",
                blank.file,
                f"blank {blank.number} has {len(blank.screws)} screws, and "
                f"{job.holding.screws} were asked for",
            )
        for spot in blank.screws:
            at = shapely.Point(home.inverse().point(spot))
            short = not board.contains(at) or any(
                shapely.distance(wall, at) < least - TOLERANCE
                for wall, least in zip(walls, need, strict=True)
            )
            if short:
                yield Failure(
                    "screw",
                    blank.file,
                    f"blank {blank.number}: the screw at ({spot[0]:.1f}, "
                    f"{spot[1]:.1f}) is less than {away:g} mm from a slot or a "
                    "keep-out, or off the board",
                )


def _compare_blank(report: CheckReport, job: Job, blank: BlankFile) -> None:
    """Compare a blank's edge, keep-outs and datum with the job's."""
    index = blank.number - 1
    stock = job.stock_of(index)
    x, y, _, _ = stock.outline.bounds
    home = Motion(-x, -y)
    wrong: list[str] = []
    if not _same_loops(
        report,
        stock.outline.moved(home).loops,
        [lo.segments for lo in blank.edge.loops],
    ):
        wrong.append("the blank's edge is not the stock's")
    areas = [area.loop.moved(home) for area in stock.keep_outs]
    if not _same_loops(report, areas, [loop.segments for loop in blank.keep_outs]):
        wrong.append("the keep-outs are not the stock's")
    pins = [loop.moved(home) for loop in pin_holes(job, index)]
    if not _same_loops(report, pins, [loop.segments for loop in blank.pins]):
        wrong.append("the holes for pins are not the break-down's")
    datum = home.point(datum_shift(job, index).inverse().point((0.0, 0.0)))
    if not blank.combined and math.dist(datum, blank.datum) > EXACT:
        wrong.append(
            f"coordinates do not count from the datum ({job.cutting.datum.value})"
        )
    report.failures += [
        Failure("blank", blank.file, f"blank {blank.number}: {text}") for text in wrong
    ]


def _same_loops(
    report: CheckReport, wanted: Sequence[Loop], found: Sequence[Sequence[Segment]]
) -> bool:
    """Return whether two sets of loops are the same, curve for curve."""
    return _unmatched(report, [loop.segments for loop in wanted], found) is None


def _unmatched(
    report: CheckReport,
    wanted: Sequence[Sequence[Segment]],
    found: Sequence[Sequence[Segment]],
) -> float | None:
    """Return how far the first curve without a partner is from one, else None."""
    if len(wanted) != len(found):
        return math.inf
    left = list(found)
    for chain in wanted:
        away = [chain_difference(chain, other) for other in left]
        nearest = int(np.argmin(away))
        if away[nearest] > EXACT:
            return away[nearest]
        report.curves += 1
        report.worst = max(report.worst, away[nearest])
        left.pop(nearest)
    return None


def _compare_piece(
    report: CheckReport,
    blank: BlankFile,
    piece: Piece,
    part: Part,
    expected: Motion | None,
) -> Motion:
    """Compare a copy with its part, and return how it lies by its geometry."""
    name = f"{part.name} {piece.copy}"

    def fail(kind: str, text: str) -> None:
        report.failures.append(Failure(kind, blank.file, f"{name}: {text}"))

    fallback = expected or Motion()
    if len(piece.outers) != 1:
        kind = "doubled" if piece.outers else "missing"
        fail(kind, f"{len(piece.outers)} outer edges instead of 1")
        return fallback
    try:
        shown = Outline(Loop(piece.outers[0]), tuple(map(Loop, piece.holes)))
    except InputError as error:
        fail("open", error.what)
        return fallback
    ratio = shown.area / part.area
    if abs(ratio - 1.0) > AREA_SHARE:
        fail(
            "size",
            f"its area is {shown.area:.3f} mm² and the drawing's {part.area:.3f}; "
            f"it is {math.sqrt(max(ratio, 0.0)):.6f} times as large",
        )
        return fallback
    if expected is not None and _same_piece(report, piece, part, expected) is None:
        return expected
    motion = _motion_of(part.outline, shown, fallback)
    away = _same_piece(report, piece, part, motion)
    if away is not None:
        fail("shape", f"its curves are not the drawing's{_by(away)}")
        return fallback
    if expected is not None:
        moved = math.hypot(motion.x - expected.x, motion.y - expected.y)
        turned = (motion.turn - expected.turn + 180.0) % 360.0 - 180.0
        fail(
            "place",
            f"it lies {moved:.3f} mm and {turned:.3f}° from where the job says",
        )
    return motion


def _by(away: float) -> str:
    return f": {away:.6f} mm away" if math.isfinite(away) else ""


def _same_piece(
    report: CheckReport, piece: Piece, part: Part, motion: Motion
) -> float | None:
    """Return how far a copy is from a part moved so, None when they are the same."""
    outline = part.outline.moved(motion)
    pairs: list[tuple[Sequence[Any], Sequence[Any]]] = [
        ([outline.outer.segments], piece.outers),
        ([hole.segments for hole in outline.holes], piece.holes),
    ]
    operations = {mark.operation.value for mark in part.marks}
    for layer in sorted(operations | {layer for layer, _ in piece.marks}):
        pairs.append(
            (
                [
                    mark.moved(motion).segments
                    for mark in part.marks
                    if mark.operation.value == layer
                ],
                [chain for found, chain in piece.marks if found == layer],
            )
        )
    for wanted, found in pairs:
        away = _unmatched(report, wanted, found)
        if away is not None:
            return away
    return None


def _motion_of(outline: Outline, shown: Outline, fallback: Motion) -> Motion:
    """Return the rigid motion that takes an outline to one that is shown.

    Corners are matched in order round the outer loop, from every possible beginning,
    face up and face down; the turn that fits best in the least-squares sense wins.
    """
    a = _corners(outline.outer)
    b = _corners(shown.outer)
    if len(a) != len(b):
        return fallback
    if len(a) < 2:  # a circle says where it lies, not how it is turned
        centre = Motion(turn=fallback.turn, flipped=fallback.flipped)
        x, y = centre.point((a[0].real, a[0].imag))
        return replace(centre, x=b[0].real - x, y=b[0].imag - y)
    fits: list[tuple[float, Motion]] = []
    for flipped in (False, True):
        # Face down, corners are run through the other way round.
        start = -a.conj()[::-1] if flipped else a
        middle_a, middle_b = start.mean(), b.mean()
        for shift in range(len(b)):
            product = np.vdot(start - middle_a, np.roll(b, -shift) - middle_b)
            turn = math.degrees(math.atan2(product.imag, product.real)) % 360.0
            turned = Motion(turn=turn, flipped=flipped)
            middle = a.mean()
            x, y = turned.point((middle.real, middle.imag))
            move = replace(turned, x=middle_b.real - x, y=middle_b.imag - y)
            fits.append((abs(product), move))
    best = max(fit for fit, _ in fits)
    # A symmetrical part fits in several ways; the one nearest to what was expected.
    return min(
        (move for fit, move in fits if fit >= best * (1.0 - 1e-9)),
        key=lambda move: (
            move.flipped != fallback.flipped,
            angle_between(move.turn, fallback.turn),
        ),
    )


def _corners(loop: Loop) -> np.ndarray[Any, np.dtype[np.complex128]]:
    """Return the loop's corners as complex numbers; a circle's centre."""
    first = loop.segments[0]
    if loop.is_circle:
        x0, y0, x1, y1 = first.bounds()
        return np.array([complex((x0 + x1) / 2.0, (y0 + y1) / 2.0)])
    return np.array([complex(*segment.start) for segment in loop.segments])
