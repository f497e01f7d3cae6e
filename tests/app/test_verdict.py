"""The verdict in words, where blanks and sheets are not the same thing."""

from __future__ import annotations

import pytest

from drystone.app.verdict import BoardUse, Verdict
from drystone.nesting.objective import Measures


def measures(blanks: int) -> Measures:
    return Measures(blanks, 0, 0.0, 1.0, 2.0, 0, 0.0, ())


@pytest.mark.parametrize(
    ("sawn", "said"),
    [((), "9 sheets"), ((("birch, whole sheet", 2, 50.0),), "9 blanks")],
)
def test_the_comparison_counts_what_both_layouts_count(
    sawn: tuple[tuple[str, int, float], ...], said: str
) -> None:
    boards = (BoardUse("birch", 8, 13.0, False, bool(sawn)),)
    verdict = Verdict(
        "boxes", 5, 5, boards, None, "", measures(8), 3, (), "mm", measures(9), sawn
    )
    text = "\n".join(verdict.lines())
    assert (
        f"3 copies lie in holes of other parts; with holes left empty: {said}" in text
    )
    assert verdict.sheets == (2 if sawn else 8)
    assert verdict.cost == (100.0 if sawn else 104.0)
