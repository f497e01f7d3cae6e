"""What the help menu tells: the keys, and the versions."""

from __future__ import annotations

import importlib.metadata
import platform

from PySide6 import __version__ as qt
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget


def show_keys(window: QWidget) -> None:
    """Tell the keys."""
    box = QMessageBox(window)
    box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    box.setWindowTitle(window.tr("Keys"))
    rows = [
        ("F6", window.tr("next region: verdict, job book, bench, tray")),
        ("Alt+1 … Alt+4", window.tr("page of the job book")),
        ("Alt+5", window.tr("table of placed copies, to be edited in numbers")),
        ("Ctrl+Return", window.tr("nest")),
        ("Ctrl+.", window.tr("stop and keep")),
        (window.tr("On the bench:"), ""),
        (window.tr("arrows"), window.tr("nudge 1 mm; Shift 10, Ctrl 0.1")),
        ("R, Shift+R", window.tr("turn")),
        ("F / L", window.tr("flip / lock")),
        (window.tr("Del"), window.tr("put in the tray")),
        (", / .", window.tr("previous / next part")),
        ("M", window.tr("measure")),
        (window.tr("Ctrl while dragging"), window.tr("pass through neighbours")),
        (window.tr("Esc"), window.tr("cancel, or select nothing")),
    ]
    lines = "".join(
        f"<tr><td><b>{keys}</b>&nbsp;&nbsp;</td><td>{words}</td></tr>"
        for keys, words in rows
    )
    box.setText(f"<table>{lines}</table>")
    box.open()


def about(window: QWidget) -> None:
    """Tell the versions."""
    try:
        version = importlib.metadata.version("drystone")
    except importlib.metadata.PackageNotFoundError:
        version = window.tr("from sources")
    box = QMessageBox(window)
    box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    box.setWindowTitle(window.tr("About Drystone"))
    box.setText(window.tr("Drystone {version}").format(version=version))
    box.setInformativeText(
        window.tr(
            "Lays flat parts out on sheet goods.\nPython {python}, Qt for Python "
            "{qt} (LGPL), {system}."
        ).format(python=platform.python_version(), qt=qt, system=platform.system())
    )
    box.open()
