"""What if: the same order with other cutters, gaps, margins, sheets, turns, numbers."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QProgressBar,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.job import Job
from ...nesting.model.rules import TurnRule
from ...nesting.shop.time import spoken
from ..bench.sound import sound
from ..trying import Change, Outcome, Variant, changed, variants
from ..window.document import Document
from ..window.engine_process import Ended, EngineProcess, Found
from ..window.task import Task
from . import words
from .bars import BarsPlot, Group
from .buttons import push_button
from .fields import FlagField, SecondsBox, TextField, form_layout
from .fold import Fold, PageColumn, Remarks
from .shop import Shop

WORK = "drystone.app.book.book_work:what_if"
MOST = 60
"""More variants than this are refused."""

Index = QModelIndex | QPersistentModelIndex


class OutcomeModel(QAbstractTableModel):
    """Outcomes as a table; variants that are not done yet have dots."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.variants: tuple[Variant, ...] = ()
        self.outcomes: dict[int, Outcome] = {}
        self.heads = (
            self.tr("Variant"),
            self.tr("Sheets"),
            self.tr("Price"),
            self.tr("Runs"),
            self.tr("Yield"),
        )

    def begin(self, wanted: tuple[Variant, ...]) -> None:
        """Show variants without outcomes."""
        self.beginResetModel()
        self.variants, self.outcomes = wanted, {}
        self.endResetModel()

    def take(self, place: int, outcome: Outcome) -> None:
        """Show an outcome."""
        self.outcomes[place] = outcome
        last = len(self.heads) - 1
        self.dataChanged.emit(
            self.index(0, 0), self.index(len(self.variants) - 1, last)
        )

    def rowCount(self, parent: Index | None = None) -> int:
        """Return how many variants there are."""
        return 0 if parent is not None and parent.isValid() else len(self.variants)

    def columnCount(self, parent: Index | None = None) -> int:
        """Return how many columns there are."""
        return 0 if parent is not None and parent.isValid() else len(self.heads)

    def headerData(
        self,
        section: int,
        orientation: Qt.Orientation,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> Any:
        """Return what stands above a column."""
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.heads[section]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = (
                Qt.AlignmentFlag.AlignRight if section else Qt.AlignmentFlag.AlignLeft
            )
            return side | Qt.AlignmentFlag.AlignVCenter
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows."""
        row, column = index.row(), index.column()
        text = self.text(row, column)
        if role == Qt.ItemDataRole.DisplayRole:
            return text
        if role == Qt.ItemDataRole.ToolTipRole:
            outcome = self.outcomes.get(row)
            return (outcome.trouble if outcome else "") or text
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{self.variants[row].name}, {self.heads[column]}: {text}"
        if role == Qt.ItemDataRole.TextAlignmentRole and column:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        return None

    def text(self, row: int, column: int) -> str:
        """Return the words of a cell."""
        if column == 0:
            return self.variants[row].name
        outcome = self.outcomes.get(row)
        if outcome is None:
            return "…"
        if outcome.trouble:
            return self.tr("none") if column > 1 else f"✕ {outcome.trouble}"
        if column == 1:
            return sheets_words(outcome)
        if column == 2:
            best = self._best(lambda o: o.cost) == row
            return f"{outcome.cost:.2f}" + (" ◂" if best else "")
        if column == 3:
            best = self._best(lambda o: o.seconds) == row
            return spoken(outcome.seconds) + (" ◂" if best else "")
        return f"{100.0 * outcome.share:.1f} %"

    def _best(self, figure: Callable[[Outcome], float]) -> int | None:
        known = [
            (figure(outcome), row)
            for row, outcome in self.outcomes.items()
            if not outcome.trouble and not outcome.missing
        ]
        return min(known)[1] if len(known) > 1 else None

    def as_text(self) -> str:
        """Return the table as text with tabs, for a spreadsheet."""
        lines = ["\t".join(self.heads)]
        for row in range(len(self.variants)):
            cells = [self.text(row, column) for column in range(len(self.heads))]
            lines.append("\t".join(cells).replace(" ◂", ""))
        return "\n".join(lines) + "\n"


def sheets_words(outcome: Outcome) -> str:
    """Return the number of sheets and what is known about fewer."""
    text = str(outcome.sheets)
    if outcome.missing:
        return f"{text} ({outcome.missing} left over)"
    return f"{text} ✓ fewest" if outcome.sheets <= outcome.bound else text


def groups_of(names: list[Variant], outcomes: dict[int, Outcome]) -> list[Group]:
    """Return outcomes as groups of bars: sheets, price, time."""

    def group(title: str, figure: Callable[[Outcome], float], shown: Any) -> Group:
        values, labels = [], []
        for place in range(len(names)):
            outcome = outcomes.get(place)
            known = outcome is not None and not outcome.trouble
            values.append(figure(outcome) if known and outcome else math.nan)
            labels.append(shown(outcome) if known else "…" if outcome is None else "–")
        return Group(title, tuple(values), tuple(labels))

    return [
        group("sheets", lambda o: float(o.sheets), sheets_words),
        group("price", lambda o: o.cost, lambda o: f"{o.cost:.2f}"),
        group("machine runs", lambda o: o.seconds, lambda o: spoken(o.seconds)),
    ]


class WhatIfPage(QWidget):
    """The page of variants.

    Signals
    -------
    running_changed(bool)
        Variants are being tried, or are not any more.
    """

    running_changed = Signal(bool)

    def __init__(
        self, document: Document, shop: Shop, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.shop = shop
        self.engine = EngineProcess(WORK, self)
        self.engine.found.connect(self._found)
        self.engine.ended.connect(self._ended)
        self.engine.going.connect(lambda told: self._going(told.share, told.words))
        self._asked: Job | None = None
        self._task: Task | None = None
        page = PageColumn(self)
        inner = page.inner
        self.model = OutcomeModel(self)
        self.intro = QLabel(
            self.tr(
                "What would the same order come to with other values? Write some of "
                "them, parted by semicolons; an empty line stays as it is."
            ),
            inner,
        )
        self.intro.setWordWrap(True)
        page.add(self.intro)
        page.sections.addLayout(self._form(inner))
        self.count = QLabel(inner)
        self.count.setWordWrap(True)
        page.add(self.count)
        self.start = push_button(
            inner,
            self.tr("&Try them"),
            self.tr("Lay out and quote every variant, in the background"),
            self.begin,
        )
        self.stop = push_button(
            inner,
            self.tr("&Stop"),
            self.tr("End now; what is known already stays"),
            self.engine.stop,
        )
        self.bar = QProgressBar(inner)
        self.bar.setRange(0, 1000)
        self.bar.setFormat(self.tr("%p %"))
        self.bar.setAccessibleName(self.tr("Variants done"))
        row = QHBoxLayout()
        row.addWidget(self.start)
        row.addWidget(self.stop)
        row.addWidget(self.bar, 1)
        row.addStretch(0)
        page.sections.addLayout(row)
        self.remarks = Remarks(inner)
        page.add(self.remarks)
        self.table = QTableView(inner)
        self.table.setModel(self.model)
        self.table.setAccessibleName(self.tr("Variants"))
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)
        self.table.setShowGrid(False)
        self.table.setAlternatingRowColors(True)
        self.table.verticalHeader().setVisible(False)
        heads = self.table.horizontalHeader()
        heads.setHighlightSections(False)
        heads.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        # Figures are shown whole; what is varied has the rest of the width.
        heads.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.table.setWordWrap(False)
        self.table.setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.table.selectionModel().selectionChanged.connect(self._enable)
        page.add(self.table)
        self.take = push_button(
            inner,
            self.tr("T&ake this one"),
            self.tr("Make its values, and the layout it was tried with, the job's"),
            self.take_chosen,
        )
        self.copy = push_button(
            inner,
            self.tr("&Copy the table"),
            self.tr("As rows for a spreadsheet"),
            self._copy,
        )
        self.save = push_button(
            inner,
            self.tr("Save the &plot…"),
            self.tr("As SVG or PDF"),
            self._choose_plot,
        )
        for buttons in ((self.take,), (self.copy, self.save)):
            after = QHBoxLayout()
            for button in buttons:
                after.addWidget(button)
            after.addStretch(1)
            page.sections.addLayout(after)
        self.plot = BarsPlot(inner)
        self.plot_fold = Fold(self.tr("Plot"), self.plot, inner)
        self.plot_fold.set_open(True)
        page.add(self.plot_fold)
        page.finish()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(page)
        document.changed.connect(self.refresh)
        document.opened.connect(self._forget)
        self._set_running(False)
        self._forget()

    # ------------------------------------------------------------ what is tried

    def _form(self, parent: QWidget) -> QFormLayout:
        form = form_layout()
        job = self._job

        def field(label: str, tip: str, read: Any, write: Any, unit: bool) -> TextField:
            name = label.replace("&", "")
            found = TextField(
                name,
                read,
                write,
                (lambda: job().units) if unit else (lambda: ""),
                parent,
                24,
            )
            found.line.setToolTip(tip)
            head = QLabel(label, parent)
            head.setBuddy(found.line)
            head.setToolTip(tip)
            form.addRow(head, found)
            found.entered.connect(lambda _: self.refresh())
            found.show_value(())
            return found

        def lengths(text: str) -> tuple[float, ...]:
            return words.lengths(text, job(), zero=True)

        def shown(values: tuple[float, ...]) -> str:
            return words.shown_lengths(values, job())

        self.cutter = field(
            self.tr("Cut &width"),
            self.tr("Such as 3.175; 6"),
            lengths,
            shown,
            True,
        )
        self.allowance = field(
            self.tr("A&llowance"), self.tr("Such as 0; 1.5; 3"), lengths, shown, True
        )
        self.margin = field(
            self.tr("Mar&gin"), self.tr("Such as 8; 15"), lengths, shown, True
        )
        self.sheet = field(
            self.tr("Sheet si&ze"),
            self.tr("Such as 2440 x 1220; 2500 x 1250; priced by area"),
            lambda text: words.sizes(text, job()),
            lambda sizes: "; ".join(words.shown_size(s, job()) for s in sizes),
            True,
        )
        self.turn = field(
            self.tr("Turn r&ule"),
            self.tr("Such as any; 90; grain: of all parts"),
            _turns,
            "; ".join,
            False,
        )
        self.times = field(
            self.tr("Ti&mes the order"),
            self.tr("Such as 2; 5; 10"),
            lambda text: words.numbers(text, 0.01, 1000.0),
            lambda values: "; ".join(words.shown_number(v) for v in values),
            False,
        )
        self.every = FlagField(self.tr("&Every combination of them"), parent)
        self.every.box.setToolTip(self.tr("Instead of one change at a time"))
        self.every.show_value(False)
        self.every.entered.connect(lambda _: self.refresh())
        form.addRow(self.every)
        self.seconds = SecondsBox(self.tr("Time for each"), 600, 10, parent)
        self.seconds.setToolTip(self.tr("The longer, the nearer to what can be had"))
        self.seconds.valueChanged.connect(lambda _: self.refresh())
        head = QLabel(self.tr("Time &for each"), parent)
        head.setBuddy(self.seconds)
        form.addRow(head, self.seconds)
        return form

    def _job(self) -> Job:
        return self.document.job

    def wanted(self) -> tuple[Variant, ...]:
        """Return the order as it is, then the variants that are asked for."""
        job = self.document.job

        def changes(kind: str, name: str, values: Any, shown: Any) -> list[Change]:
            return [Change(kind, v, f"{name} {shown(v)}") for v in values]

        def length(mm: float) -> str:
            return words.with_unit(mm, job)

        options = [
            changes("cutter", self.tr("cut width"), self.cutter.value, length),
            changes("allowance", self.tr("allowance"), self.allowance.value, length),
            changes("margin", self.tr("margin"), self.margin.value, length),
            changes(
                "sheet",
                self.tr("sheet"),
                self.sheet.value,
                lambda size: words.said_size(size, job),
            ),
            changes("turn", self.tr("turn"), self.turn.value, str),
            [
                Change(
                    "times",
                    n,
                    self.tr("{n} times the order").format(n=words.shown_number(n)),
                )
                for n in self.times.value
            ],
        ]
        return tuple(variants(options, bool(self.every.value)))

    # ------------------------------------------------------------ showing

    def refresh(self) -> None:
        """Show what would be tried, and whether what was tried still counts."""
        for field in (self.cutter, self.allowance, self.margin, self.sheet):
            field.show_value(field.value)
        job = self.document.job
        count = len(self.wanted()) - 1
        ready = bool(job.parts and job.stock)
        if not ready:
            text = self.tr("Add parts and stock first.")
        elif not count:
            text = self.tr("Nothing is to be different yet.")
        elif count > MOST:
            text = self.tr("{n} variants are too many; at most {most}.").format(
                n=count, most=MOST
            )
        else:
            text = self.tr("{n} variants and the order as it is, about {time}.").format(
                n=count, time=spoken((count + 1) * (self.seconds.value() + 2.0))
            )
        self.count.setText(text)
        self.start.setEnabled(ready and 0 < count <= MOST and not self.engine.running)
        self._enable()
        if self._asked is not None and not self.engine.running:
            if self._is_stale():
                text = self.tr("The job has changed since these were tried.")
                self.remarks.say([("warn", text)])

    def _is_stale(self) -> bool:
        asked, job = self._asked, self.document.job
        return asked is not None and any(
            a is not b
            for a, b in (
                (asked.parts, job.parts),
                (asked.stock, job.stock),
                (asked.cutting, job.cutting),
            )
        )

    def _enable(self) -> None:
        row = self._chosen()
        outcome = None if row is None else self.model.outcomes.get(row)
        usable = outcome is not None and not outcome.trouble
        self.take.setEnabled(usable and not self.engine.running)
        some = bool(self.model.outcomes)
        for widget in (self.copy, self.save):
            widget.setEnabled(some)
        for shown in (self.table, self.take, self.copy, self.save, self.plot_fold):
            shown.setVisible(bool(self.model.variants))

    def _chosen(self) -> int | None:
        rows = self.table.selectionModel().selectedRows()
        return rows[0].row() if rows else None

    def _forget(self) -> None:
        """Show no outcome: another job was opened."""
        self.engine.close()
        self._asked = None
        self.model.begin(())
        self.remarks.say([])
        self._set_running(False)
        self.refresh()

    # ------------------------------------------------------------ trying

    def begin(self) -> None:
        """Try the variants, in a process of its own."""
        wanted = self.wanted()
        self._asked = self.document.job
        self.model.begin(wanted)
        self._fit()
        self.plot.show_bars([v.name for v in wanted], self._groups())
        self.remarks.say([])
        try:
            self.engine.start(
                self._asked,
                seconds=float(self.seconds.value()),
                workers=side_by_side(),
                options={"setup": self.shop.setup, "variants": wanted},
            )
        except OSError as error:
            self.remarks.say([("error", str(error))])
            return
        self._set_running(True)

    def _set_running(self, running: bool) -> None:
        self.stop.setVisible(running)
        self.bar.setVisible(running)
        self.start.setVisible(not running)
        if running:
            self.bar.setRange(0, 0)
        self.refresh()
        self.running_changed.emit(running)

    def _going(self, share: float, text: str) -> None:
        if share < 0.0:
            self.bar.setRange(0, 0)
        else:
            self.bar.setRange(0, 1000)
            self.bar.setValue(round(1000 * share))
        self.bar.setToolTip(text)

    def _found(self, found: Found) -> None:
        if "outcome" not in found.figures:
            return
        self.model.take(found.figures["place"], found.figures["outcome"])
        self.bar.setRange(0, 1000)
        done = len(self.model.outcomes) / max(len(self.model.variants), 1)
        self.bar.setValue(round(1000 * done))
        self.plot.show_bars([v.name for v in self.model.variants], self._groups())
        self._fit()
        self._enable()

    def _groups(self) -> list[Group]:
        return groups_of(list(self.model.variants), self.model.outcomes)

    def _ended(self, ended: Ended) -> None:
        self._set_running(False)
        count, all_ = len(self.model.outcomes), len(self.model.variants)
        if ended.reason in ("failed", "died"):
            self.remarks.say([("error", ended.words)])
        elif count < all_:
            text = self.tr("Stopped: {n} of {all} were tried.")
            self.remarks.say([("info", text.format(n=count, all=all_))])
        elif not self._is_stale():
            self.remarks.say([])

    def _fit(self) -> None:
        for column in range(1, self.model.columnCount()):
            self.table.resizeColumnToContents(column)
        most = 26 * self.fontMetrics().averageCharWidth()
        if self.table.columnWidth(1) > most:  # it may tell of trouble instead
            self.table.setColumnWidth(1, most)
        row = max(28, self.fontMetrics().height() + 10)
        self.table.verticalHeader().setDefaultSectionSize(row)
        count = min(max(self.model.rowCount(), 2), 10)
        head = self.table.horizontalHeader().sizeHint().height()
        self.table.setFixedHeight(head + count * row + 20)

    # ------------------------------------------------------------ afterwards

    def take_chosen(self) -> None:
        """Make the chosen variant's values the job's, as one step."""
        row = self._chosen()
        outcome = None if row is None else self.model.outcomes.get(row)
        if outcome is None or outcome.trouble:
            return
        job = self.document.job
        text = self.tr("Take {variant}").format(variant=outcome.variant.name)
        if outcome.laid is not None and not self._is_stale():
            taken = replace(
                outcome.laid,
                name=job.name,
                units=job.units,
                relief=job.relief,
                holding=job.holding,
            )
        else:
            taken = changed(job, outcome.variant)
        if self.document.change(text, taken):
            self._asked = self.document.job
            said = self.tr("Taken: {variant}. Undo brings the values back.")
            self.remarks.say([("ok", said.format(variant=outcome.variant.name))])

    def _copy(self) -> None:
        from PySide6.QtGui import QGuiApplication

        QGuiApplication.clipboard().setText(self.model.as_text())

    def _choose_plot(self) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self,
            self.tr("Save the plot"),
            "what-if.pdf",
            self.tr("PDF (*.pdf);;SVG (*.svg)"),
        )
        if name:
            self.save_plot(Path(name))

    def save_plot(self, path: Path) -> None:
        """Write the plot to a file, on another thread."""
        names = [variant.name for variant in self.model.variants]
        groups, title = self._groups(), self.document.job.name
        units = self.document.job.units

        def work(stopped: Callable[[], bool]) -> str:
            from ...io.atomic import write_atomically
            from ...io.whatif_plot import Bars, plot_pdf, plot_svg

            bars = [Bars(g.title, g.values, g.labels) for g in groups]
            if path.suffix.lower() == ".svg":
                data = plot_svg(title, names, bars)
            else:
                data = plot_pdf(title, names, bars, units=units)
            write_atomically(path, data)
            return path.name

        self._task = Task(work, self)
        self._task.done.connect(
            lambda name: self.remarks.say(
                [("ok", self.tr("{name} was written.").format(name=name))]
            )
        )
        self._task.failed.connect(
            lambda error: self.remarks.say([("error", str(error))])
        )
        self._task.start()

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "plot"):
            self._fit()
            self.plot.updateGeometry()

    def close_down(self) -> None:
        """End what runs."""
        self.engine.close()
        if self._task is not None:
            self._task.close()


def side_by_side() -> int:
    """Return how many variants are tried at a time.

    All cores but one, four at most; both of two, since the window has little to do.
    """
    cores = os.cpu_count() or 1
    return min(4, max(cores - 1, min(cores, 2)))


def _turns(text: str) -> tuple[str, ...]:
    found = tuple(piece.strip() for piece in text.split(";") if piece.strip())
    for piece in found:
        TurnRule.parse(piece)
    return found
