"""Which named days and feasts touch a liturgical day, and what they do to the hymns of the tone.

Conventions: the strongest feast decides: ``feast`` (nothing of the tone is sung) before ``mixed``
before ``tone``. Fixed feasts go by the parish's own calendar. A feast on the day hides the tone
only when its rank says so; the counts beneath never stop.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from chantwright.almanac.count import Place
from chantwright.almanac.knowledge import HYMNS, Almanac
from chantwright.almanac.model import FeastDay
from chantwright.almanac.pascha import style_date
from chantwright.almanac.records import Feast, FixedSunday, Movable, Season

__all__ = ["Found", "find"]

_REACH = 15  # days: no forefeast or afterfeast is longer


@dataclass(frozen=True, slots=True)
class Found:
    """What was found on a liturgical day.

    Attributes
    ----------
    movables, feasts, sundays
        Named movable days, fixed feasts on the day itself, and Sundays tied to a fixed date.
    all : tuple of FeastDay
        Every feast that touches the day, those on the day first.
    hymns : str
        ``feast``, ``mixed`` or ``tone``.
    hidden_by : str
        Title of the feast that hides tone and eothinon; empty when none does.
    feast_gospel : str
        Title of the feast whose gospel is read at Orthros; empty when the eothinon is.
    """

    movables: tuple[Movable, ...]
    feasts: tuple[Feast, ...]
    sundays: tuple[FixedSunday, ...]
    all: tuple[FeastDay, ...]
    hymns: str
    hidden_by: str
    feast_gospel: str


def _relation(distance: int, fore: int, after: int) -> str:
    """Name how a day stands to a feast `distance` days before it (below 0: still to come)."""
    if distance == 0:
        return "day"
    if -fore <= distance < 0:
        return "forefeast"
    if 0 < distance < after:
        return "afterfeast"
    return "leave-taking" if distance == after else ""


@lru_cache(maxsize=4096)
def _month_day(number: int, calendar: str) -> str:
    """Month and day, in the parish's calendar, of a day by its number."""
    return style_date(date.fromordinal(number), calendar).month_day


def _fixed_near(
    day: date, calendar: str, almanac: Almanac
) -> tuple[tuple[Feast, ...], tuple[FeastDay, ...]]:
    """Return the fixed feasts on a day, and those around it."""
    number = day.toordinal()
    # First, middle and last name all days of the reach, the 29th of February included.
    return _fixed(
        almanac,
        _month_day(number - _REACH, calendar),
        _month_day(number, calendar),
        _month_day(number + _REACH, calendar),
    )


@lru_cache(maxsize=2048)
def _fixed(
    almanac: Almanac, first: str, own: str, last: str
) -> tuple[tuple[Feast, ...], tuple[FeastDay, ...]]:
    # A leap year and a common one, of which the right one has all three at their distance.
    for year in (2024, 2025):
        try:
            middle = date(year, int(own[:2]), int(own[3:]))
        except ValueError:
            continue  # 29 February
        reach = range(-_REACH, _REACH + 1)
        near = {f"{middle - timedelta(d):%m-%d}": d for d in reach}
        if near.get(first) == _REACH and near.get(last) == -_REACH:
            break
    on_day = tuple(x for x in almanac.feasts if near.get(x.date) == 0)
    around = tuple(
        FeastDay(x.id, x.title, x.rank, relation)
        for x in almanac.feasts
        if near.get(x.date) and (relation := _relation(near[x.date], x.fore, x.after))
    )
    return on_day, around


def find(at: Place, season: Season, almanac: Almanac, calendar: str, practice: str) -> Found:
    """Find all feasts that touch a liturgical day."""
    own = _month_day(at.day.toordinal(), calendar)

    movables = tuple(
        m
        for offset in (at.until, at.offset)
        for m in almanac.movables.get(offset, ())
        if not m.practices or practice in m.practices
    )
    on_day, near_fixed = _fixed_near(at.day, calendar, almanac)
    # From Lazarus Saturday to the end of Bright Week a fixed feast has no fore- or afterfeast.
    around = list(near_fixed) if season.tone == "count" else []
    around += [
        FeastDay(m.id, m.title, m.rank, relation)
        for back in range(1, min(_REACH, at.offset) + 1)
        for m in almanac.movables.get(at.offset - back, ())
        if m.after and (relation := _relation(back, 0, m.after))
    ]

    rank = almanac.ranks
    strengths = ["feast" if season.tone == "none" else "tone"]
    hidden_by = feast_gospel = ""
    for m in movables:
        strengths.append(m.hymns or (rank[m.rank].hymns if m.rank else "tone"))
        if m.rank and rank[m.rank].hymns == "feast" and not m.keeps_tone:
            hidden_by = m.title
    for feast in on_day:
        hymns = feast.hymns or rank[feast.rank].hymns
        strengths.append(hymns)
        if hymns == "feast":
            hidden_by = feast.title
        if rank[feast.rank].gospel == "feast":
            feast_gospel = feast.title
    if any(a.relation in ("afterfeast", "leave-taking") for a in around):
        strengths.append("mixed")
    first = [FeastDay(m.id, m.title, m.rank) for m in movables if m.rank]
    first += [FeastDay(x.id, x.title, x.rank) for x in on_day]
    return Found(
        movables=movables,
        feasts=on_day,
        sundays=tuple(s for s in almanac.sundays if at.sunday and s.start <= own <= s.end),
        all=(*first, *around),
        hymns=min(strengths, key=HYMNS.index),
        hidden_by=hidden_by,
        feast_gospel=feast_gospel,
    )
