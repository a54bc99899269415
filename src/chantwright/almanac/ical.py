"""The almanac as an iCalendar file, for the calendar program of a telephone or a desk.

Conventions: an all-day event on each Sunday carries the tone of its week; services are timed
events with a time zone by name; a practice deadline is a task due some days before its service.
Names of events are stable (a UUID of kind, calendar, practice, date and service), so that a new
export updates the old events. Everything is TENTATIVE until the priest confirms it. The output is
a pure function of its input; the moment of the export does not stand in it.

References: RFC 5545 (iCalendar), RFC 7986 (NAME), RFC 4122 (UUID version 5).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from icalendar import Calendar, Event, Todo

from chantwright.almanac.dates import long_date
from chantwright.almanac.day import week
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import ServiceDay
from chantwright.errors import ChantError, Where

__all__ = ["HOURS", "to_ical"]

HOURS: Mapping[str, tuple[time, timedelta]] = {
    "great-vespers": (time(18), timedelta(hours=1)),
    "orthros": (time(8, 30), timedelta(hours=1, minutes=30)),
    "liturgy": (time(10), timedelta(hours=1, minutes=30)),
}
"""When a service begins and how long it lasts, where a parish says nothing else."""

_OURS = UUID("6f1d2c1e-5f0e-5f5b-9c5e-0c8d5a3a7b11")
_STAMP = datetime(2020, 1, 1, tzinfo=UTC)  # of no meaning here, but every event must have one
_LONGEST = 366 * 5  # days in one file


def _uid(kind: str, day: ServiceDay) -> str:
    name = "/".join((kind, day.calendar, day.practice, day.civil_date.isoformat(), day.service))
    return f"{uuid5(_OURS, name)}@chantwright"


def _tone(day: ServiceDay, almanac: Almanac) -> str:
    return almanac.tone_title(day.tone) if day.tone else "no tone of the week"


def _about(day: ServiceDay, almanac: Almanac) -> str:
    lines = [day.day_name, f"{_tone(day, almanac)}."]
    if day.eothinon:
        lines.append(f"Eothinon {day.eothinon}: {almanac.eothina[day.eothinon].gospel}.")
    lines += [r.sentence for r in day.reasons]
    lines += [f"To ask: {ask}" for ask in day.open_questions]
    return "\n".join(lines)


def _status(day: ServiceDay) -> str:
    return "CONFIRMED" if day.confirmed else "TENTATIVE"


def _tone_event(day: ServiceDay, almanac: Almanac) -> Event:
    event = Event()
    event.add("uid", _uid("tone", day))
    event.add("dtstamp", _STAMP)
    event.add("dtstart", day.liturgical_date)
    event.add("dtend", day.liturgical_date + timedelta(1))
    eothinon = f", eothinon {day.eothinon}" if day.eothinon else ""
    event.add("summary", f"{day.day_name}: {_tone(day, almanac)}{eothinon}")
    event.add("description", "It begins at Vespers on the evening before.\n" + _about(day, almanac))
    event.add("transp", "TRANSPARENT")
    event.add("status", _status(day))
    event.add("categories", ["TONE", *([f"TONE-{day.tone}"] if day.tone else [])])
    return event


def _service_event(day: ServiceDay, almanac: Almanac, zone: ZoneInfo) -> Event:
    begins, lasts = HOURS[day.service]
    start = datetime.combine(day.civil_date, begins, zone)
    event = Event()
    event.add("uid", _uid("service", day))
    event.add("dtstamp", _STAMP)
    event.add("dtstart", start)
    event.add("dtend", start + lasts)
    event.add("summary", f"{day.title}: {_tone(day, almanac)}")
    event.add("description", _about(day, almanac))
    event.add("status", _status(day))
    event.add("categories", ["SERVICE", day.service.upper()])
    event.add("x-liturgical-date", day.liturgical_date.strftime("%Y%m%d"))
    return event


def _practice_task(day: ServiceDay, almanac: Almanac, before: int) -> Todo:
    task = Todo()
    task.add("uid", _uid("practice", day))
    task.add("dtstamp", _STAMP)
    task.add("due", day.civil_date - timedelta(before))
    task.add("summary", f"Hymns of {long_date(day.liturgical_date)} known: {_tone(day, almanac)}")
    task.add("related-to", _uid("service", day))
    task.add("categories", ["PRACTICE"])
    task.add("status", "NEEDS-ACTION")
    return task


def to_ical(
    first: date,
    last: date,
    *,
    calendar: str = "new",
    practice: str = "greek",
    zone: str = "Europe/Athens",
    before: int = 3,
    title: str = "Tones and services",
    overrides: Iterable[Path] = (),
) -> bytes:
    """Write the Sundays from `first` to `last` as an iCalendar file.

    Parameters
    ----------
    first, last : date
        Civil dates, both included; at most five years.
    calendar, practice, overrides
        As for `chantwright.almanac.week`.
    zone : str
        Time zone by name, such as ``Europe/Athens``.
    before : int
        Days before the service by which its hymns should be known.
    title : str
        Name of the calendar.

    Returns
    -------
    bytes
        UTF-8, lines of at most 75 octets that end with CRLF.

    Raises
    ------
    ChantError
        If the zone is unknown, the dates are in the wrong order or too far apart.
    """
    if not 0 <= (last - first).days <= _LONGEST:
        raise ChantError(
            f"a calendar from {long_date(first)} to {long_date(last)} cannot be made.",
            remedy="Give a first and a later last day, at most five years apart.",
        )
    try:
        place = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ChantError(
            f"there is no time zone called “{zone}”.",
            where=Where(word=zone),
            remedy="Write it like Europe/Athens or America/New_York.",
        ) from None
    paths = tuple(overrides)
    almanac = load_almanac(paths)
    book = Calendar()
    book.add("prodid", "-//chantwright//almanac//EN")
    book.add("version", "2.0")
    book.add("calscale", "GREGORIAN")
    book.add("method", "PUBLISH")
    book.add("name", title)
    book.add("x-wr-calname", title)
    sunday = first + timedelta((6 - first.weekday()) % 7)
    while sunday <= last:
        services = week(sunday, calendar=calendar, practice=practice, overrides=paths)
        book.add_component(_tone_event(services[-1], almanac))
        for day in services:
            book.add_component(_service_event(day, almanac, place))
        book.add_component(_practice_task(services[0], almanac, before))
        sunday += timedelta(7)
    if sunday > first + timedelta(6):
        book.add_missing_timezones(
            first_date=first - timedelta(400), last_date=last + timedelta(400)
        )
    return bytes(book.to_ical())
