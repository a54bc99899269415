"""All that a parish owns, saved without rest by a process that may be killed at any moment.

Each kind of save counts its own saves, writes its number into what it saves, and can tell the
number that stands there; what is not whole is an error in the telling. Told is ``begin KIND
NUMBER`` before a save and ``done KIND NUMBER`` after it, so that whoever kills knows what must be
there: the number that was done, or the one that was begun.

Run as a program it is a nursery: all is loaded once, and for each line on its input a child is
made that works until it is killed: ``save PARISH KIND`` (every kind in turn, KIND first) or ``serve
PARISH PORT`` (the pages). Told are ``born PID`` and, when a child has ended, ``gone PID``; one that
met an error tells ``failed`` before.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
import subprocess
import sys
import time
import tomllib
import traceback
import zipfile
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import soundfile
from lxml import html
from starlette.testclient import TestClient

from chantwright import safefile
from chantwright.cli import main as command
from chantwright.parish import found_folder, open_folder, read_plan, trail, write_plan
from chantwright.parish.practice import load_rules
from chantwright.parish.practice import record as practised
from chantwright.parish.records import (
    RECORDING,
    Result,
    add_person,
    agree,
    assign,
    back_up,
    keep_recording,
)
from chantwright.score import hymnfile
from chantwright.setting.taste import write_taste
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.editing import save
from chantwright.web.pack import write_pack

DAY = date(2026, 11, 25)
LESSON = Path("services", "2026-11-29-lesson.txt")
PLAN = Path("services", "2026-11-28-great-vespers.txt")
HYMN, TAKEN_BACK, COPIED = (Path("hymns", f"{n}.txt") for n in ("hymn", "taken-back", "copied"))
PRICES, BACKUP, PACK = Path("own", "prices.toml"), Path("backup.zip"), Path("ready", "practice")
SOUND = b"RIFF" + b"x" * 60_000
_ROUGH = 1_000_000
_DIGITS = 5


def new_parish(path: Path) -> Path:
    """Found a parish with a few short hymns that have their melody."""
    found_folder(path, "Small")
    notes = "title: Version 0\ntone: 4\n\nPraise ye the Lord.\n"
    for name in (HYMN, TAKEN_BACK, COPIED, Path("hymns", "sung.txt")):
        (path / name).write_text(notes, encoding="utf-8")
    (path / LESSON).write_text(
        "service: lesson\ndate: 2026-11-29\ntitle: Version 0\n\nFirst: sung.txt\n", encoding="utf-8"
    )
    desk = Desk.open(path, DAY)
    desk.weekend()  # writes the plans
    with desk.store.write() as session:
        who = add_person(session, "Anna", "woman").id
        agree(session, who, RECORDING, given_by="Anna", as_guardian=False)
    desk.close()
    return path


def _version(title: str) -> int:
    found = re.fullmatch(r"Version (\d+)", title)
    assert found, title
    return int(found[1])


def _hymn_number(path: Path) -> int:
    """The number in a hymn's title; the version before the last change must be whole too."""
    old = safefile.backup_name(path)
    if old.exists():
        _version(hymnfile.read(old).title)
    return _version(hymnfile.read(path).title)


def _kept(path: Path) -> None:
    """Hold that after a save that was not killed the version before is another one."""
    assert safefile.backup_name(path).read_bytes() != path.read_bytes(), path


class _AtOnce(Executor):
    def submit(self, fn: Any, /, *args: Any, **named: Any) -> Future[Any]:
        done: Future[Any] = Future()
        done.set_result(fn(*args, **named))
        return done


@dataclass(slots=True)
class Place:
    """A parish that is open for saving."""

    parish: Path
    desk: Desk
    pages: TestClient
    singer: str

    @classmethod
    def open(cls, parish: Path) -> Place:
        desk = Desk.open(parish, DAY)
        with closing(sqlite3.connect(parish / "records.sqlite")) as base:
            (singer,) = base.execute("SELECT id FROM singer").fetchone()
        pages = TestClient(make_app(desk), base_url="http://localhost:8642", follow_redirects=False)
        return cls(parish, desk, pages, singer)

    def titled(self, name: Path, number: int) -> None:
        path = self.parish / name
        save(path, replace(hymnfile.read(path), title=f"Version {number}"))
        _kept(path)

    def hymn(self, number: int) -> None:
        self.titled(HYMN, number)

    def taken_back(self, number: int) -> None:
        """Change a hymn, take the change back, and change it to what it stays."""
        self.titled(TAKEN_BACK, number + _ROUGH)
        trail.take_back(self.parish / TAKEN_BACK)
        self.titled(TAKEN_BACK, number)

    def plan(self, number: int) -> None:
        """Post the form of the plan's page, the number spread over the tones of its items."""
        post_plan(self.pages, number)
        _kept(self.parish / PLAN)

    def prices(self, number: int) -> None:
        write_taste(self.parish / PRICES, {"leap": float(number)})

    def practice(self, number: int) -> None:
        """Write down a result, by which its hymn is due again, and give the next hymn to learn."""
        told = Result(HYMN.name, 10, 1, 0, 1.5, 0.5, detail={"number": number})
        with self.desk.store.write() as session:
            practised(session, self.singer, told, load_rules())
            assign(session, [self.singer], f"{number}.txt")

    def sound(self, number: int) -> None:
        with self.desk.store.write() as session:
            keep_recording(
                session, self.singer, f"{number}.txt", SOUND, self.parish / "recordings",
                suffix=".wav",
            )  # fmt: skip

    def backup(self, number: int) -> None:
        self.titled(COPIED, number)
        back_up(self.desk.store, self.parish, self.parish / BACKUP)

    def pack(self, number: int) -> None:
        """Write the practice pack with another title, and by turns another hymn."""
        sung, lesson = self.parish / "hymns" / "sung.txt", self.parish / LESSON
        hymn = hymnfile.read(sung)
        hymnfile.write(sung, replace(hymn, title=f"Hymn {number % 3}"))
        write_plan(lesson, replace(read_plan(lesson), title=f"Version {number}"))
        out = self.parish / PACK
        write_pack(open_folder(self.parish), DAY, out, executor=_AtOnce(), progress=lambda *_: None)
        _whole_pack(out)


def stamp_in(page: str) -> str:
    """The mark of a file as it was shown in a form."""
    found = re.search(r'name="stamp" value="(\w+)"', page)
    assert found, page
    return found[1]


def post_plan(pages: Any, number: int) -> None:
    """Fill in and send the form of the first service of the week.

    Parameters
    ----------
    pages : TestClient or httpx2.Client
        The pages.
    number : int
        What is spread over the tones.
    """
    form = {f"tone{n}": str(1 + number // 8**n % 8) for n in range(_DIGITS)}
    stamp = stamp_in(pages.get("/plan/0").text)
    answer = pages.post("/plan/0", data={**form, "stamp": stamp})
    assert answer.status_code == 303, answer.text


# --- what stands there ----------------------------------------------------------------------------


def of_hymn(parish: Path) -> int:
    return _hymn_number(parish / HYMN)


def _of_taken_back(parish: Path) -> int:
    return _hymn_number(parish / TAKEN_BACK) % _ROUGH


def of_plan(parish: Path) -> int:
    """The number in a plan; 0 before the first."""
    old = safefile.backup_name(parish / PLAN)
    plans = [read_plan(p) for p in (parish / PLAN, old) if p.exists()]
    tones = [line.tone for line in plans[0].lines[:_DIGITS]]
    return sum((tone - 1) * 8**n for n, tone in enumerate(tones) if tone)


def _of_prices(parish: Path) -> int:
    path = parish / PRICES
    if not path.exists():
        return 0
    rows = [tomllib.loads(p.read_text(encoding="utf-8")) for p in
            (path, safefile.backup_name(path)) if p.exists()]  # fmt: skip
    return int(rows[0]["weight"][0]["value"])


def _of_practice(parish: Path) -> int:
    """The last result; all before it are there, and the day of practice is that of the last one."""
    with closing(sqlite3.connect(parish / "records.sqlite")) as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        rows = base.execute("SELECT detail, sung FROM result ORDER BY sung").fetchall()
        cards = base.execute("SELECT state, due FROM card").fetchall()
        given = {r[0] for r in base.execute("SELECT hymn FROM assignment")}
    numbers = [json.loads(detail)["number"] for detail, _ in rows]
    assert numbers == list(range(1, len(rows) + 1)), numbers[-9:]
    assert given == {f"{n}.txt" for n in numbers}
    assert len(cards) == bool(rows)
    if cards:
        state = json.loads(cards[0][0])
        assert state["last_review"][:19] == rows[-1][1].replace(" ", "T")[:19]
        assert state["due"][:19] == cards[0][1].replace(" ", "T")[:19]
    return len(rows)


def _of_sound(parish: Path) -> int:
    with closing(sqlite3.connect(parish / "records.sqlite")) as base:
        rows = base.execute("SELECT hymn, file FROM recording").fetchall()
    for _, name in rows:
        assert (parish / "recordings" / name).read_bytes() == SOUND
    numbers = sorted(int(hymn.removesuffix(".txt")) for hymn, _ in rows)
    assert numbers == list(range(1, len(rows) + 1))
    return len(rows)


def _of_backup(parish: Path) -> int:
    if not (parish / BACKUP).exists():
        return 0
    with zipfile.ZipFile(parish / BACKUP) as zipped:
        assert zipped.testzip() is None
        return _version(hymnfile.loads(zipped.read(f"parish/{COPIED.as_posix()}").decode()).title)


def _of_pack(parish: Path) -> int:
    """The number on the cover; each file is whole, and no link leads to nothing."""
    out = parish / PACK
    if not (out / "index.html").exists():
        return 0
    for path in out.rglob("[!.]*"):
        match path.suffix:
            case ".html":
                page = path.read_text(encoding="utf-8")
                assert page.rstrip().endswith("</main>"), path  # what may be left out is
                links = [m.split("#")[0] for _, _, m, _ in html.fromstring(page).iterlinks()]
                assert len(links) > 3, path
                assert [m for m in links if not (out / m).exists()] == [], path
            case ".json" | ".webmanifest":
                json.loads(path.read_text(encoding="utf-8"))
            case ".mp3" | ".opus":
                assert soundfile.info(str(path)).frames > 0
            case _:
                assert path.is_dir() or path.stat().st_size > 0
    found = re.search(r"Version (\d+)", (out / "index.html").read_text(encoding="utf-8"))
    assert found
    return int(found[1])


def _whole_pack(out: Path) -> None:
    """Hold that after a save that was not killed nothing of an earlier pack is left."""
    there = {p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()}
    held = json.loads((out / "contents.json").read_text(encoding="utf-8"))
    names = {*held["files"], *(n for kind in held["sounds"].values() for n in kind)}
    left = {n for n in there - names if not safefile.is_scrap(Path(n).name)}
    assert (left, names - there) == ({"contents.json", "sw.js"}, set())


@dataclass(frozen=True, slots=True)
class Kind:
    """How something is saved, and what number stands there; an error where it is not whole."""

    save: Callable[[Place, int], None]
    found: Callable[[Path], int]


KINDS = {
    "hymn": Kind(Place.hymn, of_hymn),
    "change taken back": Kind(Place.taken_back, _of_taken_back),
    "plan": Kind(Place.plan, of_plan),
    "learnt prices": Kind(Place.prices, _of_prices),
    "practice": Kind(Place.practice, _of_practice),
    "kept recording": Kind(Place.sound, _of_sound),
    "backup": Kind(Place.backup, _of_backup),
    "practice pack": Kind(Place.pack, _of_pack),
}


# --- the nursery ----------------------------------------------------------------------------------


def _tell(*words: object) -> None:
    os.write(1, (" ".join(map(str, words)) + "\n").encode())  # one write: whole or not at all


def _save(parish: Path, first: str) -> None:
    place = Place.open(parish)
    names = list(KINDS)
    at = names.index(first)
    while True:
        for name in names[at:] + names[:at]:
            number = KINDS[name].found(parish) + 1
            _tell("begin", number, name)
            KINDS[name].save(place, number)
            _tell("done", number, name)


def _child(line: str) -> None:
    what, parish, third = line.rstrip("\n").split("\t")
    if what == "save":
        _save(Path(parish), third)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    command(["serve", "--parish", parish, "--port", third, "--day", str(DAY), "--quiet"])


def _nurse() -> None:
    for line in sys.stdin:
        child = os.fork()
        if not child:
            try:
                _child(line)
            except BaseException:
                traceback.print_exc()
                _tell("failed")
                time.sleep(3600)  # it is there to be killed
            os._exit(1)
        _tell("born", child)
        os.waitpid(child, 0)
        _tell("gone", child)


@dataclass(slots=True)
class Nursery:
    """Where children come from."""

    process: subprocess.Popen[str]

    def bear(self, what: str, parish: Path, third: object) -> int:
        """Start a child; return its process id."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{what}\t{parish}\t{third}\n")
        self.process.stdin.flush()
        word, _, child = self.said().partition(" ")
        assert word == "born", word
        return int(child)

    def said(self) -> str:
        """The next line that is told."""
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, "it ended by itself"
        return line.rstrip("\n")


@contextmanager
def nursery(cache: Path) -> Iterator[Nursery]:
    """Open a nursery; recordings are kept in a folder of this run alone."""
    run = subprocess.Popen(
        [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "CHANTWRIGHT_CACHE": str(cache), "OMP_NUM_THREADS": "1",
             "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    try:
        yield Nursery(run)
    finally:
        assert run.stdin is not None
        assert run.stdout is not None
        run.stdin.close()
        run.wait()
        run.stdout.close()


if __name__ == "__main__":
    _nurse()
