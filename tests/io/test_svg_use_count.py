"""Uses are counted before they are followed, no less than the reader follows them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from drystone.io import read_svg
from drystone.io.limits import Budget, Limits
from drystone.io.svg_use_count import expect_uses
from drystone.io.svg_xml import Node
from drystone.nesting.model.errors import InputError

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="99mm" viewBox="0 0 99 99">'
RECT = '<rect id="g0" width="9" height="9"/>'


class Counts(Budget):
    """Remembers what was expected and what was counted."""

    made: Counts

    def __init__(self, *arguments: Any) -> None:
        super().__init__(*arguments)
        self.expected = 0
        Counts.made = self

    def expect_more(self, count: int) -> None:
        self.expected = self._entities + count
        super().expect_more(count)


def read(body: str, monkeypatch: pytest.MonkeyPatch, **limits: int) -> Counts:
    monkeypatch.setattr(read_svg, "Budget", Counts)
    data = f"{HEAD}{body}</svg>".encode()
    read_svg.read_svg_data(data, "a.svg", limits=Limits(**limits))
    return Counts.made


def levels(count: int, width: int, tag: str = "g") -> str:
    kept = "".join(
        f'<{tag} id="g{n}">' + f'<use href="#g{n - 1}"/>' * width + f"</{tag}>"
        for n in range(1, count)
    )
    return f'<defs>{RECT}{kept}</defs><use href="#g{count - 1}"/>'


@pytest.mark.parametrize("tag", ["g", "symbol", "a"])
def test_a_bomb_is_refused_before_any_use_is_followed(
    tag: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InputError, match="more than 105,000 entities, repeats"):
        read(levels(40, 9, tag), monkeypatch)
    assert Counts.made._entities < 1000


@pytest.mark.parametrize(
    "body",
    [
        levels(4, 5),
        levels(3, 4, "symbol"),
        RECT + '<g id="a"><use href="#g0"/></g><use href="#a"/><use href="#none"/>',
        '<defs><g id="a">' + RECT * 30 + "</g></defs>",
    ],
)
def test_no_more_are_met_than_were_expected(
    body: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    counts = read(body, monkeypatch)
    uses = body.count("<use")
    assert counts._entities <= counts.expected <= counts._entities + 30 * uses


def test_a_cycle_is_counted_as_ending(monkeypatch: pytest.MonkeyPatch) -> None:
    body = '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>'
    assert read(body, monkeypatch).expected >= 5


def test_what_is_only_kept_is_not_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    counts = read(levels(9, 9).replace('<use href="#g8"/>', RECT), monkeypatch)
    assert counts.expected == counts._entities


def test_a_group_of_uses_of_itself_is_counted_in_one_pass() -> None:
    count = 3000
    looked = 0

    class Children(list[Node]):
        def __iter__(self) -> Iterator[Node]:
            nonlocal looked
            looked += len(self)
            return super().__iter__()

    root = Node("svg", "svg", {}, None)
    group = Node("g", "g", {"id": "a"}, root)
    for _ in range(count):
        Node("use", "use", {"href": "#a"}, group)
    group.children = Children(group.children)
    with pytest.raises(InputError, match="entities"):
        expect_uses(root, {"a": group}, frozenset(), Budget("a.svg"))
    assert count < looked <= 5 * count
