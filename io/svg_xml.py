"""The text of an SVG file to a tree of nodes, under limits, fetching nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from xml.etree.ElementTree import ParseError
from xml.parsers.expat import errors as expat_errors

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from ..nesting.model.errors import InputError
from .limits import Budget
from .notes import Notes

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
XML = "http://www.w3.org/XML/1998/namespace"
_UNDECLARED = "undeclared:"
_CUT_SHORT = (
    expat_errors.XML_ERROR_NO_ELEMENTS,
    expat_errors.XML_ERROR_UNCLOSED_TOKEN,
    expat_errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    expat_errors.XML_ERROR_PARTIAL_CHAR,
)
_MARKERS = re.compile(r"^(<{7}|={7}|>{7}|\|{7})( |$)", re.MULTILINE)
_PREFIX = re.compile(r"[<\s/]([A-Za-z_][\w.-]*):[A-Za-z_]")
_ROOT = re.compile(r"<(?:[A-Za-z_][\w.-]*:)?svg(?=[\s/>])")
_INSTRUCTION = re.compile(r"<\?xml-stylesheet\b")


class Node:
    """One element.

    Attributes
    ----------
    tag : str
        Local name when the element is SVG, otherwise empty.
    kind : str
        Local name in any case, for messages.
    attributes : dict of str to str
        Without a name space as written; others as ``{uri}name``.
    text : str
        Characters inside, those of children left out.
    parent : Node or None
        None at the root.
    children : list of Node
        In drawing order.
    index : int
        Its place among its parent's children.
    line : int
        The line in the file where it begins.
    """

    __slots__ = (
        "attributes",
        "children",
        "index",
        "kind",
        "line",
        "parent",
        "tag",
        "text",
    )

    def __init__(
        self, tag: str, kind: str, attributes: dict[str, str], parent: Node | None
    ) -> None:
        self.tag = tag
        self.kind = kind
        self.attributes = attributes
        self.text = ""
        self.parent = parent
        self.children: list[Node] = []
        self.index = 0
        self.line = 0
        if parent is not None:
            self.index = len(parent.children)
            parent.children.append(self)

    def get(self, name: str, default: str = "") -> str:
        """Return an attribute without a name space."""
        return self.attributes.get(name, default)

    @property
    def id(self) -> str:
        """The element's id; may be empty."""
        return self.attributes.get("id") or self.attributes.get(f"{{{XML}}}id", "")

    @property
    def href(self) -> str:
        """What the element refers to; may be empty."""
        plain = self.attributes.get("href")
        if plain is None:
            plain = self.attributes.get(f"{{{XLINK}}}href", "")
        return plain.strip()

    def walk(self) -> Iterator[Node]:
        """Yield the element and all below it in document order."""
        waiting = [self]
        while waiting:
            node = waiting.pop()
            yield node
            waiting.extend(reversed(node.children))


class _Builder:
    """Receives what the parser finds; counts depth and elements as they come."""

    def __init__(self, budget: Budget) -> None:
        self._budget = budget
        self._open: list[Node] = []
        self._text: list[list[str]] = []
        self.root: Node | None = None
        self.parser: Any = None
        self.undeclared: set[str] = set()

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self._budget.entity()
        self._budget.depth(len(self._open))
        uri, brace, kind = tag.rpartition("}")
        uri = uri[1:] if brace else ""
        if self.root is None and not uri:
            self.undeclared.add("xmlns")
        is_svg = uri == SVG or (not uri and "xmlns" in self.undeclared)
        parent = self._open[-1] if self._open else None
        node = Node(kind if is_svg else "", kind, dict(attributes), parent)
        node.line = self.parser.CurrentLineNumber if self.parser else 0
        if self.root is None:
            self.root = node
        self._open.append(node)
        self._text.append([])

    def end(self, tag: str) -> None:
        self._open.pop().text = "".join(self._text.pop())

    def data(self, text: str) -> None:
        if self._text:
            self._text[-1].append(text)

    def close(self) -> Node | None:
        return self.root


class _Parser(DefusedXMLParser):  # type: ignore[misc]
    """Also refuses a document type with a subset of its own.

    Its default attributes could blow a small file up as entities do. A document
    type that only names the standard is fine; it is never fetched.
    """

    def __init__(self, target: _Builder) -> None:
        super().__init__(target=target, encoding="utf-8")
        self.parser.StartDoctypeDeclHandler = self._refuse_subset

    def _refuse_subset(
        self, name: str, system: Any, public: Any, has_subset: bool
    ) -> None:
        if has_subset:
            self.defused_start_doctype_decl(name, system, public, has_subset)


def parse_xml(text: str, budget: Budget, notes: Notes) -> Node:
    """Return the root element of an SVG file.

    Raises
    ------
    InputError
        If it is not well-formed XML, not SVG, declares entities, or is too large.
    """
    notes.add("svg-stylesheet-link", count=len(_INSTRUCTION.findall(text[:100_000])))
    try:
        root, undeclared = _parse(text, budget)
    except ParseError as error:
        if error.code != expat_errors.codes[expat_errors.XML_ERROR_UNBOUND_PREFIX]:
            raise _not_well_formed(error, text, budget.file) from None
        root, undeclared = _parse_with_prefixes(text, budget, notes)
    if root is None or root.tag != "svg":
        kind = root.kind[:40] if root is not None else "nothing"
        raise InputError(
            budget.file,
            f"it is not an SVG drawing: its outermost element is <{kind}>",
            "export it as SVG",
        )
    if undeclared:
        notes.add("svg-namespace-missing", detail="xmlns")
    return root


def _parse(text: str, budget: Budget) -> tuple[Node | None, set[str]]:
    builder = _Builder(budget)
    parser = _Parser(builder)
    builder.parser = parser.parser
    try:
        # In one piece: older Expat reads a long token anew with each piece.
        parser.feed(text.encode("utf-8"))
        parser.close()
    except DefusedXmlException:
        raise InputError(
            budget.file,
            "not read: it declares entities of its own, which can hide harm",
            "save it as plain SVG",
        ) from None
    return builder.root, builder.undeclared


def _parse_with_prefixes(
    text: str, budget: Budget, notes: Notes
) -> tuple[Node | None, set[str]]:
    """Declare every prefix the text uses at the root, and read again."""
    root = _ROOT.search(text)
    if root is None:
        raise InputError(budget.file, "it is not an SVG drawing", "export it as SVG")
    tag_end = text.find(">", root.end())
    head = text[root.end() : tag_end]
    missing = [
        prefix
        for prefix in sorted(set(_PREFIX.findall(text)))[:200]
        if f"xmlns:{prefix}" not in head and not prefix.lower().startswith("xml")
    ]
    uris = {"svg": SVG, "xlink": XLINK}
    added = "".join(
        f' xmlns:{prefix}="{uris.get(prefix, _UNDECLARED + prefix)}"'
        for prefix in missing[:100]
    )
    mended = text[: root.end()] + added + text[root.end() :]
    try:
        result = _parse(mended, budget)
    except ParseError as error:
        raise _not_well_formed(error, text, budget.file) from None
    for prefix in missing[:100]:
        notes.add("svg-namespace-missing", detail=prefix[:40])
    return result


def _not_well_formed(error: ParseError, text: str, file: str) -> InputError:
    marker = _MARKERS.search(text)
    if marker is not None:
        line = text.count("\n", 0, marker.start()) + 1
        return InputError(
            file,
            f"line {line}: two versions of the file are mixed (merge-conflict marks)",
            "settle the conflict, then read it again",
        )
    line, column = error.position
    reason = expat_errors.messages.get(error.code, "not well-formed")
    if reason in _CUT_SHORT:
        return InputError(
            file,
            f"line {line}: the file ends before the drawing does",
            "it was cut short; save or copy it again",
        )
    return InputError(
        file,
        f"line {line}, column {column + 1}: damaged XML ({reason})",
        "save the drawing again",
    )
