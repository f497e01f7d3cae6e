"""Reading drawings and orders in a process of its own: what runs there, and unpacking.

A drawing from a stranger may take a reader long, or much memory; the window must not
feel that, and stopping must end it whatever it does. Nothing here knows Qt or the
engine, so that the other process starts quickly.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from pathlib import Path

from ...io.limits import STEPS, Limits
from ...io.read_guarded import hold_memory
from ...nesting.model.placement import Layout
from ..book.importing import Read, read_drawings, read_whole
from .engine_child import Request, Show


def read(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Read files and show the figure ``read``, which `unpacked` understands.

    The options are ``paths``, a list of names; ``whole``, whether it is one order;
    ``units``, what the user has said about the unit of drawings, by name;
    ``layers``, what a job says of layers and colours (`Job.layers`); and ``times``,
    how many times larger than usual drawings may be.
    """
    limits = Limits().raised(request.options.get("times", 1))
    hold_memory(limits)
    paths = [Path(name) for name in request.options["paths"]]
    found: Read | None
    if request.options["whole"]:
        show.progress(-1.0, paths[0].name)
        found = read_whole(paths[0])
    else:
        from ...io.operations import told_from

        units = request.options.get("units", {})
        layers = told_from(request.options.get("layers", ()))
        found = read_drawings(paths, stopped, units, show.progress, layers, limits)
    if found is not None:
        data = pickle.dumps(found, pickle.HIGHEST_PROTOCOL)
        show(Layout(), 0.0, {"read": data})


def unpacked(data: bytes) -> Read:
    """Return what was read; for a thread beside the window's."""
    found = pickle.loads(data)
    assert isinstance(found, Read)
    return found


def sketch(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Read a drawing's lines and show the figure ``sketch``.

    The options are ``path`` and ``units``, the unit it was read in.
    """
    from ..book.sketch import sketch_of

    hold_memory(Limits().raised(STEPS[-1]))
    path = Path(request.options["path"])
    drawn = sketch_of(path, request.options["units"], stopped)
    show(Layout(), 0.0, {"sketch": drawn})
