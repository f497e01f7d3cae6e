"""What is said about a part: under the pointer, or where the keys are."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint

from ...nesting.model.part import Operation, Part
from .copies import Key
from .shapes import flat
from .walls import walls_on
from .words import angle_text, length_text, reason_text, size_text, tr

if TYPE_CHECKING:
    from .view import BenchView


def hover_words(view: BenchView, place: QPoint) -> str:
    """Return what the part under a place of the viewport is, in a few lines."""
    key = view.copy_at(view.camera.point(place))
    return "" if key is None else "\n".join(about(view, key))


def about(view: BenchView, key: Key) -> list[str]:
    """Return a copy's name, size, distance to what is nearest, operations, troubles."""
    document = view.document
    placement = document.placement(key)
    if placement is None:
        return []
    job = document.job
    part = job.part(key[0])
    shape = flat(part.outline)
    walls = walls_on(job, placement.blank, [key])
    distance, owner, _ = walls.nearest([shape.moved_polygon(placement.motion)])
    lines = [
        document.name_of(key),
        size_text(*part.outline.size, job.units),
        tr("turned {angle}").format(angle=angle_text(placement.turn)),
        tr("{distance} to {name}").format(
            distance=length_text(distance, job.units),
            name=view.owner_name(walls.owners[owner]),
        ),
        operations(part),
    ]
    conflict = document.conflicts().get(key)
    if conflict is not None:
        lines += [
            f"\N{WARNING SIGN} {reason_text(r, document.name_of, job.units)}"
            for r in conflict.reasons
        ]
    if placement.flipped:
        lines.append(tr("lies face down"))
    if placement.locked:
        lines.append(tr("locked"))
    return lines


def operations(part: Part) -> str:
    """Return what is cut of a part and how often: outside, inside, marks."""
    words = {
        Operation.INSIDE: tr("{n} inside"),
        Operation.POCKET: tr("{n} pocket"),
        Operation.ENGRAVE: tr("{n} engraved"),
        Operation.DRILL: tr("{n} drilled"),
        Operation.TAB: tr("{n} tabs"),
    }
    counts = Counter(mark.operation for mark in part.marks)
    counts[Operation.INSIDE] += len(part.outline.holes)
    told = [text.format(n=counts[kind]) for kind, text in words.items() if counts[kind]]
    return tr("cut: {list}").format(list=", ".join([tr("1 outside"), *told]))
