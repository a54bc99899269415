"""One service on one date: its tone, eothinon, names, feasts, and the reason for each.

Conventions: `civil` is the day on which the service is sung; the liturgical day follows from the
service. Three layers: *computed*, the *parish* file (``[[day]]`` rows and any other row it
changes), and the *priest* (``[[day]]`` rows with ``by = "priest"``). A later layer wins and says
so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from chantwright.almanac import feastdays
from chantwright.almanac.count import (
    SATURDAY,
    SUNDAY,
    Place,
    count_eothinon,
    count_tone,
    place,
    season_of,
)
from chantwright.almanac.dates import WEEKDAYS, check_range, long_date, ordinal, short_date
from chantwright.almanac.feastdays import Found
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import Reason, ServiceDay
from chantwright.almanac.pascha import style_date
from chantwright.almanac.records import DayRow, Season, Service
from chantwright.errors import ChantError, Where

__all__ = ["decide", "service_day", "service_days", "week"]

_OF_SUNDAY = ("great-vespers", "orthros", "liturgy")


def _sunday_title(at: Place, almanac: Almanac, calendar: str, practice: str) -> str:
    """Return the name of the Sunday that opens this week, with its article."""
    opening = place(at.day - timedelta(at.offset % 7), calendar)
    found = feastdays.find(opening, season_of(opening, almanac), almanac, calendar, practice)
    name = found.movables[0].title if found.movables else f"Sunday {short_date(opening.day)}"
    return f"the {name}" if name.startswith("Sunday of") else name


def _day_name(
    at: Place, season: Season, found: Found, almanac: Almanac, calendar: str, practice: str
) -> str:
    """Name a day: the feast that leads, the movable name, the number, the Sunday of a date."""
    movable = [m.title for m in found.movables]
    week = "" if season.week_from is None else ordinal((at_in(season, at)) // 7 + 1)
    names = [x.title for x in found.feasts if almanac.ranks[x.rank].hymns == "feast"]
    if at.sunday:
        number = season.sunday_name.format(week=week)
        if movable:
            names += [*movable[:-1], f"{movable[-1]} ({number})" if number else movable[-1]]
        elif number:
            names.append(number)
        names += [s.title for s in found.sundays]
    elif movable:
        names += movable
    else:
        sunday = (
            _sunday_title(at, almanac, calendar, practice)
            if "{sunday}" in season.weekday_name
            else ""
        )
        weekday = WEEKDAYS[at.day.weekday()]
        names.append(season.weekday_name.format(weekday=weekday, week=week, sunday=sunday))
    names += [x.title for x in found.feasts if x.title not in names]
    return "; ".join(n for n in names if n) or WEEKDAYS[at.day.weekday()]


def at_in(season: Season, at: Place) -> int:
    """Return the day's distance from the Monday of the season's first week."""
    return (at.until if season.end < 0 else at.offset) - (season.week_from or 0)


def _span(at: Place, tone: int | None, almanac: Almanac, calendar: str) -> tuple[date, date] | None:
    """Return first and last civil day with this count (it opens on the evening before)."""
    if tone is None:
        return None
    first = last = at.day.toordinal()
    while _count_on(almanac, first - 1, calendar) == tone:
        first -= 1
    while _count_on(almanac, last + 1, calendar) == tone:
        last += 1
    return date.fromordinal(first), date.fromordinal(last)


@lru_cache(maxsize=4096)
def _count_on(almanac: Almanac, number: int, calendar: str) -> int | None:
    """Return the tone of the count on a day given by its number."""
    there = place(date.fromordinal(number), calendar)
    return count_tone(there, season_of(there, almanac))


def _tone_reasons(
    at: Place, season: Season, found: Found, nominal: int | None, almanac: Almanac
) -> list[Reason]:
    said = []
    if nominal is not None and season.tone == "count":
        week = at.day - timedelta(at.offset % 7)
        this = (
            "this is" if at.sunday else f"Sunday {short_date(week)}, whose tone holds all week, is"
        )
        said.append(
            f"Pascha was on {short_date(at.pascha)} and {this} the {ordinal(at.week)} Sunday after "
            f"it. The tones go round from 1 to 8, beginning with Thomas Sunday, and so the count "
            f"comes to {almanac.tone_title(nominal)}."
        )
    elif season.why_tone:
        said.append(season.why_tone)
    said += [m.why for m in found.movables if m.why]
    if found.hidden_by and nominal is not None and season.tone != "none":
        said.append(
            f"{found.hidden_by} has the whole service and hides the tone: nothing of it is sung "
            "this day, but the count goes on beneath."
        )
    elif found.hymns == "mixed" and at.sunday:
        said.append("Hymns of the tone and of the feast are sung together.")
    return [Reason("tone", sentence) for sentence in said]


def _eothinon_reasons(
    at: Place, season: Season, found: Found, number: int | None, almanac: Almanac, practice: str
) -> list[Reason]:
    if not at.sunday:
        return []
    if number is None:
        return [Reason("eothinon", season.why_eothinon)] if season.why_eothinon else []
    told = f"eothinon {number} ({almanac.eothina[number].gospel})"
    if season.eothinon == "cycle":
        all_saints = at.pascha + timedelta(56)
        said = [
            f"The eleven eothina go round from All Saints ({short_date(all_saints)}); this is the "
            f"{ordinal(at.week - 7)} Sunday counting from it, and so {told}."
        ]
    else:
        others = [
            f"{other.title} has {there}"
            for name, other in almanac.practices.items()
            if (there := count_eothinon(at, season, almanac, name)) not in (None, number)
        ]
        beside = f" ({'; '.join(others)})" if others else ""
        said = [
            "Between Pascha and Pentecost the eothina follow a list of their own; "
            f"{almanac.practice(practice).title} has {told} on this Sunday{beside}."
        ]
    if found.hidden_by:
        said.append(f"{found.hidden_by} hides it: the gospel is the feast's. The count goes on.")
    elif found.feast_gospel:
        said.append(f"The gospel at Orthros is most often that of the {found.feast_gospel}.")
    return [Reason("eothinon", sentence) for sentence in said]


def _questions(
    at: Place, season: Season, found: Found, almanac: Almanac, practice: str, service_ask: str
) -> list[str]:
    asks = [season.ask if at.sunday else season.ask_weekday]
    asks += [m.ask for m in found.movables]
    for feast in found.feasts:
        asks.append(feast.ask)
        if at.sunday:
            asks.append(almanac.ranks[feast.rank].ask.format(feast=feast.title))
    if at.sunday:
        asks += [
            f"{near}: how are its hymns joined to the tone's, and which Both now is sung?"
            for near in found.all
            if near.relation in ("afterfeast", "leave-taking")
        ]
        use = almanac.practice(practice)
        listed = {count_eothinon(at, season, almanac, name) for name in almanac.practices}
        own_row = (practice, at.offset) in almanac.between
        if use.conf == "low" and not own_row and len(listed) > 1:
            asks.append(f"{use.title}: which eothinon is read on this Sunday? We are not sure.")
        if found.hymns != "feast":
            asks.append(service_ask)
    else:
        asks.append(
            "Which saint is kept on this day, of what rank, and what of the weekday order is sung?"
        )
    return [ask for ask in dict.fromkeys(asks) if ask]


def _unusual(kind: Service, civil: date, calendar: str) -> list[str]:
    """Ask about a service on a day on which it is as a rule not sung."""
    if not kind.first:
        return []
    at = place(civil, calendar)
    if kind.first <= at.until <= kind.last and civil.weekday() < SATURDAY:
        return []
    return [
        f"{kind.title} is sung on weekdays of Great Lent and the first days of Holy Week; is it "
        f"really sung on {long_date(civil)}?"
    ]


def _named(value: int | None) -> str:
    return "none" if value is None else str(value)


def _set(value: str, who: str, to: int | None, was: int | None, by: str, layer: str) -> Reason:
    """Say what was set, and where it parts from what stood before."""
    told = f"as {by} gives it" if to == was else f"where {by} gives {_named(was)}"
    return Reason(value, f"{who} sets {value} {_named(to)}, {told}.", layer)


def _decided(day: ServiceDay, rows: Iterable[DayRow]) -> ServiceDay:
    """Lay what the parish and then the priest decided over the computed values."""
    tone_by = eothinon_by = "the almanac"
    for row in sorted(rows, key=lambda r: (r.by == "priest", bool(r.service))):
        if row.date != day.liturgical_date or row.service not in ("", day.service):
            continue
        who = "The priest" if row.by == "priest" else f"The parish file {Path(row.file).name}"
        reasons = list(day.reasons)
        if row.changes_tone:
            reasons.append(_set("tone", who, row.tone, day.tone, tone_by, row.by))
            tone_by = who[0].lower() + who[1:]
            leads = "mixed" if row.tone and day.hymns == "feast" else day.hymns
            day = replace(day, tone=row.tone, hymns=leads)
        if row.changes_eothinon:
            reasons.append(_set("eothinon", who, row.eothinon, day.eothinon, eothinon_by, row.by))
            eothinon_by = who[0].lower() + who[1:]
            has, had = row.eothinon is not None, day.eothinon is not None
            day = replace(
                day,
                eothinon=row.eothinon,
                # An eothinon where there was none is named in order to be sung.
                eothinon_gospel=has and (day.eothinon_gospel or not had),
                eothinon_exaposteilarion=has and (day.eothinon_exaposteilarion or not had),
                eothinon_doxastikon=has and (day.eothinon_doxastikon or not had),
            )
        if row.note:
            reasons.append(Reason("day", f"{who}: {row.note}", row.by))
        day = replace(
            day,
            day_name=row.title or day.day_name,
            reasons=tuple(reasons),
            open_questions=(*day.open_questions, row.ask) if row.ask else day.open_questions,
            confirmed=day.confirmed or row.confirmed,
        )
    return day


def decide(
    day: ServiceDay,
    about: str,
    value: str,
    *,
    where: Where | None = None,
) -> ServiceDay:
    """Lay one decision of the priest over a service.

    Parameters
    ----------
    day : ServiceDay
    about : str
        ``tone``, ``eothinon``, ``day`` (its name), ``note`` or ``confirmed``.
    value : str
        A number or ``none``; words; for ``confirmed`` ``yes`` or the date on which he did.
    where : Where, optional
        File and line it was read from.

    Raises
    ------
    ChantError
        If there is no such thing to decide, or no such tone or eothinon.
    """
    at = where or Where(word=about)
    numbers = {"tone": 8, "eothinon": 11}
    if about not in ("tone", "eothinon", "day", "note", "confirmed") or not value:
        raise ChantError(
            f"“{about}: {value}” is nothing the priest decides here.",
            where=at,
            remedy="Write tone, eothinon, day, note or confirmed, a colon and the value.",
        )
    number: int | None = None
    if about in numbers and value.lower() != "none":
        number = int(value) if value.isascii() and value.isdecimal() else 0
        if not 1 <= number <= numbers[about]:
            raise ChantError(
                f"there is no {about} “{value}”.",
                where=at,
                remedy=f"Write a number from 1 to {numbers[about]}, or none.",
            )
    if about == "confirmed" and value.lower() != "yes":
        date_of = value
        try:
            date.fromisoformat(date_of)
        except ValueError:
            raise ChantError(
                f"“{value}” does not say when the priest confirmed.",
                where=at,
                remedy="Write yes, or the date: 2026-11-20.",
            ) from None
    row = DayRow(
        id=f"priest-{about}",
        date=day.liturgical_date,
        service=day.service,
        title=value if about == "day" else "",
        changes_tone=about == "tone",
        tone=number if about == "tone" else None,
        changes_eothinon=about == "eothinon",
        eothinon=number if about == "eothinon" else None,
        note=value if about == "note" else "",
        ask="",
        by="priest",
        confirmed=about == "confirmed",
        file=at.file or "",
    )
    return _decided(day, (row,))


def service_day(
    civil: date,
    service: str,
    *,
    calendar: str = "new",
    practice: str = "greek",
    liturgical: date | None = None,
    overrides: Iterable[Path] = (),
) -> ServiceDay:
    """Reckon one service.

    Parameters
    ----------
    civil : date
        Civil date on which it is sung, 1900 to 2099.
    service : str
        Name of the service, such as ``great-vespers``, ``orthros``, ``liturgy``.
    calendar : str
        ``new``, ``old`` or ``gregorian``.
    practice : str
        ``greek``, ``slavic``, ``romanian``, or one that a parish file adds.
    liturgical : date, optional
        The liturgical day, for a service sung by anticipation; reckoned from the service otherwise.
    overrides : iterable of Path
        Parish files.

    Returns
    -------
    ServiceDay

    Raises
    ------
    ChantError
        For an unknown service, calendar or practice, a date outside, or a broken parish file.
    """
    check_range(civil)
    almanac = load_almanac(overrides)
    return _reckon(almanac, civil, service, calendar, practice, liturgical)


def _reckon(
    almanac: Almanac,
    civil: date,
    service: str,
    calendar: str,
    practice: str,
    liturgical: date | None = None,
) -> ServiceDay:
    kind = almanac.service(service)
    use = almanac.practice(practice)
    day = liturgical or (civil + timedelta(1) if kind.opens_day else civil)
    if abs((day - civil).days) > 2:
        raise ChantError(
            f"a service on {long_date(civil)} cannot belong to {long_date(day)}.",
            where=Where(word=str(day)),
            remedy="The liturgical day lies at most two days from the day of the service.",
        )
    at = place(day, calendar)
    season = season_of(at, almanac)
    found = feastdays.find(at, season, almanac, calendar, practice)
    nominal = count_tone(at, season)
    number = count_eothinon(at, season, almanac, practice)
    shown = None if found.hidden_by else number
    gospel, exaposteilarion, doxastikon = (shown is not None and flag for flag in season.sung)
    span = _span(at, nominal, almanac, calendar)
    reasons = []
    if day != civil:
        told = f"{kind.title} on {WEEKDAYS[civil.weekday()]} already belongs to {long_date(day)}."
        reasons.append(Reason("evening", f"The liturgical day begins at Vespers: {told}"))
    reasons += _tone_reasons(at, season, found, nominal, almanac)
    reasons += _eothinon_reasons(at, season, found, number, almanac, use.id)
    computed = ServiceDay(
        service=kind.id,
        title=kind.title,
        civil_date=civil,
        liturgical_date=day,
        calendar=calendar,
        practice=use.id,
        style_date=str(style_date(day, calendar)),
        day_name=_day_name(at, season, found, almanac, calendar, practice),
        season=season.title,
        tone=None if found.hidden_by or season.tone == "none" else nominal,
        nominal_tone=nominal,
        eothinon=shown,
        nominal_eothinon=number,
        eothinon_gospel=gospel and not found.feast_gospel,
        eothinon_exaposteilarion=exaposteilarion,
        eothinon_doxastikon=doxastikon and not found.feast_gospel,
        hymns=found.hymns,
        feasts=found.all,
        since=span[0] if span else None,
        until=span[1] if span else None,
        marks=(
            season.id,
            *(m.id for m in found.movables),
            *(x.id for x in found.feasts),
            *(s.id for s in found.sundays),
            f"hymns:{found.hymns}",
        ),
        reasons=tuple(reasons),
        open_questions=(
            *_unusual(kind, civil, calendar),
            *_questions(at, season, found, almanac, use.id, kind.ask),
        ),
    )
    return _decided(computed, almanac.days)


def service_days(
    day: date,
    *,
    calendar: str = "new",
    practice: str = "greek",
    overrides: Iterable[Path] = (),
) -> tuple[ServiceDay, ...]:
    """Return the services a parish sings on a civil date.

    Orthros and Divine Liturgy on Sundays and on great feasts; Great Vespers on the evening before
    each of these. An ordinary weekday has none.

    Parameters
    ----------
    day : date
        Civil date, 1900 to 2099.
    calendar, practice, overrides
        As for `service_day`.
    """
    check_range(day)
    almanac = load_almanac(overrides)

    def kept(liturgical: date) -> bool:
        at = place(liturgical, calendar)
        found = feastdays.find(at, season_of(at, almanac), almanac, calendar, practice)
        return at.sunday or any(
            x.relation == "day" and x.rank and x.rank != "eve" for x in found.all
        )

    services = ["orthros", "liturgy"] if kept(day) else []
    if kept(day + timedelta(1)):
        services.append("great-vespers")
    return tuple(_reckon(almanac, day, name, calendar, practice) for name in services)


def week(
    day: date,
    *,
    calendar: str = "new",
    practice: str = "greek",
    overrides: Iterable[Path] = (),
) -> tuple[ServiceDay, ...]:
    """Return the three services of the coming Sunday.

    Great Vespers on Saturday evening, Orthros and Divine Liturgy on Sunday. A Sunday means that
    Sunday itself, a Saturday the evening of that day.

    Parameters
    ----------
    day : date
        Civil date, 1900 to 2099.
    calendar, practice, overrides
        As for `service_day`.

    Returns
    -------
    tuple of ServiceDay
        Always three, in the order of singing.
    """
    check_range(day)
    almanac = load_almanac(overrides)
    sunday = day + timedelta((SUNDAY - day.weekday()) % 7)
    saturday = sunday - timedelta(SUNDAY - SATURDAY)
    return tuple(
        _reckon(
            almanac,
            saturday if almanac.service(name).opens_day else sunday,
            name,
            calendar,
            practice,
        )
        for name in _OF_SUNDAY
    )
