"""Paint the window's main pages and states into a folder, to be looked at.

Run it by itself: ``python tests/gui/tour.py DIR``.
"""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QDialog, QMenu

from drystone.app.bench.arrange import centre_of
from drystone.app.bench.copies import key_of
from drystone.app.book.importing import SAMPLE
from drystone.app.book.units_dialog import UnitsDialog
from drystone.app.window.engine_process import Found
from drystone.app.window.help import about_box
from drystone.app.window.main_window import MainWindow
from drystone.io.limits import TooLarge

sys.path.append(str(Path(__file__).resolve().parents[2]))  # when run by itself

from tests.gui.bench_person import CTRL, Person
from tests.gui.seeing import dark_palette
from tests.gui.tour_bench import BenchTour
from tests.gui.tour_book import BookTour
from tests.gui.tour_walk import Walk, own_window

SECONDS = 10
PAGES = ("parts", "stock", "cutting", "hand-over")


class Tour(Walk):
    """Someone who walks through the window and takes pictures."""

    def __init__(
        self, application: QApplication, window: MainWindow, folder: Path, rest: Path
    ) -> None:
        super().__init__(application, window, folder)
        self.rest = rest

    def box(self, name: str, box: QDialog) -> None:
        """Take a picture of a dialog without asking anybody."""
        box.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
        box.show()
        self.picture(name, box)
        box.close()
        box.deleteLater()

    def page(self, number: int) -> None:
        """Show a page of the job book."""
        self.window.book.setCurrentIndex(number)

    def walk(self, names: list[str], size: tuple[int, int]) -> None:
        """Go from the empty window to the written files, or only some of the way."""
        self.window.resize(*size)
        self.window.show()
        chapters = (
            self.beginning,
            self.pages,
            self.nesting,
            self.by_hand,
            self.comparing,
            self.handing_over,
            self.many_blanks,
            self.sizes,
            self.dark,
            self.boxes,
            self.on_the_bench,
            self.job_book,
        )
        for chapter in chapters:
            if not names or chapter.__name__ in names:
                chapter()

    # ------------------------------------------------------------ chapters

    def job_book(self) -> None:
        """Show every section of the job book in its states."""
        BookTour(self.application, self.window, self.folder).walk()

    def on_the_bench(self) -> None:
        """Show every gesture, and jobs of unusual size."""
        BenchTour(self.application, self.window, self.folder).walk()

    def beginning(self) -> None:
        """Nothing yet, something strange, something long, the sample."""
        window = self.window
        self.picture("empty")
        window.open_files([self.rest / "photo.png"])
        self.picture("refused")
        window.banner.hide()
        window.strip.work.begin("Reading roof.dxf", lambda: None)
        window.strip.work.progress(0.4)
        self.wait(lambda: False, 0.5)
        self.picture("reading")
        window.strip.work.end()
        window.open_files([SAMPLE])
        self.wait(lambda: bool(window.document.job.parts), 120)
        self.picture("imported")
        sample = window.document.job
        nasty = Path(__file__).parents[1] / "data" / "nasty"
        window.open_files(sorted(nasty.glob("*.dxf"))[:12])
        self.wait(lambda: not window.reader.busy, 120)
        dialog = window.findChild(UnitsDialog)
        if dialog is not None:
            self.picture("how-large", dialog)
            dialog.typed.setText("165")
            dialog._typed()
            self.picture("how-large-known", dialog)
            while dialog.isVisible():
                dialog.skip.click()
                self.wait(lambda: False, 0.05)
        found = window.book.parts.found
        rows = [n for n, f in enumerate(found._found) if f.place is not None]
        if rows:
            found.list.setCurrentRow(rows[0])
            self.wait(lambda: found.picture._sketch is not None, 10)
        self.picture("finding")
        window.book.parts.layers_fold.set_open(True)
        self.picture("layers")
        window.book.parts.layers_fold.set_open(False)
        window.document.open(sample)
        window.book.parts.show_findings(())

    def pages(self) -> None:
        """Show the job book before anything is laid out."""
        book = self.window.book
        for number, name in ((1, "stock"), (2, "cutting")):
            self.page(number)
            self.picture(name)
        book.cutting.margin.line.setText("a bit")
        book.cutting.margin._finished()
        self.picture("field-error")
        book.cutting.refresh()
        self.page(3)
        self.picture("hand-over-too-early")
        self.page(0)

    def nesting(self) -> None:
        """Search, and what it found."""
        window = self.window
        window.book.cutting.seconds.setValue(SECONDS)
        window.start_nest()
        self.wait(lambda: bool(window.document.shown_layout.placements), 120)
        self.wait(lambda: False, 3.0)
        self.picture("nesting")
        # A calm picture: the search is over, whatever else the machine does.
        self.wait(lambda: not window.nesting.running, 600)
        window.document.undo.setClean()
        window.book.parts.show_findings(())
        self.wait(window.strip.nest.isEnabled, 10)
        window.bench.fit()
        self.wait(lambda: bool(window.strip.time_words), 60)
        self.picture("nested")

    def by_hand(self) -> None:
        """Drag, turn, conflicts, the table of copies, the tray."""
        window = self.window
        document = window.document
        nested = document.job
        # One small part lies alone on a blank, and another is pushed against it.
        solid = {part.id for part in nested.parts if not part.outline.holes}
        solids = [
            [p for p in nested.layout.on(b) if p.part_id in solid]
            for b in range(len(nested.layout.blanks))
        ]
        here = max(range(len(solids)), key=lambda b: len(solids[b]))
        alone = solids[here][:2]
        gone = [key_of(p) for p in nested.layout.on(here) if p not in alone]
        document.to_tray(gone)
        self.wait(lambda: False, 0.3)  # the tray takes its room first
        window.bench.fit_blank(here)
        person = Person(window.bench)
        first, second = alone
        person.press(*centre_of(document.job, first), here)
        person.go(person.pixel(*centre_of(document.job, second), here))
        self.picture("dragging-with-contact")
        person.key(Qt.Key.Key_Escape)
        person.press(*centre_of(document.job, first), here)
        person.go(person.pixel(*centre_of(document.job, second), here), CTRL)
        self.picture("dragging-through")
        person.key(Qt.Key.Key_Escape)
        person.let_go()
        document.select([key_of(first)])
        window.bench.setFocus()
        self.picture("selected")
        document.undo.undo()
        document.select([key_of(first)])
        document.nudge(document.selection, 25.0, 0.0)
        self.picture("conflict")
        window._show_problem(next(iter(document.conflicts())))
        self.picture("conflict-explained")
        window.menus.placed_action.trigger()
        self.picture("placed-table")
        window.menus.placed_action.trigger()
        document.undo.undo()
        window.banner.hide()
        document.set_locked(document.selection, True)
        document.movable(document.selection)
        self.picture("locked")
        document.undo.undo()
        document.to_tray({key_of(p) for p in nested.layout.placements[:9]})
        window.bench.fit()
        self.picture("some-in-the-tray")
        document.undo.undo()

    def comparing(self) -> None:
        """One layout alone, then two side by side, the second changed by hand."""
        window = self.window
        document = window.document
        for kept in window.kept.all[1:]:
            window.kept.remove(kept)
        window.compare()
        assert window.comparing is not None
        window.comparing.resize(1120, 720)
        self.wait(lambda: False, 2.0)
        self.picture("compare-only-one", window.comparing)
        window.comparing.close()
        last = len(document.job.layout.blanks) - 1
        document.to_tray({key_of(p) for p in document.job.layout.on(last)})
        window.compare()
        self.wait(lambda: False, 2.0)
        self.picture("compare", window.comparing)
        window.comparing.close()
        document.undo.undo()

    def handing_over(self) -> None:
        """Write the files."""
        window = self.window
        page = window.book.hand_over
        window.book.setCurrentWidget(page)
        page.set_folder(str(self.rest / "out"))
        window.handing.write(str(self.rest / "out"), False)
        self.wait(lambda: False, 1.0)
        self.picture("writing")
        self.wait(lambda: not window.handing.running, 120)
        self.picture("handed-over")
        self.page(0)

    def many_blanks(self) -> None:
        """Show a large job, and one blank of it with the overview."""
        window = self.window
        job = window.document.job
        layout = job.layout
        count = len(layout.blanks)
        parts = tuple(replace(p, quantity=3 * p.quantity) for p in job.parts)
        stock = tuple(replace(s, count=None) for s in job.stock)
        wanted = {p.id: p.quantity for p in job.parts}
        placements = [
            replace(p, blank=p.blank + k * count, copy=p.copy + k * wanted[p.part_id])
            for k in range(3)
            for p in layout.placements
        ]
        many = replace(layout, blanks=3 * layout.blanks, placements=tuple(placements))
        window.document.open(replace(job, parts=parts, stock=stock, layout=many))
        self.picture("many-blanks")
        window.bench.fit_blank(7)
        self.picture("many-blanks-overview")
        window.document.open(job)

    def sizes(self) -> None:
        """Show a small window, large words, inches, a grey picture."""
        window = self.window
        window.resize(860, 560)
        for number, name in enumerate(PAGES):
            self.page(number)
            self.picture(f"small-{name}")
        self.page(0)
        window.resize(1280, 800)
        font = self.application.font()
        large = self.application.font()
        large.setPointSizeF(font.pointSizeF() * 1.5)
        self.application.setFont(large)
        for number, name in enumerate(PAGES):
            self.page(number)
            self.picture(f"large-text-{name}")
        self.application.setFont(font)
        self.page(0)
        job = window.document.job
        window.document.change("Inches", replace(job, units="in"))
        self.page(2)
        self.picture("inches")
        window.document.undo.undo()
        window.bench.fit_blank(0)
        self.wait(lambda: False, 0.7)
        self.count += 1
        grey = window.grab().toImage().convertToFormat(QImage.Format.Format_Grayscale8)
        grey.save(str(self.folder / f"{self.count:02d}-grey.png"))
        window.bench.fit()

    def dark(self) -> None:
        """Show everything after dusk."""
        window = self.window
        light = self.application.palette()
        self.application.setPalette(dark_palette())
        for number, name in enumerate(PAGES):
            self.page(number)
            self.picture(f"dark-{name}")
        window.bench.fit_blank(0)
        window.document.select_all(0)
        self.picture("dark-blank")
        window.document.select(())
        self.guide("dark-guide", "keys")
        window.compare()
        assert window.comparing is not None
        self.wait(lambda: False, 1.0)
        self.picture("dark-compare", window.comparing)
        window.comparing.close()
        self.application.setPalette(light)
        self.page(0)
        window.bench.fit()

    def guide(self, name: str, topic: str) -> None:
        """Show a page of the guide."""
        self.window.show_guide(topic)
        assert self.window.guide is not None
        self.picture(name, self.window.guide)
        self.window.guide.close()

    def boxes(self) -> None:
        """Show the guide, and what asks or complains."""
        window = self.window
        for topic in ("start", "nest", "keys", "findings"):
            self.guide(f"guide-{topic}", topic)
        window.show_guide()
        assert window.guide is not None
        window.guide.search.setText("margin")
        self.picture("guide-search", window.guide)
        window.guide.close()
        window.document.want_more(window.document.job.parts[0].id)
        self.box("unsaved-question", window.files.question())
        self.box("foreign-question", window.files.foreign_question(Path("a.drystone")))
        self.box("about", about_box(window))
        large = TooLarge("roof.dxf", "not read: it holds more than 105,000 entities", 4)
        self.box("large-drawing", window.importer.large_question([large]))
        window.document.select([key_of(window.document.job.layout.placements[0])])
        for action in window.menuBar().actions():
            menu = action.menu()
            assert isinstance(menu, QMenu)
            name = menu.title().replace("&", "").lower()
            menu.popup(QPoint(0, 0))
            self.picture(f"menu-{name}", menu)
            menu.close()
        window.document.select(())
        window.recovery.keep()
        assert window.recovery._lock is not None
        window.recovery._lock.unlock()
        window.recovery.note = self.rest / "recovery" / "other.json"
        window.notices.offer_lost()
        self.picture("lost-work")
        window.notices._changed_outside(Path("boxes.drystone"))
        self.picture("changed-outside")
        window.banner.hide()
        best = Found(1, window.document.job.layout, 1.0)
        window.notices.offer_best(best, "The engine ended unexpectedly (-9).")
        self.picture("engine-died")


def main(words: list[str]) -> int:
    """Walk; return the exit status."""
    if not words or words[0].startswith("-"):
        print("usage: python tests/gui/tour.py DIR [CHAPTER …]", file=sys.stderr)
        return 2
    # On a real screen Qt then doubles everything: 1920 x 1080 pixels hold this much.
    size = (960, 540) if os.environ.get("QT_FONT_DPI") == "192" else (1280, 800)
    folder = Path(words[0])
    folder.mkdir(parents=True, exist_ok=True)
    with own_window() as (application, window, rest):
        Tour(application, window, folder, rest).walk(words[1:], size)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
