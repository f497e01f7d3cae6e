"""Drawings made to cost much are refused for what makes them costly, and soon."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest

from drystone.io.crossings import find_cuts
from drystone.io.limits import Budget
from drystone.io.read_drawing import look_at
from drystone.nesting.model.curve import Cubic
from drystone.nesting.model.errors import InputError

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="999mm" viewBox="0 0 999 999">'


def look(body: str, folder: Path) -> None:
    path = folder / "a.svg"
    path.write_text(f"{HEAD}{body}</svg>")
    look_at(path)


def test_shapes_that_all_cross_each_other(tmp_path: Path) -> None:
    # A thousand circles make half a million crossings; the first 2,000 are enough.
    body = "".join(
        f'<circle cx="{300 + n * 0.1}" cy="300" r="99"/>' for n in range(1000)
    )
    with pytest.raises(InputError, match="more than 2,000 closed shapes cross others"):
        look(body, tmp_path)


def test_crossings_of_curves_many_kilometres_long_take_little_memory() -> None:
    far = 9e6
    one = Cubic((0.0, 0.0), (far, far), (0.0, far), (far, 0.0))
    other = Cubic((0.0, far / 2.0), (far, 0.0), (far, far), (0.0, far / 3.0))
    tracemalloc.start()
    cuts = find_cuts([one, other], Budget("a"))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert cuts is not None and cuts[0] and cuts[1]
    for t in cuts[0]:
        nearest = min(
            abs(complex(*one.point_at(t)) - complex(*other.point_at(u)))
            for u in cuts[1]
        )
        assert nearest < 1e-3
    assert peak < 100e6
