"""Files taken in: dropped, chosen, or named when the program starts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from ...io.job_file import SUFFIX
from ...io.known_size import scale_text
from ...io.limits import STEPS, Limits, TooLarge
from ..book.importing import DRAWINGS, SAMPLE, WHOLE, Read, read_anew, with_parts
from ..book.reading_again import (
    Again,
    alike,
    located,
    not_found,
    units_of,
    with_source,
)
from .document import Document
from .files import Files
from .reader import Reader

if TYPE_CHECKING:
    from ...io.read_drawing import ReadDrawing


class Importer(QObject):
    """Sorts files, has them read, asks what must be asked, and adds their parts.

    Signals
    -------
    taken(object)
        What was read (`Read`) is in the job now, or nothing usable came of it.
    """

    taken = Signal(object)

    def __init__(
        self, document: Document, window: QWidget, files: Files, reader: Reader
    ) -> None:
        super().__init__(window)
        self.document = document
        self.window = window
        self.files = files
        self.reader = reader
        self._gone: list[str] = []  # drawings that are not to be found any more

    # ------------------------------------------------------------ asking for files

    def _folder(self) -> str:
        path = self.document.path
        return str(path.parent if path else Path.home())

    def choose(self) -> None:
        """Ask for a job or an order and open it."""
        name, _ = QFileDialog.getOpenFileName(
            self.window,
            self.tr("Open a job or an order"),
            self._folder(),
            self.tr("Jobs and orders (*{suffix} *.toml)").format(suffix=SUFFIX),
        )
        if name:
            self.take([Path(name)])

    def add_drawings(self) -> None:
        """Ask for drawings and add their parts."""
        names, _ = QFileDialog.getOpenFileNames(
            self.window,
            self.tr("Add drawings"),
            self._folder(),
            self.tr("Drawings (*.dxf *.svg *.DXF *.SVG)"),
        )
        if names:
            self.take([Path(name) for name in names])

    def open_sample(self) -> None:
        """Open the sample order."""
        self.take([SAMPLE])

    # ------------------------------------------------------------ taking them in

    def take(self, paths: list[Path]) -> None:
        """Open a job or an order, or add the parts of drawings."""
        whole = [p for p in paths if p.suffix.lower() in WHOLE]
        drawings = [p for p in paths if p.suffix.lower() in DRAWINGS]
        strange = [p for p in paths if p not in whole and p not in drawings]
        if strange or len(whole) > 1 or (whole and drawings):
            name = (strange or whole)[0].name
            self.document.say(
                "error",
                self.tr(
                    "{name} cannot be taken in here: drop DXF or SVG drawings, or one "
                    "order (.toml) or job ({suffix}). A picture has to be traced in a "
                    "drawing program first."
                ).format(name=name, suffix=SUFFIX),
            )
        elif whole and whole[0].suffix.lower() == SUFFIX:
            self.files.open(whole[0])
        elif drawings or self.files.may_go():
            done = self._read if drawings else self._order
            self.reader.read_files(drawings or whole, bool(whole), {}, done)

    def _order(self, read: Read) -> None:
        if read.job is not None:
            self.files.take(read.job)
        self.taken.emit(read)

    def _read(self, read: Read) -> None:
        if read.too_large:
            box = self.large_question(read.too_large)
            box.finished.connect(lambda: self._allowed(read, box))
            box.open()
            return
        self._ask_sizes(read)

    def large_question(self, drawings: Sequence[TooLarge]) -> QMessageBox:
        """Return the box that asks whether drawings larger than usual are read."""
        box = QMessageBox(self.window)
        box.setIcon(QMessageBox.Icon.Question)
        box.setTextFormat(Qt.TextFormat.PlainText)
        name = Path(drawings[0].where).name
        box.setWindowTitle(self.tr("A large drawing"))
        if len(drawings) == 1:
            box.setText(self.tr("{name} is larger than usual.").format(name=name))
        else:
            words = self.tr("{n} drawings are larger than usual, such as {name}.")
            box.setText(words.format(n=len(drawings), name=name))
        times = max(drawing.times or 1 for drawing in drawings)
        why = drawings[0].what.removeprefix("not read: ")
        box.setInformativeText(
            self.tr(
                "{why}. Reading it may take {times} times the time and memory that is "
                "usual, up to {memory} GiB; you can stop it at any moment."
            ).format(
                why=f"{why[:1].upper()}{why[1:]}",
                times=times,
                memory=f"{Limits().raised(times).memory / 2**30:.1f}",
            )
        )
        go = box.addButton(self.tr("&Read it"), QMessageBox.ButtonRole.AcceptRole)
        leave = box.addButton(
            self.tr("&Leave it out"), QMessageBox.ButtonRole.RejectRole
        )
        box.setDefaultButton(go)
        box.setEscapeButton(leave)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        return box

    def _allowed(self, read: Read, box: QMessageBox) -> None:
        """Read the larger drawings, too, if the user wants them."""
        clicked = box.clickedButton()
        if clicked is not box.defaultButton():
            self._ask_sizes(read)
            return
        names = {drawing.where for drawing in read.too_large}
        times = max(drawing.times or 1 for drawing in read.too_large)

        def merge(more: Read) -> None:
            kept = tuple(t for t in read.troubles if t.file not in names)
            self._read(
                replace(
                    more,
                    drawings=(*read.drawings, *more.drawings),
                    troubles=(*kept, *more.troubles),
                )
            )

        paths = [Path(name) for name in sorted(names)]
        self.reader.read_files(paths, False, {}, merge, times)

    def _ask_sizes(self, read: Read) -> None:
        doubtful = read.doubtful
        if not doubtful:
            self._add(read)
            return
        from ..book.units_dialog import UnitsDialog

        dialog = UnitsDialog(doubtful, self.document.job.units, self.window)
        dialog.decided.connect(lambda answers: self._decided(read, answers))
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _decided(self, read: Read, answers: dict[str, str | None]) -> None:
        """Read those drawings anew that the user sees differently."""
        wanted = tuple(
            _confirmed(d) if answers.get(d.file) == "" else d
            for d in read.drawings
            if answers.get(d.file, "") is not None
        )
        read = replace(read, drawings=wanted)
        units = {name: unit for name, unit in answers.items() if unit}
        if not units:
            self._add(read)
            return

        def merge(again: Read) -> None:
            anew = {drawing.file: drawing for drawing in again.drawings}
            drawings = tuple(anew.get(d.file, d) for d in read.drawings)
            troubles = (*read.troubles, *again.troubles)
            self._add(replace(read, drawings=drawings, troubles=troubles))

        paths = [Path(name) for name in units]
        self.reader.read_files(paths, False, units, merge, read.times)

    def _add(self, read: Read) -> None:
        parts = read.parts
        if parts:
            text = self.tr("Add {n} parts").format(n=len(parts))
            if len(parts) == 1:
                text = self.tr("Add {name}").format(name=parts[0].name)
            self.document.change(text, with_parts(self.document.job, parts))
        elif read.drawings or read.troubles:
            self.document.say(
                "error", self.tr("No part came out of this; the findings say why.")
            )
        self.taken.emit(read)

    def read_again(self, again: Again) -> None:
        """Read drawings anew with what the job says now; their parts follow.

        Of those that an opened job names it is not known what they held: they are read
        as they were when the job was made first, to tell which part is which.
        """
        paths = {s: located(s, self.document.path) for s in again.sources}
        self._gone = [source for source, path in paths.items() if path is None]
        there = {str(path): source for source, path in paths.items() if path}
        if not there:
            if again.drawings:
                self._read_anew(again.drawings)
            else:
                self._tell_gone([])
            return

        def compare(before: Read) -> None:
            units = {
                d.file: units_of(self.document.job, there[d.file], d)
                for d in before.drawings
            }
            other = {name: unit for name, unit in units.items() if unit}
            if not other:
                follow(before)
                return

            def merge(scaled: Read) -> None:
                anew = {d.file: d for d in scaled.drawings}
                drawings = tuple(anew.get(d.file, d) for d in before.drawings)
                follow(replace(before, drawings=drawings))

            self.reader.read_files(
                [Path(name) for name in other], False, other, merge, STEPS[-1], said
            )

        def follow(before: Read) -> None:
            drawings = tuple(with_source(d, there[d.file]) for d in before.drawings)
            self._read_anew((*again.drawings, *drawings), tuple(there.values()))

        said = again.layers
        self.reader.read_files(
            [Path(name) for name in there], False, {}, compare, STEPS[-1], said
        )

    def _read_anew(
        self, drawings: tuple[ReadDrawing, ...], sources: tuple[str, ...] = ()
    ) -> None:
        # A page says its own scale, which may differ along and across.
        units = {
            d.file: scale_text(d.units.factor)
            for d in drawings
            if d.units.basis not in ("header", "page size")
        }
        paths = [Path(drawing.file) for drawing in drawings]
        # What was allowed once is allowed again.
        done = partial(self._follow, drawings, sources)
        self.reader.read_files(paths, False, units, done, STEPS[-1])

    def _follow(
        self, before: tuple[ReadDrawing, ...], sources: tuple[str, ...], read: Read
    ) -> None:
        old = self.document.job
        job = read_anew(old, before, read.drawings, alike if sources else None)
        if job != old:
            self.document.change(self.tr("Read the drawings again"), job)
        self.taken.emit(read)
        self._tell_gone(not_found(old, before, sources))

    def _tell_gone(self, changed: Sequence[str]) -> None:
        """Say which drawings could not be read again, and which have changed."""
        words = []
        for sources, one, many in (
            (
                self._gone,
                self.tr(
                    "{name} is neither where it was nor beside the job; its parts stay "
                    "as they are. Put it beside the job, or add it anew."
                ),
                self.tr(
                    "{n} drawings, such as {name}, are neither where they were nor "
                    "beside the job; their parts stay as they are. Put them beside the "
                    "job, or add them anew."
                ),
            ),
            (
                changed,
                self.tr(
                    "{name} has changed since its parts were read; they stay as they "
                    "are. Add it anew to have it as it is now."
                ),
                self.tr(
                    "{n} drawings, such as {name}, have changed since their parts were "
                    "read; those stay as they are. Add them anew to have them as they "
                    "are now."
                ),
            ),
        ):
            if sources:
                name = sources[0].replace("\\", "/").rpartition("/")[2]
                text = one if len(sources) == 1 else many
                words.append(text.format(n=len(sources), name=name))
        self._gone = []
        if words:
            self.document.say("warn", " ".join(words))


def _confirmed(drawing: ReadDrawing) -> ReadDrawing:
    """Return a drawing without the doubts that the user has settled."""
    doubts = ("units-unknown", "units-doubtful")
    findings = tuple(f for f in drawing.findings if f.code not in doubts)
    return replace(drawing, findings=findings)
