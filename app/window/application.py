"""Start the window, with a job or without one."""

from __future__ import annotations

import sys
import threading
import traceback
from pathlib import Path
from types import TracebackType

import platformdirs
from PySide6.QtCore import QSettings, QTimer
from PySide6.QtWidgets import QApplication

from .document import Document
from .icon import program_icon
from .log import begin_log, log
from .main_window import MainWindow
from .new_job import empty_job


def open_window(job_path: str | None) -> int:
    """Open the window and wait until it closes.

    Parameters
    ----------
    job_path : str or None
        A job, an order or a drawing to open.

    Returns
    -------
    int
        Exit status.
    """
    instance = QApplication.instance()
    application = (
        instance if isinstance(instance, QApplication) else QApplication(sys.argv[:1])
    )
    application.setApplicationName("drystone")
    application.setApplicationDisplayName("Drystone")
    application.setDesktopFileName("drystone")
    application.setWindowIcon(program_icon())
    begin_log()
    settings = user_settings()
    # Not opened afterwards: that would take away the offer of lost work.
    window = MainWindow(Document(empty_job(settings, Document().job.name)), settings)
    _catch_faults(window)
    window.show()
    if job_path is not None:
        path = Path(job_path)
        QTimer.singleShot(0, window, lambda: window.open_files([path]))
    return application.exec()


def user_settings() -> QSettings:
    """Return what is remembered for this user."""
    path = platformdirs.user_config_path("drystone") / "window.ini"
    return QSettings(str(path), QSettings.Format.IniFormat)


def _catch_faults(window: MainWindow) -> None:
    """Show faults of the program in the window, and keep the work."""

    def caught(
        kind: type[BaseException],
        error: BaseException,
        trace: TracebackType | None,
    ) -> None:
        traceback.print_exception(kind, error, trace)
        log.error("fault", exc_info=(kind, error, trace))
        if issubclass(kind, KeyboardInterrupt):
            QApplication.quit()
            return
        window.recovery.keep()
        words = window.tr("Something went wrong in the program: {what}. ").format(
            what=error
        )
        if threading.current_thread() is threading.main_thread():
            kept = window.tr("A copy of your work is kept; save it now.")
            window.banner.say("error", words + kept)

    sys.excepthook = caught
