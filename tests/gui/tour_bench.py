"""A chapter of the tour: what hands do on the bench, and jobs of unusual size."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QToolTip

from drystone.app.bench.arrange import centre_of
from drystone.app.bench.copies import key_of
from drystone.app.bench.numbers_plate import open_plate
from drystone.app.book.importing import SAMPLE
from drystone.app.opening import open_job
from drystone.app.window.main_window import MainWindow
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

from .bench_jobs import planter_job
from .bench_person import CTRL, LEFT, SHIFT, Person
from .tour_walk import Walk

LONG = "left-hand front panel of the tall planter with the rounded upper corner, oiled"


def crowded_job(parts: int, copies: int, blanks: int, name: str = "part") -> Job:
    """Return small parts in rows and columns, as many as fit on the blanks."""
    kinds = tuple(
        Part(
            f"part{k}",
            f"{name} {k + 1}",
            Outline(Loop.rectangle(40.0 + 3.0 * (k % 7), 30.0 + 2.0 * (k % 5))),
            quantity=copies,
        )
        for k in range(parts)
    )
    board = Stock("board", "plywood", Outline(Loop.rectangle(1220, 1220)))
    placements = []
    wide, high = 20, 22
    for n in range(parts * copies):
        blank, place = divmod(n, wide * high)
        if blank >= blanks:
            break
        row, column = divmod(place, wide)
        part, copy = n // copies, n % copies + 1
        at = 14.0 + 60.0 * column, 14.0 + 54.0 * row
        placements.append(Placement(f"part{part}", copy, blank, *at))
    used = 1 + max(p.blank for p in placements)
    layout = Layout((Blank("board"),) * used, tuple(placements))
    return Job("Crowded", kinds, (board,), Cutting(4, 1, 8), layout=layout)


def odd_job() -> Job:
    """Return a job on offcuts of odd outlines."""
    job = planter_job()
    corner = [(0, 0), (500, 0), (500, 150), (200, 150), (200, 420), (0, 420)]
    notch = [(0, 0), (150, 0), (300, 260), (450, 0), (600, 0), (600, 300), (0, 300)]
    stock = (
        *job.stock,
        Stock("corner", "corner piece", Outline(Loop.polygon(corner)), offcut=True),
        Stock("notch", "notched piece", Outline(Loop.polygon(notch)), offcut=True),
        Stock("disc", "round piece", Outline(Loop.circle(250, 250, 250)), offcut=True),
        Stock("strip", "strip", Outline(Loop.rectangle(90, 700)), offcut=True),
    )
    ids = ("board", "corner", "notch", "disc", "strip", "corner", "disc")
    blanks = tuple(Blank(i) for i in ids)
    placed = tuple(p for p in job.layout.placements if p.blank == 0)
    return replace(job, stock=stock, layout=Layout(blanks, placed))


class BenchTour(Walk):
    """Someone who uses the bench in every way, and takes pictures.

    Parameters
    ----------
    window : MainWindow
        The window; its job is replaced.
    folder : Path
        Where the pictures go.
    """

    def __init__(
        self, application: QApplication, window: MainWindow, folder: Path
    ) -> None:
        super().__init__(application, window, folder, "bench-")
        self.bench = window.bench
        self.document = window.document

    def open(self, job: Job, blank: int | None = None) -> Person:
        """Show a job; all of it, or one blank."""
        self.document.undo.setClean()
        self.document.open(job)
        self.wait(lambda: False, 0.3)
        self.bench.fit()
        if blank is not None:
            self.bench.fit_blank(blank)
        self.bench.setFocus()
        return Person(self.bench)

    def walk(self) -> None:
        """Do everything."""
        self.window.resize(1280, 800)
        self.window.show()
        self.window.book.setCurrentIndex(0)
        self.dropping()
        self.moving()
        self.measuring()
        self.keep_outs()
        self.typing()
        self.unusual()

    # ------------------------------------------------------------ chapters

    def dropping(self) -> None:
        """Hold files over the window."""
        self.open(Job(""))
        overlay = self.window.overlay
        for names, name in (
            (["side.dxf", "foot.svg"], "held-drawings"),
            (["boxes.drystone"], "held-job"),
            (["photo.png"], "held-picture"),
        ):
            overlay.offer([Path(n) for n in names])
            self.picture(name)
            overlay.hide()

    def moving(self) -> None:
        """Band, drop into a hole, line up, turn, turn against a neighbour."""
        person = self.open(planter_job(), 0)
        document = self.document
        person.press(560, 190)
        person.go(person.pixel(250, 12))
        self.picture("band")
        person.let_go()
        self.picture("several-selected")
        document.select(())
        person.press(330, 230)
        person.go(person.pixel(130, 230))
        self.picture("dropped-into-a-hole")
        person.let_go()
        document.undo.undo()
        person.press(60, 45)
        person.go(person.pixel(90, 150), SHIFT)
        self.picture("along-one-axis")
        person.key(Qt.Key.Key_Escape)
        person.let_go()
        document.select([("side", 2)])
        person.turn_handle(38.0)
        self.picture("turning")
        person.key(Qt.Key.Key_Escape)
        person.let_go()
        document.select([("side", 2)])
        person.turn_handle(50.0, CTRL)
        self.picture("turning-through")
        person.key(Qt.Key.Key_Escape)
        person.let_go()
        menu = self.bench.menu()
        menu.popup(QPoint(0, 0))
        self.picture("menu-of-one", menu)
        menu.close()
        document.select_all(0)
        menu = self.bench.menu()
        menu.popup(QPoint(0, 0))
        self.picture("menu-of-many", menu)
        menu.close()
        document.select(())
        words = self.bench.hover_words(person.pixel(130, 300))
        QToolTip.showText(QPoint(5, 5), words, self.bench)
        self.wait(lambda: QToolTip.isVisible(), 2)
        tips = [w for w in self.application.topLevelWidgets() if w.isVisible()]
        tip = [w for w in tips if w.objectName() == "qtooltip_label"]
        self.picture("hover", tip[0] if tip else None)
        QToolTip.hideText()
        document.to_tray([("disc", 1), ("disc", 2)])
        self.wait(lambda: False, 0.3)
        QTest.mouseDClick(
            self.bench.viewport(),
            LEFT,
            Qt.KeyboardModifier.NoModifier,
            person.pixel(130, 230),
        )
        self.wait(lambda: len(document.tray()) < 2, 10)
        self.picture("hole-filled")

    def measuring(self) -> None:
        """Measure from edge to edge, and while it goes on."""
        person = self.open(planter_job(), 0)
        self.window.use_tool("measure")
        person.press(120, 50)
        person.go(person.pixel(300, 60))
        self.picture("measuring")
        person.let_go()
        self.picture("measured")
        self.window.use_tool("select")

    def keep_outs(self) -> None:
        """Draw keep-outs, choose one, type its size."""
        person = self.open(planter_job(), 0)
        self.window.use_tool("circle")
        person.press(520, 250)
        person.go(person.pixel(560, 250))
        self.picture("keep-out-growing")
        person.let_go()
        self.window.use_tool("rectangle")
        person.drag((420, 150), (560, 190))
        self.window.use_tool("select")
        person.click(490, 170)
        self.picture("keep-out-chosen")
        plate = open_plate(self.bench)
        self.picture("keep-out-by-numbers")
        if plate is not None:
            plate.reject()
        person.drag((60, 45), (470, 200), CTRL)
        self.picture("on-a-keep-out")

    def typing(self) -> None:
        """Type numbers for one part, for several, and a wrong one."""
        self.open(planter_job(), 0)
        self.document.select([("ring", 1)])
        plate = open_plate(self.bench)
        self.picture("numbers")
        if plate is not None:
            plate.fields[0].setText("a bit to the left")
            plate.accept()
            self.picture("wrong-number")
            plate.reject()

    def unusual(self) -> None:
        """Show no stock, long names, odd boards, many parts and many copies."""
        sample = open_job([SAMPLE]).job
        self.open(replace(sample, stock=()))
        self.picture("no-stock")
        self.open(odd_job())
        self.picture("odd-boards")
        long = replace(
            crowded_job(6, 3, 1),
            parts=tuple(
                replace(
                    part,
                    name=f"{LONG}, {n + 1}",
                    outline=Outline(Loop.rectangle(55, 45)),
                )
                for n, part in enumerate(crowded_job(6, 3, 1).parts)
            ),
            name=f"Order of {LONG}",
        )
        stock = replace(long.stock[0], name=f"birch, {LONG}")
        long = replace(long, stock=(stock,))
        self.open(replace(long, layout=Layout()))
        self.picture("long-names-in-the-tray")
        self.open(long, 0)
        key = key_of(long.layout.placements[0])
        self.document.select([key])
        self.window._show_problem(key)
        person = Person(self.bench)
        self.bench.zoom_by(4.0)
        person.press(*centre_of(long, long.layout.placements[0]))
        person.go(person.pixel(*centre_of(long, long.layout.placements[1])))
        self.picture("long-names-dragging")
        person.key(Qt.Key.Key_Escape)
        person.let_go()
        self.window.placed.setVisible(True)
        self.window.show_placed(True)
        self.picture("long-names-placed-table")
        self.window.placed.hide()
        self.open(crowded_job(1000, 1, 3))
        self.picture("a-thousand-parts")
        self.document.select_all()
        self.picture("a-thousand-parts-selected")
        self.open(crowded_job(1, 400, 1, "peg"))
        self.picture("four-hundred-copies")
        self.open(replace(crowded_job(1, 400, 1, "peg"), layout=Layout()))
        self.picture("four-hundred-in-the-tray")
        self.open(replace(crowded_job(30, 12, 1, LONG), layout=Layout()))
        self.picture("a-full-tray")
