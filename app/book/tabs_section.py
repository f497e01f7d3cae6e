"""Tabs of one part after the other: seen, put, moved and taken away."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QWidget,
)

from ...nesting.model.part import Part
from ...nesting.shop.tabs import (
    Tab,
    hole_tabs,
    in_hole,
    tab_at,
    tabs_for,
    tabs_of,
    with_tab_list,
)
from ..window.document import Document
from . import words
from .boxes import edge_palette
from .buttons import push_button
from .fields import ChoiceField, form_layout
from .fold import Remarks
from .length_field import LengthField
from .shop import Shop
from .tabs_picture import TabsPicture


class TabsSection(QWidget):
    """A picture and a list of the tabs of the chosen part; both do the same."""

    def __init__(
        self, document: Document, shop: Shop, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.shop = shop
        form = form_layout(self)
        self._form = form
        self.part = ChoiceField(self.tr("Part with tabs"), [], self)
        self.part.box.setToolTip(self.tr("Whose tabs are shown and changed"))
        label = QLabel(self.tr("Tabs of"), self)
        label.setBuddy(self.part.box)
        form.addRow(label, self.part)
        self.part.entered.connect(lambda _: self.refresh())
        self.picture = TabsPicture(self)
        form.addRow(self.picture)
        self.list = QListWidget(self)
        self.list.setAccessibleName(self.tr("Tabs of the part"))
        self.list.setPalette(edge_palette(self.palette()))
        self.list.setFixedHeight(96)
        self.list.currentRowChanged.connect(lambda _: self._show_chosen())
        form.addRow(self.list)
        self.places: list[LengthField] = []
        for axis, name in enumerate(
            (self.tr("Middle of the tab, X"), self.tr("Middle of the tab, Y"))
        ):
            field = LengthField(name, lambda: document.job, self, -1e5, 1e5)
            field.focus_widget().setToolTip(
                self.tr("The tab goes to the nearest place that keeps off corners")
            )
            head = QLabel(name, self)
            head.setBuddy(field.focus_widget())
            form.addRow(head, field)
            field.entered.connect(lambda value, a=axis: self._typed(a, value))
            self.places.append(field)
        self.add = push_button(
            self,
            self.tr("One more tab"),
            self.tr("In the middle of the longest stretch without one"),
            self.add_tab,
        )
        self.remove = push_button(
            self,
            self.tr("Take it away"),
            self.tr("The selected tab"),
            self.remove_tab,
        )
        self.anew = push_button(
            self,
            self.tr("Work out anew"),
            self.tr("Tabs as size and edge ask for, on this part"),
            self.work_out,
        )
        buttons = QWidget(self)
        row = QHBoxLayout(buttons)
        row.setContentsMargins(0, 0, 0, 0)
        for button in (self.add, self.remove, self.anew):
            row.addWidget(button)
        row.addStretch(1)
        form.addRow(buttons)
        self._buttons = buttons
        self.remarks = Remarks(self)
        form.addRow(self.remarks)
        self.picture.chosen.connect(self.list.setCurrentRow)
        self.picture.wanted.connect(lambda x, y: self.put_tab((x, y)))
        self.picture.moved.connect(lambda i, x, y: self.move_tab(i, (x, y)))
        self.refresh()

    # ------------------------------------------------------------ showing

    def _part(self) -> Part | None:
        parts = self.document.job.parts
        return next((part for part in parts if part.id == self.part.value), None)

    def tabs(self) -> tuple[Tab, ...]:
        """Return the tabs of the part that is shown."""
        part = self._part()
        return tabs_of(part) if part is not None else ()

    def refresh(self) -> None:
        """Show what the document holds."""
        wanted = [part for part in self.document.job.parts if part.quantity]
        chosen = self.part.value
        ids = [part.id for part in wanted]
        self.part.set_choices([(part.id, part.name) for part in wanted])
        self.part.show_value(chosen if chosen in ids else next(iter(ids), None))
        part = self._part()
        self.setVisible(part is not None)
        row = self.list.currentRow()
        self.list.blockSignals(True)
        self.list.clear()
        job = self.document.job
        for number, tab in enumerate(self.tabs(), 1):
            x, y = (words.shown(value, job) for value in tab.middle)
            where = (
                self.tr("in a hole")
                if part is not None and in_hole(part, tab)
                else self.tr("outer edge")
            )
            self.list.addItem(
                self.tr("{n} · {where} · {x}, {y} {unit}").format(
                    n=number, where=where, x=x, y=y, unit=job.units
                )
            )
        self.list.blockSignals(False)
        self.list.setCurrentRow(min(max(row, 0), self.list.count() - 1))
        self._show_chosen()

    def _show_chosen(self) -> None:
        part, tabs, row = self._part(), self.tabs(), self.list.currentRow()
        some = 0 <= row < len(tabs)
        self.remove.setEnabled(some)
        for axis, field in enumerate(self.places):
            field.setEnabled(some)
            field.show_length(tabs[row].middle[axis] if some else 0.0)
        if part is not None:
            index = self.document.job.parts.index(part)
            self.picture.show_part(part, index, tabs, row)

    # ------------------------------------------------------------ changing

    def _put(self, text: str, tabs: Sequence[Tab], chosen: int) -> None:
        """Give the part these tabs, as one step."""
        part, job = self._part(), self.document.job
        if part is None:
            return
        new = with_tab_list(part, tabs)
        # Without any, what size and rule ask for would be put there again.
        own = False if not tabs else None if part.tabs is False else part.tabs
        new = replace(new, tabs=own)
        parts = tuple(new if p.id == part.id else p for p in job.parts)
        self.remarks.say([])
        self.document.change(text.format(name=part.name), replace(job, parts=parts))
        self.list.setCurrentRow(chosen)

    def _at(self, place: tuple[float, float], others: Sequence[Tab]) -> Tab | None:
        """Return the tab nearest to a place, if it keeps off the others."""
        part = self._part()
        if part is None:
            return None
        practice = self.shop.setup.practice
        tab = tab_at(part, place, self.document.job.cutting.cutter, practice)
        if tab is None:
            self.remarks.say([("warn", self.tr("No edge is long enough for a tab."))])
        elif any(
            math.dist(tab.middle, other.middle) < practice.tab_width for other in others
        ):
            self.remarks.say([("warn", self.tr("Another tab stands there."))])
            return None
        return tab

    def put_tab(self, place: tuple[float, float]) -> None:
        """Put a tab nearest to a place of the part, mm."""
        tabs = self.tabs()
        tab = self._at(place, tabs)
        if tab is not None:
            self._put(self.tr("Put a tab on {name}"), (*tabs, tab), len(tabs))

    def move_tab(self, index: int, place: tuple[float, float]) -> None:
        """Move a tab to the place nearest to that one, mm."""
        tabs = list(self.tabs())
        others = tabs[:index] + tabs[index + 1 :]
        tab = self._at(place, others)
        if tab is not None:
            tabs[index] = tab
            self._put(self.tr("Move a tab of {name}"), tabs, index)
        else:
            self._show_chosen()

    def _typed(self, axis: int, value: float) -> None:
        row, tabs = self.list.currentRow(), self.tabs()
        if 0 <= row < len(tabs):
            place = list(tabs[row].middle)
            place[axis] = value
            self.move_tab(row, (place[0], place[1]))

    def add_tab(self) -> None:
        """Put a tab where the outer edge has the longest stretch without one."""
        part = self._part()
        if part is None:
            return
        edge = part.outline.outer.flatten(0.05)
        middles = [tab.middle for tab in self.tabs()]
        far = max(
            edge.tolist(),
            key=lambda p: min((math.dist(p, m) for m in middles), default=0.0),
        )
        self.put_tab((far[0], far[1]))

    def remove_tab(self) -> None:
        """Take the selected tab away."""
        row, tabs = self.list.currentRow(), list(self.tabs())
        if 0 <= row < len(tabs):
            del tabs[row]
            self._put(self.tr("Take a tab off {name}"), tabs, min(row, len(tabs) - 1))

    def work_out(self) -> None:
        """Work the part's tabs out anew, as if it asked for some."""
        part, job = self._part(), self.document.job
        if part is None:
            return
        practice, cutter = self.shop.setup.practice, job.cutting.cutter
        tabs = tabs_for(part, cutter, practice)
        if job.holding.drop_outs:
            tabs += hole_tabs(part, cutter, practice)
        self._put(self.tr("Work out the tabs of {name}"), tabs, 0)
