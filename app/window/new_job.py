"""The job that begins empty: in the user's unit, with the shop's own gap and margin."""

from __future__ import annotations

from PySide6.QtCore import QLocale, QSettings

from ...nesting.model.job import Job
from ..usual_cutting import usual_cutting

UNIT = "units"
"""Under this name the user's unit is remembered."""


def users_unit(settings: QSettings) -> str:
    """Return the unit the user chose last, else the one of the system's language."""
    chosen = str(settings.value(UNIT) or "")
    if chosen in ("mm", "in"):
        return chosen
    system = QLocale().measurementSystem()
    return "in" if system == QLocale.MeasurementSystem.ImperialUSSystem else "mm"


def empty_job(settings: QSettings, name: str) -> Job:
    """Return an empty job with the shop's defaults.

    Parameters
    ----------
    settings : QSettings
        What is remembered for this user.
    name : str
        What it is called at first.
    """
    return Job(name, cutting=usual_cutting(), units=users_unit(settings))
