"""Someone in front of the job book, and the book in front of them."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QWidget

from drystone.app.book.book import JobBook
from drystone.app.book.fields import TextField
from drystone.app.book.fold import Fold
from drystone.app.window.document import Document
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

LEFT = Qt.MouseButton.LeftButton
CTRL = Qt.KeyboardModifier.ControlModifier


def bird_job() -> Job:
    """Twelve sides with a notch, on sheets larger than the bed."""
    low = [(0.0, 0.0), (200.0, 0.0), (200.0, 60.0), (150.0, 60.0)]
    high = [(150.0, 100.0), (200.0, 100.0), (200.0, 150.0), (0.0, 150.0)]
    side = Part(
        "side",
        "side",
        Outline(Loop.polygon([*low, *high])),
        quantity=12,
        material="birch plywood",
        thickness=12.0,
    )
    sheet = Stock(
        "sheet",
        "birch sheet",
        Outline(Loop.rectangle(1525, 1525)),
        "birch plywood",
        12.0,
        price=52.0,
    )
    return Job(
        "Bird boxes", (side,), (sheet,), Cutting(6.35, 1.5, 12.0), bed=(800.0, 800.0)
    )


def shelf_on_offcut() -> Job:
    """Four panels laid out on a board, with a leftover worth keeping."""
    panel = Part(
        "panel",
        "panel",
        Outline(Loop.rectangle(200, 100)),
        quantity=4,
        material="birch plywood",
        thickness=12.0,
    )
    board = Stock(
        "board",
        "quarter",
        Outline(Loop.rectangle(760, 760)),
        "birch plywood",
        12.0,
        price=12.0,
    )
    placements = tuple(
        Placement("panel", n + 1, 0, 20.0, 20.0 + 110.0 * n) for n in range(4)
    )
    return Job(
        "Shelf",
        (panel,),
        (board,),
        Cutting(6.0, 2.0, 10.0),
        layout=Layout((Blank("board"),), placements),
    )


def document_of(book: JobBook) -> Document:
    return book.cutting.document


def type_in(field: TextField, text: str) -> None:
    """Type over what stands in a field, and leave it."""
    field.line.setFocus()
    field.line.selectAll()
    QTest.keyClicks(field.line, text)
    QTest.keyClick(field.line, Qt.Key.Key_Return)


def show(book: JobBook, page: QWidget, *folds: Fold) -> None:
    book.setCurrentWidget(page)
    for fold in folds:
        fold.set_open(True)
    QApplication.processEvents()


def tab_stops(page: QWidget) -> list[QWidget]:
    """Return what Tab stops at on a page, in its order."""
    found: list[QWidget] = []
    at = page.nextInFocusChain()
    while at is not page and at is not None:
        inside = page.isAncestorOf(at)
        policy = at.focusPolicy().value & Qt.FocusPolicy.TabFocus.value
        if inside and policy and at.isVisible() and at.isEnabled():
            if at.focusProxy() is None:
                found.append(at)
        at = at.nextInFocusChain()
    return found


def name_of(widget: QWidget) -> str:
    text = widget.text() if isinstance(widget, QAbstractButton) else ""
    return widget.accessibleName() or text
