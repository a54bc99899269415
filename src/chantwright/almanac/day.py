"""One service on one date: its tone, eothinon, names, feasts, and the reason for each.

Conventions: `civil` is the day on which the service is sung; the liturgical day follows from the
service. Three layers: *computed*, the *parish* file (``[[day]]`` rows and any other row it
changes), and the *priest*. A later layer wins and says so (`chantwright.almanac.decisions`).

Most of a record hangs only on the distances from both Paschas and on what the date of the parish's
calendar brings, and is kept; dates and sentences with dates are made for each day.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from chantwright.almanac import feastdays, questions, reasons, served
from chantwright.almanac.conditions import Standing
from chantwright.almanac.count import (
    SATURDAY,
    SUNDAY,
    count_eothinon,
    count_tone,
    place,
    season_at,
)
from chantwright.almanac.dates import WEEKDAYS, check_range, long_date
from chantwright.almanac.decisions import lay_over
from chantwright.almanac.feastdays import Fixed, Found
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import Question, Reason, ServiceDay
from chantwright.almanac.reading import WEEKDAYS as WEEKDAY_MARKS
from chantwright.almanac.records import Habit, Season, Serve
from chantwright.errors import ChantError, Where

__all__ = ["parish_services", "service_day", "service_days", "week"]

_OF_SUNDAY = ("great-vespers", "orthros", "liturgy")


@dataclass(frozen=True, slots=True, eq=False)
class _Core:
    """All of a liturgical day that hangs on no civil date and on no service."""

    season: Season
    found: Found
    standing: Standing
    marks: tuple[str, ...]
    day_name: str
    tone: int | None
    nominal: int | None
    sung: tuple[bool, bool, bool]
    feast_reasons: tuple[Reason, ...]


@lru_cache(maxsize=16384)
def _core(almanac: Almanac, practice: str, offset: int, until: int, fixed: Fixed) -> _Core:
    season = season_at(almanac, offset, until)
    found = feastdays.find(almanac, offset, until, season, fixed, practice)
    nominal = count_tone(offset, season)
    sunday = offset % 7 == 0
    marks = [season.id, *(m.id for m in found.movables), *(x.id for x in found.feasts)]
    marks += [*(s.id for s in found.sundays), f"hymns:{found.hymns}", WEEKDAY_MARKS[offset % 7 - 1]]
    marks += dict.fromkeys(f"rank:{x.rank}" for x in found.all if x.relation == "day" and x.rank)
    marks += dict.fromkeys(x.relation for x in found.all if x.relation != "day")
    if 0 < offset % 7 < 6:
        marks.append(f"{season.id}:weekday")
    ranks = (almanac.ranks[x.rank] for x in found.all if x.relation == "day" and x.rank)
    if not sunday and season.festal and any(rank.festal for rank in ranks):
        marks.append("festal")
    if found.feasts:
        marks.append("saint-given")
    if sunday and _unsure(almanac, season, offset, practice):
        marks.append("eothinon-unsure")
    standing = Standing(frozenset(marks), offset, until, fixed.month_day, practice)
    gospel, exaposteilarion, doxastikon = season.sung
    return _Core(
        season,
        found,
        standing,
        tuple(marks),
        reasons.day_name(almanac, season, found, offset, until, practice),
        None if found.hidden_by or season.tone == "none" else nominal,
        nominal,
        (
            gospel and not found.feast_gospel,
            exaposteilarion,
            doxastikon and not found.feast_gospel,
        ),
        reasons.of_feasts(season, found, nominal, sunday),
    )


@lru_cache(maxsize=16384)
def _of_service(
    almanac: Almanac, service: str, core: _Core
) -> tuple[tuple[Question, ...], Serve | None, Serve | None]:
    """Return a service's questions, its rule, and the rule by which another takes it up."""
    kind = almanac.services[service]
    return (
        questions.asked(almanac, core.season, core.found, kind, core.standing),
        served.by_rule(almanac, service, core.standing),
        served.joined(almanac, service, core.standing),
    )


def _unsure(almanac: Almanac, season: Season, offset: int, practice: str) -> bool:
    """Say whether a use follows a list of eothina that we are not sure it follows."""
    use = almanac.practices[practice]
    if season.eothinon != "table" or use.conf != "low" or (practice, offset) in almanac.between:
        return False
    rows = {row["eothinon"] for (_, at), row in almanac.between.items() if at == offset}
    return len(rows) > 1


@lru_cache(maxsize=4096)
def _span(almanac: Almanac, offset: int, until: int, tone: int) -> tuple[int, int]:
    """Return how many days back and on a count reaches (between two Paschas it never joins)."""

    def count_on(step: int) -> int | None:
        if offset + step < 0 or until + step >= 0:
            return None
        return count_tone(offset + step, season_at(almanac, offset + step, until + step))

    first = last = 0
    while count_on(first - 1) == tone:
        first -= 1
    while count_on(last + 1) == tone:
        last += 1
    return first, last


@lru_cache(maxsize=16384)
def _taken_up(almanac: Almanac, joined: Serve, core: _Core) -> str:
    """Return the service of a civil day that takes another up; empty when none does."""
    for name in joined.joined_to:
        rule = served.by_rule(almanac, name, core.standing)
        if rule is not None and rule.served:
            return almanac.services[name].title
    return ""


def _serving(
    rule: Serve | None,
    joined: Serve | None,
    almanac: Almanac,
    civil: date,
    calendar: str,
    practice: str,
) -> tuple[bool, str, str]:
    """Say whether the service is served, why (not), and by whose rule."""
    if joined is not None:
        # What takes it up is named after the civil day on which both would be served.
        at = place(civil, calendar)
        fixed, _ = feastdays.fixed_on(civil, calendar, almanac, practice, at.sunday)
        there = _core(almanac, practice, at.offset, at.until, fixed)
        if other := _taken_up(almanac, joined, there):
            return joined.served, joined.why.format(other=other), joined.origin
    if rule is None:
        return True, "", ""
    return rule.served, rule.why, rule.origin


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
        Also for a service that is not served on that day: `ServiceDay.served` is then false and
        `ServiceDay.why_served` says why.

    Raises
    ------
    ChantError
        For an unknown service, calendar or practice, a date outside, or a broken parish file.
    """
    check_range(civil)
    return _reckon(load_almanac(overrides), civil, service, calendar, practice, liturgical)


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
    if liturgical is not None and abs((day - civil).days) > 2:
        raise ChantError(
            f"a service on {long_date(civil)} cannot belong to {long_date(day)}.",
            where=Where(word=str(day)),
            remedy="The liturgical day lies at most two days from the day of the service.",
        )
    at = place(day, calendar)
    fixed, style = feastdays.fixed_on(day, calendar, almanac, use.id, at.sunday)
    core = _core(almanac, use.id, at.offset, at.until, fixed)
    asked, rule, joined = _of_service(almanac, kind.id, core)
    season, found, nominal = core.season, core.found, core.nominal
    said: list[Reason] = []
    if day != civil:
        told = f"{kind.title} on {WEEKDAYS[civil.weekday()]} already belongs to {long_date(day)}."
        said.append(Reason("evening", f"The liturgical day begins at Vespers: {told}"))
    if nominal is not None and season.tone == "count":
        said.append(reasons.counted(almanac, at.pascha, at.week, at.sunday, nominal))
    elif season.why_tone:
        said.append(Reason("tone", season.why_tone))
    said += core.feast_reasons
    number: int | None = None
    if at.sunday:
        number = count_eothinon(at, season, almanac, practice)
        said += reasons.of_eothinon(at, season, found, number, almanac, practice)
    is_served, why, origin = _serving(rule, joined, almanac, civil, calendar, practice)
    if why:
        said.append(Reason("served", why, feastdays.layer_of(origin)))
    shown = None if found.hidden_by else number
    gospel, exaposteilarion, doxastikon = core.sung if shown is not None else (False,) * 3
    since = until = None
    if nominal is not None:
        back, on = _span(almanac, at.offset, at.until, nominal)
        since, until = day + timedelta(back), day + timedelta(on)
    return lay_over(
        ServiceDay(
            service=kind.id,
            title=kind.title,
            civil_date=civil,
            liturgical_date=day,
            calendar=calendar,
            practice=use.id,
            style_date=style,
            day_name=core.day_name,
            season=season.title,
            tone=core.tone,
            nominal_tone=nominal,
            eothinon=shown,
            nominal_eothinon=number,
            eothinon_gospel=gospel,
            eothinon_exaposteilarion=exaposteilarion,
            eothinon_doxastikon=doxastikon,
            hymns=found.hymns,
            feasts=found.all,
            since=since,
            until=until,
            marks=core.marks,
            reasons=tuple(said),
            questions=asked,
            served=is_served,
            why_served=why,
        ),
        almanac,
    )


def standing(day: ServiceDay) -> Standing:
    """Return what conditions look at on the day of a service."""
    at = place(day.liturgical_date, day.calendar)
    own = day.style_date[-5:]
    return Standing(frozenset(day.marks), at.offset, at.until, own, day.practice)


def service_days(
    day: date,
    *,
    calendar: str = "new",
    practice: str = "greek",
    overrides: Iterable[Path] = (),
) -> tuple[ServiceDay, ...]:
    """Return the services that the rule gives on a civil date, in the order of the day.

    Only those whose days a rule names (``[[serve]]`` rows): Orthros, Liturgy, Presanctified and
    vesperal Liturgy, daily or Great Vespers. What the parish itself serves: `parish_services`.

    Parameters
    ----------
    day : date
        Civil date, 1900 to 2099.
    calendar, practice, overrides
        As for `service_day`.
    """
    check_range(day)
    almanac = load_almanac(overrides)
    named = sorted(
        (kind for kind in almanac.services.values() if kind.id in almanac.serves),
        key=lambda kind: kind.hour,
    )
    found = [_reckon(almanac, day, kind.id, calendar, practice) for kind in named]
    return tuple(d for d in found if d.served)


def parish_services(
    day: date,
    *,
    calendar: str = "new",
    practice: str = "greek",
    overrides: Iterable[Path] = (),
) -> tuple[tuple[ServiceDay, Habit], ...]:
    """Return the services that the parish serves on a civil date, each with its habit.

    The habit (``[[habit]]`` rows, ours or the parish's) says when it begins. A service that the
    rule does not have on that day is left out, except where the parish or the priest has it served.

    Parameters
    ----------
    day : date
        Civil date, 1900 to 2099.
    calendar, practice, overrides
        As for `service_day`.
    """
    check_range(day)
    almanac = load_almanac(overrides)
    found: list[tuple[ServiceDay, Habit]] = []
    for name in dict.fromkeys(habit.service for habit in almanac.habits):
        one = _reckon(almanac, day, name, calendar, practice)
        habit = served.habit_of(almanac, name, day, standing(one))
        if habit is not None and habit.kept and (one.served or one.cancelled):
            found.append((one, habit))
    found.sort(key=lambda pair: served.hours(almanac.services[pair[0].service], pair[1])[0])
    return tuple(found)


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
