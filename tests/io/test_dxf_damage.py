from __future__ import annotations

import pytest

from drystone.io.dxf_damage import in_plain_words


@pytest.mark.parametrize(
    ("theirs", "ours"),
    [
        (
            'Invalid group code "LWPOLYLINE\n" at line 27.',
            'line 27 holds "LWPOLYLINE" for a code',
        ),
        (
            'Invalid tag (code=70, value="abc") near line: 12.',
            'near line 12 the value "abc" does not fit its code 70',
        ),
        (
            "DXFStructureError: missing ENDSEC tag.",
            "the mark ENDSEC is missing",
        ),
        (
            "missing 'AcDbPolyline' subclass in LWPOLYLINE(#None)",
            "the mark AcDbPolyline is missing in a LWPOLYLINE",
        ),
        (
            'Invalid value ../x for attribute "layer" in entity SEQEND(#None)',
            'the layer of a SEQEND is "../x", which DXF forbids',
        ),
        ("list index out of range", "its structure is broken"),
        ("'DXFLayout' object has no attribute 'dxf'", "its structure is broken"),
    ],
)
def test_damage_is_put_in_plain_words(theirs: str, ours: str) -> None:
    assert in_plain_words(theirs) == ours


def test_words_from_the_file_cannot_break_the_line() -> None:
    told = in_plain_words('Invalid group code "\x1b[31m\x00" at line 3.')
    assert told.isprintable() and "line 3" in told
