"""Drawings made to cost much are refused for what makes them costly, and soon."""

from __future__ import annotations

import itertools
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from drystone.io.crossings import find_cuts
from drystone.io.limits import Budget
from drystone.io.read_drawing import look_at
from drystone.nesting.model import curve
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


def test_the_length_of_a_curve_that_turns_back_takes_few_steps(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # It runs to and fro along a line, with a cusp at each end: its length is the sum of
    # the ways between, and bits of a cusp are never exact by their own length.
    there_and_back = Cubic((0.0, 0.0), (1e5, 0.0), (-5e4, 0.0), (4e4, 0.0))
    steps: list[int] = []
    measure = curve._speed_integral

    def counted(p: NDArray[np.float64]) -> float:
        steps.append(1)
        return measure(p)

    monkeypatch.setattr(curve, "_speed_integral", counted)
    length = there_and_back.length()
    x = np.polynomial.Polynomial([0.0, 3e5, -7.5e5, 4.9e5])
    turns = [0.0, *sorted(x.deriv().roots().real), 1.0]
    ways = [abs(x(b) - x(a)) for a, b in itertools.pairwise(turns)]
    assert length == pytest.approx(sum(ways), rel=1e-9)
    assert len(steps) < 200  # 237 if each bit is measured by its own length
