"""A full disk, a folder that can only be read, a clock that is set, two at once: nothing is lost.

A small file system in memory is mounted where the tests may do so; where not, they are skipped and
say so.

References
----------
POSIX.1-2017 (ENOSPC, EROFS). RFC 5545, section 3.8.7.4 (SEQUENCE).
"""

from __future__ import annotations

import errno
import multiprocessing
import os
import subprocess
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from chantwright import almanac, safefile
from chantwright.errors import ChantError
from chantwright.parish import copy_demo, read_plan, write_plan
from chantwright.parish.practice import due, load_rules
from chantwright.parish.practice import record as record_result
from chantwright.parish.records import (
    RECORDING,
    Result,
    add_person,
    add_result,
    agree,
    back_up,
    keep_recording,
    open_store,
    persons,
    purge,
    recordings_of,
    results_of,
    store_url,
)
from chantwright.parish.records.accounts import account_of, invite, join, open_session
from chantwright.score import hymnfile
from chantwright.setting.taste import write_taste
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.editing import save

HYMN = "lord-i-cry.txt"
DAY = date(2026, 11, 25)


@contextmanager
def mounted(at: Path, *options: str) -> Iterator[Path]:
    """Mount a small file system in memory, or skip and say so."""
    at.mkdir()
    asked = ["mount", "-t", "tmpfs", "-o", ",".join(options), "tmpfs", str(at)]
    try:
        done = subprocess.run(asked, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip("A FULL DISK WAS NOT TRIED: there is no mount here")
    if done.returncode:
        pytest.skip(f"A FULL DISK WAS NOT TRIED: {done.stderr.strip() or 'mount is not allowed'}")
    try:
        yield at
    finally:
        subprocess.run(["umount", "-l", str(at)], check=True)


def read_only(at: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(at)], check=True)


def fill(at: Path) -> Path:
    """Take all room that is left."""
    ballast = at / "ballast"
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"\0" * 4096)
        except OSError as exc:
            assert exc.errno == errno.ENOSPC
    return ballast


def owned(parish: Path) -> dict[str, bytes]:
    names = ("hymns", "services", "own", "parish.toml", "singers.toml")
    files = [parish / n for n in names if (parish / n).is_file()]
    files += [f for n in names for f in (parish / n).rglob("*") if f.is_file()]
    return {f.relative_to(parish).as_posix(): f.read_bytes() for f in files}


def a_parish(at: Path) -> Path:
    parish = copy_demo(at / "parish")
    (parish / "own").mkdir(exist_ok=True)
    write_taste(parish / "own" / "prices.toml", {"leap": 1.5})
    return parish


def saves(parish: Path) -> dict[str, Callable[[], object]]:
    """Every way in which the tool writes a file that a parish owns."""
    hymn = hymnfile.read(parish / "hymns" / HYMN)
    longer = replace(hymn, title="Another " * 2000)
    plan_file = sorted((parish / "services").glob("*vespers.txt"))[0]
    plan = read_plan(plan_file)
    lines = tuple(replace(line, file="x" * 2000) for line in plan.lines)
    store = open_store(f"sqlite:///{parish.parent.parent / 'elsewhere.sqlite'}")
    return {
        "hymn file": lambda: hymnfile.write(parish / "hymns" / HYMN, longer),
        "editor": lambda: save(parish / "hymns" / HYMN, longer),
        "plan": lambda: write_plan(plan_file, replace(plan, lines=lines)),
        "prices": lambda: write_taste(
            parish / "own" / "prices.toml", {f"leap.{i}": 1.0 for i in range(400)}
        ),
        "backup": lambda: back_up(store, parish, parish / "backup.zip"),
    }


@pytest.mark.parametrize("name", ["hymn file", "editor", "plan", "prices", "backup"])
def test_on_a_full_disk_each_save_is_refused_and_the_old_file_stays(
    name: str, tmp_path: Path
) -> None:
    with mounted(tmp_path / "disk", "size=3m") as disk:
        parish = a_parish(disk)
        save = saves(parish)[name]
        before = owned(parish)
        ballast = fill(disk)
        with pytest.raises(ChantError, match="the disk is full"):
            save()
        assert owned(parish) == before
        assert not [p for p in parish.rglob(".*") if p.is_file()], "a scrap was left"
        assert not (parish / "backup.zip").exists()
        ballast.unlink()
        save()  # the same save, once there is room


def test_records_on_a_full_disk_keep_what_they_had(tmp_path: Path) -> None:
    with mounted(tmp_path / "disk", "size=3m") as disk:
        parish = a_parish(disk)
        desk = Desk.open(parish, DAY)
        with desk.store.write() as session:
            who = add_person(session, "Anna", "woman").id
            add_result(session, who, Result("a.txt", 10, 1, 0))
        client = TestClient(make_app(desk), base_url="http://localhost")
        ballast = fill(disk)
        for number in range(60):  # the log of the database may have room for a few
            answer = client.post(
                "/singers", data={"nickname": "N" * 60 + str(number), "voice": "man"}
            )
            if answer.status_code == 400:
                break
            assert answer.status_code == 200
        else:
            pytest.fail("the disk never filled")
        assert "disk" in answer.text
        assert "Traceback" not in answer.text
        with desk.store.read() as session:
            assert [r.hymn for r in results_of(session, who)] == ["a.txt"]
        ballast.unlink()
        with desk.store.write() as session:
            add_result(session, who, Result("b.txt", 10, 1, 0))
        desk.close()
        again = open_store(store_url(parish))
        with again.read() as session:
            assert {r.hymn for r in results_of(session, who)} == {"a.txt", "b.txt"}
        again.close()


@pytest.mark.parametrize("name", ["hymn file", "editor", "plan", "prices", "backup"])
def test_in_a_folder_that_can_only_be_read_each_save_is_refused(name: str, tmp_path: Path) -> None:
    with mounted(tmp_path / "disk", "size=8m") as disk:
        parish = a_parish(disk)
        save = saves(parish)[name]
        before = owned(parish)
        read_only(disk)
        with pytest.raises(ChantError, match="can only be read"):
            save()
        assert owned(parish) == before


def test_pages_of_a_folder_that_can_only_be_read(tmp_path: Path) -> None:
    with mounted(tmp_path / "disk", "size=16m") as disk:
        parish = a_parish(disk)
        desk = Desk.open(parish, DAY)
        desk.weekend()
        desk.close()
        read_only(disk)
        # The records cannot be opened: a sentence, no traceback.
        try:
            desk = Desk.open(parish, DAY)
        except ChantError as exc:
            assert "records" in str(exc) or "read" in str(exc)
            return
        client = TestClient(make_app(desk), base_url="http://localhost")
        for address in ("/", "/hymns", f"/hymn/{HYMN}", "/singers"):
            assert client.get(address).status_code == 200, address
        answer = client.post(f"/hymn/{HYMN}/keep")
        assert answer.status_code == 400
        assert "can only be read" in answer.text
        answer = client.post("/singers", data={"nickname": "Eve", "voice": "woman"})
        assert answer.status_code == 400
        desk.close()


def test_a_write_that_fails_midway_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish = a_parish(tmp_path)
    before = owned(parish)

    def full(_path: object, _data: object, *_: object) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_bytes", full)
        with pytest.raises(ChantError, match="the disk is full"):
            hymnfile.write(parish / "hymns" / HYMN, hymnfile.read(parish / "hymns" / HYMN))
    assert owned(parish) == before


# --- the clock ------------------------------------------------------------------------------------

BACK, FORWARD = timedelta(days=-1), timedelta(days=365)


@pytest.mark.parametrize("jump", [BACK, FORWARD])
def test_versions_do_not_hang_on_the_clock(jump: timedelta, tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    safefile.write_text(path, "first", keep=True)
    safefile.write_text(path, "second", keep=True)
    moment = (datetime.now(UTC) + jump).timestamp()
    os.utime(path, (moment, moment))
    safefile.write_text(path, "third", keep=True)
    assert path.read_text() == "third"
    assert safefile.backup_name(path).read_text() == "second"


@pytest.mark.parametrize("jump", [BACK, FORWARD])
def test_a_page_shows_a_file_that_was_changed_at_any_time(jump: timedelta, tmp_path: Path) -> None:
    parish = a_parish(tmp_path)
    desk = Desk.open(parish, DAY)
    path = parish / "hymns" / HYMN
    desk.weekend()
    hymn = hymnfile.read(path)
    hymnfile.write(path, replace(hymn, title="Changed under another clock"))
    moment = (datetime.now(UTC) + jump).timestamp()
    os.utime(path, (moment, moment))
    assert desk.singable(HYMN).title == "Changed under another clock"
    desk.close()


def at(moment: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    """Set the clock of the records."""
    for module in ("accounts", "recordings", "tables", "results", "consent", "jobs"):
        monkeypatch.setattr(
            f"chantwright.parish.records.{module}.now", lambda: moment, raising=False
        )
    monkeypatch.setattr("chantwright.parish.practice.now", lambda: moment)


def test_a_clock_that_jumps_ends_no_session_early_and_lets_none_live_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish = a_parish(tmp_path)
    store = open_store(store_url(parish))
    start = datetime(2026, 11, 25, 12, tzinfo=UTC)
    at(start, monkeypatch)
    with store.write() as session:
        account = join(session, invite(session, "teacher"), "leader", "four quiet harbour lamps")
        token, _ = open_session(session, account.id)
    for jump, there in ((BACK, True), (timedelta(days=29), True), (FORWARD, False)):
        at(start + jump, monkeypatch)
        with store.read() as session:
            assert (account_of(session, token) is not None) == there, jump
    store.close()


def test_a_clock_that_goes_back_deletes_no_sound_and_one_that_goes_on_deletes_what_is_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish = a_parish(tmp_path)
    store, folder = open_store(store_url(parish)), parish / "recordings"
    start = datetime.now(UTC)
    at(start, monkeypatch)
    with store.write() as session:
        who = add_person(session, "Anna", "woman").id
        agree(session, who, RECORDING, given_by="Anna", as_guardian=False)
        keep_recording(session, who, HYMN, b"RIFF", folder, suffix=".wav")
    for jump, kept in ((BACK, 1), (timedelta(days=29), 1), (timedelta(days=31), 0), (BACK, 0)):
        at(start + jump, monkeypatch)
        with store.write() as session:
            purge(session, folder)
            assert len(recordings_of(session, who)) == kept, jump
        assert len(list(folder.iterdir())) == kept
    store.close()


@pytest.mark.parametrize("jump", [BACK, FORWARD, timedelta(0)])
def test_what_is_due_stays_a_day_to_come_after_the_clock_jumps(
    jump: timedelta, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish = a_parish(tmp_path)
    store, rules = open_store(store_url(parish)), load_rules()
    start = datetime(2026, 11, 25, 12, tzinfo=UTC)
    at(start, monkeypatch)
    with store.write() as session:
        who = add_person(session, "Anna", "woman").id
        record_result(session, who, Result("a.txt", 10, 0, 0, 1.0, 0.0, start), rules)
    later = start + jump
    at(later, monkeypatch)
    with store.write() as session:
        record_result(session, who, Result("a.txt", 10, 0, 0, 1.0, 0.0, later), rules)
        (found,) = due(session, who, later)
        assert found.late_days <= 0
        assert len(results_of(session, who)) == 2
    store.close()


def test_a_calendar_counts_its_changes_and_not_the_clock(tmp_path: Path) -> None:
    first = datetime(2026, 11, 25, 12, tzinfo=UTC)

    def made(now: datetime, former: bytes = b"", *own: Path) -> bytes:
        return almanac.to_ical(DAY, date(2026, 12, 6), former=former, now=now, overrides=own)

    def sequences(data: bytes) -> list[str]:
        return [line for line in data.decode().splitlines() if line.startswith("SEQUENCE")]

    one = made(first)
    for jump in (BACK, FORWARD):
        same = made(first + jump, one)
        assert sequences(same) == sequences(one)  # nothing changed, so no number does
    own = tmp_path / "own.toml"
    own.write_text(
        '[[day]]\nid = "a"\ndate = "2026-11-29"\nservice = "orthros"\nby = "priest"\ntone = 3\n',
        encoding="utf-8",
    )
    for jump in (BACK, FORWARD):
        changed = made(first + jump, one, own)
        assert [s for s in sequences(changed) if s.endswith(":1")]
        # Back to what it was: the number goes on, also where the clock went back.
        again = made(first + 2 * jump, changed)
        assert [s for s in sequences(again) if s.endswith(":2")]


# --- two at once ----------------------------------------------------------------------------------

_TIMES = 25


def _edit(parish: str, name: str, gate: object) -> None:
    path = Path(parish) / "hymns" / HYMN
    store = open_store(store_url(Path(parish)))
    with store.write() as session:
        who = add_person(session, name, "man").id
    gate.wait(60)  # type: ignore[attr-defined]
    for number in range(_TIMES):
        save(path, replace(hymnfile.read(path), title=f"{name} {number}"))
        with store.write() as session:
            add_result(session, who, Result(f"{number}.txt", 10, 1, 0))
    store.close()


def test_two_programs_on_one_parish_lose_nothing(tmp_path: Path) -> None:
    parish = a_parish(tmp_path)
    before = hymnfile.read(parish / "hymns" / HYMN)
    open_store(store_url(parish)).close()
    context = multiprocessing.get_context("spawn")
    gate = context.Barrier(2)
    runs = [context.Process(target=_edit, args=(str(parish), n, gate)) for n in ("Anna", "Corin")]
    for run in runs:
        run.start()
    for run in runs:
        run.join(120)
        assert run.exitcode == 0
    path = parish / "hymns" / HYMN
    last, kept = hymnfile.read(path), hymnfile.read(safefile.backup_name(path))
    for hymn in (last, kept):  # whole, and one of the versions that were saved
        assert replace(hymn, title=before.title) == before
        assert hymn.title.split()[0] in ("Anna", "Corin")
    assert f"{_TIMES - 1}" in (last.title.split()[1], kept.title.split()[1])
    assert not list((parish / "hymns").glob(".*"))
    store = open_store(store_url(parish))
    with store.read() as session:
        people = {p.nickname: p.id for p in persons(session)}
        assert set(people) == {"Anna", "Corin"}
        for who in people.values():
            assert {r.hymn for r in results_of(session, who)} == {f"{i}.txt" for i in range(_TIMES)}
    store.close()


def test_a_text_changed_by_another_program_is_not_written_over(tmp_path: Path) -> None:
    parish = a_parish(tmp_path)
    desk = Desk.open(parish, DAY)
    client = TestClient(make_app(desk), base_url="http://localhost", follow_redirects=False)
    page = client.get(f"/text/{HYMN}").text
    stamp = page.split('name="stamp" value="')[1].split('"')[0]
    theirs = "title: Theirs\n\nO Lord, hear me.\n"
    (parish / "hymns" / HYMN).write_text(theirs, encoding="utf-8")
    mine = "title: Mine\n\nO Lord, hear thou me.\n"
    answer = client.post(f"/text/{HYMN}", data={"words": mine, "stamp": stamp})
    assert answer.status_code == 400
    assert "changed meanwhile" in answer.text
    assert "O Lord, hear thou me." in answer.text  # what was typed comes back
    assert (parish / "hymns" / HYMN).read_text(encoding="utf-8") == theirs
    desk.close()


def test_a_backup_while_another_program_writes_is_whole(tmp_path: Path) -> None:
    parish = a_parish(tmp_path)
    open_store(store_url(parish)).close()
    context = multiprocessing.get_context("spawn")
    gate = context.Barrier(1)
    run = context.Process(target=_edit, args=(str(parish), "Anna", gate))
    run.start()
    store = open_store(store_url(parish))
    try:
        for number in range(6):
            target = tmp_path / f"{number}.zip"
            back_up(store, parish, target)
            with zipfile.ZipFile(target) as zipped:
                assert zipped.testzip() is None
                hymnfile.loads(zipped.read(f"parish/hymns/{HYMN}").decode())
    finally:
        store.close()
        run.join(120)
    assert run.exitcode == 0
