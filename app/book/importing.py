"""From files to parts of a job; no widgets, so that another process can do it."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...io.findings import Finding, Severity
from ...io.limits import SMALLER, Cancelled, Limits, TooLarge, too_large
from ...nesting.model.errors import DrystoneError, InputError
from ...nesting.model.job import Job
from ...nesting.model.part import Part
from ..usual_cutting import usual_cutting

if TYPE_CHECKING:
    from ...io.operations import Told
    from ...io.read_drawing import ReadDrawing

DRAWINGS = (".dxf", ".svg")
"""Endings of drawings."""

WHOLE = (".toml", ".drystone")
"""Endings of files that are a whole job."""

SAMPLE = Path(__file__).parents[2] / "sample_parts" / "order.toml"
"""The sample order, where the program runs from its sources."""


MEMORY = "not read: it needs too much memory"
"""Said of a drawing for which there was none left."""


@dataclass(frozen=True)
class Read:
    """What was read from drawings, or from an order.

    Attributes
    ----------
    drawings : tuple of ReadDrawing
        What each drawing holds.
    job : Job or None
        From an order or a job file.
    path : Path or None
        The file the whole job came from.
    troubles : tuple of Finding
        What is worth knowing about files besides what `drawings` tell.
    too_large : tuple of TooLarge
        The drawings that were not read because they are larger than usual, but can be
        if the user allows it.
    times : int
        How many times larger than usual they were allowed to be.
    left : tuple of Path
        The drawings not looked at yet: one before them needed too much memory, which
        the same process may lack for them, too. They want another process.
    """

    drawings: tuple[ReadDrawing, ...] = ()
    job: Job | None = None
    path: Path | None = None
    troubles: tuple[Finding, ...] = field(default=())
    too_large: tuple[TooLarge, ...] = field(default=())
    times: int = 1
    left: tuple[Path, ...] = ()

    def and_then(self, more: Read) -> Read:
        """Return this with what was read of the drawings left."""
        return replace(
            more,
            drawings=(*self.drawings, *more.drawings),
            troubles=(*self.troubles, *more.troubles),
            too_large=(*self.too_large, *more.too_large),
        )

    @property
    def parts(self) -> tuple[Part, ...]:
        """The parts of all drawings."""
        return tuple(part for drawing in self.drawings for part in drawing.parts)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All that is worth knowing about the files."""
        found = tuple(f for drawing in self.drawings for f in drawing.findings)
        return (*self.troubles, *found)

    @property
    def doubtful(self) -> tuple[ReadDrawing, ...]:
        """The drawings whose unit the user should look at."""
        return tuple(d for d in self.drawings if d.parts and not d.units.sure)


def read_drawings(
    paths: Sequence[Path],
    stopped: Callable[[], bool],
    units: Mapping[str, str] | None = None,
    tell: Callable[[float, str], object] | None = None,
    layers: Told | None = None,
    limits: Limits | None = None,
) -> Read | None:
    """Read drawings; one that cannot be used becomes a finding.

    Parameters
    ----------
    paths : sequence of Path
        The drawings.
    stopped : callable
        Whether to give up.
    units : mapping, optional
        What the user said about the units of some, by path.
    tell : callable, optional
        Told how far it is: 0 to 1, and the name of the drawing.
    layers : mapping, optional
        What the user said about layers and colours.
    limits : Limits, optional
        What reading one drawing may cost.

    Returns
    -------
    Read or None
        None when it was stopped: all or nothing. It ends with the first drawing that
        needs too much memory; see `Read.left`.
    """
    from ...io.read_drawing import look_at

    limits = limits or Limits()
    large: list[TooLarge] = []
    drawings: list[ReadDrawing] = []
    troubles: list[Finding] = []
    left: tuple[Path, ...] = ()
    for number, path in enumerate(paths):
        step = partial(_step, tell, path.name, number, len(paths))
        step(0.0, "")
        said = (units or {}).get(str(path))
        try:
            drawings.append(
                look_at(
                    path,
                    said,
                    layers=layers,
                    limits=limits,
                    cancelled=stopped,
                    tell=step,
                )
            )
        except Cancelled:
            return None
        except (DrystoneError, OSError, MemoryError, RecursionError) as error:
            if isinstance(error, TooLarge):
                words = f"{error.what}; {SMALLER}"
                if error.times is not None:
                    large.append(error)
            elif isinstance(error, DrystoneError):
                words = f"{error.what}; {error.cure}" if error.cure else error.what
            elif isinstance(error, OSError):
                words = str(error)
            else:
                words = f"{MEMORY}; {SMALLER}"
                more = too_large(str(path), MEMORY, limits)
                left = tuple(paths[number + 1 :])
                if more.times is not None:
                    large.append(more)
            troubles.append(Finding("unreadable", Severity.ERROR, words, str(path)))
            if left:
                break
    if stopped():
        return None
    return Read(
        tuple(drawings),
        troubles=tuple(troubles),
        too_large=tuple(large),
        times=limits.times,
        left=left,
    )


def _step(
    tell: Callable[[float, str], object] | None,
    name: str,
    number: int,
    count: int,
    share: float,
    words: str,
) -> None:
    """Tell how far reading several drawings is; of one alone it is not known."""
    if tell is not None:
        whole = (number + share) / count if count > 1 else -1.0
        tell(whole, f"{name} ({words})" if words else name)


def read_whole(path: Path) -> Read:
    """Read an order.

    Its drawings are read here and now: whoever calls this is a process of its own that
    can be stopped.

    Raises
    ------
    InputError
        If it cannot be used.
    """
    from ...io.order_file import read_order

    order = read_order(path, _usual_size, usual_cutting())
    return Read(job=order.job, path=path, troubles=tuple(order.findings))


def _usual_size(path: Path | str, *said: Any, **options: Any) -> ReadDrawing:
    """Read a drawing of an order; a larger one is allowed where it is added alone."""
    from ...io.read_drawing import look_at

    try:
        return look_at(path, *said, **options)
    except TooLarge as error:
        cure = f"{SMALLER}, or add it by itself, where you can allow it"
        raise InputError(error.where, error.what, cure) from None
    except (MemoryError, RecursionError):
        raise InputError(str(path), MEMORY, SMALLER) from None


def with_parts(job: Job, parts: Sequence[Part]) -> Job:
    """Return the job with more parts at the end of its order.

    They are of the board that the job's first sheet is, if there is one.
    """
    taken = {part.id for part in job.parts}
    board = job.stock[0] if job.stock else None
    new = []
    for part, part_id in zip(parts, free_ids("part", taken), strict=False):
        material = part.material or (board.material if board else "")
        thickness = part.thickness or (board.thickness if board else 0.0)
        new.append(replace(part, id=part_id, material=material, thickness=thickness))
    return replace(job, parts=(*job.parts, *new))


def read_anew(
    job: Job,
    before: Sequence[ReadDrawing],
    after: Sequence[ReadDrawing],
    same: Callable[[Part, Part], bool] | None = None,
) -> Job:
    """Return the job with the parts of drawings as they were read again.

    A part keeps what the order says of it. Parts that are no parts any more go, new
    ones come to the end; what the user has removed stays away.

    Parameters
    ----------
    before, after : sequence of ReadDrawing
        What the drawings held before, and what they hold now.
    same : callable, optional
        Whether a part of the job is one that was drawn; else it must be exactly that.
    """
    same = same or _is
    now = {drawing.file: drawing for drawing in after}
    parts = dict(enumerate(job.parts))  # those still to be looked for
    done = dict(parts)
    new: list[Part] = []
    for old in before:
        drawing = now.get(old.file)
        if drawing is None:
            continue
        found = dict(zip(_places(drawing), drawing.parts, strict=True))
        for place, part in zip(_places(old), old.parts, strict=True):
            again = found.pop(place, None)
            at = next((n for n, p in parts.items() if same(p, part)), None)
            if at is None:
                continue
            mine = parts.pop(at)
            if again is None:
                del done[at]
            else:
                done[at] = replace(
                    mine, outline=again.outline, marks=again.marks, source=again.source
                )
        new += found.values()
    return with_parts(replace(job, parts=tuple(done.values())), new)


def _places(drawing: ReadDrawing) -> list[tuple[float, ...]]:
    """Return where each part of a drawing lies in it, and how large it is."""
    return [
        tuple(round(value, 3) for value in (*origin, *part.outline.size))
        for origin, part in zip(drawing.origins, drawing.parts, strict=True)
    ]


def _is(part: Part, drawn: Part) -> bool:
    """Return whether a part of a job is one that was drawn."""
    return (part.source, part.outline, part.marks) == (
        drawn.source,
        drawn.outline,
        drawn.marks,
    )


def free_id(stem: str, taken: set[str]) -> str:
    """Return an id that is not taken."""
    return next(free_ids(stem, taken))


def free_ids(stem: str, taken: set[str]) -> Iterator[str]:
    """Yield one id after another that is not taken."""
    for number in itertools.count(1):
        if f"{stem}-{number}" not in taken:
            yield f"{stem}-{number}"
