"""The iCalendar file, read back by the library and measured by the rules of RFC 5545."""

from __future__ import annotations

from datetime import date
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


def test_every_event_has_its_own_lasting_name_and_waits_for_the_priest(tmp_path: Path) -> None:
    def named(data: bytes) -> dict[str, str]:
        book: Any = Calendar.from_ical(data)
        events = [*book.walk("VEVENT"), *book.walk("VTODO")]
        found = {str(e["UID"]): str(e["STATUS"]) for e in events}
        assert len(found) == len(events)
        return found

    year = named(to_ical(FIRST, LAST))
    assert len(year) == 52 * 5  # 52 Sundays in 2026: tone, three services, one task
    assert set(year.values()) == {"TENTATIVE", "NEEDS-ACTION"}
    assert set(named(to_ical(date(2026, 5, 1), date(2026, 6, 30)))) < set(year)
    own = tmp_path / "days.toml"
    own.write_text(
        '[[day]]\nid = "a"\ndate = "2026-11-29"\nby = "priest"\nconfirmed = true\n'
        'src = "priest"\nconf = "high"\n',
        encoding="utf-8",
    )
    sure = named(to_ical(FIRST, LAST, overrides=[own]))
    assert set(sure) == set(year)  # the names do not change with the state
    assert list(sure.values()).count("CONFIRMED") == 4


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
