"""Which named days and feasts touch a liturgical day, and what they do to the hymns of the tone.

Conventions: the strongest feast decides: ``feast`` (nothing of the tone is sung) before ``mixed``
before ``tone``. Fixed feasts go by the parish's own calendar. A feast on the day hides the tone
only when its rank says so; the counts beneath never stop. What a fixed date brings is looked up in
one table for common years and one for leap years of the parish's calendar.
"""

from __future__ import annotations

from calendar import isleap
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from chantwright.almanac.knowledge import Almanac
from chantwright.almanac.model import FeastDay
from chantwright.almanac.pascha import style_date
from chantwright.almanac.reading import HYMNS
from chantwright.almanac.records import Feast, FixedSunday, Movable, Season
from chantwright.rows import PARISH

__all__ = ["Fixed", "Found", "find", "fixed_on"]

_REACH = 15  # days: no forefeast or afterfeast is longer


@dataclass(frozen=True, slots=True, eq=False)  # one for each date, so it can be a key
class Fixed:
    """What a date of the parish's calendar brings: its feasts, and those it stands near."""

    month_day: str
    on_day: tuple[Feast, ...]
    around: tuple[FeastDay, ...]
    sundays: tuple[FixedSunday, ...]


_BARE = Fixed("", (), (), ())


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
    hidden_by : FeastDay or None
        The feast that hides tone and eothinon.
    feast_gospel : str
        Title of the feast whose gospel is read at Orthros; empty when the eothinon is.
    layer : str
        ``parish`` where a row of the parish decided which hymns lead, else ``computed``.
    """

    movables: tuple[Movable, ...]
    feasts: tuple[Feast, ...]
    sundays: tuple[FixedSunday, ...]
    all: tuple[FeastDay, ...]
    hymns: str
    hidden_by: FeastDay | None
    feast_gospel: str
    layer: str


def _relation(distance: int, fore: int, after: int) -> str:
    """Name how a day stands to a feast `distance` days before it (below 0: still to come)."""
    if distance == 0:
        return "day"
    if -fore <= distance < 0:
        return "forefeast"
    if 0 < distance < after:
        return "afterfeast"
    return "leave-taking" if distance == after else ""


def layer_of(*origins: str) -> str:
    """Return ``parish`` where one of the rows is the parish's, else ``computed``."""
    return "parish" if PARISH in origins else "computed"


@lru_cache(maxsize=64)
def _table(almanac: Almanac, leap: bool, practice: str) -> dict[tuple[int, int], Fixed]:
    """Return what each date of a common or a leap year brings."""
    first = date(2024 if leap else 2025, 1, 1)
    kept = [x for x in almanac.feasts if not x.practices or practice in x.practices]
    numbers: dict[str, list[int]] = {}
    length = 366 if leap else 365
    days = [first + timedelta(i) for i in range(length)]
    for number, day in enumerate(days):
        numbers.setdefault(f"{day:%m-%d}", []).append(number)
    table: dict[tuple[int, int], Fixed] = {}
    for number, day in enumerate(days):
        near: list[FeastDay] = []
        for x in kept:
            if not (x.fore or x.after):
                continue
            for at in numbers.get(x.date, ()):
                distance = (number - at + length // 2) % length - length // 2  # over the new year
                if distance and (relation := _relation(distance, x.fore, x.after)):
                    layer = layer_of(x.origin)
                    near.append(FeastDay(x.id, x.title, x.rank, relation, layer))
        own = f"{day:%m-%d}"
        table[day.month, day.day] = Fixed(
            own,
            tuple(x for x in kept if x.date == own),
            tuple(near),
            tuple(s for s in almanac.sundays if s.start <= own <= s.end),
        )
    return table


@lru_cache(maxsize=8)
def _spoken_of(almanac: Almanac) -> tuple[tuple[str, str], ...]:
    """Return the stretches of fixed dates that rules on services and questions speak of."""
    rows = [row.when for many in almanac.serves.values() for row in many]
    rows += [row.when for row in almanac.questions]
    return tuple({(when.first, when.last) for when in rows if when.first})


@lru_cache(maxsize=64)
def _shared(
    almanac: Almanac, leap: bool, practice: str
) -> dict[tuple[int, int], tuple[Fixed, Fixed]]:
    """Return what each date brings on a weekday and on a Sunday.

    All dates that bring nothing, and that no rule speaks of, share one empty record, so that what
    is reckoned for one of them holds for all.
    """
    spans = _spoken_of(almanac)

    def named(own: str) -> bool:
        return any(a <= own <= b if a <= b else own >= a or own <= b for a, b in spans)

    table: dict[tuple[int, int], tuple[Fixed, Fixed]] = {}
    for key, fixed in _table(almanac, leap, practice).items():
        empty = not (fixed.on_day or fixed.around or named(fixed.month_day))
        weekday = _BARE if empty else fixed
        table[key] = (weekday, fixed if fixed.sundays else weekday)
    return table


def fixed_on(
    day: date, calendar: str, almanac: Almanac, practice: str, sunday: bool
) -> tuple[Fixed, str]:
    """Return what a day brings by its date in the parish's calendar, and that date."""
    if calendar == "old":
        style = style_date(day, calendar)
        year, month, number, told = style.year, style.month, style.day, str(style)
        leap = year % 4 == 0
    else:  # until 2800 the new calendar is the civil one
        year, month, number, told = day.year, day.month, day.day, day.isoformat()
        leap = isleap(year)
    return _shared(almanac, leap, practice)[month, number][sunday], told


@lru_cache(maxsize=4096)
def _moving(
    almanac: Almanac, offset: int, until: int, practice: str
) -> tuple[tuple[Movable, ...], tuple[FeastDay, ...]]:
    """Return the movable days on a day, and the movable feasts whose afterfeast it is."""
    movables = tuple(
        m
        for at in (until, offset)
        for m in almanac.movables.get(at, ())
        if not m.practices or practice in m.practices
    )
    around = tuple(
        FeastDay(m.id, m.title, m.rank, relation, layer_of(m.origin))
        for back in range(1, min(_REACH, offset) + 1)
        for m in almanac.movables.get(offset - back, ())
        if m.after and (relation := _relation(back, 0, m.after))
    )
    return movables, around


def find(
    almanac: Almanac, offset: int, until: int, season: Season, fixed: Fixed, practice: str
) -> Found:
    """Find all feasts that touch a liturgical day, given by its distances from both Paschas."""
    movables, moving = _moving(almanac, offset, until, practice)
    # From Lazarus Saturday to the end of Bright Week a fixed feast has no fore- or afterfeast.
    around = (*fixed.around, *moving) if season.tone == "count" else moving
    ranks = almanac.ranks
    said = ["feast" if season.tone == "none" else "tone"]
    origins = [season.origin if season.tone == "none" else ""]
    hidden_by: FeastDay | None = None
    feast_gospel = ""
    first: list[FeastDay] = []
    for m in movables:
        rank = ranks[m.rank] if m.rank else None
        said.append(m.hymns or (rank.hymns if rank else "tone"))
        origins.append(PARISH if rank and rank.origin == PARISH else m.origin)
        if rank:
            feast = FeastDay(m.id, m.title, m.rank, "day", layer_of(m.origin, rank.origin))
            first.append(feast)
            if rank.hymns == "feast" and not m.keeps_tone:
                hidden_by = feast
    for x in fixed.on_day:
        rank = ranks[x.rank]
        feast = FeastDay(x.id, x.title, x.rank, "day", layer_of(x.origin, rank.origin))
        first.append(feast)
        said.append(x.hymns or rank.hymns)
        origins.append(PARISH if rank.origin == PARISH else x.origin)
        if said[-1] == "feast":
            hidden_by = feast
        if rank.gospel == "feast":
            feast_gospel = x.title
    if any(a.relation in ("afterfeast", "leave-taking") for a in around):
        said.append("mixed")
        origins.append(PARISH if all(a.layer == "parish" for a in around) else "")
    hymns = min(said, key=HYMNS.index)
    deciding = [o for s, o in zip(said, origins, strict=True) if s == hymns]
    return Found(
        movables=movables,
        feasts=fixed.on_day,
        sundays=fixed.sundays if offset % 7 == 0 else (),
        all=(*first, *around),
        hymns=hymns,
        hidden_by=hidden_by,
        feast_gospel=feast_gospel,
        layer=layer_of(*deciding) if all(o == PARISH for o in deciding) else "computed",
    )
