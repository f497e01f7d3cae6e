"""The drawings that an order names, read once each, and what it says about them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..nesting.model.errors import InputError
from .findings import Finding
from .known_size import KnownSize
from .notes import Notes, tame
from .operations import Meaning, meaning_from
from .shape_findings import KINDS
from .tables import Problems, shown

if TYPE_CHECKING:
    from .read_drawing import ReadDrawing

Reader = Callable[..., "ReadDrawing"]
"""Reads a drawing as `look_at` does."""


def read_layers(
    table: Mapping[str, Any] | None, where: str, problems: Problems
) -> dict[str, Meaning | None]:
    """Return what a ``[layers]`` table says, noting every mistake.

    Parameters
    ----------
    table : mapping or None
        By layer or colour a word for the work, such as ``red = "engrave"``.
    where : str
        The table's place, for errors.
    problems : Problems
        Collects what is wrong.
    """
    said: dict[str, Meaning | None] = {}
    for name, word in (table or {}).items():
        if isinstance(word, str):
            meaning = partial(meaning_from, word)
            said[name] = problems.attempt(f"{where}: {name}", meaning, None)
        else:
            problems.add(where, f"{name} is {shown(word)}", 'give a word: "engrave"')
    return said


class OrderDrawings:
    """Reads the drawings of an order.

    Parameters
    ----------
    folder : Path
        Where names of drawings are looked for.
    layers : mapping
        What layers and colours mean in all of them.
    problems : Problems
        Collects what is wrong.
    reader : callable, optional
        Reads one drawing; `look_at` unless another is given.
    """

    def __init__(
        self,
        folder: Path,
        layers: Mapping[str, Meaning | None],
        problems: Problems,
        reader: Reader | None = None,
    ) -> None:
        self.findings: list[Finding] = []
        self._folder = folder
        self._layers = layers
        self._problems = problems
        self._reader = reader
        self._read: dict[object, ReadDrawing] = {}
        self._unused = set(layers)

    def get(
        self,
        name: str,
        where: str,
        units: str = "",
        known: KnownSize | None = None,
        layers: Mapping[str, Meaning | None] | None = None,
    ) -> ReadDrawing | None:
        """Return a drawing that holds a part, or None after noting what is wrong.

        It is read once however often the order names it in the same way.

        Parameters
        ----------
        name : str
            Its file, beside the order.
        where : str
            The place that names it, for errors.
        units, known
            As for `look_at`.
        layers : mapping, optional
            What layers and colours mean in this one; added to those of the order.
        """
        # The readers are heavy, and an order of panels needs none of them.
        from .read_drawing import look_at, with_parts

        path = self._folder / name
        told = {**self._layers, **(layers or {})}
        key = (path, units, known, tuple(sorted((layers or {}).items(), key=str)))
        if key not in self._read:
            try:
                read = with_parts(
                    (self._reader or look_at)(
                        path, units or None, known=known, layers=told
                    )
                )
            except InputError as error:
                inner = "" if error.where in ("", str(path), name) else error.where
                inner = f"{inner}: " if inner else ""
                self._problems.add(where, f"{inner}{error.what}", error.cure)
                return None
            self._read[key] = read
            self.findings += read.findings
            drawn = {k for k in told if any(use.has(k) for use in read.uses)}
            self._unused -= drawn
            self._note_unused(str(path), set(layers or {}) - drawn)
        return self._read[key]

    def close(self, file: str) -> None:
        """Note the layers that the whole order speaks of and no drawing has."""
        if self._read:
            self._note_unused(file, self._unused)

    def _note_unused(self, file: str, names: set[str]) -> None:
        notes = Notes(file, KINDS)
        for name in sorted(names):
            notes.add("layer-unused", detail=tame(name))
        self.findings += notes.findings()
