"""Broken and hostile SVG files: each ends in a drawing or in one clear line."""

from __future__ import annotations

import gzip
import socket
import time
from pathlib import Path

import pytest

from drystone.io.drawing import Drawing
from drystone.io.limits import Limits
from drystone.io.read_svg import read_svg, read_svg_data
from drystone.nesting.model.errors import InputError

HEAD = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
UNIT = '<rect width="10" height="10"/>'
GOOD = f"<svg {HEAD}>{UNIT}</svg>"


def read(text: str | bytes) -> Drawing:
    return read_svg_data(text.encode() if isinstance(text, str) else text, "case.svg")


def codes(drawing: Drawing) -> dict[str, int]:
    return {finding.code: finding.count for finding in drawing.findings}


BOMB = (
    '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]>'
    f"<svg {HEAD}><text>&b;</text></svg>"
)
OUTSIDE = (
    '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    f"<svg {HEAD}><text>&x;</text></svg>"
)
DEFAULTS = f'<!DOCTYPE svg [<!ATTLIST rect style CDATA "{"x" * 999}">]>{GOOD}'
PARAMETER = (
    '<!DOCTYPE svg [<!ENTITY % p SYSTEM "http://example.invalid/x.dtd"> %p;]>' + GOOD
)
DEEP = f"<svg {HEAD}>" + "<g>" * 20_000 + UNIT + "</g>" * 20_000 + "</svg>"
CONFLICT = f"<svg {HEAD}>\n<<<<<<< ours\n{UNIT}\n=======\n>>>>>>> theirs\n</svg>"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"   \n", "empty"),
        (BOMB.encode(), "entities"),
        (OUTSIDE.encode(), "entities"),
        (PARAMETER.encode(), "entities"),
        (DEFAULTS.encode(), "entities"),
        (DEEP.encode(), "deep"),
        (CONFLICT.encode(), "line 2: two versions"),
        (b"<svg", "ends before"),
        (GOOD[:-3].encode(), "ends before"),
        (f"<svg {HEAD}><g>".encode(), "ends before"),
        (f"<svg {HEAD}><g></svg>".encode(), "mismatched tag"),
        (b"<html><body/></html>", "<html>"),
        (b"not a drawing", "damaged XML"),
        (b"\x89PNG\r\n\x1a\n0000", "bitmap"),
        (b"\xff\xd8\xff\xe0", "bitmap"),
        (b"%PDF-1.7", "PDF"),
        (b"  0\r\nSECTION\r\n", "DXF"),
        (b"PK\x03\x04", "ZIP"),
        (b"<svg>\x00\x00\x00</svg>", "binary"),
        (gzip.compress(GOOD.encode())[:40], "cut short"),
        (b"\x1f\x8bgarbage", "damaged"),
        (gzip.compress(gzip.compress(GOOD.encode())), "more than once"),
        (gzip.compress(b" " * 5_000_000), "grows beyond measure"),
        (f"<svg {HEAD}>&nbsp;</svg>".encode(), "undefined entity"),
        (f'<svg {HEAD} id="a" id="b"/>'.encode(), "duplicate attribute"),
    ],
)
def test_unusable_files_are_refused_in_one_line(data: bytes, words: str) -> None:
    with pytest.raises(InputError) as caught:
        read(data)
    message = str(caught.value)
    assert message.startswith("case.svg: ")
    assert words in message
    assert "\n" not in message


def test_a_document_type_that_only_names_the_standard_is_fine() -> None:
    doctype = (
        '<?xml version="1.0"?>\n<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    assert len(read(doctype + GOOD).strokes) == 1


@pytest.mark.parametrize(
    ("encoding", "declared", "mended"),
    [
        ("utf-8", None, False),
        ("utf-8-sig", "UTF-8", False),
        ("utf-16", "UTF-16", False),
        ("utf-16-le", "UTF-16", False),
        ("utf-16-be", None, False),
        ("utf-16", "UTF-8", False),
        ("latin-1", "ISO-8859-1", False),
        ("cp1252", "windows-1252", False),
        ("shift_jis", "Shift_JIS", False),
        ("latin-1", None, True),
        ("latin-1", "UTF-8", True),
        ("utf-8", "x-no-such-set", True),
        ("utf-8", "zip", True),
        ("utf-8", "UTF-16", True),
    ],
)
def test_encodings(encoding: str, declared: str | None, mended: bool) -> None:
    name = "" if encoding == "shift_jis" else "é"
    head = f'<?xml version="1.0" encoding="{declared}"?>' if declared else ""
    text = f'{head}<svg {HEAD}><rect id="k{name}" width="1" height="1"/></svg>'
    drawing = read(text.encode(encoding))
    assert drawing.strokes[0].name == "k" + name
    assert ("svg-encoding-mended" in codes(drawing)) is mended


def test_missing_name_spaces_are_mended() -> None:
    drawing = read(
        '<svg><rect id="r" width="1" height="1"/>'
        '<use xlink:href="#r" foo:bar="1"/></svg>'
    )
    assert len(drawing.strokes) == 2
    assert codes(drawing)["svg-namespace-missing"] == 3


def test_control_characters_are_taken_out() -> None:
    drawing = read(f"<svg {HEAD}>\x01\x0b{UNIT}</svg>")
    assert len(drawing.strokes) == 1
    assert codes(drawing)["svg-control-characters"] == 2


@pytest.mark.parametrize(
    "body",
    [
        '<g id="a"><use href="#a"/></g>',
        '<use id="a" href="#a"/>',
        '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>',
        '<symbol id="s"><use href="#s"/></symbol><use href="#s"/>',
        '<use id="a" href="#b"/><use id="b" href="#a"/>',
    ],
)
def test_uses_that_contain_themselves_end(body: str) -> None:
    drawing = read(f"<svg {HEAD}>{UNIT}{body}</svg>")
    assert len(drawing.strokes) == 1
    assert codes(drawing)["svg-use-cycle"] >= 1


def test_a_use_of_the_page_itself_is_a_cycle() -> None:
    drawing = read(f'<svg {HEAD} id="p">{UNIT}<use href="#p"/></svg>')
    assert len(drawing.strokes) == 1
    assert codes(drawing)["svg-use-cycle"] == 1


def test_uses_that_multiply_are_stopped() -> None:
    levels = "".join(
        f'<g id="g{i + 1}">' + f'<use href="#g{i}"/>' * 10 + "</g>" for i in range(9)
    )
    text = (
        f'<svg {HEAD}><defs><g id="g0">{UNIT}</g>{levels}</defs><use href="#g9"/></svg>'
    )
    begun = time.monotonic()
    with pytest.raises(InputError, match="more than 20,000 entities"):
        read_svg_data(text.encode(), limits=Limits(entities=20_000))
    assert time.monotonic() - begun < 60


def test_a_long_chain_of_uses_is_stopped() -> None:
    chain = "".join(f'<g id="g{i + 1}"><use href="#g{i}"/></g>' for i in range(5000))
    kept = f'<defs><g id="g0">{UNIT}</g>{chain}</defs>'
    text = f'<svg {HEAD}>{kept}<use href="#g5000"/></svg>'
    with pytest.raises(InputError, match="deep"):
        read(text)


@pytest.mark.parametrize(
    "number",
    ["NaN", "nan", "inf", "-inf", "1e309", "1e308", "-1e308", "1e-320", "0x10"],
)
def test_odd_numbers_never_crash_and_never_come_out(number: str) -> None:
    bodies = [
        f'<rect width="{number}" height="10"/>',
        f'<rect x="{number}" width="5" height="10" rx="{number}"/>',
        f'<circle r="{number}"/>',
        f'<circle cx="{number}" r="5"/>',
        f'<ellipse rx="{number}" ry="3"/>',
        f'<path d="M0 0L{number} 5z"/>',
        f'<path d="M0 0A{number} 5 0 0 1 9 9"/>',
        f'<path d="M0 0A5 5 {number} 0 1 9 9"/>',
        f'<path d="M0 0A5 5 0 1 1 {number} {number}"/>',
        f'<path d="M0 0C1 1 {number} 5 6 7"/>',
        f'<polygon points="0 0 {number} 0 5 5"/>',
        f'<g transform="scale({number})">{UNIT}</g>',
        f'<g transform="rotate({number})">{UNIT}</g>',
        f'<g transform="skewX({number})">{UNIT}</g>',
        f'<g transform="matrix({number} 0 0 {number} {number} 0)">{UNIT}</g>',
        f'<g opacity="{number}">{UNIT}</g>',
        f'<g style="font-size:{number}em;x:{number}px">{UNIT}</g>',
        f'<svg width="{number}" viewBox="0 0 {number} 5">{UNIT}</svg>',
    ]
    for body in bodies:
        drawing = read(f"<svg {HEAD}>{body}</svg>")
        for stroke in drawing.strokes:
            for segment in stroke.segments:
                assert all(abs(v) <= 2e7 for v in segment.bounds())
        assert drawing.strokes or codes(drawing)
    for page in (
        f'width="{number}mm"',
        f'viewBox="0 0 {number} {number}"',
        f'viewBox="{number} 0 5 5" width="5mm" height="{number}mm"',
    ):
        read(f"<svg {HEAD} {page}>{UNIT}</svg>")


@pytest.mark.parametrize(
    "name",
    ["../../etc/passwd", "=cmd|' /C calc'!A0", "&lt;script&gt;", "a&#10;b", "x" * 9999],
)
def test_hostile_names_stay_plain_text_of_one_line(name: str) -> None:
    drawing = read(
        f'<svg {HEAD}><g id="{name}"><rect id="{name}" width="9" height="9"/></g></svg>'
    )
    stroke = drawing.strokes[0]
    for text in (stroke.name, stroke.layer, stroke.entity):
        assert text.isprintable()
        assert len(text) <= 200


def test_hostile_style_sheets_end() -> None:
    for css in (
        "(" * 50_000,
        "{" * 50_000,
        "rect{fill:" + "(" * 5_000 + "}",
        "g " * 5_000 + "{fill:none}",
        ":not(" * 5_000,
        "rect{--a:var(--a);fill:var(--a)}",
        "rect{--a:var(--b)var(--b);--b:var(--a)var(--a);fill:var(--a)}",
        "@media screen{" * 100,
        "</" * 10,
        "\\",
        "rect{fill:url(",
        "<!-- rect{fill:none} -->",
    ):
        text = css.replace("&", "&amp;").replace("<", "&lt;")
        drawing = read(f"<svg {HEAD}><style>{text}</style>{UNIT}</svg>")
        assert len(drawing.strokes) <= 1
    for style in ("(" * 15_000, "fill:" + "[" * 9_000, ";" * 9_999, ":" * 9_999):
        read(f'<svg {HEAD}><rect width="9" height="9" style="{style}"/></svg>')


def test_nothing_is_fetched(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a connection was tried")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    url = "http://example.invalid/a"
    drawing = read(
        f'<?xml-stylesheet href="{url}.css"?>'
        f'<!DOCTYPE svg SYSTEM "{url}.dtd">'
        f"<svg {HEAD}><style>@import '{url}.css'; rect{{fill:url({url}.svg#p)}}</style>"
        f'<image href="{url}.png"/><use href="{url}.svg#x"/>{UNIT}</svg>'
    )
    assert codes(drawing)["svg-external"] == 4
    assert codes(drawing)["svg-stylesheet-link"] == 1
    assert len(drawing.strokes) == 1


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    for path in (tmp_path / "none.svg", tmp_path):
        with pytest.raises(InputError):
            read_svg(path)


def test_a_path_of_a_hundred_thousand_segments_is_read() -> None:
    steps = "l1 1 1-1" * 50_000
    drawing = read(f'<svg {HEAD}><path stroke="red" d="M0 0{steps}"/></svg>')
    assert len(drawing.strokes[0].segments) == 100_000


@pytest.mark.parametrize(
    "body",
    [
        '<path d="M0 0' + " " * 300_000 + 'x"/>',
        '<rect width="1' + " " * 300_000 + 'x" height="9"/>',
        '<g transform="rotate(1' + " " * 300_000 + 'x)"/>',
        "<style>" + "url(data:" * 30_000 + "</style>",
        '<rect style="fill' + " " * 19_000 + 'x"/>',
        '<path style="d:path(' + " " * 19_000 + 'x)"/>',
    ],
)
def test_long_runs_cost_no_more_than_their_length(body: str) -> None:
    # Backtracking would need hours for these; the limit only tells the two apart.
    begun = time.process_time()
    read(f"<svg {HEAD}>{body}{UNIT}</svg>")
    assert time.process_time() - begun < 20
