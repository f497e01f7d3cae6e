"""Walk through the window on a screen of 1920 x 1080 and tell what is cut off.

    QT_FONT_DPI=192 python tests/gui/large_text.py [FOLDER]    everything twice as large
    python tests/gui/large_text.py --words [FOLDER]            only words twice as large

With a folder it paints each page into it as well. `test_forty_large` runs both.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QSettings, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QApplication,
    QCheckBox,
    QComboBox,
    QLabel,
    QPushButton,
    QScrollArea,
    QTabBar,
    QToolButton,
    QWidget,
)

from drystone.app.book.fold import Fold
from drystone.app.window.document import Document
from drystone.app.window.help import about_box
from drystone.app.window.main_window import MainWindow

sys.path.append(str(Path(__file__).resolve().parents[2]))  # when run by itself

from tests.gui.bench_jobs import planter_job

SCREEN = (1920, 1080)
"""Pixels of the screen."""


def plain(text: str) -> str:
    """Return words without the signs that make letters into keys."""
    return text.replace("&&", "\0").replace("&", "").replace("\0", "&")


def needed(widget: QWidget) -> tuple[int, int]:
    """Return the width and height that a widget's words need."""
    metrics = widget.fontMetrics()
    if isinstance(widget, QLabel):
        if widget.wordWrap():
            longest = max(
                (
                    metrics.horizontalAdvance(word)
                    for word in plain(widget.text()).split()
                ),
                default=0,
            )
            return longest, widget.heightForWidth(widget.width())
        return metrics.horizontalAdvance(plain(widget.text())), metrics.height()
    hint = widget.minimumSizeHint()
    return hint.width(), hint.height()


def cut_off(top: QWidget) -> Iterator[str]:
    """Yield what has less room than its words need."""
    kinds = (QLabel, QPushButton, QToolButton, QCheckBox, QComboBox)
    for widget in top.findChildren(QWidget):
        if not isinstance(widget, kinds) or not widget.isVisible():
            continue
        if widget.objectName().startswith("qt_"):
            continue
        text = widget.currentText() if isinstance(widget, QComboBox) else widget.text()
        if not text or (isinstance(widget, QLabel) and widget.toolTip() == text):
            continue  # shortened on purpose: the whole stands in its tip
        width, height = needed(widget)
        if widget.width() < width or widget.height() < height:
            room = f"{widget.width()} x {widget.height()}, needs {width} x {height}"
            yield f"cut off: {type(widget).__name__} {plain(text)!r} {room}"


def overlapping(top: QWidget) -> Iterator[str]:
    """Yield neighbours that cover each other."""
    for parent in [top, *top.findChildren(QWidget)]:
        if not parent.isVisible() or isinstance(parent, QAbstractScrollArea):
            continue
        children = [
            child
            for child in parent.findChildren(
                QWidget, options=Qt.FindChildOption.FindDirectChildrenOnly
            )
            if child.isVisible()
            and not child.isWindow()
            and not isinstance(parent, QTabBar)  # its own arrows stand as one
            and isinstance(child, QLabel | QAbstractButton | QComboBox | QTabBar)
        ]
        for one, two in combinations(children, 2):
            if one.geometry().intersects(two.geometry()):
                yield (
                    f"overlap: {type(one).__name__} {one.accessibleName()!r} and "
                    f"{type(two).__name__} {two.accessibleName()!r}"
                )


def sideways(top: QWidget) -> Iterator[str]:
    """Yield pages that have to be scrolled sideways."""
    for area in top.findChildren(QScrollArea):
        if area.isVisible() and area.horizontalScrollBar().maximum() > 0:
            yield f"scrolls sideways: {area.parent()}"


def faults(top: QWidget) -> list[str]:
    return sorted({*cut_off(top), *overlapping(top), *sideways(top)})


def main(words: bool, folder: str | None) -> int:
    application = QApplication([])
    if words:
        font = application.font()
        font.setPointSizeF(2.0 * font.pointSizeF())
        application.setFont(font)
    ratio = application.primaryScreen().devicePixelRatio()
    size = round(SCREEN[0] / ratio), round(SCREEN[1] / ratio)
    rest = Path(tempfile.mkdtemp())
    settings = QSettings(str(rest / "window.ini"), QSettings.Format.IniFormat)
    window = MainWindow(Document(planter_job()), settings, rest / "recovery")
    window.resize(*size)
    window.show()
    found: dict[str, list[str]] = {}

    def look(name: str, widget: QWidget) -> None:
        for _ in range(4):
            application.processEvents()
        found[name] = faults(widget)
        if folder is not None:
            widget.grab().save(str(Path(folder) / f"{name}.png"))

    hint = window.minimumSizeHint()
    if hint.width() > size[0] or hint.height() > size[1]:
        found["window"] = [f"least size {hint.width()} x {hint.height()}"]
    look("parts", window)
    for number in range(window.book.count()):
        window.book.setCurrentIndex(number)
        page = window.book.widget(number)
        assert page is not None
        name = window.book.tabText(number).lower().replace(" ", "-")
        look(name, window)
        folds = page.findChildren(Fold)
        for fold in folds:
            fold.set_open(True)
        look(f"{name}-open", window)
        areas = [a for a in page.findChildren(QScrollArea) if a.isVisible()]
        if folder is not None and folds and areas:
            inner = areas[0].widget()
            if inner is not None:
                inner.grab().save(str(Path(folder) / f"{name}-whole.png"))
        for fold in folds:
            fold.set_open(False)
    window.strip.set_running(True)
    window.strip._show_work()
    window.strip.show_time(12.0, 30.0)
    window.document.say("warn", "Another program has changed planter.drystone.")
    look("searching", window)
    window.strip.set_running(False)
    window.menus.placed_action.trigger()
    look("placed", window)
    window.menus.placed_action.trigger()
    for name, box in (
        ("about", about_box(window)),
        ("unsaved", window.files.question()),
    ):
        box.show()
        look(name, box)
        box.close()
    window.show_guide()
    assert window.guide is not None
    look("guide", window.guide)
    window.guide.close()
    window.keep_layout()
    window.compare()
    assert window.comparing is not None
    look("compare", window.comparing)
    window.comparing.close()
    print(json.dumps({"size": size, "faults": found}))
    window.document.undo.setClean()
    window.shut_down()
    return 0


if __name__ == "__main__":
    rest = [word for word in sys.argv[1:] if word != "--words"]
    sys.exit(main("--words" in sys.argv, rest[0] if rest else None))
