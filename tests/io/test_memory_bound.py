"""A drawing that swallows memory ends its reader, not the program or the computer."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from drystone.io.limits import Limits, TooLarge
from drystone.io.read_guarded import GuardedReader

pytestmark = pytest.mark.skipif(
    sys.platform != "linux", reason="only Linux is known to hold a process to it"
)

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="99mm" viewBox="0 0 99 99">'
PLATE = '<rect width="90" height="50"/></svg>'


def test_a_process_that_reads_cannot_take_more_than_900_mib() -> None:
    code = (
        "import resource\n"
        "from drystone.io.limits import Limits\n"
        "from drystone.io.read_guarded import hold_memory\n"
        "hold_memory(Limits())\n"
        "print(resource.getrlimit(resource.RLIMIT_DATA))\n"
        "try:\n"
        "    bytes(1 << 30)\n"
        "except MemoryError:\n"
        "    print('refused')\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    most = 900 << 20
    assert run.stdout == f"({most}, {most})\nrefused\n"


def test_what_needs_more_memory_is_refused_and_the_next_drawing_is_read(
    tmp_path: Path,
) -> None:
    large, small = tmp_path / "large.svg", tmp_path / "small.svg"
    large.write_text(f"{HEAD}{' ' * 60_000_000}{PLATE}")
    small.write_text(f"{HEAD}{PLATE}")
    with GuardedReader(Limits(memory=250 << 20)) as reader:
        with pytest.raises(TooLarge, match="memory") as caught:
            reader.look_at(large)
        assert caught.value.times == 2
        (part,) = reader.look_at(small).parts
        assert part.outline.size == pytest.approx((90.0, 50.0))
