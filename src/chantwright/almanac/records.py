"""The records that the almanac's rows become.

Conventions: an *offset* counts days from Pascha; from 0 on it counts from the last Pascha, below 0
it counts to the coming one. Month and day of the parish's calendar are written ``MM-DD``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

__all__ = [
    "DayRow",
    "Eothinon",
    "Feast",
    "FixedSunday",
    "Movable",
    "Practice",
    "Rank",
    "Season",
    "Service",
]


@dataclass(frozen=True, slots=True)
class Season:
    """A stretch of the movable year and what rules in it."""

    id: str
    title: str
    start: int
    end: int
    tone: str  # count, daily, none
    tones: tuple[int, ...]
    counts: bool  # does the count go on beneath, although nothing of it is sung?
    why_tone: str
    eothinon: str  # cycle, table, none
    why_eothinon: str
    sung: tuple[bool, bool, bool]  # eothinon gospel, exaposteilarion, doxastikon
    week_from: int | None
    sunday_name: str
    weekday_name: str
    ask: str
    ask_weekday: str


@dataclass(frozen=True, slots=True)
class Movable:
    """A named day that moves with Pascha."""

    id: str
    offset: int
    title: str
    rank: str
    hymns: str
    keeps_tone: bool
    practices: tuple[str, ...]
    after: int
    why: str
    ask: str


@dataclass(frozen=True, slots=True)
class Rank:
    """What a rank of feast does to the hymns of the tone."""

    id: str
    title: str
    hymns: str
    gospel: str
    ask: str


@dataclass(frozen=True, slots=True)
class Feast:
    """A feast on a fixed date of the parish's calendar."""

    id: str
    date: str
    title: str
    rank: str
    hymns: str
    fore: int
    after: int
    ask: str
    origin: str


@dataclass(frozen=True, slots=True)
class FixedSunday:
    """A Sunday tied to a fixed date: the one from `start` to `end`, both included."""

    id: str
    start: str
    end: str
    title: str


@dataclass(frozen=True, slots=True)
class Practice:
    """A use, and whose list of eothina it follows between Pascha and Pentecost."""

    id: str
    title: str
    eothina: str
    note: str
    conf: str
    origin: str


@dataclass(frozen=True, slots=True)
class Eothinon:
    """One of the eleven: its gospel, and the tone of its doxastikon."""

    number: int
    gospel: str
    tone: int


@dataclass(frozen=True, slots=True)
class Service:
    """A service; `opens_day` when it opens the next liturgical day.

    `first` and `last` are days before Pascha (below 0) between whose weekdays alone it is sung;
    0 where it is sung all the year.
    """

    id: str
    title: str
    opens_day: bool
    aliases: tuple[str, ...]
    items_of: tuple[str, ...]
    ask: str
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class DayRow:
    """What the parish or its priest decided for one liturgical day, or one service of it."""

    id: str
    date: date
    service: str
    title: str
    changes_tone: bool
    tone: int | None
    changes_eothinon: bool
    eothinon: int | None
    note: str
    ask: str
    by: str  # parish, priest
    confirmed: bool
    file: str
