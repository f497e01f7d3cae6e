"""What is said about the part under the pointer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, QPointF

from .shapes import flat
from .walls import walls_on
from .words import length_text, size_text, tr

if TYPE_CHECKING:
    from .view import BenchView


def hover_words(view: BenchView, place: QPoint) -> str:
    """Return what the part under a place of the viewport is, in a few lines."""
    at = view.camera.scene_at(QPointF(place))
    key = view.copy_at((at.x(), at.y()))
    placement = None if key is None else view.document.placement(key)
    if key is None or placement is None:
        return ""
    job = view.document.job
    part = job.part(key[0])
    shape = flat(part.outline)
    walls = walls_on(job, placement.blank, [key])
    distance, owner, _ = walls.nearest([shape.moved_polygon(placement.motion)])
    lines = [
        view.document.name_of(key),
        size_text(*part.outline.size, job.units),
        tr("{distance} to {name}").format(
            distance=length_text(distance, job.units),
            name=view.owner_name(walls.owners[owner]),
        ),
    ]
    kinds = sorted({str(mark.operation.value).lower() for mark in part.marks})
    if part.outline.holes:
        lines.append(tr("holes: {n}").format(n=len(part.outline.holes)))
    if kinds:
        lines.append(tr("marks: {kinds}").format(kinds=", ".join(kinds)))
    conflict = view.document.conflicts().get(key)
    if conflict is not None:
        lines += [f"\N{WARNING SIGN} {r.kind.value}" for r in conflict.reasons]
    if placement.locked:
        lines.append(tr("locked"))
    return "\n".join(lines)
