"""Feed the SVG reader damaged drawings until the time is up, and keep the faults.

Run it as ``python tests/benchmarks/fuzz_svg.py [SECONDS [FOLDER]]``; see
``fuzzing.py`` beside it.
"""

from __future__ import annotations

import copy
import importlib
import random
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

ROOT = Path(__file__).resolve().parents[2]
SEEDS = [
    '<rect x="1" y="2" width="30" height="40" rx="5" transform="rotate(30 5 5)"/>',
    '<path d="M0 0a5 5 0 0110 0q3 3 5 8t3 2c1 1 2 2 3 3s4 4 5 5h3v3zl1 1"/>',
    '<g id="a" class="k"><circle r="5%"/></g><use href="#a" x="5"/>',
    '<symbol id="s" viewBox="0 0 9 9"><ellipse rx="4" ry="3"/></symbol>'
    '<use xlink:href="#s" width="20" height="5"/>',
    "<style>.k > rect:not(#b){fill:none;stroke:url(#p) red}@media print{a{b:c}}</style>"
    '<g class="k" style="transform:scale(2) rotate(1rad);transform-origin:50% top">'
    '<rect width="9" height="9"/></g>',
    '<svg x="1" width="50%" viewBox="0 0 1 1" preserveAspectRatio="xMaxYMin slice">'
    '<polygon points="0,0 1,0 1 1"/><line x2="1"/></svg><text>t</text>',
    '<switch><g requiredExtensions="x"/><a><polyline points="1 2 3 4 5"/></a></switch>',
    '<clipPath id="c"><rect width="9" height="9"/></clipPath><mask id="m"/>'
    '<g clip-path="url(#c)" mask="url(#m)"><path style="d:path(\'M0 0h9v9z\');'
    "scale:2 -1;rotate:30deg;translate:1px 2%;transform-box:fill-box"
    '" marker-start="url(#k)"/></g><pattern id="p"/><linearGradient id="l"/>',
]
PIECES = (
    "0 1 -1 1e309 NaN 1e-300 99999999 % mm in <g> </g> <use href='#a'/> id='a' \" ' > "
    "< & &#0; &amp; / M m a A z Z C q T , . - scale( rotate( ) matrix(0 0 0 0 0 0) "
    "display:none style=' transform=' viewBox='0 0 0 0' url(#a) var(--x) { } @import "
    "<![CDATA[ ]]> <!-- --> <?xml <!DOCTYPE \x00 \x1f\x8b \xff \ufeff #a * + ~ : ; !"
).split(" ")

SVG = "{http://www.w3.org/2000/svg}"
TAGS = (
    "g a svg use defs symbol switch style clipPath mask pattern marker text image "
    "rect circle ellipse line polyline polygon path foreignObject animate filter"
).split()
ATTRIBUTES = (
    "x y width height rx ry r cx cy x1 y1 x2 y2 d points transform id class href "
    "style viewBox preserveAspectRatio clip-path mask fill stroke opacity display "
    "visibility transform-origin stroke-width clipPathUnits systemLanguage"
).split()
VALUES = [
    *"0 1 -1 5 1e309 NaN 1e-300 99999999 % 50% 3mm 2in 1e3em auto none inherit".split(),
    *"#a #b #c url(#a) url(#c) url(x.svg#a) a b c k var(--x) 0,0 center z".split(),
    *(
        "rotate(30 5 5)",
        "scale(0)",
        "scale(1e200)",
        "matrix(1 0 0 -1 0 9)",
        "skewX(90)",
    ),
    *("0 0 9 9", "0 0 0 0", "1e9 0 1e-9 1", "xMidYMax slice", "M0 0h9v9H0z"),
    *(
        "M0 0a5 3 30 1 1 4 9",
        "M0 0c1 1 2 2 3 3s1-9 2-3q9 9 9-9t8 2zm3 3l1 1",
        "0,0 9,1",
    ),
    *(
        "display:none",
        "fill:none",
        "transform:scale(2,-1)",
        ".k *{opacity:0}",
        "center",
    ),
]


def wrapped(body: str) -> bytes:
    return (
        '<?xml version="1.0" encoding="UTF-8"?><svg xmlns="http://www.w3.org/2000/svg" '
        'xmlns:xlink="http://www.w3.org/1999/xlink" width="100mm" viewBox="0 0 99 99">'
        f"{body}</svg>"
    ).encode()


def seeds() -> list[bytes]:
    """Return small pieces of each kind, the sample and the nasty files."""
    files = [*ROOT.glob("sample_parts/*.svg"), *ROOT.glob("tests/data/nasty/*.svg*")]
    small = [path for path in sorted(files) if path.stat().st_size < 10_000]
    found = [path.read_bytes() for path in small]
    return [*(wrapped(body) for body in SEEDS), *dialects(), *found]


def dialects() -> list[bytes]:
    """Return the first five parts of the corpus in every dialect."""
    sys.path.insert(0, str(ROOT / "tests" / "property"))
    corpus = importlib.import_module("test_svg_corpus")
    del corpus.PARTS[5:]
    return [write().encode() for write in corpus.DIALECTS.values()]


def reader() -> Callable[[bytes], Any]:
    from drystone.io import read_svg  # noqa: F401  (to be watched, too)

    found: Callable[[bytes], Any] = importlib.import_module("fuzzing").whole_road(
        "case.svg"
    )
    return found


def mutated(data: bytes, dice: random.Random) -> bytes:
    """Change the tree where there is one, three times in four; else the bytes."""
    if dice.random() < 0.75:
        try:
            root = ElementTree.fromstring(data)
        except (ElementTree.ParseError, ValueError, LookupError):
            return with_other_bytes(data, dice)
        for _ in range(dice.choice((1, 1, 2, 3, 8))):
            change_tree(root, dice)
        return bytes(ElementTree.tostring(root, encoding="utf-8"))
    return with_other_bytes(data, dice)


def change_tree(root: ElementTree.Element, dice: random.Random) -> None:
    """Change one thing in a tree: an attribute, a tag, or where an element stands."""
    every = list(root.iter())[:2000]
    element, other = dice.choice(every), dice.choice(every)
    kind = dice.randrange(8)
    if kind <= 2:
        name = dice.choice([*element.attrib, *ATTRIBUTES])
        old = element.get(name, "")
        at = dice.randrange(len(old) + 1)
        to = min(at + dice.randrange(6), len(old))
        new = dice.choice([*VALUES, *other.attrib.values()])
        element.set(name, dice.choice([new, old[:at] + new + old[to:]]))
    elif kind == 3 and element.attrib:
        del element.attrib[dice.choice(list(element.attrib))]
    elif kind == 4:
        element.tag = SVG + dice.choice(TAGS)
    elif kind == 5:
        inner = ElementTree.SubElement(element, SVG + dice.choice(TAGS))
        inner.set(dice.choice(ATTRIBUTES), dice.choice(VALUES))
    elif kind == 6 and len(every) < 300:
        element.append(copy.deepcopy(other))
    elif len(element):
        element.remove(element[dice.randrange(len(element))])


def with_other_bytes(data: bytes, dice: random.Random) -> bytes:
    for _ in range(dice.choice((1, 1, 2, 3, 8))):
        at = dice.randrange(len(data) + 1)
        to = min(at + dice.choice((0, 1, 1, 2, 5, 20)), len(data))
        kind = dice.randrange(5)
        if kind == 0:
            new = dice.choice(PIECES).encode()
        elif kind == 1:
            new = bytes([dice.randrange(256)])
        elif kind == 2:
            start = dice.randrange(len(data) + 1)
            new = data[start : start + dice.randrange(40)]
        elif kind == 3:
            new = data[at:to] * dice.choice((2, 3, 50))
        else:
            new = b""
        data = data[:at] + new + data[to:]
    return data[:20_000]


if __name__ == "__main__":
    run = importlib.import_module("fuzzing").run
    watched = ["drystone", "tinycss2"]
    sys.exit(run("svg", reader, seeds, mutated, sys.argv[1:], watched))
