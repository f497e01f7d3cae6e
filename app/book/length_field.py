"""A field for a length in the job's unit."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QWidget

from ...nesting.model.job import Job
from . import words
from .fields import TextField


class LengthField(TextField):
    """A length in the job's unit; typed units win.

    Parameters
    ----------
    name : str
        What it is, for its accessible name.
    job : callable
        Returns the job, whose unit counts.
    least, most : float
        What is usable, mm.

    Signals
    -------
    entered(float)
        A usable length, mm, was typed and differs from the one shown.
    """

    def __init__(
        self,
        name: str,
        job: Callable[[], Job],
        parent: QWidget | None = None,
        least: float = 0.0,
        most: float = 100_000.0,
    ) -> None:
        super().__init__(
            name,
            lambda text: words.length(text, job(), least, most),
            lambda mm: words.shown(mm, job()),
            lambda: job().units,
            parent,
        )

    def show_length(self, mm: float) -> None:
        """Show a length."""
        self.show_value(mm)
