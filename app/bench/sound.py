"""Exceptions that may cross from Python through Qt and back without harm."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec, TypeVar

_Args = ParamSpec("_Args")
_Result = TypeVar("_Result")


def sound(handler: Callable[_Args, _Result]) -> Callable[_Args, _Result]:
    """Make an event handler or a paint method raise exceptions that are whole.

    What C code raises (NumPy, shapely, `math`) is an exception only once some Python
    code has caught it. Where one handler is called from within another, by way of
    Qt, PySide 6.11 on Python 3.11 stumbles over one that is not, and the program
    dies. Catching it and letting it go on is enough.
    """

    @functools.wraps(handler)
    def call(*args: _Args.args, **more: _Args.kwargs) -> _Result:
        try:
            return handler(*args, **more)
        except Exception:
            raise

    return call
