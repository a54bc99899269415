"""Names of days, and the reasons of tone and eothinon, in the trade's words.

Conventions: what hangs only on the distances from both Paschas and on the date of the parish's
calendar has no civil date in it, so that it can be kept; sentences with dates are made per week.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache

from chantwright.almanac.count import Place, count_eothinon
from chantwright.almanac.dates import WEEKDAYS, ordinal, short_date
from chantwright.almanac.feastdays import Found
from chantwright.almanac.knowledge import Almanac
from chantwright.almanac.model import Reason
from chantwright.almanac.records import Season

__all__ = ["counted", "day_name", "of_eothinon", "of_feasts"]


def _sunday_title(almanac: Almanac, offset: int, until: int, practice: str) -> str:
    """Return the name of the Sunday that opens this week, with its article."""
    back = offset % 7
    named = [
        m.title
        for at in (until - back, offset - back)
        for m in almanac.movables.get(at, ())
        if not m.practices or practice in m.practices
    ]
    name = named[0] if named else "the Sunday before"
    return f"the {name}" if name.startswith("Sunday of") else name


def day_name(
    almanac: Almanac, season: Season, found: Found, offset: int, until: int, practice: str
) -> str:
    """Name a day: the feast that leads, the movable name, the number, the Sunday of a date."""
    movable = [m.title for m in found.movables]
    start = season.week_from
    week = (
        "" if start is None else ordinal(((until if season.end < 0 else offset) - start) // 7 + 1)
    )
    names = [x.title for x in found.feasts if almanac.ranks[x.rank].hymns == "feast"]
    if offset % 7 == 0:
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
            _sunday_title(almanac, offset, until, practice)
            if "{sunday}" in season.weekday_name
            else ""
        )
        weekday = WEEKDAYS[offset % 7 - 1]
        names.append(season.weekday_name.format(weekday=weekday, week=week, sunday=sunday))
    names += [x.title for x in found.feasts if x.title not in names]
    return "; ".join(n for n in names if n) or WEEKDAYS[offset % 7 - 1]


@lru_cache(maxsize=8192)
def counted(almanac: Almanac, pascha: date, week: int, sunday: bool, tone: int) -> Reason:
    """Tell how the count comes to a tone."""
    this = (
        "this is"
        if sunday
        else f"Sunday {short_date(pascha + timedelta(7 * week))}, whose tone holds all week, is"
    )
    return Reason(
        "tone",
        f"Pascha was on {short_date(pascha)} and {this} the {ordinal(week)} Sunday after "
        f"it. The tones go round from 1 to 8, beginning with Thomas Sunday, and so the count "
        f"comes to {almanac.tone_title(tone)}.",
    )


def of_feasts(
    season: Season, found: Found, nominal: int | None, sunday: bool
) -> tuple[Reason, ...]:
    """Tell what season and feasts do to the tone, and what the parish itself keeps."""
    said = [Reason("tone", m.why) for m in found.movables if m.why]
    hiding = found.hidden_by
    if hiding and nominal is not None and season.tone != "none":
        said.append(
            Reason(
                "tone",
                f"{hiding.title} has the whole service and hides the tone: nothing of it is sung "
                "this day, but the count goes on beneath.",
                hiding.layer,
            )
        )
    elif found.hymns == "mixed" and sunday:
        said.append(
            Reason("hymns", "Hymns of the tone and of the feast are sung together.", found.layer)
        )
    said += [
        Reason("day", f"The parish's own table keeps {x} on this day.", "parish")
        for x in found.all
        if x.layer == "parish"
    ]
    return tuple(said)


def of_eothinon(
    at: Place, season: Season, found: Found, number: int | None, almanac: Almanac, practice: str
) -> tuple[Reason, ...]:
    """Tell how the count comes to an eothinon, and what stands in its way."""
    if number is None:
        return (Reason("eothinon", season.why_eothinon),) if season.why_eothinon else ()
    told = f"eothinon {number} ({almanac.eothina[number].gospel})"
    if season.eothinon == "cycle":
        all_saints = at.pascha + timedelta(56)
        sentence = (
            f"The eleven eothina go round from All Saints ({short_date(all_saints)}); this is the "
            f"{ordinal(at.week - 7)} Sunday counting from it, and so {told}."
        )
    else:
        others = [
            f"{other.title} has {there}"
            for name, other in almanac.practices.items()
            if (there := count_eothinon(at, season, almanac, name)) not in (None, number)
        ]
        beside = f" ({'; '.join(others)})" if others else ""
        sentence = (
            "Between Pascha and Pentecost the eothina follow a list of their own; "
            f"{almanac.practice(practice).title} has {told} on this Sunday{beside}."
        )
    own = almanac.between.get((practice, at.offset)) if season.eothinon == "table" else None
    use = almanac.practices[practice]
    chosen = season.eothinon == "table" and "parish" in (own.origin if own else "", use.origin)
    said = [Reason("eothinon", sentence, "parish" if chosen else "computed")]
    if found.hidden_by:
        said.append(
            Reason(
                "eothinon",
                f"{found.hidden_by.title} hides it: the gospel is the feast's. The count goes on.",
                found.hidden_by.layer,
            )
        )
    elif found.feast_gospel:
        said.append(
            Reason(
                "eothinon", f"The gospel at Orthros is most often that of the {found.feast_gospel}."
            )
        )
    return tuple(said)
