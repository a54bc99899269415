"""How a save bears being killed: a process that saves without rest is ended with SIGKILL.

Each time, the hymn file must be whole and no older than the last save that was told to be done, and
the records must be whole with every row that was told. Run: python bench/saves_killed.py [TIMES]
"""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from figures import FULL, Figure

from chantwright.parish import copy_demo
from chantwright.parish.records import Result, add_person, add_result, open_store, store_url
from chantwright.score import hymnfile
from chantwright.web.editing import Pile

HYMN = "lord-i-cry.txt"


def save_without_rest(parish: Path) -> Iterator[int]:
    """Save a hymn as the editor does and write a result down, and tell each number when done."""
    path = parish / "hymns" / HYMN
    pile, store = Pile(), open_store(store_url(parish))
    with store.write() as session:
        person = add_person(session, f"Singer {time.time_ns()}", "man").id
    hymn = hymnfile.read(path)
    first = int(hymn.title.removeprefix("Version ")) if hymn.title.startswith("Version ") else 0
    number = first
    while True:
        number += 1
        pile.save(path, replace(hymn, title=f"Version {number}"))
        with store.write() as session:
            add_result(session, person, Result(f"{number}.txt", 10, 1, 0))
        yield number


def killed(parish: Path, wait: float) -> tuple[int, int]:
    """Kill a process that saves, after a while; return the number told last and the one found.

    Raises
    ------
    AssertionError
        If anything that was told is not there, or a file is not whole.
    """
    run = subprocess.Popen(
        [sys.executable, __file__, "--child", str(parish)], stdout=subprocess.PIPE, text=True
    )
    assert run.stdout is not None
    try:
        assert run.stdout.readline(), "it did not begin"
        time.sleep(wait)
    finally:
        run.send_signal(signal.SIGKILL)
        rest = run.stdout.read()
        run.stdout.close()
        run.wait()
    whole = [line for line in rest.splitlines(keepends=True) if line.endswith("\n")]
    told = int(whole[-1]) if whole else 0
    hymn = hymnfile.read(parish / "hymns" / HYMN)
    found = int(hymn.title.removeprefix("Version "))
    assert found in (told, told + 1) or not whole, (told, found)
    with sqlite3.connect(parish / "records.sqlite") as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        rows = {r[0] for r in base.execute("SELECT hymn FROM result")}
    base.close()
    assert not whole or f"{told}.txt" in rows
    return told, found


def figures(size: str) -> Iterator[Figure]:
    """Yield what was lost; any loss ends the run."""
    times = 200 if size == FULL else 20
    main(times)
    yield Figure("saves", "lost when killed while saving", 0, most=0, count=f"{times} kills",
                 seed="50")  # fmt: skip


def main(times: int) -> None:
    draw = random.Random(50)
    saves = 0
    with tempfile.TemporaryDirectory() as folder:
        parish = copy_demo(Path(folder) / "parish")
        for _ in range(times):
            before = saves
            _, saves = killed(parish, draw.uniform(0.0, 0.3))
            assert saves > before
        left = [p.name for p in (parish / "hymns").iterdir() if p.name.startswith(".")]
    print(
        f"killed {times} times during {saves} saves: nothing lost; {len(left)} scraps left behind"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        for done in save_without_rest(Path(sys.argv[2])):
            print(done, flush=True)
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
