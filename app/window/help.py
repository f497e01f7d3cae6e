"""What the help menu tells about the program itself."""

from __future__ import annotations

import importlib.metadata
import platform

from PySide6 import __version__ as qt
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices, QGuiApplication
from PySide6.QtWidgets import QMessageBox, QWidget

from .log import log_folder


def version() -> str:
    """Return the program's version; empty where it runs without being installed."""
    try:
        return importlib.metadata.version("drystone")
    except importlib.metadata.PackageNotFoundError:
        return ""


def details() -> str:
    """Return versions and system, a line each, for whoever looks into a fault."""
    return "\n".join(
        (
            f"Drystone {version()}".strip(),
            f"Python {platform.python_version()}",
            f"Qt for Python {qt}",
            platform.platform(),
        )
    )


def show_logs() -> None:
    """Show the folder with the log."""
    folder = log_folder()
    folder.mkdir(parents=True, exist_ok=True)
    QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder)))


def about_box(window: QWidget) -> QMessageBox:
    """Return the box that tells the versions."""
    box = QMessageBox(window)
    box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    box.setWindowTitle(window.tr("About Drystone"))
    box.setText(window.tr("Drystone {version}").format(version=version()).strip())
    box.setInformativeText(
        window.tr(
            "Lays flat parts out on sheet goods. MIT licence.\nPython {python}, "
            "Qt for Python {qt} (LGPL), {system}."
        ).format(python=platform.python_version(), qt=qt, system=platform.system())
    )
    action = QMessageBox.ButtonRole.ActionRole
    copy = box.addButton(window.tr("Copy details"), action)
    logs = box.addButton(window.tr("Show log folder"), action)
    close = box.addButton(window.tr("Close"), QMessageBox.ButtonRole.RejectRole)
    # A box closes at any button; these two only do something on the way.
    copy.clicked.connect(lambda: QGuiApplication.clipboard().setText(details()))
    logs.clicked.connect(show_logs)
    box.setDefaultButton(close)
    return box


def about(window: QWidget) -> None:
    """Tell the versions."""
    about_box(window).open()
