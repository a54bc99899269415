"""Which named days and feasts touch a liturgical day, and what they do to the hymns of the tone.

Conventions: the strongest feast decides: ``feast`` (nothing of the tone is sung) before ``mixed``
before ``tone``. Fixed feasts go by the parish's own calendar. A feast on the day hides the tone
only when its rank says so; the counts beneath never stop.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
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


def _near(day: date, calendar: str) -> dict[str, int]:
    number = day.toordinal()
    return {
        _month_day(number - distance, calendar): distance for distance in range(-_REACH, _REACH + 1)
    }


def find(at: Place, season: Season, almanac: Almanac, calendar: str, practice: str) -> Found:
    """Find all feasts that touch a liturgical day."""
    # Distance from the feast to the day, for every month and day within reach.
    near = _near(at.day, calendar)
    own = _month_day(at.day.toordinal(), calendar)

    movables = tuple(
        m
        for offset in (at.until, at.offset)
        for m in almanac.movables.get(offset, ())
        if not m.practices or practice in m.practices
    )
    on_day = [x for x in almanac.feasts if near.get(x.date) == 0]
    # From Lazarus Saturday to the end of Bright Week a fixed feast has no fore- or afterfeast.
    around = [
        FeastDay(x.id, x.title, x.rank, relation)
        for x in almanac.feasts
        if season.tone == "count"
        and near.get(x.date)
        and (relation := _relation(near[x.date], x.fore, x.after))
    ]
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
        feasts=tuple(on_day),
        sundays=tuple(s for s in almanac.sundays if at.sunday and s.start <= own <= s.end),
        all=(*first, *around),
        hymns=min(strengths, key=HYMNS.index),
        hidden_by=hidden_by,
        feast_gospel=feast_gospel,
    )
