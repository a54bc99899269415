"""Versions of a hymn file: taken back and brought back, across programs and after a stop."""

from __future__ import annotations

import json
import multiprocessing
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright import safefile
from chantwright.errors import ChantError
from chantwright.parish import trail
from chantwright.parish.records.backup import back_up, restore
from chantwright.parish.records.store import open_store
from chantwright.parish.trail import Trail


@pytest.fixture
def hymn(tmp_path: Path) -> Path:
    (tmp_path / "parish.toml").write_text("")
    path = tmp_path / "hymns" / "feasts" / "praise.txt"
    path.parent.mkdir(parents=True)
    path.write_text("zero\n")
    return path


def test_changes_are_taken_back_and_brought_back(hymn: Path) -> None:
    for word in ("one", "two", "three"):
        trail.keep(hymn, f"{word}\n")
    assert trail.trail_file(hymn) == hymn.parents[2] / "earlier" / "feasts" / "praise.json"
    for word in ("two", "one", "zero"):
        trail.take_back(hymn)
        assert hymn.read_text() == f"{word}\n"
    with pytest.raises(ChantError, match="nothing to take back"):
        trail.take_back(hymn)
    for word in ("one", "two", "three"):
        trail.bring_back(hymn)
        assert hymn.read_text() == f"{word}\n"
    with pytest.raises(ChantError, match="nothing to bring back"):
        trail.bring_back(hymn)
    trail.take_back(hymn)
    trail.keep(hymn, "other\n")  # a new change: what was taken back is gone
    assert (trail.standing(hymn).back, trail.standing(hymn).ahead) == (3, 0)


def test_a_change_by_another_program_is_taken_back_first(hymn: Path) -> None:
    trail.keep(hymn, "one\n")
    hymn.write_text("by hand\n")
    assert trail.standing(hymn).outside
    trail.take_back(hymn)
    assert hymn.read_text() == "one\n"
    trail.bring_back(hymn)
    assert hymn.read_text() == "by hand\n"
    trail.keep(hymn, "two\n")  # nor does a change on top of it lose it
    trail.take_back(hymn)
    assert hymn.read_text() == "by hand\n"


def test_the_version_a_save_left_beside_the_file_counts_where_no_other_is_known(
    hymn: Path,
) -> None:
    safefile.write_text(hymn, "by the command line\n", keep=True)
    assert trail.standing(hymn).back == 1
    trail.take_back(hymn)
    assert hymn.read_text() == "zero\n"
    assert trail.standing(hymn).back == 0
    trail.bring_back(hymn)
    assert hymn.read_text() == "by the command line\n"


@pytest.mark.parametrize("by", [trail.take_back, trail.bring_back])
def test_whatever_is_cut_off_between_the_two_writes_is_found_again(
    hymn: Path, by: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    for word in ("one", "two"):
        trail.keep(hymn, f"{word}\n")
    trail.take_back(hymn)

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr("chantwright.safefile.write_bytes", stop)
        for action in (lambda: trail.keep(hymn, "three\n"), lambda: by(hymn)):  # type: ignore[operator]
            with pytest.raises(KeyboardInterrupt):
                # The versions are written by write_text, which goes through write_bytes.
                patched.setattr("chantwright.safefile.write_text", _plainly)
                action()
            assert hymn.read_text() == "one\n"
            assert trail.standing(hymn).back == 1
            assert not trail.standing(hymn).outside
    trail.take_back(hymn)
    assert hymn.read_text() == "zero\n"


def _plainly(path: Path, text: str) -> None:
    path.write_text(text)


@pytest.mark.parametrize(
    "spoilt", ["", "{", "[]", '{"at": 7, "versions": ["a"]}', '{"at": 0, "versions": [3]}',
               '{"at": "x", "versions": ["a"]}', "[" * 100_000, '{"at": -1, "versions": ["a"]}'],
)  # fmt: skip
def test_spoilt_versions_stop_nobody(hymn: Path, spoilt: str) -> None:
    trail.keep(hymn, "one\n")
    trail.trail_file(hymn).write_text(spoilt)
    trail.keep(hymn, "two\n")
    trail.take_back(hymn)
    assert hymn.read_text() == "one\n"


def test_bytes_come_back_as_they_were(hymn: Path) -> None:
    for old in (b"\xef\xbb\xbfone\r\n\r\ntwo", b"\xff\xfe\x00half \xc3", "Κύριε\n".encode()):
        hymn.write_bytes(old)
        trail.keep(hymn, "new\n")
        trail.take_back(hymn)
        assert hymn.read_bytes() == old


def test_versions_are_bounded(hymn: Path) -> None:
    for number in range(trail.DEPTH + 20):
        trail.keep(hymn, f"{number}\n")
    assert trail.standing(hymn).back == trail.DEPTH
    for letter in "abc":
        trail.keep(hymn, letter * 450_000)
    assert trail.trail_file(hymn).stat().st_size < 1_100_000
    trail.take_back(hymn)
    assert hymn.read_text() == "b" * 450_000


def test_a_broken_character_changes_nothing(hymn: Path) -> None:
    with pytest.raises(ChantError, match="broken character"):
        trail.keep(hymn, "half \ud800")
    assert hymn.read_text() == "zero\n"
    assert trail.standing(hymn).back == 0


def _write_many(path: str, name: str) -> None:
    for number in range(12):
        trail.keep(Path(path), f"{name} {number}\n")


def test_two_programs_at_once_lose_no_version(hymn: Path) -> None:
    context = multiprocessing.get_context("spawn")
    runs = [context.Process(target=_write_many, args=(str(hymn), n)) for n in ("a", "b")]
    for run in runs:
        run.start()
    for run in runs:
        run.join(120)
        assert run.exitcode == 0
    told = json.loads(trail.trail_file(hymn).read_text())
    assert told["versions"][0] == "zero\n"
    assert sorted(told["versions"][1:]) == sorted(f"{n} {i}\n" for n in "ab" for i in range(12))


def test_versions_are_in_a_backup(hymn: Path, tmp_path: Path) -> None:
    trail.keep(hymn, "one\n")
    parish, back = hymn.parents[2], tmp_path / "back"
    back.mkdir()
    target = parish.parent / f"{parish.name}.zip"
    for folder, work in ((parish, back_up), (back, restore)):
        store = open_store(f"sqlite:///{folder / 'records.sqlite'}")
        work(store, folder, target)
        store.close()
    target.unlink()
    trail.take_back(back / "hymns" / "feasts" / "praise.txt")
    assert (back / "hymns" / "feasts" / "praise.txt").read_text() == "zero\n"


ACTIONS = st.lists(
    st.one_of(
        st.sampled_from(("back", "ahead", "outside")), st.tuples(st.binary(max_size=2))
    ),
    max_size=30,
)  # fmt: skip


@given(ACTIONS)
@settings(deadline=None, max_examples=100)
def test_as_a_plain_list_with_a_finger_in_it(actions: list[str | tuple[bytes]]) -> None:
    # Against the simplest account of it: a list of versions, and a finger on one of them.
    found, held = Trail((b"",), 0), b""
    versions, finger = [b""], 0
    for number, action in enumerate(actions):
        if action == "back":
            found = Trail(found.versions, max(0, found.at - 1))
            finger = max(0, finger - 1)
        elif action == "ahead":
            found = Trail(found.versions, found.at + bool(found.ahead))
            finger = min(len(versions) - 1, finger + 1)
        elif isinstance(action, tuple):
            found = found.with_change(action[0])
            if action[0] != versions[finger]:
                versions[finger + 1 :] = [action[0]]
                finger += 1
        held = found.versions[found.at]
        if action == "outside":
            held = f"by hand {number}".encode()
            versions[finger + 1 :] = [held]
            finger += 1
        found = found.seen(held)
        assert found.outside == (action == "outside")
        assert list(found.versions) == versions
        assert (found.back, found.ahead) == (finger, len(versions) - 1 - finger)
