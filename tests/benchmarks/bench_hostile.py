"""Time and memory of hostile drawings at the command line, printed as a table.

Run it with ``pytest -m benchmark -s`` or, for files of your own,
``python tests/benchmarks/bench_hostile.py FILE...``. Every file of tests/data/nasty is
looked at, and larger ones made here: each must be read or refused in 10 s of processor
time and below 1 GiB.
"""

from __future__ import annotations

import gzip
import json
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.benchmark

NASTY = Path(__file__).resolve().parents[1] / "data" / "nasty"
HEAD = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="99mm" viewBox="0 0 99 99">'
RECT = '<rect id="g0" width="9" height="9"/>'


def dxf(entities: str, blocks: str = "", tail: str = "0\nENDSEC\n0\nEOF\n") -> bytes:
    body = f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n" if blocks else ""
    return f"{HEAD}{body}0\nSECTION\n2\nENTITIES\n{entities}{tail}".encode()


def each(count: int, make: Callable[[int], str], between: str = "") -> str:
    return between.join(map(make, range(count)))


def svg(body: str) -> bytes:
    return f"{SVG}{body}</svg>".encode()


def block(name: str, body: str) -> str:
    return f"0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n0\n20\n0\n{body}0\nENDBLK\n8\n0\n"


def insert(name: str, more: str = "") -> str:
    return f"0\nINSERT\n8\n0\n2\n{name}\n10\n0\n20\n0\n{more}"


def line(x0: float, y0: float, x1: float, y1: float) -> str:
    return f"0\nLINE\n8\n0\n10\n{x0}\n20\n{y0}\n11\n{x1}\n21\n{y1}\n"


def circle(x: float, y: float, r: float) -> str:
    return f"0\nCIRCLE\n8\n0\n10\n{x}\n20\n{y}\n40\n{r}\n"


def polyline(points: Iterable[tuple[float, float]]) -> str:
    rows = [f"10\n{x}\n20\n{y}\n" for x, y in points]
    return f"0\nLWPOLYLINE\n8\n0\n90\n{len(rows)}\n70\n1\n{''.join(rows)}"


def zigzag(count: int) -> list[tuple[float, float]]:
    """Return a closed saw blade that does not cross itself."""
    top = [(n * 0.01, 10.0 + n % 2 * 0.005) for n in range(count - 2)]
    return [(0.0, 0.0), *top, (count * 0.01, 0.0)]


def bomb(levels: int, width: int, grid: str = "") -> bytes:
    blocks = block("B0", circle(0, 0, 5)) + "".join(
        block(f"B{n}", insert(f"B{n - 1}", grid) * width) for n in range(1, levels)
    )
    return dxf(insert(f"B{levels - 1}", grid), blocks)


def uses(levels: int, width: int, tag: str = "g") -> bytes:
    kept = RECT + "".join(
        f'<{tag} id="g{n}">' + f'<use href="#g{n - 1}" x="1"/>' * width + f"</{tag}>"
        for n in range(1, levels)
    )
    return svg(f'<defs>{kept}</defs><use href="#g{levels - 1}"/>')


ARRAY = "70\n30000\n71\n30000\n44\n1\n45\n1\n"
SPIRAL = [
    (r * (1 + n % 2 * 0.3) * (1 if n % 4 < 2 else -1), r * (1 if n % 3 else -1))
    for n, r in ((n, 100 + n * 0.001) for n in range(20_000))
]
BILLION = each(9, lambda n: f"<!ENTITY e{n + 1} '{f'&e{n};' * 10}'>")
DIGITS = "1" * 5_000_000
LINES = 130_000
"""So many lines are 10 MB."""

MADE: dict[str, Callable[[], bytes]] = {
    # DXF
    "polyline_100000.dxf": lambda: dxf(polyline(zigzag(100_000))),
    "polyline_199000.dxf": lambda: dxf(polyline(zigzag(199_000))),
    "polyline_1000000.dxf": lambda: dxf(polyline(zigzag(1_000_000))),
    "polyline_crossing_20000.dxf": lambda: dxf(polyline(SPIRAL)),
    "lines_100000_loose.dxf": lambda: dxf(
        each(100_000, lambda n: line(n % 300, n // 300, n % 300 + 0.7, n // 300))
    ),
    "lines_20000_crossing.dxf": lambda: dxf(
        each(10_000, lambda n: line(n, 0, n, 10_000) + line(0, n, 10_000, n))
    ),
    "lines_20000_one_point.dxf": lambda: dxf(
        each(20_000, lambda n: line(0, 0, n + 1, n * n % 977))
    ),
    "lines_104900_fan.dxf": lambda: dxf(
        each(104_900, lambda n: line(0, 0, n + 1, n * n % 977))
    ),
    "lines_50000_the_same.dxf": lambda: dxf(line(0, 0, 100, 50) * 50_000),
    "circles_20000_the_same.dxf": lambda: dxf(circle(0, 0, 50) * 20_000),
    "circles_20000_concentric.dxf": lambda: dxf(
        each(20_000, lambda n: circle(0, 0, 1 + n * 0.05))
    ),
    "circles_5000_crossing.dxf": lambda: dxf(
        each(5_000, lambda n: circle(n * 0.01, 0, 100))
    ),
    "blocks_10_to_the_9.dxf": lambda: bomb(10, 10),
    "blocks_2_to_the_60.dxf": lambda: bomb(61, 2),
    "blocks_array_of_arrays.dxf": lambda: bomb(8, 1, ARRAY),
    "blocks_array.dxf": lambda: bomb(1, 1, ARRAY),
    "blocks_empty_array.dxf": lambda: dxf(insert("E", ARRAY), block("E", "")),
    "blocks_500_deep.dxf": lambda: bomb(500, 1),
    "blocks_5000_deep.dxf": lambda: bomb(5_000, 1),
    "blocks_self.dxf": lambda: dxf(insert("S"), block("S", insert("S") * 1000)),
    "blocks_texts.dxf": lambda: dxf(
        insert("B5"),
        block("B0", "0\nTEXT\n8\n0\n10\n0\n20\n0\n40\n1\n1\nt\n")
        + each(5, lambda n: block(f"B{n + 1}", insert(f"B{n}") * 20)),
    ),
    "spline_100000.dxf": lambda: dxf(
        "0\nSPLINE\n8\n0\n100\nAcDbSpline\n70\n0\n71\n3\n74\n100000\n"
        + each(100_000, lambda n: f"11\n{n}\n21\n{n % 7}\n")
    ),
    "spline_degree_1000.dxf": lambda: dxf(
        "0\nSPLINE\n8\n0\n100\nAcDbSpline\n70\n0\n71\n1000\n"
        + "40\n0\n" * 1001
        + "40\n1\n" * 1001
        + each(1001, lambda n: f"10\n{n}\n20\n{n % 7}\n")
    ),
    "spline_wild_weights.dxf": lambda: dxf(
        "0\nSPLINE\n8\n0\n100\nAcDbSpline\n70\n4\n71\n3\n"
        + "40\n0\n" * 4
        + each(996, lambda n: f"40\n{n + 1}\n")
        + "40\n997\n" * 4
        + each(
            1000,
            lambda n: f"10\n{n % 89}00000\n20\n{n % 7}000000\n41\n1e{n % 9 - 4}\n",
        )
    ),
    "ellipses_huge.dxf": lambda: dxf(
        "0\nELLIPSE\n8\n0\n100\nAcDbEllipse\n10\n0\n20\n0\n11\n9999999\n21\n0\n"
        "40\n1e-9\n41\n0\n42\n6.28\n" * 2_000
    ),
    "circle_nan_1e308.dxf": lambda: dxf(
        circle(float("nan"), 0, 5) + circle(0, 0, 1e308) + circle(1e308, 1e308, 1)
    ),
    "hatch_100000.dxf": lambda: dxf(
        "0\nHATCH\n8\n0\n100\nAcDbHatch\n10\n0\n20\n0\n30\n0\n2\nSOLID\n70\n1\n71\n0\n"
        "91\n1\n92\n3\n72\n0\n73\n1\n93\n100000\n"
        + "".join(f"10\n{x}\n20\n{y}\n" for x, y in zigzag(100_000))
        + "97\n0\n75\n0\n76\n1\n98\n0\n"
    ),
    "layers_20000.dxf": lambda: dxf(
        each(20_000, lambda n: circle(n * 12, 0, 5).replace("8\n0", f"8\nL{n}"))
    ),
    "long_line_50_MB.dxf": lambda: dxf(f"0\nTEXT\n8\n0\n1\n{'x' * 50_000_000}\n"),
    "number_of_5000000_digits.dxf": lambda: dxf(
        f"{circle(0, 0, 1)}39\n{DIGITS}\n62\n{DIGITS}\n"
    ),
    "code_of_5000000_digits.dxf": lambda: dxf(f"{DIGITS}\nx\n"),
    "broken_10_MB.dxf": lambda: dxf(
        each(LINES, lambda n: line(n % 300, n // 300, n % 300 + 1, 9)) + "x\ny\n"
    ),
    "cut_10_MB.dxf": lambda: dxf(
        each(LINES, lambda n: line(n % 300, n // 300, n % 300 + 1, 9)), tail=""
    ),
    "line_feeds_50_MB.dxf": lambda: dxf("\n" * 50_000_000),
    "sections_500000.dxf": lambda: (
        HEAD + "0\nSECTION\n2\nX\n0\nENDSEC\n" * 500_000
    ).encode(),
    # SVG
    "path_100000.svg": lambda: svg(f'<path d="M0 0{"l1 1 1-1" * 50_000}V9H0z"/>'),
    "path_199000.svg": lambda: svg(f'<path d="M0 0{"l1 1 1-1" * 99_500}V9H0z"/>'),
    "path_2000000.svg": lambda: svg(f'<path d="M0 0{"l1 1 1-1" * 1_000_000}"/>'),
    "paths_100000.svg": lambda: svg('<path d="M0 0h9v9z"/>' * 100_000),
    "arcs_100000.svg": lambda: svg(f'<path d="M0 0{"a5 3 30 0110 1" * 100_000}"/>'),
    "groups_20000_deep.svg": lambda: svg("<g>" * 20_000 + RECT + "</g>" * 20_000),
    "groups_400000.svg": lambda: svg("<g></g>" * 400_000),
    "transforms_400000.svg": lambda: svg(
        f'<g transform="{"rotate(1)" * 400_000}">{RECT}</g>'
    ),
    "uses_10_to_the_9.svg": lambda: uses(10, 10),
    "uses_2_to_the_60.svg": lambda: uses(61, 2),
    "uses_of_symbols.svg": lambda: uses(10, 10, "symbol"),
    "uses_5000_deep.svg": lambda: uses(5000, 1),
    "use_cycles.svg": lambda: svg('<g id="a">' + '<use href="#a"/>' * 50_000 + "</g>"),
    "use_of_large_path.svg": lambda: svg(
        f'<defs><path id="p" d="M0 0{"l1 1 1-1" * 20_000}"/></defs>'
        + '<use href="#p"/>' * 10_000
    ),
    "use_of_large_group.svg": lambda: svg(
        f'<defs><g id="p" display="none">{"<g/>" * 20_000}</g></defs>'
        + '<use href="#p"/>' * 10_000
    ),
    "entities_10_to_the_9.svg": lambda: (
        f'<!DOCTYPE svg [<!ENTITY e0 "x">{BILLION}]>{SVG}<text>&e9;</text></svg>'
    ).encode(),
    "rules_5000.svg": lambda: svg(
        f"<style>{each(5_000, lambda n: f'.k{n} g .j{n}{{fill:none}}')}</style>"
        + f'<g class="k1 j2">{RECT}</g>' * 5_000
    ),
    "rules_deep.svg": lambda: svg(
        f"<style>{'g g g g * * * * g .x{fill:none}' * 500}</style>"
        + "<g>" * 60
        + RECT * 2_000
        + "</g>" * 60
    ),
    "style_5_MB.svg": lambda: svg(f"<style>{'a{b:c}' * 800_000}</style>{RECT}"),
    "style_variables.svg": lambda: svg(
        "<style>*{"
        + each(59, lambda n: f"--v{n + 1}:var(--v{n})var(--v{n});")
        + f"--v0:red;fill:var(--v59)}}</style>{RECT * 1000}"
    ),
    "attribute_50_MB.svg": lambda: svg(f'<g id="{"x" * 50_000_000}">{RECT}</g>'),
    "attributes_100000.svg": lambda: svg(
        "<g" + each(100_000, lambda n: f' a{n}="{n}"') + f">{RECT}</g>"
    ),
    "numbers_long.svg": lambda: svg(f'<path d="M0 0h{DIGITS}v9z"/>'),
    "points_1000000.svg": lambda: svg(f'<polygon points="{"1 2 3 4 " * 500_000}"/>'),
    "curves_10000_doubled.svg": lambda: svg(
        2
        * each(
            5_000,
            lambda n: (
                f'<path stroke="red" d="M{n % 70} {n // 70}c.3 .2.5-.4.8.{n % 10}"/>'
            ),
        )
    ),
    "lines_5000_crossing.svg": lambda: svg(
        each(5_000, lambda n: f'<path stroke="red" d="M{n} 0V5000M0 {n}H5000"/>')
    ),
    "gzip_10_GB.svgz": lambda: gzip.compress(gzip.compress(bytes(10_000_000)) * 1000),
    "gzip_90_MB.svgz": lambda: gzip.compress(svg(f"<desc>{'x' * 90_000_000}</desc>")),
    "spaces_90_MB.svg": lambda: svg(" " * 90_000_000 + RECT),
}


_RUN = """
import json, subprocess, sys, time
from resource import RUSAGE_CHILDREN, getrusage
begun = time.monotonic()
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
said, refused = process.communicate()
used = getrusage(RUSAGE_CHILDREN)
print(json.dumps([
    time.monotonic() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / 1000,
    process.returncode, said.decode(), refused.decode(),
]))
"""
"""A child's memory counts from what its parent had: so the parent is a small one."""


def look(path: Path) -> tuple[float, float, float, str]:
    """Return seconds, seconds of processor, MB, and what the command line says."""
    words = [sys.executable, "-m", "drystone.app", "look", "--json", str(path)]
    small = [sys.executable, "-c", _RUN, *words]
    out = subprocess.run(small, capture_output=True, check=True).stdout
    seconds, used, memory, status, said, refused = json.loads(out)
    if "Traceback" in refused or "fault of the" in refused or status not in (0, 1, 2):
        outcome = f"BROKEN DOWN ({status}) {refused[-300:]}"
    elif refused:
        outcome = refused.strip().replace(str(path.parent) + "/", "")
    else:
        outcome = _summary(json.loads(said)["drawings"][0])
    return seconds, used, memory, outcome


def _summary(drawing: dict[str, Any]) -> str:
    codes = " ".join(finding["code"] for finding in drawing["findings"])
    return f"read: {len(drawing['parts'])} parts; {codes}"


def table(paths: Iterable[Path]) -> list[str]:
    """Look at files, print a line for each and return the names of the late ones."""
    late = []
    print(f"\n{'file':32} {'MB':>6} {'s':>6} {'cpu s':>6} {'mem MB':>6}  outcome")
    for path in paths:
        seconds, used, memory, outcome = look(path)
        size = path.stat().st_size / 1e6
        print(
            f"{path.name:32} {size:6.1f} {seconds:6.1f} {used:6.1f} {memory:6.0f}  "
            f"{outcome[:110]}",
            flush=True,
        )
        if used > 10.0 or memory > 1024.0 or "BROKEN" in outcome:
            late.append(path.name)
    return late


def made(folder: Path, names: Iterable[str]) -> Iterable[Path]:
    """Write the files that are made here, one at a time."""
    for name in names:
        path = folder / name
        path.write_bytes(MADE[name]())
        yield path
        path.unlink()


@pytest.mark.timeout(0)
def test_nasty_and_made_files(tmp_path: Path) -> None:
    kept = [p for p in sorted(NASTY.iterdir()) if p.suffix != ".toml"]
    late = table(kept) + table(made(tmp_path, MADE))
    print("later than 10 s, above 1 GiB or broken down:", ", ".join(late) or "none")


if __name__ == "__main__":
    wanted = sys.argv[1:]
    with tempfile.TemporaryDirectory() as folder:
        known = [name for name in wanted if name in MADE]
        files = [Path(name) for name in wanted if name not in MADE]
        sys.exit(bool(table(files) + table(made(Path(folder), known))))
