"""Feed the DXF reader damaged drawings until the time is up, and keep the faults.

Run it as ``python tests/benchmarks/fuzz_dxf.py [SECONDS [FOLDER]]``; see
``fuzzing.py`` beside it. Most changes respect the format's pairs of a group code and
a value, or the reader would seldom get past the loading.
"""

from __future__ import annotations

import functools
import importlib
import io
import itertools
import random
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
Pair = tuple[bytes, bytes]

NUMBERS = (
    b"0 1 -1 2 3 4 8 12 16 64 255 256 7 65535 -32768 2147483648 0.0 0.5 -1.0 1e-9 "
    b"1e-300 1e7 1e8 1e300 1e308 1e309 nan inf -inf 90.0 360.0 6.2831853 1,5 abc"
).split()
WORDS = (
    b"0 B C *U1 *Model_Space *Paper_Space MODEL_SPACE STANDARD CONTINUOUS ByLayer {} "
    b"../../x =1+1 <b> %%d \\U+00e4 \xff\xfe AcDbEntity AcDbPolyline AcDbSpline a;b "
    b"<<<<<<< {ACAD_REACTORS } "
).split(b" ")
TYPES = (
    b"LINE ARC CIRCLE ELLIPSE SPLINE LWPOLYLINE POLYLINE VERTEX SEQEND INSERT HATCH "
    b"SOLID TRACE TEXT MTEXT DIMENSION POINT ATTRIB ATTDEF 3DFACE MESH VIEWPORT LAYER "
    b"BLOCK ENDBLK SECTION ENDSEC TABLE ENDTAB EOF DICTIONARY LAYOUT BLOCK_RECORD XXX"
).split()
CODES = (
    b"0 1 2 3 5 6 8 9 10 20 30 11 21 31 12 22 32 13 23 33 38 39 40 41 42 43 44 45 50 "
    b"51 60 62 66 67 70 71 72 73 74 75 76 91 92 93 94 95 96 97 98 100 102 210 220 230 "
    b"330 340 360 420 999 1001 1000 1040 1071"
).split()
HEAD = b"0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n9\n$ACADVER\n1\n%s\n0\nENDSEC\n"


def pairs_of(data: bytes) -> list[Pair]:
    lines = data.replace(b"\r", b"").split(b"\n")
    return [(a.strip(), b) for a, b in zip(lines[::2], lines[1::2], strict=False)]


def bytes_of(pairs: list[Pair]) -> bytes:
    return b"\n".join(itertools.chain.from_iterable(pairs)) + b"\n"


def drawing(version: str) -> Any:
    """Return a drawing that holds each kind of entity at least once."""
    # Imported late, so that the fuzzer has had its hand on the library.
    new: Any = importlib.import_module("ezdxf.filemanagement").new
    doc = new(version)
    msp = doc.modelspace()
    block = doc.blocks.new("B")
    block.add_circle((0, 0), 5)
    block.add_attdef("TAG", (0, 0))
    deep = doc.blocks.new("C")
    deep.add_blockref("B", (1, 2), dxfattribs={"xscale": -2, "zscale": 0})
    msp.add_blockref("C", (0, 0), dxfattribs={"rotation": 30}).add_attrib("TAG", "t")
    grid = {"column_count": 2, "row_count": 3, "column_spacing": 9, "row_spacing": 9}
    msp.add_blockref("B", (0, 0), dxfattribs=grid)
    msp.add_line((0, 0), (10, 0))
    msp.add_line((10, 0, 3), (10, 10, 9), dxfattribs={"layer": "CUT", "color": 1})
    msp.add_arc((0, 0), 4, 10, 200, dxfattribs={"extrusion": (0, 0, -1)})
    msp.add_circle((50, 50, 1), 4)
    points = [(0, 0, 1), (9, 0, 0.2), (9, 9, 0)]
    msp.add_polyline2d(points, format="xyb", close=True)
    msp.add_polyline3d([(0, 0, 0), (5, 0, 1), (5, 5, 2)])
    msp.add_polymesh((3, 3))
    msp.add_text("t").set_placement((1, 1))
    msp.add_point((1, 1))
    msp.add_solid([(0, 0), (1, 0), (0, 1), (1, 1)])
    msp.add_trace([(0, 0), (1, 0), (0, 1), (1, 1)])
    msp.add_3dface([(0, 0), (1, 0), (0, 1)])
    if version == "R12":
        return doc
    msp.add_lwpolyline(points, format="xyb", close=True)
    msp.add_ellipse((0, 0), (5, 1), 0.4, 0.1, 2)
    msp.add_open_spline([(0, 0), (1, 2), (3, 1), (4, 0)])
    msp.add_rational_spline([(0, 0), (1, 0), (1, 1)], [1, 0.7, 1], degree=2)
    msp.add_spline([(0, 0), (3, 4), (6, 0)])
    msp.add_mtext("t")
    msp.add_ray((0, 0), (1, 1))
    hatch = msp.add_hatch()
    hatch.paths.add_polyline_path([(0, 0, 1), (5, 0, 0), (5, 5, 0)])
    edges = hatch.paths.add_edge_path()
    edges.add_line((0, 0), (1, 0))
    edges.add_arc((0, 0), 1, 0, 90)
    edges.add_ellipse((0, 0), (1, 0), 0.5, 0, 90)
    edges.add_spline(control_points=[(0, 0), (1, 1), (2, 0), (3, 0)], degree=3)
    doc.layout("Layout1").add_circle((0, 0), 3)
    return doc


def text_of(doc: Any) -> bytes:
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode()


def section(data: bytes, name: bytes) -> list[Pair]:
    pairs = pairs_of(data)
    begin = pairs.index((b"2", name)) - 1
    return pairs[begin : pairs.index((b"0", b"ENDSEC"), begin) + 1]


def entities_in(pairs: list[Pair]) -> list[list[Pair]]:
    """Return the pairs cut into pieces that begin with code 0."""
    starts = [i for i, (code, _) in enumerate(pairs) if code == b"0"]
    return [pairs[a:b] for a, b in itertools.pairwise([*starts, len(pairs)])]


@functools.cache
def whole() -> dict[str, bytes]:
    return {version: text_of(drawing(version)) for version in ("R12", "R2000", "R2010")}


@functools.cache
def library() -> list[list[Pair]]:
    """Return the entities of all drawings, each as its pairs."""
    return [
        entity
        for data in whole().values()
        for name in (b"ENTITIES", b"BLOCKS")
        for entity in entities_in(section(data, name))
    ]


def seeds() -> list[bytes]:
    """Return whole and short drawings, the sample and the nasty files."""
    short = []
    for version, data in (("AC1009", whole()["R12"]), ("AC1015", whole()["R2000"])):
        body = section(data, b"BLOCKS") + section(data, b"ENTITIES")
        short.append(HEAD % version.encode() + bytes_of([*body, (b"0", b"EOF")]))
        for entity in entities_in(section(data, b"ENTITIES"))[1:-1]:
            one = [(b"0", b"SECTION"), (b"2", b"ENTITIES"), *entity]
            ends = [(b"0", b"ENDSEC"), (b"0", b"EOF")]
            short.append(HEAD % version.encode() + bytes_of(one + ends))
    stream = io.BytesIO()
    drawing("R12").write(stream, fmt="bin")
    files = [*ROOT.glob("sample_parts/*.dxf"), *ROOT.glob("tests/data/nasty/*.dxf")]
    small = [path for path in sorted(files) if path.stat().st_size < 20_000]
    found = [path.read_bytes() for path in small if path.name != "block_bomb.dxf"]
    return [*short, *dialects(), *whole().values(), stream.getvalue(), *found]


def dialects() -> list[bytes]:
    """Return the first five parts of the corpus in every dialect, without tables."""
    sys.path.insert(0, str(ROOT / "tests" / "property"))
    corpus = importlib.import_module("test_dxf_dialects")
    del corpus.PARTS[5:]
    made = []
    for write in corpus.DIALECTS.values():
        doc = write()
        head = HEAD.replace(b"70\n4", b"70\n%d" % doc.header["$INSUNITS"])
        data = text_of(doc)
        body = section(data, b"BLOCKS") + section(data, b"ENTITIES")
        made.append(head % doc.dxfversion.encode() + bytes_of([*body, (b"0", b"EOF")]))
    return made


def reader() -> Callable[[bytes], Any]:
    import ezdxf.recover  # noqa: F401  (to be watched, too)

    from drystone.io import load_dxf, read_dxf, salvage_dxf  # noqa: F401  (watched, too)

    found: Callable[[bytes], Any] = importlib.import_module("fuzzing").whole_road(
        "case.dxf"
    )
    return found


def mutated(data: bytes, dice: random.Random) -> bytes:
    pairs = pairs_of(data)
    if not pairs:
        return bytes_of(dice.choice(library()))
    for _ in range(dice.choice((1, 1, 2, 3, 8))):
        change_pairs(pairs, dice)
        if not pairs:
            break
    return bytes_of(pairs)[:40_000]


def change_pairs(pairs: list[Pair], dice: random.Random) -> None:
    """Change one thing: a value, a code, a run of pairs, or a whole entity."""
    at = body(pairs, dice)
    code, value = pairs[at]
    kind = dice.randrange(10)
    if kind <= 3:
        pairs[at] = (code, other_value(code, value, pairs, dice))
    elif kind == 4:
        pairs[at] = (dice.choice(CODES), value)
    elif kind == 5:
        del pairs[at : at + dice.choice((1, 1, 2, 3, 8, 30))]
    elif kind == 6:
        run = pairs[at : at + dice.choice((1, 2, 3, 8, 30))]
        pairs[at:at] = run * dice.choice((1, 1, 2, 20))
    elif kind == 7:
        pairs.insert(at, (dice.choice(CODES), dice.choice(NUMBERS)))
    elif kind == 8:
        zeros = [i for i, pair in enumerate(pairs) if pair[0] == b"0"] or [at]
        where = dice.choice(zeros)
        pairs[where:where] = dice.choice(library())
    else:
        target = body(pairs, dice)
        run = pairs[target : target + dice.choice((1, 5, 20))]
        pairs[at:at] = run


def body(pairs: list[Pair], dice: random.Random) -> int:
    """Return a place in the pairs, mostly behind the last heading of a section."""
    if dice.random() < 0.8:
        try:
            start = pairs.index((b"2", dice.choice((b"ENTITIES", b"BLOCKS"))))
        except ValueError:
            start = 0
        return dice.randrange(start, len(pairs))
    return dice.randrange(len(pairs))


def other_value(
    code: bytes, value: bytes, pairs: list[Pair], dice: random.Random
) -> bytes:
    same = [v for c, v in pairs if c == code]
    if code == b"0":
        return dice.choice([*TYPES, *same])
    if code in (b"1", b"2", b"3", b"6", b"7", b"8", b"100"):
        return dice.choice([*WORDS, *same])
    if dice.random() < 0.3:
        return dice.choice(same)
    try:
        number = float(value)
    except ValueError:
        return dice.choice(NUMBERS)
    if dice.random() < 0.3 and abs(number) < 1e15:
        return b"%d" % (number + dice.choice((-1, 1, 8, 64)))
    return dice.choice(NUMBERS)


if __name__ == "__main__":
    run = importlib.import_module("fuzzing").run
    sys.exit(run("dxf", reader, seeds, mutated, sys.argv[1:], ["drystone", "ezdxf"]))
