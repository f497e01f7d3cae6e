"""What the program notes for whoever looks into a fault; no part data, no network."""

from __future__ import annotations

import faulthandler
import logging
import logging.handlers
from pathlib import Path
from typing import TextIO

import platformdirs
from PySide6.QtCore import QMessageLogContext, QtMsgType, qInstallMessageHandler

LARGEST = 500_000
"""The log begins anew at this size, bytes; two older ones are kept."""

log = logging.getLogger("drystone")


def log_folder() -> Path:
    """Return where the log is kept."""
    return platformdirs.user_log_path("drystone")


def begin_log() -> None:
    """Note faults of the program and of Qt in a file, as far as one can be written."""
    folder = log_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handler = logging.handlers.RotatingFileHandler(
            folder / "drystone.log", maxBytes=LARGEST, backupCount=2, encoding="utf-8"
        )
        crash: TextIO = open(folder / "crash.log", "a", encoding="utf-8")
    except OSError:
        return
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    log.addHandler(handler)
    log.setLevel(logging.INFO)
    faulthandler.enable(crash)
    qInstallMessageHandler(_note)
    log.info("started")


def _note(kind: QtMsgType, context: QMessageLogContext, words: str) -> None:
    grave = kind in (QtMsgType.QtCriticalMsg, QtMsgType.QtFatalMsg)
    log.log(logging.ERROR if grave else logging.WARNING, "Qt: %s", words)
