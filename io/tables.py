"""Typed reading of tables that people write by hand, collecting every mistake."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from typing import Any, TypeVar, get_args

import msgspec

from ..nesting.model.errors import InputError, InputErrors

Entry = TypeVar("Entry", bound=msgspec.Struct)
Value = TypeVar("Value")


class Problems:
    """Collects mistakes, so that one reading reports them all."""

    def __init__(self) -> None:
        self.errors: list[InputError] = []

    def add(self, where: str, what: str, cure: str = "") -> None:
        """Note a mistake."""
        self.errors.append(InputError(where, what, cure))

    def attempt(self, where: str, make: Callable[[], Value], otherwise: Value) -> Value:
        """Return what `make` gives, or `otherwise` after noting its `InputError`.

        An error without a place gets `where`.
        """
        try:
            return make()
        except InputErrors as several:
            self.errors.extend(several.problems)
        except InputError as error:
            self.errors.append(InputError(error.where or where, error.what, error.cure))
        return otherwise

    def raise_any(self) -> None:
        """Raise what was noted, one error or several together.

        Raises
        ------
        InputError
            If anything was noted.
        """
        if len(self.errors) == 1:
            raise self.errors[0]
        if self.errors:
            raise InputErrors(self.errors)


def read_table(
    table: object,
    kind: type[Entry],
    where: str,
    problems: Problems,
    *,
    partial: bool = False,
) -> Entry | None:
    """Return a table as `kind`, key by key, or None after noting what is wrong.

    What a key wants is said by the ``description`` of its type, as in
    ``Annotated[int, Meta(ge=0, description="give 0 or a whole number")]``.

    Parameters
    ----------
    table : object
        What was written; it should be a mapping.
    kind : type
        A msgspec struct.
    where : str
        The table's place, for errors.
    problems : Problems
        Collects what is wrong.
    partial : bool
        Whether to return what could be read even when something is wrong, so that
        the rest is looked through as well; `kind` must then have only defaults.
    """
    if not isinstance(table, Mapping):
        problems.add(where, f"{shown(table)} is not a table", "write key = value lines")
        return None
    before = len(problems.errors)
    fields = {field.encode_name: field for field in msgspec.structs.fields(kind)}
    for key in table:
        if key not in fields:
            near = difflib.get_close_matches(str(key), fields, n=1, cutoff=0.6)
            guess = (
                f"did you mean {near[0]!r}?" if near else f"known: {', '.join(fields)}"
            )
            problems.add(where, f"unknown key {str(key)!r}", guess)
    values: dict[str, Any] = {}
    for key, field in fields.items():
        if key in table:
            try:
                values[field.name] = msgspec.convert(table[key], field.type)
            except (msgspec.ValidationError, RecursionError):
                problems.add(where, f"{key} is {shown(table[key])}", wanted(field.type))
        elif field.required:
            problems.add(where, f"{key} is missing", wanted(field.type))
    return kind(**values) if partial or len(problems.errors) == before else None


def wanted(type_: Any) -> str:
    """Return what a type's description says to give."""
    for meta in getattr(type_, "__metadata__", ()):
        if meta.description:
            return str(meta.description)
    for inner in get_args(type_):  # X or None
        if hasattr(inner, "__metadata__"):
            return wanted(inner)
    return "see the guide for what it takes"


def shown(value: object) -> str:
    """Return a value as it was written, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = repr(value)
    except (RecursionError, ValueError):  # nested too deep; a number too long
        return "too large to show"
    return text if len(text) <= 60 else f"{text[:57]}..."
