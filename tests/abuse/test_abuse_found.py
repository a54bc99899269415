"""What damage has found before: each of these once ended in a traceback or did not end."""

from __future__ import annotations

import io
import zipfile
import zlib
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from chantwright import almanac
from chantwright.errors import ChantError
from chantwright.parish import group_singers, load_knowledge, make_singable
from chantwright.parish.records import back_up, open_store, restore
from chantwright.score import hymnfile
from chantwright.web.handin import read_handins


def test_a_word_of_a_thousand_syllables_is_not_set_for_ever() -> None:
    known = load_knowledge()
    hymn = hymnfile.loads(f"title: A\n\nO {'ab-' * 1000}men, hear me.\n")
    with pytest.raises(ChantError, match="syllables is far too long") as caught:
        make_singable(hymn, known, group_singers(known.tones, "men"), tone=4)
    assert "bar" in caught.value.remedy


@pytest.mark.parametrize("value", ["[1]", "{ a = 1 }", "7", "true"])
def test_a_name_in_a_row_of_the_almanac_that_is_no_word(value: str, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(f'[[movable]]\nid = "x"\nrank = {value}\noffset = 1\n', encoding="utf-8")
    assert almanac.check([own])
    with pytest.raises(ChantError, match=r"own\.toml"):
        almanac.load_almanac([own])


def test_half_a_character_in_what_is_handed_in() -> None:
    with pytest.raises(ChantError):
        read_handins("chantwright result 1\nsinger: \ud800\ncheck: 00000000\n")


@pytest.mark.parametrize(
    "line", ["DTSTART:2026121  180000", "DTSTART:20261129\r\nDTSTART:20261130", "SEQUENCE:x",
             "DTSTART;VALUE=TIME:120000", "DTSTAMP:never"],
)  # fmt: skip
def test_a_calendar_of_an_earlier_export_with_a_broken_date(line: str) -> None:
    former = (
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nBEGIN:VEVENT\r\nUID:a\r\n"
        f"{line}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    ).encode()
    day = date(2026, 11, 29)
    try:
        assert almanac.to_ical(day, day, former=former)
    except ChantError as exc:
        assert "last export" in str(exc)


def test_a_backup_whose_packing_is_damaged(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as zipped:
        zipped.writestr("backup.txt", "chantwright backup 1\n")
        zipped.writestr("parish/hymns/a.txt", "title: A\n\nO Lord, hear me.\n" * 50)
    data = bytearray(out.getvalue())
    at = data.index(b"parish/hymns/a.txt") + len("parish/hymns/a.txt")
    data[at : at + 12] = b"\xff" * 12
    path = tmp_path / "b.zip"
    path.write_bytes(data)
    with zipfile.ZipFile(path) as zipped, pytest.raises(zlib.error):
        zipped.testzip()  # what a library raises here is no BadZipFile
    store = open_store(f"sqlite:///{tmp_path / 'r.sqlite'}")
    with pytest.raises(ChantError, match="no backup"):
        restore(store, tmp_path / "new", path)
    store.close()


def test_a_backup_leaves_out_scraps_of_backups_that_were_cut_off(tmp_path: Path) -> None:
    (tmp_path / "parish.toml").write_text('name = "A"\n', encoding="utf-8")
    (tmp_path / ".parish.x7f_2abc.zip").write_bytes(b"half a backup")
    store = open_store(f"sqlite:///{tmp_path / 'records.sqlite'}")
    back_up(store, tmp_path, tmp_path / "parish.zip")
    store.close()
    with zipfile.ZipFile(tmp_path / "parish.zip") as zipped:
        assert [n for n in zipped.namelist() if n.startswith("parish/")] == ["parish/parish.toml"]


@pytest.mark.parametrize(
    "row", ["null", "[]", "7", "{}", '{"id": "a"}', '{"id": "a", "nickname": null}']
)
def test_a_backup_with_a_row_that_is_none(row: str, tmp_path: Path) -> None:
    path = tmp_path / "backup.zip"
    with closing(open_store(f"sqlite:///{tmp_path / 'old.sqlite'}")) as store:
        back_up(store, tmp_path, path)
    with zipfile.ZipFile(path) as zipped:
        held = {name: zipped.read(name) for name in zipped.namelist()}
    name = next(n for n in held if n.endswith("singer.jsonl"))
    with zipfile.ZipFile(path, "w") as zipped:
        for other, data in held.items():
            zipped.writestr(other, f"{row}\n".encode() if other == name else data)
    with (
        closing(open_store(f"sqlite:///{tmp_path / 'new.sqlite'}")) as store,
        pytest.raises(ChantError, match="no backup"),
    ):
        restore(store, tmp_path / "new", path)
