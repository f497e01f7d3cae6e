"""A chapter of the tour: the pages of the job book in all their states."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QApplication, QWidget

from drystone.app.book.fields import TextField
from drystone.app.book.fold import Fold, PageColumn
from drystone.app.book.importing import SAMPLE
from drystone.app.book.rack_section import RackSection
from drystone.app.opening import open_job
from drystone.app.window.main_window import MainWindow
from drystone.io.rack import Rack, RackBoard
from drystone.nesting.model.holding import ReliefKind
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.rules import Grain

from .book_person import bird_job, type_in
from .seeing import dark_palette
from .tour_walk import Walk


class BookTour(Walk):
    """Someone who opens every page and section, and takes pictures.

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
        super().__init__(application, window, folder, "book-")
        self.book = window.book

    def whole(self, page: QWidget, name: str) -> None:
        """Take a picture of a page from top to bottom."""
        column = page.findChild(PageColumn)
        assert column is not None
        self.picture(name, column.inner)

    def show(self, page: QWidget, *folds: Fold) -> None:
        """Show a page with just these sections open."""
        self.book.setCurrentWidget(page)
        for fold in page.findChildren(Fold):
            fold.set_open(fold in folds)
        self.wait(lambda: False, 0.3)

    def walk(self) -> None:
        """Go through the book."""
        self.window.resize(1280, 900)
        self.window.show()
        self.empty()
        self.stock()
        self.cutting()
        self.laid_out()
        self.what_if()
        self.dark()
        self.large()
        self.small()

    # ------------------------------------------------------------ chapters

    def empty(self) -> None:
        """Show every page with nothing in it."""
        for number in range(1, self.book.count()):
            self.book.setCurrentIndex(number)
            self.picture(f"empty-{self.book.tabText(number).lower()}")

    def stock(self) -> None:
        """Show a rack with boards, and heavy sheets."""
        with Rack() as rack:
            half = Outline(Loop.rectangle(640, 300))
            corner = Loop.polygon(
                [(0, 0), (500, 0), (500, 200), (200, 200), (200, 400), (0, 400)]
            )
            for outline, thickness, name, place, value in (
                (half, 12.0, "half quarter", "wall, left", 3.5),
                (Outline(corner), 6.0, "L", "under the bench", 1.2),
            ):
                rack.add(
                    RackBoard(
                        outline,
                        "birch plywood",
                        thickness,
                        Grain.LENGTH,
                        name,
                        place,
                        value=value,
                    )
                )
        self.window.document.open(open_job([SAMPLE]).job)
        page = self.book.stock
        self.show(page, *page.folds)
        self.wait(lambda: self.book.rack.looked and not self.book.rack.busy, 5)
        page.rack.table.selectRow(0)
        page.rack.take_chosen()
        self.picture("stock-rack")
        self.whole(page, "stock-whole")
        self.drawing(page.rack)

    def drawing(self, rack: RackSection) -> None:
        """Draw the outline of a board: nothing yet, an L, one that crosses itself."""
        drawing, document = rack.canvas, self.window.document
        self.show(self.book.stock, self.book.stock.rack_fold)
        rack.draw.click()
        self.picture("outline-empty", drawing)
        corner = [(0, 0), (600, 0), (600, 250), (250, 250), (250, 900), (0, 900)]
        drawing.show_corners(corner)
        self.picture("outline-drawn", drawing)
        document.change("Inches", replace(document.job, units="in"))
        self.picture("outline-inches", drawing)
        document.undo.undo()
        light = self.application.palette()
        self.application.setPalette(dark_palette())
        self.picture("outline-dark", drawing)
        self.application.setPalette(light)
        drawing.show_corners([(0, 0), (2440, 0), (300, 1220), (2440, 1220)])
        self.picture("outline-crossing", drawing)
        drawing.forget()
        rack.draw.click()

    def cutting(self) -> None:
        """Show sections with advice, changed values, a break-down, relief."""
        document, cutting, shop = (
            self.window.document,
            self.book.cutting,
            self.book.shop,
        )
        document.open(bird_job())
        self.show(cutting, cutting.cut_fold)
        self.picture("cutting")
        type_in(cutting.margin, "15")
        type_in(cutting.allowance, "a bit")
        short = tuple(replace(c, cutting_length=8.0) for c in shop.setup.cutters)
        shop.put(replace(shop.setup, cutters=short))
        self.picture("cutting-changed-wrong-advice")
        cutting.allowance.set_back()
        self.show(cutting, cutting.bed_fold)
        self.wait(lambda: bool(cutting.bed_fold.remarks.said), 10)
        self.picture("cutting-break-down")
        document.change("Relief", replace(document.job, relief=ReliefKind.DOG_BONE))
        self.show(cutting, cutting.corners_fold)
        self.wait(cutting.corners.picture.isVisible, 10)
        self.picture("cutting-corners")
        self.show(cutting, cutting.machine_fold)
        fastest = cutting.machines.form.fields["feed_max"]
        assert isinstance(fastest, TextField)
        type_in(fastest, "4500")
        self.picture("cutting-machine")
        self.show(cutting, cutting.drawer_fold, cutting.feeds_fold)
        self.picture("cutting-drawer-feeds")
        document.change("Inches", replace(document.job, units="in"))
        self.show(cutting, *cutting.folds)
        self.wait(lambda: False, 1.0)
        self.whole(cutting, "cutting-whole-inches")
        document.change("Millimetres", replace(document.job, units="mm"))

    def laid_out(self) -> None:
        """Show what is left, the quote and the cut order of a layout."""
        window, book = self.window, self.book
        window.document.open(open_job([SAMPLE]).job)
        book.cutting.seconds.setValue(5)
        window.start_nest()
        self.wait(lambda: not window.nesting.running, 180)
        self.show(book.stock, book.stock.leftovers_fold)
        self.wait(lambda: book.stock.leftovers.list.count() > 0, 20)
        self.picture("after-cutting")
        book.stock.leftovers.book_out()
        self.wait(lambda: book.stock.leftovers.booking() is not None, 10)
        self.picture("booked-out")
        page = book.hand_over
        self.show(page, page.quote_fold)
        self.picture("quote-working")
        self.wait(lambda: page.quote.is_current, 120)
        self.picture("quote")
        self.show(page, page.files_fold, page.order_fold)
        self.wait(lambda: page.order.list.count() > 0, 20)
        page.order.list.setCurrentRow(1)
        self.picture("files-order")

    def what_if(self) -> None:
        """Show variants being tried, and tried."""
        page = self.book.what_if
        self.show(page, page.plot_fold)
        type_in(page.cutter, "3.175; 6")
        type_in(page.margin, "8")
        type_in(page.times, "2")
        page.seconds.setValue(3)
        self.picture("what-if")
        page.begin()
        self.wait(lambda: len(page.model.outcomes) > 1, 120)
        self.picture("what-if-running")
        self.wait(lambda: not page.engine.running, 180)
        page.table.selectRow(1)
        self.whole(page, "what-if-done")

    def dark(self) -> None:
        """Show every page on a dark ground."""
        light = self.application.palette()
        self.application.setPalette(dark_palette())
        book = self.book
        self.show(book.stock, book.stock.rack_fold)
        self.picture("dark-stock")
        self.show(book.cutting, book.cutting.cut_fold, book.cutting.bed_fold)
        self.picture("dark-cutting")
        self.show(book.cutting, book.cutting.machine_fold)
        self.picture("dark-machine")
        self.show(book.hand_over, book.hand_over.quote_fold)
        self.wait(lambda: book.hand_over.quote.is_current, 120)
        self.picture("dark-quote")
        self.show(book.what_if, book.what_if.plot_fold)
        self.picture("dark-what-if")
        self.application.setPalette(light)

    def large(self) -> None:
        """Show every page with text of one and a half times the size."""
        font = self.application.font()
        large = self.application.font()
        large.setPointSizeF(font.pointSizeF() * 1.5)
        self.application.setFont(large)
        book = self.book
        self.show(book.stock, book.stock.rack_fold)
        self.picture("large-stock")
        self.show(book.cutting, book.cutting.cut_fold)
        self.picture("large-cutting")
        self.show(book.cutting, book.cutting.machine_fold)
        self.picture("large-machine")
        self.show(book.hand_over, book.hand_over.quote_fold)
        self.wait(lambda: book.hand_over.quote.is_current, 120)
        self.picture("large-quote")
        self.show(book.what_if, book.what_if.plot_fold)
        self.picture("large-what-if")
        self.application.setFont(font)

    def small(self) -> None:
        """Show the pages in a small window."""
        self.window.resize(860, 560)
        book = self.book
        for page, name in (
            (book.stock, "stock"),
            (book.cutting, "cutting"),
            (book.hand_over, "hand-over"),
            (book.what_if, "what-if"),
        ):
            self.show(page)
            self.picture(f"small-{name}")
        self.window.resize(1280, 800)
