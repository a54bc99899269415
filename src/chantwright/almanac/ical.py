"""The almanac as an iCalendar file, for the calendar program of a telephone or a desk.

Conventions: an all-day event over each week carries its tone; services are timed events with a
time zone by name; a practice deadline is a task due some days before its service. Names of events
are stable (a UUID of kind, calendar, practice, date and service), so that a new export updates the
old events. A service is TENTATIVE until the priest confirms it, and CANCELLED when he takes it out
or when a new export no longer has it.

The output is a pure function of its input. Given the file of the last export, an event that has
not changed is written again byte by byte, and one that has gets the next SEQUENCE and the moment
of the change; without that file the sequence counts the priest's lines, and the stamp says nothing.

References: RFC 5545 (iCalendar), RFC 7986 (NAME), RFC 9562 (UUID version 5).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from icalendar import Alarm, Calendar, Event, Todo

from chantwright.almanac.dates import long_date
from chantwright.almanac.day import parish_services, service_day
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import ServiceDay
from chantwright.almanac.report import told
from chantwright.almanac.served import hours
from chantwright.errors import ChantError, Where

__all__ = ["Served", "ical_json", "to_ical"]

_OURS = UUID("6f1d2c1e-5f0e-5f5b-9c5e-0c8d5a3a7b11")
_STAMP = datetime(2020, 1, 1, tzinfo=UTC)  # of a first export; it says nothing
_LONGEST = 366 * 5  # days in one file


@dataclass(frozen=True, slots=True)
class Served:
    """A service with what its plan says of it.

    Attributes
    ----------
    day : ServiceDay
        With the priest's decisions laid over it.
    hour : time or None
        When it begins on this day; None takes the parish's usual hour.
    words : int
        How many lines of the plan say something of the service itself.
    """

    day: ServiceDay
    hour: time | None = None
    words: int = 0


Planned = Callable[[ServiceDay], Served]


def _uid(kind: str, day: ServiceDay) -> str:
    name = "/".join((kind, day.calendar, day.practice, day.civil_date.isoformat(), day.service))
    return f"{uuid5(_OURS, name)}@chantwright"


def _tone(day: ServiceDay, almanac: Almanac) -> str:
    return almanac.tone_title(day.tone) if day.tone else "no tone of the week"


def _about(day: ServiceDay, almanac: Almanac) -> str:
    lines = [day.day_name, f"{_tone(day, almanac)}."]
    if day.eothinon:
        lines.append(f"Eothinon {day.eothinon}: {almanac.eothina[day.eothinon].gospel}.")
    lines += [r.sentence for r in told(day)]
    lines += [f"To ask: {ask}" for ask in day.open_questions]
    return "\n".join(lines)


def _status(day: ServiceDay) -> str:
    if day.cancelled or not day.served:
        return "CANCELLED"
    return "CONFIRMED" if day.confirmed else "TENTATIVE"


def _tone_event(sunday: ServiceDay, almanac: Almanac) -> Event:
    """Make the event of a week, from Sunday until its tone ends."""
    event = Event()
    event.add("uid", _uid("tone", sunday))
    last = sunday.liturgical_date + timedelta(6)
    if sunday.until is not None and sunday.until >= sunday.liturgical_date:
        last = min(last, sunday.until)
    if sunday.nominal_tone is None or "bright-week" in sunday.marks:
        last = sunday.liturgical_date + timedelta(6)
    event.add("dtstart", sunday.liturgical_date)
    event.add("dtend", last + timedelta(1))
    sung = _tone(sunday, almanac)
    if "bright-week" in sunday.marks:
        sung = "a tone a day"
    elif sunday.tone is None and sunday.nominal_tone is not None:
        sung = f"{almanac.tone_title(sunday.nominal_tone)} by the count, not on Sunday"
    eothinon = f", eothinon {sunday.eothinon}" if sunday.eothinon else ""
    event.add("summary", f"{sunday.day_name}: {sung}{eothinon}")
    about = _about(sunday, almanac)
    event.add("description", "It begins at Vespers on the evening before.\n" + about)
    event.add("transp", "TRANSPARENT")
    event.add("status", "CONFIRMED" if sunday.confirmed else "TENTATIVE")
    number = sunday.tone or sunday.nominal_tone
    event.add("categories", ["TONE", *([f"TONE-{number}"] if number else [])])
    return event


def _alarm(before: timedelta, words: str) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", words)
    alarm.add("trigger", -before)
    return alarm


def _service_event(
    one: Served, almanac: Almanac, begins: time, lasts: int, zone: ZoneInfo, alarm: int
) -> Event:
    day = one.day
    start = datetime.combine(day.civil_date, one.hour or begins, zone)
    event = Event()
    event.add("uid", _uid("service", day))
    event.add("dtstart", start)
    event.add("dtend", start + timedelta(minutes=lasts))
    summary = f"{day.title}: {_tone(day, almanac)}"
    event.add("summary", summary)
    event.add("description", _about(day, almanac))
    event.add("status", _status(day))
    event.add("categories", ["SERVICE", day.service.upper()])
    event.add("x-liturgical-date", day.liturgical_date.strftime("%Y%m%d"))
    if alarm and _status(day) != "CANCELLED":
        event.add_component(_alarm(timedelta(minutes=alarm), summary))
    return event


def _practice_task(one: Served, almanac: Almanac, before: int, alarm: int) -> Todo:
    day = one.day
    task = Todo()
    task.add("uid", _uid("practice", day))
    task.add("due", day.civil_date - timedelta(before))
    summary = f"Hymns of {long_date(day.liturgical_date)} known: {_tone(day, almanac)}"
    task.add("summary", summary)
    task.add("related-to", _uid("service", day))
    task.add("categories", ["PRACTICE"])
    gone = _status(day) == "CANCELLED"
    task.add("status", "CANCELLED" if gone else "NEEDS-ACTION")
    if alarm and not gone:
        reminder = _alarm(timedelta(days=1), summary)
        reminder["TRIGGER"].params["RELATED"] = "END"
        task.add_component(reminder)
    return task


_MOMENTS = ("DTSTAMP", "LAST-MODIFIED", "SEQUENCE")


def _content(event: Any) -> bytes:
    """Return an event without its moment and sequence, to see whether it changed."""
    copy = event.copy(recursive=True)
    for name in _MOMENTS:
        copy.pop(name, None)
    return bytes(copy.to_ical())


def _last_export(data: bytes) -> dict[str, Any]:
    """Return the events of a former file by their names; none where it cannot be read."""
    if not data:
        return {}
    try:
        book: Any = Calendar.from_ical(data)
        found = {str(e["UID"]): e for kind in ("VEVENT", "VTODO") for e in book.walk(kind)}
        for event in found.values():
            _look_at(event)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError) as exc:
        raise ChantError(
            f"the calendar file of the last export cannot be read ({exc}).",
            remedy="Write to another file, or remove the old one.",
        ) from None
    return found


def _look_at(event: Any) -> None:
    """Read the dates of an old event, so that one that cannot be read is told at once."""
    at = event.get("DTSTART") or event.get("DUE")
    if at is not None and not isinstance(at.dt, date):
        raise ValueError(f"{at.dt} is no date")
    int(event.get("SEQUENCE", 0))
    event.decoded("DTSTAMP", _STAMP)


def _stamp(event: Any, words: int, former: Mapping[str, Any], now: datetime) -> None:
    """Give an event its moment and its sequence."""
    sequence, moment = words, _STAMP
    if (old := former.get(str(event["UID"]))) is not None:
        before = int(old.get("SEQUENCE", 0))
        if _content(old) == _content(event):
            sequence, moment = before, old.decoded("DTSTAMP", _STAMP)
        else:
            sequence, moment = max(before + 1, words), now
    event.add("dtstamp", moment)
    event.add("last-modified", moment)
    event.add("sequence", sequence)


def _gone(former: Mapping[str, Any], made: set[str], first: date, last: date) -> list[Any]:
    """Return, as cancelled, the events of the last export that are no longer held."""
    gone = []
    for name, old in former.items():
        at = old.get("DTSTART") or old.get("DUE")
        if name in made or at is None:
            continue
        day = at.dt.date() if isinstance(at.dt, datetime) else at.dt
        if not first <= day <= last:
            continue
        event = old.copy(recursive=True)
        event.subcomponents = []
        for key in (*_MOMENTS, "STATUS"):
            event.pop(key, None)
        event.add("status", "CANCELLED")
        gone.append(event)
    return gone


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ChantError(
            f"there is no time zone called “{name}”.",
            where=Where(word=name),
            remedy="Write it like Europe/Athens or America/New_York.",
        ) from None


def to_ical(
    first: date,
    last: date,
    *,
    calendar: str = "new",
    practice: str = "greek",
    zone: str = "",
    before: int = 3,
    alarm: int = 0,
    title: str = "Tones and services",
    planned: Planned = Served,
    former: bytes = b"",
    now: datetime = _STAMP,
    overrides: Iterable[Path] = (),
) -> bytes:
    """Write tones and the parish's services from `first` to `last` as an iCalendar file.

    Parameters
    ----------
    first, last : date
        Civil dates, both included; at most five years.
    calendar, practice, overrides
        As for `chantwright.almanac.parish_services`.
    zone : str
        Time zone by name, such as ``America/Chicago``; empty takes that of the rows
        (``[[setting]] id = "zone"``).
    before : int
        Days before a service by which its hymns should be known.
    alarm : int
        Minutes before a service at which the calendar program shall remind; 0 for none.
    title : str
        Name of the calendar.
    planned : callable
        Lays a service's plan over it; by default there are no plans.
    former : bytes
        The file of the last export: what has not changed since keeps its moment and sequence.
    now : datetime
        Moment given to events that changed since `former`, in UTC.

    Returns
    -------
    bytes
        UTF-8, lines of at most 75 octets that end with CRLF.

    Raises
    ------
    ChantError
        If the zone is unknown, the dates are in the wrong order or too far apart, or `former` is
        no calendar file.
    """
    if not 0 <= (last - first).days <= _LONGEST:
        raise ChantError(
            f"a calendar from {long_date(first)} to {long_date(last)} cannot be made.",
            remedy="Give a first and a later last day, at most five years apart.",
        )
    paths = tuple(overrides)
    almanac = load_almanac(paths)
    place = _zone(zone or almanac.settings["zone"])
    old = _last_export(former)
    book = Calendar()
    book.add("prodid", "-//chantwright//almanac//EN")
    book.add("version", "2.0")
    book.add("calscale", "GREGORIAN")
    book.add("method", "PUBLISH")
    book.add("name", title)
    book.add("x-wr-calname", title)
    timed = False
    made_names: set[str] = set()
    for step in range((last - first).days + 1):
        day = first + timedelta(step)
        made: list[tuple[Any, int]] = []
        if day.weekday() == 6:
            sunday = service_day(
                day, "orthros", calendar=calendar, practice=practice, overrides=paths
            )
            made.append((_tone_event(sunday, almanac), 0))
        for service, habit in parish_services(
            day, calendar=calendar, practice=practice, overrides=paths
        ):
            one = planned(service)
            begins, lasts = hours(almanac.services[service.service], habit)
            event = _service_event(one, almanac, begins, lasts, place, alarm)
            made.append((event, one.words))
            # The hymns of a liturgical day are to be known before its first service.
            if _opens(service, almanac):
                made.append((_practice_task(one, almanac, before, alarm), one.words))
            timed = True
        for event, words in made:
            _stamp(event, words, old, now)
            made_names.add(str(event["UID"]))
            book.add_component(event)
    for event in _gone(old, made_names, first, last):
        _stamp(event, 0, old, now)
        book.add_component(event)
    if timed:
        book.add_missing_timezones(
            first_date=first - timedelta(400), last_date=last + timedelta(400)
        )
    return bytes(book.to_ical())


def _opens(day: ServiceDay, almanac: Almanac) -> bool:
    """Say whether a service is the one before which the day's hymns are to be known."""
    if almanac.services[day.service].opens_day:
        return True
    return day.service in ("presanctified", "vesperal-liturgy")


def ical_json(data: bytes) -> list[dict[str, Any]]:
    """Return the events of a calendar file as plain records, for reading by another program."""
    book: Any = Calendar.from_ical(data)
    found: list[dict[str, Any]] = []
    for kind in ("VEVENT", "VTODO"):
        for event in book.walk(kind):
            record: dict[str, Any] = {
                "kind": "task" if kind == "VTODO" else "event",
                "uid": str(event["UID"]),
                "summary": str(event["SUMMARY"]),
                "status": str(event["STATUS"]),
                "sequence": int(event["SEQUENCE"]),
                "categories": [str(c) for c in event["CATEGORIES"].cats],
            }
            for name, key in (("DTSTART", "start"), ("DTEND", "end"), ("DUE", "due")):
                if name in event:
                    record[key] = event[name].dt.isoformat()
            found.append(record)
    return found
