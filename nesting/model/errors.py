"""What can go wrong, said once: where, what is wrong, what to do."""

from __future__ import annotations

from collections.abc import Iterable


class DrystoneError(Exception):
    """A mistake the user can act on.

    Parameters
    ----------
    where : str
        The place: a file, a line, a part's name. Empty when there is none.
    what : str
        What is wrong, a short clause without a full stop.
    cure : str
        What to do about it, a short clause; may be empty.
    """

    def __init__(self, where: str, what: str, cure: str = "") -> None:
        self.where = where
        self.what = what
        self.cure = cure
        super().__init__(where, what, cure)

    def __str__(self) -> str:
        """Return the one line a person reads: ``where: what; cure``."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        return f"{text}; {self.cure}" if self.cure else text


class InputError(DrystoneError, ValueError):
    """The input cannot be used (exit status 2)."""


class InputErrors(InputError):
    """Several mistakes of one input, found in one reading.

    Parameters
    ----------
    problems : iterable of InputError
        The mistakes, in the order of the input; at least one.
    """

    def __init__(self, problems: Iterable[InputError]) -> None:
        self.problems = tuple(problems)
        first = self.problems[0]
        super().__init__(first.where, first.what, first.cure)

    def __str__(self) -> str:
        """Return one line for each mistake."""
        return "\n".join(str(problem) for problem in self.problems)


class OutputError(DrystoneError, RuntimeError):
    """A result could not be written (exit status 2)."""


class CheckError(DrystoneError, RuntimeError):
    """The independent check refused a layout: a fault of the program."""
