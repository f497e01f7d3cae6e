"""What was found in files: a list; of the chosen one, where it is and what to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QEvent, Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from ...io.findings import Finding, Severity
from ...nesting.model.job import Job
from ..bench.sound import sound
from ..window.engine_process import Ended, EngineProcess, Found
from ..window.look import sign, sign_icon
from .boxes import tint
from .finding_picture import FindingPicture
from .sketch import Sketch

WORK = "drystone.app.window.reading:sketch"
LATE = 700
"""Nothing tells of work that takes less than this, milliseconds."""

LEVELS = {Severity.INFO: "info", Severity.WARNING: "warn", Severity.ERROR: "error"}
KEPT = 24
"""So many sketches are kept."""


class FindingsBox(QWidget):
    """The list of findings and the chosen one's picture; hidden while there is none.

    Signals
    -------
    cleared()
        The user has put all findings away.
    """

    cleared = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._found: tuple[Finding, ...] = ()
        self._units: dict[str, str] = {}
        self._sketches: dict[str, Sketch | str] = {}
        self._asked = ""
        self._process = EngineProcess(WORK, self)
        self._process.found.connect(self._arrived)
        self._process.ended.connect(self._ended)
        self._late = QTimer(self)
        self._late.setSingleShot(True)
        self._late.setInterval(LATE)
        self._late.timeout.connect(self._tell_late)
        self.head = QLabel(self.tr("&Found in the files"), self)
        self.list = QListWidget(self)
        self.list.setAccessibleName(self.tr("Findings"))
        self.list.setWordWrap(True)
        self.list.setMinimumHeight(72)
        # The picture comes first: the list asks for no more than its least height.
        policy = QSizePolicy.Policy
        self.list.setSizePolicy(policy.Expanding, policy.Ignored)
        self.list.setToolTip(self.tr("Choose one to see where it is and what to do"))
        self.list.currentRowChanged.connect(self._choose)
        self.head.setBuddy(self.list)
        self.picture = FindingPicture(self)
        self.what = QLabel(self)
        self.cure = QLabel(self)
        for label in (self.what, self.cure):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.clear = QPushButton(self.tr("&Clear findings"), self)
        self.clear.setMinimumHeight(28)
        self.clear.clicked.connect(self._clear)
        top = QHBoxLayout()
        top.addWidget(self.head, 1)
        top.addWidget(self.clear)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 0)
        column.addLayout(top)
        column.addWidget(self.list, 2)
        column.addWidget(self.picture, 3)
        column.addWidget(self.what)
        column.addWidget(self.cure)
        self.show_findings(())

    def show_findings(
        self, findings: Sequence[Finding], units: Mapping[str, str] | None = None
    ) -> None:
        """List findings, the gravest first.

        Parameters
        ----------
        units : mapping, optional
            The unit that each file was read in, by its path, as `look_at` takes it.
        """
        order = list(LEVELS)
        self._found = tuple(sorted(findings, key=lambda f: -order.index(f.severity)))
        self._units = dict(units or {})
        self._sketches.clear()
        self._fill()
        self.setVisible(bool(self._found))

    def _clear(self) -> None:
        self.show_findings(())
        self.cleared.emit()

    def close_down(self) -> None:
        """End what runs."""
        self._late.stop()
        self._process.close()

    def _fill(self) -> None:
        row = max(self.list.currentRow(), 0)
        self.list.blockSignals(True)
        self.list.clear()
        for finding in self._found:
            level = LEVELS[finding.severity]
            what, _ = _in_two(finding)
            name = _name(finding)
            words = f"{name}: {what}" if name else what
            item = QListWidgetItem(sign_icon(level, self.palette()), words)
            item.setToolTip(f"{words}\n{finding.entity}".strip())
            said = f"{level}: {words}"
            item.setData(Qt.ItemDataRole.AccessibleTextRole, said)
            self.list.addItem(item)
        self.list.blockSignals(False)
        if self._found:
            self.list.setCurrentRow(min(row, len(self._found) - 1))
            self._choose(self.list.currentRow())

    # ------------------------------------------------------------ the chosen one

    @property
    def chosen(self) -> Finding | None:
        """The finding that is shown."""
        row = self.list.currentRow()
        return self._found[row] if 0 <= row < len(self._found) else None

    def _choose(self, row: int) -> None:
        finding = self.chosen
        if finding is None:
            return
        _, cure = _in_two(finding)
        level = LEVELS[finding.severity]
        where = finding.entity
        if finding.place is not None:
            x, y = finding.place
            place = self.tr("at x {x}, y {y} mm").format(x=f"{x:.1f}", y=f"{y:.1f}")
            where = f"{where}, {place}" if where else place
        self.what.setText(where)
        self.what.setVisible(bool(where))
        done = self.tr("Mended; nothing to do.") if finding.fixed else ""
        todo = f"{cure[:1].upper()}{cure[1:]}." if cure else done
        self.cure.setText(f"{sign(level)}  {todo}" if todo else "")
        tint(self.cure, level)
        self.cure.setVisible(bool(todo))
        located = finding.place is not None and bool(finding.file)
        self.picture.setVisible(located)
        if located:
            self._show_sketch(finding)

    def _show_sketch(self, finding: Finding) -> None:
        known = self._sketches.get(finding.file)
        if isinstance(known, Sketch):
            self.picture.show_place(known, finding.place)
        elif known is not None:
            self.picture.show_words(known)
        elif self.isVisible():
            self._ask(finding.file)

    def _ask(self, file: str) -> None:
        if self._process.running and self._asked == file:
            return
        self.picture.show_words("")
        self._asked = file
        self._late.start()
        options = {"path": file, "units": self._units.get(file, "")}
        try:
            self._process.start(Job(""), options=options)
        except OSError:
            self._failed()

    @sound
    def showEvent(self, event: object) -> None:
        """Look the drawing up that was not needed before."""
        super().showEvent(event)  # type: ignore[arg-type]
        self._choose(self.list.currentRow())

    def _tell_late(self) -> None:
        self.picture.show_words(
            self.tr("Looking at {name}…").format(name=Path(self._asked).name)
        )

    def _arrived(self, found: Found) -> None:
        while len(self._sketches) >= KEPT:
            self._sketches.pop(next(iter(self._sketches)))
        self._sketches[self._asked] = found.figures["sketch"]
        self._late.stop()
        self._choose(self.list.currentRow())

    def _ended(self, ended: Ended) -> None:
        if ended.reason in ("failed", "died"):
            self._failed()

    def _failed(self) -> None:
        self._late.stop()
        self._sketches[self._asked] = self.tr(
            "{name} cannot be looked at any more: it has moved or changed."
        ).format(name=Path(self._asked).name)
        self._choose(self.list.currentRow())

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "cure"):
            self._fill()


def _name(finding: Finding) -> str:
    return finding.file.replace("\\", "/").rpartition("/")[2]


OWN_CURES = {
    "units-unknown": "add the drawing again to choose another size",
    "units-doubtful": "add the drawing again to choose another size",
    "svg-no-size": "add the drawing again to choose another size",
    "layer-meaning": "say otherwise under Layers and colours",
    "colours": "say what a colour means under Layers and colours",
    "not-cut": "if it is to be cut, say what it means under Layers and colours",
}
"""What to do in the window where a reader speaks of the command line."""


def _in_two(finding: Finding) -> tuple[str, str]:
    """Return what was found, and what to do about it."""
    from ...io.finding_table import parted

    what, cure = parted(finding)
    own = OWN_CURES.get(finding.code)
    if own is not None:
        cure = QCoreApplication.translate("FindingsBox", own)
    return what, cure.rstrip(".")
