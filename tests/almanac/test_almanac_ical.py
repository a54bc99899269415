"""The iCalendar file, read back by the library and measured by the rules of RFC 5545."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from chantwright.almanac import to_ical
from chantwright.errors import ChantError

FIRST, LAST = date(2026, 1, 1), date(2026, 12, 31)


def test_lines_are_short_and_end_as_they_must() -> None:
    # RFC 5545, 3.1: lines of at most 75 octets, ended by CRLF.
    data = to_ical(FIRST, LAST, title="Ἐνορία, ἁγίου; ψαλτήριον " * 5)
    lines = data.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert all(b"\n" not in line and b"\r" not in line for line in lines)
    assert lines[-1] == b""


def test_the_same_again_byte_by_byte_and_after_reading() -> None:
    data = to_ical(FIRST, LAST)
    assert data == to_ical(FIRST, LAST)
    again: Any = Calendar.from_ical(data)
    assert again.to_ical() == data


def _events(data: bytes) -> dict[str, Any]:
    book: Any = Calendar.from_ical(data)
    events = [*book.walk("VEVENT"), *book.walk("VTODO")]
    found = {str(e["UID"]): e for e in events}
    assert len(found) == len(events)
    return found


def _named(data: bytes) -> dict[str, str]:
    return {uid: str(e["STATUS"]) for uid, e in _events(data).items()}


def test_every_event_has_its_own_lasting_name_and_waits_for_the_priest(tmp_path: Path) -> None:
    year = _named(to_ical(FIRST, LAST))
    # 2026 counted on a paper calendar: 52 weeks; 66 days with Orthros and Liturgy (52 Sundays, 13
    # fixed feasts, Ascension), 63 evenings with Great Vespers, 16 Presanctified, 4 vesperal
    # Liturgies, 6 evenings and one Vespers of Holy Week; a task before what opens a day.
    opening = 63 + 16 + 4 + 6 + 1
    assert len(year) == 52 + 2 * 66 + opening + opening
    assert set(year.values()) == {"TENTATIVE", "NEEDS-ACTION"}
    assert set(_named(to_ical(date(2026, 5, 1), date(2026, 6, 30)))) < set(year)
    own = tmp_path / "own.toml"
    own.write_text(
        '[[day]]\nid = "a"\ndate = "2026-11-29"\nby = "priest"\nconfirmed = true\n'
        'src = "priest"\nconf = "high"\n',
        encoding="utf-8",
    )
    sure = _named(to_ical(FIRST, LAST, overrides=[own]))
    assert set(sure) == set(year)  # the names do not change with the state
    assert list(sure.values()).count("CONFIRMED") == 4


NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


def test_nothing_changed_gives_the_same_bytes_at_any_moment() -> None:
    data = to_ical(FIRST, LAST)
    assert to_ical(FIRST, LAST, former=data, now=NOW) == data


def test_odd_letters_come_back_the_same(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[feast]]\nid = "p"\ndate = "11-25"\nrank = "S"\ntitle = "Ἁγία Αἰκατερίνη, ἡ ἡμετέρα; '
        'and \\\\ \\"more\\" of it, long enough to be folded twice over"\n',
        encoding="utf-8",
    )
    data = to_ical(date(2026, 11, 20), date(2026, 11, 30), alarm=5, overrides=[own])
    assert "Ἁγία".encode() in data and max(map(len, data.split(b"\r\n"))) <= 75
    again = to_ical(
        date(2026, 11, 20), date(2026, 11, 30), alarm=5, overrides=[own], former=data, now=NOW
    )
    assert again == data


def test_what_changed_gets_the_next_sequence_and_the_moment(tmp_path: Path) -> None:
    # RFC 5545, 3.8.7.4: the sequence rises with each significant revision of an event.
    first = to_ical(FIRST, LAST)
    own = tmp_path / "own.toml"
    own.write_text(
        '[[day]]\nid = "a"\ndate = "2026-11-29"\nservice = "orthros"\nby = "priest"\n'
        "tone = 3\nconfirmed = true\n",
        encoding="utf-8",
    )
    second = to_ical(FIRST, LAST, former=first, now=NOW, overrides=[own])
    before, after = _events(first), _events(second)
    changed = [uid for uid in before if before[uid].to_ical() != after[uid].to_ical()]
    orthros = [uid for uid in changed if "ORTHROS" in str(after[uid]["CATEGORIES"].to_ical())]
    assert len(orthros) == 1
    event = after[orthros[0]]
    assert (event["SEQUENCE"], event["LAST-MODIFIED"].dt) == (1, NOW)
    assert str(event["STATUS"]) == "CONFIRMED"
    # Besides it only the tone of that week, which is read from the same record.
    assert len(changed) == 2
    # A third export with the same data is the second, byte by byte, whenever it is made.
    later = datetime(2026, 4, 1, tzinfo=UTC)
    assert to_ical(FIRST, LAST, former=second, now=later, overrides=[own]) == second


def test_a_service_taken_out_is_cancelled_and_one_no_longer_held_too(tmp_path: Path) -> None:
    first = to_ical(FIRST, LAST, alarm=90)
    own = tmp_path / "own.toml"
    own.write_text(
        '[[day]]\nid = "a"\ndate = "2026-11-29"\nservice = "liturgy"\nby = "priest"\n'
        'served = false\n\n[[habit]]\nid = "bridegroom"\nkept = false\n',
        encoding="utf-8",
    )
    second = to_ical(FIRST, LAST, alarm=90, former=first, now=NOW, overrides=[own])
    gone = [e for e in _events(second).values() if str(e["STATUS"]) == "CANCELLED"]
    assert set(_events(second)) == set(_events(first))
    # One Liturgy; six evenings of Holy Week and the six tasks before them.
    assert len(gone) == 1 + 6 + 6
    assert all(e["SEQUENCE"] == 1 and not e.subcomponents for e in gone)
    assert to_ical(FIRST, LAST, alarm=90, former=second, now=NOW, overrides=[own]) == second


def test_alarms_are_there_when_asked_for() -> None:
    # RFC 5545, 3.6.6: an alarm that displays has a trigger and a description.
    plain: Any = Calendar.from_ical(to_ical(FIRST, LAST))
    assert not list(plain.walk("VALARM"))
    book: Any = Calendar.from_ical(to_ical(FIRST, LAST, alarm=45))
    alarms = list(book.walk("VALARM"))
    timed = [e for e in book.walk("VEVENT") if "SERVICE" in str(e["CATEGORIES"].to_ical())]
    assert len(alarms) == len(timed) + len(list(book.walk("VTODO")))
    triggers = {a["TRIGGER"].dt for a in alarms}
    assert triggers == {-timedelta(minutes=45), -timedelta(days=1)}
    assert all(str(a["DESCRIPTION"]) and str(a["ACTION"]) == "DISPLAY" for a in alarms)


def test_hours_and_zone_come_from_the_parish(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[service]]\nid = "liturgy"\nhour = "09:15"\nminutes = 100\n\n'
        '[[setting]]\nid = "zone"\nvalue = "America/Chicago"\n',
        encoding="utf-8",
    )
    week = to_ical(date(2026, 11, 29), date(2026, 11, 29), overrides=[own])
    (liturgy,) = [e for e in _events(week).values() if "LITURGY" in str(e["CATEGORIES"].to_ical())]
    start, end = liturgy["DTSTART"].dt, liturgy["DTEND"].dt
    assert (start.isoformat(), str(end - start)) == ("2026-11-29T09:15:00-06:00", "1:40:00")
    named = to_ical(date(2026, 11, 29), date(2026, 11, 29), zone="Asia/Tokyo", overrides=[own])
    assert b"TZID=Asia/Tokyo:20261129T091500" in named


def test_the_tone_lasts_its_week() -> None:
    tones = {
        e["DTSTART"].dt: (e["DTEND"].dt, str(e["SUMMARY"]))
        for e in _events(to_ical(FIRST, LAST)).values()
        if "TONE" in str(e["CATEGORIES"].to_ical())
    }
    # Common practice: Sunday to Saturday; the tone of the fifth Sunday of Lent ends on Friday.
    assert tones[date(2026, 11, 29)][0] == date(2026, 12, 6)
    assert tones[date(2026, 3, 29)][0] == date(2026, 4, 4)
    assert "a tone a day" in tones[date(2026, 4, 12)][1]
    assert "no tone" in tones[date(2026, 4, 5)][1]


def test_a_broken_former_file_is_told() -> None:
    with pytest.raises(ChantError, match="cannot be read"):
        to_ical(FIRST, LAST, former=b"my letters, not a calendar")


def test_six_in_the_evening_stays_six_across_the_change_of_clocks() -> None:
    # EU summer time began on 29 March 2026; Athens is UTC+2 before and UTC+3 after.
    book: Any = Calendar.from_ical(to_ical(date(2026, 3, 20), date(2026, 4, 5)))
    assert list(book.walk("VTIMEZONE"))
    starts = {
        e["DTSTART"].dt.date(): e["DTSTART"].dt
        for e in book.walk("VEVENT")
        if "GREAT-VESPERS" in str(e["CATEGORIES"].to_ical())
    }
    assert {d.hour for d in starts.values()} == {18}
    offset = {day: str(at.utcoffset()) for day, at in starts.items()}
    assert offset[date(2026, 3, 28)] == "2:00:00"
    assert offset[date(2026, 4, 4)] == "3:00:00"


def test_bad_input_is_told() -> None:
    with pytest.raises(ChantError, match="time zone"):
        to_ical(FIRST, LAST, zone="Nowhere/Land")
    with pytest.raises(ChantError, match="cannot be made"):
        to_ical(LAST, FIRST)
