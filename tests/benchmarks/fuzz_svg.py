"""Feed the SVG reader damaged drawings until the time is up, and print figures.

Run it as ``python tests/benchmarks/fuzz_svg.py [SECONDS]``. With atheris installed
the mutations follow the code that they reach (SECONDS is then its time limit);
without it, a plain loop changes good drawings at random. A crash, a hang, or a
coordinate that is none ends the run with the offending bytes in hexadecimal.
"""

from __future__ import annotations

import importlib
import random
import resource
import sys
import time
import traceback
from pathlib import Path
from typing import Any

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
]
PIECES = (
    "0 1 -1 1e309 NaN 1e-300 99999999 % mm in <g> </g> <use href='#a'/> id='a' \" ' > "
    "< & &#0; &amp; / M m a A z Z C q T , . - scale( rotate( ) matrix(0 0 0 0 0 0) "
    "display:none style=' transform=' viewBox='0 0 0 0' url(#a) var(--x) { } @import "
    "<![CDATA[ ]]> <!-- --> <?xml <!DOCTYPE \x00 \x1f\x8b \xff \ufeff #a * + ~ : ; !"
).split(" ")
SLOW = 10.0


def wrapped(body: str) -> bytes:
    return (
        '<?xml version="1.0" encoding="UTF-8"?><svg xmlns="http://www.w3.org/2000/svg" '
        'xmlns:xlink="http://www.w3.org/1999/xlink" width="100mm" viewBox="0 0 99 99">'
        f"{body}</svg>"
    ).encode()


def try_one(data: bytes) -> str:
    """Read some bytes and return what became of them."""
    from drystone.io.limits import Limits
    from drystone.io.read_svg import read_svg_data
    from drystone.nesting.model.errors import InputError

    limits = Limits(entities=5000, vertices=20_000, seconds=SLOW)
    try:
        drawing = read_svg_data(data, "case.svg", limits=limits)
    except InputError as error:
        if "\n" in str(error) or not str(error).isprintable():
            raise AssertionError(f"no clean line: {error!s}") from error
        if "took longer" in str(error):
            raise AssertionError("too slow") from error
        return "refused"
    for stroke in drawing.strokes:
        for segment in stroke.segments:
            if not all(abs(v) < 1e8 for v in segment.bounds()):
                raise AssertionError("a number that is none")
    return "read" if drawing.strokes else "empty"


def mutated(data: bytes, dice: random.Random) -> bytes:
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


def plain_loop(seconds: float, seed: int = 1) -> int:
    dice = random.Random(seed)
    pool = [wrapped(body) for body in SEEDS]
    counts: dict[str, int] = {}
    slowest = 0.0
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        data = mutated(dice.choice(pool), dice)
        begun = time.monotonic()
        try:
            outcome = try_one(data)
        except Exception:
            traceback.print_exc()
            print(data.hex())
            return 1
        slowest = max(slowest, time.monotonic() - begun)
        counts[outcome] = counts.get(outcome, 0) + 1
        if outcome == "read" and len(pool) < 2000 and dice.random() < 0.05:
            pool.append(data)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    total = sum(counts.values())
    print(f"{total} inputs in {seconds:g} s: {counts}")
    print(f"slowest {slowest:.3f} s, memory {memory:.0f} MiB, pool {len(pool)}")
    return 0


def main(arguments: list[str]) -> int:
    seconds = float(arguments[0]) if arguments else 60.0
    try:
        atheris: Any = importlib.import_module("atheris")
    except ImportError:
        return plain_loop(seconds)
    with atheris.instrument_imports(include=["drystone"]):
        importlib.import_module("drystone.io.read_svg")
    corpus = Path(arguments[1] if len(arguments) > 1 else "fuzz-corpus")
    corpus.mkdir(exist_ok=True)
    for i, body in enumerate(SEEDS):
        (corpus / f"seed-{i}.svg").write_bytes(wrapped(body))
    atheris.Setup(
        [sys.argv[0], f"-max_total_time={seconds:g}", "-max_len=20000", str(corpus)],
        lambda data: (try_one(data), None)[1],
    )
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
