"""What is wrong with a damaged DXF file, in words for people.

The library that reads DXF tells programmers; only the kinds of damage that it reports
often are put into plain words here, the rest is a broken structure.
"""

from __future__ import annotations

import re

from .notes import tame

_LIBRARY_WORDS = tuple(
    (re.compile(theirs, re.DOTALL), ours)
    for theirs, ours in (
        (r'.*Invalid group code "(.*?)\s*" at line (\d+)',
         r'line \2 holds "\1" for a code'),
        (r'.*Invalid tag \((?:code=)?(\d+), (?:value=)?"(.*?)"\) near line:? (\d+)',
         r'near line \3 the value "\2" does not fit its code \1'),
        (r".*Missing required y coordinate near line:? (\d+)",
         r"near line \1 a y coordinate is missing"),
        (r".*Invalid floating point values? near line:? (\d+)",
         r"near line \1 a number makes no sense"),
        (r'recovered invalid [a-z ]+ value "(.*?)" near line (\d+) as "(.*?)"',
         r"near line \2 the number \1 was taken for \3"),
        (r".*unicode decoding error near line:? (\d+)",
         r"near line \1 letters are damaged"),
        (r".*missing (ENDSEC|EOF|SEQEND) tag", r"the mark \1 is missing"),
        (r".*found ENDSEC tag without", r"a section ends that never began"),
        (r".*missing .*section .*name", r"a section has no name"),
        (r".*found tag outside section: \(\d+, (.*?)\)",
         r"\1 stands outside every section"),
        (r".*Expected DXF entity \w+ or SEQEND", r"a polyline or an insert has no end"),
        (r".*missing '(\w+)' subclass in (\w+)", r"the mark \1 is missing in a \2"),
        (r'.*Invalid value (.*?) for attribute "(\w+)" in entity (\w+)',
         r'the \2 of a \3 is "\1", which DXF forbids'),
        (r".*Invalid header variable", r"its header makes no sense"),
        (r".*Invalid (?:XDATA|APP DATA)", r"its additional data make no sense"),
    )
)  # fmt: skip
"""How the library puts a flaw, and how a person would."""


def in_plain_words(words: str) -> str:
    """Return a flaw in plain words; what only programmers know is broken structure."""
    for theirs, ours in _LIBRARY_WORDS:
        found = theirs.match(words)
        if found:
            return tame(found.expand(ours), 100)
    return "its structure is broken"
