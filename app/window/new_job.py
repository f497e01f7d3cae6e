"""The job that begins empty: in the user's unit, with the shop's own gap and margin."""

from __future__ import annotations

from PySide6.QtCore import QLocale, QSettings

from ...io.setup_file import read_setup
from ...nesting.model.errors import InputError
from ...nesting.model.job import Cutting, Job
from ...nesting.model.machine import ShopSetup

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
    try:
        practice = read_setup().practice
    except InputError:  # the Cutting page says what is wrong with the file
        practice = ShopSetup().practice
    cutting = Cutting(
        practice.cut_width,
        practice.allowance,
        practice.margin,
        keep_side=practice.keep_side,
        keep_square=practice.keep_square,
        keep_neck=practice.keep_neck,
    )
    return Job(name, cutting=cutting, units=users_unit(settings))
