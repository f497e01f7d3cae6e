"""What a new job's cutting begins with: the shop's own habits."""

from __future__ import annotations

from ..io.setup_file import read_setup
from ..nesting.model.errors import InputError
from ..nesting.model.job import Cutting
from ..nesting.model.machine import ShopSetup


def usual_cutting() -> Cutting:
    """Return the cutting of the set-up in use; the program's own if that is broken.

    The page of cutting, and every command that needs the set-up, say what is wrong
    with its file.
    """
    try:
        return read_setup().practice.cutting()
    except InputError:
        return ShopSetup().practice.cutting()
