"""Turn rules, grain, and which board is which."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drystone.nesting.model.errors import InputError
from drystone.nesting.model.rules import (
    Grain,
    TurnRule,
    angle_between,
    same_board,
)


@pytest.mark.parametrize(
    ("word", "grain", "turns"),
    [
        ("any", Grain.LENGTH, None),
        ("90", Grain.LENGTH, (0, 90, 180, 270)),
        ("180", Grain.WIDTH, (0, 180)),
        ("fixed", Grain.WIDTH, (0,)),
        ("grain", Grain.LENGTH, (0, 180)),
        ("grain", Grain.WIDTH, (90, 270)),
        ("grain", Grain.NONE, None),
        ("grain y", Grain.LENGTH, (90, 270)),
        ("grain y", Grain.WIDTH, (0, 180)),
        ("0, 45", Grain.LENGTH, (0, 45)),
        ("-90, 0", Grain.NONE, (0, 270)),
    ],
)
def test_words_stand_for_turns(
    word: str, grain: Grain, turns: tuple[float, ...] | None
) -> None:
    assert TurnRule.parse(word).turns(grain) == turns


@pytest.mark.parametrize("word", ["", "sideways", "nan, 0", "inf"])
def test_an_unknown_rule_is_refused(word: str) -> None:
    with pytest.raises(InputError):
        TurnRule.parse(word)


@given(
    st.one_of(
        st.sampled_from(["any", "90", "180", "grain", "grain y", "fixed"]).map(
            TurnRule.parse
        ),
        st.lists(st.floats(-400, 400), min_size=1, max_size=5).map(TurnRule.listed),
    )
)
def test_a_rule_reads_back_from_its_own_word(rule: TurnRule) -> None:
    assert TurnRule.parse(str(rule)) == rule


def test_a_turn_is_allowed_only_by_its_rule() -> None:
    grain = TurnRule.parse("grain")
    assert grain.allows(180, Grain.LENGTH)
    assert grain.allows(-180, Grain.LENGTH)
    assert not grain.allows(180.001, Grain.LENGTH)
    assert not grain.allows(90, Grain.LENGTH)
    assert not TurnRule().allows(float("nan"), Grain.LENGTH)


def test_angles_are_compared_round_the_circle() -> None:
    assert angle_between(359, 1) == pytest.approx(2)
    assert angle_between(10, 370) == 0


def test_boards_are_the_same_in_any_case_but_not_in_any_thickness() -> None:
    assert same_board("Birch  Plywood", 12, "birch plywood", 12.04)
    assert not same_board("birch plywood", 12, "birch plywood", 12.1)
    assert not same_board("birch plywood", 12, "MDF", 12)
