"""Collecting findings: one for each code, with how often and what was seen."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from .findings import Finding, Severity

_MOST_DETAILS = 50

_FORMS = re.compile(r"\[([^\[\]|]*)\|([^\[\]|]*)\]")
"""Two forms of a word: ``[one|many]``."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of finding.

    Parameters
    ----------
    severity : Severity
        How much it matters.
    message : str
        The sentence; ``{n}`` is how many, ``{detail}`` what exactly. Where it differs
        for one and for many it holds both, as in ``{n} line[ was|s were] read``.
    cure : str
        What to do about it, likewise; may be empty.
    fixed : bool
        Whether the reader mended it.
    """

    severity: Severity
    message: str
    cure: str = ""
    fixed: bool = False


class Notes:
    """Collects findings of the kinds in a table.

    Parameters
    ----------
    file : str
        The file that is read.
    kinds : mapping of str to Kind
        Every code that may be noted.
    """

    def __init__(self, file: str, kinds: Mapping[str, Kind]) -> None:
        self.file = file
        self._kinds = kinds
        self._count: dict[str, int] = {}
        self._first: dict[str, tuple[str, tuple[float, float] | None]] = {}
        self._details: dict[str, dict[str, int]] = {}

    def add(
        self,
        code: str,
        entity: str = "",
        detail: str = "",
        place: tuple[float, float] | None = None,
        count: int = 1,
    ) -> None:
        """Note that something of the kind `code` was seen.

        The first entity and place stay; details are counted each.
        """
        if count <= 0:
            return
        if code not in self._kinds:
            raise KeyError(code)
        self._count[code] = self._count.get(code, 0) + count
        self._first.setdefault(code, (entity, place))
        details = self._details.setdefault(code, {})
        if detail and (detail in details or len(details) < _MOST_DETAILS):
            details[detail] = details.get(detail, 0) + count

    def forget(self, code: str) -> None:
        """Take back what was noted of a kind."""
        self._count.pop(code, None)
        self._first.pop(code, None)
        self._details.pop(code, None)

    def take(self, other: Notes) -> None:
        """Add everything that another collection of the same kinds holds."""
        for code, count in other._count.items():
            entity, place = other._first[code]
            self.add(code, entity, "", place, count)
            mine = self._details[code]
            for detail, times in other._details[code].items():
                mine[detail] = mine.get(detail, 0) + times

    def count(self, code: str) -> int:
        """Return how often something of a kind was seen."""
        return self._count.get(code, 0)

    def findings(self) -> tuple[Finding, ...]:
        """Return the findings, the gravest first."""
        return in_order(self._finding(code) for code in self._count)

    def _finding(self, code: str) -> Finding:
        kind = self._kinds[code]
        count = self._count[code]
        details = sorted(self._details[code].items(), key=lambda item: -item[1])
        detail = ", ".join(text for text, _ in details[:3])
        if len(details) > 3:
            detail += ", …"
        message = numbered(kind.message, count).format(n=f"{count:,}", detail=detail)
        message = message.replace(" ()", "")
        if kind.cure:
            message += f"; {numbered(kind.cure, count)}"
        entity, place = self._first[code]
        return Finding(
            code, kind.severity, message, self.file, entity, place, kind.fixed, count
        )


def numbered(text: str, count: int) -> str:
    """Return a text with its ``[one|many]`` in the form for a number."""
    return _FORMS.sub(lambda forms: forms.group(1 if count == 1 else 2), text)


_ORDER = (Severity.ERROR, Severity.WARNING, Severity.INFO)


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings, the gravest first, otherwise in the order given."""
    listed = list(findings)
    return tuple(sorted(listed, key=lambda finding: _ORDER.index(finding.severity)))


def printable(text: str) -> str:
    """Return a name with a sign for each letter that cannot be shown or written."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def tame(text: str, longest: int = 40) -> str:
    """Return a name from a file fit for one line: printable, not too long."""
    clean = " ".join(printable(text).split())
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"
