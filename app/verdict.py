"""The verdict: sheets, bound, yield, cost, in words and as data."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import shapely

from ..io.units import format_length
from ..nesting.bound import Bound, Proof
from ..nesting.model.job import Job, Objective
from ..nesting.model.placement import Unplaced
from ..nesting.objective import Leftover, Measures, measure
from ..nesting.shop.breakdown import whole_sheets
from ..nesting.verify import polygon_of, polygon_of_loop


@dataclass(frozen=True, slots=True)
class BoardUse:
    """How many blanks of one kind of stock are used."""

    name: str
    count: int
    price: float
    offcut: bool
    piece: bool = False
    """Whether it is sawn from a larger sheet, which is what is paid."""


@dataclass(frozen=True)
class Verdict:
    """What a layout comes to.

    Parameters
    ----------
    job : str
        The job's name.
    placed, wanted : int
        Copies on the blanks, and copies ordered.
    boards : tuple of BoardUse
        What is used, in the order of the stock list.
    bound : int or None
        The number of sheets below which no layout exists; None when not worked out.
    why_bound : str
        What proves it.
    measures : Measures
        The numbers.
    in_holes : int
        Copies that lie in the holes of others.
    unplaced : tuple of (str, Unplaced)
        Parts by name, and why they found no room.
    units : str
        "mm" or "in", for the words.
    without_holes : Measures or None
        The numbers of a layout of the same order that leaves holes empty.
    sawn : tuple of (str, int, float)
        Sheets too large for the bed that the blanks are sawn from: what they are
        called, how many, and the price of one.
    objective : Objective
        What made one layout better than another.
    """

    job: str
    placed: int
    wanted: int
    boards: tuple[BoardUse, ...]
    bound: int | None
    why_bound: str
    measures: Measures
    in_holes: int
    unplaced: tuple[tuple[str, Unplaced], ...]
    units: str = "mm"
    without_holes: Measures | None = None
    sawn: tuple[tuple[str, int, float], ...] = ()
    objective: Objective = Objective.FEWEST_SHEETS

    @property
    def sheets(self) -> int:
        """Whole sheets, also where blanks are sawn from them."""
        whole = sum(count for _, count, _ in self.sawn)
        return whole + sum(
            board.count for board in self.boards if not (board.offcut or board.piece)
        )

    @property
    def cost(self) -> float:
        """Price of all that is used, whole sheets counted whole."""
        whole = sum(count * price for _, count, price in self.sawn)
        return whole + sum(b.count * b.price for b in self.boards if not b.piece)

    @property
    def complete(self) -> bool:
        """Whether every copy has its place."""
        return self.placed == self.wanted

    @property
    def proven(self) -> bool:
        """Whether fewer sheets are impossible."""
        return self.complete and self.bound is not None and self.sheets <= self.bound

    def sheets_in_words(self) -> str:
        """Return the count of sheets and what is known about fewer."""
        sheets = _count(self.sheets, "sheet")
        if self.sawn:
            pieces = sum(board.count for board in self.boards if board.piece)
            sheets += f" ({_count(pieces, 'blank')} sawn from them)"
        if self.measures.offcuts:
            sheets += f" and {_count(self.measures.offcuts, 'offcut')}"
        if self.bound is None or not self.complete:
            return sheets
        if self.proven:
            return f"{sheets}, proven fewest"
        return f"{sheets}; fewer than {self.bound} is impossible"

    def headline(self) -> str:
        """Return the verdict in one line."""
        words = [
            self.sheets_in_words(),
            f"yield {100 * self.measures.yield_:.1f} %",
        ]
        if self.measures.leftovers:
            kept = 100 * self.measures.yield_with_kept
            words.append(f"{kept:.1f} % with kept offcuts")
        if self.cost:
            words.append(f"{self.cost:.2f}")
        return " · ".join(words)

    def lines(self) -> list[str]:
        """Return the verdict as lines for a person."""
        copies = "copy" if self.wanted == 1 else "copies"
        lines = [self.job, f"  {self.headline()}"]
        lines.append(f"  {self.placed} of {self.wanted} {copies} placed")
        if self.objective is not Objective.FEWEST_SHEETS:
            lines.append(f"  looked for: {self._objective_in_words()}")
        for name, count, each in self.sawn:
            price = f", {each:.2f} each" if each else ""
            lines.append(f"    {count} × {name}{price}, sawn into blanks for the bed")
        for board in self.boards:
            if board.piece:
                lines.append(f"      {board.count} × {board.name}")
                continue
            price = f", {board.price:.2f} each" if board.price else ""
            kind = " (offcut)" if board.offcut else ""
            lines.append(f"    {board.count} × {board.name}{kind}{price}")
        if self.in_holes:
            lines.append(f"  {self._holes_in_words()}")
        for piece in self.measures.leftovers:
            lines.append(f"  worth keeping: {self._leftover_in_words(piece)}")
        for name, entry in self.unplaced:
            lines.append(f"  not placed: {entry.count} × {name}: {entry.reason.value}")
        return lines

    def _objective_in_words(self) -> str:
        if self.objective is not Objective.SHORTEST_LENGTH:
            return self.objective.value
        used = format_length(self.measures.length, self.units)
        return f"{self.objective.value}; {used} used along the sheets"

    def _holes_in_words(self) -> str:
        lie = "copy lies in a hole" if self.in_holes == 1 else "copies lie in holes"
        text = f"{self.in_holes} {lie} of other parts"
        other = self.without_holes
        if other is None:
            return text
        mine = self.measures
        if other.missing_area > mine.missing_area:
            return f"{text}; without that not everything would find room"
        if (other.sheets, other.offcuts) != (mine.sheets, mine.offcuts):
            # Sawn blanks are what both layouts count; whole sheets are not.
            board = "blank" if self.sawn else "sheet"
            empty = _count(other.sheets, board)
            if other.offcuts:
                empty += f" and {_count(other.offcuts, 'offcut')}"
            return f"{text}; with holes left empty: {empty}"
        square_mm = mine.kept_area - other.kept_area
        if square_mm > 0.0:
            return f"{text}; that leaves {square_mm / 1e6:.3f} m² more worth keeping"
        return f"{text}; it saves nothing this time"

    def _leftover_in_words(self, piece: Leftover) -> str:
        width = format_length(piece.width, self.units)
        height = format_length(piece.height, self.units)
        return f"{width} × {height} on blank {piece.blank + 1}"

    def as_dict(self) -> dict[str, object]:
        """Return the verdict with stable keys; lengths mm, areas mm²."""
        other = self.without_holes
        return {
            "job": self.job,
            "objective": self.objective.value,
            "copies_placed": self.placed,
            "copies_wanted": self.wanted,
            "sheets": self.sheets,
            "sheets_sawn": [
                {"name": name, "count": count, "price": price}
                for name, count, price in self.sawn
            ],
            "offcuts": self.measures.offcuts,
            "bound": self.bound,
            "bound_proof": self.why_bound,
            "proven_fewest": self.proven,
            "yield": self.measures.yield_,
            "yield_with_kept_offcuts": self.measures.yield_with_kept,
            "cost": self.cost,
            "length_used": self.measures.length
            if self.objective is Objective.SHORTEST_LENGTH
            else None,
            "boards": [
                {
                    "name": board.name,
                    "count": board.count,
                    "price": board.price,
                    "offcut": board.offcut,
                }
                for board in self.boards
            ],
            "copies_in_holes": self.in_holes,
            "holes_left_empty": None
            if other is None
            else {
                "sheets": other.sheets,
                "offcuts": other.offcuts,
                "cost": other.cost,
                "kept_area": other.kept_area,
                "unplaced": other.unplaced,
            },
            "kept_area": self.measures.kept_area,
            "leftovers": [
                {
                    "blank": piece.blank + 1,
                    "x": piece.x,
                    "y": piece.y,
                    "width": piece.width,
                    "height": piece.height,
                }
                for piece in self.measures.leftovers
            ],
            "unplaced": [
                {
                    "part": entry.part_id,
                    "name": name,
                    "count": entry.count,
                    "reason": entry.reason.value,
                }
                for name, entry in self.unplaced
            ],
        }


def proof_in_words(proof: Proof) -> str:
    """Return what proves that fewer sheets of one board are impossible."""
    sheets = _count(proof.count, "sheet")
    if proof.by_area:
        copies = sum(count for _, count, _ in proof.parts)
        return (
            f"{sheets}: {copies} parts, each with half the gap "
            f"around it, need more room than {_count(proof.count - 1, 'sheet')} offer"
        )
    crowd = proof.decisive
    alone = sum(count for _, count in crowd.alone)
    if alone >= crowd.count:
        return f"{sheets}: of {alone} copies no two can share a blank"
    rest = sum(count for _, count in crowd.rest)
    if alone:
        return (
            f"{sheets}: of {alone} copies no two can share a blank, "
            f"and {rest} others find too little room beside them"
        )
    return (
        f"{sheets}: the lengths and widths of {rest} parts keep them from lying "
        f"closer together"
    )


def proofs_in_words(proven: Bound) -> str:
    """Return what proves a bound, board by board."""
    return "; ".join(proof_in_words(proof) for proof in proven.proofs)


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")


def make_verdict(
    job: Job,
    bound: int | None = None,
    why_bound: str = "",
    without_holes: Measures | None = None,
) -> Verdict:
    """Return the verdict on a job's layout.

    Parameters
    ----------
    job : Job
        The job with its layout.
    bound : int, optional
        The proven least number of sheets.
    why_bound : str
        What proves it, in words.
    without_holes : Measures, optional
        The numbers of a layout that leaves holes empty, for comparison.
    """
    layout = job.layout
    used = Counter(blank.stock_id for blank in layout.blanks)
    return Verdict(
        job=job.name,
        placed=len(layout.placements),
        wanted=sum(part.quantity for part in job.parts),
        boards=tuple(
            BoardUse(
                stock.name,
                used[stock.id],
                stock.price,
                stock.offcut,
                stock.sheet is not None,
            )
            for stock in job.stock
            if used[stock.id]
        ),
        bound=bound,
        why_bound=why_bound,
        measures=measure(job, layout),
        in_holes=copies_in_holes(job),
        unplaced=tuple((job.part(u.part_id).name, u) for u in layout.unplaced),
        units=job.units,
        without_holes=without_holes,
        sawn=tuple(
            (sheet.name, count, sheet.price) for sheet, count in whole_sheets(job)
        ),
        objective=job.objective,
    )


def copies_in_holes(job: Job) -> int:
    """Return how many placed copies lie in a hole of another copy."""
    count = 0
    for blank in range(len(job.layout.blanks)):
        placements = job.layout.on(blank)
        holes = [
            polygon_of_loop(hole.moved(placement.motion))
            for placement in placements
            for hole in job.part(placement.part_id).outline.holes
        ]
        if not holes:
            continue
        tree = shapely.STRtree(holes)
        for placement in placements:
            outline = job.part(placement.part_id).outline
            inner = polygon_of(outline, placement.motion).representative_point()
            count += len(tree.query(inner, predicate="within")) > 0
    return count
