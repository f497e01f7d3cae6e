"""The strip on top: what the layout comes to, what is wrong, and `Nest`."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QLocale, Qt, QTimer, Signal
from PySide6.QtGui import (
    QAccessible,
    QAccessibleAnnouncementEvent,
    QColor,
    QPainter,
    QPaintEvent,
    QPalette,
)
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from ...io.units import format_length
from ..bench.sound import sound
from .document import Document
from .figures import Figures, figures_of
from .look import ink, main_button_style, sign
from .work_bar import LATE, WorkBar
from .yield_plot import YieldPlot


class VerdictStrip(QFrame):
    """The verdict, and the buttons that change it.

    Signals
    -------
    nest_wanted(), keep_wanted(), discard_wanted()
        A button was pressed.
    problem_wanted(object)
        The problem button was pressed: the key of a copy that lies wrongly.
    """

    nest_wanted = Signal()
    keep_wanted = Signal()
    discard_wanted = Signal()
    problem_wanted = Signal(object)

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.bound: int | None = None
        self.why = ""
        self.time_words = ""
        self._bound_for: tuple[object, ...] = ()
        self._problem_at = 0
        self._running = False
        self._ready = True
        self._level = "info"
        self._said = ""
        self.setAutoFillBackground(True)
        self.setBackgroundRole(QPalette.ColorRole.Base)
        self.setAccessibleName(self.tr("Verdict"))
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.headline = QLabel(self)
        self.headline.setTextFormat(Qt.TextFormat.PlainText)
        self.headline.setAccessibleName(self.tr("Verdict"))
        self.detail = QLabel(self)
        self.detail.setTextFormat(Qt.TextFormat.PlainText)
        for label in (self.headline, self.detail):
            label.setSizePolicy(
                QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred
            )
            label.setMinimumWidth(160)
        self.plot = YieldPlot(self)
        self.work = WorkBar(self)
        self.bar = QProgressBar(self)
        self.bar.setFixedWidth(130)
        self.bar.setRange(0, 1000)
        self.bar.setAccessibleName(self.tr("Time used"))
        self.problems = self._button("", self._next_problem)
        self.nest = self._button(self.tr("&Nest"), self.nest_wanted.emit)
        self.nest.setToolTip(
            self.tr(
                "Lay out everything that is not locked (Ctrl+Return). Better layouts "
                "appear as they are found; you can stop at any time."
            )
        )
        self.keep = self._button(self.tr("&Stop and keep"), self.keep_wanted.emit)
        self.keep.setToolTip(self.tr("End the search and take the layout shown now"))
        self.discard = self._button(self.tr("&Discard"), self.discard_wanted.emit)
        self.discard.setToolTip(self.tr("End the search and keep the layout as it was"))
        self._hint = QTimer(self)
        self._hint.setSingleShot(True)
        self._hint.setInterval(LATE)
        self._hint.timeout.connect(self._show_work)
        words = QVBoxLayout()
        words.setSpacing(1)
        words.addWidget(self.headline)
        words.addWidget(self.detail)
        row = QHBoxLayout(self)
        row.setContentsMargins(18, 8, 12, 9)
        row.setSpacing(10)
        row.addLayout(words, 1)
        for widget in (
            self.problems,
            self.work,
            self.plot,
            self.bar,
            self.keep,
            self.discard,
            self.nest,
        ):
            row.addWidget(widget)
        document.changed.connect(self.refresh)
        document.trial_changed.connect(self.refresh)
        self._enlarge()
        self.set_running(False)
        self.refresh()

    def _enlarge(self) -> None:
        """Let the headline be larger than other words."""
        font = self.font()
        font.setPointSizeF(font.pointSizeF() * 1.3)
        font.setBold(True)
        if self.headline.font() != font:
            self.headline.setFont(font)
        # What a search shows must not push everything else down.
        self.setMinimumHeight(self.plot.height() + 17)

    def _button(self, words: str, do: object) -> QPushButton:
        button = QPushButton(words, self)
        button.setMinimumHeight(32)
        button.clicked.connect(lambda: do())  # type: ignore[operator]
        return button

    # ------------------------------------------------------------ words

    def refresh(self) -> None:
        """Say what the document's layout comes to."""
        job = self.document.shown_job
        figures = figures_of(job)
        level, words = self._headline(figures)
        self._level = level
        self.update()
        self._dress()
        if words != self._said and not self._running:
            self._said = words
            told = QAccessibleAnnouncementEvent(self, words)
            QAccessible.updateAccessibility(told)
        self.headline.setText(f"{sign(level)}  {words}")
        self.headline.setStyleSheet(f"color: {ink(level, self.palette())}")
        self.detail.setText(self._detail(figures))
        self.detail.setToolTip(self.why if self._known_bound() is not None else "")
        bad = len(self.document.conflicts()) if level == "error" else 0
        self.problems.setVisible(bool(bad))
        one = self.tr("⚠ Show it")
        self.problems.setText(one if bad == 1 else self.tr("⚠ Show next"))
        self.problems.setStyleSheet(f"color: {ink('error', self.palette())}")
        self.problems.setToolTip(self.tr("Go to the next part that lies wrongly"))
        self.problems.setAccessibleName(self.problems.text())
        ready = bool(job.parts) and bool(job.stock)
        self.nest.setEnabled(ready and self._ready and not self._running)

    def _dress(self) -> None:
        """Let the one main button stand out."""
        style = main_button_style(self.palette(), self.font())
        if self.nest.styleSheet() != style:
            self.nest.setStyleSheet(style)

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the ground, with a bar in the verdict's colour on the left."""
        super().paintEvent(event)
        painter = QPainter(self)
        painter.fillRect(
            0, 0, 5, self.height(), QColor(ink(self._level, self.palette()))
        )
        line = self.palette().color(QPalette.ColorRole.Mid)
        painter.fillRect(0, self.height() - 1, self.width(), 1, line)
        painter.end()

    def _count(self, figures: Figures) -> str:
        pieces = []
        if figures.sheets or not figures.offcuts:
            one = figures.sheets == 1
            words = self.tr("{n} sheet") if one else self.tr("{n} sheets")
            if figures.sawn:
                blanks = (
                    self.tr("(1 blank sawn from them)")
                    if figures.sawn == 1
                    else self.tr("({n} blanks sawn from them)")
                )
                words += " " + blanks.replace("{n}", str(figures.sawn))
            pieces.append(words.format(n=figures.sheets))
        if figures.offcuts:
            one = figures.offcuts == 1
            words = self.tr("{n} offcut") if one else self.tr("{n} offcuts")
            pieces.append(words.format(n=figures.offcuts))
        return self.tr(" and ").join(pieces)

    def _headline(self, figures: Figures) -> tuple[str, str]:
        if not figures.wanted:
            return "info", self.tr("No parts yet")
        if not self.document.job.stock:
            return "info", self.tr("Say what to cut from: add a sheet under Stock")
        if not figures.placed:
            words = self.tr("{n} copies wait to be laid out")
            return "info", words.format(n=figures.wanted)
        words = self._count(figures)
        trial = self.document.shown_layout is not self.document.job.layout
        bad = 0 if trial else len(self.document.conflicts())
        if bad:
            more = (
                self.tr("{sheets}, but 1 part lies wrongly")
                if bad == 1
                else self.tr("{sheets}, but {n} parts lie wrongly")
            )
            return "error", more.format(sheets=words, n=bad)
        left = figures.wanted - figures.placed
        if left > 0:
            more = self.tr("{sheets}, {left} of {wanted} copies not placed")
            return "warn", more.format(sheets=words, left=left, wanted=figures.wanted)
        bound = self._known_bound()
        if bound is not None and figures.sheets <= bound:
            return "ok", self.tr("{sheets}, proven fewest").format(sheets=words)
        if bound is not None and bound > 0:
            more = self.tr("{sheets}; fewer than {bound} is impossible")
            return "ok", more.format(sheets=words, bound=bound)
        return "ok", words

    def _detail(self, figures: Figures) -> str:
        if not figures.placed:
            job = self.document.job
            return self.tr("gap {gap} · margin {margin}").format(
                gap=format_length(job.cutting.gap, job.units),
                margin=format_length(job.cutting.margin, job.units),
            )
        locale = QLocale()
        pieces = [
            self.tr("yield {share} %").format(
                share=locale.toString(100.0 * figures.yield_, "f", 1)
            )
        ]
        if figures.cost:
            pieces.append(
                self.tr("boards {cost}").format(
                    cost=locale.toString(figures.cost, "f", 2)
                )
            )
        if self.time_words:
            pieces.append(self.tr("cuts {time}").format(time=self.time_words))
        inches = self.document.job.units == "in"
        pieces.append(
            self.tr("lengths in inches") if inches else self.tr("lengths in mm")
        )
        return " · ".join(pieces)

    def _identity(self) -> tuple[object, ...]:
        job = self.document.job
        return job.parts, job.stock, job.cutting

    def _known_bound(self) -> int | None:
        """Return the proven bound, as long as it is about this order and stock."""
        if self.bound is None:
            return None
        now = self._identity()
        same = all(a is b for a, b in zip(now, self._bound_for, strict=True))
        return self.bound if same else None

    def set_bound(self, bound: int, why: str) -> None:
        """Take the bound that the engine has proven for the job as it is now."""
        self.bound, self.why = bound, why
        self._bound_for = self._identity()
        job = self.document.job
        # What share of sawn blanks is the most, a bound in sheets does not say.
        known = all(stock.sheet is None for stock in job.stock)
        areas = [stock.area for stock in job.stock if known and not stock.offcut]
        if bound > 0 and areas:
            wanted = sum(part.area * part.quantity for part in job.parts)
            self.plot.set_limit(wanted / (bound * min(areas)))
        self.refresh()

    def set_time(self, words: str) -> None:
        """Say how long the layout cuts; empty while nobody knows."""
        if words != self.time_words:
            self.time_words = words
            self.refresh()

    def set_ready(self, ready: bool) -> None:
        """Say whether a search may begin; not while files are read."""
        if ready != self._ready:
            self._ready = ready
            self.refresh()

    def _next_problem(self) -> None:
        keys = sorted(self.document.conflicts())
        if keys:
            self.problem_wanted.emit(keys[self._problem_at % len(keys)])
            self._problem_at += 1

    # ------------------------------------------------------------ running

    def set_running(self, running: bool) -> None:
        """Show what belongs to a search, or what belongs to rest."""
        self._running = running
        if running:
            self.plot.begin()
            self.bar.setValue(0)
            self._hint.start()
        else:
            self._hint.stop()
            self.nest.show()
            for widget in (self.plot, self.bar, self.keep, self.discard):
                widget.hide()
        self.refresh()

    def _show_work(self) -> None:
        self.nest.setVisible(not self._running)
        for widget in (self.plot, self.bar, self.keep, self.discard):
            widget.setVisible(self._running)

    def show_time(self, seconds: float, limit: float) -> None:
        """Show how much of the time is used."""
        self.bar.setValue(round(1000 * min(seconds / max(limit, 1e-6), 1.0)))
        # The first layout is waited for, however long it takes.
        late = seconds > limit
        words = self.tr("{now} s") if late else self.tr("{now} of {limit} s")
        self.bar.setFormat(words.format(now=int(seconds), limit=round(limit)))
        self.plot.pass_time(seconds)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette and the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "problems"):
            self._enlarge()
            self._dress()
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "problems"):
            if not getattr(self, "_following", False):
                self._following = True
                self.refresh()
                self._following = False
