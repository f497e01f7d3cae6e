"""The rack: offcuts and sheets in the shop, in a small SQLite database.

A job takes its boards and gives its leftovers back in one transaction: after a
crash at any point either all of it happened or nothing. A board that another
window has taken meanwhile is refused, so that none is spent twice.
"""

from __future__ import annotations

import contextlib
import datetime
import itertools
import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

import platformdirs

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.errors import DrystoneError, InputError, OutputError
from ..nesting.model.outline import Loop, Outline
from ..nesting.model.rules import Grain
from ..nesting.model.stock import Stock

VERSION = 1
_WAIT = 10.0
"""Seconds to wait for another process that is writing."""

_SCHEMA = """
CREATE TABLE board (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL,
    material TEXT NOT NULL,
    thickness REAL NOT NULL,
    grain TEXT NOT NULL,
    outline TEXT NOT NULL,
    place TEXT NOT NULL,
    date TEXT NOT NULL,
    value REAL NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('rack', 'used', 'gone'))
);
CREATE TABLE job (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    key TEXT NOT NULL,
    name TEXT NOT NULL,
    date TEXT NOT NULL,
    undone INTEGER NOT NULL DEFAULT 0
);
CREATE UNIQUE INDEX job_once ON job (key) WHERE undone = 0;
CREATE TABLE move (
    job INTEGER NOT NULL REFERENCES job (id),
    board INTEGER NOT NULL REFERENCES board (id),
    taken INTEGER NOT NULL
);
"""


@dataclass(frozen=True)
class RackBoard:
    """One board on the rack.

    Parameters
    ----------
    outline : Outline
        mm, least corner at (0, 0).
    material, thickness, grain
        As for stock.
    name : str
        What people call it.
    place : str
        Where it stands.
    date : str
        When it came there, as 2026-05-04.
    value : float
        What it is worth, in the user's currency.
    id : int
        Its number on the rack; 0 before it is there.
    """

    outline: Outline
    material: str = ""
    thickness: float = 0.0
    grain: Grain = Grain.NONE
    name: str = "offcut"
    place: str = ""
    date: str = ""
    value: float = 0.0
    id: int = 0

    def as_stock(self) -> Stock:
        """Return it as stock for a job."""
        return Stock(
            f"rack/{self.id}",
            f"{self.name} (rack {self.id})",
            self.outline,
            self.material,
            self.thickness,
            self.grain,
            self.value,
            1,
            offcut=True,
        )


@dataclass(frozen=True, slots=True)
class RackJob:
    """One job that took boards: its number, key, name, date, whether undone."""

    id: int
    key: str
    name: str
    date: str
    undone: bool


def is_booking_of(booking: RackJob, key: str) -> bool:
    """Return whether a booking that stands is of the job with this key."""
    same = booking.key == key or booking.key.startswith(f"{key}/")
    return same and not booking.undone


def rack_number(stock_id: str) -> int | None:
    """Return the rack's number of a stock that came from it, or None."""
    head, _, tail = stock_id.partition("/")
    return int(tail) if head == "rack" and tail.isdecimal() else None


def rack_path() -> Path:
    """Return where the rack of this user lies."""
    return (
        Path(platformdirs.user_data_path("drystone", appauthor=False)) / "rack.sqlite"
    )


class Rack:
    """The open rack; use it in a ``with`` statement.

    Parameters
    ----------
    path : Path, optional
        The database; this user's when left out. It is made when missing.

    Raises
    ------
    OutputError
        If the database cannot be opened or made.
    InputError
        If the file is no rack, or a newer program made it.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or rack_path()
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(self.path, timeout=_WAIT, isolation_level=None)
        except (OSError, sqlite3.Error) as error:
            raise OutputError(
                str(self.path), f"cannot be opened: {error}", "choose another place"
            ) from error
        try:
            self._prepare()
        except BaseException:
            self._db.close()
            raise

    def __enter__(self) -> Rack:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the database."""
        self._db.close()

    def _prepare(self) -> None:
        try:
            self._db.execute("PRAGMA foreign_keys = ON")
            self._db.execute("PRAGMA synchronous = EXTRA")
            version = self._db.execute("PRAGMA user_version").fetchone()[0]
        except sqlite3.DatabaseError as error:
            raise InputError(
                str(self.path), f"is no rack: {error}", "move it away or use a copy"
            ) from error
        if version > VERSION:
            raise InputError(
                str(self.path), f"has format {version}", "take a newer program"
            )
        if version == VERSION:
            return
        with self._writing():
            if self._db.execute("PRAGMA user_version").fetchone()[0] == VERSION:
                return  # another process was first
            if self._db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                raise InputError(str(self.path), "is no rack", "choose another file")
            for statement in _SCHEMA.split(";"):
                if statement.strip():
                    self._db.execute(statement)
            self._db.execute(f"PRAGMA user_version = {VERSION}")

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction: all of it, or nothing."""
        try:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise OutputError(
                str(self.path),
                f"cannot be written: {error}",
                "nothing was changed; make room or try again",
            ) from error

    def boards(self) -> tuple[RackBoard, ...]:
        """Return what stands on the rack, oldest first."""
        rows = self._db.execute("SELECT * FROM board WHERE state = 'rack' ORDER BY id")
        return tuple(_board(row) for row in rows)

    def jobs(self) -> tuple[RackJob, ...]:
        """Return the jobs that took boards, oldest first."""
        rows = self._db.execute(
            "SELECT id, key, name, date, undone FROM job ORDER BY id"
        )
        return tuple(
            RackJob(number, key, name, date, bool(undone))
            for number, key, name, date, undone in rows
        )

    def add(self, board: RackBoard) -> int:
        """Put a board on the rack; return its number."""
        with self._writing():
            return self._insert(board)

    def _insert(self, board: RackBoard) -> int:
        cursor = self._db.execute(
            "INSERT INTO board (name, material, thickness, grain, outline, place,"
            " date, value, state) VALUES (?, ?, ?, ?, ?, ?, ?, ?, 'rack')",
            (
                board.name,
                board.material,
                board.thickness,
                board.grain.value,
                outline_text(board.outline),
                board.place,
                board.date or datetime.date.today().isoformat(),
                board.value,
            ),
        )
        return int(cursor.lastrowid or 0)

    def change(self, board: RackBoard) -> None:
        """Give a board that stands on the rack another name, place, date or value.

        Raises
        ------
        InputError
            If it does not stand there any more.
        """
        with self._writing():
            changed = self._db.execute(
                "UPDATE board SET name = ?, material = ?, thickness = ?, grain = ?,"
                " place = ?, date = ?, value = ? WHERE id = ? AND state = 'rack'",
                (
                    board.name,
                    board.material,
                    board.thickness,
                    board.grain.value,
                    board.place,
                    board.date,
                    board.value,
                    board.id,
                ),
            )
            if changed.rowcount != 1:
                raise InputError(
                    f"rack {board.id}",
                    "does not stand on the rack any more",
                    "look at the rack again",
                )

    def remove(self, number: int) -> None:
        """Take a board off the rack for good.

        Raises
        ------
        InputError
            If it does not stand there.
        """
        with self._writing():
            self._take([number], "gone")

    def _take(self, numbers: Iterable[int], state: str) -> None:
        for number in numbers:
            changed = self._db.execute(
                "UPDATE board SET state = ? WHERE id = ? AND state = 'rack'",
                (state, number),
            )
            if changed.rowcount != 1:
                raise InputError(
                    f"rack {number}",
                    "does not stand on the rack any more",
                    "another job took it: lay the parts out again",
                )

    def commit(
        self,
        key: str,
        name: str,
        take: Sequence[int],
        keep: Sequence[RackBoard],
        *,
        again: bool = False,
    ) -> int:
        """Take a job's boards and put its leftovers on the rack, once.

        Parameters
        ----------
        key : str
            What makes the job itself: the same key is refused a second time.
        name : str
            What people call the job.
        take : sequence of int
            Numbers of the boards it uses.
        keep : sequence of RackBoard
            Leftovers that go on the rack.
        again : bool
            Whether the job was cut once more: it is then booked under its key and a
            number behind a stroke, beside what was booked before.

        Returns
        -------
        int
            The number to undo it by.

        Raises
        ------
        InputError
            If the job was committed before, or a board is gone; nothing is
            changed then.
        OutputError
            If the disk is full or the database cannot be written; nothing is
            changed then.
        """
        if len(set(take)) != len(take):
            raise InputError(name, "it takes one board twice", "lay it out again")
        with self._writing():
            before = self._db.execute(
                "SELECT id, name, date, key FROM job WHERE undone = 0 AND"
                " (key = ? OR substr(key, 1, ?) = ?) ORDER BY id",
                (key, len(key) + 1, f"{key}/"),
            ).fetchall()
            if before and not again:
                number, called, date, _ = before[0]
                raise InputError(
                    name,
                    f"was committed before, as number {number} ({called}, {date})",
                    f"undo number {number} first, or say that it was cut again",
                )
            taken = {row[3] for row in before}
            later = (f"{key}/{cutting}" for cutting in itertools.count(2))
            key = next(k for k in itertools.chain([key], later) if k not in taken)
            cursor = self._db.execute(
                "INSERT INTO job (key, name, date) VALUES (?, ?, ?)",
                (key, name, datetime.date.today().isoformat()),
            )
            job = int(cursor.lastrowid or 0)
            self._take(take, "used")
            kept = [self._insert(board) for board in keep]
            self._db.executemany(
                "INSERT INTO move (job, board, taken) VALUES (?, ?, ?)",
                [(job, n, 1) for n in take] + [(job, n, 0) for n in kept],
            )
        return job

    def undo(self, number: int) -> None:
        """Take a commit back: its boards return, its leftovers go.

        Raises
        ------
        InputError
            If there is no such commit, it was undone before, or a later job took
            one of its leftovers.
        """
        with self._writing():
            row = self._db.execute(
                "SELECT undone FROM job WHERE id = ?", (number,)
            ).fetchone()
            if row is None or row[0]:
                raise InputError(f"commit {number}", "is not there to undo")
            moves = self._db.execute(
                "SELECT board, taken FROM move WHERE job = ?", (number,)
            ).fetchall()
            self._take([board for board, taken in moves if not taken], "gone")
            self._db.executemany(
                "UPDATE board SET state = 'rack' WHERE id = ?",
                [(board,) for board, taken in moves if taken],
            )
            self._db.execute("UPDATE job SET undone = 1 WHERE id = ?", (number,))


def _board(row: Sequence[Any]) -> RackBoard:
    number, name, material, thickness, grain, outline, place, date, value, _ = row
    return RackBoard(
        outline_of(outline),
        material,
        thickness,
        Grain(grain),
        name,
        place,
        date,
        value,
        number,
    )


def outline_text(outline: Outline) -> str:
    """Return an outline as JSON: loops of rows, exact to the last bit."""
    return json.dumps([[_row(s) for s in loop.segments] for loop in outline.loops])


def _row(segment: Segment) -> list[float]:
    if isinstance(segment, Line):
        return [*segment.start, *segment.end]
    if isinstance(segment, Arc):
        return [*segment.centre, segment.radius, segment.start_angle, segment.sweep]
    return [*segment.p0, *segment.p1, *segment.p2, *segment.p3]


def outline_of(text: str) -> Outline:
    """Return the outline that `outline_text` made this text of.

    Raises
    ------
    InputError
        If the text is no outline.
    """
    try:
        loops = [
            Loop(tuple(_segment([float(v) for v in row]) for row in loop))
            for loop in json.loads(text)
        ]
        return Outline(loops[0], tuple(loops[1:]))
    except (ValueError, TypeError, IndexError, DrystoneError) as error:
        raise InputError("rack", "an outline is damaged", "use a copy") from error


def _segment(v: Sequence[float]) -> Segment:
    if len(v) == 4:
        return Line((v[0], v[1]), (v[2], v[3]))
    if len(v) == 5:
        return Arc((v[0], v[1]), v[2], v[3], v[4])
    if len(v) == 8:
        return Cubic((v[0], v[1]), (v[2], v[3]), (v[4], v[5]), (v[6], v[7]))
    raise ValueError(f"a segment of {len(v)} numbers")
