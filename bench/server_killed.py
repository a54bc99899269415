"""How the pages bear it when their server is killed while edits are posted.

Browsers in threads post without rest to `chantwright serve`: the text of a hymn, a step of a note,
a plan, new singers, hymns given to learn. The server is ended with SIGKILL at a moment drawn by
chance. What was answered must stand in the files and records; what was sent and not answered may;
nothing else. Then the next server goes on with the same folder.

    python bench/server_killed.py [TIMES]
"""

from __future__ import annotations

import os
import random
import signal
import socket
import sqlite3
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path

import httpx2 as httpx
from figures import FULL, Figure
from saving import DAY, HYMN, TAKEN_BACK, Nursery, new_parish, nursery, of_hymn, of_plan, post_plan
from saving import stamp_in as stamp

from chantwright.score import Hymn, hymnfile
from chantwright.web.desk import Desk

_STEPS = (0, 1, 2, 3, 2, 1)
_LONGEST, _PAUSE = 0.6, 0.02


def _post(pages: httpx.Client, address: str, form: dict[str, str]) -> None:
    answer = pages.post(address, data=form)
    assert answer.status_code == 303, (address, answer.status_code, answer.text[-500:])


def _text(pages: httpx.Client, number: int) -> None:
    address = f"/text/{HYMN.name}"
    seen = stamp(pages.get(address).text)
    words = f"title: Version {number}\ntone: 4\n\nPraise ye the Lord.\n"
    _post(pages, address, {"words": words, "stamp": seen})


def _note(pages: httpx.Client, number: int) -> None:
    step = _STEPS[number % 6] - _STEPS[(number - 1) % 6]
    form = {"id": "p1s1n1", "what": "up" if step > 0 else "down"}
    _post(pages, f"/hymn/{TAKEN_BACK.name}/note", form)


def _singer(pages: httpx.Client, number: int) -> None:
    _post(pages, "/singers", {"nickname": f"Singer {number}", "voice": "man"})


def _given(pages: httpx.Client, number: int) -> None:
    who = pages.get("/assign").text.split('name="singers" value="')[1].split('"')[0]
    by = f"{2027 + number // 300}-{1 + number // 25 % 12:02d}-{1 + number % 25:02d}"
    _post(pages, "/assign", {"hymns": HYMN.name, "singers": who, "by": by})


def _rows(parish: Path, question: str) -> list[str]:
    with closing(sqlite3.connect(parish / "records.sqlite")) as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return [str(row[0]) for row in base.execute(question)]


def first_note(hymn: Hymn) -> int:
    """Degree of the first note of all."""
    return hymn.phrases[0].syllables[0].notes[0].degree


def _of_note(parish: Path) -> int:
    return first_note(hymnfile.read(parish / TAKEN_BACK))


def _of_singers(parish: Path) -> int:
    names = _rows(parish, "SELECT nickname FROM singer WHERE nickname LIKE 'Singer %'")
    numbers = sorted(int(name.split()[1]) for name in names)
    assert numbers == list(range(1, len(numbers) + 1)), numbers
    return len(numbers)


def _of_given(parish: Path) -> int:
    days = _rows(parish, "SELECT due FROM assignment")
    if not days:
        return 0
    (day,) = days
    year, month, in_month = map(int, day[:10].split("-"))
    return (year - 2027) * 300 + (month - 1) * 25 + in_month - 1


@dataclass(frozen=True, slots=True)
class Edit:
    """An edit by its number, and what stands there: the number, or what it comes to."""

    post: Callable[[httpx.Client, int], None]
    found: Callable[[Path], int]


EDITS = {
    "text": Edit(_text, of_hymn),
    "note": Edit(_note, _of_note),
    "plan": Edit(post_plan, of_plan),
    "singers": Edit(_singer, _of_singers),
    "given hymns": Edit(_given, _of_given),
}


@dataclass(slots=True)
class Browsers:
    """Those who post, and what was sent and answered."""

    parish: Path
    first_note: int
    sent: Counter[str] = field(default_factory=Counter)
    answered: Counter[str] = field(default_factory=Counter)
    faults: list[BaseException] = field(default_factory=list)

    def post(self, name: str, address: str) -> None:
        """Post one kind of edit until the server is gone."""
        with httpx.Client(base_url=address, timeout=60) as pages:
            try:
                while True:
                    self.sent[name] = self.answered[name] + 1
                    EDITS[name].post(pages, self.sent[name])
                    self.answered[name] = self.sent[name]
                    time.sleep(_PAUSE)
            except httpx.TransportError:
                pass
            except BaseException as fault:  # told by the thread that waits for this one
                self.faults.append(fault)

    def look(self) -> None:
        """Hold that all that was answered is there, and nothing that was not sent."""
        for name, edit in EDITS.items():
            found = edit.found(self.parish)
            allowed = {n: self._stands(name, n) for n in (self.answered[name], self.sent[name])}
            assert found in allowed.values(), (name, found, allowed)
            there = self.sent[name] if found == allowed[self.sent[name]] else self.answered[name]
            self.sent[name] = self.answered[name] = there

    def _stands(self, name: str, number: int) -> int:
        return self.first_note + _STEPS[number % 6] if name == "note" else number


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def _answers(address: str) -> bool:
    until = time.monotonic() + 60
    while time.monotonic() < until:
        with suppress(httpx.TransportError):
            return bool(httpx.get(f"{address}/hymns", timeout=60))
        time.sleep(0.02)
    return False


def kill(browsers: Browsers, children: Nursery, draw: random.Random) -> int:
    """Kill a server while all kinds of edits are posted; return how many were under way."""
    port = _free_port()
    address, child = f"http://127.0.0.1:{port}", children.bear("serve", browsers.parish, port)
    threads = [threading.Thread(target=browsers.post, args=(n, address)) for n in EDITS]
    before = browsers.answered.copy()
    try:
        assert _answers(address)
        for thread in threads:
            thread.start()
        until = time.monotonic() + 60
        while any(browsers.answered[name] == before[name] for name in EDITS):
            assert not browsers.faults, browsers.faults
            assert time.monotonic() < until, browsers.answered
            time.sleep(0.01)
        time.sleep(draw.uniform(0.0, _LONGEST))
    finally:
        os.kill(child, signal.SIGKILL)
        assert children.said() == f"gone {child}"
        for thread in threads:
            if thread.ident is not None:
                thread.join()
    assert not browsers.faults, browsers.faults
    midway = sum(browsers.sent[name] > browsers.answered[name] for name in EDITS)
    browsers.look()
    return midway


def run(folder: Path, times: int, seed: int) -> tuple[Browsers, int]:
    """Kill so many servers; return the browsers, and how many edits were cut off."""
    parish = new_parish(folder / "parish")
    desk = Desk.open(parish, DAY)
    hymn = desk.singable(TAKEN_BACK.name)
    hymnfile.write(parish / TAKEN_BACK, hymn)
    desk.close()
    browsers, draw = Browsers(parish, first_note(hymn)), random.Random(seed)
    with nursery(folder / "cache") as children:
        return browsers, sum(kill(browsers, children, draw) for _ in range(times))


def figures(size: str) -> Iterator[Figure]:
    """Yield what was lost; any loss ends the run."""
    times = 50 if size == FULL else 10
    main(times)
    yield Figure("saves", "lost when the server is killed", 0, most=0, count=f"{times} kills",
                 seed="8")  # fmt: skip


def main(times: int) -> None:
    started = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        browsers, midway = run(Path(folder), times, 8)
    done = ", ".join(f"{browsers.answered[name]} of {name}" for name in EDITS)
    print(f"killed {times} servers in {time.monotonic() - started:.0f} s during edits ({done}; "
          f"{midway} cut off): nothing lost")  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
