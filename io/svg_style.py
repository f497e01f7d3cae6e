"""The CSS cascade of an SVG file.

Style sheets, style attributes, presentation attributes, inheritance.
Only the properties that decide where a shape lies and whether it is seen are kept.
Nothing is ever fetched: ``@import`` is reported.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import tinycss2

from ..nesting.model.errors import InputError
from .limits import Budget
from .notes import Notes, tame
from .svg_selector import Selector, parse_selectors
from .svg_xml import Node

INHERITED = {
    "color": "black",
    "fill": "black",
    "fill-opacity": "1",
    "font-size": "16",
    "marker-end": "none",
    "marker-mid": "none",
    "marker-start": "none",
    "stroke": "none",
    "stroke-dasharray": "none",
    "stroke-opacity": "1",
    "stroke-width": "1",
    "visibility": "visible",
}
"""Properties that children take over, and what they are at first."""

_OWN = frozenset(
    "clip-path display filter mask opacity transform transform-box "
    "transform-origin".split()
)
_CSS_ONLY = frozenset(
    "cx cy d height mask-image r rotate rx ry scale translate width x y".split()
)
_ATTRIBUTES = _OWN | frozenset(INHERITED)
_PROPERTIES = _ATTRIBUTES | _CSS_ONLY
_WIDE = frozenset({"inherit", "initial", "unset", "revert", "revert-layer"})
_MOST_CSS = 2_000_000
_MOST_STYLE = 20_000
_MOST_SIMPLE = 1000
_MANY_RULES = 200
_DATA_URL = re.compile(
    r"""url\(\s*+(?:"data:[^"]*+"|'data:[^']*+'|data:[^()]*+)\s*+\)"""
)
_SIMPLE = re.compile(
    r"\s*(-?[A-Za-z][A-Za-z-]*)\s*:\s*"
    r"((?:[^;:\"'\\{}()!/@\[\]]|url\(#[^)\"'\\;\s]*\))*?)\s*(?:;[\s;]*|$)"
)
_VAR = re.compile(r"var\(\s*(--[\w-]+)\s*(?:,((?:[^()]|\([^()]*\))*))?\)")


@dataclass(frozen=True, slots=True)
class Declaration:
    """One property and its value as text."""

    name: str
    value: str
    important: bool = False


@dataclass(frozen=True, slots=True)
class Style:
    """The properties of one element after cascade and inheritance, as text.

    Parameters
    ----------
    inherited : dict of str to str
        All properties of `INHERITED`, and custom properties (``--name``).
    own : dict of str to str
        The others, as far as they were given.
    """

    inherited: dict[str, str] = field(default_factory=lambda: dict(INHERITED))
    own: dict[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> str:
        """Return an inherited property."""
        return self.inherited[name]

    def get(self, name: str) -> str | None:
        """Return a property of the element itself; None where it was not given."""
        return self.own.get(name)


@dataclass(frozen=True, slots=True)
class _Rule:
    selector: Selector
    order: int
    declarations: tuple[Declaration, ...]


class Cascade:
    """All style sheets of one file, and the styles they give to elements."""

    def __init__(self, root: Node, budget: Budget, notes: Notes) -> None:
        self._budget = budget
        self._notes = notes
        self._rules: dict[tuple[str, str], list[_Rule]] = defaultdict(list)
        self._order = 0
        self._declared: dict[int, dict[str, str]] = {}
        total = 0
        for node in root.walk():
            if node.tag == "style":
                total += len(node.text)
                if total > _MOST_CSS * 10:
                    raise _too_much_css(budget.file)
                self._read_sheet(node)

    def style(self, node: Node, parent: Style) -> Style:
        """Return the style of an element whose surroundings have style `parent`."""
        declared = self._declared.get(id(node))
        if declared is None:
            declared = self._cascaded(node)
            self._declared[id(node)] = declared
        if not declared:
            return Style(parent.inherited)
        inherited = parent.inherited
        own: dict[str, str] = {}
        changed = False
        custom = {k: v for k, v in declared.items() if k.startswith("--")}
        if custom:
            inherited, changed = inherited | custom, True
        for name, text in declared.items():
            if name in custom:
                continue
            value: str | None = text
            if "var(" in text:
                value = _substituted(text, inherited)
            keyword = value.lower() if value is not None else "unset"
            if name in INHERITED:
                if keyword in _WIDE or value is None:
                    if keyword != "initial":
                        continue
                    value = INHERITED[name]
                if not changed:
                    inherited, changed = dict(inherited), True
                inherited[name] = value
            elif keyword == "inherit":
                if name in parent.own:
                    own[name] = parent.own[name]
            elif keyword not in _WIDE and value is not None:
                own[name] = value
        return Style(inherited, own)

    def _cascaded(self, node: Node) -> dict[str, str]:
        """Return the winning declarations: attributes, sheets, style, important."""
        result = {
            name: value.strip()
            for name, value in node.attributes.items()
            if name in _ATTRIBUTES
        }
        rules: list[_Rule] = []
        if self._order > _MANY_RULES:
            self._budget.check()  # one element may then cost milliseconds
        if self._rules:
            keys = [("tag", node.tag), ("tag", "*"), ("#", node.id)]
            keys += [(".", name) for name in set(node.get("class").split()[:100])]
            rules = [
                rule
                for key in keys
                for rule in self._rules.get(key, ())
                if rule.selector.matches(node)
            ]
            rules.sort(key=lambda rule: (rule.selector.specificity, rule.order))
        text = node.get("style")
        inline = self._style_attribute(text) if text else ()
        layers = [*(rule.declarations for rule in rules), inline]
        for important in (False, True):
            for declarations in layers:
                for declaration in declarations:
                    if declaration.important is important:
                        result[declaration.name] = declaration.value
        return result

    def _style_attribute(self, text: str) -> tuple[Declaration, ...]:
        if "data:" in text:
            text = _DATA_URL.sub("none", text)
        if len(text) > _MOST_STYLE:
            self._notes.add("svg-bad-value", detail="a style of excessive length")
            return ()
        declarations, faults = _style_attribute(text)
        self._notes.add("svg-css", detail="style attributes", count=faults)
        return declarations

    def _read_sheet(self, node: Node) -> None:
        kind = node.get("type", "text/css").strip().lower()
        if kind not in ("", "text/css"):
            self._notes.add("svg-css", "style", f"type {kind[:40]}")
            return
        if not _media_applies(node.get("media")):
            self._notes.add("svg-media", "style")
            return
        text = _DATA_URL.sub("none", node.text)
        if len(text) > _MOST_CSS:
            raise _too_much_css(self._budget.file)
        try:
            self._read_rules(
                tinycss2.parse_stylesheet(
                    text, skip_comments=True, skip_whitespace=True
                ),
                0,
            )
        except RecursionError:
            self._notes.add("svg-css", "style", "brackets nested too deep")

    def _read_rules(self, rules: list[Any], depth: int) -> None:
        for rule in rules:
            self._budget.entity()
            if rule.type == "qualified-rule":
                self._read_rule(rule)
            elif rule.type == "at-rule":
                self._read_at_rule(rule, depth)
            else:
                self._notes.add("svg-css", "style", "damaged rules")

    def _read_rule(self, rule: Any) -> None:
        selectors, unknown = parse_selectors(rule.prelude)
        if unknown:
            text = tinycss2.serialize(rule.prelude).strip()
            self._notes.add("svg-css", "style", tame(text), count=unknown)
        declarations, faults = _declarations(rule.content)
        self._notes.add("svg-css", "style", "damaged declarations", count=faults)
        for selector in selectors if declarations else ():
            self._order += 1
            self._rules[selector.key].append(_Rule(selector, self._order, declarations))

    def _read_at_rule(self, rule: Any, depth: int) -> None:
        name = rule.lower_at_keyword
        if name == "import":
            text = tinycss2.serialize(rule.prelude).strip()
            self._notes.add("svg-external", "style", tame(f"@import {text}"))
        elif name == "media" and rule.content is not None:
            if not _media_applies(tinycss2.serialize(rule.prelude)):
                self._notes.add("svg-media", "style")
            elif depth < 8:
                inner = tinycss2.parse_rule_list(
                    rule.content, skip_comments=True, skip_whitespace=True
                )
                self._read_rules(inner, depth + 1)
        elif (
            name
            not in (
                "charset font-face font-feature-values keyframes -webkit-keyframes "
                "namespace page property"
            ).split()
        ):
            self._notes.add("svg-css", "style", tame(f"@{name}"))


def _too_much_css(file: str) -> InputError:
    return InputError(
        file, "not read: its style sheets are too long", "save it without style sheets"
    )


def _media_applies(text: str) -> bool:
    queries = [query.strip().lower() for query in text.split(",")]
    return any(
        query in ("", "all", "screen", "only screen", "only all") for query in queries
    )


def _declarations(tokens: Any) -> tuple[tuple[Declaration, ...], int]:
    """Return the declarations that matter here, and how many were damaged."""
    found: list[Declaration] = []
    faults = 0
    for item in tinycss2.parse_blocks_contents(
        tokens, skip_comments=True, skip_whitespace=True
    ):
        if item.type != "declaration":
            faults += 1
            continue
        if item.name.startswith("--"):
            name = item.name
        else:
            name = item.lower_name
        try:
            value = tinycss2.serialize(
                [t for t in item.value if t.type != "comment"]
            ).strip()
        except RecursionError:
            faults += 1
            continue
        if not value and not name.startswith("--"):
            faults += 1
            continue
        found.extend(_kept(name, value, item.important))
    return tuple(found), faults


def _kept(name: str, value: str, important: bool) -> list[Declaration]:
    if name == "marker":
        ends = ("marker-start", "marker-mid", "marker-end")
        return [Declaration(end, value, important) for end in ends]
    if name in _PROPERTIES or name.startswith("--"):
        return [Declaration(name, value, important)]
    return []


@lru_cache(maxsize=4096)
def _style_attribute(text: str) -> tuple[tuple[Declaration, ...], int]:
    """Return the declarations of a ``style`` attribute, and how many were damaged."""
    found: list[Declaration] = []
    at = len(text) - len(text.lstrip())
    while at < len(text) <= _MOST_SIMPLE:
        match = _SIMPLE.match(text, at)
        if match is None or not match[2] or match.end() == at:
            break
        found.extend(_kept(match[1].lower(), match[2], False))
        at = match.end()
    if at >= len(text):
        return tuple(found), 0
    return _declarations(text)


def _substituted(text: str, properties: dict[str, str]) -> str | None:
    """Return a value, custom properties filled in; None where one is missing."""
    for _ in range(8):
        match = _VAR.search(text)
        if match is None:
            return None if "var(" in text else text.strip()
        value = properties.get(match[1]) or match[2]
        if value is None or len(value) > _MOST_STYLE:
            return None
        text = text[: match.start()] + value.strip() + text[match.end() :]
        if len(text) > _MOST_STYLE:
            return None
    return None
