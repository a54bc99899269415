"""How saves bear being killed: a process that saves without rest is ended with SIGKILL.

It writes everything a parish owns in turn: the hymn file as the editor does, a plan, the learnt
prices among its own rows, a row of the records, a backup, and a file of the practice pack. Each
time, every file must be whole and no older than the last save that was told to be done; of what is
kept, the version before must be whole too; and the records must be whole with every row that was
told. Run: python bench/saves_killed.py [TIMES]
"""

from __future__ import annotations

import json
import random
import re
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import tomllib
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from figures import FULL, Figure

from chantwright import safefile
from chantwright.parish import copy_demo, read_plan, write_plan
from chantwright.parish.records import (
    Result,
    add_person,
    add_result,
    back_up,
    open_store,
    store_url,
)
from chantwright.score import hymnfile
from chantwright.setting.taste import write_taste
from chantwright.web.editing import Pile

HYMN = "lord-i-cry.txt"


PLAN = "2026-11-28-great-vespers.txt"


def _numbers(parish: Path) -> dict[str, int]:
    """The number that each file holds; a file that is not whole is an error here."""
    plan = read_plan(parish / "services" / PLAN)
    prices = tomllib.loads((parish / "own" / "prices.toml").read_text(encoding="utf-8"))
    with zipfile.ZipFile(parish / "backup.zip") as zipped:
        assert zipped.testzip() is None
        saved = hymnfile.loads(zipped.read(f"parish/hymns/{HYMN}").decode())
    page = json.loads((parish / "ready" / "practice" / "page.json").read_text(encoding="utf-8"))
    assert len(page["filling"]) == 50_000
    return {
        "hymn": _version(hymnfile.read(parish / "hymns" / HYMN).title),
        "plan": _version(plan.title),
        "prices": int(prices["weight"][0]["value"]),
        "backup": _version(saved.title),
        "pack": int(page["number"]),
    }


def _version(title: str) -> int:
    found = re.fullmatch(r"Version (\d+)", title)
    return int(found[1]) if found else 0


def save_without_rest(parish: Path) -> Iterator[int]:
    """Save everything there is, and tell each number when all of it is done."""
    path, plan_file = parish / "hymns" / HYMN, parish / "services" / PLAN
    pack = parish / "ready" / "practice"
    pack.mkdir(parents=True, exist_ok=True)
    (parish / "own").mkdir(exist_ok=True)
    pile, store = Pile(), open_store(store_url(parish))
    with store.write() as session:
        person = add_person(session, f"Singer {time.time_ns()}", "man").id
    hymn, plan = hymnfile.read(path), read_plan(plan_file)
    number = _version(hymn.title)
    while True:
        number += 1
        pile.save(path, replace(hymn, title=f"Version {number}"))
        write_plan(plan_file, replace(plan, title=f"Version {number}"))
        write_taste(parish / "own" / "prices.toml", {"leap": float(number)})
        with store.write() as session:
            add_result(session, person, Result(f"{number}.txt", 10, 1, 0))
        page = json.dumps({"number": number, "filling": "x" * 50_000})
        safefile.write_text(pack / "page.json", page)
        back_up(store, parish, parish / "backup.zip")
        yield number


def killed(parish: Path, wait: float, ever: set[str]) -> tuple[int, int]:
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
        first = run.stdout.readline()
        assert first, "it did not begin"
        time.sleep(wait)
    finally:
        run.send_signal(signal.SIGKILL)
        rest = first + run.stdout.read()
        run.stdout.close()
        run.wait()
    whole = [line for line in rest.splitlines(keepends=True) if line.endswith("\n")]
    told = int(whole[-1])
    found = _numbers(parish)
    assert all(number in (told, told + 1) for number in found.values()), (told, found)
    for kept in (parish / "hymns" / HYMN, parish / "services" / PLAN):
        old = safefile.backup_name(kept)
        read = hymnfile.read if kept.parent.name == "hymns" else read_plan
        assert _version(read(old).title) < _version(read(kept).title), old
    if told > 1:  # the first save of all had no version before it
        before = safefile.backup_name(parish / "own" / "prices.toml")
        tomllib.loads(before.read_text(encoding="utf-8"))
    with sqlite3.connect(parish / "records.sqlite") as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        rows = {r[0] for r in base.execute("SELECT hymn FROM result")}
    base.close()
    ever.update(f"{line.strip()}.txt" for line in whole)
    assert ever <= rows
    return told, found["hymn"]


def figures(size: str) -> Iterator[Figure]:
    """Yield what was lost; any loss ends the run."""
    times = 200 if size == FULL else 20
    main(times)
    yield Figure("saves", "lost when killed while saving", 0, most=0, count=f"{times} kills",
                 seed="50")  # fmt: skip


def main(times: int) -> None:
    draw, ever = random.Random(50), set[str]()
    saves = 0
    with tempfile.TemporaryDirectory() as folder:
        parish = copy_demo(Path(folder) / "parish")
        for _ in range(times):
            before = saves
            _, saves = killed(parish, draw.uniform(0.0, 0.3), ever)
            assert saves > before
        left = [p.name for p in parish.rglob(".*") if p.is_file()]
    print(
        f"killed {times} times during {saves} saves: nothing lost; {len(left)} scraps left behind"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        for done in save_without_rest(Path(sys.argv[2])):
            print(done, flush=True)
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
