"""Inside corners: what the cutter leaves standing, and relief that takes it away."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QFormLayout, QLabel, QWidget

from ...nesting.model.holding import ReliefKind
from ...nesting.shop.reach import Standing
from ...nesting.shop.relief import as_cut, relief_of
from ..window.document import Document
from .fields import ChoiceField, form_layout
from .reach_picture import ReachPicture


class CornersSection(QWidget):
    """Which relief, and a picture of each part that needs some."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._standing: dict[str, tuple[Standing, ...]] = {}
        form = form_layout(self)
        kinds = [
            (ReliefKind.NONE, self.tr("None: corners stay round")),
            (ReliefKind.DOG_BONE, self.tr("Dog-bone, on the bisector")),
            (ReliefKind.T_BONE, self.tr("T-bone, on the longer wall")),
        ]
        self.relief = ChoiceField(self.tr("Relief"), kinds, self)
        self.relief.box.setToolTip(
            self.tr("Lets something square fit where a cutter is round")
        )
        head = QLabel(self.tr("&Relief"), self)
        head.setBuddy(self.relief.box)
        form.addRow(head, self.relief)
        self.relief.entered.connect(self._put)
        self.part = ChoiceField(self.tr("Part"), [], self)
        self.part.box.setToolTip(self.tr("Parts whose inside corners stay round"))
        label = QLabel(self.tr("&Part"), self)
        label.setBuddy(self.part.box)
        form.addRow(label, self.part)
        self.part.entered.connect(lambda _: self._show())
        own = [(None, self.tr("As above")), *kinds]
        self.own = ChoiceField(self.tr("Relief of this part"), own, self)
        self.own.box.setToolTip(self.tr("Another relief for this part alone"))
        own_label = QLabel(self.tr("Relief of th&is part"), self)
        own_label.setBuddy(self.own.box)
        form.addRow(own_label, self.own)
        self.own.entered.connect(self._put_own)
        self.words = QLabel(self)
        self.words.setWordWrap(True)
        form.addRow(self.words)
        self.picture = ReachPicture(self)
        form.addRow(self.picture)
        self.refresh()

    def refresh(self) -> None:
        """Show what the document holds."""
        self.relief.show_value(self.document.job.relief)
        self.relief.set_default(ReliefKind.NONE)
        self._show()

    def show_standing(self, standing: dict[str, tuple[Standing, ...]]) -> None:
        """Show what stays standing in which parts."""
        self._standing = standing
        job = self.document.job
        chosen = self.part.value
        listed = [
            part
            for part in job.parts
            if part.id in standing or relief_of(job, part) is not ReliefKind.NONE
        ]
        ids = [part.id for part in listed]
        self.part.set_choices([(part.id, part.name) for part in listed])
        self.part.show_value(chosen if chosen in ids else next(iter(ids), None))
        self._show()

    def _show(self) -> None:
        job = self.document.job
        index = next(
            (i for i, p in enumerate(job.parts) if p.id == self.part.value), None
        )
        some = index is not None
        for widget in (self.part, self.own, self.picture):
            widget.setVisible(some)
            label = self._form().labelForField(widget)
            if label is not None:
                label.setVisible(some)
        if index is None:
            self.words.setText(
                self.tr("The cutter reaches every corner.")
                if job.parts
                else self.tr("No parts yet.")
            )
            return
        part = job.parts[index]
        self.own.show_value(part.relief)
        self.own.set_default(None)
        left = self._standing.get(part.id, ())
        relief = as_cut(job, part)
        shut = sum(not place.entered for place in left)
        said = []
        if relief.done:
            said.append(self.tr("{n} corners relieved").format(n=len(relief.done)))
        if left:
            said.append(self.tr("{n} places stay standing").format(n=len(left)))
        if shut:
            said.append(self.tr("the cutter does not fit into {n}").format(n=shut))
        self.words.setText("; ".join(said) or self.tr("Nothing stays standing."))
        self.picture.show_part(relief.part, index, left)

    def _form(self) -> QFormLayout:
        layout = self.layout()
        assert isinstance(layout, QFormLayout)
        return layout

    def summary(self) -> str:
        """Return what the section holds, in a few words."""
        relief = self.relief.words_of(self.document.job.relief)
        count = len(self._standing)
        if not count:
            return relief
        told = (
            self.tr("{relief} (1 part)")
            if count == 1
            else self.tr("{relief} ({n} parts)")
        )
        return told.format(relief=relief, n=count)

    def _put(self, relief: ReliefKind) -> None:
        job = replace(self.document.job, relief=relief)
        self.document.change(self.tr("Change the relief"), job)

    def _put_own(self, relief: ReliefKind | None) -> None:
        job = self.document.job
        parts = tuple(
            replace(p, relief=relief) if p.id == self.part.value else p
            for p in job.parts
        )
        text = self.tr("Change the relief of {name}").format(
            name=job.part(str(self.part.value)).name
        )
        self.document.change(text, replace(job, parts=parts))
