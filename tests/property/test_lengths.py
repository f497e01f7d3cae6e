"""Lengths shown to people are read back as what they were."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drystone.io.units import format_length, parse_length
from drystone.nesting.model.errors import InputError


@given(st.floats(-1e5, 1e5), st.sampled_from(["mm", "in", "cm", "ft", "m"]))
def test_shown_and_read_back(mm: float, unit: str) -> None:
    # 3 decimals of mm, 4 of inches, 6 of larger units.
    assert parse_length(format_length(mm, unit)) == pytest.approx(mm, abs=1.4e-3)


@given(st.integers(-64 * 200, 64 * 200))
def test_sixty_fourths_are_exact(count: int) -> None:
    mm = 25.4 * count / 64.0
    text = format_length(mm, "in")
    assert text.endswith('"') and "." not in text
    assert parse_length(text) == pytest.approx(mm, abs=1e-9)


@given(st.text(max_size=30))
def test_any_text_is_a_length_or_refused(text: str) -> None:
    try:
        value = parse_length(text)
    except InputError as error:
        assert error.what
    else:
        assert value == value
