"""CSS selectors, as far as drawings use them, matched against nodes.

Left out, and so reported: ``~``, whose cost grows with the square of the number of
siblings, name spaces, and most pseudo-classes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from .svg_xml import Node

Specificity = tuple[int, int, int]
Test = Callable[[Node], bool]

_MOST_PARTS = 16


class UnknownSelector(ValueError):
    """The selector uses something that this reader does not know."""


@dataclass(frozen=True, slots=True)
class Compound:
    """What one element must be, such as ``path.cut#a``."""

    tests: tuple[Test, ...]
    key: tuple[str, str]
    """The quickest way to find candidates: ``#``, ``.`` or ``tag`` and a name."""

    def matches(self, node: Node) -> bool:
        """Return whether the node is that."""
        return all(test(node) for test in self.tests)


@dataclass(frozen=True, slots=True)
class Selector:
    """Compounds from left to right and the combinators between them."""

    compounds: tuple[Compound, ...]
    combinators: tuple[str, ...]
    specificity: Specificity

    @property
    def key(self) -> tuple[str, str]:
        """The key of the last compound, which the element itself must meet."""
        return self.compounds[-1].key

    def matches(self, node: Node) -> bool:
        """Return whether the selector picks the node.

        All elements that can stand for a compound are followed together, so that
        nothing is tried twice and the work stays bounded.
        """
        if not self.compounds[-1].matches(node):
            return False
        found = {id(node): node}
        steps = zip(
            reversed(self.combinators), reversed(self.compounds[:-1]), strict=True
        )
        for combinator, compound in steps:
            reached = _reached(found.values(), combinator)
            found = {id(n): n for n in reached if compound.matches(n)}
            if not found:
                return False
        return True


def _reached(nodes: Iterable[Node], combinator: str) -> list[Node]:
    result: dict[int, Node] = {}
    for node in nodes:
        parent = node.parent
        if parent is None:
            continue
        if combinator == ">":
            result[id(parent)] = parent
        elif combinator == " ":
            above: Node | None = parent
            while above is not None and id(above) not in result:
                result[id(above)] = above
                above = above.parent
        elif node.index > 0:
            before = parent.children[node.index - 1]
            result[id(before)] = before
    return list(result.values())


def parse_selectors(tokens: list[Any]) -> tuple[list[Selector], int]:
    """Return the selectors of a rule, and how many are of an unknown kind.

    Parameters
    ----------
    tokens : list
        Component values of tinycss2, the prelude of a qualified rule.
    """
    groups: list[list[Any]] = [[]]
    for token in tokens:
        if token.type == "comment":
            continue
        if token.type == "literal" and token.value == ",":
            groups.append([])
        else:
            groups[-1].append(token)
    selectors: list[Selector] = []
    unknown = 0
    for group in groups:
        try:
            selectors.append(_selector(group))
        except UnknownSelector:
            unknown += 1
    return selectors, unknown


def _selector(tokens: list[Any]) -> Selector:
    compounds: list[Compound] = []
    combinators: list[str] = []
    part: list[Any] = []
    pending = ""
    weight = [0, 0, 0]

    def finish() -> None:
        nonlocal part, pending
        if not part:
            raise UnknownSelector
        if compounds:
            combinators.append(pending)
        compounds.append(_compound(part, weight))
        part, pending = [], ""

    for token in tokens:
        is_space = token.type == "whitespace"
        if is_space or (token.type == "literal" and token.value in (">", "+")):
            if part:
                finish()
            if not compounds:
                if is_space:
                    continue
                raise UnknownSelector
            if not is_space and pending not in ("", " "):
                raise UnknownSelector
            pending = (pending or " ") if is_space else token.value
        else:
            part.append(token)
    if part:
        finish()
    elif pending not in ("", " "):
        raise UnknownSelector
    if not compounds or len(compounds) > _MOST_PARTS:
        raise UnknownSelector
    return Selector(
        tuple(compounds), tuple(combinators), (weight[0], weight[1], weight[2])
    )


def _compound(tokens: list[Any], weight: list[int]) -> Compound:
    tests: list[Test] = []
    keys = {"tag": "*"}
    # A name space prefix before a bar says nothing here: all elements are SVG.
    for i in range(len(tokens) - 1, -1, -1):
        if tokens[i].type == "literal" and tokens[i].value == "|":
            del tokens[max(i - 1, 0) : i + 1]
            break
    at = 0
    while at < len(tokens):
        token = tokens[at]
        at += 1
        if token.type == "ident" and at == 1:
            tests.append(_is_tag(token.value))
            keys["tag"] = token.value
            weight[2] += 1
        elif token.type == "literal" and token.value == "*" and at == 1:
            tests.append(lambda node: bool(node.tag))
        elif token.type == "hash" and token.is_identifier:
            tests.append(_has_id(token.value))
            keys["#"] = token.value
            weight[0] += 1
        elif token.type == "literal" and token.value == "." and at < len(tokens):
            if tokens[at].type != "ident":
                raise UnknownSelector
            tests.append(_has_class(tokens[at].value))
            keys["."] = tokens[at].value
            weight[1] += 1
            at += 1
        elif token.type == "[] block":
            tests.append(_has_attribute(token.content))
            weight[1] += 1
        elif token.type == "literal" and token.value == ":" and at < len(tokens):
            tests.append(_pseudo(tokens[at], weight))
            at += 1
        else:
            raise UnknownSelector
    for kind in ("#", ".", "tag"):
        if kind in keys:
            return Compound(tuple(tests), (kind, keys[kind]))
    raise UnknownSelector


def _is_tag(name: str) -> Test:
    return lambda node: node.tag == name


def _has_id(name: str) -> Test:
    return lambda node: node.id == name


def _has_class(name: str) -> Test:
    return lambda node: name in node.get("class").split()


_PSEUDO: dict[str, Test] = {
    "root": lambda node: node.parent is None,
    "first-child": lambda node: node.parent is not None and node.index == 0,
    "last-child": lambda node: (
        node.parent is not None and node.index == len(node.parent.children) - 1
    ),
    "only-child": lambda node: (
        node.parent is not None and len(node.parent.children) == 1
    ),
    "empty": lambda node: not node.children and not node.text.strip(),
    # States that a drawing at rest is never in.
    "hover": lambda node: False,
    "active": lambda node: False,
    "focus": lambda node: False,
    "visited": lambda node: False,
    "target": lambda node: False,
}


def _pseudo(token: Any, weight: list[int]) -> Test:
    if token.type == "ident" and token.lower_value in _PSEUDO:
        weight[1] += 1
        return _PSEUDO[token.lower_value]
    if token.type == "function" and token.lower_name == "not":
        inner = [t for t in token.arguments if t.type not in ("whitespace", "comment")]
        if any(t.type == "function" for t in inner):
            raise UnknownSelector
        compound = _compound(inner, weight)
        return lambda node: not compound.matches(node)
    raise UnknownSelector


_OPERATORS: dict[str, Callable[[str, str], bool]] = {
    "=": lambda have, want: have == want,
    "~=": lambda have, want: bool(want) and want in have.split(),
    "|=": lambda have, want: have == want or have.startswith(want + "-"),
    "^=": lambda have, want: bool(want) and have.startswith(want),
    "$=": lambda have, want: bool(want) and have.endswith(want),
    "*=": lambda have, want: bool(want) and want in have,
}


def _has_attribute(content: list[Any]) -> Test:
    tokens = [t for t in content if t.type not in ("whitespace", "comment")]
    if len(tokens) == 1 and tokens[0].type == "ident":
        name = tokens[0].value
        return lambda node: name in node.attributes
    if (
        len(tokens) == 3
        and tokens[0].type == "ident"
        and tokens[1].type == "literal"
        and tokens[1].value in _OPERATORS
        and tokens[2].type in ("ident", "string")
    ):
        name, want = tokens[0].value, tokens[2].value
        compare = _OPERATORS[tokens[1].value]
        return lambda node: (
            name in node.attributes and compare(node.attributes[name], want)
        )
    raise UnknownSelector
